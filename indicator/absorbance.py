"""Absorbance of a mixture of colourants, per centimetre: speciation times spectra."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.colourants import BandRow, Colourant, Constants, FormRow, Strengths
from indicator.pigments import by_record

Array = NDArray[np.float64]

WAVELENGTH_NM: Array = np.arange(380.0, 780.5, 5.0)
"""Wavelengths of every spectrum [nm]; always the last axis."""
WAVELENGTH_NM.setflags(write=False)


def form_fractions(which: Colourant, ph: ArrayLike, pka: ArrayLike | None = None) -> Array:
    """Speciation of a colourant: the share of every form within its group at a pH.

    Parameters
    ----------
    which : Colourant
        Its forms and apparent pKa's.
    ph : array_like
        pH, any shape.
    pka : array_like, optional
        Other apparent pKa's in the order of the forms, shape (..., forms), whose batch axes
        broadcast with ``ph``; those of first forms do not matter. `Colourant.pka` if not given.

    Returns
    -------
    numpy.ndarray
        Shape (..., forms) in the order of `Colourant.forms`; each group sums to 1.

    Examples
    --------
    >>> from indicator.pigments import colourant
    >>> cabbage = colourant("red-cabbage")
    >>> round(float(form_fractions(cabbage, 1.0)[0]), 2)
    1.0
    """
    acidity = np.asarray(ph, dtype=np.float64)
    constants = which.pka if pka is None else np.asarray(pka, dtype=np.float64)
    lost, log_beta = _cumulative(which.forms, constants)
    exponent = acidity[..., None] * lost + log_beta
    fractions = np.empty_like(exponent)
    groups = np.array([form.group for form in which.forms])
    for group in dict.fromkeys(groups):
        members = groups == group
        # The largest exponent is taken out so that no pH overflows.
        part = exponent[..., members]
        share = 10.0 ** (part - part.max(axis=-1, keepdims=True))
        fractions[..., members] = share / share.sum(axis=-1, keepdims=True)
    return fractions


def _cumulative(forms: tuple[FormRow, ...], pka: Array) -> tuple[Array, Array]:
    """Protons lost since the first form of the group, and log10 of the constant for it."""
    places = {form.form: place for place, form in enumerate(forms)}
    lost, log_beta = np.zeros(len(forms)), np.zeros(pka.shape)
    for place, form in enumerate(forms):
        if form.from_form:
            before = places[form.from_form]
            lost[place] = lost[before] + form.protons
            log_beta[..., place] = log_beta[..., before] - form.protons * pka[..., place]
    return lost, log_beta


def band(row: BandRow, wavelength_nm: ArrayLike) -> Array:
    """Absorption of one band at the given wavelengths, in the unit of its height.

    Parameters
    ----------
    row : BandRow
        Its shape, centre, width and height.
    wavelength_nm : array_like
        Any shape [nm].

    Returns
    -------
    numpy.ndarray
        In the shape of the wavelengths.
    """
    away = (np.asarray(wavelength_nm, dtype=np.float64) - row.centre_nm) / row.width_nm
    if row.shape == "exponential":
        return np.asarray(row.height * np.exp(-away))
    return np.asarray(row.height * np.exp(-4.0 * np.log(2.0) * away**2))


def form_spectra(which: Colourant, wavelength_nm: ArrayLike = WAVELENGTH_NM) -> Array:
    """Spectrum of every form of a colourant at strength 1.

    Parameters
    ----------
    which : Colourant
        Its bands and tables.
    wavelength_nm : array_like
        Shape (wavelengths,) [nm].

    Returns
    -------
    numpy.ndarray
        Shape (forms, wavelengths): per cm at pH-1 absorbance 1, or L/(mol cm) for a dye.
    """
    spectra = np.zeros((len(which.forms), np.size(wavelength_nm)))
    for place, form in enumerate(which.forms):
        for row in which.bands:
            if row.form == form.form:
                spectra[place] += band(row, wavelength_nm)
        for table in which.spectra:
            if table.form == form.form:
                at = np.asarray(wavelength_nm, dtype=np.float64)
                spectra[place] += np.interp(at, table.wavelength_nm, table.height)
    return spectra


@lru_cache(maxsize=64)
def _spectra(which: Colourant) -> Array:
    return form_spectra(which)


def mixture_absorbance(
    strengths: Strengths,
    ph: ArrayLike,
    pka: Constants | None = None,
    heights: Constants | None = None,
    wavelength_nm: ArrayLike | None = None,
) -> Array:
    """Decadic absorbance per cm of a liquid with several colourants.

    Parameters
    ----------
    strengths : mapping of Colourant or str to array_like
        Colourant, or the name of a shipped one, to its strength in this liquid: of a pigment its
        pH-1 absorbance per cm, of a dye its molarity [mol/L]. Broadcasts with ``ph``.
    ph : array_like
        pH of the liquid.
    pka : mapping of Colourant or str to array_like, optional
        Other apparent pKa's of some colourants, as `form_fractions` takes them.
    heights : mapping of Colourant or str to array_like, optional
        Factors on the spectra of some colourants' forms, shape (..., forms).
    wavelength_nm : array_like, optional
        Shape (wavelengths,) [nm]; `WAVELENGTH_NM` if not given.

    Returns
    -------
    numpy.ndarray
        Shape (..., wavelengths) [1/cm]. Beer–Lambert: contributions add and scale with strength.

    Raises
    ------
    ValueError
        If a colourant is unknown or a strength is negative.

    Examples
    --------
    A dye and a pigment in water of pH 3 and of pH 7:

    >>> mixture_absorbance({"butterfly-pea": 0.5, "tartrazine": 1e-5}, [3.0, 7.0]).shape
    (2, 81)
    """
    acidity = np.asarray(ph, dtype=np.float64)
    amounts, moved, scaled = (by_record(given or {}) for given in (strengths, pka, heights))
    for which, strength in amounts.items():
        if np.any(strength < 0):
            least = f"{strength.min():g}"
            raise ValueError(f"strength of {which.name!r} is {least}; accepted is 0 or more")
    shape = np.broadcast_shapes(acidity.shape, *(amount.shape for amount in amounts.values()))
    wide = len(WAVELENGTH_NM) if wavelength_nm is None else np.size(wavelength_nm)
    total = np.zeros((*shape, wide))
    for which, strength in amounts.items():
        fractions = form_fractions(which, acidity, moved.get(which)) * scaled.get(which, 1.0)
        known = _spectra(which) if wavelength_nm is None else form_spectra(which, wavelength_nm)
        total = total + strength[..., None] * (fractions @ known)
    return total
