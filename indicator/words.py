"""Words: plain names of colours, and whether a tint or a change is seen.

Published colour names (ISCC-NBS) around a colour vote for its word, the nearer the louder, so that
the borders between words bend with lightness and strength as people's do: CIELAB hue 303 is blue
when dark and vivid, violet when pale. Colours with little chroma are grey or colourless.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.accepted import as_text, numbers
from indicator.notes import say
from indicator.tables import DataError, read_table, value_of

Array = NDArray[np.float64]
Text = NDArray[np.str_]


LIGHTNESS_WEIGHT = 0.5
FULL_LIGHTNESS = np.array([1.0 / LIGHTNESS_WEIGHT, 1.0, 1.0])
"""Lightness counts half against hue and chroma, as in the 2:1 practice of textile matching."""
REACH = 3.0
"""How far a name's vote carries (standard deviation, DIN99 units). With less, words come and go
as a tint gets stronger; with more, names lose their own colour to a neighbour."""
ROWS_AT_ONCE = 4096
"""Bounds the table of distances to some 8 MB."""
SRGB_TO_XYZ = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
"""IEC 61966-2-1."""


@dataclass(frozen=True)
class _NameRow:
    name: str
    hex: str
    word: str
    source: str
    confidence: str


@dataclass(frozen=True)
class _WordRow:
    word: str
    synonyms: str
    when_dark: str
    source: str
    confidence: str


@dataclass(frozen=True)
class Target:
    """A wished end: exactly one of pH, word and hex is given."""

    kind: str
    """``"ph"``, ``"word"`` or ``"hex"``."""
    ph: float | None = None
    word: str | None = None
    hex: str | None = None


LARGEST_LAB = 1000.0
"""Of L*, a* and b*; no colour of a surface comes near it."""


def colour_words() -> tuple[str, ...]:
    """The plain colour words that a wish may use."""
    return tuple(row.word for row in read_table("colour/words.csv", _WordRow))


def threshold(name: str) -> float:
    """Value of one row of ``data/colour/thresholds.csv``."""
    return value_of("colour/thresholds.csv", name)


def lab_from_hex(text: str) -> Array:
    """CIELAB of an sRGB hex colour, relative to sRGB's own white.

    Raises
    ------
    ValueError
        If the text is not # and six hexadecimal digits.
    """
    return lab_from_linear(linear_srgb(srgb_levels(text)))


def srgb_levels(text: str) -> NDArray[np.int_]:
    """Red, green and blue of an sRGB hex colour, 0 to 255, shape (3,).

    Raises
    ------
    ValueError
        If the text is not # and six hexadecimal digits.
    """
    if not re.fullmatch(r"#?[0-9a-fA-F]{6}", text.strip()):
        raise ValueError(f"colour is {text!r}; accepted is # and six digits, for instance #8060C0")
    digits = text.strip().lstrip("#")
    return np.array([int(digits[k : k + 2], 16) for k in (0, 2, 4)])


def lab_from_linear(linear: ArrayLike) -> Array:
    """CIELAB of linear sRGB from 0 to 1, shape (..., 3), relative to sRGB's own white."""
    ratio = np.asarray(linear, dtype=np.float64) @ SRGB_TO_XYZ.T / SRGB_TO_XYZ.sum(axis=1)
    root = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    x, y, z = np.moveaxis(root, -1, 0)
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def linear_srgb(levels: ArrayLike) -> Array:
    """Linear sRGB, 0 to 1, of encoded levels from 0 to 255 (IEC 61966-2-1); any shape."""
    encoded = np.asarray(levels) / 255.0
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def colour_word(lab: ArrayLike) -> Text:
    """Plain word for CIELAB colours, shape (..., 3) to (...); empty for NaN."""
    values = numbers("lab", lab, -LARGEST_LAB, LARGEST_LAB)
    if values.shape[-1:] != (3,):
        raise ValueError(f"lab has the shape {values.shape}; accepted are (..., 3): L*, a* and b*")
    lightness = values[..., 0]
    chroma = np.hypot(values[..., 1], values[..., 2])
    words = _voted(values)
    grey = (chroma < threshold("grey_chroma")) & (lightness < threshold("grey_lightness"))
    words[grey] = "grey"
    clear = (chroma < threshold("colourless_chroma")) & (lightness >= threshold("grey_lightness"))
    words[clear] = "colourless"
    words[np.isnan(values).any(axis=-1)] = ""
    return words


