"""The engine against the pH standards, and against PHREEQC on the same standards."""

import csv
from pathlib import Path

import numpy as np
import pytest

from dosing.equilibrium import Equilibrium, solve, water_density_kg_l

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
COMPONENTS = (
    "Na",
    "K",
    "Ca",
    "C",
    "phosphate",
    "borate",
    "citrate",
    "tartrate",
    "oxalate",
    "phthalate",
)
# Written by tests/reference/build_phreeqc_standards.py.
RIVALS = ("minteq.v4", "minteq.v4+Davies", "phreeqc.dat", "sit.dat", "llnl.dat")
Rows = list[dict[str, str]]


def rows(name: str) -> Rows:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def column(table: Rows, name: str) -> np.ndarray:
    return np.array([float(row[name] or "nan") for row in table])


def composition(table: Rows) -> dict[str, np.ndarray]:
    return {name: np.nan_to_num(column(table, name)) for name in COMPONENTS}


def solved(table: Rows) -> Equilibrium:
    return solve(composition(table), column(table, "temperature_c"))


def test_every_standard_at_every_temperature() -> None:
    table = rows("chemistry_standards.csv")
    found = solved(table)
    assert found.converged.all()
    assert found.in_range.all()
    deviation = found.ph - column(table, "ph")
    misses = [
        f"{row['set']}: {row['buffer']} at {row['temperature_c']} C off by {off:+.3f}"
        for row, off in zip(table, deviation, strict=True)
        if not abs(off) <= float(row["tolerance"])
    ]
    assert not misses


def test_the_file_holds_the_acceptance_gates() -> None:
    table = rows("chemistry_standards.csv")
    temperature = column(table, "temperature_c")
    assert np.all(column(table, "tolerance") == np.where(temperature == 25, 0.015, 0.03))
    assert len({row["buffer"] for row in table}) == 9


@pytest.mark.parametrize("rival", RIVALS)
def test_closer_to_the_standards_than_phreeqc(rival: str) -> None:
    standards = [row for row in rows("chemistry_standards.csv") if row["set"] == "NBS-IUPAC"]
    table = rows("chemistry_standards_rivals.csv")
    keys = ("buffer", "temperature_c", "ph")
    assert [[row[k] for k in keys] for row in table] == [
        [row[k] for k in keys] for row in standards
    ]
    assigned = column(table, "ph")
    theirs = np.abs(column(table, rival) - assigned)
    able = np.isfinite(theirs)
    assert able.sum() >= 50
    ours = np.abs(solved(standards).ph - assigned)
    assert ours[able].mean() < theirs[able].mean()
    assert ours[able].max() < theirs[able].max()


@pytest.mark.parametrize(
    "row",
    rows("chemistry_standards_dilution.csv"),
    ids=lambda row: f"{row['quantity']}-{row['buffer']}",
)
def test_dilution_and_buffer_value(row: dict[str, str]) -> None:
    standard = next(
        r
        for r in rows("chemistry_standards.csv")
        if r["buffer"] == row["buffer"] and r["temperature_c"] == "25"
    )
    totals = {name: float(standard[name]) for name in COMPONENTS if standard[name]}
    if row["quantity"] == "dilution":
        halves = {name: total / 2 for name, total in totals.items()}
        found = solve(halves).ph - solve(totals).ph
    else:
        # Base on one side and acid on the other, so that ionic strength is the same on average.
        step = 1e-5
        rise = solve({**totals, "cation": step}).ph - solve({**totals, "anion": step}).ph
        found = 2 * step / rise * water_density_kg_l(25.0)
    assert found == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))
