"""Spectra of a liquid at several pH values: their maxima, and the colours seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.absorbance import mixture_absorbance
from indicator.appearance import SeenColour, seen
from indicator.colourants import Strengths
from indicator.optics import View

Array = NDArray[np.float64]

FINE_NM: Array = np.arange(380.0, 780.5, 1.0)
"""Wavelengths of a spectrum that is told [nm]: finer than those that colours are summed over."""
FINE_NM.setflags(write=False)
LEAST_SHARE = 0.05
"""A maximum lower than this share of the highest absorbance is a ripple, not a band."""


@dataclass(frozen=True)
class Spectrum:
    """Absorbance of a liquid at one pH, and the colour that is seen."""

    ph: float
    absorbance: Array
    """Decadic, on `FINE_NM` [1/cm]."""
    lambda_max_nm: float | None
    """Wavelength of the highest maximum [nm]; None if the curve only rises, falls or is zero."""
    absorbance_max: float
    """Absorbance there, else the highest of all [1/cm]."""
    maxima: tuple[tuple[float, float], ...]
    """Wavelength [nm] and absorbance [1/cm] of every maximum, the shortest wave first."""
    hex: str
    word: str
    phrase: str
    in_gamut: bool


def maxima(absorbance: ArrayLike) -> list[int]:
    """Places of the maxima of one spectrum; the two ends are none, nor is a ripple.

    Parameters
    ----------
    absorbance : array_like
        Shape (wavelengths,).
    """
    heights = np.asarray(absorbance, dtype=np.float64)
    rising = np.diff(heights) > 0.0
    tops = np.flatnonzero(rising[:-1] & ~rising[1:]) + 1
    return [int(top) for top in tops if heights[top] >= LEAST_SHARE * heights.max()]


def spectra(strengths: Strengths, ph_values: Sequence[float], view: View) -> list[Spectrum]:
    """Spectra of a liquid with their maxima and the colours seen.

    Parameters
    ----------
    strengths : mapping of Colourant or str to float
        Colourant to its strength: pH-1 absorbance per cm, or mol/L for a dye.
    ph_values : sequence of float
        In the order they are shown.
    view : View
        Vessel, light and observer.

    Returns
    -------
    list of Spectrum
        One for each pH.

    Raises
    ------
    ValueError
        If a colourant or the light is unknown, or a strength is negative.
    """
    curves = mixture_absorbance(strengths, ph_values, wavelength_nm=FINE_NM)
    colours = seen(mixture_absorbance(strengths, ph_values), view).steady()
    return [
        _spectrum(float(ph), curve, colours.at(k))
        for k, (ph, curve) in enumerate(zip(ph_values, curves, strict=True))
    ]


def _spectrum(ph: float, curve: Array, colour: SeenColour) -> Spectrum:
    places = maxima(curve)
    highest = max(places, key=lambda place: curve[place], default=None)
    return Spectrum(
        ph=ph,
        absorbance=curve,
        lambda_max_nm=None if highest is None else float(FINE_NM[highest]),
        absorbance_max=float(curve.max() if highest is None else curve[highest]),
        maxima=tuple((float(FINE_NM[place]), float(curve[place])) for place in places),
        hex=str(colour.hex),
        word=str(colour.word),
        phrase=str(colour.phrase),
        in_gamut=bool(colour.in_gamut),
    )
