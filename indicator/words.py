"""Words: plain names of colours, and whether a tint or a change is seen."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.tables import DataError, read_table

Array = NDArray[np.float64]
Text = NDArray[np.str_]


@dataclass(frozen=True)
class _HueRow:
    word: str
    hue_low: float
    hue_high: float
    dark_below: float | None
    dark_word: str
    light_above: float | None
    light_word: str
    source: str
    confidence: str


@dataclass(frozen=True)
class _ThresholdRow:
    name: str
    value: float
    unit: str
    source: str
    confidence: str


@dataclass(frozen=True)
class _WordRow:
    word: str
    synonyms: str
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


def colour_words() -> tuple[str, ...]:
    """The plain colour words that a wish may use."""
    return tuple(row.word for row in read_table("colour/words.csv", _WordRow))


@cache
def threshold(name: str) -> float:
    """Value of one row of ``data/colour/thresholds.csv``."""
    for row in read_table("colour/thresholds.csv", _ThresholdRow):
        if row.name == name:
            return float(row.value)
    raise DataError(f"data/colour/thresholds.csv has no row {name!r}")


def colour_word(lab: ArrayLike) -> Text:
    """Plain word for CIELAB colours, shape (..., 3) to (...); empty for NaN."""
    values = np.asarray(lab, dtype=np.float64)
    lightness, hue = values[..., 0], _hue(values)
    chroma = np.hypot(values[..., 1], values[..., 2])
    words = np.full(lightness.shape, "", dtype="<U12")
    for row in read_table("colour/hue_bands.csv", _HueRow):
        inside = _inside(hue, row.hue_low, row.hue_high)
        words[inside] = row.word
        if row.dark_below is not None:
            words[inside & (lightness < row.dark_below)] = row.dark_word
        if row.light_above is not None:
            words[inside & (lightness > row.light_above)] = row.light_word
    grey = (chroma < threshold("grey_chroma")) & (lightness < threshold("grey_lightness"))
    words[grey] = "grey"
    clear = (chroma < threshold("colourless_chroma")) & (lightness >= threshold("grey_lightness"))
    words[clear] = "colourless"
    words[np.isnan(values).any(axis=-1)] = ""
    return words


def describe(lab: ArrayLike) -> Text:
    """The colour word with ``pale`` or ``deep`` before it where that says more."""
    values = np.asarray(lab, dtype=np.float64)
    words = colour_word(values)
    named = (words != "") & (words != "colourless")
    phrases = words.astype("<U20")
    pale = named & (values[..., 0] >= threshold("pale_lightness"))
    deep = named & (values[..., 0] < threshold("deep_lightness"))
    phrases[pale] = np.char.add("pale ", phrases[pale])
    phrases[deep] = np.char.add("deep ", phrases[deep])
    phrases[(words != "") & (values[..., 0] < threshold("black_lightness"))] = "nearly black"
    return phrases


def matches_word(lab: ArrayLike, word: str) -> NDArray[np.bool_]:
    """Whether CIELAB colours have the plain word."""
    return np.asarray(colour_word(lab) == word)


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
    wanted = text.strip().casefold()
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


def _hue(lab: Array) -> Array:
    return np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) % 360.0


def _inside(hue: Array, low: float, high: float) -> NDArray[np.bool_]:
    if low < high:
        return (hue >= low) & (hue < high)
    return (hue >= low) | (hue < high)


def _graded(values: ArrayLike, names: tuple[str, ...], bounds: tuple[float, ...]) -> Text:
    numbers = np.asarray(values, dtype=np.float64)
    graded = np.asarray(names)[np.searchsorted(bounds, numbers, side="right")]
    return np.where(np.isnan(numbers), "", graded)
