"""The recipe file: what it becomes, the maker's own words, and one sentence for bad input."""

from __future__ import annotations

import json
import math
import pickle
import re
from collections.abc import Callable
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.bath.inputs import ActivatorInputs, FoamBathInputs, RecipeInputs
from dosing.bath.possible_tubs import possible_tubs
from dosing.bath.spreads import relative_spreads
from dosing.effects.shelf import stocks
from dosing.ingredients.powders import powder_names
from dosing.ingredients.trade_values import instruments
from dosing.ingredients.water import typical_water, typical_water_names
from dosing.recipe import (
    blank_recipe,
    demo_names,
    demo_recipe,
    load_recipe,
    measured_dose,
    parse_recipe,
    recipe_schema,
)
from dosing.recipe.answers import Answers, take
from dosing.recipe.quantities import InputError
from indicator.notes import sentence
from indicator.pigments import colourant, dye_molarity, infusion_strength
from indicator.tables import read_text, read_toml

FULL = """
schema = 1
title = "All of it"
[tub]
volume = "120 L"
volume_measured = true
floor_area = "0.48 m2"
[water]
alkalinity = "2.4 meq/L"
hardness = "7 dH"
ph = "7,8"
calcium = "40 mg/L"
temperature = "100 F"
reading_temperature = "20 C"
instrument = "Drop-Kit"
drop_step = "10 ppm"
[foam_bath]
amount = "40 mL"
ph = 6
titratable = "12 meq/kg"
[[colour]]
pigment = "butterfly-pea"
amount = "0.8 L"
strength = "6 /cm"
preserved = true
[[colour]]
dye = "tartrazine"
amount = "30 mL"
strength = "0.1 %"
held_in = "foam bath"
[activator]
parts = { citric-acid-anhydrous = 2, "cream of tartar" = "1 part" }
pouring = "dry"
[wish]
target = 5.5
bathers = "child"
child_age = "30 months"
purpose = "gift"
market = "eu"
view = "jar"
light = "warm white LED"
"""


def refused(text: str) -> InputError:
    with pytest.raises(InputError) as caught:
        parse_recipe(text, "mine.toml")
    message = str(caught.value)
    assert message.endswith(".")
    assert "\n" not in message
    assert len(message) < 600
    return caught.value


def test_everything_arrives_in_core_units() -> None:
    inputs = parse_recipe(FULL)
    assert inputs.title == "All of it"
    assert inputs.tub.volume_l == 120.0
    assert inputs.tub.floor_area_cm2 == pytest.approx(4800.0)
    assert inputs.tub.volume_measured
    water = inputs.water
    # Counted in drops of 10 ppm: half of one is taken off, and told.
    assert water.alkalinity_meq_l == pytest.approx(2.4 - 5 / 50.04, abs=1e-3)
    assert water.hardness_mmol_l == pytest.approx(7 * 0.178325, rel=1e-5)
    assert water.calcium_mmol_l == pytest.approx(40 / 40.078, rel=1e-6)
    assert (water.ph, water.reading_temperature_c) == (7.8, 20.0)
    assert water.instrument == "drop-kit"
    assert inputs.water_temperature_c == pytest.approx(37.7778, abs=1e-4)
    assert inputs.foam_bath == FoamBathInputs(40.0, 6.0, 12.0)
    pea, yellow = inputs.colours
    assert pea.content == pytest.approx(4.8)
    assert pea.volume_l == pytest.approx(0.8)
    assert pea.preserved
    assert pea.strength_measured
    assert yellow.content == pytest.approx(float(dye_molarity("tartrazine", 1.0)) * 0.03)
    assert yellow.held_in == "foam bath"
    assert inputs.activator == ActivatorInputs(
        {"citric-acid-anhydrous": 2.0, "cream-of-tartar": 1.0}, pouring="dry", poured="before"
    )
    wish = inputs.wish
    assert (wish.target, wish.bathers, wish.child_age_years) == ("5.5", "child", 2.5)
    assert (wish.purpose, wish.market, wish.view) == ("gift", "EU", "jar")
    assert wish.light == "LED-warm"
    assert [note.code for note in inputs.assumptions] == ["assume.recipe.half-drop"]


