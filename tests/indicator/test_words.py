"""Plain colour words against published names, and phrases, levels and wishes."""

from __future__ import annotations

import csv
import itertools
from pathlib import Path

import numpy as np
import pytest

from indicator.absorbance import mixture_absorbance
from indicator.appearance import SeenColour, delta_e, seen
from indicator.optics import jar_view, tub_view
from indicator.pigments import colourant_names
from indicator.srgb import lab_from_hex
from indicator.tables import read_table
from indicator.words import (
    _NameRow,
    _word_of,
    certainties,
    colour_word,
    colour_words,
    describe,
    matches_word,
    parse_target,
    published_name,
    threshold,
    visibility_level,
    word_certainty,
)

REFERENCE = Path(__file__).resolve().parents[1] / "reference"


def css_names() -> list[dict[str, str]]:
    lines = (REFERENCE / "colour_css_names.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_words_agree_with_named_colours_out_of_sample() -> None:
    # W3C, CSS Color Module Level 4. Plum is reported: so light, the crowd calls it lilac.
    missed = {
        row["name"]
        for row in css_names()
        if str(colour_word(lab_from_hex(row["hex"]))) not in row["accepted"].split("|")
    }
    assert missed == {"plum"}


def test_names_of_the_survey_mostly_keep_their_own_word() -> None:
    # The crowd's own colour of a name, against all its neighbours' votes.
    rows = read_table("colour/survey_names.csv", _NameRow)
    voting = [(row, word) for row in rows if (word := _word_of(row.name)) is not None]
    assert len(rows) == 949
    assert {word for _, word in voting} | {"colourless"} == set(colour_words())
    found = colour_word(np.stack([lab_from_hex(row.hex) for row, _ in voting]))
    kept = np.mean([str(one) == word for one, (_, word) in zip(found, voting, strict=True)])
    assert kept > 0.9


def test_survey_is_the_copy_that_ships_with_matplotlib() -> None:
    from matplotlib.colors import XKCD_COLORS

    rows = read_table("colour/survey_names.csv", _NameRow)
    shipped = {name[5:].replace("gray", "grey"): value for name, value in XKCD_COLORS.items()}
    assert {row.name: row.hex.lower() for row in rows} == shipped


@pytest.mark.parametrize(
    ("hex_colour", "shares"),
    [
        ("#C39E9F", {"pink": 0.44, "grey": 0.33}),
        ("#455197", {"blue": 1.0}),
        ("#C27491", {"pink": 0.9}),
        ("#7F7A33", {"green": 0.82}),
        ("#D4842F", {"orange": 0.95}),
    ],
)
def test_votes_are_those_of_an_independent_count(hex_colour: str, shares: dict[str, float]) -> None:
    # Shares by another program from the same survey, with a kernel of its own in CIEDE2000.
    for word, share in shares.items():
        assert word_certainty(lab_from_hex(hex_colour), word) == pytest.approx(share, abs=0.05)


@pytest.mark.parametrize(
    ("hex_colour", "word"),
    [("#653700", "brown"), ("#AE5F0F", "brown"), ("#029386", "teal"), ("#95A3A6", "grey"),
     ("#85A3B2", "grey"), ("#8E82FE", "violet"), ("#C79FEF", "violet"), ("#7E1E9C", "purple")],
)  # fmt: skip
def test_brown_teal_violet_and_grey_are_the_crowds(hex_colour: str, word: str) -> None:
    # The survey's own brown, teal, cool grey, bluegrey, periwinkle, lavender and purple; an amber
    # dark enough to be brown.
    assert str(colour_word(lab_from_hex(hex_colour))) == word


def test_makers_words_are_wishes_for_what_the_crowd_sees_in_them() -> None:
    rows = {row.name: row.hex for row in read_table("colour/survey_names.csv", _NameRow)}
    makers = ["peach", "rust", "salmon", "coral", "olive", "magenta", "fuchsia", "aqua", "lilac"]
    for name in makers:
        word = parse_target(name).word
        assert word is not None
        votes = certainties(lab_from_hex(rows[name]))[0]
        # Coral is shared out among red, pink and orange.
        assert votes[colour_words().index(word)] > votes.max() - 0.05


def returns(found: SeenColour) -> list[tuple[str, float]]:
    """Words that leave a series and return, and the CIEDE2000 by which the colour was away."""
    gone = []
    for word in set(found.word.tolist()):
        for last, again in itertools.pairwise(np.flatnonzero(found.word == word)):
            if again > last + 1:
                ends, between = found.patch[[last, again]][:, None], found.patch[last + 1 : again]
                gone.append((word, float(delta_e(ends, between).min(axis=0).max())))
    return gone


@pytest.mark.slow
def test_no_word_comes_and_goes_along_the_ph() -> None:
    ph = np.round(np.arange(1.0, 13.01, 0.1), 1)
    gone = []
    for name in colourant_names():
        absorbance = mixture_absorbance({name: 1.0}, ph)
        for view in (tub_view(25.0), jar_view()):
            way = view.path_cm * (2.0 * view.obliquity if view.kind == "tub" else 1.0)
            for peak in (0.1, 0.2, 0.4, 0.8, 1.6):
                found = seen(peak / (way * absorbance.max()) * absorbance, view).steady()
                gone += returns(found)
    # Where a word returns, the colour was away by a change that is noticed.
    assert all(away >= threshold("change_subtle") for _, away in gone)


@pytest.mark.parametrize(
    ("hex_colour", "phrase"),
    [
        ("#E3F0F7", "pale blue"),
        ("#FBFBFC", "colourless"),
        ("#1D4B82", "deep blue"),
        ("#3F66C2", "blue"),
        ("#E9E450", "yellow"),
        ("#555555", "grey"),
        ("#4A4A4A", "dark grey"),
        ("#282B2C", "nearly black"),
        ("#3B2B1E", "dark brown"),
        ("#F7D4E2", "pale pink"),
    ],
)
def test_phrases_as_a_person_says_them(hex_colour: str, phrase: str) -> None:
    assert str(describe(lab_from_hex(hex_colour))) == phrase


def test_batches_of_any_shape_and_nan() -> None:
    lab = np.array(
        [[[50.0, 10.0, -40.0], [np.nan, 0.0, 0.0]], [[90.0, 0.0, 1.0], [30.0, 0.0, 0.0]]]
    )
    assert colour_word(lab).tolist() == [["blue", ""], ["colourless", "grey"]]
    assert describe(lab).tolist() == [["blue", ""], ["colourless", "dark grey"]]
    assert matches_word(lab, "blue").tolist() == [[True, False], [False, False]]
    assert visibility_level([np.nan, 0.0]).tolist() == ["", "invisible"]


def test_many_colours_are_the_same_as_one_by_one() -> None:
    lab = np.random.default_rng(5).uniform([0, -60, -60], [100, 60, 60], (9000, 3))
    together = colour_word(lab)
    some = [4095, 4096, 4097, 8999]
    assert [str(colour_word(lab[k])) for k in some] == [str(together[k]) for k in some]


def test_every_word_and_synonym_is_understood_as_a_wish() -> None:
    assert {parse_target(word).word for word in colour_words()} == set(colour_words())
    assert parse_target("Lilac").word == "violet"
    with pytest.raises(ValueError, match="colour is '#12345'"):
        lab_from_hex("#12345")


def test_published_names_tell_shades_of_one_word_apart() -> None:
    # ISCC-NBS, Kelly and Judd 1976: the middles of two blues, and a liquid without colour.
    lab = np.stack([lab_from_hex("#00A1C2"), lab_from_hex("#0067A5"), [98.0, 0.1, 0.2]])
    assert published_name(lab).tolist() == ["vivid blue", "strong blue", "colourless"]
    assert published_name(lab_from_hex("#007791")).tolist() == "strong greenish blue"
