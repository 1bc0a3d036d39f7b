"""From what the readings leave open to a range of doses and of final pH.

The tubs that agree with the readings are drawn as one batch with quasi-random numbers, seeded, so
that the same recipe always gives the same answer. Each draw is a whole tub; the solver takes the
batch at once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import Setting, Truth, assemble
from dosing.bath.draws import gas_lost_filling, log_normal, normal_numbers, room_air_co2_ppm
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import Bath, air_ends_ppm
from dosing.bath.spreads import Spreads, own_acid_sd, reading_spreads
from dosing.equilibrium import Array
from dosing.ingredients.trade_values import Instrument, reading_spread

READ_ROWS = 2
"""Rows of `Possible.judged` behind the possible tubs: the tub as read, in two airs."""
POSSIBLE_TUBS = 512
"""Doubling it moves the ends of the range by less than 2 % (tests/dosing/test_plan.py)."""
SEED = 20
QUANTITIES = (
    "alkalinity",
    "volume",
    "purity",
    "pigment",
    "look",
    "tap_ph",
    "weighing",
    "constants",
    "hardness",
    "gas_lost",
    "air_co2",
)
"""What is not known of a tub, in the order in which it is drawn."""
ACID_SIDE, ALKALINE_SIDE = 0.05, 0.95
LEAST_VOLUME = 0.1
"""Of the water as read, however little the bathers may have left of it."""
COVERAGE = 0.90


@dataclass(frozen=True)
class Possible:
    """The tubs that agree with the readings."""

    read: Setting
    """The tub as read, which is one of those that may be."""
    setting: Setting
    """Batch shape (tubs,)."""
    look_error: Array
    """By how many standard deviations a look between portions is off, shape (tubs,)."""
    drawn: Array
    """Standard normal numbers behind the tubs, shape (tubs, quantities), by `QUANTITIES`."""
    sourness: Array
    """Acid of the infusions over the usual one, shape (tubs,)."""
    weighing: Instrument
    """How far the mass of activator may be off [g]."""
    truth: Truth
    """What is true of them, shape (tubs,)."""
    constants: float
    """Relative standard deviation that the constants of equilibrium leave to a dose."""

    def final_ph(self, grams: ArrayLike) -> Array:
        """PH of every possible tub after the same grams, of shape (doses, 1) or ()."""
        return self.judged(grams).ph[..., :-READ_ROWS]

    def judged(self, grams: ArrayLike) -> Bath:
        """The possible tubs, and as the last ones the tub as read, after the same grams.

        Parameters
        ----------
        grams : array_like
            Shape (doses, 1) or (), or (tubs + READ_ROWS,) for grams of its own in each.

        Returns
        -------
        Bath
            Batch shape (doses, tubs + READ_ROWS) or (tubs + READ_ROWS,).
        """
        return self._once(float(np.asarray(grams))) if np.ndim(grams) == 0 else self._poured(grams)

    def _poured(self, grams: ArrayLike) -> Bath:
        return self.with_added(self.added_g(grams))

    @cached_property
    def _once(self) -> Callable[[float], Bath]:
        """Baths after one dose for all; kept, since whether it passes and what it does is asked."""
        return lru_cache(maxsize=4)(self._poured)

    def with_added(self, added_g: ArrayLike) -> Bath:
        """`judged` tubs with a mass in their water [g]: of each, or one for all."""
        bath, per_gram = self.without_activator
        return bath.with_activator(added_g, per_gram)

    def added_g(self, grams: ArrayLike) -> Array:
        """Mass in each of the `judged` tubs where a mass is intended [g]; shapes as there."""
        meant = np.asarray(grams, dtype=np.float64)
        own = meant.shape[-1:] == (len(self.look_error) + READ_ROWS,)
        tipped = self.tipped_g(meant[:-READ_ROWS] if own else meant)
        read = np.broadcast_to(
            meant[-READ_ROWS:] if own else meant, (*tipped.shape[:-1], READ_ROWS)
        )
        return np.concatenate([tipped, read], axis=-1)

    def some(self, added_g: Array, rows: NDArray[np.int_]) -> Bath:
        """Baths of some of the `judged` tubs, each with a mass of its own in it.

        Parameters
        ----------
        added_g : numpy.ndarray
            What is in the water of each [g], shape (n,).
        rows : numpy.ndarray
            Which tubs, shape (n,); a tub may come more than once.

        Returns
        -------
        Bath
            Batch shape (n,).
        """
        bath, per_gram = self.without_activator
        chosen = bath.each(lambda batch: np.asarray(batch)[rows])
        return chosen.with_activator(
            added_g, {name: moles[rows] for name, moles in per_gram.items()}
        )

    @property
    def rows(self) -> int:
        """Number of `judged` tubs."""
        return len(self.look_error) + READ_ROWS

    @property
    def exact(self) -> Possible:
        """The tubs that are solved: these (`dosing.plan.curves` only comes near)."""
        return self

    def ends(self, quantity: Array) -> tuple[float, float]:
        """Low and high side of a quantity of `judged` tubs, shape (tubs + READ_ROWS,)."""
        low, high = both_sides(quantity)
        return float(low), float(high)

    def decide(self, holds: Callable[[Any], bool]) -> bool:
        """Whether something holds of these tubs."""
        return holds(self)

    @property
    def before_ph(self) -> Array:
        """PH of `judged` tubs before any activator, shape (tubs + READ_ROWS,)."""
        return np.asarray(self.without_activator[0].ph)

    @cached_property
    def without_activator(self) -> tuple[Bath, Mapping[str, Array]]:
        """The tub as read put behind the possible ones, so that one solve serves all."""
        count = len(self.look_error)

        def both(many: ArrayLike, read: ArrayLike) -> Array:
            there = np.broadcast_to(np.asarray(read), READ_ROWS)
            return np.append(np.broadcast_to(np.asarray(many), count), there)

        tubs, read = self.setting.bath, self.read.bath
        nothing = np.zeros(())
        totals = {
            name: both(tubs.totals.get(name, nothing), read.totals.get(name, nothing))
            for name in tubs.totals.keys() | read.totals.keys()
        }
        bath = Bath(
            totals=totals,
            volume_l=both(tubs.volume_l, read.volume_l),
            water_kg=both(tubs.water_kg, read.water_kg),
            temperature_c=both(tubs.temperature_c, read.temperature_c),
            strengths={},
            # Which air leads further depends on the water, so the tub as read is aired in both.
            air_co2_ppm=both(tubs.air_co2_ppm, np.array(air_ends_ppm())),
        )
        here = self.read.per_gram
        per_gram = {name: both(moles, here[name]) for name, moles in self.setting.per_gram.items()}
        return bath, per_gram

    def tipped_g(self, grams: ArrayLike) -> Array:
        """Mass in each possible tub where a mass is intended [g]: scale and constants are off."""
        meant = np.asarray(grams, dtype=np.float64)
        off = self.weighing.sd(meant) * self._column("weighing")
        worth = np.exp(-self.constants * self._column("constants"))
        return np.asarray(np.maximum(meant + np.where(meant > 0, off, 0.0), 0.0) * worth)

    def _column(self, quantity: str) -> Array:
        return self.drawn[:, QUANTITIES.index(quantity)]

    def grams_for_ph(self, ph: float) -> Array:
        """Grams that bring each possible tub to a pH; NaN where none do."""
        return self._needed("ph", ph)

    def grams_for_reserve(self, reserve_meq_l: float) -> Array:
        """Grams that give each possible tub an acid reserve; infinite where none do."""
        return self._needed("reserve", reserve_meq_l)

    @cached_property
    def _needed(self) -> Callable[[str, float], Array]:
        """Grams for a pH or a reserve; a plan asks several times about those it leads to."""

        def solved(quantity: str, value: float) -> Array:
            bath, per_gram = self.setting.bath, self.setting.per_gram
            if quantity == "reserve":
                return bath.grams_for_reserve(value, per_gram)
            grams, _, _ = bath.grams_for_ph(value, per_gram)
            return np.asarray(grams * np.exp(self.constants * self._column("constants")))

        return lru_cache(maxsize=8)(solved)


def possible_tubs(
    inputs: RecipeInputs,
    count: int = POSSIBLE_TUBS,
    seed: int = SEED,
    spreads: Spreads | None = None,
    read: Setting | None = None,
) -> Possible:
    """Tubs that agree with the readings, drawn by the errors of the instruments.

    Alkalinity, hardness, pH of the tap, volume, purity of the activator and strength of the pigment
    vary independently, with the spread of the instrument that read them: alkalinity and pH normally
    (alkalinity folded at nothing, so that a strip that reads 0 may hide some, and wider above the
    last step of a strip, which means that or more), the others log-normally. The scale and the
    constants of equilibrium act on the dose. The share of the gas that leaves while the tub fills
    and the air of the room have their best, low and high value as median and ends of nine in ten.

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
    read : Setting, optional
        The tub as read, if it is assembled already.

    Returns
    -------
    Possible
        The tub as read, and `count` others.
    """
    normal = normal_numbers(count, len(QUANTITIES), seed)
    if inputs.taught is not None:
        normal = inputs.taught.moved(normal, QUANTITIES)
    drawn = dict(zip(QUANTITIES, normal.T, strict=True))
    spread = reading_spreads(inputs) if spreads is None else spreads
    # The spread is that of water and bathers together, who are taken off.
    volume = (1.0 + spread.bathers) * log_normal(spread.volume, drawn["volume"]) - spread.bathers
    # A strong brew is a sour brew.
    sourness = log_normal(own_acid_sd(inputs), drawn["pigment"])
    truth = Truth(
        alkalinity_meq_l=spread.alkalinity(drawn["alkalinity"]),
        volume=np.maximum(volume, LEAST_VOLUME),
        purity=log_normal(spread.purity, drawn["purity"]),
        # A strength is judged by its middle brew, a volume by its mean.
        pigment=log_normal(spread.pigment, drawn["pigment"]) * np.sqrt(1.0 + spread.pigment**2),
        tap_ph=spread.tap_ph * drawn["tap_ph"],
        own_acid=sourness,
        hardness=log_normal(spread.hardness, drawn["hardness"]),
        gas_lost=gas_lost_filling(drawn["gas_lost"]),
        air_co2_ppm=room_air_co2_ppm(drawn["air_co2"]),
    )
    setting = assemble(inputs, truth)
    return Possible(
        read=read or assemble(inputs),
        setting=setting,
        look_error=drawn["look"],
        truth=truth,
        drawn=normal,
        sourness=sourness,
        weighing=reading_spread("mass", inputs.activator.weighed_with),
        constants=spread.constants,
    )


def sides(ph: Array) -> tuple[Array, Array]:
    """Acid and alkaline side of the final pH over the possible tubs, the last axis."""
    ordered = np.sort(ph, axis=-1)
    known = np.sum(~np.isnan(ordered), axis=-1)
    if known.min() != known.max():
        low, high = np.nanquantile(ph, (ACID_SIDE, ALKALINE_SIDE), axis=-1)
        return np.asarray(low), np.asarray(high)
    last = max(int(known.max()) - 1, 0)

    def quantile(share: float) -> Array:
        # Far quicker than numpy's, which handles what hardly ever comes here.
        below = int(share * last)
        start, end = ordered[..., below], ordered[..., min(below + 1, last)]
        return np.asarray(start + (share * last - below) * (end - start))

    return quantile(ACID_SIDE), quantile(ALKALINE_SIDE)


def both_sides(quantity: Array) -> tuple[Array, Array]:
    """Low and high side of `Possible.judged` tubs, the last axis.

    The 5 % and 95 % quantile of the possible tubs; the tub as read is never left out.
    """
    tubs, read = quantity[..., :-READ_ROWS], quantity[..., -READ_ROWS:]
    low, high = sides(tubs)
    return np.fmin(low, np.fmin.reduce(read, axis=-1)), np.fmax(high, np.fmax.reduce(read, axis=-1))
