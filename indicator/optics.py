"""Optics: what share of the light at each wavelength reaches the eye from tub, bottle or jar."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.tables import DataError, read_table

Array = NDArray[np.float64]


@dataclass(frozen=True)
class _ViewRow:
    name: str
    value: float
    low: float | None
    high: float | None
    unit: str
    source: str
    confidence: str


@dataclass(frozen=True)
class View:
    """How a liquid is looked at."""

    kind: str
    """``"tub"`` (down through the water onto a white floor and back) or ``"bottle"``, ``"jar"``
    (once through, against white)."""
    path_cm: float
    """Depth of the tub, or inner width of the vessel [cm]."""
    light: str
    """Name in ``data/colour/lights.csv``."""
    observer_deg: int
    """Field of view of the standard observer, 2 or 10."""
    floor_reflectance: float = 0.0
    """Share of light that the floor of the tub turns back."""
    obliquity: float = 1.0
    """Path over depth of one pass."""
    outer_reflection: float = 0.0
    inner_reflection: float = 0.0
    included_reflection: float = 0.0

    def share(self, absorbance_per_cm: ArrayLike) -> Array:
        """Share of light that reaches the eye.

        Parameters
        ----------
        absorbance_per_cm : array_like
            Shape (..., wavelengths) [1/cm].
        """
        if self.kind != "tub":
            return transmitted(absorbance_per_cm, self.path_cm)
        return tub_reflectance(
            absorbance_per_cm,
            self.path_cm,
            obliquity=self.obliquity,
            floor_reflectance=self.floor_reflectance,
            outer_reflection=self.outer_reflection,
            inner_reflection=self.inner_reflection,
            included_reflection=self.included_reflection,
        )


def transmitted(absorbance_per_cm: ArrayLike, path_cm: ArrayLike) -> Array:
    """Transmittance of one straight pass.

    Parameters
    ----------
    absorbance_per_cm : array_like
        Decadic absorbance, shape (..., wavelengths) [1/cm].
    path_cm : array_like
        Path [cm]; broadcasts with the batch axes.
    """
    path = np.asarray(path_cm, dtype=np.float64)
    return np.asarray(10.0 ** (-np.asarray(absorbance_per_cm) * path[..., None]))


def tub_reflectance(
    absorbance_per_cm: ArrayLike,
    depth_cm: ArrayLike,
    *,
    obliquity: float,
    floor_reflectance: float,
    outer_reflection: float,
    inner_reflection: float,
    included_reflection: float,
) -> Array:
    """Reflectance of a tub of clear water: in, down, off the floor, up, with inner reflections.

    Parameters
    ----------
    absorbance_per_cm : array_like
        Decadic absorbance, shape (..., wavelengths) [1/cm].
    depth_cm : array_like
        Depth of the water [cm]; broadcasts with the batch axes.
    obliquity : float
        Path over depth of one pass: 1 looking straight down in directed light, 2 fully diffuse.
    floor_reflectance : float
        Share of light that the floor turns back.
    outer_reflection, inner_reflection : float
        Share turned back by the surface from above and from below.
    included_reflection : float
        Part of the outer reflection that the eye looks into.

    Returns
    -------
    numpy.ndarray
        R = k_f + (1 - k_s)(1 - k_i) R_g T² / (1 - k_i R_g T²), T = 10^(-m A d).

    Source: Saunderson 1942, J. Opt. Soc. Am. 32:727 (surface correction).
    """
    pass_through = transmitted(absorbance_per_cm, obliquity * np.asarray(depth_cm, dtype=float))
    ground = floor_reflectance * pass_through**2
    seen = (1.0 - outer_reflection) * (1.0 - inner_reflection) * ground
    return np.asarray(included_reflection + seen / (1.0 - inner_reflection * ground))


def tub_view(depth_cm: float, light: str = "D65") -> View:
    """A white tub looked into from above."""
    return View(
        kind="tub",
        path_cm=float(depth_cm),
        light=light,
        observer_deg=int(view_value("tub_observer")),
        floor_reflectance=view_value("floor_reflectance"),
        obliquity=view_value("obliquity"),
        outer_reflection=view_value("outer_reflection"),
        inner_reflection=view_value("inner_reflection"),
        included_reflection=view_value("included_reflection"),
    )


def bottle_view(path_cm: float | None = None, light: str = "D65") -> View:
    """A clear bottle against white."""
    return _single_pass("bottle", path_cm, light)


def jar_view(path_cm: float | None = None, light: str = "D65") -> View:
    """A jar against white, looked through sideways."""
    return _single_pass("jar", path_cm, light)


def _single_pass(kind: str, path_cm: float | None, light: str) -> View:
    path = view_value(f"{kind}_path") if path_cm is None else float(path_cm)
    return View(kind, path, light, int(view_value("small_observer")))


@cache
def view_value(name: str) -> float:
    """Value of one row of ``data/colour/views.csv``."""
    for row in read_table("colour/views.csv", _ViewRow):
        if row.name == name:
            return float(row.value)
    raise DataError(f"data/colour/views.csv has no row {name!r}")
