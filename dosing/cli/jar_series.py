"""A maker's series of jars: from a table or a photograph to plain numbers."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dosing.cli.csv_rows import check_columns, csv_rows
from dosing.recipe.quantities import InputError
from dosing.recipe.quantities import ph as typed_ph
from indicator.appearance import lab_from_hex
from indicator.calibration import Series, Unread
from indicator.notes import Value, say
from indicator.optics import View
from indicator.photograph import Patch, PatchColours, parse_patch, patch_colours, read_picture

Array = NDArray[np.float64]

LARGEST_BYTES = 2_000_000
MOST_JARS = 200
LAB = ("L", "a", "b")
PATCH = ("x", "y", "width", "height")
PLAIN = ("ph", "jar", "dilution")
_ABSORBANCE = re.compile(r"a(\d{3}(?:\.\d+)?)", re.IGNORECASE)
NM = (380.0, 780.0)
ABSORBANCE = (-0.05, 3.0)
"""Of a cell as it is read: noise may take it a little below nothing; a photometer tells nothing of
more."""


@dataclass(frozen=True)
class Jars:
    """What was written about the jars, before their colours are known."""

    ph: tuple[float, ...]
    labels: tuple[str, ...]
    dilution: tuple[float, ...]
    cells: dict[str, tuple[str, ...]]
    """Other columns of the table."""


@dataclass(frozen=True)
class _Readings:
    kind: str
    values: Array
    """Shape (jars, values)."""
    wavelength_nm: Array | None
    picture: PatchColours | None
    """Where the values come from, if from a photograph."""


@dataclass(frozen=True)
class Photo:
    """A photograph of the jars."""

    file: Path
    white: tuple[Patch, ...]
    jars: tuple[str, ...]
    """``"pH: x,y,width,height"`` of jars that stand in no table."""


def jar_series(
    table: Path | None,
    photo: Photo | None,
    *,
    view: View,
    path_cm: float,
    diluted: float,
    ph_by: str,
    path_measured: bool,
) -> Series:
    """The series of a table, of a photograph, or of a photograph whose patches stand in a table.

    Raises
    ------
    InputError, ValueError
        If something in it cannot be used; one sentence says what.
    """
    jars = _written(table, photo, diluted)
    if len(jars.ph) > MOST_JARS:
        raise InputError(
            say("calibrate.many", {"count": len(jars.ph), "most": MOST_JARS}), "series"
        )
    found = _readings(jars, photo, path_cm)
    why = ("",) * len(jars.ph) if found.picture is None else found.picture.unread
    read = np.array([not one for one in why])
    unread = tuple(Unread(*one) for one in zip(jars.labels, jars.ph, why, strict=True) if one[2])
    if not read.any():
        values: dict[str, Value] = {"jar": unread[0].label, "why": unread[0].reason}
        raise InputError(say("calibrate.none-read", values), "photo")
    return Series(
        ph=np.array(jars.ph)[read],
        values=found.values[read],
        dilution=1.0 / np.array(jars.dilution)[read],
        kind=found.kind,
        ph_by=ph_by,
        labels=tuple(one for one, told in zip(jars.labels, read, strict=True) if told),
        wavelength_nm=found.wavelength_nm,
        view=view if found.wavelength_nm is None else None,
        path_measured=path_measured,
        unread=unread,
        **({} if found.picture is None else {"white": found.picture.white}),
    )


def _written(table: Path | None, photo: Photo | None, diluted: float) -> Jars:
    if table is not None and photo is not None and photo.jars:
        raise InputError(say("calibrate.jar-and-table"), "jar")
    if table is not None:
        return _from_table(table, diluted)
    if photo is None or not photo.jars:
        raise InputError(say("calibrate.nothing"), "series")
    ph, cells = [], []
    for text in photo.jars:
        start, colon, rectangle = text.partition(":")
        if not colon:
            raise InputError(say("calibrate.jar", {"value": text}), "jar", text)
        ph.append(typed_ph(start.strip(), "jar"))
        patch = parse_patch(rectangle)
        cells.append((patch.x, patch.y, patch.width, patch.height))
    columns = zip(PATCH, zip(*cells, strict=True), strict=True)
    return Jars(
        tuple(ph),
        tuple(say("calibrate.jar-at", {"ph": value}) for value in ph),
        (diluted,) * len(ph),
        {name: tuple(map(str, column)) for name, column in columns},
    )


def _from_table(table: Path, diluted: float) -> Jars:
    header, rows = csv_rows(table, "series", LARGEST_BYTES)
    header = [_spelled(name) for name in header]
    readings = [name for name in header if _ABSORBANCE.fullmatch(name)]
    check_columns(header, rows, (*PLAIN, *LAB, "hex", *PATCH, *readings), "series")
    if "ph" not in header:
        raise InputError(say("calibrate.no-ph", {"file": str(table)}), "series")
    columns = {
        name: tuple(row[place].strip() if place < len(row) else "" for row in rows)
        for place, name in enumerate(header)
    }
    ph = tuple(_number(columns["ph"], "ph", 0.0, 14.0))
    dilution = columns.get("dilution", ("",) * len(ph))
    filled = tuple(cell or f"{diluted:g}" for cell in dilution)
    labels = columns.get("jar", ("",) * len(ph))
    return Jars(
        ph,
        tuple(
            label[:40] or say("calibrate.jar-at", {"ph": value})
            for label, value in zip(labels, ph, strict=True)
        ),
        tuple(_number(filled, "dilution", 0.1, 1e5)),
        {name: column for name, column in columns.items() if name not in PLAIN},
    )


def _spelled(name: str) -> str:
    """Columns by the names of this room, whatever their capitals."""
    for known in (*PLAIN, *LAB, "hex", *PATCH):
        if name.casefold() in (known.casefold(), f"{known.casefold()}*"):
            return known
    return name


def _readings(jars: Jars, photo: Photo | None, path_cm: float) -> _Readings:
    for whole in (LAB, PATCH):
        missing = [name for name in whole if name not in jars.cells]
        if missing and len(missing) < len(whole):
            values = {"columns": say("plan.comma").join(whole), "missing": missing[0]}
            raise InputError(say("calibrate.part", values), "series")
    found = [name for name in jars.cells if _ABSORBANCE.fullmatch(name)]
    kinds: dict[str, Callable[[], Array | PatchColours]] = {}
    if found:
        kinds["absorbance"] = lambda: _columns(jars, found, *ABSORBANCE) / path_cm
    if set(LAB) <= set(jars.cells):
        kinds["lab"] = lambda: _columns(jars, LAB, -200.0, 200.0)
    if "hex" in jars.cells:
        kinds["hex"] = lambda: _hex(jars.cells["hex"])
    if set(PATCH) <= set(jars.cells):
        kinds["photograph"] = lambda: _photographed(jars, photo)
    if photo is not None and "photograph" not in kinds:
        raise InputError(say("calibrate.no-patches"), "photo")
    if len(kinds) != 1:
        found_kinds = say("plan.comma").join(kinds) or say("calibrate.none")
        raise InputError(say("calibrate.kinds", {"found": found_kinds}), "series")
    (kind,) = kinds
    nm = np.array([float(name[1:]) for name in found]) if found else None
    if nm is not None and (nm.min() < NM[0] or nm.max() > NM[1]):
        raise InputError(say("calibrate.wavelength", {"low": NM[0], "high": NM[1]}), "series")
    told = kinds[kind]()
    if isinstance(told, PatchColours):
        return _Readings(kind, told.lab, nm, told)
    return _Readings(kind, told, nm, None)


def _columns(jars: Jars, names: Sequence[str], low: float, high: float) -> Array:
    return np.array([_number(jars.cells[name], name, low, high) for name in names]).T


def _hex(cells: Sequence[str]) -> Array:
    found = []
    for row, cell in enumerate(cells, start=1):
        try:
            found.append(lab_from_hex(cell))
        except ValueError:
            values: dict[str, Value] = {"row": row, "value": cell[:40]}
            raise InputError(say("calibrate.hex", values), "series", cell) from None
    return np.stack(found)


def _photographed(jars: Jars, photo: Photo | None) -> PatchColours:
    if photo is None:
        raise InputError(say("calibrate.no-photo"), "series")
    numbers = _columns(jars, PATCH, 0, 1e6)
    patches = [Patch(*(int(one) for one in row)) for row in numbers]
    return patch_colours(read_picture(photo.file), photo.white, patches)


def _number(cells: Sequence[str], column: str, low: float, high: float) -> list[float]:
    found = []
    for row, cell in enumerate(cells, start=1):
        try:
            value = math.nan if "_" in cell else float(cell)
        except ValueError:
            value = math.nan
        if not (math.isfinite(value) and low <= value <= high):
            values: dict[str, Value] = {"column": column, "row": row, "value": cell[:40]}
            raise InputError(
                say("cli.bad-cell", values | {"low": low, "high": high}), "series", cell
            )
        found.append(value)
    return found