def test_the_numbers_carry_nothing_of_the_file_format() -> None:
    inputs = parse_recipe(FULL)
    assert pickle.loads(pickle.dumps(inputs)) == inputs
    assert "pydantic" not in {type(part).__module__.split(".")[0] for part in vars(inputs).values()}


def test_petals_by_mass_equal_the_infusion_they_make() -> None:
    by_volume = parse_recipe(
        '[[colour]]\npigment = "butterfly-pea"\namount = "1 L"\nstrength = "2 %"'
    )
    by_mass = parse_recipe('[[colour]]\npigment = "butterfly-pea"\namount = "20 g"')
    assert by_mass.colours[0].content == pytest.approx(by_volume.colours[0].content)
    assert by_mass.colours[0].volume_l == pytest.approx(1.0)
    assert "assume.recipe.petals-brewed" in {note.code for note in by_mass.assumptions}
    expected = float(infusion_strength("butterfly-pea", 2.0))
    assert by_volume.colours[0].bottle_strength == pytest.approx(expected)


def test_dye_powder_equals_its_solution() -> None:
    powder = parse_recipe('[[colour]]\ndye = "tartrazine"\namount = "30 mg"')
    solution = parse_recipe('[[colour]]\ndye = "tartrazine"\namount = "30 mL"\nstrength = "0.1 %"')
    assert powder.colours[0].content == pytest.approx(solution.colours[0].content)
    assert powder.colours[0].volume_l == 0.0
    assert powder.colours[0].bottle_strength is None


def test_what_is_left_out_is_assumed_aloud() -> None:
    inputs = parse_recipe(
        '[tub]\nvolume = "120 L"\n[water]\nalkalinity = "120 ppm"\n'
        '[[colour]]\npigment = "butterfly-pea"\namount = "1 L"'
    )
    assert {note.code.removeprefix("assume.recipe.") for note in inputs.assumptions} == {
        *("volume-by-eye", "as-calcium-carbonate", "instrument", "temperature"),
        *("infusion-strength", "activator"),
    }
    for note in inputs.assumptions:
        assert sentence(note).endswith(".")
    assert inputs.water.instrument == "strip"
    assert inputs.activator.parts == {"citric-acid-anhydrous": 1.0}
    assert inputs.wish.bathers is None


def test_nothing_at_all_is_a_recipe() -> None:
    inputs = parse_recipe("", "evening.toml")
    assert inputs.title == "evening"
    assert inputs.tub.volume_l is None
    assert inputs.colours == ()


def test_a_title_is_one_printable_line() -> None:
    assert parse_recipe('title = "Evening\\n\\u001b[31m soak"').title == "Evening [31m soak"
    assert refused('title = "\\n"').field == "title"


def test_a_typical_water_fills_what_was_not_read() -> None:
    typical = typical_water("very-hard")
    alone = parse_recipe('[water]\nlike = "Very hard"').water
    assert alone.alkalinity_meq_l == typical.alkalinity_meq_l
    assert alone.instrument == "typical"
    read = parse_recipe('[water]\nlike = "very-hard"\nalkalinity = "3 meq/L"').water
    assert read.alkalinity_meq_l == pytest.approx(3.0)
    assert read.hardness_mmol_l == typical.hardness_mmol_l
    assert read.instrument == "strip"


def test_bicarbonate_stands_for_the_alkalinity() -> None:
    water = parse_recipe('[water]\nbicarbonate = "146 mg/L"\ninstrument = "water report"')
    assert water.water.alkalinity_meq_l == pytest.approx(2.3928, abs=1e-4)
    assert water.water.instrument == "water-report"


@pytest.mark.parametrize(
    ("bathers", "adults", "children"),
    [("adult", 2, 0), ("child", 0, 2)],
)
def test_bathers_in_the_tub_are_counted_by_kind(bathers: str, adults: int, children: int) -> None:
    text = f'[tub]\nvolume = "150 L"\nbathers_in_tub = 2\n[wish]\nbathers = "{bathers}"'
    inputs = parse_recipe(text)
    assert (inputs.tub.adults_in_tub, inputs.tub.children_in_tub) == (adults, children)
    assert inputs.activator.poured == "beside"


