"""How surely the colours of a design have the wished words, and what people measure out."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.effects.answer import Effects, design_effects, wished_end
from dosing.effects.designs import ColourMatch, match
from dosing.effects.shelf import measured_out, read_shelf, stocks
from dosing.effects.task import End
from dosing.recipe import demo_recipe, parse_recipe
from indicator.absorbance import mixture_absorbance
from indicator.appearance import seen
from indicator.optics import tub_view
from indicator.pigments import colourant
from indicator.srgb import lab_from_hex
from indicator.words import (
    both_certainties,
    certainties,
    colour_words,
    makers_word,
    threshold,
    word_certainty,
)

LANDING = """
schema = 1
[tub]
volume = "110 L"
volume_measured = true
[water]
alkalinity = "100 ppm"
hardness = "8 dH"
ph = 7.8
instrument = "jar test"
[wish]
bathers = "adult"
"""


def soak() -> RecipeInputs:
    inputs = demo_recipe(1)
    return replace(inputs, wish=replace(inputs.wish, bathers="adult", child_age_years=None))


def designed(inputs: RecipeInputs, start: str, end: str, shelf: str | None = None) -> Effects:
    return design_effects(
        inputs,
        wished_end(start, "start"),
        wished_end(end, "end"),
        shelf=None if shelf is None else read_shelf(shelf),
        count=1,
    )


def test_olive_counts_as_green_and_is_told() -> None:
    # The crowd survey's own colours of these names, and one that it has no other word for.
    for name, word, makers in (
        ("#6E750E", "green", "olive"),
        ("#A9561E", "brown", "sienna"),
        ("#FFB07C", "orange", "peach"),
        ("#15B01A", "green", None),
    ):
        lab = lab_from_hex(name)
        assert word_certainty(lab, word) > 0.5
        assert makers_word(lab) == makers
    assert both_certainties(lab_from_hex("#6E750E"), "green")[1] < 0.8
    votes = certainties(lab_from_hex("#DEA5A4"))[0]
    assert votes.sum() == pytest.approx(1.0)
    assert colour_words()[int(votes.argmax())] == "pink"


@cache
def over_all_pigments(start: str, end: str) -> Effects:
    return designed(soak(), start, end)


# Mixed by hand: millilitres of 2 % infusions and 0.1 % dyes in the evening soak, and the pH.
HAND_MADE = {
    ("blue", "pink"): ({"black-carrot": 790.0, "beet": 79.0, "quinoline-yellow": 15.8}, 5.0),
    ("green", "orange"): ({"red-cabbage": 200.0, "tartrazine": 130.0, "sunset-yellow": 15.0}, 4.6),
}
# What such mixtures were called with other numbers of the pigments, by another count of the votes.
CALLED_SO = {("blue", "pink"): (1.0, 0.9), ("green", "orange"): (0.82, 0.88)}


@pytest.mark.slow
@pytest.mark.parametrize("wish", HAND_MADE)
def test_designs_are_called_so_as_surely_as_mixtures_by_hand(wish: tuple[str, str]) -> None:
    found = over_all_pigments(*wish)
    assert found.reached
    best = found.designs[0]
    ours = np.array([best.start.certainty, best.end.certainty])
    amounts, ph = HAND_MADE[wish]
    bottles = {one.colourant.name: one for one in stocks([*map(colourant, amounts)], ()).values()}
    bare = assemble(replace(soak(), colours=())).bath
    litres = float(bare.volume_l) + sum(amounts.values()) / 1000.0
    strengths = {n: bottles[n].per_cm_or_molar * ml / 1000.0 / litres for n, ml in amounts.items()}
    acidity = np.array([float(bare.solve().ph), ph])
    by_hand = seen(mixture_absorbance(strengths, acidity), tub_view(found.depth_cm)).patch
    theirs = [float(word_certainty(lab, word)) for lab, word in zip(by_hand, wish, strict=True)]
    for others in (theirs, CALLED_SO[wish]):
        assert ours.min() >= min(others)
        assert ours.sum() >= sum(others)


@pytest.mark.slow
def test_what_people_call_a_design_is_told() -> None:
    blue, green = over_all_pigments("blue", "pink"), over_all_pigments("green", "orange")
    assert blue.designs[0].level == "ok"
    assert blue.designs[0].start.rival is None
    assert blue.designs[0].end.rival is None
    assert green.designs[0].start.shade == "olive"


def test_doubt_about_a_word_is_told_with_the_votes() -> None:
    """Colours between orange and brown, their votes those of the survey."""

    def words(written: str) -> ColourMatch:
        patch: Any = SimpleNamespace(
            patch=lab_from_hex(written), word="orange", visibility_delta_e=30.0
        )
        return match(End("orange", word="orange"), patch)

    # The second is nearer to the survey's own orange, with less than 15 votes of 100 for brown.
    between = words("#CB7723")
    assert between.rival is not None
    assert between.rival[0] == "brown"
    assert (round(between.certainty, 1), round(between.rival[1], 1)) == (0.8, 0.2)
    assert words("#D07A2D").rival is None


@pytest.mark.slow
def test_designs_fit_a_bottle_or_say_how_much_they_need() -> None:
    for found in (over_all_pigments("blue", "pink"), over_all_pigments("green", "orange")):
        best = found.designs[0]
        assert sum(one.amount_ml for one in best.colours) <= 1000.0
        assert "design.note.bottle" not in {note.code for note in best.notes}
    basin = replace(soak(), tub=replace(soak().tub, volume_l=700.0, floor_area_cm2=28000.0))
    shelf = "purple sweet potato, tartrazine, citric acid"
    best = designed(basin, "green", "orange", shelf).designs[0]
    litres = sum(one.amount_ml for one in best.colours) / 1000.0
    notes = {note.code: note.values for note in best.notes}
    assert litres > 1.0
    assert notes["design.note.bottle"]["litres"] == pytest.approx(litres)


def test_colour_that_fewer_than_half_call_so_is_not_reached() -> None:
    found = designed(parse_recipe(LANDING), "blue", "pink", "roselle, citric acid")
    (design,) = found.designs
    for words, sight in (
        (design.start, design.before),
        (design.end, design.after),
    ):
        seen_at_all = float(sight.colour.visibility_delta_e) >= threshold("visible")
        assert words.met == (words.certainty >= 0.5 and seen_at_all)
        if str(sight.colour.word) != "colourless":
            assert dict(words.votes)[str(sight.colour.word)] == words.votes[0][1]
    assert not found.reached
    # Neutral roselle is too pale a tint to be seen.
    assert any(one.code.startswith("design.needed.start") for one in found.needed)


@pytest.mark.parametrize(
    ("millilitres", "dye", "measured"),
    [
        (0.01, True, 0.05), (0.43, True, 0.45), (4.59, True, 4.6), (44.83, True, 45.0),
        (4.59, False, 4.5), (44.83, False, 45.0), (443.0, False, 445.0), (1264.0, False, 1260.0),
    ],
)  # fmt: skip
def test_amounts_are_what_a_kitchen_measures(
    millilitres: float, dye: bool, measured: float
) -> None:
    # A drop is 0.05 mL (United States Pharmacopeia 32, chapter 1101).
    assert measured_out(millilitres, dye=dye) == measured
