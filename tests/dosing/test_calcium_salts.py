"""Calcium's salts and complexes with the bath's acids, against published values over temperature.

Reference values: tests/reference/calcium_salts.csv, each row with its source.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from dosing.equilibrium import solve
from dosing.equilibrium.constants import coefficients, kelvin, temperature_basis
from dosing.equilibrium.species import all_species, protonation, solid_rows

REFERENCE = Path(__file__).resolve().parents[1] / "reference" / "calcium_salts.csv"
KJ_PER_DECADE_KELVIN = 8.314462618e-3 * np.log(10.0)


def rows(what: str) -> list[dict[str, str]]:
    lines = REFERENCE.read_text(encoding="utf-8").splitlines()
    table = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [row for row in table if row["what"] == what]


def overall_log_k(name: str, temperature_c: float) -> float:
    species = next(one for one in all_species() if one.name == name)
    return float(np.array(species.log_k) @ temperature_basis(temperature_c))


@pytest.mark.parametrize("row", rows("solubility"), ids=lambda row: row["temperature_c"])
def test_what_dissolves_of_a_salt_is_what_is_published(row: dict[str, str]) -> None:
    molality = float(row["expected"]) / float(row["hydrate_g_mol"])
    amounts = molality * np.geomspace(0.5, 2.0, 41)
    solved = solve({"Ca": amounts, "tartrate": amounts}, float(row["temperature_c"]))
    dissolves = np.interp(0.0, solved.saturation[row["species"]], amounts)
    assert dissolves == pytest.approx(molality, rel=float(row["tolerance"]))


def species_at(row: dict[str, str]) -> str:
    return f"{row['species']}-{row['temperature_c']}"


@pytest.mark.parametrize("row", rows("log_k"), ids=species_at)
def test_constants_of_complexes_are_the_published_ones(row: dict[str, str]) -> None:
    found = overall_log_k(row["species"], float(row["temperature_c"]))
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_binding_of_calcium_to_hydrogen_citrate_gives_off_the_published_heat() -> None:
    (row,) = rows("enthalpy")
    temperature = np.array([24.5, 25.5])
    species = next(one for one in all_species() if one.name == row["species"])
    stepwise = np.array(species.log_k) - np.array(protonation("citrate", 1))
    cold, warm = stepwise @ temperature_basis(temperature)
    slope = (warm - cold) / np.diff(1.0 / kelvin(temperature))[0]
    heat = -slope * KJ_PER_DECADE_KELVIN
    assert heat == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_the_two_hydrates_of_calcium_citrate_meet_at_the_published_temperature() -> None:
    (row,) = rows("log_ksp")
    solid = next(one for one in solid_rows() if one.solid == row["species"])
    curve = coefficients(solid.log_ksp, solid.dh_kj_mol, None, solid.function)
    found = float(curve @ temperature_basis(float(row["temperature_c"])))
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))
