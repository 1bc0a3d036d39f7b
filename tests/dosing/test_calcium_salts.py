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


# Mean activity coefficients at 25 °C and their salts' molality, from the CRC Handbook of Chemistry
# and Physics, "Mean activity coefficients of electrolytes as a function of concentration". The
# equation of each metal was itself fitted to such salts: the check is of the code and of the fit.
POTASSIUM_CHLORIDE = {0.2: 0.717, 0.5: 0.649}


@pytest.mark.parametrize(("metal", "of_chloride"), [("Ca", 0.517), ("Mg", 0.535)])
def test_calcium_and_magnesium_are_as_active_as_their_chlorides_say(
    metal: str, of_chloride: float
) -> None:
    # Mean salt method: in potassium chloride of the same ionic strength both ions are alike.
    strength = 0.3
    solved = solve({metal: 0.1, "Cl": 0.2}, 25.0)
    assert solved.ionic_strength == pytest.approx(strength, rel=1e-3)
    roots, logs = np.sqrt(list(POTASSIUM_CHLORIDE)), np.log(list(POTASSIUM_CHLORIDE.values()))
    alike = np.exp(np.interp(np.sqrt(strength), roots, logs))
    found = np.exp(solved.ln_gamma[solved.system.place(metal, "", 0)])
    assert found == pytest.approx(of_chloride**3 / alike**2, rel=0.025)