def test_nobody_bathes_in_a_tub_with_somebody_in_it() -> None:
    text = '[tub]\nvolume = "150 L"\nbathers_in_tub = 1\n[wish]\nbathers = "nobody"'
    with pytest.raises(InputError, match=r"tub\.bathers_in_tub is 1, but bathers is nobody"):
        parse_recipe(text)
    inputs = parse_recipe(text.replace("nobody", "adult"))
    with pytest.raises(ValueError, match="bathers_in_tub is 1, but bathers is nobody"):
        replace(inputs, wish=replace(inputs.wish, bathers="nobody"))


@pytest.mark.parametrize(
    ("text", "years"),
    [
        ("6 weeks", 42 / 365.25), ("9 months", 0.75), ("10 days", 10 / 365.25),
        ("9 months old", 0.75), ("6-week-old", 42 / 365.25), ("14 wks", 98 / 365.25),
    ],
)  # fmt: skip
def test_ages_in_days_weeks_and_months_are_under_three(text: str, years: float) -> None:
    wish = parse_recipe(f'[wish]\nchild_age = "{text}"').wish
    assert wish.child_age_years == pytest.approx(years)
    answers = Answers()
    take(answers, "people", text)
    child_age = answers.wish["child_age"]
    spoken = parse_recipe(f"[wish]\nchild_age = '{child_age}'").wish
    assert spoken.child_age_years == pytest.approx(years, rel=0.01)


def test_an_age_alone_says_that_a_child_bathes() -> None:
    wish = parse_recipe('[wish]\nchild_age = "8 years"').wish
    assert (wish.bathers, wish.child_age_years) == ("child", 8.0)


