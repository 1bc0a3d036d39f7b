"""Doses of homes: grams to the turn and to the limit in every home, and what counts as met."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import Truth, assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import Bath
from dosing.ingredients.trade_values import typical
from dosing.plan.households import in_tub, small_vessel
from dosing.plan.levels import LEVELS, judged_bathers, reserve_limit
from dosing.plan.pouring import gentlest_ph
from dosing.sachets.populations import Homes
from dosing.sachets.turning import Turning

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Limit:
    """Limit of how sour a bath may become."""

    ph: float
    """The most acid pH; 0 where nobody bathes."""
    reserve_meq_l: float
    """The most acid reserve [meq/L]; infinite where nobody bathes."""


@dataclass(frozen=True)
class Goal:
    """The pH at which each home is as wished, shape (homes,), and how sour it may become."""

    low: Array
    high: Array
    limit: Limit

    def met(self, after: Bath) -> tuple[Mask, Mask]:
        """Which tubs are as wished within the limit, and which are past it.

        Parameters
        ----------
        after : Bath
            The homes just after pouring, batch shape (..., homes).

        Returns
        -------
        tuple of numpy.ndarray
            Both of shape (..., homes).
        """
        past = (after.ph < self.limit.ph) | (after.acid_reserve_meq_l() > self.limit.reserve_meq_l)
        met = (after.ph <= self.high + 1e-9) & (after.ph >= self.low - 1e-9)
        return met & ~past, past


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
    """With the water that is in their tubs."""
    bath: Bath
    """Before the sachet; batch shape (homes,)."""
    per_gram: Mapping[str, Array]
    """What a gram of the activator adds [mol/g]."""

    def after(self, grams: ArrayLike) -> Bath:
        """The tubs with so much activator, shape (..., homes) [g], just poured."""
        return self.bath.with_activator(grams, self.per_gram)

    def grams_to(self, ph: ArrayLike) -> Array:
        """Grams that bring each tub down to a pH: 0 where it is there, infinite where none do [g].

        Parameters
        ----------
        ph : array_like
            One for each home, or one for all; NaN where none is wished, which no grams lead to.

        Returns
        -------
        numpy.ndarray
            Shape (homes,) [g].
        """
        wished = np.broadcast_to(np.asarray(ph, dtype=np.float64), self.bath.ph.shape)
        there = wished >= self.bath.ph
        # What is there already is not worth the solver's long way of finding out.
        grams, reached, _ = self.bath.grams_for_ph(np.where(there, np.nan, wished), self.per_gram)
        return np.where(there, 0.0, np.where(reached & np.isfinite(grams), grams, np.inf))

    def first(self, count: int) -> Population:
        """Its first homes, as varied as all: quasi-random draws are even from the start."""
        shape = self.bath.ph.shape

        def cut(part: ArrayLike) -> Array:
            return np.broadcast_to(part, shape)[:count]

        own = {each.name: getattr(self.homes, each.name) for each in fields(self.homes)}
        arrays: dict[str, Any] = {
            name: cut(each) for name, each in own.items() if isinstance(each, np.ndarray)
        }
        bath = replace(self.bath, strengths={}, surfactants_g_l={}).each(cut)
        return replace(self, homes=replace(self.homes, **arrays), bath=bath)


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
    if small_vessel(inputs):
        own_l = float(assemble(inputs).bath.volume_l)
        homes = replace(homes, volume_l=homes.volume_l * own_l / float(np.median(homes.volume_l)))
    whole = in_tub(replace(inputs, water=homes.readings()), 100.0)
    truth = Truth(volume=homes.volume_l / 100.0, warmer_c=homes.warmer_c, gas_lost=homes.gas_lost)
    setting = assemble(whole, truth)
    return Population(homes, setting.bath, setting.per_gram)


def limit_of(inputs: RecipeInputs) -> Limit:
    """Limit of how sour a bath may become for a recipe's bathers, without a written reason."""
    bathers, accepted = judged_bathers(inputs.wish.bathers), LEVELS.index("mind")
    if bathers == "nobody":
        return Limit(0.0, np.inf)
    return Limit(gentlest_ph(bathers, accepted, acid=True), reserve_limit(bathers, accepted))


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
    start = population.bath.ph
    turned, passed, look_sd = turning.at(start, population.homes.volume_l)
    lowest = typical("lowest_ph_of_interest").value
    limit_g = population.grams_to(limit.ph or np.nan)
    if np.isfinite(limit.reserve_meq_l):
        sour_g = population.bath.grams_for_reserve(limit.reserve_meq_l, population.per_gram)
        limit_g = np.minimum(limit_g, sour_g)
    return HomeDoses(
        start_ph=start,
        turns_g=population.grams_to(turned),
        passed_g=population.grams_to(np.where(passed > 0.0, passed, np.nan)),
        limit_g=limit_g,
        look_g=population.grams_to(
            np.maximum(turned - look_sd * population.homes.look_error, lowest)
        ),
    )
