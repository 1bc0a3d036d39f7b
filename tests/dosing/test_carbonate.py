"""Carbonic acid and water against published constants and two reference libraries.

Reference values: tests/reference/build_carbonate.py (PyCO2SYS and iapws).
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from dosing.equilibrium import Equilibrium, solve

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
AIR_PPM = 1000.0


def rows() -> list[dict[str, str]]:
    text = (REFERENCE / "chemistry_carbonate.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


def log_activity(solved: Equilibrium, species: str) -> np.ndarray:
    place = [each.name for each in solved.system.species].index(species)
    ln_activity = np.log(solved.species_molality[place]) + solved.ln_gamma[place]
    return np.asarray(ln_activity / np.log(10))


def constant(quantity: str, temperature_c: np.ndarray) -> np.ndarray:
    """-log10 of a constant, read back from the activities of a solved water."""
    if quantity == "pkh":
        dissolved = solve({}, temperature_c, pco2_ppm=AIR_PPM).molality["CO2"]
        return np.asarray(-np.log10(dissolved / (AIR_PPM * 1e-6)))
    water = solve({"cation": 2e-3, "C": 2.1e-3}, temperature_c)
    carbonate, bicarbonate = log_activity(water, "CO3-2"), log_activity(water, "HCO3-")
    if quantity == "pk1":
        return np.asarray(water.ph - bicarbonate + log_activity(water, "CO2"))
    if quantity == "pk2":
        return np.asarray(water.ph - carbonate + bicarbonate)
    return np.asarray(water.ph - log_activity(water, "OH-"))


@pytest.mark.parametrize("quantity", ["pk1", "pk2", "pkh", "pkw"])
def test_constants_by_temperature(quantity: str) -> None:
    table = [row for row in rows() if row["quantity"] == quantity]
    assert len(table) >= 10
    found = constant(quantity, np.array([float(row["temperature_c"]) for row in table]))
    misses = [
        f"{row['temperature_c']} C, {row['source']}: off by {value - float(row['value']):+.4f}"
        for row, value in zip(table, found, strict=True)
        if not abs(value - float(row["value"])) <= float(row["tolerance"])
    ]
    assert not misses


def test_dilute_bicarbonate_waters() -> None:
    table = [row for row in rows() if row["quantity"] == "ph"]
    given = {
        name: np.array([float(row[name]) for row in table])
        for name in ("temperature_c", "alkalinity_eq_kg", "carbon_mol_kg", "value", "tolerance")
    }
    found = solve(
        {"cation": given["alkalinity_eq_kg"], "C": given["carbon_mol_kg"]}, given["temperature_c"]
    )
    assert len(table) >= 20
    assert np.all(np.abs(found.ph - given["value"]) <= given["tolerance"])
