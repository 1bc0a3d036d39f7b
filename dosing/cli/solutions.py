"""``equilibrium``: a table of solutions in, the same table with pH and species out."""

from __future__ import annotations

import csv
import math
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from dosing.cli.output import show, to_error
from dosing.cli.outputs import check_free
from dosing.equilibrium import (
    COMPONENTS,
    Equilibrium,
    default_air_co2_ppm,
    solve,
    species_names,
)
from dosing.recipe.csv_rows import csv_columns
from dosing.recipe.quantities import InputError
from dosing.words.documents import write_json
from dosing.words.lines import Line
from indicator.files import whole_file
from indicator.notes import Note, Value, say, sentence

Array = NDArray[np.float64]
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


def run_equilibrium(
    *,
    cases: Path | None,
    output: Path | None,
    open_air: bool,
    pco2_ppm: float | None,
    species: bool,
    list_species: bool,
    as_json: bool,
) -> None:
    """Solve the solutions of a CSV file.

    Parameters
    ----------
    cases, output : Path, optional
        Table to read, and the one to write; the terminal if not given.
    open_air : bool
        Hold each solution at rest with air.
    pco2_ppm : float, optional
        Carbon dioxide of that air [ppm].
    species : bool
        Add the molality of every species.
    list_species : bool
        Only print the column of every species.
    as_json : bool
        Print one JSON document instead of the table.

    Raises
    ------
    InputError
        Naming the file, the cell or the option.
    """
    if list_species:
        names = tuple(f"{name}_mol_kg" for name in species_names())
        show(SpeciesDocument(names), map(Line, names), as_json=as_json)
        return
    if cases is None:
        raise InputError(say("cli.no-cases"), "cases")
    if pco2_ppm is not None and not (open_air and 0 <= pco2_ppm <= 1e6):
        code = "cli.pco2-range" if open_air else "cli.pco2-alone"
        raise InputError(say(code, {"value": pco2_ppm}), "pco2", pco2_ppm)
    if output is not None:
        if not output.parent.is_dir():
            raise InputError(say("cli.output-folder", {"file": str(output)}), "output")
        check_free(output, "output")
    columns = _columns(cases)
    count = len(next(iter(columns.values())))
    air = default_air_co2_ppm() if pco2_ppm is None else pco2_ppm
    solved = solve(
        {name: column for name, column in columns.items() if name not in LIMITS},
        columns.get("temperature_c", np.full(count, USUAL_TEMPERATURE_C)),
        ph=columns.get("ph"),
        pco2_ppm=np.full(count, air) if open_air else None,
    )
    table = _results(columns, solved, species=species)
    warnings = _warnings(solved)
    if output is not None:
        with whole_file(output) as draft, draft.open("w", encoding="utf-8", newline="") as stream:
            _write(stream, table)
    if as_json:
        rows = zip(*(column.tolist() for column in table.values()), strict=True)
        solutions = [dict(zip(table, row, strict=True)) for row in rows]
        write_json(SolutionsDocument(solutions, warnings))
        return
    if output is None:
        _write(sys.stdout, table)
    for warning in warnings:
        to_error(sentence(warning))


def _own_spelling(name: str) -> str:
    """The column ``pH`` is meant as well as ``ph``."""
    return name.lower() if name.lower() in LIMITS else name


def _columns(cases: Path) -> dict[str, Array]:
    known = (*LIMITS, *COMPONENTS)
    cells = csv_columns(cases, "cases", LARGEST_FILE_BYTES, known, _own_spelling)
    return {
        name: np.array([_cell(text, name, row) for row, text in enumerate(column, start=1)])
        for name, column in cells.items()
    }


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


def _results(
    columns: dict[str, Array], solved: Equilibrium, *, species: bool
) -> dict[str, NDArray[Any]]:
    """The columns that are written: these names stay."""
    molality = solved.molality if species else {}
    return {
        **columns,
        "ph": solved.ph,
        "ionic_strength": solved.ionic_strength,
        "charge_error_mol_kg": solved.charge_error,
        "converged": solved.converged,
        "in_range": solved.in_range,
        **{f"{solid}_saturation_index": index for solid, index in solved.saturation.items()},
        **{f"{name}_mol_kg": molality[name] for name in species_names() if name in molality},
    }


def _write(stream: IO[str], table: dict[str, NDArray[Any]]) -> None:
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(table)
    for row in zip(*table.values(), strict=True):
        writer.writerow([_shown(value) for value in row])


def _shown(value: Any) -> str:
    if isinstance(value, bool | np.bool_):
        return "true" if value else "false"
    number = float(value)
    # An absent constituent has no saturation: an empty cell, not a word that no reader parses.
    return repr(number) if math.isfinite(number) else ""


def _warnings(solved: Equilibrium) -> tuple[Note, ...]:
    notes = []
    for code, wrong in (("not-converged", ~solved.converged), ("out-of-range", ~solved.in_range)):
        if wrong.any():
            rows = {"count": int(np.sum(wrong)), "first": int(np.argmax(wrong)) + 1}
            notes.append(Note(f"warn.solutions.{code}", rows, "cases"))
    return tuple(notes)
