"""A series of readings in a jar, as it was typed or stands in a table, in plain numbers."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dosing.cli.csv_rows import check_columns, csv_rows
from dosing.cli.jar_photos import (
    Shot,
    Where,
    is_picture,
    photographed_labs,
    picked_labs,
    where,
)
from dosing.jar.kit import word_reading
from dosing.jar.model import Jar, Readings, jar_value, kind_read, ph_noise
from dosing.recipe.quantities import InputError, alkalinity_meq_l
from dosing.recipe.quantities import ph as typed_ph
from indicator.notes import Value, say
from indicator.optics import View
from indicator.spread import cast_error
from indicator.srgb import lab_from_hex
from indicator.words import parse_target

Array = NDArray[np.float64]

LARGEST_BYTES = 200_000
MOST = {"mL": 5000.0, "drops": 5000.0, "pinches": 500.0, "g": 500.0}
COLUMNS = {"ml": "mL", "drops": "drops", "pinches": "pinches", "g": "g"}
UNIT_NAMES = COLUMNS | {
    "drop": "drops", "pinch": "pinches", "gram": "g", "grams": "g", "millilitres": "mL",
}  # fmt: skip
KINDS = ("ph", "hex", "word", "photo")
PHOTO_NAMES = ("photograph", "picture", "image")
"""Of the column ``photo`` as well."""
PAPER = "white"
RECTANGLES = (PAPER, "liquid")
"""Columns beside ``photo``: where the white paper and the jar's liquid are in each picture.

Beside ``hex`` the first is the paper's colour in the same picture.
"""
_STEP = re.compile(
    r"\s*(?P<amount>[^\s:]+)\s*(?P<unit>ml|drops?|pinch(?:es)?|g)?\s*:\s*(?P<read>.*\S)\s*",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Series:
    """What was written: amounts in all, and readings as text."""

    unit: str | None
    amounts: tuple[str, ...]
    reads: tuple[str, ...]
    name: str
    column: str = ""
    """Of the readings in a table."""
    folder: Path = Path()
    """From which the names of photographs are told."""
    rectangles: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Of single photographs, by `RECTANGLES`; empty text where those of all hold."""

    @property
    def picked(self) -> bool:
        """Whether colours were picked from pictures, the paper's beside the liquid's."""
        return self.column == "hex" and PAPER in self.rectangles


def series_of(table: Path | None, steps: Sequence[str]) -> Series:
    """The series of a table or of what was typed, step by step.

    Parameters
    ----------
    table : Path, optional
        A CSV file.
    steps : sequence of str
        Such as ``"4: 6.8"`` or ``"4 drops: violet"``.

    Raises
    ------
    InputError
        If there is none, or both, or it cannot be used.
    """
    if table is not None and steps:
        raise InputError(say("jar.error.two-series"), "step")
    if table is not None:
        return _from_table(table)
    if not steps:
        raise InputError(say("jar.error.nothing"), "series")
    return _from_steps(steps)


def _from_steps(steps: Sequence[str]) -> Series:
    found = []
    for text in steps:
        match = _STEP.fullmatch(text)
        if match is None:
            raise InputError(say("jar.error.step", {"value": repr(text[:60])}), "step", text)
        found.append(match)
    units = sorted({unit_name(match["unit"]) for match in found if match["unit"]})
    if len(units) > 1:
        values: dict[str, Value] = {"found": ", ".join(units), "unit": units[0]}
        raise InputError(say("jar.error.two-units", values), "step")
    return Series(
        units[0] if units else None,
        tuple(match["amount"] for match in found),
        tuple(match["read"] for match in found),
        "step",
    )


def unit_name(text: str) -> str:
    """The unit of an amount by its own name.

    Raises
    ------
    InputError
        If it is none.
    """
    plain = text.strip().casefold()
    if plain not in UNIT_NAMES:
        raise InputError(say("jar.error.unit", {"value": repr(text[:40])}), "unit", text)
    return UNIT_NAMES[plain]


def _from_table(table: Path) -> Series:
    header, rows = csv_rows(table, "series", LARGEST_BYTES)
    header = [name.casefold() for name in header]
    header = ["photo" if name in PHOTO_NAMES else name for name in header]
    check_columns(header, rows, (*COLUMNS, *KINDS, *RECTANGLES), "series")
    file: dict[str, Value] = {"file": repr(str(table))}
    amounts = [name for name in header if name in COLUMNS]
    if not amounts:
        raise InputError(say("jar.error.no-amount", file), "series")
    if len(amounts) > 1:
        raise InputError(
            say("jar.error.two-amounts", file | {"found": ", ".join(amounts)}), "series"
        )
    kinds = [name for name in header if name in KINDS]
    if len(kinds) != 1:
        raise InputError(say("jar.error.reading", file), "series")
    cells = {
        name: tuple(row[place].strip() if place < len(row) else "" for row in rows)
        for place, name in enumerate(header)
    }
    beside = [name for name in RECTANGLES if name in header]
    if kinds[0] != "photo" and beside and (kinds[0], beside) != ("hex", [PAPER]):
        raise InputError(say("jar.error.no-photo", file), "series")
    return Series(
        COLUMNS[amounts[0]],
        cells[amounts[0]],
        cells[kinds[0]],
        "series",
        kinds[0],
        table.parent,
        {name: cells[name] for name in RECTANGLES if name in cells},
    )


