import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ingredients.hardness_units import (
    alkalinity_in,
    alkalinity_meq_l,
    hardness_in,
    hardness_mmol_l,
    ion_mmol_l,
)
from dosing.ingredients.molar_mass import molar_mass

REFERENCE = Path(__file__).parents[1] / "reference"
HARDNESS_UNITS = ("mg_l_caco3", "ppm", "meq_l", "mmol_l", "dH", "fH", "e", "clark", "gpg")
ALKALINITY_UNITS = (*HARDNESS_UNITS, "mg_l_hco3", "dKH")


def rows(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize(
    "row", rows("trade_conversions.csv"), ids=lambda r: f"{r['from']}-{r['to']}-{r['expected']}"
)
def test_factors_are_those_of_the_published_tables(row: dict[str, str]) -> None:
    value = float(row["value"])
    if row["quantity"] == "hardness":
        found = hardness_in(hardness_mmol_l(value, row["from"]), row["to"])
    else:
        found = alkalinity_in(alkalinity_meq_l(value, row["from"]), row["to"])
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", rows("trade_molar_masses.csv"), ids=lambda r: r["formula"])
def test_molar_masses_are_the_published_ones(row: dict[str, str]) -> None:
    assert molar_mass(row["formula"]) == pytest.approx(
        float(row["expected"]), abs=float(row["tolerance"])
    )


def test_calcium_and_magnesium_by_mass_give_the_published_hardness_factors() -> None:
    # mg/L Ca x 2.4973 + mg/L Mg x 4.1180 = mg/L CaCO3 (Standard Methods 2340 B prints 2.497, 4.118)
    assert hardness_in(ion_mmol_l(1, "calcium"), "ppm") == pytest.approx(2.497, abs=0.0005)
    assert hardness_in(ion_mmol_l(1, "magnesium"), "ppm") == pytest.approx(4.118, abs=0.0005)


@given(value=st.floats(0, 1e4), unit=st.sampled_from(HARDNESS_UNITS))
def test_hardness_round_trip(value: float, unit: str) -> None:
    assert hardness_in(hardness_mmol_l(value, unit), unit) == pytest.approx(value, rel=1e-12)


@given(value=st.floats(0, 1e4), unit=st.sampled_from(ALKALINITY_UNITS))
def test_alkalinity_round_trip(value: float, unit: str) -> None:
    assert alkalinity_in(alkalinity_meq_l(value, unit), unit) == pytest.approx(value, rel=1e-12)


def test_arrays_and_nan_pass_through() -> None:
    found = hardness_mmol_l(np.array([1.0, np.nan, 3.0]), "dH")
    assert found.shape == (3,)
    assert np.isnan(found[1])
    assert found[2] == pytest.approx(3 * float(hardness_mmol_l(1.0, "dH")))


def test_unknown_unit_offers_the_nearest() -> None:
    with pytest.raises(ValueError, match="unit of hardness 'gpgs'; did you mean 'gpg'"):
        hardness_mmol_l(1, "gpgs")
    with pytest.raises(ValueError, match="unit of hardness 'mg_l_hco3'"):
        hardness_mmol_l(1, "mg_l_hco3")


@pytest.mark.parametrize("formula", ["", "Xx2", "caco3", "Ca(OH)2", "NaCl."])
def test_unreadable_formula_is_refused(formula: str) -> None:
    with pytest.raises(ValueError, match="formula"):
        molar_mass(formula)
