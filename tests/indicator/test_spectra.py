"""Spectra of liquids: their maxima and the colours seen."""

from __future__ import annotations

import numpy as np
import pytest

from indicator.absorbance import WAVELENGTH_NM, mixture_absorbance
from indicator.optics import beaker_view, jar_view
from indicator.pigments import colourant_names
from indicator.spectra import FINE_NM, maxima, spectra
from indicator.swatch import ladder

PEA = {"butterfly-pea": 0.1}
MIXED = {"butterfly-pea": 0.1, "tartrazine": 3e-6}


@pytest.mark.parametrize("name", colourant_names())
def test_the_fine_spectrum_is_the_one_that_colours_come_from(name: str) -> None:
    ph = np.linspace(1.0, 13.0, 7)
    strengths = {name: 0.3, "tartrazine": 2e-6}
    found = mixture_absorbance(strengths, ph, wavelength_nm=WAVELENGTH_NM)
    np.testing.assert_allclose(found, mixture_absorbance(strengths, ph), rtol=1e-12, atol=1e-15)
    fine = mixture_absorbance(strengths, ph, wavelength_nm=FINE_NM)
    np.testing.assert_allclose(fine[:, ::5], found, rtol=1e-12, atol=1e-15)


@pytest.mark.parametrize(
    ("strengths", "ph", "wavelength"),
    [
        # Marpaung 2012: butterfly pea in water, maximum at 548 nm at pH 1 and 622 to 628 nm at
        # pH 7 (bands at 550, 580 and 628 nm, Marpaung 2017).
        (PEA, 1.0, 548.0),
        (PEA, 7.0, 626.0),
        # Belitz, Grosch, Schieberle, Food Chemistry, table 8.12: tartrazine 426 nm.
        ({"tartrazine": 1e-5}, 7.0, 426.0),
        # Ahmadiani 2014: red cabbage, about 520 nm in acid.
        ({"red-cabbage": 0.1}, 1.0, 521.0),
    ],
)
def test_maxima_are_the_published_ones(
    strengths: dict[str, float], ph: float, wavelength: float
) -> None:
    (found,) = spectra(strengths, [ph], jar_view())
    assert found.lambda_max_nm == pytest.approx(wavelength, abs=3.0)


def test_the_height_at_the_maximum_is_the_strength_in_strong_acid() -> None:
    # The strength of a pigment is defined as its pH-1 absorbance per cm at the maximum; the sum of
    # its fitted bands is 2 % higher there.
    (found,) = spectra({"butterfly-pea": 0.37}, [1.0], jar_view())
    assert found.absorbance_max == pytest.approx(0.37, rel=0.025)


def test_the_numbers_of_a_spectrum_fit_together() -> None:
    for one in spectra(MIXED, [3.0, 5.0, 9.0, 12.0], beaker_view()):
        assert one.absorbance.shape == FINE_NM.shape
        at = dict(zip(FINE_NM, one.absorbance, strict=True))
        for nm, height in one.maxima:
            assert at[nm] == height
            assert at[nm - 1.0] < height >= at[nm + 1.0]
        assert one.lambda_max_nm in [nm for nm, _ in one.maxima]
        assert one.absorbance_max == max(height for _, height in one.maxima)
        (swatch,) = ladder(MIXED, [one.ph], beaker_view()).swatches
        assert (one.hex, one.phrase) == (swatch.hex, swatch.phrase)


def test_ends_and_ripples_are_no_maxima() -> None:
    x = np.linspace(0.0, 1.0, 101)
    assert maxima(1.0 - x) == []
    assert maxima(x) == []
    assert maxima(np.zeros(101)) == []
    assert maxima(np.exp(-(((x - 0.3) / 0.1) ** 2))) == [30]
    assert maxima(1.0 - x + 1.2 * np.exp(-(((x - 0.6) / 0.05) ** 2))) == [60]
    faint = np.exp(-(((x - 0.2) / 0.1) ** 2)) + 0.04 * np.exp(-(((x - 0.8) / 0.05) ** 2))
    assert maxima(faint) == [20]


def test_no_colour_has_no_maximum() -> None:
    (found,) = spectra({"butterfly-pea": 0.0}, [7.0], jar_view())
    assert (found.lambda_max_nm, found.absorbance_max, found.maxima) == (None, 0.0, ())
    assert found.word == "colourless"
