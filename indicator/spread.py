"""Spread: how far a colour may be off, by what is not known of its pigment.

Constants and heights of the spectra are drawn within their spreads; the colours of the draws lie
around the forecast as the truth may. How strong the infusion is, is another matter: it is known or
not known per brew, and is the caller's.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.absorbance import mixture_absorbance
from indicator.appearance import delta_e, lab_of
from indicator.colourants import Colourant, Constants, Strengths
from indicator.optics import View
from indicator.pigments import by_record
from indicator.tables import Sourced, row_named, value_of

Array = NDArray[np.float64]

SPREADS = "colour/spreads.csv"
READINGS = "colour/readings.csv"
DRAWS = 200
SEED = 8
OWN = "OWN"
MATRIX = "matrix"
"""Group of the brown matter of a crude extract, which differs most from batch to batch."""


@dataclass(frozen=True)
class ReadingError(Sourced):
    """Error of a maker's readings of one kind."""

    name: str
    absolute: float
    """Standard deviation [unit of the reading], as the next."""
    relative: float
    """A part of the reading, for a colour of its chroma."""
    gain_sd: float
    """Relative standard deviation of the light that all readings share."""


def reading_error(kind: str) -> ReadingError:
    """Error of readings of a kind.

    Parameters
    ----------
    kind : str
        A row of ``data/colour/readings.csv``, such as ``"hex"``, ``"photograph"`` or
        ``"ph_meter"``.

    Raises
    ------
    ValueError
        If there is none of that name.

    Examples
    --------
    >>> reading_error("photograph").absolute
    3.0
    """
    return row_named(READINGS, ReadingError, kind, "reading")


def cast_error(cast: ArrayLike) -> Array:
    """Standard deviation that a coloured white adds to colours beside it [CIELAB units].

    Parameters
    ----------
    cast : array_like
        Brightest over darkest linear channel of the white, from 1 up.
    """
    return np.asarray(reading_error("cast").absolute * np.log(np.asarray(cast, dtype=np.float64)))


@dataclass(frozen=True)
class Draws:
    """A colourant drawn many times within what is known of it."""

    pka: Array
    """Shape (draws, forms)."""
    heights: Array
    """Factor on the spectrum of each form, shape (draws, forms)."""


def height_sd(which: Colourant) -> Array:
    """Relative standard deviation of the height of each form's spectrum, shape (forms,).

    The mean over the form's bands by their heights. That of the form which the strength refers to
    is 0, because the strength carries it.
    """
    spreads, known = np.zeros(len(which.forms)), dict(which.height_sds)
    for place, form in enumerate(which.forms[1:], start=1):
        heights = [(band.height, band.confidence) for band in which.bands if band.form == form.form]
        heights += [(max(table.height), OWN) for table in which.spectra if table.form == form.form]
        whole = sum(height for height, _ in heights)
        if form.form in known:
            spreads[place] = known[form.form]
        elif form.group == MATRIX:
            spreads[place] = value_of(SPREADS, "matrix_height")
        elif whole > 0:
            parts = (
                height * value_of(SPREADS, f"form_height_{trusted}") for height, trusted in heights
            )
            spreads[place] = sum(parts) / whole
    return spreads


@lru_cache(maxsize=16)
def draws_of(which: Colourant, count: int = DRAWS, seed: int = SEED) -> Draws:
    """Draw a colourant's constants (normally) and heights (log-normally) within their spreads.

    Parameters
    ----------
    which : Colourant
        What is drawn.
    count : int
        Number of draws.
    seed : int
        The same seed gives the same draws.

    Returns
    -------
    Draws
    """
    random = np.random.default_rng(seed)
    deviation = np.array([row.pka_sd or 0.0 for row in which.forms])
    pka = which.pka + deviation * random.standard_normal((count, len(which.forms)))
    heights = np.exp(height_sd(which) * random.standard_normal((count, len(which.forms))))
    return Draws(pka, heights)


def drawn_absorbance(
    strengths: Strengths,
    ph: ArrayLike,
    pka: Constants | None = None,
) -> Array:
    """Absorbance of a mixture, with another draw of its colourants along the first axis.

    Parameters
    ----------
    strengths : mapping of Colourant or str to array_like
        As in `mixture_absorbance`; they broadcast with the pH.
    ph : array_like
        pH, shape (draws, ...).
    pka : mapping of Colourant or str to array_like, optional
        Where the constants of some colourants lie, shape (forms,), if not where their tables say.

    Returns
    -------
    numpy.ndarray
        Shape (draws, ..., wavelengths) [1/cm].
    """
    acidity = np.asarray(ph, dtype=np.float64)
    count, axes = len(acidity), (1,) * (acidity.ndim - 1)
    constants, heights, known = {}, {}, by_record(pka or {})
    for place, which in enumerate(by_record(strengths)):
        drawn = draws_of(which, count, SEED + place)
        shape = (count, *axes, len(which.forms))
        moved = np.asarray(known.get(which, which.pka)) - which.pka
        constants[which] = (drawn.pka + moved).reshape(shape)
        heights[which] = drawn.heights.reshape(shape)
    return mixture_absorbance(strengths, acidity, constants, heights)


def drawn_labs(
    strengths: Strengths,
    ph: ArrayLike,
    view: View,
    count: int = DRAWS,
    pka: Constants | None = None,
) -> Array:
    """CIELAB of a mixture at the same pH for every draw, shape (draws, ..., 3).

    Parameters
    ----------
    strengths : mapping of Colourant or str to array_like
        As in `mixture_absorbance`.
    ph : array_like
        pH, shape (...).
    view : View
        How it is looked at.
    count : int
        Number of draws.
    pka : mapping of Colourant or str to array_like, optional
        As in `drawn_absorbance`.

    Returns
    -------
    numpy.ndarray
        Shape (draws, ..., 3).
    """
    acidity = np.asarray(ph, dtype=np.float64)
    same = np.broadcast_to(acidity, (count, *acidity.shape))
    return lab_of(drawn_absorbance(strengths, same, pka), view)


def spread_delta_e(
    strengths: Strengths,
    ph: ArrayLike,
    view: View,
    forecast_lab: ArrayLike,
    count: int = DRAWS,
) -> Array:
    """90 % quantile of the CIEDE2000 between a forecast and its draws.

    Parameters
    ----------
    strengths : mapping of Colourant or str to array_like
        As in `mixture_absorbance`.
    ph : array_like
        pH, shape (...).
    view : View
        How it is looked at.
    forecast_lab : array_like
        The forecast, shape (..., 3).
    count : int
        Number of draws.

    Returns
    -------
    numpy.ndarray
        Shape (...).
    """
    away = delta_e(np.asarray(forecast_lab)[None], drawn_labs(strengths, ph, view, count))
    return np.asarray(np.quantile(away, 0.9, axis=0))
