"""Ladders: colours along the pH, their spectra and the maxima of these."""

from __future__ import annotations

import json
import subprocess
import sys

import numpy as np
import pytest

from indicator.absorbance import WAVELENGTH_NM, mixture_absorbance
from indicator.ladders import FINE_NM, ladder, maxima
from indicator.optics import beaker_view, jar_view
from indicator.pigments import colourant_names

PH = [2.0, 4.0, 7.0, 9.0]
STRENGTHS = {"butterfly-pea": 0.05}
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
    (found,) = ladder(strengths, [ph], jar_view()).swatches
    assert found.lambda_max_nm == pytest.approx(wavelength, abs=3.0)


def test_the_height_at_the_maximum_is_the_strength_in_strong_acid() -> None:
    # The strength of a pigment is defined as its pH-1 absorbance per cm at the maximum; the sum of
    # its fitted bands is 2 % higher there.
    found = ladder({"butterfly-pea": 0.37}, [1.0], jar_view())
    assert found.absorbance.max() == pytest.approx(0.37, rel=0.025)


def test_the_maxima_of_a_ladder_are_those_of_its_curves() -> None:
    drawn = ladder(MIXED, [3.0, 5.0, 9.0, 12.0], beaker_view())
    assert drawn.absorbance.shape == (4, *FINE_NM.shape)
    for swatch, curve in zip(drawn.swatches, drawn.absorbance, strict=True):
        at = dict(zip(FINE_NM, curve, strict=True))
        for nm, height in swatch.maxima:
            assert at[nm] == height
            assert at[nm - 1.0] < height >= at[nm + 1.0]
        assert swatch.lambda_max_nm is not None
        assert at[swatch.lambda_max_nm] == max(height for _, height in swatch.maxima)


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
    (found,) = ladder({"butterfly-pea": 0.0}, [7.0], jar_view()).swatches
    assert (found.lambda_max_nm, found.maxima) == (None, ())
    assert found.word == "colourless"


def test_ladder_has_the_published_colour_keys_and_is_json() -> None:
    swatches = ladder(STRENGTHS, PH, jar_view()).swatches
    assert [swatch.ph for swatch in swatches] == PH
    keys = {"ph", "hex", "lab", "hue_deg", "word", "in_gamut", "visibility_delta_e"}
    first = json.loads(json.dumps(vars(swatches[0])))
    assert keys <= set(first)
    assert len(first["lab"]) == 3


def test_ladder_of_one_rung_is_the_same_rung() -> None:
    alone, several = (ladder(STRENGTHS, ph, jar_view()).swatches for ph in ([7.0], PH))
    one, many = alone[0], several[2]
    assert (one.ph, one.hex, one.phrase) == (many.ph, many.hex, many.phrase)
    np.testing.assert_allclose(one.lab, many.lab)


def test_importing_the_room_loads_nothing_heavy() -> None:
    script = (
        "import sys, indicator, indicator.ladders, indicator.words;"
        "heavy = {'colour', 'matplotlib', 'scipy.optimize', 'scipy.stats'} & set(sys.modules);"
        "sys.exit(repr(heavy) if heavy else 0)"
    )
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0
