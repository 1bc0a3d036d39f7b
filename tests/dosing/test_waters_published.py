"""The engine against published water analyses, titration end points and a textbook relation."""

import csv
from pathlib import Path

import numpy as np
import pytest

from dosing.equilibrium import (
    Equilibrium,
    carbon_from_alkalinity,
    mass_for_ph,
    solve,
    water_density_kg_l,
)

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
# IUPAC abridged standard atomic weights, g/mol.
MOLAR_MASS = {
    "Ca": 40.078,
    "Mg": 24.305,
    "Na": 22.990,
    "K": 39.098,
    "Cl": 35.45,
    "SO4": 96.06,
    "NO3": 62.004,
    "F": 18.998,
}
CO2_MASS = 44.009
# One eq of alkalinity is half a mole of CaCO3.
CACO3_EQUIVALENT = 100.087 / 2


def rows(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def analysis(water: str) -> dict[str, str]:
    return next(row for row in rows("chemistry_waters.csv") if row["water"] == water)


def as_measured(water: str) -> Equilibrium:
    """The water at its measured pH, its imbalance of charge left as it is."""
    row = analysis(water)
    temperature_c, ph = float(row["temperature_c"]), float(row["ph"])
    density = water_density_kg_l(temperature_c)
    ions = {
        name: float(row[name]) / mass / 1000 / density
        for name, mass in MOLAR_MASS.items()
        if row[name]
    }
    alkalinity = float(row["alkalinity_meq_l"]) / 1000 / density
    carbon = carbon_from_alkalinity(alkalinity, ph, ions, temperature_c)
    return solve({**ions, "C": carbon}, temperature_c, ph=ph)


def charges(solved: Equilibrium) -> float:
    inert = sum(float(solved.totals[name]) for name in solved.system.inert)
    return float(np.abs(solved.system.charge) @ solved.species_molality) + inert


def closed_by_inert_ions(solved: Equilibrium) -> dict[str, float]:
    totals = {name: float(total) for name, total in solved.totals.items()}
    error = float(solved.charge_error)
    return {**totals, "cation": max(-error, 0.0), "anion": max(error, 0.0)}


def derived(quantity: str, water: Equilibrium, at_c: float) -> float:
    density = float(water_density_kg_l(water.temperature_c))
    if quantity == "ionic_strength":
        return float(water.ionic_strength)
    if quantity == "calcite_index":
        return float(water.saturation["calcite"])
    if quantity == "charge_error_percent":
        return 100 * float(water.charge_error) / charges(water)
    if quantity == "free_co2":
        return float(water.molality["CO2"]) * CO2_MASS * 1000 * density
    totals = closed_by_inert_ions(water)
    if quantity == "buffer_intensity":
        more = {name: {**totals, name: totals[name] + 1e-6} for name in ("cation", "anion")}
        rise = solve(more["cation"], at_c).ph - solve(more["anion"], at_c).ph
        return float(2e-6 / rise) * 1000 * density
    titrant, end = {"base_capacity": ("cation", 8.2), "acid_capacity": ("anion", 4.3)}[quantity]
    return float(mass_for_ph(totals, {titrant: 1.0}, end, at_c).mass) * 1000 * density


@pytest.mark.parametrize(
    "row", rows("chemistry_waters_expected.csv"), ids=lambda r: f"{r['water']}-{r['quantity']}"
)
def test_figures_derived_from_an_analysis(row: dict[str, str]) -> None:
    water = as_measured(row["water"])
    assert water.converged
    found = derived(row["quantity"], water, float(row["at_c"] or water.temperature_c))
    assert found == pytest.approx(float(row["value"]), abs=float(row["tolerance"]))


def test_measured_ph_is_kept_and_the_imbalance_told() -> None:
    water = as_measured("Voehringen")
    assert water.ph == pytest.approx(7.41, abs=1e-12)
    # 94.4 mg/L Ca and so on: 6.88 meq/L of cations against 7.05 of anions.
    assert water.charge_error == pytest.approx(-1.7e-4, abs=1e-5)


@pytest.mark.parametrize(
    "row",
    rows("chemistry_titrations.csv"),
    ids=lambda r: f"{r['alkalinity']}-{r['carbon_left']}",
)
def test_end_point_of_an_alkalinity_titration(row: dict[str, str]) -> None:
    alkalinity = float(row["alkalinity"]) / CACO3_EQUIVALENT / 1000 / water_density_kg_l(25.0)
    carbon = alkalinity * float(row["carbon_left"])
    titrated = solve({"cation": alkalinity, "anion": alkalinity, "C": carbon}, 25.0)
    assert titrated.ph == pytest.approx(float(row["ph"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize(
    "row",
    rows("chemistry_textbook.csv"),
    ids=lambda r: f"{r['what']}-{r['alkalinity_eq_kg']}-{r['ph_before']}-{r['ph']}",
)
def test_acid_demand_of_a_closed_carbonate_water(row: dict[str, str]) -> None:
    water = {"cation": float(row["alkalinity_eq_kg"]), "C": float(row["carbon_mol_kg"])}
    found = mass_for_ph(water, {row["component"]: 1.0}, float(row["ph"]), 25.0)
    assert found.reached
    assert found.mass == pytest.approx(float(row["value"]), rel=float(row["tolerance"]))
