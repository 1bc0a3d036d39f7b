"""Sour infusions: their acid in the tub, in every possible tub, and in the designs with them."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from dosing.bath.assembled import assemble, sour_meq
from dosing.bath.inputs import FoamBathInputs, RecipeInputs, WishInputs
from dosing.bath.possible_tubs import possible_tubs
from dosing.effects.answer import design_effects, wished_end
from dosing.effects.designs import takes_up_meq
from dosing.effects.shelf import read_shelf
from dosing.ingredients.trade_values import typical
from dosing.ingredients.water import WaterReadings
from dosing.plan.answer import make_plan, preview
from dosing.plan.brewing import tint_amounts
from dosing.plan.cautions import exit_code
from dosing.plan.levels import gate_level
from dosing.recipe import demo_recipe, parse_recipe
from indicator.notes import sentence
from indicator.pigments import colourant

Run = Callable[..., tuple[int, str, str]]

LANDING = """
schema = 1
[tub]
volume = "110 L"
volume_measured = true
[water]
alkalinity = "{alkalinity}"
hardness = "8 dH"
ph = 7.8
instrument = "jar test"
temperature = "25 C"
[[colour]]
pigment = "roselle"
amount = "{amount} mL"
strength = "2 %"
[activator]
parts = {{ citric-acid-anhydrous = 1 }}
[wish]
bathers = "adult"
"""


def landing(alkalinity: str = "100 ppm", amount: float = 0.001) -> RecipeInputs:
    return parse_recipe(LANDING.format(alkalinity=alkalinity, amount=amount))


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75])
def test_acid_of_roselle_takes_up_bicarbonate_as_a_textbook_has_it(share: float) -> None:
    """In closed bicarbonate water: pH = pK1 + log of bicarbonate over carbonic acid.

    pK1 = 6.35 at 25 degrees: Stumm and Morgan 1996, table 4.7.
    """
    meq = 100.0 / 50.04 * 110.0
    # 2.3 meq in each gram of calyces, 20 g in a litre of infusion.
    millilitres = 1000.0 * share * meq / (2.3 * 20.0)
    setting = assemble(landing(amount=millilitres))
    free_before = 10.0 ** (6.35 - 7.8)
    expected = 6.35 + np.log10((1.0 - share) / (share + free_before))
    assert float(setting.bath.solve().ph) == pytest.approx(expected, abs=0.07)
    (note,) = [one for one in setting.assumptions if one.code == "assume.colour.own-acid"]
    assert float(note.values["share"]) == pytest.approx(share, rel=0.05)


def test_brews_of_roselle_differ_in_every_possible_tub() -> None:
    sour, bare = (possible_tubs(landing(amount=amount)).setting.bath for amount in (1500.0, 0.001))
    brought = sour.totals["anion"] * sour.water_kg - bare.totals["anion"] * bare.water_kg
    # 30 g of calyces with 1.5 to 3.3 meq in each (nine of ten), 2.3 as a rule.
    assert np.mean(brought) == pytest.approx(30.0 * 2.3e-3, rel=0.01)
    assert np.std(brought) / np.mean(brought) == pytest.approx(1.8 / 3.29 / 2.3, rel=0.03)


@pytest.mark.slow
def test_design_with_a_sour_infusion_is_the_plan_of_it_to_the_dose() -> None:
    found = design_effects(
        landing(),
        wished_end("blue", "start"),
        wished_end("red", "end"),
        shelf=read_shelf("roselle, tartrazine, citric acid"),
        count=2,
    )
    assert found.designs
    for design in found.designs:
        plan = make_plan(design.inputs)
        assert plan.reached
        assert plan.dose_g.best == pytest.approx(design.dose_g, rel=1e-9)
        assert plan.ph_acid_side == pytest.approx(design.ph_acid_side)
        assert [one.message for one in plan.cautions] == [one.message for one in design.cautions]
        noted = any(one.code == "design.note.own-acid" for one in design.notes)
        share = sum(sour_meq(design.inputs).values()) / takes_up_meq(assemble(design.inputs))
        assert noted == (share >= typical("own_acid_to_mention").value)


@pytest.mark.parametrize(("pigment", "meq_per_g"), [("turmeric", 0.2), ("black-carrot", 0.2)])
def test_every_plant_brings_some_acid_best_and_high(pigment: str, meq_per_g: float) -> None:
    """Guesses, marked so: 0.2 meq per g of dried plant, 0.05 to 0.5 in nine of ten."""
    inputs = landing("20 ppm", 1500.0)
    inputs = replace(inputs, colours=(replace(inputs.colours[0], colourant=colourant(pigment)),))
    bare = replace(inputs, colours=())
    sour, plain = possible_tubs(inputs).setting.bath, possible_tubs(bare).setting.bath
    brought = np.asarray(sour.totals["anion"] * sour.water_kg)
    grams = 30.0
    assert np.mean(brought) == pytest.approx(grams * meq_per_g / 1000.0, rel=0.02)
    assert np.quantile(brought, 0.95) == pytest.approx(grams * 0.5 / 1000.0, rel=0.15)
    assert np.quantile(sour.solve().ph, 0.05) < np.quantile(plain.solve().ph, 0.05)


def test_a_sour_foam_bath_keeps_its_acid_beside_a_sour_infusion() -> None:
    """Both close their charge with the same inert ion: what the two bring adds up."""
    both = replace(landing("50 ppm", 300.0), foam_bath=FoamBathInputs(amount_ml=60.0, ph=2.5))

    def anion_mol(inputs: RecipeInputs) -> float:
        bath = assemble(inputs).bath
        return float(bath.totals.get("anion", np.zeros(())) * bath.water_kg)

    neither = anion_mol(replace(both, colours=(), foam_bath=None))
    foam, infusion = replace(both, colours=()), replace(both, foam_bath=None)
    assert anion_mol(foam) > neither < anion_mol(infusion)
    assert anion_mol(both) - neither == pytest.approx(
        anion_mol(foam) + anion_mol(infusion) - 2 * neither, rel=1e-6
    )


def test_an_infusion_in_an_untitrated_foam_bath_brings_its_acid() -> None:
    """Roselle 60 g in 110 L at 50 ppm (1 meq/L): 138 meq of acid into 110 meq of bicarbonate."""
    inputs = landing("50 ppm", 3000.0)
    held = replace(inputs.colours[0], held_in="foam bath")
    foam = FoamBathInputs(amount_ml=60.0, ph=6.0)
    untitrated = replace(inputs, colours=(held,), foam_bath=foam)
    titrated = replace(untitrated, foam_bath=replace(foam, titratable_meq_kg=15.0))
    assert float(assemble(untitrated).bath.solve().ph) < 4.5
    assert float(assemble(titrated).bath.solve().ph) > 6.0
    # Whose titration it was cannot be known, so that it is said.
    said = "assume.colour.own-acid-titrated"
    assert said in {note.code for note in assemble(titrated).assumptions}
    assert said not in {note.code for note in assemble(untitrated).assumptions}


@pytest.mark.slow
@pytest.mark.parametrize("bathers", ["child", "adult"])
def test_colour_that_is_too_sour_by_itself_is_not_an_amount_to_take(
    huedose: Run, tmp_path: Path, bathers: str
) -> None:
    path = tmp_path / "sour.toml"
    text = LANDING.format(alkalinity="40 ppm", amount=500).replace('"adult"', f'"{bathers}"')
    path.write_text(text, encoding="utf-8")
    code, out, err = huedose("brew", path, "--json")
    document = json.loads(out)
    assert (code, err) == (3, "")
    showy = document["amounts"][2]
    # 0.8 meq/L of bicarbonate against more than that of acid: pH below 4.5 is not for a child.
    assert showy["ph_acid_side"] < showy["ph"] < 4.5
    stops = bathers == "child" or showy["ph_acid_side"] < 4.0
    assert showy["level"] == ("stop" if stops else "justify")
    _, told, _ = huedose("brew", path)
    assert "too sour by itself" in told
    assert f"{showy['infusion_ml']:.2g}" not in told
    _, plan, _ = huedose("plan", path, "--more")
    assert "sour by itself" in plan


@pytest.mark.slow
def test_the_tub_as_read_is_judged_where_nothing_is_left_to_take_up_acid() -> None:
    """A strip's first pad: with an alkalinity of 0 any acid makes the tub as read sourest."""
    inputs = replace(
        demo_recipe("1"),
        water=WaterReadings(alkalinity_meq_l=0.0, instrument="strip"),
        wish=WishInputs(bathers="adult"),
    )
    for plan in (make_plan(inputs), preview(inputs, 3.0)):
        assert plan.ph_acid_side <= plan.after.ph + 1e-9
        level = gate_level(plan.ph_acid_side, "adult")
        assert level <= 1 or exit_code(plan.cautions) == 3
    assert exit_code(preview(inputs, 3.0).cautions) == 3