def test_the_makers_own_words_say_the_same() -> None:
    ours = parse_recipe(
        '[foam_bath]\namount = "40 mL"\n[water]\nalkalinity = "7 dH"\nhardness = "8 dH"\n'
        '[[colour]]\npigment = "butterfly pea"\namount = "1 L"\n'
        '[[colour]]\ndye = "E 102"\namount = "10 mg"\n[wish]\ntarget = "violet"'
    )
    theirs = parse_recipe(
        '[bubble_bath]\namount = "40 mL"\n[water]\nkh = "7 dH"\ngh = "8 dH"\n'
        '[[color]]\ntea = "blue tea"\namount = "1 L"\n'
        '[[color]]\ncolor = "yellow 5"\namount = "10 mg"\n[wish]\ncolour = "lavender"'
    )
    assert (ours.foam_bath, ours.water, ours.colours) == (
        theirs.foam_bath,
        theirs.water,
        theirs.colours,
    )
    assert parse_recipe('[colour]\ninfusion = "anchan"\namount = "1 L"').colours


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("schema = 2", "schema 1"),
        ("schema = true", "schema 1"),
        ("schema = 1.0", "schema 1"),
        ('"a\\nb" = 1', "The recipe has 'a\\nb', which is not known"),
        ('[tub]\n"vol\\u001bume" = 1', "vol\\x1bume"),
        (f"{'k' * 5000} = 1", "..., which is not known"),
        ('"" = 1', "The recipe has '', which is not known"),
        ("a = ", "mine.toml"),
        ("[tub]\nvolume 5", "line 2, column 8"),
        ("a = 1 b = 2", "line 1, column 7"),
        ('a = "b', "end of document"),
        ("a = " + "[" * 5000, "too deep"),
        ("a = 9" + "9" * 5000, "digits"),
        ("schema = 1\nschema = 1", "overwrite"),
        ('[wtaer]\nlike = "hard"', "did you mean 'water'?"),
        ('[tub]\nvolum = "3 L"', "did you mean 'volume'?"),
        ("[tub]\nvolume = 150", "tub.volume is 150 without a unit; write text"),
        ('[tub]\nvolume = "4000000 L"', "treated water"),
        ("[tub]\nvolume = 1979-05-27", "write text in quotes"),
        ('[tub]\nvolume = ""', "tub.volume is ''"),
        ('[tub]\nlength = "150 cm"', "tub.width is missing"),
        ('[tub]\nlength = "150 cm"\nvolume = "2 L"', "volume is given as well"),
        ('[tub]\nfloor_area = "5000 cm2"', "no volume"),
        ("[tub]\nbathers_in_tub = -1", "whole number"),
        ('[tub]\nvolume_measured = "yes"', "true or false"),
        ("tub = 3", "a table with its own keys"),
        ("colour = 3", "a table with its own keys"),
        ("colour = [1]", "colour[1] is 1"),
        ("title = 3", "write text in quotes"),
        (f'title = "{"x" * 500}"', "too long"),
        ("[water]\nph = nan", "not a finite number"),
        ('[water]\nph = "acid"', "water.ph is 'acid'"),
        ("[water]\nalkalinity = true", "write text in quotes"),
        ('[water]\nalkalinity = "120"', "water.alkalinity is '120' without a unit"),
        ('[water]\nalkalinity = "some"', "write an alkalinity such as"),
        ('[water]\nhardness = "some"', "write a hardness such as"),
        ('[water]\ncalcium = "94 mg/L Mg"', "not a unit for it"),
        ('[water]\nlike = "hrad"', "did you mean 'hard'?"),
        ('[water]\ninstrument = "stripe"', "did you mean 'strip'?"),
        ('[water]\ntemperature = "300 C"', "0 to 60 °C"),
        ('[water]\nalkalinity = "7 dH"\nbicarbonate = "3 mg/L"', "given as well"),
        ('[water]\nkh = "7 dH"\nalkalinity = "7 dH"', "twice"),
        ('[foam_bath]\namount = "5 mL"\nsurfactants = { anionic = 9 }', 'for instance "60 %"'),
        ("[foam_bath]\nph = 6", "does not say foam_bath.amount"),
        ('[foam_bath]\namount = "5 mL"\ntitratable = "12 meq/kg"', "pH of the foam bath"),
        ('[foam_bath]\namount = "5 mL"\nph = 4\ntitratable = "12 meq/kg"', "other sign"),
        ('[[colour]]\npigment = "butterfly-pie"\namount = "1 L"', "'butterfly-pea'?"),
        ('[[colour]]\npigment = "tartrazine"\namount = "1 L"', "is a dye"),
        ('[[colour]]\namount = "1 L"', "neither a pigment nor a dye"),
        ('[[colour]]\npigment = "anchan"\ndye = "e102"\namount = "1 L"', "both a pigment"),
        ('[[colour]]\npigment = "anchan"', "colour[1].amount"),
        ('[[colour]]\npigment = "anchan"\namount = "1 L"\nstrength = "2 L"', "strength is '2 L'"),
        ('[[colour]]\npigment = "anchan"\namount = "9 g"\nstrength = "6 /cm"', "grams of petals"),
        ('[[colour]]\npigment = "anchan"\namount = "9 g"\nstrength = "0 %"', "above 0 %"),
        ('[[colour]]\npigment = "anchan"\namount = "1 L"\nheld_in = "foam bath"', "no foam bath"),
        ('[[colour]]\ndye = "e102"\namount = "5 mL"', "dye solution needs"),
        ('[[colour]]\ndye = "e102"\namount = "5 g"\nstrength = "1 %"', "grams of dye powder"),
        (
            '[foam_bath]\namount = "60 mL"\n[[colour]]\npigment = "anchan"\namount = "1 L"\n'
            'held_in = "foam bath"',
            "more than the 60 mL",
        ),
        ("[activator]\nparts = { citrix = 1 }", "did you mean 'citric'?"),
        ("[activator]\nparts = { citric = -1 }", "activator.parts.citric is -1"),
        ("[activator]\nparts = { citric = nan }", "activator.parts.citric is nan"),
        ("[activator]\nparts = { citric = inf }", "activator.parts.citric is inf"),
        ("[activator]\nparts = { citric = 1e308, malic-acid = 1e308 }", "0 to 1000000"),
        ('[activator]\nparts = { citric = "some" }', "activator.parts.citric is 'some'"),
        ("[activator]\nparts = { citric = true }", "activator.parts.citric is True"),
        ("[activator]\nparts = { citric = 0 }", "at least one powder"),
        ("[activator]\nparts = {}", "at least one powder"),
        ('[activator]\npouring = "wet"', "jug, dry"),
        ('[wish]\ntarget = "plaid"', "pink, red, orange"),
        ("[wish]\ntarget = 15", "wish.target is 15"),
        ("[wish]\ntarget = nan", "wish.target is nan"),
        ("[wish]\ntarget = true", "write text in quotes"),
        ('[wish]\nbathers = "cat"', "adult, child, nobody"),
        ('[wish]\nbathers = "adult"\nchild_age = "3 years"', "only for a child"),
        ('[wish]\nchild_age = "30 years"', "from 18 years on"),
        ('[wish]\nmarket = "mars"', "US, EU, UK, other"),
        ('[wish]\nlight = "disco"', "D65"),
    ],
)
def test_one_sentence_for_a_recipe_that_cannot_be_used(text: str, words: str) -> None:
    assert words in str(refused(text))


