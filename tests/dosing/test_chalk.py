"""Chalk: waters with all of their excess calcite taken out, against PHREEQC and in odd cases.

Reference values: tests/reference/build_phreeqc_chalk.py (PHREEQC with our own constants, and with
those of phreeqc.dat for one bath).
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from dosing.equilibrium import Settled, settle_chalk, solve

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
COMPONENTS = ("Na", "K", "Ca", "Mg", "Cl", "SO4", "C", "phosphate", "citrate")
AIR_PPM = {"closed": None, "open": 420.0}


def rows(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


WATERS = rows("chemistry_phreeqc_chalk.csv")


def column(table: list[dict[str, str]], name: str) -> np.ndarray:
    return np.array([float(row[name]) for row in table])


def settled(way: str) -> Settled:
    totals = {name: column(WATERS, name) for name in COMPONENTS}
    return settle_chalk(totals, column(WATERS, "temperature_c"), pco2_ppm=AIR_PPM[way])


def test_the_waters_are_those_asked_for() -> None:
    assert len(WATERS) >= 30
    assert column(WATERS, "index").max() > 2.0
    fallen = column(WATERS, "chalk_closed")
    assert np.any(fallen == 0.0)
    assert np.sum(fallen > 1e-4) >= 10


@pytest.mark.parametrize("way", AIR_PPM)
def test_ph_with_calcite_agrees_with_phreeqc_holding_our_constants(way: str) -> None:
    found = settled(way)
    assert np.all(found.equilibrium.converged)
    off = np.abs(found.equilibrium.ph - column(WATERS, f"ph_{way}_chalk"))
    assert off.max() <= 0.02
    chalk = column(WATERS, f"chalk_{way}")
    assert found.chalk_mol_kg == pytest.approx(chalk, abs=2e-5, rel=0.02)


@pytest.mark.parametrize("way", AIR_PPM)
def test_nothing_is_left_above_saturation_and_nothing_falls_out_below(way: str) -> None:
    found = settled(way)
    index = found.equilibrium.saturation_of("calcite")
    fallen = found.chalk_mol_kg > 0
    assert np.abs(index[fallen]).max() < 1e-6
    assert np.all(index[~fallen] <= 1e-6)
    # Where nothing falls out the solution is the one without solids.
    totals = {name: column(WATERS, name)[~fallen] for name in COMPONENTS}
    clear = solve(totals, column(WATERS, "temperature_c")[~fallen], pco2_ppm=AIR_PPM[way])
    np.testing.assert_allclose(found.equilibrium.ph[~fallen], clear.ph, atol=1e-9)


def test_washing_soda_in_hard_water_is_less_alkaline_once_its_chalk_is_out() -> None:
    # 16 g in 120 L at 38 C, 4.5 meq/L and 2.7 mmol/L calcium: about 9.0 clear (index +2.1).
    bath = rows("chemistry_phreeqc_soda.csv")
    totals = {name: column(bath, name) for name in ("Ca", "Na", "C", "Cl")}
    clear = solve(totals, column(bath, "temperature_c"))
    found = settle_chalk(totals, column(bath, "temperature_c"))
    np.testing.assert_allclose(clear.ph, column(bath, "ph_closed"), atol=0.03)
    np.testing.assert_allclose(clear.saturation_of("calcite"), column(bath, "index"), atol=0.05)
    np.testing.assert_allclose(found.equilibrium.ph, column(bath, "ph_closed_chalk"), atol=0.05)
    np.testing.assert_allclose(found.chalk_mol_kg, column(bath, "chalk_closed"), rtol=0.03)


def test_calcium_and_carbon_are_accounted_for() -> None:
    for way in AIR_PPM:
        found = settled(way)
        left = found.equilibrium.totals
        taken = column(WATERS, "Ca") - left["Ca"]
        np.testing.assert_allclose(taken, found.chalk_mol_kg, atol=1e-15)
        if way == "closed":
            np.testing.assert_allclose(column(WATERS, "C") - left["C"], taken, atol=1e-15)
        assert np.all(left["Ca"] >= 0)


def test_soft_water_and_water_without_calcium_or_carbon_stay_as_they_are() -> None:
    for totals in (
        {"Na": 2e-3, "C": 1e-3},
        {"Ca": 1e-3, "Cl": 2e-3},
        {"Ca": 5e-5, "C": 1e-4, "Na": 1e-5},
        {"Na": 1e-3, "Cl": 1e-3},
    ):
        found = settle_chalk(totals, 38.0)
        assert found.chalk_mol_kg == 0.0
        assert found.equilibrium.ph == solve(totals, 38.0).ph


def test_what_cannot_be_computed_is_nan_and_leaves_the_others_alone() -> None:
    totals = {"Ca": np.array([2e-3, np.nan]), "C": np.array(5e-3), "Na": np.array(2e-3)}
    found = settle_chalk(totals, 38.0)
    alone = settle_chalk({"Ca": 2e-3, "C": 5e-3, "Na": 2e-3}, 38.0)
    assert np.isnan(found.equilibrium.ph[1])
    assert not found.equilibrium.converged[1]
    assert found.equilibrium.ph[0] == pytest.approx(float(alone.equilibrium.ph), abs=1e-8)
    assert np.shape(alone.chalk_mol_kg) == ()


def test_strong_base_in_very_hard_water_still_settles() -> None:
    soda = np.geomspace(1e-4, 0.2, 40)
    calcium, chloride = np.full(40, 5e-3), np.full(40, 4e-3)
    totals = {"Ca": calcium, "C": 7e-3 + soda, "Na": 2.0 * soda + 1e-3, "Cl": chloride}
    for air in AIR_PPM.values():
        found = settle_chalk(totals, 45.0, pco2_ppm=air)
        assert np.all(found.equilibrium.converged)
        assert np.abs(found.equilibrium.saturation_of("calcite")).max() < 1e-6
        assert np.all((found.chalk_mol_kg > 0) & (found.chalk_mol_kg < 5e-3))
