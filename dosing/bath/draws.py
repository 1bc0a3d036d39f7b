"""Evenly spread numbers for what is not known of a tub, and the spreads that are laid on them."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from dosing.equilibrium import Array
from dosing.ingredients.trade_values import NINE_IN_TEN, typical
from indicator.tables import Number

MANY_TUBS = 5000
"""From which loading the quantiles of a library is quicker than working out each."""
PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31)
"""Bases of the sequence, one for each uncertain quantity."""


def gas_lost_filling(normal: Array) -> Array:
    """Share of the gas beyond that of the air that leaves a tap's water, by normal numbers."""
    odds = np.exp(
        between(typical("gas_lost_filling"), normal, lambda share: np.log(share / (1.0 - share)))
    )
    return np.asarray(odds / (1.0 + odds))


def room_air_co2_ppm(normal: Array) -> Array:
    """Carbon dioxide of the air of bathrooms, by normal numbers [ppm]."""
    return np.asarray(np.exp(between(typical("room_air_co2"), normal, np.log)))


def between(usual: Number, normal: Array, scale: Callable[[float], float]) -> Array:
    """A number with normal sides of their own, on a scale.

    Parameters
    ----------
    usual : Number
        Its value, and ends between which nine cases in ten lie.
    normal : numpy.ndarray
        Standard normal numbers.
    scale : callable
        On which it is normal to either side.

    Returns
    -------
    numpy.ndarray
        On that scale, shape of `normal`.
    """
    low, high = (float(scale(end)) for end in usual.ends)
    best = float(scale(usual.value))
    sd = np.where(normal > 0, high - best, best - low) / (0.5 * NINE_IN_TEN)
    return np.asarray(best + sd * normal)


def log_normal(relative_sd: float, normal: Array) -> Array:
    """Factors with mean 1 and the given relative standard deviation.

    Parameters
    ----------
    relative_sd : float
        Of the factors.
    normal : numpy.ndarray
        Standard normal numbers.

    Returns
    -------
    numpy.ndarray
        Shape of `normal`.
    """
    sigma = np.sqrt(np.log1p(relative_sd**2))
    return np.asarray(np.exp(sigma * normal - 0.5 * sigma**2))


@cache
def normal_numbers(count: int, dimensions: int, seed: int) -> Array:
    """Evenly spread normal numbers, shape (count, dimensions).

    Parameters
    ----------
    count : int
        How many of each.
    dimensions : int
        How many quantities vary.
    seed : int
        Of the random shift of the sequence.

    Returns
    -------
    numpy.ndarray
        Mean 0, standard deviation 1; shared by every call, so that nothing may write to it.
    """
    # The ends of the unit interval have no finite normal quantile.
    uniform = np.clip(even_numbers(count, dimensions, seed), 1e-6, 1.0 - 1e-6)
    if count < MANY_TUBS:
        return np.asarray(np.vectorize(NormalDist().inv_cdf, otypes=[float])(uniform))
    from scipy.special import ndtri

    return np.asarray(ndtri(uniform))


def even_numbers(count: int, dimensions: int, seed: int) -> Array:
    """Numbers spread evenly from 0 to 1, shape (count, dimensions).

    A Halton sequence, its digits permuted and shifted at random: in so few dimensions as even as
    one needs, without the half second that loading a statistics package takes.

    Source: Halton 1960, Numerische Mathematik 2:84.

    Parameters
    ----------
    count : int
        How many of each.
    dimensions : int
        How many quantities vary.
    seed : int
        Of the permutations and of the shift.

    Returns
    -------
    numpy.ndarray
        Shape (count, dimensions).
    """
    random = np.random.default_rng(seed)
    shift = random.random(dimensions)
    places = np.arange(1, count + 1)
    orders = [random.permutation(base) for base in PRIMES[:dimensions]]
    halton = np.stack([_radical_inverse(places, order) for order in orders], axis=-1)
    return np.asarray((halton + shift) % 1.0)


def _radical_inverse(places: NDArray[np.int_], order: NDArray[np.int_]) -> Array:
    """Digits of each number, replaced by the order's and mirrored at the point."""
    base = len(order)
    mirrored = np.zeros(len(places))
    rest, weight = places, 1.0 / base
    while np.any(rest > 0):
        rest, digit = np.divmod(rest, base)
        mirrored += weight * order[digit]
        weight /= base
    return mirrored
