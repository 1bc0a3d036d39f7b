"""A series of readings in a jar, typed, in a table or photographed, to plain numbers.

Photographs, one at each step, become colours relative to the white paper beside the jar.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import numpy as np

from dosing.jar.bench import MATCHED, TURNED, Bench
from dosing.jar.model import NOT_TURNED, Array, Readings, jar_value, ph_noise
from dosing.recipe.csv_rows import csv_columns
from dosing.recipe.quantities import InputError, alkalinity_meq_l
from dosing.recipe.quantities import ph as typed_ph
from indicator.mat import SINGLE
from indicator.mat_photograph import (
    draw_read,
    find_mat,
    fullest_place,
    mat_colours,
    scene_lab,
)
from indicator.notes import Value, say
from indicator.optics import mat_view
from indicator.photograph import Patch, Pixels, parse_patch, patch_colours, read_picture
from indicator.spread import cast_error
from indicator.srgb import lab_from_hex

Read = TypeVar("Read")
Shown = tuple[Array, float, bool]
"""Of a photograph: CIELAB, cast of the paper, and whether it looks down through the liquid."""
LARGEST_BYTES = 200_000
MOST = {"mL": 5000.0, "tsp": 500.0, "pinches": 500.0, "g": 500.0}
"""Of one series, by unit."""
COLUMNS = {unit.casefold(): unit for unit in MOST}
UNIT_NAMES = COLUMNS | {
    "teaspoon": "tsp", "teaspoons": "tsp", "pinch": "pinches", "gram": "g",
    "grams": "g", "millilitres": "mL",
}  # fmt: skip
PAPER, LIQUID = "white", "liquid"
OF_PH = ("meter", "drop-kit", "strip")
"""What reads pH, as the column of its readings may be called."""
BESIDE = (PAPER, LIQUID)
"""Columns beside ``photo``: where the white paper and the jar's liquid are in each picture."""
KINDS = ("ph", "hex", "photo", *OF_PH)
OTHER_NAMES = dict.fromkeys(("photograph", "picture", "image"), "photo")
ENDINGS = (
    ".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".bmp", ".gif", ".avif", ".heic", ".heif",
)  # fmt: skip
"""By which a reading is told to be a picture; whether it can be read is seen when it is."""
_STEP = re.compile(
    r"\s*(?P<amount>[-+.,\d]+|[^\s:]+)\s*(?P<unit>[a-z]+)?\s*:\s*(?P<read>.*\S)\s*", re.IGNORECASE
)


@dataclass(frozen=True)
class Rectangles:
    """Where the white paper and the jar's liquid are in a photograph."""

    white: tuple[Patch, ...] = ()
    liquid: Patch | None = None


@dataclass(frozen=True)
class LeftOut:
    """A photograph that told no colour, so that the series goes on without it."""

    number: int
    """Of the reading, from 1."""
    file: str
    why: str


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
    by: str | None = None
    """What read them, where the column is called so."""
    folder: Path = Path()
    """From which the names of photographs are told."""
    beside: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Of single readings: the paper's and the liquid's rectangle."""

    @property
    def kind(self) -> str:
        """The one kind of all readings: ``"ph"``, ``"hex"``, ``"photo"`` or ``"turn"``.

        Raises
        ------
        InputError
            If readings of several kinds are mixed.
        """
        if self.column == "photo":
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
    return "turn" if _as_turn(text) in (TURNED, MATCHED, NOT_TURNED) else "ph"


def _as_turn(text: str) -> str:
    """What was seen of a jar, as it is called here."""
    plain = " ".join(text.casefold().split())
    return NOT_TURNED if plain in ("no turn", "never turned", "never") else plain


def is_picture(text: str) -> bool:
    """Whether a reading is the name of a picture."""
    return text.strip().casefold().endswith(ENDINGS)


def series_of(table: Path | None, steps: Sequence[str]) -> WrittenSeries:
    """The series of a table or of what was typed, step by step.

    Parameters
    ----------
    table : Path, optional
        A CSV file.
    steps : sequence of str
        Such as ``"4: 6.8"`` or ``"6 tsp: turned"``.

    Returns
    -------
    WrittenSeries

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


