"""Our colorimetry, number by number against the colour library."""

from __future__ import annotations

import colour
import numpy as np
import pytest
from colour.adaptation.datasets import CAT_CAT16
from colour.utilities import suppress_warnings

from indicator.absorbance import WAVELENGTH_NM
from indicator.cie import (
    adaptation,
    delta_e,
    lab_from_xyz,
    light_power,
    matrix,
    observer_functions,
    xyz_from_lab,
)
from indicator.srgb import SRGB_TO_XYZ

OBSERVERS = {
    2: "CIE 1931 2 Degree Standard Observer",
    10: "CIE 1964 10 Degree Standard Observer",
}
WITHIN = 1e-9
RANDOM = np.random.default_rng(5)
WHITES = [np.array([0.9505, 1.0, 1.0891]), np.array([1.0985, 1.0, 0.3558])]
LABS = np.concatenate(
    [
        RANDOM.uniform([0, -128, -128], [100, 128, 128], (4000, 3)),
        RANDOM.uniform([0, -1, -1], [100, 1, 1], (1000, 3)),
        [[0, 0, 0], [100, 0, 0], [50, 0, 0], [50, 0, 1e-3], [8, 0, 0], [60, 40, 0], [60, -40, 0]],
    ]
)


@pytest.mark.parametrize("observer", [2, 10])
def test_observers_are_the_library_s(observer: int) -> None:
    table = colour.MSDS_CMFS[OBSERVERS[observer]]
    for axis in range(3):
        expected = np.interp(WAVELENGTH_NM, table.wavelengths, table.values[:, axis])
        found = observer_functions(observer)[:, axis]
        np.testing.assert_allclose(found, expected, rtol=0, atol=WITHIN)


@pytest.mark.parametrize("light", ["D65", "A", "LED-B1", "LED-B3"])
def test_lights_are_the_library_s(light: str) -> None:
    table = colour.SDS_ILLUMINANTS[light]
    expected = np.interp(WAVELENGTH_NM, table.wavelengths, table.values)
    power = light_power(light)
    assert power is not None
    np.testing.assert_allclose(power, expected, rtol=0, atol=WITHIN)


def test_matrices_are_the_library_s() -> None:
    np.testing.assert_allclose(matrix("cat16"), CAT_CAT16, rtol=0, atol=WITHIN)
    for ours, theirs in (("protan", "Protan"), ("deutan", "Deuteran"), ("tritan", "Tritan")):
        with suppress_warnings(colour_usage_warnings=True):
            expected = colour.blindness.matrix_cvd_Machado2009(f"{theirs}omaly", 1.0)
        np.testing.assert_allclose(matrix(ours), expected, rtol=0, atol=WITHIN)
    srgb = colour.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ
    np.testing.assert_allclose(SRGB_TO_XYZ, srgb, rtol=0, atol=WITHIN)


@pytest.mark.parametrize("white", WHITES)
def test_cielab_there_and_back_is_the_library_s(white: np.ndarray) -> None:
    xy = colour.XYZ_to_xy(white)
    xyz = colour.Lab_to_XYZ(LABS, xy)
    np.testing.assert_allclose(xyz_from_lab(LABS, white), xyz, rtol=0, atol=WITHIN)
    lab = colour.XYZ_to_Lab(xyz, xy)
    np.testing.assert_allclose(lab_from_xyz(xyz, white), lab, rtol=0, atol=WITHIN)


def test_differences_are_the_library_s() -> None:
    # Hues exactly opposite are left out: the mean of the two jumps there, by rounding.
    for other in (np.roll(LABS, 1, axis=0), LABS * [1, -1, -0.9], LABS + 0.3, LABS):
        expected = colour.difference.delta_E_CIE2000(LABS, other)
        np.testing.assert_allclose(delta_e(LABS, other), expected, rtol=0, atol=WITHIN)


def test_adaptation_is_the_library_s() -> None:
    for white, target in (WHITES, WHITES[::-1]):
        expected = colour.adaptation.matrix_chromatic_adaptation_VonKries(
            white, target, transform="CAT16"
        )
        np.testing.assert_allclose(adaptation(white, target), expected, rtol=0, atol=WITHIN)


def test_what_is_not_known_stays_so() -> None:
    assert np.isnan(delta_e([50.0, np.nan, 0.0], [50.0, 0.0, 0.0]))
    assert light_power("FL2") is None
    with pytest.raises(ValueError, match="observer is 5; accepted are 2 and 10"):
        observer_functions(5)
