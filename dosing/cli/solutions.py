"""``equilibrium``: a table of solutions in, the same table with pH and species out."""

from __future__ import annotations

import csv
import math
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import IO, Any

import numpy as np
from numpy.typing import NDArray

from dosing.cli.csv_rows import check_columns, csv_rows
from dosing.cli.output import to_error, to_json
from dosing.cli.outputs import check_free
from dosing.equilibrium import (
    Equilibrium,
    component_names,
    default_air_co2_ppm,
    solid_names,
    solve,
    species_names,
)
from dosing.recipe.quantities import InputError
from indicator.files import whole_file
from indicator.notes import Value, say

Array = NDArray[np.float64]
LARGEST_FILE_BYTES = 50_000_000
MOST_MOL_KG = 100.0
USUAL_TEMPERATURE_C = 25.0
OWN_COLUMNS = ("temperature_c", "ph")


def run_list_species(*, as_json: bool) -> None:
    """Print the names of every species."""
    names = [f"m_{name}" for name in species_names()]
    if as_json:
        to_json({"species": names})
    else:
        sys.stdout.write("\n".join(names) + "\n")


def run_equilibrium(
    cases: Path | None,
    output: Path | None,
    *,
    open_air: bool,
    pco2_ppm: float | None,
    species: bool,
    as_json: bool,
) -> None:
    """Solve the solutions of a CSV file."""
    if cases is None:
        raise InputError(say("cli.no-cases"), "cases")
    if pco2_ppm is not None and not open_air:
        raise InputError(say("cli.pco2-alone", {"value": pco2_ppm}), "pco2", pco2_ppm)
    if pco2_ppm is not None and not 0 <= pco2_ppm <= 1e6:
        raise InputError(say("cli.pco2-range", {"value": pco2_ppm}), "pco2", pco2_ppm)
    if output is not None and not output.parent.is_dir():
        raise InputError(say("cli.output-folder", {"file": str(output)}), "output")
    if output is not None:
        check_free(output, "output")
    header, lines = csv_rows(cases, "cases", LARGEST_FILE_BYTES)
    columns = _columns([_own_spelling(name) for name in header], lines)
    given = {name: values for name, values in columns.items() if name not in OWN_COLUMNS}
    if open_air:
        given.pop("C", None)
    count = len(next(iter(columns.values())))
    air = default_air_co2_ppm() if pco2_ppm is None else pco2_ppm
    solved = solve(
        given,
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
        rows = [{name: values[k] for name, values in table.items()} for k in range(count)]
        to_json({"solutions": rows, "warnings": warnings})
        return
    if output is None:
        _write(sys.stdout, table)
    for warning in warnings:
        to_error(str(warning["message"]))


def _own_spelling(name: str) -> str:
    """The column ``pH`` is meant as well as ``ph``."""
    return name.lower() if name.lower() in OWN_COLUMNS else name


def _columns(header: Sequence[str], rows: Sequence[Sequence[str]]) -> dict[str, Array]:
    check_columns(header, rows, (*OWN_COLUMNS, *component_names()), "cases")
    return {
        name: np.array(
            [
                _cell(row[place] if place < len(row) else "", name, number)
                for number, row in enumerate(rows, start=1)
            ]
        )
        for place, name in enumerate(header)
    }


def _cell(text: str, column: str, row: int) -> float:
    stripped = text.strip()
    if not stripped:
        if column == "ph":
            raise InputError(say("cli.empty-ph", {"row": row}), "cases")
        return USUAL_TEMPERATURE_C if column == "temperature_c" else 0.0
    try:
        value = math.nan if "_" in stripped else float(stripped)
    except ValueError:
        value = math.nan
    low, high = _limits(column)
    if not (math.isfinite(value) and low <= value <= high):
        values: dict[str, Value] = {
            "column": column,
            "row": row,
            "value": stripped,
            "low": low,
            "high": high,
        }
        raise InputError(say("cli.bad-cell", values), "cases", stripped)
    return value


def _limits(column: str) -> tuple[float, float]:
    if column == "temperature_c":
        return 0.0, 100.0
    return (-2.0, 16.0) if column == "ph" else (0.0, MOST_MOL_KG)


def _results(
    columns: dict[str, Array], solved: Equilibrium, *, species: bool
) -> dict[str, NDArray[Any]]:
    table: dict[str, NDArray[Any]] = dict(columns)
    table["ph"] = solved.ph
    table["ionic_strength"] = solved.ionic_strength
    table["charge_error"] = solved.charge_error
    table["converged"] = solved.converged
    table["in_range"] = solved.in_range
    for solid in solid_names():
        table[f"si_{solid}"] = solved.saturation[solid]
    if species:
        molality = solved.molality
        for name in species_names():
            if name in molality:
                table[f"m_{name}"] = molality[name]
    return table


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
    found = []
    for code, wrong in (("not-converged", ~solved.converged), ("out-of-range", ~solved.in_range)):
        rows = np.flatnonzero(wrong)
        if len(rows):
            values = {"count": len(rows), "first": int(rows[0]) + 1}
            found.append(
                {
                    "code": f"warn.solutions.{code}",
                    "message": say(f"warn.solutions.{code}", values),
                    "field": "cases",
                }
            )
    return found