def describe(lab: ArrayLike, word: ArrayLike | None = None) -> Text:
    """The colour word with ``pale``, ``deep`` or ``dark`` before it where that says more.

    Parameters
    ----------
    lab : array_like
        CIELAB colours, shape (..., 3).
    word : array_like, optional
        Their words, if already known.
    """
    values = np.asarray(lab, dtype=np.float64)
    words = np.asarray(colour_word(values) if word is None else word)
    lightness, chroma = values[..., 0], np.hypot(values[..., 1], values[..., 2])
    named = (words != "") & (words != "colourless")
    pale = (lightness >= threshold("pale_lightness")) & (chroma < threshold("pale_chroma"))
    deep = lightness < threshold("deep_lightness")
    black = _black(lightness, words)
    phrases = words.astype("<U20")
    for row in read_table("colour/words.csv", _WordRow):
        same = named & (words == row.word)
        phrases[same & pale] = say("word.pale", {"word": row.word})
        phrases[same & deep] = say(f"word.{row.when_dark}", {"word": row.word})
    phrases[named & black] = say("word.black")
    return phrases


def published_name(lab: ArrayLike, word: ArrayLike | None = None) -> Text:
    """The nearest ISCC-NBS colour name that goes with the word: ``strong greenish blue``.

    Parameters
    ----------
    lab : array_like
        CIELAB colours, shape (..., 3).
    word : array_like, optional
        Their words, if already known.

    Returns
    -------
    numpy.ndarray
        Shape (...). What is colourless, grey or nearly black keeps its phrase.

    Source: Kelly and Judd 1976, NBS Special Publication 440.
    """
    values = np.asarray(lab, dtype=np.float64)
    words = np.asarray(colour_word(values) if word is None else word)
    known, ballot, middles = _names()
    names = np.array([row.name for row in read_table("colour/colour_names.csv", _NameRow)])
    found = describe(values, words).astype("<U32")
    black = found == say("word.black")
    for place, plain in enumerate(known):
        same = (words == plain) & ~black
        belong = ballot[:, place] > 0
        if np.any(same) and belong.any():
            # The vote counts lightness half; light, deep and dark are about nothing else.
            apart = (_even(values[same])[:, None] - middles[belong]) * FULL_LIGHTNESS
            away = (apart**2).sum(axis=-1)
            found[same] = names[belong][away.argmin(axis=-1)]
    return found


def matches_word(lab: ArrayLike, word: str) -> NDArray[np.bool_]:
    """Whether CIELAB colours have the plain word; what looks nearly black has none."""
    values = np.asarray(lab, dtype=np.float64)
    words = colour_word(values)
    return np.asarray((words == word) & ~_black(values[..., 0], words))


def word_certainty(lab: ArrayLike, word: str) -> Array:
    """Share of the votes for a word, 0 to 1: low near the border to the next word.

    Parameters
    ----------
    lab : array_like
        CIELAB colours, shape (..., 3).
    word : str
        One of `colour_words`; grey and colourless are told by chroma, not by votes.

    Returns
    -------
    numpy.ndarray
        Shape (...).
    """
    values = np.asarray(lab, dtype=np.float64)
    if word in ("grey", "colourless"):
        return matches_word(values, word).astype(np.float64)
    return np.asarray(word_votes(values)[..., colour_words().index(word)])


def word_votes(lab: ArrayLike) -> Array:
    """Shares of the votes of the published names for every plain word, 0 to 1.

    Parameters
    ----------
    lab : array_like
        CIELAB colours, shape (..., 3).

    Returns
    -------
    numpy.ndarray
        Shape (..., words), in the order of `colour_words`.
    """
    values = np.asarray(lab, dtype=np.float64)
    return _votes(values.reshape(-1, 3)).reshape(*values.shape[:-1], -1)


def called_certainty(lab: ArrayLike, word: str) -> Array:
    """Share of the votes of those names that have the word in them, 0 to 1.

    Olive counts as green here, and much of what is published as reddish purple as pink; this tells
    how surely people would use the very word.

    Parameters
    ----------
    lab : array_like
        CIELAB colours, shape (..., 3).
    word : str
        One of `colour_words`; `word_certainty` for one that no published name has in it.

    Returns
    -------
    numpy.ndarray
        Shape (...).
    """
    carries = _carriers(word)
    if not carries.any():
        return word_certainty(lab, word)
    values = np.asarray(lab, dtype=np.float64)
    votes = _loudness(values.reshape(-1, 3))
    return np.asarray((votes @ carries / votes.sum(axis=1)).reshape(values.shape[:-1]))


def visibility_level(delta_e: ArrayLike) -> Text:
    """``invisible``, ``hardly``, ``visible`` or ``strong`` by CIEDE2000 from clear water."""
    return _graded(
        delta_e,
        ("invisible", "hardly", "visible", "strong"),
        (threshold("hardly_visible"), threshold("visible"), threshold("strong")),
    )


def change_level(delta_e: ArrayLike) -> Text:
    """``not seen``, ``subtle`` or ``obvious`` by CIEDE2000 between two moments."""
    return _graded(
        delta_e,
        ("not seen", "subtle", "obvious"),
        (threshold("change_subtle"), threshold("change_obvious")),
    )