def test_of_several_colours_the_wrong_one_is_named() -> None:
    good = '[[colour]]\npigment = "anchan"\namount = "1 L"\n'
    assert "colour[2].amount" in str(refused(good + good.replace("1 L", "1 kn")))
    assert refused(good + good.replace("amount", "amuont")).field == "colour[2].amuont"


def test_files_that_are_none(tmp_path: Path) -> None:
    good = tmp_path / "Evening.toml"
    good.write_text('[tub]\nvolume = "120 L"\n', encoding="utf-8-sig")
    assert load_recipe(good).title == "Evening"
    assert load_recipe(str(good)) == load_recipe(good)
    large = tmp_path / "large.toml"
    large.write_bytes(b"# " + b"x" * 1_000_000)
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    for path, words in (
        (tmp_path / "none.toml", "There is no file"),
        (tmp_path, "is a folder"),
        (large, "larger than 1 MB"),
        (binary, "not text in UTF-8"),
        ("a\0b", "There is no file"),
    ):
        with pytest.raises(InputError, match=words):
            load_recipe(path)


@pytest.mark.slow
@given(
    st.dictionaries(
        st.sampled_from(["tub", "water", "foam_bath", "colour", "activator", "wish", "title"]),
        st.recursive(
            st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
            lambda inner: (
                st.lists(inner, max_size=3)
                | st.dictionaries(
                    st.sampled_from(["volume", "ph", "amount", "parts", "pigment", "target", "x"]),
                    inner,
                    max_size=4,
                )
            ),
            max_leaves=6,
        ),
    )
)
def test_any_content_is_read_or_refused(content: dict[str, object]) -> None:
    reading = import_module("dosing.recipe.reading")
    try:
        recipe = reading.recipe_from(content, "any")
    except InputError as error:
        message = str(error)
    else:
        message = "." if isinstance(recipe, RecipeInputs) else ""
    assert message.endswith(".")


def test_the_blank_recipe_can_be_planned_as_it_stands() -> None:
    inputs = parse_recipe(blank_recipe(), "blank.toml")
    assert inputs.colours
    assert inputs.water.instrument == "typical"


def test_the_blank_recipe_with_every_key_uncommented_is_understood() -> None:
    lines = blank_recipe().splitlines()
    key = re.compile(r"# (?=\[+\w+\]+|\w+ = )")
    wanted = [key.sub("", line, count=1) for line in lines if key.match(line) or line[:1] != "#"]
    # Either volume or measures, either alkalinity or bicarbonate, a drop kit or a jar test.
    text = "\n".join(
        line
        for line in wanted
        if not line.startswith(("length", "width", "fill", "bicarb", "alkalinity_"))
    )
    parse_recipe(text.replace('bathers = "adult"', 'bathers = "child"'))
    named = {line.split("=")[0].strip() for line in wanted if "=" in line}
    declared = {
        key
        for name, table in recipe_schema()["$defs"].items()
        if name != "DropTestTable"  # written on one line
        for key in table["properties"]
        if key not in ("magnesium", "sodium", "potassium", "chloride", "sulfate", "nitrate", "dye")
    }
    assert declared <= named


