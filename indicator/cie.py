"""Colorimetry by the tables of the CIE: XYZ, CIELAB, CIEDE2000, adaptation by CAT16.

Observers, common lights and matrices come from ``data/colour/``, so that a plan need not load the
colour library; tests/indicator/test_cie.py holds every number against it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.tables import Sourced, columns_in, read_table

Array = NDArray[np.float64]

SPECTRA = "colour/standard_spectra.csv"
_KNEE = (6 / 29) ** 3
"""XYZ over white below which CIELAB is a straight line."""
_SLOPE, _FOOT = 1 / (3 * (6 / 29) ** 2), 4 / 29


@dataclass(frozen=True)
class _MatrixRow(Sourced):
    name: str
    first: float
    second: float
    third: float


def observer_functions(observer_deg: int) -> Array:
    """Colour-matching functions of a standard observer, shape (wavelengths, 3).

    Parameters
    ----------
    observer_deg : int
        2 (CIE 1931) or 10 (CIE 1964).

    Raises
    ------
    ValueError
        If there is no such observer.
    """
    if observer_deg not in (2, 10):
        raise ValueError(f"observer is {observer_deg}; accepted are 2 and 10")
    spectra = columns_in(SPECTRA)
    return np.stack([spectra[f"{axis}_{observer_deg}"] for axis in "xyz"], axis=-1)


def light_power(name: str) -> Array | None:
    """Relative power of an illuminant, shape (wavelengths,); None where the table has it not."""
    power = columns_in(SPECTRA).get(name.replace("-", "_"))
    return None if power is None else np.array(power)


@cache
def matrix(name: str) -> Array:
    """A matrix of ``data/colour/matrices.csv``, shape (3, 3)."""
    rows = read_table("colour/matrices.csv", _MatrixRow)
    return np.array([(row.first, row.second, row.third) for row in rows if row.name == name])


def adaptation(white: ArrayLike, target: ArrayLike) -> Array:
    """Matrix that adapts XYZ from one white to another by CAT16 (complete, von Kries).

    Parameters
    ----------
    white, target : array_like
        XYZ of the two whites, shape (3,).

    Returns
    -------
    numpy.ndarray
        Shape (3, 3).

    Source: Li et al. 2017, Color Res. Appl. 42:703.
    """
    cones = matrix("cat16")
    gain = (cones @ np.asarray(target)) / (cones @ np.asarray(white))
    return np.asarray(np.linalg.inv(cones) @ (gain[:, None] * cones))


def lab_from_xyz(xyz: ArrayLike, white: ArrayLike) -> Array:
    """CIELAB of tristimulus values.

    Parameters
    ----------
    xyz : array_like
        Shape (..., 3).
    white : array_like
        XYZ of the white in the same unit, shape (3,).

    Returns
    -------
    numpy.ndarray
        Shape (..., 3): L*, a*, b*.

    Source: CIE 15:2018, 8.2.1.
    """
    ratio = np.asarray(xyz, dtype=np.float64) / np.asarray(white)
    root = np.where(ratio > _KNEE, np.cbrt(ratio), _SLOPE * ratio + _FOOT)
    x, y, z = np.moveaxis(root, -1, 0)
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def xyz_from_lab(lab: ArrayLike, white: ArrayLike) -> Array:
    """Tristimulus values of CIELAB; the inverse of `lab_from_xyz`.

    Parameters
    ----------
    lab : array_like
        Shape (..., 3).
    white : array_like
        XYZ of the white, shape (3,).

    Returns
    -------
    numpy.ndarray
        Shape (..., 3), in the unit of the white.
    """
    lightness, red, yellow = np.moveaxis(np.asarray(lab, dtype=np.float64), -1, 0)
    y = (lightness + 16.0) / 116.0
    root = np.stack([y + red / 500.0, y, y - yellow / 200.0], axis=-1)
    return np.asarray(np.where(root > 6 / 29, root**3, (root - _FOOT) / _SLOPE) * np.asarray(white))


def delta_e(lab_a: ArrayLike, lab_b: ArrayLike) -> Array:
    """CIEDE2000 colour difference; above about 5 it ranks differences, it does not measure them.

    Parameters
    ----------
    lab_a, lab_b : array_like
        CIELAB, shapes (..., 3) that broadcast.

    Returns
    -------
    numpy.ndarray
        Shape (...).

    Source: CIE 142-2001; Sharma, Wu and Dalal 2005, Color Res. Appl. 30:21.
    """
    (l_a, a_a, b_a), (l_b, a_b, b_b) = (
        np.moveaxis(np.asarray(lab, dtype=np.float64), -1, 0) for lab in (lab_a, lab_b)
    )
    stretch = 1.5 - 0.5 * _strong(0.5 * (np.hypot(a_a, b_a) + np.hypot(a_b, b_b)))
    a_a, a_b = stretch * a_a, stretch * a_b
    c_a, c_b = np.hypot(a_a, b_a), np.hypot(a_b, b_b)
    h_a, h_b = np.arctan2(b_a, a_a) % (2 * np.pi), np.arctan2(b_b, a_b) % (2 * np.pi)
    grey = (c_a * c_b) == 0.0
    turn = np.where(grey, 0.0, h_b - h_a)
    over = np.abs(turn) > np.pi
    hue = np.where(grey, h_a + h_b, 0.5 * (h_a + h_b))
    hue = np.where(over, hue + np.where(h_a + h_b < 2 * np.pi, np.pi, -np.pi), hue)
    turn = np.where(over, turn - np.copysign(2 * np.pi, turn), turn)
    lightness, chroma = 0.5 * (l_a + l_b), 0.5 * (c_a + c_b)
    hues = (
        1.0
        - 0.17 * np.cos(hue - np.radians(30.0))
        + 0.24 * np.cos(2.0 * hue)
        + 0.32 * np.cos(3.0 * hue + np.radians(6.0))
        - 0.20 * np.cos(4.0 * hue - np.radians(63.0))
    )
    off_middle = (lightness - 50.0) ** 2
    d_lightness = (l_b - l_a) / (1.0 + 0.015 * off_middle / np.sqrt(20.0 + off_middle))
    d_chroma = (c_b - c_a) / (1.0 + 0.045 * chroma)
    d_hue = 2.0 * np.sqrt(c_a * c_b) * np.sin(0.5 * turn) / (1.0 + 0.015 * chroma * hues)
    blue = np.radians(60.0) * np.exp(-(((np.degrees(hue) - 275.0) / 25.0) ** 2))
    rotated = -2.0 * np.sin(blue) * _strong(chroma) * d_chroma * d_hue
    return np.asarray(np.sqrt(d_lightness**2 + d_chroma**2 + d_hue**2 + rotated))[()]


def _strong(chroma: Array) -> Array:
    """How far a chroma counts as strong, 0 to 1, in CIEDE2000."""
    seventh = chroma**7
    return np.sqrt(seventh / (seventh + 25.0**7))
