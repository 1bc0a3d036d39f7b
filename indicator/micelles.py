"""Micelles: what the surfactants of a foam bath do to the first constants of a pigment.

Anionic micelles hold the flavylium cation, so that a bottle looks redder than its pH says. In the
tub the surfactants are thinned to about their critical micelle concentration, where this ends.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.colourants import Colourant, Range
from indicator.tables import Sourced, read_table, value_of

Array = NDArray[np.float64]

SPREADS = "colour/spreads.csv"
CATION = "flavylium"
"""Form that micelles hold; every constant that starts from it moves."""


@dataclass(frozen=True)
class _MicelleRow(Sourced):
    kind: str
    shift: float
    low: float
    high: float
    cmc: float
    cmc_low: float
    cmc_high: float
    cmc_confidence: str


@dataclass(frozen=True)
class Shift:
    """By how much the first constants move [pH]; nine cases in ten lie from low to high."""

    best: Array
    low: Array
    high: Array


def surfactant_kinds() -> tuple[str, ...]:
    """Kinds of surfactants by the charge of their heads."""
    return tuple(row.kind for row in read_table("colour/micelles.csv", _MicelleRow))


def micelle_shift(surfactants_g_l: Mapping[str, ArrayLike], measured: Range | None = None) -> Shift:
    """Shift of a pigment's first constants in a liquid with surfactants.

    Parameters
    ----------
    surfactants_g_l : mapping of str to array_like
        Kind to its concentration of active matter [g/L]; they broadcast.
    measured : Range, optional
        What a calibration found far above the critical concentration [pH]; it takes the place of
        what is expected of the kinds.

    Returns
    -------
    Shift
        In the shape of the concentrations. Nothing at or below the critical micelle concentration
        of the mixture; far above it the mean of the kinds by mass.

    Raises
    ------
    ValueError
        If a kind is unknown or a concentration negative.

    Source: Clint 1975, J. Chem. Soc. Faraday Trans. 1 71:1327 (ideal mixed micelles, here by mass).
    """
    rows = {row.kind: row for row in read_table("colour/micelles.csv", _MicelleRow)}
    given = {kind: np.asarray(grams, dtype=np.float64) for kind, grams in surfactants_g_l.items()}
    for kind, concentration in given.items():
        if kind not in rows:
            raise ValueError(f"surfactant is {kind!r}; accepted are {', '.join(rows)}")
        if np.any(concentration < 0):
            least = float(concentration.min())
            raise ValueError(f"{kind} surfactant is {least:g} g/L; accepted is 0 or more")
    total = np.asarray(sum(given.values()), dtype=np.float64)
    safe = np.where(total > 0, total, 1.0)
    shares = {kind: concentration / safe for kind, concentration in given.items()}
    over_critical = sum(share / rows[kind].cmc for kind, share in shares.items())
    critical = 1.0 / np.where(total > 0, over_critical, 1.0)
    in_micelles = np.maximum(total - critical, 0.0)
    bound = in_micelles / (in_micelles + value_of(SPREADS, "half_bound"))
    if measured is not None:
        return Shift(bound * measured.best, bound * measured.low, bound * measured.high)
    best, low, high = (
        np.asarray(bound * sum(share * getattr(rows[kind], key) for kind, share in shares.items()))
        for key in ("shift", "low", "high")
    )
    return Shift(best, low, high)


def has_cation(which: Colourant) -> bool:
    """Whether micelles move any of its constants."""
    return any(form.from_form == CATION for form in which.forms)


def shifted_pka(which: Colourant, shift: ArrayLike) -> Array:
    """Apparent pKa's of a colourant whose cation is held by micelles.

    Parameters
    ----------
    which : Colourant
        One without a flavylium keeps its constants.
    shift : array_like
        Shift of the first constants [pH], any shape.

    Returns
    -------
    numpy.ndarray
        Shape (..., forms); NaN for the first form of a group.
    """
    moved = np.array([form.from_form == CATION for form in which.forms], dtype=np.float64)
    return np.asarray(which.pka + np.asarray(shift, dtype=np.float64)[..., None] * moved)
