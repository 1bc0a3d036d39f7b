"""Words: plain names of colours, and whether a tint or a change is seen.

Names that a crowd gave to colours on their screens vote for the word of a colour, the nearer the
louder, so that the borders between words bend with lightness and strength as people's do: the same
hue is orange when light and brown when dark. A light liquid with hardly any chroma is colourless.
What a screen cannot show is called as the patch that it shows instead.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.accepted import as_text, numbers
from indicator.notes import say
from indicator.srgb import lab_from_hex, patch_lab
from indicator.tables import Sourced, read_table, value_of

Array = NDArray[np.float64]
Text = NDArray[np.str_]


REACH = 3.0
"""How far a name's vote carries (standard deviation, DIN99 units). With less, words come and go
as a tint gets stronger; with more, names lose their own colour to a neighbour."""
ROWS_AT_ONCE = 1024
"""Bounds the table of votes to some 4 MB, which a processor keeps at hand."""
MIDDLE = np.array([60.0, 0.0, 0.0])
"""DIN99 coordinates from which distances are worked out: near all, so that few digits do."""
STEM = 3
"""Letters that a word shares with its own forms: blue, bluish."""


@dataclass(frozen=True)
class _NameRow(Sourced):
    name: str
    hex: str


@dataclass(frozen=True)
class _WordRow(Sourced):
    word: str
    synonyms: str
    between: str
    when_dark: str


@dataclass(frozen=True)
class _FamilyRow(Sourced):
    part: str
    family: str


@dataclass(frozen=True)
class Wish:
    """Wish: a pH, a colour word, a hex colour, a given dose, or nothing but an obvious change."""

    kind: str
    """``"ph"``, ``"word"``, ``"hex"``, ``"dose"`` (a preview) or ``"none"``."""
    text: str
    """As a person wrote it."""
    ph: float | None = None
    word: str | None = None
    hex: str | None = None

    @classmethod
    def written(cls, text: str | None) -> Wish:
        """A wish as a person writes it, by `parse_target`; none if nothing is written."""
        return cls("none", "") if text is None else parse_target(text)


LARGEST_LAB = 1000.0
"""Of L*, a* and b*; no colour of a surface comes near it."""


def colour_words() -> tuple[str, ...]:
    """The plain colour words that a wish may use."""
    return tuple(row.word for row in read_table("colour/words.csv", _WordRow))


def plain_word(phrase: str) -> str | None:
    """Plain word of a colour phrase such as ``deep blue`` or ``strong greenish blue``.

    Parameters
    ----------
    phrase : str
        In small letters.

    Returns
    -------
    str or None
        None where a word of it stands for no colour and in no published name.
    """
    parts = _nouns(phrase)
    known = {*_wishes(), *(part for name in _published()[0] for part in _nouns(str(name)))}
    if not known.issuperset(parts):
        return None
    # A greenish blue is a blue still.
    return _word_of(" ".join(part for part in parts if part[-3:] != "ish")) or _word_of(phrase)


def wish_words() -> tuple[str, ...]:
    """The plain words and all that are taken for them."""
    return tuple(_wishes())


def threshold(name: str) -> float:
    """Value of one row of ``data/colour/thresholds.csv``."""
    return value_of("colour/thresholds.csv", name)


def colour_word(lab: ArrayLike) -> Text:
    """Plain word for CIELAB colours, shape (..., 3) to (...); empty for NaN."""
    colours = numbers("lab", lab, -LARGEST_LAB, LARGEST_LAB)
    if colours.shape[-1:] != (3,):
        raise ValueError(f"lab has the shape {colours.shape}; accepted are (..., 3): L*, a* and b*")
    colours = patch_lab(colours)
    lightness = colours[..., 0]
    chroma = np.hypot(colours[..., 1], colours[..., 2])
    words = _voted(colours)
    clear = (chroma < threshold("colourless_chroma")) & (lightness >= threshold("grey_lightness"))
    words[clear] = "colourless"
    words[np.isnan(colours).any(axis=-1)] = ""
    return words


def describe(lab: ArrayLike, word: ArrayLike | None = None) -> Text:
    """Colour phrase: the word with ``pale``, ``deep`` or ``dark`` before it where that says more.

    Parameters
    ----------
    lab : array_like
        CIELAB colours, shape (..., 3).
    word : array_like, optional
        Their words, if already known.

    Returns
    -------
    numpy.ndarray
        Phrases, shape (...); empty where there is no word. The limits are rows of
        ``data/colour/thresholds.csv``, each with its source.
    """
    colours = np.asarray(lab, dtype=np.float64)
    words = np.asarray(colour_word(colours) if word is None else word)
    lightness, chroma = colours[..., 0], np.hypot(colours[..., 1], colours[..., 2])
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
    colours = np.asarray(lab, dtype=np.float64)
    words = np.asarray(colour_word(colours) if word is None else word)
    names, theirs, middles = _published()
    phrases = describe(colours, words).astype("<U32")
    nameless = (phrases == say("word.black")) | (words == "grey")
    for plain in set(theirs):
        same = (words == plain) & ~nameless
        if np.any(same):
            belong = theirs == plain
            away = ((_even(colours[same])[:, None] - middles[belong]) ** 2).sum(axis=-1)
            phrases[same] = names[belong][away.argmin(axis=-1)]
    return phrases


def colour_family(word: ArrayLike, name: ArrayLike) -> Text:
    """Family that people count a colour to in front of a row of glasses: magenta is a pink.

    Parameters
    ----------
    word, name : array_like
        Plain words and published names of the colours, shape (...).

    Returns
    -------
    numpy.ndarray
        Shape (...); the word itself where ``data/colour/families.csv`` says nothing else.
    """
    families, names = np.array(word, dtype="<U12"), np.asarray(name)
    for row in read_table("colour/families.csv", _FamilyRow):
        within = np.char.find(names, row.part) >= 0
        families[within | (np.asarray(word) == row.part)] = row.family
    return families


def matches_word(lab: ArrayLike, word: str) -> NDArray[np.bool_]:
    """Whether CIELAB colours have the plain word; what looks nearly black has none.

    Parameters
    ----------
    lab : array_like
        CIELAB colours, shape (..., 3).
    word : str
        As `colour_word` gives it.

    Returns
    -------
    numpy.ndarray
        Of bool, shape (...).
    """
    colours = np.asarray(lab, dtype=np.float64)
    words = colour_word(colours)
    return np.asarray((words == word) & ~_black(colours[..., 0], words))


def word_certainty(lab: ArrayLike, word: str) -> Array:
    """Share of the votes for a word, 0 to 1: low near the border to the next word.

    Parameters
    ----------
    lab : array_like
        CIELAB colours, shape (..., 3).
    word : str
        One of `colour_words`; colourless is told by chroma, not by votes.

    Returns
    -------
    numpy.ndarray
        Shape (...).
    """
    if word == "colourless":
        return matches_word(lab, word).astype(np.float64)
    return certainties(lab)[0][..., colour_words().index(word)]


def both_certainties(lab: ArrayLike, word: str) -> tuple[Array, Array]:
    """`certainties` of one word that is told by votes.

    Parameters
    ----------
    lab : array_like
        CIELAB colours, shape (..., 3).
    word : str
        One of `colour_words` other than colourless.

    Returns
    -------
    tuple of numpy.ndarray
        Both of shape (...).
    """
    certain, called = (each[..., colour_words().index(word)] for each in certainties(lab))
    return certain, called


def certainties(lab: ArrayLike) -> tuple[Array, Array]:
    """Shares of the votes of the survey's names for every plain word, 0 to 1.

    Beside them the shares of those names that have the very word in them: olive counts as green,
    and mustard as yellow, but people would not use the very word.

    Parameters
    ----------
    lab : array_like
        CIELAB colours, shape (..., 3).

    Returns
    -------
    tuple of numpy.ndarray
        Both of shape (..., words), in the order of `colour_words`; of a word that no name has in
        it the two are the same.
    """
    colours = np.asarray(lab, dtype=np.float64)
    votes = _loudness(colours.reshape(-1, 3))
    shares = (votes @ _both_ballots() / votes.sum(axis=1, keepdims=True)).astype(np.float64)
    certain, called = np.split(shares.reshape(*colours.shape[:-1], -1), 2, axis=-1)
    return certain, called


@cache
def _both_ballots() -> NDArray[np.float32]:
    """Votes of each name for the words, and those of names with the very word in them."""
    ballot = _survey()[1]
    carriers = [_carriers(word) for word in colour_words()]
    called = [who if who.any() else ballot[:, k] for k, who in enumerate(carriers)]
    return np.concatenate([ballot, np.stack(called, axis=1)], axis=1)


def makers_word(lab: ArrayLike) -> str | None:
    """A maker's word, such as olive or rust, that many names around one colour have in them.

    Parameters
    ----------
    lab : array_like
        CIELAB of one colour, shape (3,).
    """
    votes = _loudness(np.asarray(lab, dtype=np.float64)[None])[0]
    shares: dict[str, float] = {}
    for name, share in zip(_survey()[0], votes / votes.sum(), strict=True):
        noun = [word for word in _nouns(name) if word in _wishes()][-1]
        if noun[:STEM] != _wishes()[noun][:STEM]:
            shares[noun] = shares.get(noun, 0.0) + float(share)
    most = max(shares, key=lambda noun: shares[noun])
    return most if shares[most] >= threshold("makers_word_share") else None


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


def parse_target(text: str) -> Wish:
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
        return Wish("hex", text, hex=wanted.upper())
    number = re.fullmatch(r"(?:ph\s*)?(-?\d+(?:[.,]\d+)?)", wanted)
    if number:
        ph = float(number[1].replace(",", "."))
        if not 0.0 <= ph <= 14.0:
            raise ValueError(f"target is pH {ph:g}; accepted is 0 to 14")
        return Wish("ph", text, ph=ph)
    if word := _wishes().get(wanted):
        return Wish("word", text, word=word)
    raise ValueError(
        f"target is {text!r}; accepted are a pH (5.2), a hex colour (#8060C0) or one of "
        f"{', '.join(colour_words())}"
    )


def _voted(lab: Array) -> Text:
    """Word with most votes from the names around each colour."""
    flat = lab.reshape(-1, 3)
    chosen = np.empty(len(flat), dtype=np.intp)
    for start in range(0, len(flat), ROWS_AT_ONCE):
        part = slice(start, start + ROWS_AT_ONCE)
        chosen[part] = np.argmax(_loudness(flat[part]) @ _survey()[1], axis=1)
    return np.array(colour_words(), dtype="<U12")[chosen].reshape(lab.shape[:-1])


def _loudness(flat: Array) -> NDArray[np.float32]:
    """How loudly each name of the survey votes, shape (colours, names), for CIELAB colours."""
    seen, light = _stronger_where_light(np.nan_to_num(patch_lab(flat)))
    _, ballot, middles = _survey()
    # One product gives -d^2/2: x.m - m.m/2 - x.x/2.
    here = ((_even(seen) - MIDDLE) / REACH).astype(np.float32)
    own = np.float32(-0.5) * (here**2).sum(axis=1, keepdims=True)
    loud = np.concatenate([here, np.ones_like(own), own], axis=1) @ middles
    np.exp(loud, out=loud)
    grey = ballot[:, colour_words().index("grey")] > 0
    loud[:, grey] *= (1.0 - light).astype(np.float32)
    return np.asarray(loud)


def _stronger_where_light(patches: Array) -> tuple[Array, Array]:
    """Patches as their hue is looked for, shape (n, 3), and how far each counts as light, (n, 1).

    Grey names a dark or middling colour; what is light and has a tint is called by its hue,
    however faint it is. The survey has hardly a name there.
    """
    from_, to = threshold("grey_lightness"), threshold("never_grey_lightness")
    light = np.clip((patches[:, :1] - from_) / (to - from_), 0.0, 1.0)
    chroma = np.maximum(np.hypot(patches[:, 1:2], patches[:, 2:]), 1e-9)
    gain = np.hypot(chroma, light * threshold("faint_tint_chroma")) / chroma
    return np.concatenate([patches[:, :1], gain * patches[:, 1:]], axis=1), light


@cache
def _carriers(word: str) -> NDArray[np.float32]:
    """1 for each name of the survey that has the word in it and votes for it, else 0."""
    names, ballot, _ = _survey()
    votes = ballot[:, colour_words().index(word)]
    return votes * np.array([word in _nouns(name) for name in names], dtype=np.float32)


@cache
def _survey() -> tuple[tuple[str, ...], NDArray[np.float32], NDArray[np.float32]]:
    """Names of the survey that vote, which word each votes for (names, words), and their places.

    The places are factors of `_loudness`, shape (5, names).
    """
    rows = read_table("colour/survey_names.csv", _NameRow)
    voting = [(row, word) for row in rows if (word := _word_of(row.name)) is not None]
    ballot = np.array([[word == plain for plain in colour_words()] for _, word in voting])
    labs = np.stack([lab_from_hex(row.hex) for row, _ in voting])
    there = ((_even(labs) - MIDDLE) / REACH).T
    middles = np.stack([*there, -0.5 * (there**2).sum(axis=0), np.ones(len(voting))])
    return (
        tuple(row.name for row, _ in voting),
        ballot.astype(np.float32),
        middles.astype(np.float32),
    )


def _nouns(name: str) -> list[str]:
    return re.split(r"[ /]", name)


def _word_of(name: str) -> str | None:
    """The plain word that a name of the survey votes for; None where it has none in it."""
    known = _wishes()
    nouns = [noun for noun in _nouns(name) if noun in known]
    if not nouns:
        return None
    pair = {known[noun] for noun in nouns[-2:] if noun[:STEM] == known[noun][:STEM]}
    for row in read_table("colour/words.csv", _WordRow):
        if row.between and pair == set(row.between.split("|")):
            return row.word
    return known[nouns[-1]]


@cache
def _wishes() -> dict[str, str]:
    """Every word that a wish may use, to its plain word."""
    rows = read_table("colour/words.csv", _WordRow)
    return {said: row.word for row in rows for said in (row.word, *row.synonyms.split("|"))}


@cache
def _published() -> tuple[Text, Text, Array]:
    """Published names, the plain words of their own colours, their evenly spaced coordinates."""
    rows = read_table("colour/colour_names.csv", _NameRow)
    labs = np.stack([lab_from_hex(row.hex) for row in rows])
    names = np.array([row.name for row in rows])
    return names, colour_word(labs), _even(labs)


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
    return np.stack([lightness, shrink * redness, shrink * yellowness], axis=-1)


def _black(lightness: Array, words: Text) -> NDArray[np.bool_]:
    grey = (words == "grey") & (lightness < threshold("black_grey_lightness"))
    return np.asarray((lightness < threshold("black_lightness")) | grey)


def _graded(delta_e: ArrayLike, names: tuple[str, ...], bounds: tuple[float, ...]) -> Text:
    numbers = np.asarray(delta_e, dtype=np.float64)
    graded = np.asarray(names)[np.searchsorted(bounds, numbers, side="right")]
    return np.where(np.isnan(numbers), "", graded)
