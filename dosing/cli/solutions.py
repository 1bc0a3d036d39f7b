"""``equilibrium``: a table of solutions in, the same table with pH and species out."""

from __future__ import annotations

import csv
import math
import sys
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from dosing.cli.csv_rows import csv_columns
from dosing.cli.output import to_error, to_json
from dosing.cli.outputs import check_free
from dosing.equilibrium import (
    COMPONENTS,
    Equilibrium,
    default_air_co2_ppm,
    solve,
    species_names,
)
from dosing.recipe.quantities import InputError
from indicator.files import whole_file
from indicator.notes import Value, say

Array = NDArray[np.float64]
LARGEST_FILE_BYTES = 50_000_000
AMOUNTS = (0.0, 100.0)
"""Accepted totals [mol/kg]."""
USUAL_TEMPERATURE_C = 25.0
LIMITS = {"temperature_c": (0.0, 100.0), "ph": (-2.0, 16.0)}
"""Columns beside the totals, and what is accepted there."""


def run_equilibrium(
    cases: Path | None,
    output: Path | None,
    *,
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
        names = [f"{name}_mol_kg" for name in species_names()]
        if as_json:
            to_json({"species": names})
        else:
            sys.stdout.write("\n".join(names) + "\n")
        return
    if cases is None:
        raise InputError(say("cli.no-cases"), "cases")
    wrong = "" if open_air or pco2_ppm is None else "alone"
    if pco2_ppm is not None and not 0 <= pco2_ppm <= 1e6:
        wrong = wrong or "range"
    if wrong:
        raise InputError(say(f"cli.pco2-{wrong}", {"value": pco2_ppm or 0.0}), "pco2", pco2_ppm)
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
        rows = [{name: column[k] for name, column in table.items()} for k in range(count)]
        to_json({"solutions": rows, "warnings": warnings})
        return
    if output is None:
        _write(sys.stdout, table)
    for warning in warnings:
        to_error(str(warning["message"]))


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


def _warnings(solved: Equilibrium) -> list[dict[str, Any]]:
    warnings = []
    for code, wrong in (("not-converged", ~solved.converged), ("out-of-range", ~solved.in_range)):
        if wrong.any():
            code = f"warn.solutions.{code}"
            first = int(np.argmax(wrong)) + 1
            message = say(code, {"count": int(np.sum(wrong)), "first": first})
            warnings.append({"code": code, "message": message, "field": "cases"})
    return warnings
