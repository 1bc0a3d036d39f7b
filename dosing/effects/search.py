"""The search for an effect: which colours, how strong, and which pH come nearest to two wishes.

Every set of colourants has a population of its own; all of them evolve together, and sets that
fall behind are given up.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from dosing.effects.task import FAINTEST_CERTAINTY, Task, Votes
from indicator.pigments import colourant
from indicator.words import called_certainty, word_certainty

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Places = NDArray[np.intp]

MOST_PIGMENTS, MOST_DYES = 2, 2
PEOPLE = 24
"""Mixtures of one set that evolve together; more where there are few sets."""
MOST_PEOPLE = 160
ROWS_AT_ONCE = 6000
KEPT_SETS = 28
"""Sets that are followed to the end."""
ROUNDS = ((5, 0.45), (5, 0.45), (6, 0.45), (8, 0.5), (10, 0.5))
"""Generations, and the share of the sets that goes on after them."""
LAST_GENERATIONS = 45
TABLE_STEP = 5.0
"""Of the tables of word certainties in CIELAB; between their points is interpolated."""
TABLE_REACH = 115.0


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


def _looked_up(lab: Array, table: Array) -> Array:
    from scipy.ndimage import map_coordinates

    places = (lab + np.array([0.0, TABLE_REACH, TABLE_REACH])) / TABLE_STEP
    flat = np.moveaxis(places, -1, 0).reshape(3, -1)
    found = map_coordinates(table, flat, order=1, mode="nearest")
    return np.asarray(np.exp(found).reshape(lab.shape[:-1]))


def tabled_certainty(lab: Array, word: str) -> Array:
    """`word_certainty` from a table, near enough for a search and many times as fast."""
    return _looked_up(lab, _table(word_certainty, word))


def tabled_called(lab: Array, word: str) -> Array:
    """`called_certainty` from a table."""
    return _looked_up(lab, _table(called_certainty, word))


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
    if not sets:
        return []
    random = np.random.default_rng(seed)
    quick = replace(task, both_sides=False)
    tribes = _Tribes.founded(quick, sets, random)
    for generations, share in ROUNDS:
        for _ in range(generations):
            tribes = tribes.next_generation(quick, random)
        tribes = tribes.best(max(kept, int(share * len(tribes.members))))
    tribes = tribes.best(kept).judged_anew(task)
    for _ in range(LAST_GENERATIONS):
        tribes = tribes.next_generation(task, random)
    found = [_candidate(task, tribes, k) for k in range(len(tribes.members))]
    return sorted(found, key=lambda one: one.cost)


def _candidate(task: Task, tribes: _Tribes, which: int) -> Candidate:
    """The best of a set, judged exactly and without members that are not worth their place."""
    best = int(np.argmin(tribes.cost[which]))
    places, strengths, step = tribes.mixtures(task, tribes.genes[which, best][None, None], which)
    cost = float(task.cost(places, strengths, step)[0])
    for member in range(places.shape[1]):
        less = strengths.copy()
        less[0, member] = 0.0
        if less.any() and strengths[0, member] > 0:
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


@dataclass(frozen=True)
class _Tribes:
    """Populations of all sets; genes run from 0 to 1: logarithms of the strengths, then the pH."""

    members: Places
    """Colourants of each set, shape (sets, most members); the first fills up."""
    alive: Mask
    """Which of them count."""
    genes: Array
    """Shape (sets, people, most members + 1)."""
    cost: Array
    """Shape (sets, people)."""

    @classmethod
    def founded(
        cls, task: Task, sets: Sequence[tuple[int, ...]], random: np.random.Generator
    ) -> _Tribes:
        most = max(len(one) for one in sets)
        members = np.array([(*one, *(one[0],) * (most - len(one))) for one in sets], dtype=np.intp)
        alive = np.array([[k < len(one) for k in range(most)] for one in sets])
        people = int(np.clip(PEOPLE * 120 // len(sets), PEOPLE, MOST_PEOPLE))
        genes = random.random((len(sets), people, most + 1))
        return cls(members, alive, genes, np.zeros(genes.shape[:2])).judged_anew(task)

    def judged_anew(self, task: Task) -> _Tribes:
        """The same people under a task that judges otherwise."""
        return replace(self, cost=self.judged(task, self.genes))

    def best(self, count: int) -> _Tribes:
        """The sets whose best is best."""
        order = np.argsort(self.cost.min(axis=1), kind="stable")[:count]
        return _Tribes(self.members[order], self.alive[order], self.genes[order], self.cost[order])

    def mixtures(
        self, task: Task, genes: Array, which: int | slice = slice(None)
    ) -> tuple[Places, Array, Places]:
        """Colourants, strengths and pH of genes of shape (sets, people, genes), in one row."""
        members, alive = self.members[which], self.alive[which]
        if isinstance(which, int):
            members, alive = members[None], alive[None]
        inks = task.palette
        low, high = np.log(inks.low[members])[:, None], np.log(inks.high[members])[:, None]
        strengths = np.exp(low + genes[..., :-1] * (high - low)) * alive[:, None]
        last = len(task.field.ph) - 1
        step = np.rint(genes[..., -1] * last).astype(np.intp)
        places = np.broadcast_to(members[:, None], strengths.shape)
        wide = strengths.shape[-1]
        return places.reshape(-1, wide), strengths.reshape(-1, wide), step.reshape(-1)

    def judged(self, task: Task, genes: Array) -> Array:
        """Cost of genes, shape (sets, people)."""
        places, strengths, step = self.mixtures(task, genes)
        parts = [slice(k, k + ROWS_AT_ONCE) for k in range(0, len(step), ROWS_AT_ONCE)]
        found = [task.cost(places[p], strengths[p], step[p], TABLED) for p in parts]
        return np.concatenate(found).reshape(genes.shape[:2])

    def next_generation(self, task: Task, random: np.random.Generator) -> _Tribes:
        """Differential evolution within each set: towards the best, by differences of others.

        Source: Storn and Price 1997, J. Global Optim. 11:341 (the scheme, here towards the best).
        """
        sets, people, wide = self.genes.shape
        rows = np.arange(sets)[:, None]
        best = self.genes[np.arange(sets), self.cost.argmin(axis=1)][:, None]
        one, two, three = (random.integers(0, people, (sets, people)) for _ in range(3))
        reach = random.uniform(0.3, 0.95, (sets, people, 1))
        pull = random.uniform(0.0, 0.9, (sets, people, 1))
        base = self.genes[rows, three]
        trial = base + pull * (best - base)
        trial = trial + reach * (self.genes[rows, one] - self.genes[rows, two])
        crossed = random.random((sets, people, wide)) < 0.85
        trial = np.where(crossed, trial, self.genes)
        # What runs over an end is turned back into the range.
        trial = np.abs(trial) % 2.0
        trial = np.where(trial > 1.0, 2.0 - trial, trial)
        cost = self.judged(task, trial)
        better = cost <= self.cost
        return replace(
            self,
            genes=np.where(better[..., None], trial, self.genes),
            cost=np.where(better, cost, self.cost),
        )
