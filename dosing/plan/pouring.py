"""Pouring: at once where every possible tub allows it, else in portions with a look between.

A person who pours in portions stops when a look says that the tub has turned, so an unknown water
cannot carry the bath far past the wish. That is played through for every possible tub, each with
an error of the look of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from dosing.bath.chalk import may_fall, settled_ph
from dosing.bath.mixed import Bath
from dosing.bath.possible_tubs import ACID_SIDE, READ_ROWS, Possible, both_sides
from dosing.ingredients.trade_values import typical
from dosing.plan.cautions import Moment
from dosing.plan.curves import PouredTubs, Tubs
from dosing.plan.levels import bath_level, gate_level, reserve_limit
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
    ended: PouredTubs
    """`Possible.judged` tubs when pouring ends, shape (tubs + READ_ROWS,)."""
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
        """Sides of the pH at the moments of a pour, from the tub before to the one without gas."""
        sides = [("before", (self.before_acid_side, ph_before))]
        if len(self.totals_g) > 1:
            sides.append(("first-pour", (self.acid_sides[0], ph_before)))
        sides += [("after", self.final), ("after-airing", self.aired)]
        return tuple(Moment(name, *ends, self.reserve_meq_l) for name, ends in sides)


def worst_level(ph: Sequence[float], reserve_meq_l: float, bathers: str) -> int:
    """Worst caution level of some pH values and an acid reserve, an index into `LEVELS`.

    Parameters
    ----------
    ph : sequence of float
        pH of one tub, or at both sides of many.
    reserve_meq_l : float
        Acid reserve [meq/L].
    bathers : str
        As in `gate_level`.

    Returns
    -------
    int
        Index into `LEVELS`.
    """
    return int(np.max(bath_level(np.asarray(ph), reserve_meq_l, bathers)))


def gentlest_ph(bathers: str, level: int, *, acid: bool) -> float:
    """Outermost pH that does not exceed a caution level.

    Parameters
    ----------
    bathers : str
        As in `gate_level`.
    level : int
        Index into `LEVELS`.
    acid : bool
        Whether the acid side is meant.

    Returns
    -------
    float
        pH; beyond it the level is heavier.
    """
    return _outermost_ph(bathers, level)[0 if acid else 1]


@cache
def _outermost_ph(bathers: str, level: int) -> tuple[float, float]:
    grid = np.round(np.arange(0.0, 14.005, 0.01), 2)
    inside = grid[gate_level(grid, bathers) <= level]
    return float(inside[0]), float(inside[-1])


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


def pour_at_once(tubs: Tubs, grams: float, bathers: str) -> Pouring:
    """Ends, in every possible tub, of one pour of all the grams.

    Parameters
    ----------
    tubs : Possible or Curves
        The tubs that agree with the readings.
    grams : float
        The dose [g].
    bathers : str
        As in `gate_level`.

    Returns
    -------
    Pouring
        Of a single portion.
    """
    ended = tubs.judged(grams)
    ph = ended.ph[None, :]
    return _poured(tubs, (grams,), ended, ph, np.zeros(ph.shape[1], dtype=int), bathers)


def portions_pass(
    tubs: Tubs, look: Look, grams: float, safe_first_g: float, bathers: str, accepted: int
) -> bool:
    """Whether some number of portions that leads to the aim stays within a caution level.

    Parameters
    ----------
    tubs : Possible or Curves
        The tubs that agree with the readings.
    look : Look
        What tells between portions that the tub has turned.
    grams : float
        Aim in the tub as read [g].
    safe_first_g : float
        What may be poured first, unseen [g]: `safe_first`.
    bathers : str
        As in `gate_level`.
    accepted : int
        Index into `LEVELS` that may not be exceeded.

    Returns
    -------
    bool
        True as soon as one number of portions passes.
    """
    first = min(0.5 * grams, safe_first_g)

    def passes(totals: tuple[float, ...]) -> bool:
        return tubs.decide(lambda at: _played(at, look, totals, bathers).level <= accepted)

    return any(passes(_portions(first, grams, grams, count)) for count in _counts())


def pour_in_portions(
    tubs: Tubs,
    look: Look,
    grams: float,
    most_g: float,
    safe_first_g: float,
    bathers: str,
    accepted: int,
) -> Pouring:
    """Fewest portions whose worst case stays within a caution level; else the best there are.

    Parameters
    ----------
    tubs : Possible or Curves
        The tubs that agree with the readings.
    look : Look
        What tells between portions that the tub has turned.
    grams, most_g : float
        Aim in the tub as read, and the most that is ever poured [g].
    safe_first_g : float
        What may be poured first, unseen [g]: `safe_first`.
    bathers : str
        As in `gate_level`.
    accepted : int
        Index into `LEVELS` that may not be exceeded.

    Returns
    -------
    Pouring
        Its level exceeds `accepted` where no number of portions passes.
    """
    first = min(0.5 * grams, safe_first_g)

    def played_in(tubs: Tubs, count: int, spare: float) -> Pouring:
        most = grams + spare * max(most_g - grams, 0.0)
        return _played(tubs, look, _portions(first, grams, most, count), bathers)

    played = cache(partial(played_in, tubs.exact))

    def passes(count: int, spare: float) -> bool:
        def holds(at: Tubs) -> bool:
            exact = isinstance(at, Possible)
            pouring = played(count, spare) if exact else played_in(at, count, spare)
            return pouring.level <= accepted

        return tubs.decide(holds)

    for count in _counts():
        if passes(count, 0.0):
            # What is offered beyond the aim only makes it less safe.
            return played(count, next((spare for spare in SPARES if passes(count, spare)), 0.0))
    return min((played(count, 0.0) for count in _counts()), key=lambda pouring: pouring.level)


def safe_first(reaching_g: Array) -> float:
    """Mass that may be poured first, unseen, by what leads each tub to the limit [g]."""
    return 0.98 * float(np.quantile(reaching_g, ACID_SIDE, method="lower"))


def pour_gently(
    tubs: Tubs,
    path: Path,
    step: int,
    most: Callable[[], float],
    bathers: str,
    accepted: int,
    instrument: str,
) -> Pouring:
    """Simplest way to pour that the cautions allow, or the gentlest there is.

    Parameters
    ----------
    tubs : Possible or Curves
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

    Returns
    -------
    Pouring
        At once, or in portions with a look between them.
    """
    grams, possible = float(path.grams[step]), tubs.exact
    at_once = pour_at_once(possible, grams, bathers)
    if at_once.level <= accepted or grams <= 0:
        return at_once
    look = look_between(path, step, instrument)
    if look is None:
        return at_once
    first_g = safe_first(grams_to_limit(possible, bathers, accepted, acid=path.acid))
    portions = pour_in_portions(tubs, look, grams, most(), first_g, bathers, accepted)
    return portions if portions.level < at_once.level else at_once


def most_to_pour(
    tubs: Tubs, pouring: Pouring, grams: float, most_g: float, bathers: str, accepted: int
) -> float:
    """The printed maximum [g]: the last portion of several, or what may be poured at once.

    Nobody looks between the halves of a single pour, so all of it must pass in every tub.

    Parameters
    ----------
    tubs : Possible or Curves
        The tubs that agree with the readings.
    pouring : Pouring
        How it is poured.
    grams, most_g : float
        The aim, and what would be the most if every tub allowed it [g].
    bathers : str
        As in `gate_level`.
    accepted : int
        Index into `LEVELS` that may not be exceeded.

    Returns
    -------
    float
        [g].
    """
    if len(pouring.totals_g) > 1:
        return pouring.totals_g[-1]
    return most_at_once(tubs, grams, most_g, bathers, accepted)


def most_at_once(tubs: Tubs, least_g: float, most_g: float, bathers: str, accepted: int) -> float:
    """Most that may be poured at once, unseen [g].

    Parameters
    ----------
    tubs : Possible or Curves
        The tubs that agree with the readings.
    least_g, most_g : float
        What may be poured for sure, and what would be the most if every tub allowed it [g].
    bathers : str
        As in `gate_level`.
    accepted : int
        Index into `LEVELS` that may not be exceeded.

    Returns
    -------
    float
        From `least_g` to `most_g` [g].
    """

    def passes(dose: float) -> bool:
        return tubs.decide(lambda at: pour_at_once(at, dose, bathers).level <= accepted)

    low, high = least_g, most_g
    if passes(high):
        return high
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if passes(middle) else (low, middle)
    return low


def _counts() -> range:
    """Numbers of portions that are tried."""
    return range(2, int(typical("most_portions").value) + 1)


def _portions(first: float, aim: float, most: float, portions: int) -> tuple[float, ...]:
    """Totals after each portion: the first, equal steps to the aim, and what may still follow."""
    steps = [float(v) for v in np.linspace(first, aim, portions)]
    spare = most - aim
    # A last pinch is not worth a portion of its own.
    return (*steps, most) if spare > 0.25 * (steps[1] - steps[0]) else tuple(steps)


def _played(tubs: Tubs, look: Look, totals: tuple[float, ...], bathers: str) -> Pouring:
    """Pour portion after portion into every possible tub until its colour has turned."""
    ph = np.asarray(tubs.judged(np.asarray(totals)[:, None]).ph)
    # Whoever looks into the tub as read sees it as it is.
    read = ph + look.sd_ph * np.append(tubs.look_error, np.zeros(READ_ROWS))
    turned = read <= look.stop_ph if look.acid else read >= look.stop_ph
    turned[-1] = True
    last = np.argmax(turned, axis=0)
    ended = tubs.judged(np.asarray(totals)[last])
    return replace(_poured(tubs, totals, ended, ph, last, bathers), look=look)


def _poured(
    tubs: Tubs,
    totals: tuple[float, ...],
    ended: PouredTubs,
    ph: Array,
    last: NDArray[np.int_],
    bathers: str,
) -> Pouring:
    """Where pouring ends in every possible tub, and in the tub as read behind them.

    Parameters
    ----------
    tubs, bathers
        As in `pour_in_portions`.
    totals : tuple of float
        Grams in the tub after each portion.
    ended : PouredTubs
        The tubs when pouring ends.
    ph : numpy.ndarray
        pH after each portion, shape (portions, tubs + READ_ROWS).
    last : numpy.ndarray
        The last portion of each, shape (tubs + READ_ROWS,).
    """
    ending = ph[last, np.arange(ph.shape[1])]
    final, aired = tubs.ends(ending), tubs.ends(ended.ph_at_rest)
    reserves = ended.acid_reserve_meq_l()
    reserve = tubs.ends(reserves)[1]
    acid_sides: tuple[float, ...] = final[:1]
    firsts: tuple[float, ...] = ()
    if len(totals) > 1:
        taking = np.arange(len(totals))[:, None] <= last
        acid_sides = tuple(
            tubs.ends(np.where(*pair, np.nan))[0] for pair in zip(taking, ph, strict=True)
        )
        # The first portion goes into every tub, also into those that a look will then spare.
        firsts = tubs.ends(ph[0])
    told = [side for side in acid_sides if np.isfinite(side)]
    return Pouring(
        totals_g=totals,
        acid_sides=acid_sides,
        before_acid_side=tubs.ends(tubs.before_ph)[0],
        final=final,
        aired=aired,
        reserve_meq_l=reserve,
        ended=ended,
        ending_ph=ending[:-READ_ROWS],
        ending_reserve=reserves[:-READ_ROWS],
        level=worst_level([*final, *aired, *firsts, *told], reserve, bathers),
    )


def with_chalk(pouring: Pouring, bathers: str) -> Pouring:
    """Pouring whose ends reach from none of the excess chalk fallen out to all of it.

    Chalk brings a tub nearer to neutral, so it is only worked out for a pouring that is told; its
    level is never milder than without it.

    Parameters
    ----------
    pouring : Pouring
        Worked out without chalk, in tubs that are solved exactly.
    bathers : str
        As in `gate_level`.

    Returns
    -------
    Pouring
        Its sides of the pH are never narrower.
    """
    assert isinstance(pouring.ended, Bath)
    closed, opened = pouring.ended.solve(), pouring.ended.at_rest()
    final, aired, settled = pouring.final, pouring.aired, None
    if np.any(may_fall(closed)):
        settled = settled_ph(closed)
        final = _widened(final, settled)
        settled = settled[:-READ_ROWS]
    if np.any(may_fall(opened)):
        aired = _widened(aired, settled_ph(opened, pouring.ended.air_co2_ppm))
    level = worst_level([*final, *aired], pouring.reserve_meq_l, bathers)
    level = max(level, pouring.level)
    return replace(pouring, final=final, aired=aired, level=level, settled_ph=settled)


def with_later(pouring: Pouring, low_ph: float, high_ph: float, bathers: str) -> Pouring:
    """Pouring whose tubs, hours later, reach to both ends of the pH that is told of that.

    Parameters
    ----------
    pouring : Pouring
        How it is poured.
    low_ph, high_ph : float
        Ends of the pH hours later.
    bathers : str
        As in `gate_level`.

    Returns
    -------
    Pouring
        Its aired sides are never narrower, its level never milder.
    """
    aired = min(pouring.aired[0], low_ph), max(pouring.aired[1], high_ph)
    level = worst_level(aired, pouring.reserve_meq_l, bathers)
    return replace(pouring, aired=aired, level=max(level, pouring.level))


def _widened(clear: tuple[float, float], settled: Array) -> tuple[float, float]:
    low, high = both_sides(settled)
    return min(clear[0], float(low)), max(clear[1], float(high))
