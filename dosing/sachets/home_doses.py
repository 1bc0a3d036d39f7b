"""Doses of homes: grams to the turn and to the limit in every home, and the pH after a sachet.

A few thousand homes are solved one and all. Of more, a few doses are solved in each and the rest is
read off its titration curve (`dosing.sachets.titration`); where that is unsure, the home is solved.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import Truth, assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import Bath, SolvedBath
from dosing.ingredients.trade_values import typical
from dosing.plan.households import in_tub, small_vessel
from dosing.sachets.populations import Homes
from dosing.sachets.titration import TitrationCurves, titration_curves, tubs_at
from dosing.sachets.turning import Turning

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

WORTH_CURVES = 5000
"""Homes from which reading their doses off curves is quicker than solving them."""
_RESERVE_G_L = (0.3, 0.8)
"""Doses at which it is found what a gram adds to the acid reserve."""


@dataclass(frozen=True)
class Limit:
    """Limit of how sour a bath may become."""

    ph: float
    """The most acid pH; 0 where nobody bathes."""
    reserve_meq_l: float
    """The most acid reserve [meq/L]; infinite where nobody bathes."""


@dataclass(frozen=True)
class HomeDoses:
    """Doses that homes need; arrays of shape (homes,)."""

    start_ph: Array
    """Of the tub before."""
    turns_g: Array
    """Least activator that turns it [g]; infinite where none does."""
    passed_g: Array
    """Most at which it still has turned [g]."""
    limit_g: Array
    """Most that keeps it within the caution limit [g]; infinite where nothing passes it."""
    look_g: Array
    """Activator at which this person says that it has turned [g]."""

    @property
    def most_g(self) -> Array:
        """Most with which a home has turned and is within the limit [g]."""
        return np.minimum(self.passed_g, self.limit_g)

    def turned_and_past(self, grams: ArrayLike) -> tuple[Mask, Mask]:
        """Which homes have turned within the caution limit, and which are past it.

        Parameters
        ----------
        grams : array_like
            One for all homes, or shape (..., homes) [g].

        Returns
        -------
        tuple of numpy.ndarray
            Both of shape (..., homes).
        """
        poured = np.asarray(grams, dtype=np.float64)
        past = poured > self.limit_g
        return (poured >= self.turns_g) & (poured <= self.passed_g) & ~past, past


@dataclass(frozen=True)
class Population:
    """Homes with the tubs of one recipe in them."""

    homes: Homes
    bath: Bath
    """Batch shape (homes,)."""
    per_gram: Mapping[str, Array]
    """What a gram of the activator adds [mol/g]."""
    volume_l: Array
    """Tap water in each tub [L]."""

    @cached_property
    def start(self) -> SolvedBath:
        """The tubs before."""
        return self.bath.solve()

    @cached_property
    def _curves(self) -> TitrationCurves | None:
        """Titration curves of the homes; None where they are few enough to be solved."""
        if self.homes.count < WORTH_CURVES:
            return None
        return titration_curves(self.bath, self.per_gram, self.start)

    @cached_property
    def _reserves(self) -> tuple[Array, Array, Array]:
        """Acid reserve before [meq/L], what a first gram adds, and its change by the gram."""
        bare = self.bath.acid_reserve_meq_l()
        doses = [share * self.bath.volume_l for share in _RESERVE_G_L]
        less, more = (
            (self.bath.with_activator(dose, self.per_gram).acid_reserve_meq_l() - bare) / dose
            for dose in doses
        )
        bend = (more - less) / (doses[1] - doses[0])
        return bare, less - bend * doses[0], bend

    def grams_to(self, ph: Array) -> Array:
        """Grams that bring each tub down to a pH: 0 where it is there, infinite where none do [g].

        Parameters
        ----------
        ph : numpy.ndarray
            One for each home, or one for all; NaN where none is wished, which no grams lead to.
        """
        wished = np.broadcast_to(np.asarray(ph, dtype=np.float64), self.volume_l.shape)
        there = wished >= self.start.ph

        def solved(rows: NDArray[np.int_]) -> Array:
            # What is there already, or never, is not worth the solver's long way of finding out.
            open_ph = np.where(there[rows], np.nan, wished[rows])
            grams, reached, _ = tubs_at(self.bath, rows).grams_for_ph(open_ph, self.per_gram)
            return np.where(reached & np.isfinite(grams), np.maximum(grams, 0.0), np.inf)

        read = None if self._curves is None else self._curves.grams_to(wished)
        needed = self._looked_up(read, there | np.isnan(wished), solved)
        return np.where(there, 0.0, np.where(np.isnan(wished), np.inf, np.maximum(needed, 0.0)))

    def ph_after(self, grams: ArrayLike) -> Array:
        """PH just after pouring, shape (homes,).

        Parameters
        ----------
        grams : array_like
            One for each home, or one for all [g].
        """
        poured = np.broadcast_to(np.asarray(grams, dtype=np.float64), self.volume_l.shape)

        def solved(rows: NDArray[np.int_]) -> Array:
            bath = tubs_at(self.bath, rows).with_activator(poured[rows], self.per_gram)
            return bath.solve().ph

        read = None if self._curves is None else self._curves.ph_after(poured)
        return self._looked_up(read, np.zeros(len(poured), dtype=bool), solved)

    def reserve_after(self, grams: ArrayLike) -> Array:
        """Acid reserve just after pouring, shape (homes,) [meq/L].

        Parameters
        ----------
        grams : array_like
            One for each home, or one for all [g].
        """
        if self._curves is None:
            return self.bath.with_activator(grams, self.per_gram).acid_reserve_meq_l()
        bare, by_gram, bend = self._reserves
        poured = np.asarray(grams, dtype=np.float64)
        return np.asarray(bare + poured * (by_gram + bend * poured))

    def grams_to_reserve(self, reserve_meq_l: float) -> Array:
        """Grams with which the acid reserve is so much: 0 where it is, infinite where none do [g].

        Parameters
        ----------
        reserve_meq_l : float
            [meq/L].
        """
        if self._curves is None:
            return self.bath.grams_for_reserve(reserve_meq_l, self.per_gram)
        bare, by_gram, bend = self._reserves
        missing = np.maximum(reserve_meq_l - bare, 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            grams = 2.0 * missing / (by_gram + np.sqrt(by_gram**2 + 4.0 * bend * missing))
        return np.where((grams >= 0.0) & np.isfinite(grams), grams, np.inf)

    def _looked_up(
        self,
        read: Array | None,
        known: Mask,
        solved: Callable[[NDArray[np.int_]], Array],
    ) -> Array:
        """What was read off the curves, solved where it could not be and is not known anyway."""
        if self._curves is None or read is None:
            return solved(np.arange(self.homes.count))
        open_rows = np.flatnonzero(~known & ~(self._curves.sure & np.isfinite(read)))
        read[open_rows] = solved(open_rows)
        return read


def filled(inputs: RecipeInputs, homes: Homes) -> Population:
    """The recipe's bottle in the tub of every home.

    Parameters
    ----------
    inputs : RecipeInputs
        Whose foam bath, colours, activator and temperature are kept. Into a vessel too small
        for a bath tub homes differ around its own fill.
    homes : Homes
        The households.

    Returns
    -------
    Population
        One tub for each home.
    """
    volume = homes.volume_l
    if small_vessel(inputs):
        own_l = float(assemble(inputs).bath.volume_l)
        volume = volume * (own_l / float(np.median(volume)))
    whole = in_tub(replace(inputs, water=homes.readings()), 100.0)
    truth = Truth(volume=volume / 100.0, warmer_c=homes.warmer_c, gas_lost=homes.gas_lost)
    setting = assemble(whole, truth)
    shape = (homes.count,)
    bath = setting.bath
    bath = replace(
        bath,
        totals={name: np.broadcast_to(total, shape) for name, total in bath.totals.items()},
        water_kg=np.broadcast_to(bath.water_kg, shape),
        volume_l=np.broadcast_to(bath.volume_l, shape),
        temperature_c=np.broadcast_to(bath.temperature_c, shape),
    )
    return Population(homes, bath, setting.per_gram, volume)


def home_doses(population: Population, turning: Turning, limit: Limit) -> HomeDoses:
    """Grams to the turn, to the limit and to the look of it, in all homes.

    Parameters
    ----------
    population : Population
        The homes.
    turning : Turning
        When a tub has turned.
    limit : Limit
        How sour a home may become.

    Returns
    -------
    HomeDoses
        Arrays of shape (homes,).
    """
    start = population.start.ph
    turned, passed, look_sd = turning.at(start, population.volume_l)
    lowest = typical("lowest_ph_of_interest").value
    looked = np.maximum(turned - look_sd * population.homes.look_error, lowest)
    sour = np.full(len(start), limit.ph if limit.ph > 0.0 else np.nan)
    limit_g = population.grams_to(sour)
    if np.isfinite(limit.reserve_meq_l):
        limit_g = np.minimum(limit_g, population.grams_to_reserve(limit.reserve_meq_l))
    return HomeDoses(
        start_ph=start,
        turns_g=population.grams_to(turned),
        passed_g=population.grams_to(np.where(passed > 0.0, passed, np.nan)),
        limit_g=limit_g,
        look_g=population.grams_to(looked),
    )
