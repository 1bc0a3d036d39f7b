"""A maker's series of jars: from a table or a photograph to plain numbers."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dosing.recipe.csv_rows import csv_columns
from dosing.recipe.quantities import InputError
from dosing.recipe.quantities import ph as typed_ph
from indicator.appearance import lab_from_hex
from indicator.calibration import Series, Unread
from indicator.notes import Value, say
from indicator.optics import View
from indicator.photograph import Patch, PatchColours, parse_patch, patch_colours, read_picture

Array = NDArray[np.float64]
Cells = Mapping[str, Sequence[str]]
"""Texts of the jars by column."""

LARGEST_BYTES = 2_000_000
MOST_JARS = 200
LAB = ("L", "a", "b")
PATCH = ("x", "y", "width", "height")
NAMES = ("ph", "jar", "dilution", *LAB, "hex", *PATCH)
ABSORBANCE_AT = r"[aA]\d{3}(\.\d+)?"
"""A column of absorbances by its wavelength [nm]."""
NM = (380.0, 780.0)
RANGES = {
    "ph": (0.0, 14.0),
    "dilution": (0.1, 1e5),
    **dict.fromkeys(LAB, (-200.0, 200.0)),
    **dict.fromkeys(PATCH, (0.0, 1e6)),
}
"""Of the numbers in a column."""
ABSORBANCE = (-0.05, 3.0)
"""Of a cell as it is read: noise may take it a little below nothing; a photometer tells nothing of
more."""


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

    Parameters
    ----------
    table : Path, optional
        A CSV file.
    photo : Photo, optional
        A picture of the jars.
    view : View
        How colours were seen.
    path_cm : float
        Inner width of the cell in which absorbances were read [cm].
    diluted : float
        How many times the jars were thinned where the table does not say.
    ph_by : str
        What told their pH.
    path_measured : bool
        Whether the width of the jars was measured.

    Returns
    -------
    Series

    Raises
    ------
    InputError, ValueError
        If something in it cannot be used; one sentence says what.
    """
    cells = _cells(table, photo)
    ph = _numbers(cells, ["ph"])[:, 0]
    if len(ph) > MOST_JARS:
        raise InputError(say("calibrate.many", {"count": len(ph), "most": MOST_JARS}), "series")
    nothing = ("",) * len(ph)
    names = zip(cells.get("jar", nothing), ph, strict=True)
    labels = [name[:40] or say("calibrate.jar-at", {"ph": float(value)}) for name, value in names]
    thinned = [cell or f"{diluted:g}" for cell in cells.get("dilution", nothing)]
    dilution = 1.0 / _numbers({"dilution": thinned}, ["dilution"])[:, 0]
    kind, values, nm = _readings(cells, photo, path_cm)
    more: dict[str, Any] = {}
    why = nothing
    if isinstance(values, PatchColours):
        why, more["white"], values = values.unread, values.white, values.lab
    read = np.array([not reason for reason in why])
    unread = tuple(
        Unread(label, float(at), reason)
        for label, at, reason in zip(labels, ph, why, strict=True)
        if reason
    )
    if not read.any():
        first: dict[str, Value] = {"jar": unread[0].label, "why": unread[0].reason}
        raise InputError(say("calibrate.none-read", first), "photo")
    return Series(
        ph=ph[read],
        values=values[read],
        dilution=dilution[read],
        kind=kind,
        ph_by=ph_by,
        labels=tuple(label for label, told in zip(labels, read, strict=True) if told),
        wavelength_nm=nm,
        view=view if nm is None else None,
        path_measured=path_measured,
        unread=unread,
        **more,
    )


def _cells(table: Path | None, photo: Photo | None) -> Cells:
    """What was written about the jars, before their colours are known."""
    if table is None:
        return _typed(photo)
    if photo is not None and photo.jars:
        raise InputError(say("calibrate.jar-and-table"), "jar")
    cells = csv_columns(table, "series", LARGEST_BYTES, NAMES, _spelled, ABSORBANCE_AT)
    if "ph" not in cells:
        raise InputError(say("calibrate.no-ph", {"file": str(table)}), "series")
    return cells


