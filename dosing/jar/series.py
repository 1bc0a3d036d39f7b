"""A series of readings in a jar, written or photographed, to plain numbers with their spread.

Photographs, one at each step, become colours relative to the white paper beside the jar.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import numpy as np

from dosing.jar.bench import Bench
from dosing.jar.kit import word_reading
from dosing.jar.model import Array, Readings, jar_value, kind_read, ph_noise
from dosing.recipe.quantities import InputError, alkalinity_meq_l
from dosing.recipe.quantities import ph as typed_ph
from indicator.notes import Value, say
from indicator.photograph import Patch, parse_patch, patch_colours, picked_lab, read_picture
from indicator.spread import cast_error
from indicator.srgb import lab_from_hex
from indicator.words import parse_target

Read = TypeVar("Read")
MOST = {"mL": 5000.0, "drops": 5000.0, "pinches": 500.0, "g": 500.0}
"""Of one series, by unit."""
PAPER, LIQUID = "white", "liquid"
ENDINGS = (
    ".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".bmp", ".gif", ".avif", ".heic", ".heif",
)  # fmt: skip
"""By which a reading is told to be a picture; whether it can be read is seen when it is."""


@dataclass(frozen=True)
class Rectangles:
    """Where the white paper and the jar's liquid are in a photograph."""

    white: tuple[Patch, ...] = ()
    liquid: Patch | None = None


