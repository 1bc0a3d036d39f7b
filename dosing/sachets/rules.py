"""Rules by which customers pour the right amount: by a strip, or by the colour of their tub."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from dosing.ingredients.hardness_units import alkalinity_in
from dosing.ingredients.trade_values import reading_spread, typical
from dosing.ingredients.tub import depth_cm
from dosing.sachets.counting import Counted, Shares, round_grams, sachet_value, size_shares
from dosing.sachets.home_doses import HomeDoses, Population
from dosing.sachets.populations import Homes
from indicator.tables import read_table

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

FILL_MARKS = 3


@dataclass(frozen=True)
class PadRule:
    """Rule for a customer who reads an alkalinity strip."""

    kind: str
    """``"count"`` (sachets of one size) or ``"sizes"`` (one of several sizes)."""
    sizes_g: tuple[float, ...]
    """What is sold, the smallest first [g]."""
    pads_mg_l_caco3: tuple[float, ...]
    """Steps of the strip [mg/L CaCO3]."""
    grams: tuple[float, ...]
    """Activator for each step [g]; 0 for softer waters than those that the sachets are for."""
    shares: Shares


@dataclass(frozen=True)
class FillMark:
    """Dose for a customer without any reading, by how full the tub is."""

    up_to_l: float
    """Water as the customer judges it [L]; infinite for the last mark."""
    depth_cm: float | None
    """Depth of that much in a usual tub [cm]; None where there is no end or no usual tub."""
    most_g: float
    """Never more than this [g]."""


@dataclass(frozen=True)
class ColourRule:
    """Half a sachet, stir, wait, the rest by colour, never more than the maximum."""

    sachet_g: float
    first_g: float
    step_g: float
    marks: tuple[FillMark, ...]
    shares: Shares


class Pads:
    """Homes by the step of the strip that their customers read."""

    def __init__(self, homes: Homes, counted: Counted) -> None:
        self.counted = counted
        self.steps = strip_pads()
        self.read = read_pads(homes)

    def by_count(self, most: int) -> PadRule | None:
        """One size; the strip says how many: the best of all rules that rise with the step."""
        if most < 2:
            return None
        grid = self.counted.grid
        sizes = round_grams(np.concatenate([grid / most, grid]))
        sizes = sizes[sizes >= self.counted.least]
        tables = [
            [self.counted.along(number * sizes, self.read == pad) for number in range(1, most + 1)]
            for pad in range(len(self.steps))
        ]
        best: tuple[float, float, tuple[int, ...]] = (0.0, 0.0, ())
        for numbers in combinations_with_replacement(range(1, most + 1), len(self.steps)):
            if len(set(numbers)) < 2:
                continue
            chosen = [tables[pad][number - 1] for pad, number in enumerate(numbers)]
            turns, past = (np.sum(each, axis=0) for each in zip(*chosen, strict=True))
            turns = np.where(past <= self.counted.most_past_share, turns, -1.0)
            place = int(np.argmax(turns))
            if turns[place] > best[0]:
                best = (float(turns[place]), float(sizes[place]), numbers)
        _, size, numbers = best
        if not numbers:
            return None
        return self._rule("count", (size,), tuple(size * number for number in numbers))

    def by_size(self, most: int) -> PadRule | None:
        """Several sizes; the strip says which."""
        sizes = self.counted.coarse
        best: tuple[float, tuple[int, ...], tuple[float, ...]] | None = None
        for groups in range(2, most + 1):
            for cuts in combinations(range(1, len(self.steps)), groups - 1):
                served, grams = self._best_of_groups(cuts, sizes)
                better = best is None or served > best[0] + sachet_value("worthwhile_gain") * (
                    groups > len(best[2])
                )
                if served > 0 and better:
                    best = (served, cuts, grams)
        if best is None:
            return None
        _, cuts, grams = best
        ends = (*cuts, len(self.steps))
        each = tuple(
            grams[next(k for k, end in enumerate(ends) if pad < end)]
            for pad in range(len(self.steps))
        )
        return self._rule("sizes", tuple(sorted(set(grams))), each)

    def _kept_within(self, grams: tuple[float, ...]) -> tuple[float, ...]:
        """The same without the softest steps: those that nobody here reads, or too few pour safely.

        A rule is read by whoever holds the sachet, also where the water is softer than it was made
        for; there the same grams end sourer than anywhere it was counted.
        """
        steps = range(len(self.steps))
        past = np.asarray(grams)[self.read] > self.counted.doses.limit_g
        homes = [self.read == step for step in steps]
        known = [int(home.sum()) >= sachet_value("least_homes_of_a_pad") for home in homes]
        sour = [bool(home.any()) and float(past[home].mean()) for home in homes]
        most = sachet_value("most_past_of_a_pad")
        unfit = [
            step
            for step in steps
            if sour[step] > most or (not known[step] and any(known[step + 1 :]))
        ]
        softest = max(unfit, default=-1) + 1
        return tuple(0.0 if step < softest else amount for step, amount in enumerate(grams))

    def _best_of_groups(
        self, cuts: tuple[int, ...], sizes: Array
    ) -> tuple[float, tuple[float, ...]]:
        """Share served and the sizes, for steps cut into neighbouring groups."""
        turns, past = np.zeros(()), np.zeros(())
        ends = zip((0, *cuts), (*cuts, len(self.steps)), strict=True)
        for start, end in ends:
            turned, over = self.counted.along(sizes, (self.read >= start) & (self.read < end))
            turns = turns[..., None] + turned
            past = past[..., None] + over
        turns = np.where(past <= self.counted.most_past_share, turns, -1.0)
        place = np.unravel_index(int(np.argmax(turns)), turns.shape)
        return float(turns[place]), tuple(float(sizes[k]) for k in place)

    def _rule(
        self, kind: str, sizes: tuple[float, ...], grams: tuple[float, ...]
    ) -> PadRule | None:
        kept = self._kept_within(grams)
        if not any(kept):
            return None
        sold = tuple(size for size in sizes if kind == "count" or size in kept)
        shares = size_shares(self.counted.doses, np.asarray(kept)[self.read])
        return PadRule(kind, sold, tuple(float(v) for v in self.steps), kept, shares)


@dataclass(frozen=True)
class _PadRow:
    mg_l_caco3: float
    source: str
    confidence: str


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


def sachet_of(rules: Sequence[PadRule], counted: Counted) -> float:
    """The sachet of those who pour by colour: the one that is sold anyway.

    Parameters
    ----------
    rules : sequence of PadRule
        The strip rules.
    counted : Counted
        Of the homes.

    Returns
    -------
    float
        Its size [g].
    """
    sold = (rule.sizes_g[0] for rule in rules if rule.kind == "count")
    return next(sold, counted.usual())


def by_colour_rule(population: Population, counted: Counted, sachet: float) -> ColourRule:
    """Maxima per fill mark that serve most homes, each with as few past the limit as allowed.

    Parameters
    ----------
    population : Population
        The homes.
    counted : Counted
        What they need.
    sachet : float
        Its size [g].

    Returns
    -------
    ColourRule
        With its shares of homes.
    """
    doses, most_past = counted.doses, counted.most_past_share
    first, step = sachet_value("first_part") * sachet, sachet_value("later_part") * sachet
    totals = np.arange(first, sachet_value("most_by_colour") * sachet + 0.5 * step, step)
    stops = np.searchsorted(totals, doses.look_g)
    each = np.arange(len(totals))[:, None]
    turned, past = doses.turned_and_past(totals[np.minimum(stops, each)])
    ends = _fill_ends(population)
    read = np.searchsorted(ends, _judged_fill(population))
    homes = [read == place for place in range(len(ends))]
    most = [totals[_most_by_colour(turned[:, of], past[:, of], most_past)] for of in homes]
    # Who fills a tub fuller is never allowed less.
    rising = np.minimum.accumulate(most[::-1])[::-1]
    rule = ColourRule(sachet, first, step, _marks(ends, rising), Shares(0.0, 1.0, 0.0))
    return replace(rule, shares=size_shares(doses, poured_by_colour(population, doses, rule)))


def poured_by_colour(population: Population, doses: HomeDoses, rule: ColourRule) -> Array:
    """Grams in each home of those who stop where the colour has turned, shape (homes,).

    Parameters
    ----------
    population : Population
        The homes.
    doses : HomeDoses
        What they need.
    rule : ColourRule
        By which they pour.

    Returns
    -------
    numpy.ndarray
        Shape (homes,) [g].
    """
    portions = np.ceil(np.maximum(doses.look_g - rule.first_g, 0.0) / rule.step_g)
    most = np.array([mark.most_g for mark in rule.marks])
    read = np.searchsorted([mark.up_to_l for mark in rule.marks], _judged_fill(population))
    return np.asarray(np.minimum(rule.first_g + portions * rule.step_g, most[read]))


def _fill_ends(population: Population) -> Array:
    """Round litres up to which each mark holds, the last without end."""
    volume = population.volume_l
    large = float(np.median(volume)) >= typical("least_tub").value
    step = sachet_value("fill_mark_step") if large else 1.0
    thirds = np.quantile(volume, np.arange(1, FILL_MARKS) / FILL_MARKS)
    return np.append(np.unique(np.round(thirds / step) * step), np.inf)


def _judged_fill(population: Population) -> Array:
    """What each customer judges the own tub to hold [L], shape (homes,)."""
    sd = reading_spread("volume", "by-eye").sd_relative
    return np.asarray(population.volume_l * np.exp(sd * population.homes.fill_error))


def _marks(ends: Array, most: Array) -> tuple[FillMark, ...]:
    """Marks, neighbours with the same maximum as one."""
    marks = []
    for place, (up_to_l, most_g) in enumerate(zip(ends.tolist(), most.tolist(), strict=True)):
        if most_g not in most[place + 1 :]:
            usual = typical("least_tub").value <= up_to_l < np.inf
            depth = float(depth_cm(up_to_l)) if usual else None
            marks.append(FillMark(up_to_l, depth, most_g))
    return tuple(marks)


def _most_by_colour(turned: Mask, past: Mask, most_past_share: float) -> int:
    """Index of the maximum that serves most homes within the limit; else the first."""
    if not turned.size:
        return 0
    served = np.where(past.mean(axis=1) <= most_past_share, turned.mean(axis=1), -1.0)
    return int(np.argmax(served))
