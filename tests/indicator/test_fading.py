"""Loss of colour against the published rates, and its limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from indicator.fading import fading, fading_conditions
from indicator.pigments import colourant_names

MINUTES_PER_DAY = 1440.0


@pytest.mark.parametrize(
    ("ph", "per_minute"),
    [
        # BIO Web of Conferences 2025 (ISOFST) 01002: rates at 80, 90 and 98 degC; only the first
        # and the activation energy are in the table, so the other two are forecasts.
        (5.0, (0.0004, 0.0010, 0.0018)),
        (7.0, (0.0015, 0.0041, 0.0059)),
        (8.0, (0.0031, 0.0047, 0.0065)),
    ],
)
def test_rates_at_other_temperatures(ph: float, per_minute: tuple[float, ...]) -> None:
    found = fading("butterfly-pea", ph, np.array([80.0, 90.0, 98.0]), "clean").rate
    # Rates are printed to one or two digits.
    np.testing.assert_allclose(found / MINUTES_PER_DAY, per_minute, rtol=0.25)


def test_half_lives_in_a_warm_bath_worked_by_hand() -> None:
    # ln 2 / k(38) with k(38) = k(80) exp(-Ea/R (1/311.15 - 1/353.15)): 73 d, 14 d, 28 h.
    found = fading("butterfly-pea", np.array([5.0, 7.0, 8.0]), 38.0, "clean").half_life_days
    np.testing.assert_allclose(found, [73.0, 14.0, 28.0 / 24.0], rtol=0.1)


def test_a_raw_infusion_fades_as_the_published_series() -> None:
    # Marpaung 2012, room temperature, absorbance on day 0 and day 7, not preserved.
    series = {1.0: (1.07, 1.03), 2.0: (0.96, 0.86), 4.0: (1.33, 0.19), 7.0: (1.75, 0.08)}
    for ph, (start, after) in series.items():
        left = float(fading("butterfly-pea", ph, 28.0, "raw").share_left(7.0))
        assert left == pytest.approx(after / start, abs=0.02)


def test_black_carrot_at_eighty_degrees() -> None:
    # Kidon and Czapski 2010: 0.049 per hour at pH 1, 0.256 per hour at pH 6, 80 degC.
    found = fading("black-carrot", np.array([1.0, 6.0]), 80.0, "clean").rate / 24.0
    np.testing.assert_allclose(found, [0.049, 0.256], rtol=0.01)


@given(
    ph=st.floats(1.0, 10.0), cold=st.floats(0.0, 30.0), warmer=st.floats(0.1, 30.0),
    days=st.floats(0.0, 1000.0),
)  # fmt: skip
def test_warmth_and_time_never_give_colour_back(
    ph: float, cold: float, warmer: float, days: float
) -> None:
    for condition in fading_conditions("butterfly-pea"):
        slow = fading("butterfly-pea", ph, cold, condition)
        fast = fading("butterfly-pea", ph, cold + warmer, condition)
        assert fast.rate > slow.rate
        assert 0.0 <= float(fast.share_left(days)) <= float(slow.share_left(days)) <= 1.0
        assert float(slow.share_left(0.0)) == 1.0
        assert float(slow.share_left(slow.half_life_days)) == pytest.approx(0.5)


def test_a_ph_beyond_the_published_ones_is_told() -> None:
    found = fading("butterfly-pea", np.array([3.0, 6.0]), 20.0, "clean")
    assert found.in_range.tolist() == [False, True]


def test_what_is_not_published_is_refused() -> None:
    known = {name for name in colourant_names() if fading_conditions(name)}
    assert known == {"butterfly-pea", "black-carrot"}
    with pytest.raises(ValueError, match="published for red-cabbage are none"):
        fading("red cabbage", 7.0, 20.0, "clean")
