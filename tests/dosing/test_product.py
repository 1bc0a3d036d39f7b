import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosing.equilibrium import mass_for_ph, solve
from dosing.ingredients.product import foam_bath_totals
from indicator.notes import sentence

# 1 kg of product in 10 kg of water: the 10 % solution of the bench titration.
WATER_KG = 10.0


def diluted(**reading: float) -> dict[str, float]:
    found = foam_bath_totals(1000.0, **reading)
    return {name: float(moles) / WATER_KG for name, moles in found.totals.items()}


@pytest.mark.slow
@settings(max_examples=25)
@given(ph=st.floats(6.0, 9.0), taken=st.floats(3.0, 40.0))
def test_titrated_alone_it_takes_up_the_stated_acid(ph: float, taken: float) -> None:
    totals = diluted(ph=ph, titratable_meq_kg=taken)
    assert float(solve(totals).ph) == pytest.approx(ph, abs=0.02)
    strong_acid = mass_for_ph(totals, {"anion": 1e-3}, 4.5)
    assert float(strong_acid.mass) * WATER_KG == pytest.approx(taken, rel=0.01, abs=0.02)


@pytest.mark.slow
@settings(max_examples=15)
@given(taken=st.floats(3.0, 40.0))
def test_titrated_with_base_it_takes_up_the_stated_base(taken: float) -> None:
    totals = diluted(ph=3.6, titratable_meq_kg=-taken)
    assert float(solve(totals).ph) == pytest.approx(3.6, abs=0.02)
    strong_base = mass_for_ph(totals, {"cation": 1e-3}, 4.5)
    assert float(strong_base.mass) * WATER_KG == pytest.approx(taken, rel=0.01, abs=0.02)


def test_charges_add_up_and_scale_with_the_amount() -> None:
    small = foam_bath_totals(30.0, 8.0, 15.0).totals
    large = foam_bath_totals(np.array([60.0, 90.0]), 8.0, 15.0).totals
    for name, moles in small.items():
        np.testing.assert_allclose(large[name], np.array([2.0, 3.0]) * moles)


def test_a_spoon_in_a_tub_is_computed_and_small() -> None:
    # Expected range of a foam bath is 5 to 30 meq/kg from pH 8 to 5 (a guess of the trade):
    # 60 g then bring at most 2 meq, in a tub that holds some 200 meq of alkalinity.
    found = foam_bath_totals(60.0)
    assert 0 < float(found.totals["product_buffer"]) < 2e-3
    codes = [note.code for note in found.assumptions]
    assert codes == ["assume.product.ph", "assume.product.titratable"]
    assert all(sentence(note) for note in found.assumptions)


def test_measured_values_are_not_assumed() -> None:
    assert foam_bath_totals(60.0, 7.0, 8.0).assumptions == ()


def test_no_reading_of_capacity_is_no_buffer() -> None:
    found = foam_bath_totals(60.0, 7.0, 0.0)
    assert float(found.totals["product_buffer"]) == 0


def test_a_batch_of_readings() -> None:
    taken = np.array([5.0, 15.0, np.nan])
    found = foam_bath_totals(60.0, 8.0, taken)
    buffer = found.totals["product_buffer"]
    alone = foam_bath_totals(60.0, 8.0, 15.0).totals["product_buffer"]
    assert buffer[1] == pytest.approx(float(alone))
    assert np.isnan(buffer[2])


def test_contradicting_readings_are_refused() -> None:
    with pytest.raises(ValueError, match="counts positive"):
        foam_bath_totals(60.0, 4.0, 15.0)
    with pytest.raises(ValueError, match="too little to tell"):
        foam_bath_totals(60.0, 4.6, 15.0)
