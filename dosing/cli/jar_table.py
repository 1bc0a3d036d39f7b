"""A series of readings in a jar as it was typed step by step, or stands in a table."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from dosing.jar.series import LIQUID, PAPER, WrittenSeries
from dosing.recipe.csv_rows import csv_columns
from dosing.recipe.quantities import InputError
from indicator.notes import Value, say

LARGEST_BYTES = 200_000
COLUMNS = {"ml": "mL", "drops": "drops", "pinches": "pinches", "g": "g"}
UNIT_NAMES = COLUMNS | {
    "drop": "drops", "pinch": "pinches", "gram": "g", "grams": "g", "millilitres": "mL",
}  # fmt: skip
KINDS = ("ph", "hex", "word", "photo")
OTHER_NAMES = dict.fromkeys(("photograph", "picture", "image"), "photo")
BESIDE = (PAPER, LIQUID)
"""Columns beside ``photo``: where the white paper and the jar's liquid are in each picture.

Beside ``hex`` the first is the paper's colour in the same picture.
"""
_STEP = re.compile(
    r"\s*(?P<amount>[^\s:]+)\s*(?P<unit>ml|drops?|pinch(?:es)?|g)?\s*:\s*(?P<read>.*\S)\s*",
    re.IGNORECASE,
)


def series_of(table: Path | None, steps: Sequence[str]) -> WrittenSeries:
    """The series of a table or of what was typed, step by step.

    Parameters
    ----------
    table : Path, optional
        A CSV file.
    steps : sequence of str
        Such as ``"4: 6.8"`` or ``"4 drops: violet"``.

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
    elif kinds != ["photo"] and beside and (kinds, [*beside]) != (["hex"], [PAPER]):
        wrong = "no-photo"
    if wrong:
        file: dict[str, Value] = {"file": repr(str(table)), "found": ", ".join(amounts)}
        raise InputError(say(f"jar.error.{wrong}", file), "series")
    return WrittenSeries(
        COLUMNS[amounts[0]],
        cells[amounts[0]],
        cells[kinds[0]],
        "series",
        kinds[0],
        table.parent,
        beside,
    )


def _spelled(name: str) -> str:
    plain = name.casefold()
    return OTHER_NAMES.get(plain, plain)
