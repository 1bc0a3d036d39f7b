"""Spectra of liquids: their maxima, and how they are drawn."""

from __future__ import annotations

import io
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest
from matplotlib.colors import to_rgb

from indicator.absorbance import WAVELENGTH_NM, mixture_absorbance
from indicator.optics import View, beaker_view, jar_view, tub_view
from indicator.pigments import colourant_names
from indicator.sheet import write_picture
from indicator.spectrum_plot import (
    PLOTTED_NM,
    draw_spectra,
    liquid_spectrum,
    maxima,
    spectra,
)
from indicator.swatch import ladder

PEA = {"butterfly-pea": 0.1}
MIXED = {"butterfly-pea": 0.1, "tartrazine": 3e-6}


@pytest.mark.parametrize("name", colourant_names())
def test_the_fine_spectrum_is_the_one_that_colours_come_from(name: str) -> None:
    ph = np.linspace(1.0, 13.0, 7)
    strengths = {name: 0.3, "tartrazine": 2e-6}
    found = liquid_spectrum(strengths, ph, WAVELENGTH_NM)
    np.testing.assert_allclose(found, mixture_absorbance(strengths, ph), rtol=1e-12, atol=1e-15)
    fine = liquid_spectrum(strengths, ph)
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
        assert one.absorbance.shape == PLOTTED_NM.shape
        at = dict(zip(PLOTTED_NM, one.absorbance, strict=True))
        for nm, height in one.maxima:
            assert at[nm] == height
            assert at[nm - 1.0] < height >= at[nm + 1.0]
        assert one.lambda_max_nm in [nm for nm, _ in one.maxima]
        assert one.absorbance_max == max(height for _, height in one.maxima)
        (swatch,) = ladder(MIXED, [one.ph], beaker_view())
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


@pytest.mark.parametrize(
    ("strengths", "ph", "view"),
    [
        (PEA, [7.0], jar_view()),
        (MIXED, [3.0, 5.0, 7.0, 9.0], tub_view(25.0, observer_deg=2)),
        (PEA, [1.0, 3.0, 5.0, 7.0, 9.0, 11.0, 12.0], beaker_view(light="FL2")),
        ({"butterfly-pea": 0.0}, [1.0, 7.0], jar_view()),
        ({"tartrazine": 2e-3, "sunset-yellow": 1e-5, "allura-red": 1e-6}, [2.0, 7.0], jar_view()),
    ],
    ids=["one", "four", "seven", "water", "strong"],
)
def test_panels_show_ph_word_maximum_and_colour_and_nothing_meets(
    strengths: dict[str, float], ph: list[float], view: View
) -> None:
    shown = spectra(strengths, ph, view)
    figure = draw_spectra(strengths, shown, view)
    figure.canvas.draw()
    axes = figure.axes[0]
    words = [text.get_text().replace("\N{NO-BREAK SPACE}", " ") for text in axes.texts]
    for one in shown:
        assert f"pH {one.ph:.1f}" in words
        assert any(word.split(" \N{WHITE BULLET}")[0] == one.phrase for word in words)
        if one.lambda_max_nm is not None:
            assert f"{one.lambda_max_nm:.0f} nm" in words
    boxes = [text.get_window_extent() for text in axes.texts]
    for k, box in enumerate(boxes):
        assert figure.bbox.x0 <= box.x0 <= box.x1 <= figure.bbox.x1
        assert figure.bbox.y0 <= box.y0 <= box.y1 <= figure.bbox.y1
        meeting = [words[other] for other in range(k) if box.overlaps(boxes[other])]
        assert not meeting, (words[k], meeting)
    file = io.BytesIO()
    figure.savefig(file, format="png", dpi=80, facecolor=figure.get_facecolor())
    file.seek(0)
    pixels = np.asarray(matplotlib.image.imread(file))[..., :3].reshape(-1, 3)
    for one in shown:
        if one.absorbance.max() > 0.0:
            near = np.abs(pixels - to_rgb(one.hex)).max(axis=1) < 0.01
            assert near.mean() > 0.0007


def test_the_curve_that_is_drawn_is_the_spectrum() -> None:
    shown = spectra(PEA, [3.0, 7.0], jar_view())
    axes = draw_spectra(PEA, shown, jar_view()).axes[0]
    lines = [np.asarray(line.get_ydata(), dtype=float) for line in axes.lines]
    drawn = np.array([line for line in lines if len(line) == len(PLOTTED_NM)])
    heights = drawn - drawn[:, -1:]
    wanted = np.stack([one.absorbance - one.absorbance[-1] for one in shown])
    # One scale for all panels.
    scale = heights.max() / wanted.max()
    np.testing.assert_allclose(heights, scale * wanted, atol=1e-9)


@pytest.mark.slow
@pytest.mark.parametrize("ending", [".png", ".svg", ".pdf"])
def test_pictures_come_out_the_same_each_time(ending: str, tmp_path: Path) -> None:
    shown = spectra(MIXED, [3.0, 7.0], jar_view())
    files = [tmp_path / f"{name}{ending}" for name in ("first", "second")]
    for file in files:
        write_picture(draw_spectra(MIXED, shown, jar_view()), file)
    assert files[0].read_bytes() == files[1].read_bytes()
    assert len(list(tmp_path.iterdir())) == 2