def _typed(photo: Photo | None) -> Cells:
    """Jars of a photograph as they were typed."""
    if photo is None or not photo.jars:
        raise InputError(say("calibrate.nothing"), "series")
    rows = []
    for text in photo.jars:
        start, colon, rectangle = text.partition(":")
        if not colon:
            raise InputError(say("calibrate.jar", {"value": text}), "jar", text)
        ph, patch = typed_ph(start.strip(), "jar"), parse_patch(rectangle)
        rows.append([str(value) for value in (ph, patch.x, patch.y, patch.width, patch.height)])
    return dict(zip(("ph", *PATCH), zip(*rows, strict=True), strict=True))


def _spelled(name: str) -> str:
    """Columns by the names of this room, whatever their capitals."""
    for known in NAMES:
        if name.casefold() in (known.casefold(), f"{known.casefold()}*"):
            return known
    return name


def _readings(
    cells: Cells, photo: Photo | None, path_cm: float
) -> tuple[str, Array | PatchColours, Array | None]:
    """Kind of the readings, their values, shape (jars, values), and wavelengths if they have any.

    Colours of a photograph come with what could not be read.
    """
    for whole in (LAB, PATCH):
        missing = [name for name in whole if name not in cells]
        if missing and len(missing) < len(whole):
            values = {"columns": say("plan.comma").join(whole), "missing": missing[0]}
            raise InputError(say("calibrate.part", values), "series")
    absorbances = [name for name in cells if re.fullmatch(ABSORBANCE_AT, name)]
    kinds: dict[str, Callable[[], Array | PatchColours]] = {}
    if absorbances:
        kinds["absorbance"] = lambda: _numbers(cells, absorbances, ABSORBANCE) / path_cm
    if "L" in cells:
        kinds["lab"] = lambda: _numbers(cells, LAB)
    if "hex" in cells:
        kinds["hex"] = lambda: _hex(cells["hex"])
    if "x" in cells:
        kinds["photograph"] = lambda: _photographed(cells, photo)
    if photo is not None and "photograph" not in kinds:
        raise InputError(say("calibrate.no-patches"), "photo")
    if len(kinds) != 1:
        several = say("plan.comma").join(kinds) or say("calibrate.none")
        raise InputError(say("calibrate.kinds", {"found": several}), "series")
    nm = np.array([float(name[1:]) for name in absorbances]) if absorbances else None
    if nm is not None and (nm.min() < NM[0] or nm.max() > NM[1]):
        raise InputError(say("calibrate.wavelength", {"low": NM[0], "high": NM[1]}), "series")
    ((kind, read),) = kinds.items()
    return kind, read(), nm


def _hex(cells: Sequence[str]) -> Array:
    labs = []
    for row, cell in enumerate(cells, start=1):
        try:
            labs.append(lab_from_hex(cell))
        except ValueError:
            values: dict[str, Value] = {"row": row, "value": cell[:40]}
            raise InputError(say("calibrate.hex", values), "series", cell) from None
    return np.stack(labs)


def _photographed(cells: Cells, photo: Photo | None) -> PatchColours:
    if photo is None:
        raise InputError(say("calibrate.no-photo"), "series")
    patches = [Patch(*map(int, row)) for row in _numbers(cells, PATCH)]
    return patch_colours(read_picture(photo.file), photo.white, patches)


def _numbers(
    cells: Cells, columns: Sequence[str], limits: tuple[float, float] | None = None
) -> Array:
    """Numbers of columns within their limits, shape (jars, columns)."""
    numbers = []
    for column in columns:
        low, high = limits or RANGES[column]
        for row, cell in enumerate(cells[column], start=1):
            try:
                number = math.nan if "_" in cell else float(cell)
            except ValueError:
                number = math.nan
            if not low <= number <= high:
                values: dict[str, Value] = {"column": column, "row": row, "value": cell[:40]}
                told = say("cli.bad-cell", values | {"low": low, "high": high})
                raise InputError(told, "series", cell)
            numbers.append(number)
    return np.array(numbers).reshape(len(columns), -1).T
