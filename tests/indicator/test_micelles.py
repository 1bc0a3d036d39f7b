"""Surfactants move the first constants in a bottle and hardly in a tub."""

from __future__ import annotations

import numpy as np
import pytest

from indicator.micelles import micelle_shift, shifted_pka, surfactant_kinds
from indicator.pigments import colourant


def test_far_above_the_critical_concentration_it_is_the_published_shift() -> None:
    # Lima et al. 2002, J. Phys. Chem. A 106:5851: 5.0e6 and 2e5 1/s, a factor of 25 in the
    # deprotonation of oenin, 1.4 in pKa.
    assert float(micelle_shift({"anionic": 150.0}).best) == pytest.approx(
        np.log10(5.0e6 / 2e5), abs=0.02
    )
    shift = micelle_shift({"anionic": 150.0})
    # Vautier-Giongo et al. 2002, Langmuir 18:10109: 40 times (+1.6) for another flavylium.
    assert shift.low < np.log10(40.0) < shift.high


def test_in_a_tub_there_are_no_micelles_left() -> None:
    # 60 mL of a base with 20 % active matter in 120 L is 0.1 g/L; the critical concentration of
    # sodium laureth sulfate is 0.1 to 0.4 g/L (from memory, unverified).
    assert float(micelle_shift({"anionic": 0.06 * 200.0 / 120.0}).best) == 0.0
    assert float(micelle_shift({}).best) == 0.0


def test_signs_by_kind() -> None:
    # Vautier-Giongo et al. 2002: cationic and non-ionic micelles stabilise the base.
    assert float(micelle_shift({"cationic": 50.0}).best) < 0
    assert float(micelle_shift({"non-ionic": 50.0}).best) < 0
    assert set(surfactant_kinds()) == {"anionic", "amphoteric", "non-ionic", "cationic"}


def test_it_is_an_array_where_the_concentrations_are() -> None:
    thinned = 90.0 * np.array([1.0, 0.1, 0.01, 0.001])
    shift = micelle_shift({"anionic": thinned}).best
    assert np.all(np.diff(shift) < 0)
    assert shift[-1] == 0.0
    assert float(micelle_shift({"anionic": thinned[1]}).best) == pytest.approx(shift[1])


def test_only_the_steps_from_the_cation_move() -> None:
    which = colourant("butterfly-pea")
    moved = shifted_pka(which, np.array([0.0, 1.4])) - which.pka
    forms = [form.form for form in which.forms]
    np.testing.assert_allclose(moved[1, forms.index("neutral base")], 1.4)
    np.testing.assert_allclose(moved[1, forms.index("hemiketal")], 1.4)
    np.testing.assert_allclose(moved[1, forms.index("anionic base")], 0.0)
    turmeric = colourant("turmeric")
    np.testing.assert_array_equal(shifted_pka(turmeric, 1.4), turmeric.pka)


def test_bad_input() -> None:
    with pytest.raises(ValueError, match="accepted are anionic"):
        micelle_shift({"soapy": 1.0})
    with pytest.raises(ValueError, match="anionic surfactant is -1 g/L"):
        micelle_shift({"anionic": -1.0})
