"""How to pour: at once where every possible tub allows it, else in portions with a look between.

A person who pours in portions stops when a look says that the tub has turned, so an unknown water
cannot carry the bath far past the wish. That is played through for every possible tub, each with
an error of the look of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dosing.cautions import LEVELS, Moment, gate_level
from dosing.equilibrium import default_air_co2_ppm
from dosing.looking import Look, look_between
from dosing.planner import Path
from dosing.trade_values import typical
from dosing.uncertainty import ACID_SIDE, Possible, sides

Array = NDArray[np.float64]

SPARES = (1.0, 0.5)
"""Shares of the reach between aim and most that are offered beyond the aim."""
HALVINGS = 6
"""Of the reach between aim and most, to find the last dose that passes."""
AIR_CO2_PPM = default_air_co2_ppm()


@dataclass(frozen=True)
class Pouring:
    """A way to pour, and where it ends in the possible tubs."""

    totals_g: tuple[float, ...]
    """Grams in the tub after each portion; the last is the most that is ever poured."""
    aim_g: float
    """Grams in the tub as read when its colour has turned."""
    acid_sides: tuple[float, ...]
    """5 % quantile of the pH after each portion, among the tubs that take it."""
    final: tuple[float, float]
    """5 % and 95 % quantile of the pH when pouring ends."""
    aired: tuple[float, float]
    """The same when the carbon dioxide has left."""
    ending_ph: Array
    """pH of each possible tub when pouring ends, shape (tubs,)."""
    level: int
    """Worst caution level of all of these, an index into `LEVELS`."""
    look: Look | None = None
    """What tells between portions that the tub has turned; None for a single pour."""

    def moments(self, ph_before: float) -> tuple[Moment, ...]:
        """What cautions look at, from the tub before to the tub whose gas has left."""
        start = [Moment("before", ph_before, ph_before)]
        if len(self.totals_g) > 1:
            start.append(Moment("first-pour", self.acid_sides[0], ph_before))
        return (*start, Moment("after", *self.final), Moment("after-airing", *self.aired))


def worst_level(values: Sequence[float], bathers: str) -> int:
    """Worst caution level of some pH values for these bathers, an index into `LEVELS`."""
    return int(np.max(gate_level(np.asarray(values), bathers)))


def gentlest_ph(bathers: str, level: int, *, acid: bool) -> float:
    """The outermost pH that does not exceed a caution level."""
    grid = np.round(np.arange(0.0, 14.005, 0.01), 2)
    inside = grid[gate_level(grid, bathers) <= level]
    return float(inside[0] if acid else inside[-1])


def pour_at_once(possible: Possible, grams: float, bathers: str) -> Pouring:
    """One pour of all the grams."""
    ending = possible.final_ph(grams)
    final = sides(ending)
    aired = sides(possible.final_ph(grams, pco2_ppm=AIR_CO2_PPM))
    values = [float(v) for v in (*final, *aired)]
    return Pouring(
        totals_g=(grams,),
        aim_g=grams,
        acid_sides=(values[0],),
        final=(values[0], values[1]),
        aired=(values[2], values[3]),
        ending_ph=ending,
        level=worst_level(values, bathers),
    )


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
    floor = gentlest_ph(bathers, accepted, acid=acid)
    to_floor = possible.grams_for_ph(floor)
    # A tub that no amount takes to the floor is safe with any portion.
    reaching = np.where(np.isnan(to_floor), np.inf, to_floor)
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
        What can be read between portions, as `dosing.looking.look_between` takes it.
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
    amounts = np.asarray(totals)
    ph = possible.final_ph(amounts[:, None])
    read = ph + look.sd_ph * possible.look_error
    turned = read <= look.stop_ph if acid else read >= look.stop_ph
    turned[-1] = True
    last = np.argmax(turned, axis=0)
    tubs = np.arange(ph.shape[1])
    final = sides(ph[last, tubs])
    aired = sides(possible.final_ph(amounts[last], pco2_ppm=AIR_CO2_PPM))
    taking = np.arange(len(totals))[:, None] <= last
    acid_sides = [
        float(sides(ph[k, taking[k]])[0]) if taking[k].any() else float("nan")
        for k in range(len(totals))
    ]
    # The first portion goes into every tub, also into those that a look will then spare.
    values = [float(v) for v in (*final, *aired, *sides(ph[0]))]
    values += [side for side in acid_sides if np.isfinite(side)]
    return Pouring(
        totals_g=totals,
        aim_g=aim,
        acid_sides=tuple(acid_sides),
        final=(values[0], values[1]),
        aired=(values[2], values[3]),
        ending_ph=ph[last, tubs],
        level=worst_level(values, bathers),
        look=look,
    )


def level_name(level: int) -> str:
    """Name of a caution level."""
    return LEVELS[level]
