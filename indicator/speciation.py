"""Speciation: the share of each form of a colourant at a pH."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.pigments import Colourant, FormRow

Array = NDArray[np.float64]


def form_fractions(colourant: Colourant, ph: ArrayLike, pka: ArrayLike | None = None) -> Array:
    """Speciation of a colourant: the share of every form within its group at a pH.

    Parameters
    ----------
    colourant : Colourant
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
    constants = colourant.pka if pka is None else np.asarray(pka, dtype=np.float64)
    lost, log_beta = _cumulative(colourant.forms, constants)
    exponent = acidity[..., None] * lost + log_beta
    fractions = np.empty_like(exponent)
    groups = np.array([form.group for form in colourant.forms])
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
