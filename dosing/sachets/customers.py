"""Customers' readings of their waters and tubs, as a maker has them in a table."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dosing.ingredients.water import WaterReadings
from dosing.recipe import quantities
from dosing.recipe.csv_rows import csv_columns
from dosing.recipe.quantities import InputError
from dosing.sachets.counting import sachet_value
from indicator.notes import say

Array = NDArray[np.float64]

LARGEST_BYTES = 5_000_000
LABEL = "home"
NOT_KNOWN = ("don't know", "not known", "unknown", "?", "-")
"""As people fill a cell that they have no reading for."""
_READERS: dict[str, Callable[[object, str], float]] = {
    "alkalinity": quantities.alkalinity_meq_l,
    "hardness": quantities.hardness_mmol_l,
    "ph": quantities.ph,
    "volume": quantities.volume_l,
}
_ALSO = {"litres": "volume", "liters": "volume", "water": "volume"}
_HEADER = re.compile(r"(?P<name>\w+?)[\s_]*(?:\[(?P<a>.*)\]|\((?P<b>.*)\)|\s(?P<c>.*))?", re.ASCII)


def customer_readings(path: Path, read_with: str) -> tuple[WaterReadings, Array]:
    """Customers' readings of a CSV table whose units stand in the header or in the cells.

    Parameters
    ----------
    path : Path
        The table, one home a row.
    read_with : str
        What the alkalinity was read with.

    Returns
    -------
    tuple
        Readings of the waters, and the water in each tub [L]; NaN where a cell was empty or said
        that it is not known.

    Raises
    ------
    InputError
        If it is no such table, too few know their alkalinity, or a reading is none.
    """
    units: dict[str, str] = {}

    def spelled(column: str) -> str:
        name, unit = _named(column)
        units[name] = unit
        return name

    cells = csv_columns(path, "homes", LARGEST_BYTES, (LABEL, *_READERS), spelled)
    if "alkalinity" not in cells:
        raise InputError(say("sachet.csv-alkalinity", {"file": str(path)}), "homes-csv")
    known = sum(not _not_known(text) for text in cells["alkalinity"])
    if known < (least := int(sachet_value("least_readings"))):
        values = {"count": known, "least": least}
        raise InputError(say("sachet.csv-few", values), "homes-csv", known)
    read = {name: _column(name, units[name], cells[name]) for name in _READERS if name in cells}
    _check_ph(read.get("ph"))
    readings = WaterReadings(
        read["alkalinity"],
        read.get("ph", np.nan),
        read.get("hardness", np.nan),
        instrument=read_with.strip().replace(" ", "-"),
    )
    return readings, read.get("volume", np.full(1, np.nan))


def _not_known(text: str) -> bool:
    return not text or text.casefold().replace("’", "'") in NOT_KNOWN


def _check_ph(ph: Array | None) -> None:
    """Refuse a pH that no tap water has."""
    low, high = (sachet_value(f"customer_ph_{end}") for end in ("lowest", "highest"))
    if ph is None:
        return
    for row in np.flatnonzero((ph < low) | (ph > high))[:1]:
        values = {"row": int(row) + 1, "value": float(ph[row]), "low": low, "high": high}
        raise InputError(say("sachet.csv-ph", values), "ph", float(ph[row]))


def _named(column: str) -> tuple[str, str]:
    """Name and unit of a column: ``alkalinity [ppm]``, ``Volume (L)``, ``ph``."""
    heading = _HEADER.fullmatch(column.strip())
    if heading is None:
        return column, ""
    unit = heading["a"] or heading["b"] or heading["c"] or ""
    name = heading["name"].casefold()
    return _ALSO.get(name, name), unit.strip()


def _column(name: str, unit: str, cells: Sequence[str]) -> Array:
    numbers = np.full(len(cells), np.nan)
    for row, text in enumerate(cells):
        bare = name != "ph" and not re.search(r"[A-Za-z°]", text)
        field = say("sachet.csv-field", {"name": name, "row": row + 1})
        if not _not_known(text):
            numbers[row] = _READERS[name](f"{text} {unit}".strip() if bare else text, field)
    return numbers
