"""Ways to sell and to pour: one size for all, one more by the colour, or a rule for a strip."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from dosing.ingredients.hardness_units import alkalinity_in
from dosing.ingredients.trade_values import reading_spread
from dosing.sachets.counting import Counted, Shares, round_grams, sachet_value, size_shares
from dosing.sachets.populations import Homes
from indicator.tables import Sourced, read_table

Array = NDArray[np.float64]

ONE, COUNT, SIZES, COLOUR = "one", "count", "sizes", "colour"


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
    pads: tuple[PadDose, ...] = ()
    """By the steps of the strip."""

    def pads_of(self, size_g: float) -> tuple[float, ...]:
        """Steps of the strip for which a size is, where there are several sizes [mg/L CaCO3]."""
        each = self.pads if self.kind == SIZES else ()
        return tuple(pad.mg_l_caco3 for pad in each if pad.grams == size_g)


def ways_to_pour(homes: Homes, counted: Counted, most: int) -> list[tuple[Way, Array]]:
    """Every way that keeps the caution limit, the simplest first.

    Parameters
    ----------
    homes : Homes
        With the water in their tubs.
    counted : Counted
        What they need.
    most : int
        Most sachets that a customer opens, and most sizes on sale.

    Returns
    -------
    list of tuple
        Each with the grams that are poured in every home, shape (homes,) [g].
    """
    pads, best = _Pads(homes, counted), counted.best()
    ways = [_by_colour(counted), pads.by_count(most), pads.by_size(most)]
    if best is not None:
        way = Way(ONE, (best,), size_shares(counted.doses, best))
        ways.insert(0, (way, np.full(homes.count, best)))
    most_past = counted.most_past_share
    return [way for way in filter(None, ways) if way[0].shares.past_limit_share <= most_past]


class _Pads:
    """Homes by the step of the strip that their customers read."""

    def __init__(self, homes: Homes, counted: Counted) -> None:
        self.counted = counted
        self.steps = strip_pads()
        self.read = read_pads(homes)

    def by_count(self, most: int) -> tuple[Way, Array] | None:
        """One size; the strip says how many: the best of all rules that rise with the step."""
        sizes = round_grams(np.concatenate([self.counted.grid / most, self.counted.grid]))
        sizes = sizes[sizes >= self.counted.least]
        tables = [
            [self.counted.along(number * sizes, self.read == pad) for number in range(1, most + 1)]
            for pad in range(len(self.steps))
        ]
        served, size, grams = 0.0, 0.0, np.zeros(len(self.steps))
        for numbers in combinations_with_replacement(range(1, most + 1), len(self.steps)):
            chosen = [tables[pad][number - 1] for pad, number in enumerate(numbers)]
            turns = self.counted.within(*np.sum(chosen, axis=0))
            place = int(np.argmax(turns))
            if len(set(numbers)) > 1 and turns[place] > served:
                served, size = float(turns[place]), float(sizes[place])
                grams = size * np.array(numbers)
        return self._way(COUNT, grams, size)

    def by_size(self, most: int) -> tuple[Way, Array] | None:
        """Several sizes; the strip says which."""
        served, grams = 0.0, np.zeros(len(self.steps))
        for groups in range(2, most + 1):
            # One size more has to be worth it.
            least = served + sachet_value("worthwhile_gain") * (served > 0.0)
            for cuts in combinations(range(1, len(self.steps)), groups - 1):
                steps = range(len(self.steps))
                turns, each = self._best_of_groups(np.searchsorted(cuts, steps, side="right"))
                if turns > max(served, least):
                    served, grams = turns, each
        return self._way(SIZES, grams)

    def _best_of_groups(self, group: NDArray[np.int_]) -> tuple[float, Array]:
        """Share served and the grams of each step, for steps in neighbouring groups."""
        sizes = self.counted.coarse
        turns, past = np.zeros(()), np.zeros(())
        for which in range(int(group[-1]) + 1):
            turned, over = self.counted.along(sizes, group[self.read] == which)
            turns, past = turns[..., None] + turned, past[..., None] + over
        turns = self.counted.within(turns, past)
        place = np.unravel_index(int(np.argmax(turns)), turns.shape)
        return float(turns[place]), sizes[np.array(place)][group]

    def _way(self, kind: str, grams: Array, size: float = 0.0) -> tuple[Way, Array] | None:
        kept = self._kept_within(grams)
        if not kept.any():
            return None
        poured = kept[self.read]
        sold = (size,) if size else tuple(np.unique(kept[kept > 0.0]).tolist())
        pads = zip(self.steps.tolist(), kept.tolist(), strict=True)
        shares = size_shares(self.counted.doses, poured)
        return Way(kind, sold, shares, tuple(PadDose(*pad) for pad in pads)), poured

    def _kept_within(self, grams: Array) -> Array:
        """The same without the softest steps: those that nobody here reads, or too few pour safely.

        A rule is read by whoever holds the sachet, also where the water is softer than it was made
        for; there the same grams end sourer than anywhere it was counted.
        """
        steps = np.arange(len(self.steps))
        past = grams[self.read] > self.counted.doses.limit_g
        read = np.bincount(self.read, minlength=len(steps))
        sour = np.bincount(self.read, past, minlength=len(steps)) / np.maximum(read, 1)
        known = read >= sachet_value("least_homes_of_a_pad")
        softer = np.cumsum(known[::-1])[::-1] > known
        unfit = (sour > sachet_value("most_past_of_a_pad")) | (~known & softer)
        return np.where(steps > np.max(steps[unfit], initial=-1), grams, 0.0)


@dataclass(frozen=True)
class _PadRow(Sourced):
    mg_l_caco3: float


def strip_pads() -> Array:
    """Steps of the alkalinity pad of a test strip [mg/L CaCO3]."""
    return np.array([row.mg_l_caco3 for row in read_table("trade/strip_pads.csv", _PadRow)])


def read_pads(homes: Homes) -> NDArray[np.int_]:
    """The step that each home's customer names: the nearest to a reading with the strip's error."""
    alkalinity = homes.alkalinity_meq_l
    sd = reading_spread("alkalinity", "strip").sd(alkalinity)
    read = alkalinity_in(alkalinity + sd * homes.strip_error, "mg_l_caco3")
    steps = strip_pads()
    return np.asarray(np.searchsorted(0.5 * (steps[1:] + steps[:-1]), read))


def _by_colour(counted: Counted) -> tuple[Way, Array] | None:
    """One sachet, stir, look; where it has not turned by then, once more as much."""
    doses, best = counted.doses, 0.0
    way = None
    for size in counted.coarse.tolist():
        poured = np.where(doses.look_g <= size, size, 2.0 * size)
        shares = size_shares(doses, poured)
        if shares.past_limit_share <= counted.most_past_share and shares.turns_share > best:
            best, way = shares.turns_share, (Way(COLOUR, (size,), shares), poured)
    return way