def _from_steps(steps: Sequence[str]) -> WrittenSeries:
    matches = []
    for text in steps:
        match = _STEP.fullmatch(text)
        if match is None:
            raise InputError(say("jar.error.step", {"value": repr(text[:60])}), "step", text)
        matches.append(match)
    units = sorted({unit_name(match["unit"]) for match in matches if match["unit"]})
    if len(units) > 1:
        values: dict[str, Value] = {"found": ", ".join(units), "unit": units[0]}
        raise InputError(say("jar.error.two-units", values), "step")
    amounts = tuple(match["amount"] for match in matches)
    reads = tuple(match["read"] for match in matches)
    return WrittenSeries(units[0] if units else None, amounts, reads, "step")


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


def _from_table(table: Path) -> WrittenSeries:
    known = (*COLUMNS, *KINDS, *BESIDE)
    cells = csv_columns(table, "series", LARGEST_BYTES, known, _spelled)
    amounts = [name for name in cells if name in COLUMNS]
    kinds = [name for name in cells if name in KINDS]
    beside = {name: cells[name] for name in BESIDE if name in cells}
    wrong = ""
    if len(amounts) != 1:
        wrong = "two-amounts" if amounts else "no-amount"
    elif len(kinds) != 1:
        wrong = "reading"
    elif kinds != ["photo"] and beside:
        wrong = "no-photo"
    if wrong:
        file: dict[str, Value] = {"file": repr(str(table)), "found": ", ".join(amounts)}
        raise InputError(say(f"jar.error.{wrong}", file), "series")
    (amount,), (kind,) = amounts, kinds
    unit = COLUMNS[amount]
    by = kind if kind in OF_PH else None
    return WrittenSeries(unit, cells[amount], cells[kind], "series", kind, by, table.parent, beside)


def _spelled(name: str) -> str:
    plain = name.casefold()
    return OTHER_NAMES.get(plain, plain)


