"""Doses of homes: grams to the turn and to the limit in every home, and the pH after a sachet.

No loop goes over homes: the solver takes them in parts of some thousands, on all processors where
there are many.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Truth, assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import Bath
from dosing.ingredients.trade_values import typical
from dosing.plan.households import in_tub, small_vessel
from dosing.sachets.populations import Homes
from dosing.sachets.turning import Turning

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]

HOMES_AT_ONCE = 2048
WORTH_PROCESSES = 400_000
"""Solved baths from which starting further processes pays."""


@dataclass(frozen=True)
class Limit:
    """How sour a bath may become."""

    ph: float
    """The most acid pH; 0 where nobody bathes."""
    reserve_meq_l: float
    """The most acid reserve [meq/L]; infinite where nobody bathes."""


@dataclass(frozen=True)
class HomeDoses:
    """What each home needs, and what a sachet does there; arrays of shape (homes,)."""

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
    final_ph: Array
    """PH just after each size, shape (sizes, homes)."""

    @property
    def most_g(self) -> Array:
        """Most with which a home has turned and is within the limit [g]."""
        return np.minimum(self.passed_g, self.limit_g)


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


@dataclass(frozen=True)
class _Part:
    bath: Bath
    per_gram: Mapping[str, Array]
    volume_l: Array
    look_error: Array
    turning: Turning
    limit: Limit
    sizes_g: tuple[float, ...]


def filled(inputs: RecipeInputs, homes: Homes) -> Population:
    """The recipe's bottle in the tub of every home.

    Parameters
    ----------
    inputs : RecipeInputs
        Whose foam bath, colours, activator and temperature are kept. Into a vessel too small
        for a bath tub homes differ around its own fill.
    homes : Homes
        The households.
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


def home_doses(
    population: Population,
    turning: Turning,
    limit: Limit,
    sizes_g: Sequence[float] = (),
    progress: Progress | None = None,
) -> HomeDoses:
    """Needs of all homes, and the pH after each size.

    Parameters
    ----------
    population : Population
        The homes.
    turning : Turning
        When a tub has turned.
    limit : Limit
        How sour a home may become.
    sizes_g : sequence of float
        Sachets [g].
    progress : callable, optional
        Told the homes that are done, and all of them.

    Raises
    ------
    ValueError
        If a size is negative or not finite.
    """
    if any(not (np.isfinite(size) and size >= 0) for size in sizes_g):
        raise ValueError("a sachet size is no mass; accepted are finite masses from 0 up")
    count = population.homes.count
    parts = [
        _Part(
            bath=take(population.bath, slice(start, start + HOMES_AT_ONCE)),
            per_gram=population.per_gram,
            volume_l=population.volume_l[start : start + HOMES_AT_ONCE],
            look_error=population.homes.look_error[start : start + HOMES_AT_ONCE],
            turning=turning,
            limit=limit,
            sizes_g=tuple(sizes_g),
        )
        for start in range(0, count, HOMES_AT_ONCE)
    ]
    solved: list[dict[str, Array]] = []
    done = 0
    for found in _worked(_solve_part, parts, count * (5 + len(sizes_g))):
        solved.append(found)
        done += len(found["start_ph"])
        if progress is not None:
            progress(done, count)
    return HomeDoses(
        **{name: np.concatenate([one[name] for one in solved], axis=-1) for name in solved[0]}
    )


def ph_after(population: Population, grams: Array, rows: NDArray[np.int_] | None = None) -> Array:
    """PH just after pouring, with grams of its own for each home, or for some of them."""
    return _each(population, grams, rows, lambda bath: bath.solve().ph)


def reserve_after(population: Population, grams: Array) -> Array:
    """Acid reserve just after pouring, with grams of its own for each home [meq/L]."""
    return _each(population, grams, None, lambda bath: bath.acid_reserve_meq_l())


def _each(
    population: Population,
    grams: Array,
    rows: NDArray[np.int_] | None,
    ask: Callable[[Bath], Array],
) -> Array:
    """Something of every home, or of some, after its grams; so many homes at once."""
    chosen = np.arange(len(grams)) if rows is None else rows
    parts = (chosen[k : k + HOMES_AT_ONCE] for k in range(0, len(chosen), HOMES_AT_ONCE))
    return np.concatenate(
        [
            ask(take(population.bath, part).with_activator(grams[part], population.per_gram))
            for part in parts
        ]
    )


def grams_to(bath: Bath, per_gram: Mapping[str, Array], ph: Array, start_ph: Array) -> Array:
    """Grams that bring a tub down to a pH: 0 where it is there, infinite where none do."""
    # What is there already, or never, is not worth the solver's long way of finding that out.
    there = ph >= start_ph
    grams, reached, _ = bath.grams_for_ph(np.where(there, np.nan, ph), per_gram)
    needed = np.where(reached & np.isfinite(grams), np.maximum(grams, 0.0), np.inf)
    return np.where(there, 0.0, needed)


def take(bath: Bath, rows: slice | NDArray[np.int_]) -> Bath:
    """Some of the tubs of a batch."""
    return replace(
        bath,
        totals={name: np.array(total[rows]) for name, total in bath.totals.items()},
        volume_l=np.array(bath.volume_l[rows]),
        water_kg=np.array(bath.water_kg[rows]),
        temperature_c=np.array(bath.temperature_c[rows]),
        # Colours are the business of the turning table.
        strengths={},
        surfactants_g_l={},
    )


def _solve_part(part: _Part) -> dict[str, Array]:
    bath = part.bath
    start = bath.solve().ph
    turned, passed, look_sd = part.turning.at(start, part.volume_l)
    lowest = typical("lowest_ph_of_interest").value
    looked = np.maximum(turned - look_sd * part.look_error, lowest)

    def to(ph: Array) -> Array:
        return grams_to(bath, part.per_gram, ph, start)

    never = np.full(len(start), np.inf)
    bounded = passed > 0.0
    passed_g = to(np.where(bounded, passed, np.nan)) if bounded.any() else never
    sizes = np.array(part.sizes_g)[:, None]
    final = np.empty((0, len(start)))
    if len(sizes):
        final = bath.with_activator(sizes, part.per_gram).solve().ph
    return {
        "start_ph": start,
        "turns_g": to(turned),
        "passed_g": np.where(bounded, passed_g, np.inf),
        "limit_g": np.minimum(
            to(np.full(len(start), part.limit.ph)) if part.limit.ph > 0.0 else never,
            bath.grams_for_reserve(part.limit.reserve_meq_l, part.per_gram)
            if np.isfinite(part.limit.reserve_meq_l)
            else never,
        ),
        "look_g": to(looked),
        "final_ph": final,
    }


def _worked(
    work: Callable[[_Part], dict[str, Array]], parts: Sequence[_Part], solves: int
) -> Iterator[dict[str, Array]]:
    """Results in the order of the parts, on several processors if that pays."""
    workers = min(os.cpu_count() or 1, len(parts))
    if workers < 2 or solves < WORTH_PROCESSES:
        yield from map(work, parts)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    # Started afresh, a process inherits no locks and no open files.
    pool: Any = ProcessPoolExecutor(workers, get_context("spawn"), initializer=_leave_interrupts)
    try:
        yield from pool.map(work, parts)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _leave_interrupts() -> None:
    """An interrupt ends the process that asked; its helpers then finish their part quietly."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