OWN_PIGMENT = """
schema = 1
name = "{name}"
{based_on}
[per_percent]
best = 3.5
[[form]]
form = "red"
[[band]]
form = "red"
centre_nm = 520.0
width_nm = 80.0
height = 1.0
"""


@pytest.mark.slow
@pytest.mark.parametrize("based_on", ["", 'based_on = "butterfly-pea"'])
def test_own_pigment_of_unknown_kind_is_judged_on_the_careful_side(
    based_on: str, tmp_path: Path
) -> None:
    file = tmp_path / "petals.toml"
    name = "related-petals" if based_on else "unrelated-petals"
    file.write_text(OWN_PIGMENT.format(name=name, based_on=based_on), encoding="utf-8")
    text = LANDING.format(alkalinity="100 ppm", amount=500).replace("roselle", str(file))
    inputs = parse_recipe(text)
    wish = replace(inputs.wish, purpose="sale", market="EU")
    plan = make_plan(replace(inputs, wish=wish))
    codes = {one.code: one.level for one in plan.cautions}
    told = {one.code for one in plan.assumptions}
    unknown = not based_on
    assert ("assume.colour.own-acid-unknown" in told) == unknown
    assert (codes.get("colour-unknown-sale") == "stop") == unknown
    # 10 g of petals; of roselle, the sourest published, 3.3 meq in each at most (nine of ten).
    bare = possible_tubs(landing(amount=0.001)).setting.bath
    bath = possible_tubs(inputs).setting.bath
    brought = bath.totals["anion"] * bath.water_kg - bare.totals["anion"] * bare.water_kg
    sourest = float(np.quantile(brought, 0.95)) / 10.0e-3
    if unknown:
        assert sourest == pytest.approx(3.3, rel=0.08)
    else:
        assert sourest < 0.5