def readings_of(
    series: WrittenSeries, bench: Bench, everywhere: Rectangles
) -> tuple[Readings, tuple[LeftOut, ...]]:
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
    tuple
        The Readings, and the photographs that are not among them.

    Raises
    ------
    InputError
        If an amount or a reading is none.
    """
    kind, view = series.kind, bench.view
    added = _amounts(series, bench.unit)
    if kind != "photo" and everywhere != Rectangles():
        raise InputError(say("jar.error.rectangles"), PAPER if everywhere.white else LIQUID)
    if kind == "turn":
        return _by_turn(series, added, bench), ()
    if kind == "ph":
        ph = np.array(_each(series, lambda text: typed_ph(text, series.name), bench.by))
        noise, shared = ph_noise(bench.by, ph)
        return Readings(added, ph[:, None], "ph", noise, shared, view), ()
    if kind == "hex":
        labs = np.stack(_each(series, lab_from_hex))
        return Readings(added, labs, "hex", np.zeros(len(labs)), 0.0, view), ()
    told, left_out = _photographed(series, everywhere)
    labs = np.stack([lab for lab, _, _ in told.values()])
    casts = cast_error(np.array([cast for _, cast, _ in told.values()]))
    if any(from_above for _, _, from_above in told.values()):
        view = mat_view(bench.path_cm)
    return Readings(added[[*told]], labs, "photograph", casts, 0.0, view), left_out


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


def _photographed(
    series: WrittenSeries, everywhere: Rectangles
) -> tuple[dict[int, Shown], tuple[LeftOut, ...]]:
    """What every photograph tells; what one says of itself goes before what holds for all.

    Which files are named is looked at before any is opened. One that tells no colour is left out,
    as long as enough of them do.
    """
    shots: dict[tuple[Path, int], tuple[int, Rectangles]] = {}
    nothing = ("",) * len(series.reads)
    papers, liquids = (series.beside.get(name, nothing) for name in BESIDE)
    for row, (text, paper, liquid) in enumerate(zip(series.reads, papers, liquids, strict=True), 1):
        if not is_picture(text):
            raise _bad(text, row, series, "-photo")
        own, file = rectangles([paper], liquid, row), series.folder / text
        where = Rectangles(own.white or everywhere.white, own.liquid or everywhere.liquid)
        # Of a picture of several glasses on the mat each is a reading.
        times = sum(text == before for before in series.reads[: row - 1])
        if times and where != Rectangles():
            raise _refused(file, row, "photo-twice", "series", {"first": shots[file, 0][0]})
        shots[file, times] = (row, where)
    told, left_out = {}, []
    for (file, glass), (row, where) in shots.items():
        alone = (file, 1) not in shots
        try:
            if where == Rectangles():
                told[row - 1] = _on_mat(file, row, None if alone else glass)
            else:
                told[row - 1] = _photographed_colour(file, where, row)
        except ValueError as error:
            if isinstance(error, InputError):
                raise
            left_out.append(LeftOut(row, file.name[:60], str(error)))
    if left_out and len(told) < jar_value("least_readings"):
        first = left_out[0]
        why: dict[str, Value] = {"why": first.why}
        raise _refused(Path(first.file), first.number, "photo", "series", why)
    return told, tuple(left_out)


def _by_turn(series: WrittenSeries, added: Array, bench: Bench) -> Readings:
    """The turn of a jar, and of its twin with soda, as the pH that it stands for.

    It came between this unit and the one before. By how much that pH is off is a number of the
    fit, so that the dose can follow the turn itself.
    """
    words = tuple(_as_turn(text) for text in series.reads)
    if words not in ((TURNED,), (TURNED, MATCHED), (NOT_TURNED,)) or added[0] < 1.0:
        raise InputError(say("jar.error.turned-once"), series.name)
    return bench.turns(added - 0.5, words)


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
            code = "twin" if series.kind == "turn" else "order"
            raise InputError(say(f"jar.error.{code}", values), series.name, text)
        totals.append(total)
    return np.array(totals)


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
        tuple(patch(text, PAPER) for text in white if text.strip()),
        patch(liquid, LIQUID) if liquid else None,
    )


def _on_mat(file: Path, row: int, glass: int | None) -> Shown:
    """Colour of a glass on the photo mat, and whether it is seen from above.

    Without a number the one that stands on it. The sheet for one jar stands upright behind it.
    """
    pixels = _picture(file, row)
    found = find_mat(pixels)
    place = fullest_place(found) if glass is None else glass
    read = mat_colours(found, [place])
    ending = "" if glass is None else f"-{place + 1}"
    draw_read(pixels, found, [place], read, file.with_name(f"{file.stem}-read{ending}.png"))
    if read.unread[0]:
        raise ValueError(read.unread[0])
    return scene_lab(read)[0], read.cast, found.mat.name != SINGLE


def _picture(file: Path, row: int) -> Pixels:
    try:
        return read_picture(file)
    except OSError as error:
        raise _refused(file, row, "photo-file", "series", {"why": error.strerror or ""}) from error


def _photographed_colour(file: Path, where: Rectangles, row: int) -> Shown:
    """CIELAB of the liquid in a photograph, and the cast of the paper; ValueError if it tells none.

    What was typed wrong is an InputError.
    """
    if not where.white:
        raise _refused(file, row, "photo-white", PAPER)
    if where.liquid is None:
        raise _refused(file, row, "photo-liquid", LIQUID)
    if any(patch.overlaps(where.liquid) for patch in where.white):
        values: dict[str, Value] = {"liquid": str(where.liquid)}
        raise _refused(file, row, "photo-overlap", LIQUID, values)
    told = patch_colours(_picture(file, row), where.white, [where.liquid])
    if told.unread[0]:
        raise ValueError(told.unread[0])
    return told.lab[0], told.cast, False


def _refused(
    file: Path, row: int, code: str, field: str, more: Mapping[str, Value] | None = None
) -> InputError:
    values: dict[str, Value] = {"row": row, "file": repr(file.name[:60])}
    return InputError(say(f"jar.error.{code}", values | dict(more or {})), field)
