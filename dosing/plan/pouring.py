"""How to pour: at once where every possible tub allows it, else in portions with a look between.

A person who pours in portions stops when a look says that the tub has turned, so an unknown water
cannot carry the bath far past the wish. That is played through for every possible tub, each with
an error of the look of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dosing.bath.chalk import may_fall, settled_ph
from dosing.bath.possible_tubs import ACID_SIDE, READ_ROWS, Possible, both_sides
from dosing.ingredients.trade_values import typical
from dosing.plan.cautions import LEVELS, Moment, bath_level, gate_level, reserve_limit
from dosing.plan.look import Look, look_between
from dosing.plan.path import Path

Array = NDArray[np.float64]

SPARES = (1.0, 0.5)
"""Shares of the reach between aim and most that are offered beyond the aim."""
HALVINGS = 6
"""Of the reach between aim and most, to find the last dose that passes."""


@dataclass(frozen=True)
class Pouring:
    """A way to pour, and where it ends in the possible tubs."""

    totals_g: tuple[float, ...]
    """Grams in the tub after each portion; the last is the most that is ever poured."""
    aim_g: float
    """Grams in the tub as read when its colour has turned."""
    acid_sides: tuple[float, ...]
    """5 % quantile of the pH after each portion, among the tubs that take it."""
    before_acid_side: float
    """The same of the tub before anything is poured: a sour infusion makes it sour by itself."""
    final: tuple[float, float]
    """5 % and 95 % quantile of the pH when pouring ends; the tub as read is never left out."""
    aired: tuple[float, float]
    """The same when the carbon dioxide has left."""
    reserve_meq_l: float
    """95 % quantile of the acid reserve when pouring ends, or that of the tub as read [meq/L]."""
    ending_g: Array
    """Grams in each of `Possible.judged` when pouring ends, shape (tubs + READ_ROWS,)."""
    ending_ph: Array
    """pH of each possible tub when pouring ends, shape (tubs,)."""
    ending_reserve: Array
    """Its acid reserve [meq/L], shape (tubs,)."""
    level: int
    """Worst caution level of all of these, an index into `LEVELS`."""
    look: Look | None = None
    """What tells between portions that the tub has turned; None for a single pour."""
    settled_ph: Array | None = None
    """`ending_ph` with all excess chalk out; None where none may fall in any tub."""

    def moments(self, ph_before: float) -> tuple[Moment, ...]:
        """What cautions look at, from the tub before to the tub whose gas has left."""
        sides = [("before", (self.before_acid_side, ph_before))]
        if len(self.totals_g) > 1:
            sides.append(("first-pour", (self.acid_sides[0], ph_before)))
        sides += [("after", self.final), ("after-airing", self.aired)]
        return tuple(Moment(name, *ends, self.reserve_meq_l) for name, ends in sides)


def worst_level(values: Sequence[float], reserve_meq_l: float, bathers: str) -> int:
    """Worst caution level of some pH values and an acid reserve, an index into `LEVELS`."""
    return int(np.max(bath_level(np.asarray(values), reserve_meq_l, bathers)))


def gentlest_ph(bathers: str, level: int, *, acid: bool) -> float:
    """The outermost pH that does not exceed a caution level."""
    grid = np.round(np.arange(0.0, 14.005, 0.01), 2)
    inside = grid[gate_level(grid, bathers) <= level]
    return float(inside[0] if acid else inside[-1])


def grams_to_limit(possible: Possible, bathers: str, level: int, *, acid: bool) -> Array:
    """Grams that bring each possible tub to the end of a caution level, by pH or by reserve.

    Parameters
    ----------
    possible : Possible
        The tubs that agree with the readings.
    bathers : str
        As in `gate_level`.
    level : int
        Index into `LEVELS`.
    acid : bool
        Whether the activator lowers the pH.

    Returns
    -------
    numpy.ndarray
        Shape (tubs,) [g]; infinite where no amount leads past it.
    """
    by_ph = possible.grams_for_ph(gentlest_ph(bathers, level, acid=acid))
    limit = np.where(np.isnan(by_ph), np.inf, by_ph)
    reserve = reserve_limit(bathers, level)
    if acid and np.isfinite(reserve):
        limit = np.minimum(limit, possible.grams_for_reserve(reserve))
    return np.asarray(limit)


def pour_at_once(possible: Possible, grams: float, bathers: str) -> Pouring:
    """One pour of all the grams."""
    ph = possible.judged(grams).solve().ph[None, :]
    return _poured(possible, (grams,), grams, ph, np.zeros(ph.shape[1], dtype=int), bathers)


def pour_in_portions(
    possible: Possible,
    look: Look,
    grams: float,
    most_g: float,
    bathers: str,
    accepted: int,
    *,
    acid: bool,
) -> Pouring:
    """The fewest portions whose worst case stays within a caution level; else the best found.

    Parameters
    ----------
    possible : Possible
        The tubs that agree with the readings.
    look : Look
        What tells between portions that the tub has turned.
    grams, most_g : float
        Aim in the tub as read, and the most that is ever poured [g].
    bathers : str
        As in `gate_level`.
    accepted : int
        Index into `LEVELS` that may not be exceeded.
    acid : bool
        Whether the activator lowers the pH.
    """
    reaching = grams_to_limit(possible, bathers, accepted, acid=acid)
    safe_first = float(np.quantile(reaching, ACID_SIDE, method="lower"))
    first = min(0.5 * grams, 0.98 * safe_first)

    def played(portions: int, spare: float) -> Pouring:
        most = grams + spare * max(most_g - grams, 0.0)
        totals = _portions(first, grams, most, portions)
        return _played(possible, look, grams, totals, bathers, acid=acid)

    best: Pouring | None = None
    for portions in range(2, int(typical("most_portions").value) + 1):
        bare = played(portions, 0.0)
        if bare.level <= accepted:
            # What is offered beyond the aim only makes it less safe.
            offered = (played(portions, spare) for spare in SPARES)
            return next((one for one in offered if one.level <= accepted), bare)
        if best is None or bare.level < best.level:
            best = bare
    assert best is not None
    return best


def pour_gently(
    possible: Possible,
    path: Path,
    step: int,
    most: Callable[[], float],
    bathers: str,
    accepted: int,
    instrument: str,
) -> Pouring:
    """The simplest way to pour that the cautions allow, or the gentlest there is.

    Parameters
    ----------
    possible : Possible
        The tubs that agree with the readings.
    path : Path
        Where the activator leads the tub as read.
    step : int
        Where on it the pour shall lead.
    most : callable
        Tells the most that is ever poured [g]; asked only where one pour is too much.
    bathers : str
        As in `gate_level`.
    accepted : int
        Index into `LEVELS` that may not be exceeded.
    instrument : str
        What can be read between portions, as `dosing.plan.look.look_between` takes it.
    """
    grams = float(path.grams[step])
    at_once = pour_at_once(possible, grams, bathers)
    if at_once.level <= accepted or grams <= 0:
        return at_once
    look = look_between(path, step, instrument)
    if look is None:
        return at_once
    portions = pour_in_portions(possible, look, grams, most(), bathers, accepted, acid=path.acid)
    return portions if portions.level < at_once.level else at_once


def most_to_pour(
    possible: Possible, pouring: Pouring, grams: float, most_g: float, bathers: str, accepted: int
) -> float:
    """The printed maximum [g]: the last portion of several, or what may be poured at once.

    Nobody looks between the halves of a single pour, so all of it must pass in every tub.

    Parameters
    ----------
    possible, bathers, accepted
        As in `pour_gently`.
    pouring : Pouring
        How it is poured.
    grams, most_g : float
        The aim, and what would be the most if every tub allowed it [g].
    """
    if len(pouring.totals_g) > 1:
        return pouring.totals_g[-1]
    low, high = grams, most_g
    if pour_at_once(possible, high, bathers).level <= accepted:
        return high
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        passes = pour_at_once(possible, middle, bathers).level <= accepted
        low, high = (middle, high) if passes else (low, middle)
    return low


def _portions(first: float, aim: float, most: float, portions: int) -> tuple[float, ...]:
    """Totals after each portion: the first, equal steps to the aim, and what may still follow."""
    steps = [float(v) for v in np.linspace(first, aim, portions)]
    spare = most - aim
    # A last pinch is not worth a portion of its own.
    return (*steps, most) if spare > 0.25 * (steps[1] - steps[0]) else tuple(steps)


def _played(
    possible: Possible,
    look: Look,
    aim: float,
    totals: tuple[float, ...],
    bathers: str,
    *,
    acid: bool,
) -> Pouring:
    """Pour portion after portion into every possible tub until its colour has turned."""
    ph = np.asarray(possible.judged(np.asarray(totals)[:, None]).solve().ph)
    # Whoever looks into the tub as read sees it as it is.
    read = ph + look.sd_ph * np.append(possible.look_error, np.zeros(READ_ROWS))
    turned = read <= look.stop_ph if acid else read >= look.stop_ph
    turned[-1] = True
    last = np.argmax(turned, axis=0)
    return replace(_poured(possible, totals, aim, ph, last, bathers), look=look)


def _poured(
    possible: Possible,
    totals: tuple[float, ...],
    aim: float,
    ph: Array,
    last: NDArray[np.int_],
    bathers: str,
) -> Pouring:
    """Where pouring ends in every possible tub, and in the tub as read behind them.

    Parameters
    ----------
    possible, aim, bathers
        As in `pour_in_portions`.
    totals : tuple of float
        Grams in the tub after each portion.
    ph : numpy.ndarray
        pH after each portion, shape (portions, tubs + READ_ROWS).
    last : numpy.ndarray
        The last portion of each, shape (tubs + READ_ROWS,).
    """
    ending_g = np.asarray(totals)[last]
    ended = possible.judged(ending_g)
    ending = ph[last, np.arange(ph.shape[1])]
    final = _ends(ending)
    aired = _ends(ended.at_rest().ph)
    reserves = ended.acid_reserve_meq_l()
    reserve = _ends(reserves)[1]
    taking = np.arange(len(totals))[:, None] <= last
    acid_sides = [_ends(np.where(*pair, np.nan))[0] for pair in zip(taking, ph, strict=True)]
    # The first portion goes into every tub, also into those that a look will then spare.
    values = [*final, *aired, *_ends(ph[0])]
    values += [side for side in acid_sides if np.isfinite(side)]
    return Pouring(
        totals_g=totals,
        aim_g=aim,
        acid_sides=tuple(acid_sides),
        before_acid_side=_ends(possible.before_ph)[0],
        final=final,
        aired=aired,
        reserve_meq_l=reserve,
        ending_g=ending_g,
        ending_ph=ending[:-READ_ROWS],
        ending_reserve=reserves[:-READ_ROWS],
        level=worst_level(values, reserve, bathers),
    )


def with_chalk(possible: Possible, pouring: Pouring, bathers: str) -> Pouring:
    """A way to pour whose ends reach from none of the excess chalk fallen out to all of it.

    Chalk brings a tub nearer to neutral, so it is only worked out for a pouring that is told; its
    level is never milder than without it.
    """
    ended = possible.judged(pouring.ending_g)
    final, aired = pouring.final, pouring.aired
    closed, opened = ended.solve(), ended.at_rest()
    settled = None
    if np.any(may_fall(closed)):
        settled = settled_ph(closed)
        final = _widened(final, settled)
        settled = settled[:-READ_ROWS]
    if np.any(may_fall(opened)):
        aired = _widened(aired, settled_ph(opened, ended.air_co2_ppm))
    level = worst_level([*final, *aired], pouring.reserve_meq_l, bathers)
    level = max(level, pouring.level)
    return replace(pouring, final=final, aired=aired, level=level, settled_ph=settled)


def with_later(pouring: Pouring, low_ph: float, high_ph: float, bathers: str) -> Pouring:
    """A way to pour whose tubs, hours later, reach to both ends of what is told of that."""
    aired = min(pouring.aired[0], low_ph), max(pouring.aired[1], high_ph)
    level = worst_level(aired, pouring.reserve_meq_l, bathers)
    return replace(pouring, aired=aired, level=max(level, pouring.level))


def _widened(clear: tuple[float, float], settled: Array) -> tuple[float, float]:
    low, high = _ends(settled)
    return min(clear[0], low), max(clear[1], high)


def _ends(values: Array) -> tuple[float, float]:
    low, high = both_sides(values)
    return float(low), float(high)


def level_name(level: int) -> str:
    """Name of a caution level."""
    return LEVELS[level]
