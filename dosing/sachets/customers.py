"""Customers' readings of their waters and tubs, as a maker has them in a table."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dosing.recipe import quantities
from dosing.recipe.csv_rows import check_columns, csv_rows
from dosing.recipe.quantities import InputError
from dosing.sachets.counting import sachet_value
from dosing.sachets.populations import CustomerReadings
from indicator.notes import say

Array = NDArray[np.float64]

LARGEST_BYTES = 5_000_000
LABEL = "home"
_READERS: dict[str, Callable[[object, str], float]] = {
    "alkalinity": quantities.alkalinity_meq_l,
    "hardness": quantities.hardness_mmol_l,
    "ph": quantities.ph,
    "volume": quantities.volume_l,
}
_ALSO = {"litres": "volume", "liters": "volume", "water": "volume"}
_HEADER = re.compile(r"(?P<name>\w+?)[\s_]*(?:\[(?P<a>.*)\]|\((?P<b>.*)\)|\s(?P<c>.*))?", re.ASCII)


def customer_readings(path: Path, read_with: str) -> CustomerReadings:
    """Customers' readings of a CSV table whose units stand in the header or in the cells.

    Parameters
    ----------
    path : Path
        The table, one home a row.
    read_with : str
        What the alkalinity was read with.

    Returns
    -------
    CustomerReadings

    Raises
    ------
    InputError
        If it is no such table, or a reading is none.
    """
    header, rows = csv_rows(path, "homes", LARGEST_BYTES)
    named = [_named(column) for column in header]
    check_columns([name for name, _ in named], rows, (LABEL, *_READERS), "homes")
    if "alkalinity" not in [name for name, _ in named]:
        raise InputError(say("sachet.csv-alkalinity", {"file": str(path)}), "homes-csv")
    columns = {
        name: _column(name, unit, place, rows)
        for place, (name, unit) in enumerate(named)
        if name in _READERS
    }
    _check_ph(columns.get("ph"))
    empty = np.flatnonzero(np.isnan(columns["alkalinity"]))
    if len(empty):
        raise InputError(say("sachet.csv-empty", {"row": int(empty[0]) + 1}), "alkalinity")
    return CustomerReadings(
        alkalinity_meq_l=columns["alkalinity"],
        hardness_mmol_l=columns.get("hardness"),
        ph=columns.get("ph"),
        volume_l=columns.get("volume"),
        instrument=read_with.strip().replace(" ", "-"),
    )


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


def _column(name: str, unit: str, place: int, rows: Sequence[Sequence[str]]) -> Array:
    read = _READERS[name]
    numbers = np.full(len(rows), np.nan)
    for number, row in enumerate(rows):
        text = row[place].strip() if place < len(row) else ""
        if text:
            bare = not re.search(r"[A-Za-z°]", text)
            written = f"{text} {unit}".strip() if bare and name != "ph" else text
            numbers[number] = read(
                written, say("sachet.csv-field", {"name": name, "row": number + 1})
            )
    return numbers