def test_the_shipped_schema_is_up_to_date() -> None:
    # To write it afresh: huedose recipe --schema > data/text/recipe.schema.json
    assert json.loads(read_text("text/recipe.schema.json")) == recipe_schema()


def test_choices_agree_with_the_tables() -> None:
    water = recipe_schema()["$defs"]["WaterTable"]["properties"]
    assert {name.replace(" ", "-") for name in water["like"]["anyOf"][0]["enum"]} == set(
        typical_water_names()
    )
    read = {name.replace(" ", "-") for name in water["instrument"]["enum"]}
    assert read <= set(instruments("alkalinity"))


@pytest.mark.parametrize("name", powder_names())
def test_every_powder_can_be_written_by_name_and_label(name: str) -> None:
    for spelling in (name, name.replace("-", " "), name.upper()):
        parts = parse_recipe(f'[activator]\nparts = {{ "{spelling}" = 1 }}').activator.parts
        assert parts == {name: 1.0}


def test_every_refusal_has_its_sentence() -> None:
    catalogue = read_toml("text/en.toml")["error"]
    folder = Path(import_module("dosing").__file__ or "").parent
    rooms = ("recipe", "effects", "workshop")
    sources = [source for room in rooms for source in (folder / room).rglob("*.py")]
    codes = {
        code
        for source in sources
        for code in re.findall(r'"error\.([a-z-]+)"', source.read_text(encoding="utf-8"))
    }
    assert codes
    assert codes == set(catalogue) - {"accepted"}


@pytest.mark.parametrize("name", demo_names())
def test_demos_are_recipes(name: str) -> None:
    assert demo_recipe(name).colours


def test_an_unknown_demo_is_refused() -> None:
    with pytest.raises(InputError, match="4-green"):
        demo_recipe(9)


def test_floors_and_clouds_of_a_recipe_are_those_of_the_tables() -> None:
    from indicator.optics import cloud_names, floor_names

    properties = recipe_schema()["$defs"]["TubTable"]["properties"]
    assert tuple(properties["floor"]["enum"]) == floor_names()
    assert tuple(properties["cloud"]["enum"]) == cloud_names()


@pytest.mark.parametrize(("written", "meq_l"), [("thinned = 2", 4.796), ("", 2.398)])
def test_thinned_water_is_reckoned_back(written: str, meq_l: float) -> None:
    water = parse_recipe(
        f'schema = 1\n[water]\nalkalinity = "120 ppm"\ninstrument = "strip"\n{written}\n'
    ).water
    assert water.alkalinity_meq_l == pytest.approx(meq_l, rel=1e-3)
    assert water.thinned == (2.0 if written else 1.0)


@pytest.mark.parametrize(
    ("written", "read_ppm", "code"),
    [
        ('instrument = "drop kit"\ndrop_step = "10 ppm"', 115.0, "half-drop"),
        ('drop_step = "10 ppm"', 115.0, "half-drop"),
        ('instrument = "drop kit"\ndrop_step = "1 dH"', 111.08, "half-drop"),
        # Nobody said: the coarsest usual step.
        ('instrument = "drop kit"', 107.5, "drop-step"),
        # The water was thinned, and the count with it.
        ('instrument = "drop kit"\ndrop_step = "10 ppm"\nthinned = 2', 230.0, "half-drop"),
    ],
)
def test_half_a_drop_is_taken_off(written: str, read_ppm: float, code: str) -> None:
    found = parse_recipe(f'[water]\nalkalinity = "120 ppm"\n{written}\n')
    assert found.water.alkalinity_meq_l == pytest.approx(read_ppm / 50.04, rel=2e-3)
    assert found.water.instrument == "drop-kit"
    assert f"assume.recipe.{code}" in [note.code for note in found.assumptions]