def kind_of_all(series: Series) -> str:
    """The one kind of all readings: ``ph``, ``hex``, ``word`` or ``photo``.

    Colours picked from pictures beside the paper's colour tell as much as the pictures.
    """
    if series.column == "photo" or series.picked:
        return "photo"
    found = {_kind_of(text) for text in series.reads}
    if len(found) > 1:
        raise InputError(say("jar.error.mixed", {"found": ", ".join(sorted(found))}), series.name)
    return found.pop()


def _kind_of(text: str) -> str:
    if is_picture(text):
        return "photo"
    if text.startswith("#"):
        return "hex"
    return "word" if re.match(r"[a-zA-Z]", text) and not re.match(r"(?i)ph|nan|inf", text) else "ph"


def readings_of(
    series: Series, unit: str, kind: str, by: str, jar: Jar, view: View, everywhere: Where
) -> Readings:
    """The series in plain numbers, with how far each reading may be off.

    Parameters
    ----------
    series : Series
        What was written.
    unit : str
        Of its amounts.
    kind : str
        As `kind_of_all` tells it.
    by : str
        What was read with.
    jar : Jar
        What was read.
    view : View
        How it was looked at.
    everywhere : Where
        Where to look in the photographs that say nothing themselves.

    Raises
    ------
    InputError
        If an amount or a reading is none.
    """
    added = _amounts(series, unit)
    if (kind != "photo" or series.picked) and everywhere != Where():
        raise InputError(say("jar.error.rectangles"), "white" if everywhere.white else "liquid")
    if kind in ("hex", "photo"):
        labs, cast = _coloured(series, kind, everywhere)
        return Readings(added, labs, kind_read(by), cast_error(cast), 0.0, view)
    if kind == "word":
        return _by_words(series, added, jar, view)
    values = np.array([_ph(text, row, series, by) for row, text in enumerate(series.reads, 1)])
    noise, common = ph_noise(by, values)
    return Readings(added, values[:, None], "ph", noise, common, view)


def _coloured(series: Series, kind: str, everywhere: Where) -> tuple[Array, Array]:
    """CIELAB of the liquid at each reading, shape (readings, 3), and the cast of the white."""
    if series.picked:
        return picked_labs(series.reads, series.rectangles[PAPER])
    if kind == "photo":
        return _photographed(series, everywhere)
    labs = _noted(series)
    return labs, np.ones(len(labs))


def _noted(series: Series) -> Array:
    return np.stack([_lab(text, row, series) for row, text in enumerate(series.reads, 1)])


def _photographed(series: Series, everywhere: Where) -> tuple[Array, Array]:
    nothing = ("",) * len(series.reads)
    white, liquid = (series.rectangles.get(name, nothing) for name in RECTANGLES)
    taken = []
    for place, text in enumerate(series.reads):
        if not is_picture(text):
            raise _bad_value(text, place + 1, series, "-photo")
        own = where(white[place : place + 1], liquid[place] or None, place + 1)
        taken.append(Shot(place + 1, series.folder / text, everywhere.but(own)))
    return photographed_labs(taken)


def _by_words(series: Series, added: Array, jar: Jar, view: View) -> Readings:
    """Colour words as the pH that each stands for in this jar."""
    words = tuple(_word(text, row, series) for row, text in enumerate(series.reads, 1))
    pairs = [word_reading(jar, view, word) for word in words]
    values, deviations = (np.array(one) for one in zip(*pairs, strict=True))
    shared = jar_value("shared_word")
    common = float(np.sqrt(shared) * np.mean(deviations))
    noise = np.sqrt(1.0 - shared) * deviations
    return Readings(added, values[:, None], "ph", noise, common, view, words)


def _amounts(series: Series, unit: str) -> Array:
    found: list[float] = []
    for row, text in enumerate(series.amounts, start=1):
        try:
            value = float("nan") if "_" in text else float(text.replace(",", "."))
        except ValueError:
            value = float("nan")
        if not 0.0 <= value <= MOST[unit]:
            values: dict[str, Value] = {
                "value": repr(text[:40]), "row": row, "most": MOST[unit], "unit": unit,
            }  # fmt: skip
            raise InputError(say("jar.error.amount", values), series.name, text)
        if found and value < found[-1]:
            values = {"before": found[-1], "after": value, "row": row}
            raise InputError(say("jar.error.order", values), series.name, text)
        found.append(value)
    return np.array(found)


def _ph(text: str, row: int, series: Series, by: str) -> float:
    try:
        return typed_ph(text, series.name)
    except InputError as error:
        if by == "drop-kit" or _is_alkalinity(text):
            raise _bad_value(text, row, series, "-alkalinity") from error
        raise _bad_value(text, row, series) from error


def _is_alkalinity(text: str) -> bool:
    """Whether a reading is what the other kind of drop kit tells."""
    try:
        alkalinity_meq_l(text)
    except InputError:
        return False
    return True


def _lab(text: str, row: int, series: Series) -> Array:
    try:
        return lab_from_hex(text)
    except ValueError as error:
        raise _bad_value(text, row, series) from error


def _word(text: str, row: int, series: Series) -> str:
    try:
        wish = parse_target(text)
    except ValueError as error:
        raise _bad_value(text, row, series) from error
    if wish.word is None:
        raise _bad_value(text, row, series)
    return wish.word


def _bad_value(text: str, row: int, series: Series, why: str = "") -> InputError:
    values: dict[str, Value] = {"row": row, "value": repr(text[:40])}
    return InputError(say(f"jar.error.value{why}", values), series.name, text)
