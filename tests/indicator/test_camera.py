"""Cameras of which the pictures of the photo mat are expected to be made."""

from __future__ import annotations

import importlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from indicator.absorbance import WAVELENGTH_NM, form_fractions, form_spectra
from indicator.camera import (
    LIGHTS,
    camera_names,
    picture_weights,
    ways_to_differ,
    with_saturation,
)
from indicator.cie import delta_e, lab_from_xyz
from indicator.optics import mat_view
from indicator.pigments import colourant
from indicator.srgb import lab_from_linear

REFERENCE = Path(__file__).parents[1] / "reference"


@pytest.fixture(scope="module")
def camera() -> Any:
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(REFERENCE))
        yield importlib.import_module("camera")


def test_white_is_white_in_every_light() -> None:
    weights = picture_weights(LIGHTS)
    assert weights.shape == (len(camera_names()) * len(LIGHTS), len(WAVELENGTH_NM), 3)
    np.testing.assert_allclose(weights.sum(axis=1), 1.0, atol=1e-3)


def test_a_chart_in_daylight_has_its_colours() -> None:
    """24 patches measured by N. Ohta in D65, with the 2 degree observer (colour library)."""
    colour = importlib.import_module("colour")

    def on_grid(known: Any) -> Any:
        columns = np.atleast_2d(known.values.T)
        return np.array([np.interp(WAVELENGTH_NM, known.wavelengths, one) for one in columns])

    chart = colour.SDS_COLOURCHECKERS["ColorChecker N Ohta"].values()
    patches = np.concatenate([on_grid(patch) for patch in chart])
    matching = on_grid(colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"])
    weights = on_grid(colour.SDS_ILLUMINANTS["D65"]) * matching
    true = lab_from_xyz(
        patches @ weights.T / weights[1].sum(), weights.sum(axis=1) / weights[1].sum()
    )
    for camera_has in picture_weights(("D65",)):
        away = delta_e(true, lab_from_linear(patches @ camera_has))
        # Matrices of such cameras miss the patches by 1 to 2 on the average (reports of profiles
        # made of measured sensitivities); a wrong channel or wavelength misses by far more.
        assert away.mean() < 3.0


def test_cameras_that_are_not_known_differ_in_the_ways_that_are(camera: Any) -> None:
    assert not {name.split(" (")[0] for name in camera.CAMERAS} & set(camera_names())
    pea = colourant("butterfly-pea")
    absorbance = 0.07 * form_fractions(pea, camera.ADVISED_PH) @ form_spectra(pea)
    seen = mat_view(camera.DEPTH_CM).share(absorbance)
    weights = picture_weights(LIGHTS)
    ways = seen @ ways_to_differ(weights, seen, 5)
    flat = ways.reshape(len(ways), -1).T
    for name in camera.CAMERAS[:2]:
        raw = camera._power("LED-B5")[:, None] * camera.sensitivities(name)
        own = raw / raw.sum(axis=0) @ camera.matrix_to_srgb(camera.sensitivities(name)).T
        away = (seen @ (own - weights.mean(axis=0))).ravel()
        moves, *_ = np.linalg.lstsq(flat, away, rcond=None)
        assert np.abs(moves).max() < 3.0
        assert np.linalg.norm(away - flat @ moves) < 0.4 * np.linalg.norm(away)


def test_saturation_keeps_the_brightness_that_a_picture_has() -> None:
    colours = np.array([[0.2, 0.5, 0.9], [0.4, 0.4, 0.4]])
    stronger = with_saturation(colours, 1.2)
    # ITU-R BT.709, 3.2.
    luma = np.array([0.2126, 0.7152, 0.0722])
    np.testing.assert_allclose(stronger @ luma, colours @ luma, atol=1e-12)
    np.testing.assert_allclose(stronger[1], colours[1])
    np.testing.assert_allclose(np.ptp(stronger[0]), 1.2 * np.ptp(colours[0]))
    np.testing.assert_allclose(with_saturation(stronger, 1 / 1.2), colours)