def test_a_single_drop_is_no_more_than_it_says() -> None:
    found = parse_recipe('[water]\nalkalinity = "10 ppm"\ninstrument = "drop kit"\n').water
    assert found.alkalinity_meq_l == pytest.approx(5.0 / 50.04, rel=2e-3)


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ('alkalinity = "120 ppm"\nthinned = 0.5', "water.thinned is 0.5"),
        ('alkalinity = "120 ppm"\nthinned = "much"', "write a plain number such as 2"),
        ("thinned = 2", "no alkalinity is given"),
        ('drop_step = "10 ppm"', "no alkalinity is given"),
        ('alkalinity = "120 ppm"\ndrop_step = "10"', "without a unit"),
        ('alkalinity = "120 ppm"\ndrop_step = "0 ppm"', "0.01 to 2 meq/L"),
        (
            'alkalinity = "120 ppm"\ninstrument = "strip"\ndrop_step = "10 ppm"',
            "the instrument is strip",
        ),
    ],
)
def test_readings_that_cannot_be_are_refused(written: str, words: str) -> None:
    with pytest.raises(InputError, match=re.escape(words)):
        parse_recipe(f"schema = 1\n[water]\n{written}\n")


def test_a_kit_for_carbonate_hardness_reads_the_alkalinity() -> None:
    """It is titrated to the same end (Standard Methods 2320 B, from memory, unverified)."""
    text = '[tub]\nvolume = "120 L"\n[water]\n{} = "3 dH"\n{}\n[wish]\nbathers = "adult"\n'
    for how in ('instrument = "drop kit"\ndrop_step = "1 dH"', 'instrument = "strip"'):
        kit, other = (
            parse_recipe("schema = 1\n" + text.format(key, how)).water
            for key in ("carbonate_hardness", "alkalinity")
        )
        assert kit == other
    reported = parse_recipe(
        "schema = 1\n" + text.format("carbonate_hardness", 'instrument = "water report"')
    ).water
    assert reported.carbonate_hardness_meq_l == pytest.approx(3 / 2.804, rel=1e-3)


def test_kitchen_measures_reach_the_possible_tubs() -> None:
    text = '[tub]\nvolume = "120 L"\n[[colour]]\npigment = "butterfly-pea"\namount = "{}"\n'
    weighed, spooned, handful = (
        parse_recipe(text.format(amount)) for amount in ("9.44 g", "0.5 cups petals", "a handful")
    )
    # Dried flowers weigh some 0.08 g/mL as they lie: common practice, no source.
    assert handful.colours[0].amount == pytest.approx(9.44)
    assert handful.colours[0].content == pytest.approx(weighed.colours[0].content)
    assert "assume.recipe.spoons" in {note.code for note in handful.assumptions}
    spreads = [relative_spreads(inputs)[2] for inputs in (weighed, spooned, handful)]
    assert spreads == sorted(spreads)
    assert spreads[2] == pytest.approx(math.hypot(spreads[0], 0.4, 0.1 / 3.28971 / 0.08), rel=1e-6)
    strengths = [
        possible_tubs(inputs).setting.bath.strengths[inputs.colours[0].colourant]
        for inputs in (weighed, handful)
    ]
    assert np.std(strengths[1]) > 1.3 * np.std(strengths[0])


@pytest.mark.parametrize("written", ["2 tsp", "1 Tbsp", "half a cup"])
def test_spoons_of_brew_or_of_petals_are_not_guessed_at(written: str) -> None:
    text = '[[colour]]\npigment = "butterfly-pea"\nstrength = "2 %"\namount = "{}"'
    message = str(refused(text.format(written)))
    assert f'"{written} of petals"' in message
    assert "mL for brew" in message
    for way in (f"{written} of petals", "8 fl oz", "10 mL"):
        assert parse_recipe(text.format(way)).colours


def test_a_dye_without_strength_is_offered_the_usual_one() -> None:
    message = str(refused('[[colour]]\ndye = "tartrazine"\namount = "20 mL"'))
    assert "colour.strength is not given" in message
    usual = stocks([colourant("tartrazine")], ())[colourant("tartrazine")].written
    assert f"its strength as {usual} (" in message


