"""A table of solutions: read, solved, and written again with pH and species."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from dosing.equilibrium import COMPONENTS, Equilibrium, solve, species_names
from dosing.equilibrium.constants import constant
from dosing.recipe.csv_rows import csv_columns
from dosing.recipe.quantities import InputError
from indicator.notes import Note, Value, say

Array = NDArray[np.float64]
Table = Mapping[str, NDArray[Any]]
LARGEST_FILE_BYTES = 50_000_000
AMOUNTS = (0.0, 100.0)
"""Accepted totals [mol/kg]."""
USUAL_TEMPERATURE_C = 25.0
LIMITS = {"temperature_c": (0.0, 100.0), "ph": (-2.0, 16.0)}
"""Columns beside the totals, and what is accepted there."""


@dataclass(frozen=True)
class SolutionsDocument:
    """Solved solutions."""

    solutions: list[dict[str, float | bool]]
    """A row for each: the columns of the table, null where there is no number."""
    warnings: tuple[Note, ...]


@dataclass(frozen=True)
class SpeciesDocument:
    """Columns of all species that a solution may have."""

    species: tuple[str, ...]


def read(cases: Path) -> dict[str, Array]:
    """Columns of a CSV file of solutions, shape (solutions,) each.

    Raises
    ------
    InputError
        Naming the file or the cell.
    """
    known = (*LIMITS, *COMPONENTS)
    cells = csv_columns(cases, "cases", LARGEST_FILE_BYTES, known, _own_spelling)
    return {
        name: np.array([_cell(text, name, row) for row, text in enumerate(column, start=1)])
        for name, column in cells.items()
    }


def solved(
    columns: Mapping[str, Array], *, open_air: bool, pco2_ppm: float | None, species: bool
) -> tuple[Table, tuple[Note, ...]]:
    """The columns with pH, ionic strength and saturation of each solution.

    Parameters
    ----------
    columns : mapping of str to numpy.ndarray
        As `read` gives them.
    open_air : bool
        Whether each solution is at rest with air.
    pco2_ppm : float or None
        Carbon dioxide of that air [ppm]; None for the usual.
    species : bool
        Whether the molality of every species is added.

    Returns
    -------
    mapping of str to numpy.ndarray
        The table that is written.
    tuple of Note
        Warnings.
    """
    count = len(next(iter(columns.values())))
    air = constant("air_co2") if pco2_ppm is None else pco2_ppm
    found = solve(
        {name: column for name, column in columns.items() if name not in LIMITS},
        columns.get("temperature_c", np.full(count, USUAL_TEMPERATURE_C)),
        ph=columns.get("ph"),
        pco2_ppm=np.full(count, air) if open_air else None,
    )
    molality = found.molality if species else {}
    # These names stay.
    table = {
        **columns,
        "ph": found.ph,
        "ionic_strength": found.ionic_strength,
        "charge_error_mol_kg": found.charge_error,
        "converged": found.converged,
        "in_range": found.in_range,
        **{f"{solid}_saturation_index": index for solid, index in found.saturation.items()},
        **{f"{name}_mol_kg": molality[name] for name in species_names() if name in molality},
    }
    return table, _warnings(found)


def write(stream: IO[str], table: Table) -> None:
    """Write the table as CSV.

    Parameters
    ----------
    stream : file
        Open for text.
    table : mapping of str to numpy.ndarray
        As `solved` gives it.
    """
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(table)
    for row in zip(*table.values(), strict=True):
        writer.writerow([_shown(value) for value in row])


def document(table: Table, warnings: tuple[Note, ...]) -> SolutionsDocument:
    """The table as a record.

    Parameters
    ----------
    table : mapping of str to numpy.ndarray
        As `solved` gives it.
    warnings : tuple of Note
        Likewise.

    Returns
    -------
    SolutionsDocument
        A row for each solution.
    """
    rows = zip(*(column.tolist() for column in table.values()), strict=True)
    return SolutionsDocument([dict(zip(table, row, strict=True)) for row in rows], warnings)


def _own_spelling(name: str) -> str:
    """The column ``pH`` is meant as well as ``ph``."""
    return name.lower() if name.lower() in LIMITS else name


def _cell(text: str, column: str, row: int) -> float:
    if not text:
        if column == "ph":
            raise InputError(say("cli.empty-ph", {"row": row}), "cases")
        return USUAL_TEMPERATURE_C if column == "temperature_c" else 0.0
    try:
        value = math.nan if "_" in text else float(text)
    except ValueError:
        value = math.nan
    low, high = LIMITS.get(column, AMOUNTS)
    if not low <= value <= high:
        told: dict[str, Value] = {"column": column, "row": row, "value": text}
        raise InputError(say("cli.bad-cell", {**told, "low": low, "high": high}), "cases", text)
    return value


def _shown(value: Any) -> str:
    if isinstance(value, bool | np.bool_):
        return "true" if value else "false"
    number = float(value)
    # An absent constituent has no saturation: an empty cell, not a word that no reader parses.
    return repr(number) if math.isfinite(number) else ""


def _warnings(found: Equilibrium) -> tuple[Note, ...]:
    notes = []
    for code, wrong in (("not-converged", ~found.converged), ("out-of-range", ~found.in_range)):
        if wrong.any():
            rows = {"count": int(np.sum(wrong)), "first": int(np.argmax(wrong)) + 1}
            notes.append(Note(f"warn.solutions.{code}", rows, "cases"))
    return tuple(notes)
