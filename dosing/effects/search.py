"""The search for an effect: which colours, how strong, and which pH come nearest to two wishes.

Mixtures of every set of colourants are tried, spread evenly over strengths and pH; the sets that
show promise evolve, and those that stay ahead are followed to the end. All sets evolve side by
side, each within itself: one set at a time, as a library would do it, takes several times as long.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, reduce
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from dosing.bath.draws import even_numbers
from dosing.effects.task import FAINTEST_CERTAINTY, Task, Votes
from indicator.colourants import Colourant
from indicator.words import both_certainties, certainties, colour_words

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Places = NDArray[np.intp]

MOST_PIGMENTS, MOST_DYES = 2, 2
MOST_MEMBERS = MOST_PIGMENTS + MOST_DYES
SPREAD = 128
"""Mixtures of every set that are tried first."""
PEOPLE = 64
"""The best of them, which evolve together."""
ROWS_AT_ONCE = 6000
PROMISING_SETS, KEPT_SETS = 48, 14
"""Sets that evolve at all, and that are followed to the end."""
FIRST_GENERATIONS, LAST_GENERATIONS = 14, 18
EXACT_GENERATIONS = 8
"""More of them on each side of a gate, with the votes themselves, which the tables round."""
POLISH = (0.03, 0.03, 0.01, 0.01, 0.003, 0.003)
"""Spread of the genes around the best of a set, in the last rounds."""
STEPS = (0.5, 1.0)
"""Between which the step of each generation is drawn, as a share of the way between two others."""
CROSSED = 0.7
"""Share of the genes that a child has from its mutant."""
TABLE_STEP = 4.0
"""Of the tables of word certainties in CIELAB; between their points is interpolated."""
TABLE_REACH = 112.0
FAINT_CHROMA = 12.0
"""Nearer to grey the hue turns too much within one step of the tables: there the votes are cast."""
NOBODY = -1
"""Place of a member that a smaller set has not."""


@dataclass(frozen=True)
class Candidate:
    """A mixture and its end, as the search leaves them."""

    colourants: tuple[Colourant, ...]
    strengths: tuple[float, ...]
    """pH-1 absorbance per cm of a pigment, mol/L of a dye."""
    ph: float
    minded: bool
    """Whether a caution asks to mind that pH."""
    cost: float


def colour_sets(known: Sequence[Colourant]) -> list[tuple[int, ...]]:
    """Sets of one or two pigments and up to two dyes, as places in those that are known.

    Two colourants of one family (the same petals by other numbers) never stand in one set.
    """
    pigments = [k for k, which in enumerate(known) if which.kind == "pigment"]
    dyes = [k for k, which in enumerate(known) if which.kind == "dye"]
    sets = [
        (*some, *more)
        for some in _some(pigments, 1, MOST_PIGMENTS)
        for more in _some(dyes, 0, MOST_DYES)
    ]
    return [members for members in sets if len({known[k].family for k in members}) == len(members)]


def _some(places: Sequence[int], least: int, most: int) -> list[tuple[int, ...]]:
    return [some for count in range(least, most + 1) for some in combinations(places, count)]


@cache
def _tables() -> Array:
    """Logarithms of both certainties of every word, shape (words, 2, lightness, a, b)."""
    light = np.arange(0.0, 100.0 + TABLE_STEP, TABLE_STEP)
    side = np.arange(-TABLE_REACH, TABLE_REACH + 0.5 * TABLE_STEP, TABLE_STEP)
    lab = np.stack(np.meshgrid(light, side, side, indexing="ij"), axis=-1)
    flat = lab.reshape(-1, 3)
    parts = [
        np.stack(certainties(flat[k : k + ROWS_AT_ONCE]), axis=1)
        for k in range(0, len(flat), ROWS_AT_ONCE)
    ]
    votes = np.log(np.maximum(np.concatenate(parts), FAINTEST_CERTAINTY))
    return np.ascontiguousarray(np.moveaxis(votes, 0, -1).swapaxes(0, 1)).reshape(
        votes.shape[2], 2, *lab.shape[:-1]
    )


def tabled_certainties(lab: Array, word: str) -> tuple[Array, Array]:
    """`both_certainties` from a table, near enough for a search and many times as fast.

    Parameters
    ----------
    lab : ndarray
        CIELAB colours, shape (..., 3).
    word : str
        As `both_certainties` takes it.

    Returns
    -------
    tuple of ndarray
        Both of shape (...), within 0.01 of the votes on average.
    """
    flat = lab.reshape(-1, 3)
    shares = np.stack(rough_certainties(flat, word))
    faint = np.hypot(flat[:, 1], flat[:, 2]) < FAINT_CHROMA
    if faint.any():
        shares[:, faint] = both_certainties(flat[faint], word)
    certain, called = shares.reshape(2, *lab.shape[:-1])
    return certain, called


def rough_certainties(lab: Array, word: str) -> tuple[Array, Array]:
    """Both certainties of a word by the table alone, which rounds pale colours.

    Parameters
    ----------
    lab : ndarray
        CIELAB colours, shape (..., 3).
    word : str
        As `both_certainties` takes it.

    Returns
    -------
    tuple of ndarray
        Both of shape (...).
    """
    from scipy.ndimage import map_coordinates

    flat = lab.reshape(-1, 3)
    places = ((flat + np.array([0.0, TABLE_REACH, TABLE_REACH])) / TABLE_STEP).T
    tables = _tables()[colour_words().index(word)]
    certain, called = (
        np.exp(map_coordinates(table, places, order=1, mode="nearest")).reshape(lab.shape[:-1])
        for table in tables
    )
    return certain, called


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
    sets = colour_sets(task.palette.colourants)
    if not sets:
        return []
    random = np.random.default_rng(seed)
    tribes = _founded(task, sets, seed).ahead(PROMISING_SETS)
    tribes = _evolved(task, tribes, FIRST_GENERATIONS, random).ahead(kept)
    tribes = _evolved(task, tribes, LAST_GENERATIONS, random)
    settled = _settled(task, tribes.fittest(PEOPLE // 2), random)
    candidates = [_candidate(task, *best) for best in zip(*settled.best(), strict=True)]
    return sorted(candidates, key=lambda candidate: candidate.cost)


@dataclass(frozen=True)
class _Tribes:
    """Sets of colourants, and of each the mixtures that are alive."""

    members: Places
    """Places of the colourants in the palette or `NOBODY`, shape (tribes, members)."""
    genes: Array
    """From 0 to 1: the pH, then logs of the strengths; shape (tribes, people, 1 + members)."""
    cost: Array
    """Shape (tribes, people)."""

    def ahead(self, count: int) -> _Tribes:
        """The tribes with the best mixtures."""
        order = np.argsort(self.cost.min(axis=1), kind="stable")[:count]
        return _Tribes(self.members[order], self.genes[order], self.cost[order])

    def fittest(self, count: int) -> _Tribes:
        """The best people of every tribe."""
        order = np.argsort(self.cost, axis=1, kind="stable")[:, :count]
        genes = np.take_along_axis(self.genes, order[..., None], axis=1)
        return replace(self, genes=genes, cost=np.take_along_axis(self.cost, order, axis=1))

    def best(self) -> tuple[Places, Array]:
        """Members of each tribe and the genes of its best."""
        return self.members, self.fittest(1).genes[:, 0]


def _together(first: _Tribes, second: _Tribes) -> _Tribes:
    """The people of the same tribes."""
    genes = np.concatenate([first.genes, second.genes], axis=1)
    return replace(first, genes=genes, cost=np.concatenate([first.cost, second.cost], axis=1))


def _founded(task: Task, sets: Sequence[tuple[int, ...]], seed: int) -> _Tribes:
    """The best of an even spread of mixtures of every set, judged at the aim alone."""
    members = np.full((len(sets), MOST_MEMBERS), NOBODY, dtype=np.intp)
    for row, colours in enumerate(sets):
        members[row, : len(colours)] = colours
    spread = even_numbers(SPREAD, 1 + MOST_MEMBERS, seed)
    genes = np.broadcast_to(spread, (len(sets), *spread.shape))
    aim_alone = replace(task, both_sides=False)
    return _judged_tribes(aim_alone, members, genes, rough_certainties).fittest(PEOPLE)


def _settled(task: Task, tribes: _Tribes, random: np.random.Generator) -> _Tribes:
    """Sets followed to their end by the votes themselves, on each side of a gate on its own.

    The cost goes up by a step at a gate, which those who have settled on one side do not cross.
    """
    ends = []
    for low, high in _stretches(task.field.minded):
        genes = tribes.genes.copy()
        genes[..., 0] = np.clip(genes[..., 0], low, high)
        start = _judged_tribes(task, tribes.members, genes, both_certainties)
        evolved = _evolved(task, start, EXACT_GENERATIONS, random, both_certainties, (low, high))
        ends.append(_polished(task, evolved, random, (low, high)))
    return reduce(_together, ends)


def _polished(
    task: Task, tribes: _Tribes, random: np.random.Generator, stretch: tuple[float, float]
) -> _Tribes:
    """The best of each set, after looking ever nearer around it."""
    low, high = np.zeros(tribes.genes.shape[-1]), np.ones(tribes.genes.shape[-1])
    low[0], high[0] = stretch
    best = tribes.fittest(1)
    for spread in POLISH:
        nearby = best.genes + spread * random.standard_normal(tribes.genes.shape)
        drawn = np.clip(nearby, low, high)
        around = _judged_tribes(task, tribes.members, drawn, both_certainties)
        best = _together(best, around).fittest(1)
    return best


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
    tribes: _Tribes,
    generations: int,
    random: np.random.Generator,
    votes: Votes = tabled_certainties,
    stretch: tuple[float, float] = (0.0, 1.0),
) -> _Tribes:
    """Sets after some generations of differential evolution, each within itself.

    Source: Storn and Price 1997, J. Global Optim. 11:341 (best/1/bin, the step drawn anew).
    """
    tribes = _judged_tribes(task, tribes.members, tribes.genes, votes)
    shape = tribes.genes.shape
    low, width = np.zeros(shape[-1]), np.ones(shape[-1])
    low[0], width[0] = stretch[0], stretch[1] - stretch[0]
    for _ in range(generations):
        first, second = (
            np.take_along_axis(tribes.genes, random.integers(0, shape[1], (*shape[:2], 1)), axis=1)
            for _ in range(2)
        )
        mutants = tribes.fittest(1).genes + random.uniform(*STEPS) * (first - second)
        crossed = random.random(shape) < CROSSED
        np.put_along_axis(crossed, random.integers(0, shape[2], (*shape[:2], 1)), True, axis=2)
        outside = (mutants < low) | (mutants > low + width)
        mutants = np.where(outside, low + random.random(shape) * width, mutants)
        children = np.where(crossed, mutants, tribes.genes)
        born = _judged_tribes(task, tribes.members, children, votes)
        better = born.cost <= tribes.cost
        tribes = replace(
            tribes,
            genes=np.where(better[..., None], born.genes, tribes.genes),
            cost=np.where(better, born.cost, tribes.cost),
        )
    return tribes


def _mixtures(task: Task, members: Places, genes: Array) -> tuple[Places, Array, Places]:
    """Colourants, strengths and place of the pH of genes, shape (..., 1 + members)."""
    low, high = np.log(task.palette.low[members]), np.log(task.palette.high[members])
    strengths = np.exp(low + genes[..., 1:] * (high - low)) * (members != NOBODY)
    step = np.rint(genes[..., 0] * (len(task.field.ph) - 1)).astype(np.intp)
    return np.broadcast_to(members, strengths.shape), strengths, step


def _judged_tribes(task: Task, members: Places, genes: Array, votes: Votes) -> _Tribes:
    """Tribes with the cost of their people."""
    places, strengths, step = _mixtures(task, members[:, None], genes)
    flat_places, flat_step = places.reshape(-1, MOST_MEMBERS), step.reshape(-1)
    flat_strengths = strengths.reshape(-1, MOST_MEMBERS)
    parts = [slice(k, k + ROWS_AT_ONCE) for k in range(0, step.size, ROWS_AT_ONCE)]
    cost = [task.cost(flat_places[p], flat_strengths[p], flat_step[p], votes) for p in parts]
    return _Tribes(members, genes, np.concatenate(cost).reshape(step.shape))


def _candidate(task: Task, members: Places, genes: Array) -> Candidate:
    """The best of a set, without members that are not worth their place."""
    places, strengths, step = _mixtures(task, members[None], genes[None])
    cost = float(task.cost(places, strengths, step)[0])
    known = task.palette.colourants
    for member in np.flatnonzero(strengths[0]):
        less = strengths.copy()
        less[0, member] = 0.0
        # Without a pigment nothing turns.
        if any(known[places[0, k]].kind == "pigment" for k in np.flatnonzero(less[0])):
            lighter = float(task.cost(places, less, step)[0])
            if lighter <= cost:
                strengths, cost = less, lighter
    used = np.flatnonzero(strengths[0])
    return Candidate(
        colourants=tuple(known[places[0, k]] for k in used),
        strengths=tuple(float(strengths[0, k]) for k in used),
        ph=float(task.field.ph[step[0]]),
        minded=bool(task.field.minded[step[0]]),
        cost=cost,
    )