def parse_target(text: str) -> Target:
    """A wish as a person writes it: a pH, a colour word or a hex colour.

    Raises
    ------
    ValueError
        If it is none of these, or a pH outside 0 to 14.
    """
    wanted = as_text("target", text).strip().casefold()
    if wanted.startswith("#"):
        if not re.fullmatch(r"#[0-9a-f]{6}", wanted):
            raise ValueError(
                f"target is {text!r}; a hex colour is # and six digits, for instance #8060C0"
            )
        return Target("hex", hex=wanted.upper())
    number = re.fullmatch(r"(?:ph\s*)?(-?\d+(?:[.,]\d+)?)", wanted)
    if number:
        ph = float(number[1].replace(",", "."))
        if not 0.0 <= ph <= 14.0:
            raise ValueError(f"target is pH {ph:g}; accepted is 0 to 14")
        return Target("ph", ph=ph)
    for row in read_table("colour/words.csv", _WordRow):
        if wanted in (row.word, *row.synonyms.split("|")):
            return Target("word", word=row.word)
    raise ValueError(
        f"target is {text!r}; accepted are a pH (5.2), a hex colour (#8060C0) or one of "
        f"{', '.join(colour_words())}"
    )


def _voted(lab: Array) -> Text:
    """Word with most votes from the published names around each colour."""
    flat = lab.reshape(-1, 3)
    chosen = np.empty(len(flat), dtype=np.intp)
    for start in range(0, len(flat), ROWS_AT_ONCE):
        part = slice(start, start + ROWS_AT_ONCE)
        chosen[part] = np.argmax(_votes(flat[part]), axis=1)
    return _names()[0][chosen].reshape(lab.shape[:-1])


def _votes(flat: Array) -> Array:
    """Shares of the votes, shape (colours, words), for CIELAB of shape (colours, 3)."""
    votes = _loudness(flat) @ _names()[1]
    return np.asarray(votes / votes.sum(axis=1, keepdims=True))


def _loudness(flat: Array) -> Array:
    """How loudly each published name votes, shape (colours, names)."""
    middles = _names()[2]
    # Squared distance less the colour's own square, which is the same for every name.
    away = (middles**2).sum(axis=1) - 2.0 * np.nan_to_num(_even(flat)) @ middles.T
    away -= away.min(axis=1, keepdims=True)
    return np.asarray(np.exp(away / (-2.0 * REACH**2)))


@cache
def _carriers(word: str) -> Array:
    """1 for each published name that has the word in it and votes for it, else 0."""
    rows = read_table("colour/colour_names.csv", _NameRow)
    return np.array([float(row.word == word and word in row.name.split()) for row in rows])


@cache
def _names() -> tuple[Text, Array, Array]:
    """Words; which of them each published name votes for; the names' evenly spaced coordinates."""
    rows = read_table("colour/colour_names.csv", _NameRow)
    words = colour_words()
    if unknown := {row.word for row in rows} - set(words):
        raise DataError(f"data/colour/colour_names.csv has unknown words {sorted(unknown)}")
    ballot = np.array([[float(row.word == word) for word in words] for row in rows])
    middles = _even(np.stack([lab_from_hex(row.hex) for row in rows]))
    return np.array(words, dtype="<U12"), ballot, middles


def _even(lab: Array) -> Array:
    """DIN99 coordinates, in which equal distances look about equal.

    Source: DIN 6176:2001, with k_E = k_CH = 1.
    """
    lightness = 105.51 * np.log1p(0.0158 * np.maximum(lab[..., 0], 0.0))
    turn = np.radians(16.0)
    redness = np.cos(turn) * lab[..., 1] + np.sin(turn) * lab[..., 2]
    yellowness = 0.7 * (np.cos(turn) * lab[..., 2] - np.sin(turn) * lab[..., 1])
    chroma = np.maximum(np.hypot(redness, yellowness), 1e-12)
    shrink = np.log1p(0.045 * chroma) / (0.045 * chroma)
    return np.stack([LIGHTNESS_WEIGHT * lightness, shrink * redness, shrink * yellowness], axis=-1)


def _black(lightness: Array, words: Text) -> NDArray[np.bool_]:
    grey = (words == "grey") & (lightness < threshold("black_grey_lightness"))
    return np.asarray((lightness < threshold("black_lightness")) | grey)


def _graded(values: ArrayLike, names: tuple[str, ...], bounds: tuple[float, ...]) -> Text:
    numbers = np.asarray(values, dtype=np.float64)
    graded = np.asarray(names)[np.searchsorted(bounds, numbers, side="right")]
    return np.where(np.isnan(numbers), "", graded)