def test_more_acid_than_the_water_takes_up_is_told_without_a_share() -> None:
    setting = assemble(landing(amount=20_000.0))
    (note,) = [one for one in setting.assumptions if one.code.startswith("assume.colour.own-acid")]
    assert "more acid than this water takes up" in sentence(note)
    assert "%" not in sentence(note)


def test_a_tint_of_a_tub_without_colour_is_as_sour_as_the_tub_with_that_infusion() -> None:
    bare = replace(landing(), colours=())
    amounts = tint_amounts(bare, assemble(bare), possible_tubs(bare))
    (showy,) = [one for one in amounts if one.tint == "showy"]
    written = LANDING.format(alkalinity="100 ppm", amount=showy.infusion_ml)
    tinted = assemble(parse_recipe(written.replace("roselle", "butterfly-pea")))
    assert showy.infusion_percent == 2.0
    assert showy.ph == pytest.approx(float(tinted.bath.ph), abs=0.005)


@pytest.mark.slow
@pytest.mark.parametrize("command", [("brew",), ("jar", "--instructions"), ("soak",)])
def test_a_tub_that_its_colour_makes_too_sour_is_told_at_every_door(
    huedose: Run, tmp_path: Path, command: tuple[str, ...]
) -> None:
    path = tmp_path / "bath.toml"
    path.write_text(LANDING.format(alkalinity="40 ppm", amount=3000).replace("adult", "child"))
    code, out, _ = huedose(command[0], path, *command[1:], "--json")
    document = json.loads(out)
    assert code == 3
    assert document["verdicts"]["pour"] == "stop"
    assert any(one["level"] == "stop" for one in document["cautions"])
    code, told, _ = huedose(command[0], path, *command[1:])
    assert code == 3
    (why, *_) = [one["message"] for one in document["cautions"] if one["level"] == "stop"]
    assert " ".join(why.split())[:30] in " ".join(told.split())


def test_a_tub_that_forbids_every_design_has_its_verdicts(huedose: Run, tmp_path: Path) -> None:
    path = tmp_path / "bath.toml"
    text = LANDING.format(alkalinity="40 ppm", amount=1)
    text = text.replace('bathers = "adult"', 'bathers = "child"\nchild_age = "1 year"')
    path.write_text(text + '[foam_bath]\namount = "40 mL"\n', encoding="utf-8")
    code, out, _ = huedose("design", "blue", "pink", path, "--json")
    document = json.loads(out)
    assert (code, document["designs"]) == (3, [])
    assert document["verdicts"]["pour"] == "stop"