@pytest.mark.parametrize(
    ("written", "years"),
    [
        ('bathers = "toddler"', 1.0),
        ('bathers = "my 6-year-old"', 6.0),
        ('bathers = "child"\nchild_age = "six"', 6.0),
        ('bathers = "child"\nchild_age = "6"', 6.0),
    ],
)
def test_a_child_in_plain_words(written: str, years: float) -> None:
    wish = parse_recipe(f"[wish]\n{written}").wish
    assert (wish.bathers, wish.child_age_years) == ("child", years)


@pytest.mark.parametrize("said", ["pregnant", "a gift for my child", "chld", "the cat"])
def test_who_bathes_is_not_guessed_at(said: str) -> None:
    # What a recipe would lose of such words (a doctor's word, the purpose) is not dropped.
    assert "accepted are adult, child, nobody" in str(refused(f'[wish]\nbathers = "{said}"'))


def test_a_value_is_quoted_once() -> None:
    message = str(refused('[wish]\nbathers = "child"\nchild_age = "140 years"'))
    assert message.count("140") == 1


def test_the_nearest_colour_is_offered_before_the_list() -> None:
    message = str(refused('[[colour]]\npigment = "butterfly pie"\namount = "20 mL"'))
    assert message.index("did you mean") < message.index("accepted are")


def test_a_pinch_of_dye_is_some_of_its_powder() -> None:
    made = parse_recipe('[[colour]]\ndye = "tartrazine"\namount = "a pinch"').colours[0]
    assert made.amount_unit == "g"
    assert made.amount == pytest.approx(0.6 * 0.308)
    assert made.strength_sd is not None
    assert made.strength_sd > 0.4
    assert refused('[[colour]]\ndye = "tartrazine"\namount = "1 tsp"').field == "colour.strength"


def test_parts_and_doses_by_the_spoon() -> None:
    inputs = parse_recipe('[activator]\nparts = { citric-acid = "2 tsp", epsom-salt = "1 tbsp" }')
    parts = inputs.activator.parts
    # Level spoons of the powders' bulk densities, 0.85 and 0.98 g/mL (data/trade/powders.csv).
    assert parts["epsom-salt"] / parts["citric-acid-anhydrous"] == pytest.approx(1.5 * 0.98 / 0.85)
    assert relative_spreads(inputs)[1] > 0.1
    weighed = parse_recipe("[activator]\nparts = { citric-acid = 1, epsom-salt = 1 }")
    assert relative_spreads(weighed)[1] < 0.02
    alone = parse_recipe('[activator]\nparts = { citric-acid = "1 cup" }')
    assert relative_spreads(alone)[1] < 0.01, "one powder alone has no shares to be off"
    spooned, grams = measured_dose(alone, "2 tsp")
    assert grams == pytest.approx(2 * 4.92892 * 0.85, rel=1e-4)
    assert spooned.activator.weighed_with == "spoon"
    assert measured_dose(alone, "12 g") == (alone, 12.0)
    both = refused('[activator]\nparts = { citric-acid = "2 tsp", epsom-salt = 1 }')
    assert (both.field, "none in spoons" in str(both)) == ("activator.parts.epsom-salt", True)


@pytest.mark.slow
@pytest.mark.parametrize(
    "command",
    [
        ("plan", "--dose", "2 tsp"),
        ("soak", "--dose", "2 tsp"),
        ("sachet", "--sizes", "2, 3 tsp", "--homes", "1000"),
    ],
)
def test_commands_take_a_dose_by_the_spoon(
    huedose_json: Callable[..., tuple[int, dict[str, Any]]], command: tuple[str, ...]
) -> None:
    code, document = huedose_json(*command)
    assert code in (0, 3)
    grams = {
        "plan": lambda: document["dose_g"]["best"],
        "soak": lambda: sum(step["grams"] for step in document["steps"]),
        "sachet": lambda: document["sizes"][0]["grams"],
    }[command[0]]()
    assert grams == pytest.approx(2 * 4.92892 * 0.85, rel=1e-3)