@dataclass(frozen=True)
class WrittenSeries:
    """Series as it was written: amounts in all, and readings as text."""

    unit: str | None
    amounts: tuple[str, ...]
    reads: tuple[str, ...]
    name: str
    """``"series"`` or ``"step"``, for messages."""
    column: str = ""
    """Of the readings in a table."""
    folder: Path = Path()
    """From which the names of photographs are told."""
    beside: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Of single readings: the paper's rectangle or colour, and the liquid's rectangle."""

    @property
    def picked(self) -> bool:
        """Whether colours were picked from pictures, the paper's beside the liquid's."""
        return self.column == "hex" and PAPER in self.beside

    @property
    def kind(self) -> str:
        """The one kind of all readings: ``"ph"``, ``"hex"``, ``"word"`` or ``"photo"``.

        Colours picked from pictures beside the paper's colour tell as much as the pictures.

        Raises
        ------
        InputError
            If readings of several kinds are mixed.
        """
        if self.column == "photo" or self.picked:
            return "photo"
        kinds = sorted({_kind_of(text) for text in self.reads})
        if len(kinds) > 1:
            raise InputError(say("jar.error.mixed", {"found": ", ".join(kinds)}), self.name)
        return kinds[0]


def _kind_of(text: str) -> str:
    if is_picture(text):
        return "photo"
    if text.startswith("#"):
        return "hex"
    return "word" if re.match(r"[a-zA-Z]", text) and not re.match(r"(?i)ph|nan|inf", text) else "ph"


def readings_of(series: WrittenSeries, bench: Bench, everywhere: Rectangles) -> Readings:
    """The series in plain numbers, with how far each reading may be off.

    Parameters
    ----------
    series : WrittenSeries
        What was written.
    bench : Bench
        What was read, and with what.
    everywhere : Rectangles
        Where to look in the photographs that say nothing themselves.

    Returns
    -------
    Readings

    Raises
    ------
    InputError
        If an amount or a reading is none.
    """
    kind, view = series.kind, bench.view
    added = _amounts(series, bench.unit)
    if (kind != "photo" or series.picked) and everywhere != Rectangles():
        raise InputError(say("jar.error.rectangles"), PAPER if everywhere.white else LIQUID)
    if kind == "word":
        return _by_words(series, added, bench)
    if kind == "ph":
        ph = np.array(_each(series, lambda text: typed_ph(text, series.name), bench.by))
        noise, shared = ph_noise(bench.by, ph)
        return Readings(added, ph[:, None], "ph", noise, shared, view)
    labs, casts = _colours(series, kind, everywhere)
    return Readings(added, labs, kind_read(bench.by), cast_error(casts), 0.0, view)


def _each(series: WrittenSeries, read: Callable[[str], Read], by: str | None = None) -> list[Read]:
    """Every reading; `by` what tells pH, where pH is read."""
    readings = []
    for row, text in enumerate(series.reads, start=1):
        try:
            readings.append(read(text))
        except ValueError as error:
            other_kit = by == "drop-kit" or (by is not None and _is_alkalinity(text))
            raise _bad(text, row, series, "-alkalinity" if other_kit else "") from error
    return readings


def _is_alkalinity(text: str) -> bool:
    """Whether a reading is what the other kind of drop kit tells."""
    try:
        alkalinity_meq_l(text)
    except InputError:
        return False
    return True


def _bad(text: str, row: int, series: WrittenSeries, why: str = "") -> InputError:
    values: dict[str, Value] = {"row": row, "value": repr(text[:40])}
    return InputError(say(f"jar.error.value{why}", values), series.name, text)


def _colours(series: WrittenSeries, kind: str, everywhere: Rectangles) -> tuple[Array, Array]:
    """CIELAB of the liquid at each reading, shape (readings, 3), and the cast of the white."""
    if kind == "hex":
        labs = np.stack(_each(series, lab_from_hex))
        return labs, np.ones(len(labs))
    nothing = ("",) * len(series.reads)
    papers, liquids = (series.beside.get(name, nothing) for name in (PAPER, LIQUID))
    if series.picked:
        rows = range(1, len(series.reads) + 1)
        told = list(map(picked_colour, series.reads, papers, rows))
    else:
        told = _photographed(series, papers, liquids, everywhere)
    return np.stack([lab for lab, _ in told]), np.array([cast for _, cast in told])


def _photographed(
    series: WrittenSeries,
    papers: tuple[str, ...],
    liquids: tuple[str, ...],
    everywhere: Rectangles,
) -> list[tuple[Array, float]]:
    """Colour and cast of every photograph; what one says of itself goes before what holds for all.

    Which files are named is looked at before any is opened.
    """
    shots: dict[Path, tuple[int, Rectangles]] = {}
    for row, (text, paper, liquid) in enumerate(zip(series.reads, papers, liquids, strict=True), 1):
        if not is_picture(text):
            raise _bad(text, row, series, "-photo")
        own, file = rectangles([paper], liquid, row), series.folder / text
        if file in shots:
            raise refused(file, row, "photo-twice", "series", {"first": shots[file][0]})
        where = Rectangles(own.white or everywhere.white, own.liquid or everywhere.liquid)
        shots[file] = (row, where)
    return [photographed_colour(file, where, row) for file, (row, where) in shots.items()]


def _by_words(series: WrittenSeries, added: Array, bench: Bench) -> Readings:
    """Colour words as the pH that each stands for in this jar."""
    words, jar, view = _each(series, _word), bench.jar(), bench.view
    ph, deviations = np.array([word_reading(jar, view, word) for word in words]).T
    shared = jar_value("shared_word")
    common = float(np.sqrt(shared) * np.mean(deviations))
    noise = np.sqrt(1.0 - shared) * deviations
    return Readings(added, ph[:, None], "ph", noise, common, view, tuple(words))


def _word(text: str) -> str:
    word = parse_target(text).word
    if word is None:
        raise ValueError(text)
    return word


def _amounts(series: WrittenSeries, unit: str) -> Array:
    """Totals in the jar, shape (readings,) [unit]."""
    totals: list[float] = []
    for row, text in enumerate(series.amounts, start=1):
        try:
            total = float("nan") if "_" in text else float(text.replace(",", "."))
        except ValueError:
            total = float("nan")
        values: dict[str, Value] = {"row": row}
        if not 0.0 <= total <= MOST[unit]:
            values |= {"value": repr(text[:40]), "most": MOST[unit], "unit": unit}
            raise InputError(say("jar.error.amount", values), series.name, text)
        if totals and total < totals[-1]:
            values |= {"before": totals[-1], "after": total}
            raise InputError(say("jar.error.order", values), series.name, text)
        totals.append(total)
    return np.array(totals)


def is_picture(text: str) -> bool:
    """Whether a reading is the name of a picture."""
    return text.strip().casefold().endswith(ENDINGS)


def rectangles(white: Sequence[str], liquid: str | None, row: int | None = None) -> Rectangles:
    """Rectangles as they were typed, for all photographs or for that of a row.

    Parameters
    ----------
    white : sequence of str
        ``x,y,width,height`` of the paper; empty texts say nothing.
    liquid : str, optional
        The same of the liquid.
    row : int, optional
        Of the series, from 1.

    Returns
    -------
    Rectangles

    Raises
    ------
    InputError
        If one is none.
    """

    def patch(text: str, field: str) -> Patch:
        try:
            return parse_patch(text)
        except ValueError as error:
            values: dict[str, Value] = {"field": field, "value": repr(text[:40]), "row": row or 0}
            code = "rectangle" if row is None else "rectangle-row"
            raise InputError(say(f"jar.error.{code}", values), field, text) from error

    return Rectangles(
        tuple(patch(text, "white") for text in white if text.strip()),
        patch(liquid, "liquid") if liquid else None,
    )


def picked_colour(colour: str, white: str, row: int) -> tuple[Array, float]:
    """A colour picked from a picture beside the white paper's.

    Parameters
    ----------
    colour, white : str
        As # and six digits.
    row : int
        Of the series, from 1.

    Returns
    -------
    tuple of numpy.ndarray and float
        CIELAB, shape (3,), and the paper's cast.

    Raises
    ------
    InputError
        If one cannot be told.
    """
    try:
        return picked_lab(colour, white)
    except ValueError as error:
        values: dict[str, Value] = {
            "row": row, "colour": colour[:20], "white": white[:20], "why": str(error),
        }  # fmt: skip
        raise InputError(say("jar.error.picked", values), "series", colour) from error


def photographed_colour(file: Path, where: Rectangles, row: int) -> tuple[Array, float]:
    """Colour of the liquid in a photograph.

    Parameters
    ----------
    file : Path
        The picture.
    where : Rectangles
        Where to look in it.
    row : int
        Of the series, from 1.

    Returns
    -------
    tuple of numpy.ndarray and float
        CIELAB, shape (3,), and the cast of the paper.

    Raises
    ------
    InputError
        If it cannot be read, or does not tell the colour.
    """
    if not where.white:
        raise refused(file, row, "photo-white", "white")
    if where.liquid is None:
        raise refused(file, row, "photo-liquid", "liquid")
    if any(patch.overlaps(where.liquid) for patch in where.white):
        values: dict[str, Value] = {"liquid": str(where.liquid)}
        raise refused(file, row, "photo-overlap", "liquid", values)
    try:
        told = patch_colours(read_picture(file), where.white, [where.liquid])
        if told.unread[0]:
            raise ValueError(told.unread[0])
        return told.lab[0], told.cast
    except ValueError as error:
        raise refused(file, row, "photo", "series", {"why": str(error)}) from error
    except OSError as error:
        raise refused(file, row, "photo-file", "series", {"why": error.strerror or ""}) from error


def refused(
    file: Path, row: int, code: str, field: str, more: dict[str, Value] | None = None
) -> InputError:
    """That a photograph cannot be used, ready to be raised.

    Parameters
    ----------
    file : Path
        The picture.
    row : int
        Of the series, from 1.
    code : str
        Of the sentence, below ``jar.error``.
    field : str
        What has to be changed.
    more : dict, optional
        What the sentence quotes beside row and file.

    Returns
    -------
    InputError
    """
    values: dict[str, Value] = {"row": row, "file": repr(file.name[:60])}
    return InputError(say(f"jar.error.{code}", values | (more or {})), field)
