"""The search for an effect: which colours, how strong, and which pH come nearest to two wishes.

Mixtures of every set of colourants are tried, spread evenly over strengths and pH; the sets that
show promise evolve, each on its own, and those that stay ahead are followed to the end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from dosing.bath.possible_tubs import even_numbers
from dosing.effects.task import EXACT, FAINTEST_CERTAINTY, Task, Votes
from indicator.pigments import colourant
from indicator.words import called_certainty, word_certainty

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Places = NDArray[np.intp]

MOST_PIGMENTS, MOST_DYES = 2, 2
SPREAD = 256
"""Mixtures of every set that are tried first."""
PEOPLE = 64
"""The best of them, which evolve together."""
ROWS_AT_ONCE = 6000
PROMISING_SETS, KEPT_SETS = 60, 24
"""Sets that evolve at all, and that are followed to the end."""
FIRST_GENERATIONS, LAST_GENERATIONS = 20, 30
EXACT_GENERATIONS = 16
"""More of them on each side of a gate, with the votes themselves, which the tables round."""
SETTLED = 0.001
"""Spread of the costs of a set, over their mean, at which it has settled."""
TABLE_STEP = 4.0
"""Of the tables of word certainties in CIELAB; between their points is interpolated."""
TABLE_REACH = 112.0
FAINT_CHROMA = 12.0
"""Nearer to grey the hue turns too much within one step of the tables: there the votes are cast."""


@dataclass(frozen=True)
class Candidate:
    """A mixture and its end, as the search leaves them."""

    names: tuple[str, ...]
    strengths: tuple[float, ...]
    """pH-1 absorbance per cm of a pigment, mol/L of a dye."""
    ph: float
    cost: float


def colour_sets(names: Sequence[str]) -> list[tuple[int, ...]]:
    """Sets of one or two pigments and up to two dyes, as places in `names`.

    Two colourants of one family (the same petals by other numbers) never stand in one set.
    """
    known = [colourant(name) for name in names]
    pigments = [k for k, one in enumerate(known) if one.kind == "pigment"]
    dyes = [k for k, one in enumerate(known) if one.kind == "dye"]
    found = []
    for some in _some(pigments, 1, MOST_PIGMENTS):
        for more in _some(dyes, 0, MOST_DYES):
            whole = (*some, *more)
            if len({known[k].family for k in whole}) == len(whole):
                found.append(whole)
    return found


def _some(places: Sequence[int], least: int, most: int) -> list[tuple[int, ...]]:
    return [one for count in range(least, most + 1) for one in combinations(places, count)]


@lru_cache(maxsize=64)
def _table(certainty: Callable[[Array, str], Array], word: str) -> Array:
    """Logarithm of the certainty of a word over CIELAB, shape (lightness, a, b)."""
    light = np.arange(0.0, 100.0 + TABLE_STEP, TABLE_STEP)
    side = np.arange(-TABLE_REACH, TABLE_REACH + 0.5 * TABLE_STEP, TABLE_STEP)
    lab = np.stack(np.meshgrid(light, side, side, indexing="ij"), axis=-1)
    flat = lab.reshape(-1, 3)
    parts = [certainty(flat[k : k + ROWS_AT_ONCE], word) for k in range(0, len(flat), ROWS_AT_ONCE)]
    votes = np.maximum(np.concatenate(parts), FAINTEST_CERTAINTY)
    return np.asarray(np.log(votes).reshape(lab.shape[:-1]))


def _looked_up(lab: Array, certainty: Callable[[Array, str], Array], word: str) -> Array:
    from scipy.ndimage import map_coordinates

    flat = lab.reshape(-1, 3)
    places = (flat + np.array([0.0, TABLE_REACH, TABLE_REACH])) / TABLE_STEP
    found = np.exp(map_coordinates(_table(certainty, word), places.T, order=1, mode="nearest"))
    faint = np.hypot(flat[:, 1], flat[:, 2]) < FAINT_CHROMA
    if faint.any():
        found[faint] = certainty(flat[faint], word)
    return np.asarray(found.reshape(lab.shape[:-1]))


def tabled_certainty(lab: Array, word: str) -> Array:
    """`word_certainty` from a table, near enough for a search and many times as fast."""
    return _looked_up(lab, word_certainty, word)


def tabled_called(lab: Array, word: str) -> Array:
    """`called_certainty` from a table."""
    return _looked_up(lab, called_certainty, word)


TABLED = Votes(tabled_certainty, tabled_called)


def search(task: Task, seed: int, kept: int = KEPT_SETS) -> list[Candidate]:
    """The best mixture of each of the best sets, the best first.

    Parameters
    ----------
    task : Task
        Wishes, tub and colourants.
    seed : int
        The same seed gives the same answer.
    kept : int
        Sets that are followed to the end.

    Returns
    -------
    list of Candidate
        Empty where no set can be made of the palette.
    """
    sets = colour_sets(task.palette.names)
    tribes = _ahead(_founded(task, sets, seed), PROMISING_SETS)
    tribes = [_evolved(task, one, FIRST_GENERATIONS, seed) for one in tribes]
    tribes = [_evolved(task, one, LAST_GENERATIONS, seed) for one in _ahead(tribes, kept)]
    tribes = [_settled(task, one, seed) for one in tribes]
    return sorted((_candidate(task, one) for one in tribes), key=lambda one: one.cost)


@dataclass(frozen=True)
class _Tribe:
    """A set of colourants and the mixtures of it that are alive."""

    members: Places
    """Places of the colourants in the palette, shape (members,)."""
    genes: Array
    """From 0 to 1: logarithms of the strengths, then the pH; shape (people, members + 1)."""
    cost: float
    """Of the best of them."""


def _ahead(tribes: Iterable[_Tribe], count: int) -> list[_Tribe]:
    return sorted(tribes, key=lambda one: one.cost)[:count]


def _founded(task: Task, sets: Sequence[tuple[int, ...]], seed: int) -> Iterator[_Tribe]:
    """The best of an even spread of mixtures of every set, judged at the aim alone."""
    aim_alone = replace(task, both_sides=False)
    for size in sorted({len(one) for one in sets}):
        members = np.array([one for one in sets if len(one) == size], dtype=np.intp)
        genes = even_numbers(SPREAD, size + 1, seed)
        everywhere = np.broadcast_to(genes, (len(members), *genes.shape))
        cost = _judged(aim_alone, members[:, None], everywhere)
        best = np.argsort(cost, axis=1, kind="stable")[:, :PEOPLE]
        for one, order, costs in zip(members, best, cost, strict=True):
            yield _Tribe(one, genes[order], float(costs[order[0]]))


def _settled(task: Task, tribe: _Tribe, seed: int) -> _Tribe:
    """A set followed to its end by the votes themselves, on each side of a gate on its own.

    The cost goes up by a step at a gate, which those who have settled on one side do not cross.
    """
    fresh = even_numbers(SPREAD, tribe.genes.shape[1], seed)
    ends = []
    for low, high in _stretches(task.field.minded):
        fresh_there, here = fresh.copy(), tribe.genes.copy()
        fresh_there[:, -1] = low + fresh[:, -1] * (high - low)
        here[:, -1] = np.clip(here[:, -1], low, high)
        half = [_fittest(task, tribe.members, genes) for genes in (here, fresh_there)]
        mixed = replace(tribe, genes=np.concatenate(half))
        ends.append(_evolved(task, mixed, EXACT_GENERATIONS, seed, EXACT, (low, high)))
    return min(ends, key=lambda one: one.cost)


def _fittest(task: Task, members: Places, genes: Array) -> Array:
    """Half a people: the best of more, judged exactly."""
    cost = _judged(task, members, genes, EXACT)
    return np.asarray(genes[np.argsort(cost, kind="stable")[: PEOPLE // 2]])


def _stretches(minded: Mask) -> list[tuple[float, float]]:
    """From where to where the gene of the pH lies on one side of every gate."""
    edges = [0, *(np.flatnonzero(np.diff(minded)) + 1), len(minded)]
    last = max(len(minded) - 1, 1)
    # Almost half a step more on both sides: so far a gene is rounded to a step of the stretch.
    return [
        (max((first - 0.49) / last, 0.0), min((after - 0.51) / last, 1.0))
        for first, after in pairwise(edges)
    ]


def _evolved(
    task: Task,
    tribe: _Tribe,
    generations: int,
    seed: int,
    votes: Votes | None = None,
    stretch: tuple[float, float] = (0.0, 1.0),
) -> _Tribe:
    """A set after some generations of differential evolution, or fewer where it has settled.

    Source: Storn and Price 1997, J. Global Optim. 11:341.
    """
    from scipy.optimize import differential_evolution

    found = differential_evolution(
        lambda genes: _judged(task, tribe.members, genes.T, votes),
        bounds=[(0.0, 1.0)] * len(tribe.members) + [stretch],
        init=tribe.genes,
        maxiter=generations,
        vectorized=True,
        updating="deferred",
        tol=SETTLED if votes is None else 0.0,
        # The pH goes in steps and the votes come from a table: there is no slope to follow.
        polish=False,
        # Another stretch of random numbers for each of the stages.
        rng=np.random.default_rng([seed, generations]),
    )
    return _Tribe(tribe.members, np.asarray(found.population), float(found.fun))


def _mixtures(task: Task, members: Places, genes: Array) -> tuple[Places, Array, Places]:
    """Colourants, strengths and place of the pH of genes, shape (..., members + 1)."""
    low, high = np.log(task.palette.low[members]), np.log(task.palette.high[members])
    strengths = np.exp(low + genes[..., :-1] * (high - low))
    step = np.rint(genes[..., -1] * (len(task.field.ph) - 1)).astype(np.intp)
    return np.broadcast_to(members, strengths.shape), strengths, step


def _judged(task: Task, members: Places, genes: Array, votes: Votes | None = None) -> Array:
    """Cost of genes, shape (..., members + 1) to (...); by the tables of votes unless given."""
    places, strengths, step = _mixtures(task, members, genes)
    flat_step, wide = step.reshape(-1), strengths.shape[-1]
    flat_places, flat_strengths = places.reshape(-1, wide), strengths.reshape(-1, wide)
    parts = [slice(k, k + ROWS_AT_ONCE) for k in range(0, step.size, ROWS_AT_ONCE)]
    cost = [
        task.cost(flat_places[p], flat_strengths[p], flat_step[p], votes or TABLED) for p in parts
    ]
    return np.asarray(np.concatenate(cost).reshape(step.shape))


def _candidate(task: Task, tribe: _Tribe) -> Candidate:
    """The best of a set, judged exactly and without members that are not worth their place."""
    best = tribe.genes[[np.argmin(_judged(task, tribe.members, tribe.genes, EXACT))]]
    places, strengths, step = _mixtures(task, tribe.members, best)
    cost = float(task.cost(places, strengths, step)[0])
    for member in range(places.shape[1]):
        less = strengths.copy()
        less[0, member] = 0.0
        if less.any():
            lighter = float(task.cost(places, less, step)[0])
            if lighter <= cost:
                strengths, cost = less, lighter
    used = np.flatnonzero(strengths[0] > 0)
    return Candidate(
        names=tuple(task.palette.names[places[0, k]] for k in used),
        strengths=tuple(float(strengths[0, k]) for k in used),
        ph=float(task.field.ph[step[0]]),
        cost=cost,
    )
