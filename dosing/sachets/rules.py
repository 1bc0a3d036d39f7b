"""Ways to sell and to pour: one size for all, one more by the colour, or a rule for a strip."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations, combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from dosing.bath.inputs import RecipeInputs
from dosing.bath.possible_tubs import Possible, possible_tubs
from dosing.ingredients.hardness_units import alkalinity_in, alkalinity_meq_l
from dosing.ingredients.trade_values import reading_spread
from dosing.ingredients.water import WaterReadings
from dosing.plan.households import in_tub
from dosing.plan.levels import LEVELS, gate_level, judged_bathers
from dosing.plan.pouring import grams_to_limit, most_at_once, pour_at_once, safe_first
from dosing.sachets.counting import Counted, Shares, round_grams, sachet_value, size_shares
from dosing.sachets.populations import Homes
from indicator.tables import Sourced, read_table

Array = NDArray[np.float64]

ONE, COUNT, SIZES, COLOUR = "one", "count", "sizes", "colour"
MIND = LEVELS.index("mind")
"""The heaviest caution level without a written reason."""


@dataclass(frozen=True)
class PadDose:
    """Dose for a step of an alkalinity strip."""

    mg_l_caco3: float
    grams: float
    """0 for softer waters than those that the sachets are for."""


@dataclass(frozen=True)
class Way:
    """One way to sell and to pour."""

    kind: str
    """``"one"`` size for all; by a strip a ``"count"`` of sachets of one size or one of several
    ``"sizes"``; by ``"colour"`` one sachet, and where it has not turned one more."""
    sizes_g: tuple[float, ...]
    """What is sold, the smallest first [g]."""
    shares: Shares
    pads: tuple[PadDose, ...]
    """By the steps of the strip; with grams at one of them at least."""

    @property
    def from_ppm(self) -> float:
        """The softest step of the strip that it is for [mg/L CaCO3]."""
        return next(pad.mg_l_caco3 for pad in self.pads if pad.grams > 0.0)

    def pads_of(self, size_g: float) -> tuple[float, ...]:
        """Steps of the strip for which a size is, where there are several sizes [mg/L CaCO3]."""
        each = self.pads if self.kind == SIZES else ()
        return tuple(pad.mg_l_caco3 for pad in each if pad.grams == size_g)


class Pads:
    """Homes by the step of the strip that their customers read, and the most each may pour."""

    def __init__(self, homes: Homes, counted: Counted, most_g: Array) -> None:
        self.counted = counted
        self.steps = strip_pads()
        self.read = read_pads(homes)
        self.most_g = most_g
        """By the step, shape (steps,) [g]."""

    def ways(self, most: int) -> list[tuple[Way, Array]]:
        """Every way that keeps the caution limit, the simplest first.

        Parameters
        ----------
        most : int
            Most sachets that a customer opens, and most sizes on sale.

        Returns
        -------
        list of tuple
            Each with the grams that are poured in every home, shape (homes,) [g].
        """
        one, *count = [self._by_count(number) for number in sorted({1, most})]
        ways = [one, self._by_colour(), *count, self._by_size(most)]
        most_past = self.counted.most_past_share
        return [way for way in ways if way and way[0].shares.past_limit_share <= most_past]

    def _tables(self, sizes: Array) -> Array:
        """Shares of all homes that are served and past the limit, shape (2, steps, sizes).

        Those of each step pour a size where they may pour as much, and nothing where not.
        """
        kept = np.where(sizes <= self.most_g[:, None], sizes, 0.0)
        each = [self.counted.along(grams, self.read == pad) for pad, grams in enumerate(kept)]
        return np.stack(each, axis=1)

    def _by_count(self, most: int) -> tuple[Way, Array] | None:
        """One size; the strip says how many: the best of all rules that rise with the step.

        Of one at most: whether any.
        """
        sizes = round_grams(np.concatenate([self.counted.grid / most, self.counted.grid]))
        sizes = sizes[sizes >= self.counted.least]
        tables = [self._tables(number * sizes) for number in range(1, most + 1)]
        best, size, grams = 0.0, 0.0, np.zeros(len(self.steps))
        for numbers in combinations_with_replacement(range(1, most + 1), len(self.steps)):
            chosen = [tables[number - 1][:, pad] for pad, number in enumerate(numbers)]
            turns = self.counted.within(*np.sum(chosen, axis=0))
            place = int(np.argmax(turns))
            if len(set(numbers)) >= min(most, 2) and turns[place] > best:
                best, size = float(turns[place]), float(sizes[place])
                grams = size * np.array(numbers)
        return self._way(ONE if most == 1 else COUNT, grams, size)

    def _by_size(self, most: int) -> tuple[Way, Array] | None:
        """Several sizes; the strip says which."""
        best, grams = 0.0, np.zeros(len(self.steps))
        tables = self._tables(self.counted.coarse)
        for groups in range(2, most + 1):
            # One size more has to be worth it.
            least = best + sachet_value("worthwhile_gain") * (best > 0.0)
            for cuts in combinations(range(1, len(self.steps)), groups - 1):
                group = np.searchsorted(cuts, np.arange(len(self.steps)), side="right")
                turns, each = self._best_of_groups(tables, group)
                if turns > max(best, least):
                    best, grams = turns, each
        return self._way(SIZES, grams)

    def _best_of_groups(self, tables: Array, group: NDArray[np.int_]) -> tuple[float, Array]:
        """Share served and the grams of each step, for steps in neighbouring groups."""
        turns, past = np.zeros(()), np.zeros(())
        for which in range(int(group[-1]) + 1):
            turned, over = tables[:, group == which].sum(axis=1)
            turns, past = turns[..., None] + turned, past[..., None] + over
        turns = self.counted.within(turns, past)
        place = np.unravel_index(int(np.argmax(turns)), turns.shape)
        return float(turns[place]), self.counted.coarse[np.array(place)][group]

    def _by_colour(self) -> tuple[Way, Array] | None:
        """One sachet, stir, look; where it has not turned by then, once more as much."""
        doses, best, way = self.counted.doses, 0.0, None
        for size in self.counted.coarse.tolist():
            # Both may go in, so both are what a home may pour.
            grams = np.where(2.0 * size <= self.most_g, size, 0.0)
            poured = grams[self.read] * np.where(doses.look_g <= size, 1.0, 2.0)
            shares = size_shares(doses, poured)
            turns = float(self.counted.within(shares.turns_share, shares.past_limit_share))
            if turns > best:
                best, way = turns, (Way(COLOUR, (size,), shares, self._doses(grams)), poured)
        return way

    def _way(self, kind: str, grams: Array, size: float = 0.0) -> tuple[Way, Array] | None:
        kept = self._kept_within(grams)
        if not kept.any():
            return None
        poured = kept[self.read]
        sold = (size,) if size else tuple(np.unique(kept[kept > 0.0]).tolist())
        shares = size_shares(self.counted.doses, poured)
        return Way(kind, sold, shares, self._doses(kept)), poured

    def _doses(self, grams: Array) -> tuple[PadDose, ...]:
        return tuple(map(PadDose, self.steps.tolist(), grams.tolist()))

    def _kept_within(self, grams: Array) -> Array:
        """The same without the softest steps, those where the planner forbids it.

        A rule is read by whoever holds the sachet, also where the water is softer than it was made
        for; there the same grams end sourer than anywhere it was counted.
        """
        steps = np.arange(len(self.steps))
        return np.where(steps > np.max(steps[grams > self.most_g], initial=-1), grams, 0.0)


@dataclass(frozen=True)
class _PadRow(Sourced):
    mg_l_caco3: float


def strip_pads() -> Array:
    """Steps of the alkalinity pad of a test strip [mg/L CaCO3]."""
    return np.array([row.mg_l_caco3 for row in read_table("trade/strip_pads.csv", _PadRow)])


def poured_from(homes: Homes, grams: float, from_ppm: float) -> Array:
    """Grams in homes that pour a sachet where their strip shows a step or more.

    Parameters
    ----------
    homes : Homes
        With the water in their tubs.
    grams : float
        The sachet [g].
    from_ppm : float
        The softest step of the strip that it is for [mg/L CaCO3].

    Returns
    -------
    numpy.ndarray
        Shape (homes,) [g]; 0 where the water is softer.
    """
    return np.where(strip_pads()[read_pads(homes)] >= from_ppm, grams, 0.0)


def read_pads(homes: Homes) -> NDArray[np.int_]:
    """The step that each home's customer names: the nearest to a reading with the strip's error."""
    alkalinity = homes.alkalinity_meq_l
    sd = reading_spread("alkalinity", "strip").sd(alkalinity)
    read = alkalinity_in(alkalinity + sd * homes.strip_error, "mg_l_caco3")
    steps = strip_pads()
    return np.asarray(np.searchsorted(0.5 * (steps[1:] + steps[:-1]), read))


class StripLimits:
    """Most that the planner lets a home pour at once, by the step that its strip shows.

    A label speaks to whoever holds it, not to the homes that were drawn: each step is judged as
    that home's own plan would be, strip and eye as rough as they are.

    Parameters
    ----------
    inputs : RecipeInputs
        Whose bottle, activator, temperature and bathers are kept.
    volume_l : float
        Water in the tub, judged by eye [L].
    """

    def __init__(self, inputs: RecipeInputs, volume_l: float) -> None:
        own = in_tub(inputs, volume_l)
        self.by_eye = replace(own, tub=replace(own.tub, volume_measured=False))
        self.bathers = judged_bathers(inputs.wish.bathers)
        self.steps = strip_pads().tolist()
        self._unseen = cache(self._tubs_and_limit)

    def most(self, top_g: float) -> Array:
        """Most for each step, shape (steps,), up to `top_g`; all of that if nobody bathes [g]."""
        return np.array([self._most(step, top_g) for step in self.steps])

    def softest(self, grams: float) -> float:
        """The softest step that allows grams [mg/L CaCO3]; infinite where none does."""
        if not self._allows(self.steps[-1], grams):
            return np.inf
        # Harder water takes more.
        place = bisect_left(self.steps[:-1], True, key=lambda step: self._allows(step, grams))
        return float(self.steps[place])

    def _most(self, step: float, top_g: float) -> float:
        if self.bathers == "nobody":
            return top_g
        tubs, limit_g = self._unseen(step)
        top = min(top_g, limit_g)
        return most_at_once(tubs, 0.0, top, self.bathers, MIND) if top else 0.0

    def _allows(self, step: float, grams: float) -> bool:
        if self.bathers == "nobody":
            return True
        tubs, limit_g = self._unseen(step)
        return grams <= limit_g and pour_at_once(tubs, grams, self.bathers).level <= MIND

    def _tubs_and_limit(self, step: float) -> tuple[Possible, float]:
        """Tubs that agree with a step, and the most by the limits alone [g]."""
        water = WaterReadings(float(alkalinity_meq_l(step, "mg_l_caco3")), instrument="strip")
        tubs = possible_tubs(replace(self.by_eye, water=water))
        # A sour brew makes soft water too sour by itself.
        if gate_level(tubs.ends(tubs.before_ph)[0], self.bathers) > MIND:
            return tubs, 0.0
        return tubs, safe_first(grams_to_limit(tubs, self.bathers, MIND, acid=True))
