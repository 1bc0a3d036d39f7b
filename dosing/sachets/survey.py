"""A survey: one activator in the homes of one population, counted and ready to be asked."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import Jugs, fill_jugs
from dosing.bath.mixed import Bath
from dosing.bath.possible_tubs import ALKALINE_SIDE
from dosing.ingredients.powders import Blend, Parts
from dosing.ingredients.trade_values import typical
from dosing.plan.cautions import Moment, Situation
from dosing.plan.levels import judged_bathers
from dosing.sachets.counting import SIDES, Counted, Size, ends_of, sachet_value, size_shares
from dosing.sachets.home_doses import (
    Goal,
    HomeDoses,
    Limit,
    Population,
    filled,
    home_doses,
    limit_of,
)
from dosing.sachets.populations import Homes
from dosing.sachets.rules import Pads, StripLimits, Way
from dosing.sachets.turning import Turning, turning_table
from indicator.words import Wish, parse_target

Array = NDArray[np.float64]

SEEN_HOMES = 10_000
"""Homes whose pH is solved for every size; shares are counted in all."""


@dataclass(frozen=True)
class Survey:
    """Homes of an activator: doses, counts, and the ways to pour it there."""

    inputs: RecipeInputs
    wish: Wish | None
    tub: Bath
    """The recipe's own, as read: the water that jugs are filled with."""
    in_homes: Population
    turning: Turning
    limit: Limit
    doses: HomeDoses
    counted: Counted
    ways: tuple[tuple[Way, Array], ...]
    """With the grams that are poured in every home, shape (homes,) [g]."""

    def poured(self, way: Way) -> Array:
        """Grams in every home, shape (homes,) [g]."""
        return next(grams for each, grams in self.ways if each is way)

    def goal(self, homes: Population, band: tuple[float, float] | None = None) -> Goal:
        """The pH that homes shall come to: a band, else turned and within the limit.

        Parameters
        ----------
        homes : Population
            Some of the homes.
        band : tuple of float, optional
            Lowest and highest pH.

        Returns
        -------
        Goal
        """
        start = homes.bath.ph
        if band is not None:
            return Goal(np.full_like(start, band[0]), np.full_like(start, band[1]), self.limit)
        turned, passed, _ = self.turning.at(start, homes.homes.volume_l)
        return Goal(np.maximum(passed, max(self.limit.ph, 0.1)), turned, self.limit)

    def situation(self, parts: Parts, portion_g: float, after: Bath | None) -> Situation:
        """Situation that a sachet is judged by: the pH of the homes, and the jugs of a portion.

        Parameters
        ----------
        parts : mapping of str to float
            Powders of the sachet.
        portion_g : float
            The most that is poured at once [g].
        after : Bath, optional
            Homes just after pouring, batch shape (homes,); None where nothing is poured.

        Returns
        -------
        Situation
            For `dosing.plan.cautions.judge`; the few homes that may be past the limit are left out.
        """
        moments = [_moment("before", self.doses.start_ph, np.zeros(1), SIDES[0])]
        jugs: tuple[Jugs, ...] = ()
        if after is not None:
            acid = min(self.counted.most_past_share, SIDES[0])
            moments.append(_moment("after", after.ph, after.acid_reserve_meq_l(), acid))
            jugs = (fill_jugs(parts, portion_g, self.tub),)
        activator = replace(self.inputs.activator, parts=parts)
        poured = replace(self.inputs, activator=activator)
        return Situation(poured, tuple(moments), whose_tap=False, jugs=jugs)

    def sizes(
        self, grams: Iterable[float | None], prices_per_gram: Mapping[str, float]
    ) -> dict[float | None, Size]:
        """Sachets of one size for all, by their grams.

        Parameters
        ----------
        grams : iterable of float
            [g]; what is None is left out.
        prices_per_gram : mapping of str to float
            Powder to the price of a gram, in any money.

        Returns
        -------
        dict
        """
        parts = Blend(self.inputs.activator.parts).parts
        seen = self.in_homes.first(SEEN_HOMES)
        return {
            size: Size(
                size,
                size_shares(self.doses, size),
                ends_of(seen.after(size).ph),
                cost_of(parts, size, prices_per_gram),
            )
            for size in {size for size in grams if size is not None}
        }


def survey_homes(inputs: RecipeInputs, homes: Homes, most_sachets: int) -> Survey:
    """Doses of all homes, and the ways to pour.

    Parameters
    ----------
    inputs : RecipeInputs
        Whose bottle, activator, temperature, wish and bathers are kept.
    homes : Homes
        The households.
    most_sachets : int
        Most sachets that a customer opens, and most sizes on sale.

    Returns
    -------
    Survey

    Raises
    ------
    ValueError
        If the activator does not lower the pH, nothing can be seen, or most homes have turned.
    """
    tub = assemble(inputs).bath
    _check_acid(inputs, tub)
    wish = None if inputs.wish.target is None else parse_target(inputs.wish.target)
    in_homes = filled(inputs, homes)
    turning = turning_table(inputs, wish, in_homes.bath.ph, in_homes.homes.volume_l)
    limit = limit_of(inputs)
    doses = home_doses(in_homes, turning, limit)
    _check_turned_before(doses, wish)
    most_past = sachet_value(f"most_past_limit_{judged_bathers(inputs.wish.bathers)}")
    counted = Counted(doses, most_past)
    strip = StripLimits(inputs, in_homes.homes.smallest_l)
    most_g = strip.most(most_sachets * float(counted.grid[-1]))
    ways = Pads(in_homes.homes, counted, most_g).ways(most_sachets)
    return Survey(inputs, wish, tub, in_homes, turning, limit, doses, counted, tuple(ways))


def cost_of(
    parts: Mapping[str, float], grams: float, prices_per_gram: Mapping[str, float]
) -> float | None:
    """Cost of a sachet; None where a powder has no price.

    Parameters
    ----------
    parts : mapping of str to float
        Powder and its share by mass.
    grams : float
        Of the sachet [g].
    prices_per_gram : mapping of str to float
        Price of a gram of a powder, in any money.

    Returns
    -------
    float or None
        In the money of the prices.
    """
    used = {name: part for name, part in parts.items() if part > 0}
    if not used.keys() <= prices_per_gram.keys():
        return None
    return grams * sum(part * prices_per_gram[name] for name, part in used.items())


def _moment(name: str, ph: Array, reserve_meq_l: Array, acid_share: float) -> Moment:
    return Moment(
        name,
        # The last of those that may be past is left out whole, not mixed with its neighbour.
        float(np.quantile(ph, acid_share, method="higher")),
        float(np.quantile(ph, ALKALINE_SIDE)),
        float(np.quantile(reserve_meq_l, 1.0 - acid_share, method="lower")),
    )


def _check_acid(inputs: RecipeInputs, tub: Bath) -> None:
    """A sachet is judged by how far it lowers the pH; another kind of activator is refused."""
    plenty = tub.volume_l * typical("plenty_of_activator").value
    after = tub.with_activator(plenty, assemble(inputs).per_gram)
    if float(tub.ph - after.ph) < typical("least_turn_ph").value:
        raise ValueError(
            "the activator does not lower the pH of tap water; accepted is one with an acid in it"
        )


def _check_turned_before(doses: HomeDoses, wish: Wish | None) -> None:
    before = float(np.mean(doses.turns_g == 0.0))
    if before > 0.5:
        what = "" if wish is None else f" {wish.word or wish.hex or f'pH {wish.ph:g}'}"
        raise ValueError(
            f"target is{what}, which {before:.0%} of these homes have before any sachet; "
            "accepted is one that the sachet brings about"
        )
