"""What functions are given that they cannot use: one sentence that names the argument."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest

from dosing import load_recipe, make_plan, mass_for_ph, parse_recipe, preview, solve, tap_water
from dosing.bath.assembled import assemble
from dosing.bath.inputs import (
    ActivatorInputs,
    ColourInputs,
    FoamBathInputs,
    RecipeInputs,
    TubInputs,
    WishInputs,
)
from dosing.effects.answer import design_effects, wished_end
from dosing.ingredients.water import WaterReadings
from dosing.plan.cautions import Situation
from dosing.recipe import demo_names, demo_recipe
from dosing.soak.course import follow
from dosing.soak.records import Manner
from dosing.soak.steps import make_soak
from indicator import bottle_view, colour_word, colourant, jar_view, tub_view
from indicator.accepted import reason

MASKED = np.ma.array([5.0, 6.0], mask=[False, True])
NO_NUMBERS: tuple[Any, ...] = (
    date(2026, 1, 1), np.datetime64("2026-01-01"), b"5", "x", True, 1j, object(), MASKED,
    [1.0, None], [[1.0], [1.0, 2.0]],
)  # fmt: skip
NO_TEXTS: tuple[Any, ...] = (float("nan"), date(2026, 1, 1), b"blue", 5.7, True, MASKED)
SALT = {"Na": 0.1, "Cl": 0.1}
DEMO = demo_recipe(demo_names()[0])


def called(value: object) -> str:
    """What a value is called in the name of a test: the same in every process."""
    named = isinstance(value, float | list | str | bytes)
    return repr(value) if named else type(value).__name__


def readings(**read: Any) -> object:
    return tap_water(replace(WaterReadings(alkalinity_meq_l=2.0), **read))


ARRAYS: dict[str, Callable[[Any], object]] = {
    "temperature_c": lambda value: solve(SALT, value),
    "totals": lambda value: solve({"Na": value}),
    "ph": lambda value: solve(SALT, ph=value),
    "pco2_ppm": lambda value: solve(SALT, pco2_ppm=value),
    "lab": lambda value: colour_word(value),
    "alkalinity_meq_l": lambda value: readings(alkalinity_meq_l=value),
    "reading_temperature_c": lambda value: readings(reading_temperature_c=value),
    "per_unit": lambda value: mass_for_ph(SALT, {"citrate": value}, 5.0),
}
NUMBERS: dict[str, Callable[[Any], object]] = {
    "dose_g": lambda value: preview(DEMO, value),
    "depth_cm": lambda value: tub_view(value),
    "foam_cover": lambda value: tub_view(30.0, foam_cover=value),
    "thinned": lambda value: readings(thinned=value),
    "water_temperature_c": lambda value: replace(DEMO, water_temperature_c=value),
    "content": lambda value: replace(DEMO.colours[0], content=value),
    "amount_ml": lambda value: FoamBathInputs(value),
}
PERHAPS_NUMBERS: dict[str, Callable[[Any], object]] = {
    "path_cm": lambda value: jar_view(value),
    "path_cm ": lambda value: bottle_view(value),
    "volume_l": lambda value: TubInputs(volume_l=value),
    "child_age_years": lambda value: WishInputs(child_age_years=value),
    "floor_area_cm2": lambda value: TubInputs(volume_l=90.0, floor_area_cm2=value),
    "drop_step_meq_l": lambda value: readings(drop_step_meq_l=value),
}
TEXTS: dict[str, Callable[[Any], object]] = {
    "target": lambda value: make_plan(DEMO, target=value),
    "colourant": lambda value: colourant(value),
    "light": lambda value: tub_view(30.0, value),
    "light ": lambda value: jar_view(light=value),
    "floor": lambda value: tub_view(30.0, floor=value),
    "instrument": lambda value: readings(instrument=value),
    "text": lambda value: parse_recipe(value),
    "path": lambda value: load_recipe(value),
    "accept_ph": lambda value: make_plan(DEMO, accept_ph=value),
    "accept_pouring": lambda value: preview(DEMO, 5.0, accept_pouring=value),
    "bathers": lambda value: WishInputs(bathers=value),
    "market": lambda value: WishInputs(market=value),
}
RECORDS: dict[str, Callable[[Any], object]] = {
    "inputs": lambda value: make_plan(value),
    "inputs ": lambda value: preview(value, 5.0),
    "readings": lambda value: tap_water(value),
    "totals": lambda value: solve(value),
    "parts": lambda value: ActivatorInputs(value),
}


def refused(call: Callable[[Any], object], value: object, argument: str) -> None:
    with pytest.raises((TypeError, ValueError), match=argument.strip()) as raised:
        call(value)
    assert "accepted" in str(raised.value) or "write" in str(raised.value)


@pytest.mark.parametrize("argument", [*ARRAYS, *NUMBERS, *PERHAPS_NUMBERS])
@pytest.mark.parametrize("value", NO_NUMBERS, ids=called)
def test_what_is_no_number_is_refused(argument: str, value: object) -> None:
    refused((ARRAYS | NUMBERS | PERHAPS_NUMBERS)[argument], value, argument)


@pytest.mark.parametrize("argument", [*NUMBERS, *PERHAPS_NUMBERS])
@pytest.mark.parametrize("value", [float("nan"), float("inf"), -300.0, 99e9, [5.0]], ids=str)
def test_what_is_no_usable_number_is_refused(argument: str, value: object) -> None:
    refused((NUMBERS | PERHAPS_NUMBERS)[argument], value, argument)


@pytest.mark.parametrize("argument", ["temperature_c", "totals", "lab", *NUMBERS])
def test_nothing_is_no_number(argument: str) -> None:
    refused((ARRAYS | NUMBERS)[argument], None, argument)


@pytest.mark.parametrize("argument", TEXTS)
@pytest.mark.parametrize("value", NO_TEXTS, ids=called)
def test_what_is_no_text_is_refused(argument: str, value: object) -> None:
    refused(TEXTS[argument], value, argument)


@pytest.mark.parametrize("argument", RECORDS)
@pytest.mark.parametrize("value", [None, *NO_TEXTS, "soak"], ids=called)
def test_what_is_no_record_is_refused(argument: str, value: object) -> None:
    refused(RECORDS[argument], value, argument)


@pytest.mark.parametrize(
    ("argument", "value"),
    [
        ("temperature_c", -300.0),
        ("temperature_c", [25.0, 300.0]),
        ("ph", 99.0),
        ("ph", [7.0, -99.0]),
        ("totals", -0.1),
        ("totals", float("inf")),
        ("pco2_ppm", -1.0),
        ("reading_temperature_c", -300.0),
        ("alkalinity_meq_l", -1.0),
        ("lab", [1e9, 0.0, 0.0]),
        ("lab", [50.0, 0.0]),
    ],
    ids=str,
)
def test_what_no_water_and_no_colour_has_is_refused(argument: str, value: object) -> None:
    refused(ARRAYS[argument], value, argument)


def test_a_ph_that_no_tap_has_is_refused() -> None:
    refused(lambda value: readings(ph=value), 99.0, "ph")


def test_nan_among_numbers_is_nan_in_the_answer() -> None:
    solved = solve({"Na": [0.1, np.nan], "Cl": 0.1}, [25.0, 25.0])
    np.testing.assert_array_equal(solved.converged, [True, False])
    np.testing.assert_array_equal(np.isnan(solved.ph), [False, True])
    assert not solve(SALT, float("nan")).converged
    assert colour_word([[50.0, np.nan, 0.0]])[0] == ""


@pytest.mark.parametrize("bathers", ["adult", "nobody"])
def test_an_age_is_a_childs_for_every_record(bathers: str) -> None:
    with pytest.raises(ValueError, match=rf"^child_age_years is 1, but bathers is '{bathers}'"):
        WishInputs(bathers=bathers, child_age_years=1.0)


FLAGS: dict[str, Callable[[Any], object]] = {
    "volume_measured": lambda value: TubInputs(volume_measured=value),
    "preserved": lambda value: ColourInputs(colourant("beet"), 1.0, 1.0, "mL", preserved=value),
    "strength_measured": lambda value: ColourInputs(
        colourant("beet"), 1.0, 1.0, "mL", strength_measured=value
    ),
}


@pytest.mark.parametrize("argument", FLAGS)
@pytest.mark.parametrize("value", ["no", 0, 1.0], ids=called)
def test_what_is_neither_yes_nor_no_is_refused(argument: str, value: object) -> None:
    with pytest.raises(TypeError, match=f"^{argument} is .*accepted is a bool"):
        FLAGS[argument](value)


@pytest.mark.parametrize("argument", ["adults_in_tub", "children_in_tub"])
@pytest.mark.parametrize("value", [0.5, True, float("nan"), "1"], ids=called)
def test_bathers_in_the_tub_are_counted(argument: str, value: object) -> None:
    with pytest.raises((TypeError, ValueError), match=f"^{argument} is "):
        TubInputs(**{argument: value})  # type: ignore[arg-type]


ONE_WATER: dict[str, Callable[[RecipeInputs], object]] = {
    "plan": make_plan,
    "preview": lambda inputs: preview(inputs, 5.0),
    "soak": lambda inputs: make_soak(inputs, ("pH 5.5",)),
    "design": lambda inputs: design_effects(
        inputs, wished_end("blue", "start"), wished_end("pink", "end")
    ),
}


@pytest.mark.parametrize("answer", ONE_WATER)
@pytest.mark.parametrize("argument", ["alkalinity_meq_l", "hardness_mmol_l", "ph", "sodium_mmol_l"])
@pytest.mark.parametrize("value", [float("nan"), [1.0, 2.0]], ids=called)
def test_a_dose_needs_one_known_water(answer: str, argument: str, value: object) -> None:
    changed: Any = {argument: value}
    water = replace(DEMO.water, **changed)
    with pytest.raises((TypeError, ValueError), match=f"^{argument} is "):
        ONE_WATER[answer](replace(DEMO, water=water))


# ---------------------------------------------------------------- words of a closed vocabulary

WORDS: dict[str, Callable[[Any], object]] = {
    "market": lambda word: WishInputs(market=word),
    "purpose": lambda word: WishInputs(purpose=word),
    "bathers": lambda word: WishInputs(bathers=word),
    "view": lambda word: WishInputs(view=word),
    "poured": lambda word: ActivatorInputs({"citric-acid-anhydrous": 1.0}, poured=word),
    "pouring": lambda word: ActivatorInputs({"citric-acid-anhydrous": 1.0}, pouring=word),
    "weighed_with": lambda word: ActivatorInputs({"soda": 1.0}, weighed_with=word),
    "floor": lambda word: TubInputs(floor=word),
    "cloud": lambda word: TubInputs(cloud=word),
    "held_in": lambda word: ColourInputs(colourant("beet"), 1.0, 1.0, "mL", held_in=word),
}
MISSPELT = {
    "market": ("us", "U.S.", " US", "any"),
    "purpose": ("Sale", "sale ", "present"),
    "bathers": ("Adult", "adults", "dog"),
    "view": ("Tub", "cup"),
    "poured": ("Beside", "after"),
    "pouring": ("Dry", "jugs"),
    "weighed_with": ("kitchen scale", "eye"),
    "floor": ("White", "lava"),
    "cloud": ("Clear", "ink"),
    "held_in": ("Foam bath", "tin"),
}


@pytest.mark.parametrize("field", WORDS)
def test_a_word_is_taken_in_its_own_spelling_only(field: str) -> None:
    for word in MISSPELT[field]:
        with pytest.raises(ValueError, match=rf"^{field} is {word!r}; accepted are "):
            WORDS[field](word)
        with pytest.raises((ValueError, TypeError), match=rf"^{field} is "):
            WORDS[field]("")


def test_a_word_that_is_nearly_one_offers_it() -> None:
    with pytest.raises(ValueError, match=r"did you mean 'US'"):
        WishInputs(market="us")


@pytest.mark.parametrize(
    ("field", "word"),
    [
        ("market", "us"),
        ("purpose", "Sale"),
        ("poured", "Beside"),
        ("pouring", "Jug"),
        ("bathers", "Nobody"),
        ("child_age_years", float("nan")),
        ("accept_ph", " "),
        ("accept_pouring", "\u200b"),
    ],
)
def test_cautions_are_judged_for_known_words_only(field: str, word: object) -> None:
    records: tuple[Any, ...] = (DEMO.wish, DEMO.activator, Situation(DEMO, ()))
    record = next(record for record in records if hasattr(record, field))
    with pytest.raises(ValueError, match=f"^{field} is "):
        replace(record, **{field: word})


@pytest.mark.parametrize(
    "reason",
    ["", " ", "\t\n", "\u200b\u200b\u200b", "\u2060\ufeff", "\u00a0", "-", "...", "42", "x"]
    # Default-ignorable letters and marks of Unicode's DerivedCoreProperties.txt, and marks alone.
    + [3 * sign for sign in "\u115f\u1160\u3164\uffa0\u17b4\u034f\ufe0f\u0301"]
    + ["ab\u3164", "\u3164 ok \uffa0"],
)
@pytest.mark.parametrize("option", ["accept_ph", "accept_pouring"])
def test_a_reason_has_letters(option: str, reason: str) -> None:
    for call in (make_plan, lambda inputs, **why: preview(inputs, 5.0, **why)):
        with pytest.raises(ValueError, match=f"^{option} is .*write why"):
            call(DEMO, **{option: reason})


def test_a_timeline_checks_its_reason_too() -> None:
    with pytest.raises(ValueError, match=r"^accept_pouring is "):
        follow(DEMO, assemble(DEMO), [5.0], Manner(), accept_pouring=3 * "\u3164")


def test_a_reason_in_any_script_is_taken() -> None:
    for why in (
        "pool party",
        "\uff54\uff45\uff53\uff54",
        "\ud55c\uad6d\uc5b4",
        "\u0440\u043e\u043b\u044c",
        "n\u0303andu\u0301",
    ):
        assert reason("accept_ph", why) == why


def test_recipes_of_the_demos_are_within_the_vocabulary() -> None:
    for name in demo_names():
        assert isinstance(demo_recipe(name), RecipeInputs)
