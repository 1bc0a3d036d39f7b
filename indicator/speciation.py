"""Speciation: the share of each form of a colourant at a pH."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.pigments import Colourant, FormRow

Array = NDArray[np.float64]


def form_fractions(colourant: Colourant, ph: ArrayLike) -> Array:
    """Share of every form within its group.

    Parameters
    ----------
    colourant : Colourant
        Its forms and apparent pKa's.
    ph : array_like
        pH, any shape.

    Returns
    -------
    numpy.ndarray
        Shape (..., forms) in the order of `Colourant.forms`; each group sums to 1.
    """
    acidity = np.asarray(ph, dtype=np.float64)
    lost, log_beta = _cumulative(colourant.forms)
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


def _cumulative(forms: tuple[FormRow, ...]) -> tuple[Array, Array]:
    """Protons lost since the first form of the group, and log10 of the constant for it."""
    lost: dict[str, int] = {}
    log_beta: dict[str, float] = {}
    for form in forms:
        if form.from_form and form.pka is not None:
            lost[form.form] = lost[form.from_form] + form.protons
            log_beta[form.form] = log_beta[form.from_form] - form.protons * form.pka
        else:
            lost[form.form], log_beta[form.form] = 0, 0.0
    names = [form.form for form in forms]
    return (
        np.array([lost[name] for name in names], dtype=np.float64),
        np.array([log_beta[name] for name in names]),
    )
