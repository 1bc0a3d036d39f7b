"""From what the readings leave open to a range of doses and of final pH.

The tubs that agree with the readings are drawn as one batch with quasi-random numbers, seeded, so
that the same recipe always gives the same answer. Each draw is a whole tub; the solver takes the
batch at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.assembly import Setting, Truth, assemble
from dosing.inputs import RecipeInputs
from dosing.powders import Blend, purity_spread
from dosing.trade_values import reading_spread
from dosing.water import tap_water
from indicator.pigments import colourant

Array = NDArray[np.float64]

POSSIBLE_TUBS = 512
"""Doubling it moves the ends of the range by less than 2 % (tests/dosing/test_plan.py)."""
SEED = 20
PRIMES = (2, 3, 5, 7, 11, 13, 17, 19)
"""Bases of the sequence, one for each uncertain quantity."""
ACID_SIDE, ALKALINE_SIDE = 0.05, 0.95
COVERAGE = 0.90


@dataclass(frozen=True)
class Possible:
    """The tubs that agree with the readings."""

    setting: Setting
    """Batch shape (tubs,)."""
    look_error: Array
    """By how many standard deviations a look between portions is off, shape (tubs,)."""

    def final_ph(self, grams: ArrayLike, *, pco2_ppm: float | None = None) -> Array:
        """PH of every possible tub after the same grams.

        Parameters
        ----------
        grams : array_like
            Shape (doses, 1) or ().
        pco2_ppm : float, optional
            Carbon dioxide of the air, if the tub has come to rest with it.
        """
        bath = self.setting.bath.with_activator(grams, self.setting.per_gram)
        return np.asarray(bath.solve(pco2_ppm=pco2_ppm).ph)

    def grams_for_ph(self, ph: float) -> Array:
        """Grams that bring each possible tub to a pH; NaN where none do."""
        grams, _, _ = self.setting.bath.grams_for_ph(ph, self.setting.per_gram)
        return grams


@dataclass(frozen=True)
class Spreads:
    """How far the readings of a recipe may be off."""

    alkalinity_meq_l: float
    """As read or assumed."""
    alkalinity_sd: float
    """Standard deviation [meq/L]."""
    volume: float
    """Relative standard deviation, as the next two."""
    purity: float
    pigment: float


def reading_spreads(inputs: RecipeInputs) -> Spreads:
    """The spreads of a recipe's readings, by the instruments they were taken with."""
    level, deviation = alkalinity_reading(inputs)
    return Spreads(level, deviation, *relative_spreads(inputs))


def possible_tubs(
    inputs: RecipeInputs,
    count: int = POSSIBLE_TUBS,
    seed: int = SEED,
    spreads: Spreads | None = None,
) -> Possible:
    """Draw the tubs that agree with the readings.

    Alkalinity, volume, purity of the activator and strength of the pigment vary independently,
    with the spread of the instrument that read them: alkalinity normally (folded at nothing, so
    that a strip that reads 0 may hide some), the others log-normally.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    count : int
        Number of tubs.
    seed : int
        Of the random shift of the sequence.
    spreads : Spreads, optional
        Those of better readings, for instance; the recipe's own if not given.
    """
    normal = _normal_numbers(count, 5, seed)
    spread = reading_spreads(inputs) if spreads is None else spreads
    volume, purity, pigment = (
        _log_normal(share, normal[:, 1 + place])
        for place, share in enumerate((spread.volume, spread.purity, spread.pigment))
    )
    alkalinity = np.abs(spread.alkalinity_meq_l + spread.alkalinity_sd * normal[:, 0])
    setting = assemble(inputs, Truth(alkalinity, volume, purity, pigment))
    return Possible(setting, normal[:, 4])


def alkalinity_reading(inputs: RecipeInputs) -> tuple[float, float]:
    """Alkalinity as read or assumed, and its standard deviation [meq/L]."""
    readings = inputs.water
    if readings.alkalinity_meq_l is not None or readings.carbonate_hardness_meq_l is not None:
        instrument = readings.instrument or "strip"
    elif readings.hardness_mmol_l is not None or readings.calcium_mmol_l is not None:
        instrument = "from-hardness"
    else:
        instrument = "unknown"
    level = float(np.asarray(tap_water(readings).alkalinity_meq_l))
    return level, float(reading_spread("alkalinity", instrument).sd(level))


def relative_spreads(inputs: RecipeInputs) -> tuple[float, float, float]:
    """Relative standard deviations of volume, activator purity and pigment strength."""
    return (_volume(inputs), _purity(inputs), _pigment(inputs))


def sides(ph: Array) -> tuple[Array, Array]:
    """Acid and alkaline side of the final pH over the possible tubs, the last axis."""
    low, high = np.nanquantile(ph, (ACID_SIDE, ALKALINE_SIDE), axis=-1)
    return np.asarray(low), np.asarray(high)


def _volume(inputs: RecipeInputs) -> float:
    tub = inputs.tub
    if tub.volume_measured:
        instrument = "measured"
    elif tub.volume_l is not None:
        instrument = "by-eye"
    else:
        instrument = "typical" if tub.fill_cm is None else "dimensions"
    return reading_spread("volume", instrument).sd_relative


def _purity(inputs: RecipeInputs) -> float:
    parts = Blend(inputs.activator.parts).parts
    return float(
        np.sqrt(
            sum((share * purity_spread(name).sd_relative) ** 2 for name, share in parts.items())
        )
    )


def _pigment(inputs: RecipeInputs) -> float:
    measured = reading_spread("pigment_strength", "measured").sd_relative
    judged = [
        colourant(one.name).strength_sd for one in inputs.colours if not one.strength_measured
    ]
    return max([measured, *judged])


def _log_normal(relative_sd: float, normal: Array) -> Array:
    """Factors with mean 1 and the given relative standard deviation."""
    sigma = np.sqrt(np.log1p(relative_sd**2))
    return np.asarray(np.exp(sigma * normal - 0.5 * sigma**2))


@cache
def _normal_numbers(count: int, dimensions: int, seed: int) -> Array:
    """Evenly spread normal numbers, shape (count, dimensions).

    A Halton sequence, shifted at random: in so few dimensions as even as one needs, without the
    half second that loading a statistics package takes.
    """
    from scipy.special import ndtri

    shift = np.random.default_rng(seed).random(dimensions)
    places = np.arange(1, count + 1)
    halton = np.stack([_radical_inverse(places, base) for base in PRIMES[:dimensions]], axis=-1)
    uniform = (halton + shift) % 1.0
    # The ends of the unit interval have no finite normal quantile.
    return np.asarray(ndtri(np.clip(uniform, 1e-6, 1.0 - 1e-6)))


def _radical_inverse(places: NDArray[np.int_], base: int) -> Array:
    """Digits of each number in the base, mirrored at the point."""
    mirrored = np.zeros(len(places))
    rest, weight = places, 1.0 / base
    while np.any(rest > 0):
        rest, digit = np.divmod(rest, base)
        mirrored += weight * digit
        weight /= base
    return mirrored
