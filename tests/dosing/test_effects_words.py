"""How surely the colours of a design have the wished words, and what people measure out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from dosing.effects import wording as told
from dosing.effects.answer import Effects, design_effects, wished_end
from dosing.effects.shelf import measured_out, read_shelf
from dosing.inputs import RecipeInputs
from dosing.recipe import demo_recipe, parse_recipe
from indicator.srgb import lab_from_hex
from indicator.words import (
    called_certainty,
    colour_words,
    word_certainty,
    word_votes,
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
    inputs = demo_recipe(1).core()
    return replace(inputs, wish=replace(inputs.wish, bathers="adult", child_age_years=None))


def designed(inputs: RecipeInputs, start: str, end: str, shelf: str | None = None) -> Effects:
    return design_effects(
        inputs,
        wished_end(start, "start"),
        wished_end(end, "end"),
        shelf=None if shelf is None else read_shelf(shelf),
        count=1,
        further=False,
    )


def test_olive_counts_as_green_but_is_not_called_so() -> None:
    # Centroids of ISCC-NBS blocks (Kelly and Judd 1976): moderate olive, moderate yellow green,
    # moderate pink.
    for name, word, called in (
        ("#665D1E", "green", False),
        ("#8A9A5B", "green", True),
        ("#DEA5A4", "pink", True),
    ):
        lab = lab_from_hex(name)
        assert word_certainty(lab, word) > 0.8
        assert (called_certainty(lab, word) > 0.5) == called
    votes = word_votes(lab_from_hex("#DEA5A4"))
    assert votes.sum() == pytest.approx(1.0)
    assert colour_words()[int(votes.argmax())] == "pink"


@pytest.mark.parametrize(("start", "end"), [("blue", "pink"), ("green", "orange")])
def test_wishes_are_surely_called_so_over_all_pigments(start: str, end: str) -> None:
    found = designed(soak(), start, end)
    assert found.reached
    best = found.designs[0]
    for words in (best.start_words, best.end_words):
        # 0.84 of green to orange: the brown matter of every extract speaks for brown.
        assert words.certainty > 0.8
        assert words.called is not None
        assert words.called > 0.5
    assert best.level == "ok"
    assert not told.doubtful_words(best, found)


def test_colour_that_fewer_than_half_call_so_is_not_reached() -> None:
    found = designed(parse_recipe(LANDING).core(), "blue", "pink", "roselle, citric acid")
    (design,) = found.designs
    for words, sight, met in (
        (design.start_words, design.before, design.start_met),
        (design.end_words, design.after, design.end_met),
    ):
        assert met == (words.certainty >= 0.5)
        assert dict(words.votes)[str(sight.colour.word)] == words.votes[0][1]
    assert not found.reached
    # Neutral roselle is a pale brownish grey, no blue.
    assert any(one.code.startswith("design.needed.start") for one in found.needed)


def test_doubt_about_a_word_is_told_with_the_votes() -> None:
    shelf = "purple sweet potato, citric acid"
    found = designed(parse_recipe(LANDING).core(), "blue", "pink", shelf)
    doubts = told.doubtful_words(found.designs[0], found)
    assert any(text.startswith("the end is a purplish pink") for text in doubts)


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
