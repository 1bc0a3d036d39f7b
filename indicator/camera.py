"""Cameras: what a picture shows of a liquid before the tones are bent, and how cameras differ.

A camera balances a light in its own channels, which are not those of the eye, and turns them into
sRGB by a matrix of its own. Nobody knows which camera took a picture, nor in which light: what
several measured cameras make of several lights is taken as a mean and a few ways to differ from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.absorbance import WAVELENGTH_NM
from indicator.appearance import power_of
from indicator.tables import Sourced, read_table

Array = NDArray[np.float64]

CAMERAS = "colour/camera.csv"
LIGHTS = ("D65", "LED-neutral", "LED-warm", "A")
"""In which pictures are taken, from the shade to a filament lamp."""
LUMA = np.array([0.2126, 0.7152, 0.0722])
"""Shares of the channels in the brightness of a picture (ITU-R BT.709)."""


@dataclass(frozen=True, kw_only=True)
class _Sensitivity(Sourced):
    camera: str
    nm: float
    red: float
    green: float
    blue: float


@dataclass(frozen=True, kw_only=True)
class _ToSrgb(Sourced):
    camera: str
    first: float
    second: float
    third: float


def camera_names() -> tuple[str, ...]:
    """Cameras whose sensitivities are known."""
    return tuple(dict.fromkeys(row.camera for row in read_table(CAMERAS, _Sensitivity)))


def sensitivities(camera: str) -> Array:
    """Sensitivities of a camera, relative, on the grid of the spectra, shape (wavelengths, 3)."""
    rows = [row for row in read_table(CAMERAS, _Sensitivity) if row.camera == camera]
    nm, *channels = np.array([(row.nm, row.red, row.green, row.blue) for row in rows]).T
    return np.stack([np.interp(WAVELENGTH_NM, nm, one, 0.0, 0.0) for one in channels], axis=-1)


@cache
def picture_weights(lights: tuple[str, ...]) -> Array:
    """Weights that turn a reflectance into linear sRGB over that of a perfect white.

    Parameters
    ----------
    lights : tuple of str
        As `indicator.appearance.light_name` gives them.

    Returns
    -------
    numpy.ndarray
        Of every camera in every light, shape (cameras x lights, wavelengths, 3).
    """
    rows = read_table("colour/camera_matrices.csv", _ToSrgb)
    weights = []
    for camera in camera_names():
        to_srgb = np.array([(r.first, r.second, r.third) for r in rows if r.camera == camera])
        for light in lights:
            raw = power_of(light)[:, None] * sensitivities(camera)
            weights.append(raw / raw.sum(axis=0) @ to_srgb.T)
    return np.array(weights)


def ways_to_differ(weights: Array, reflectance: Array, most: int) -> Array:
    """Main ways in which pictures of the same liquids differ from the mean picture.

    Parameters
    ----------
    weights : numpy.ndarray
        Of `picture_weights`, shape (pictures, wavelengths, 3).
    reflectance : numpy.ndarray
        Of such liquids, shape (liquids, wavelengths).
    most : int
        Number of ways.

    Returns
    -------
    numpy.ndarray
        Each of one standard deviation, to be added to the mean of the weights, shape
        (ways, wavelengths, 3).
    """
    away = weights - weights.mean(axis=0)
    shown = (reflectance @ away).reshape(len(away), -1)
    mixed, _, _ = np.linalg.svd(shown, full_matrices=False)
    ways = np.tensordot(mixed[:, :most].T, away, axes=1)
    # Variance of one more camera by a few known ones: that of Student's t, and of their mean.
    count = len(camera_names())
    few = (count + 1.0) * (count - 1.0) / (count * (count - 3.0))
    return np.asarray(ways * np.sqrt(few / (len(away) - 1.0)))


def with_saturation(encoded: ArrayLike, times: ArrayLike) -> Array:
    """Colours made stronger around their brightness, as cameras do after they bent the tones.

    Parameters
    ----------
    encoded : array_like
        sRGB, 0 to 1, shape (..., 3).
    times : array_like
        1 leaves all as it is; broadcast against `encoded`.

    Returns
    -------
    numpy.ndarray
        Shape (..., 3).
    """
    colours = np.asarray(encoded, dtype=np.float64)
    grey = (colours @ LUMA)[..., None]
    return np.asarray(grey + np.asarray(times) * (colours - grey))
