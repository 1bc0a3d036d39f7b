"""Curves of pH and acid reserve over the dose in every possible tub: to find a place quickly.

Between solved doses they are monotone cubic pieces, within 0.01 pH (tests/dosing/test_curves.py).
What is printed, and what is near a gate, is solved exactly.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.mixed import Bath
from dosing.bath.possible_tubs import ACID_SIDE, ALKALINE_SIDE, READ_ROWS, Possible, both_sides
from dosing.plan.path import Path

Array = NDArray[np.float64]

STEPS = 20
"""Of pH along the path, at whose doses the tubs are solved."""
BEYOND = 1.3
"""The last dose over that of the path's end: scales and constants are off."""
NEAR = 0.05
"""pH, or meq/L, from a gate or a quantile within which a tub is solved exactly."""
NEAR_RESERVE = 0.004
"""The same of a quantile of the acid reserve, over it where it is above 1 meq/L: next to a straight
line, curves come nearer."""


class PouredTubs(Protocol):
    """Possible tubs, and the tub as read behind them, with activator in them."""

    @property
    def ph(self) -> Array: ...  # noqa: D102
    @property
    def ph_at_rest(self) -> Array: ...  # noqa: D102
    def acid_reserve_meq_l(self) -> Array: ...  # noqa: D102


class Tubs(Protocol):
    """Tubs that agree with the readings: `Possible`, or `Curves` that come near to them."""

    @property
    def look_error(self) -> Array: ...  # noqa: D102
    @property
    def exact(self) -> Possible: ...  # noqa: D102
    @property
    def before_ph(self) -> Array: ...  # noqa: D102
    def judged(self, grams: ArrayLike) -> PouredTubs: ...  # noqa: D102
    def ends(self, values: Array) -> tuple[float, float]: ...  # noqa: D102
    def decide(self, holds: Callable[[Tubs], bool]) -> bool: ...  # noqa: D102


@dataclass(frozen=True)
class Curve:
    """A monotone quantity of many tubs over the mass that is in each."""

    grams: Array
    """Shape (nodes,), from 0 up [g]."""
    values: Array
    """Shape (nodes, tubs)."""

    @cached_property
    def _slopes(self) -> Array:
        """Per gram at the nodes; the harmonic mean keeps every piece monotone.

        Source: Fritsch and Butland 1984, SIAM J. Sci. Stat. Comput. 5:300.
        """
        step = np.diff(self.grams)[:, None]
        rise = np.diff(self.values, axis=0) / step
        before, after = 2.0 * step[1:] + step[:-1], step[1:] + 2.0 * step[:-1]
        with np.errstate(divide="ignore", invalid="ignore"):
            mean = (before + after) / (before / rise[:-1] + after / rise[1:])
        inner = np.where(rise[:-1] * rise[1:] > 0.0, mean, 0.0)
        return np.concatenate([rise[:1], inner, rise[-1:]])

    def at(self, grams: Array) -> Array:
        """The quantity with a mass in each tub [g]; shapes (..., tubs)."""
        low = np.searchsorted(self.grams, grams, side="right") - 1
        low = np.clip(low, 0, len(self.grams) - 2)
        tubs = np.arange(self.values.shape[1])
        width = self.grams[low + 1] - self.grams[low]
        share = (grams - self.grams[low]) / width
        start, end = self.values[low, tubs], self.values[low + 1, tubs]
        out, into = self._slopes[low, tubs] * width, self._slopes[low + 1, tubs] * width
        bend = 3.0 * (end - start) - 2.0 * out - into
        return start + share * (out + share * (bend + share * (2.0 * (start - end) + out + into)))


@dataclass(frozen=True)
class _Between:
    """Tubs with masses in them, by their curves."""

    curves: Curves
    added_g: Array

    @property
    def ph(self) -> Array:
        return self.curves.closed.at(self.added_g)

    @property
    def ph_at_rest(self) -> Array:
        return self.curves.at_rest.at(self.added_g)

    def acid_reserve_meq_l(self) -> Array:
        return self.curves.reserve.at(self.added_g)


@dataclass(frozen=True)
class _Leaning:
    """Tubs by their curves, with every end further out, or further in, than they say."""

    curves: Curves
    lean: float

    @property
    def look_error(self) -> Array:
        return self.curves.look_error

    @property
    def exact(self) -> Possible:
        return self.curves.exact

    @property
    def before_ph(self) -> Array:
        return self.curves.before_ph

    def judged(self, grams: ArrayLike) -> PouredTubs:
        return self.curves.judged(grams)

    def ends(self, values: Array) -> tuple[float, float]:
        low, high = self.curves.exact.ends(values)
        return low - self.lean, high + self.lean

    def decide(self, holds: Callable[[Tubs], bool]) -> bool:
        return holds(self)


@dataclass(frozen=True)
class Curves:
    """The possible tubs along the dose, solved at a few doses."""

    exact: Possible
    grams: Array
    """Doses at which they are solved, from 0 up [g]."""

    @classmethod
    def along(cls, possible: Possible, path: Path) -> Curves:
        """Curves over the doses of a path, solved in equal steps of its pH."""
        ph = np.linspace(path.ph[0], path.ph[-1], STEPS)
        order = np.argsort(path.ph)
        grams = np.maximum.accumulate(np.interp(ph, path.ph[order], path.grams[order]))
        grams = np.unique(np.append(grams, [0.0, BEYOND * grams[-1]]))
        return cls(possible, grams if len(grams) > 1 else np.array([0.0, 1.0]))

    @property
    def look_error(self) -> Array:
        """As of `Possible`."""
        return self.exact.look_error

    @property
    def before_ph(self) -> Array:
        """As of `Possible`."""
        return self.exact.before_ph

    @cached_property
    def _solved(self) -> Bath:
        return self.exact.with_added(self.grams[:, None])

    @cached_property
    def closed(self) -> Curve:
        """pH, closed to the air."""
        return Curve(self.grams, np.asarray(self._solved.ph))

    @cached_property
    def at_rest(self) -> Curve:
        """PH in the air of the room."""
        return Curve(self.grams, np.asarray(self._solved.ph_at_rest))

    @cached_property
    def reserve(self) -> Curve:
        """Acid reserve [meq/L]."""
        return Curve(self.grams, self._solved.acid_reserve_meq_l())

    def judged(self, grams: ArrayLike) -> PouredTubs:
        """The tubs after the same grams, as `Possible.judged`, by the curves."""
        return _Between(self, self.exact.added_g(grams))

    def ends(self, values: Array) -> tuple[float, float]:
        """As of `Possible`."""
        return self.exact.ends(values)

    def decide(self, holds: Callable[[Tubs], bool]) -> bool:
        """Whether something holds of the tubs, solved only where the curves are too near to tell.

        Parameters
        ----------
        holds : callable
            Takes tubs; what holds with ends further out must hold with ends further in.
        """
        if holds(_Leaning(self, NEAR)):
            return True
        return holds(_Leaning(self, -NEAR)) and holds(self.exact)

    def closed_sides(self, doses: Array) -> tuple[Array, Array]:
        """Acid and alkaline side of the pH after each of several doses [g], solved exactly."""
        return self._sides(doses, self.closed, _closed_ph, NEAR, (ACID_SIDE, ALKALINE_SIDE))

    def resting_sides(self, doses: Array) -> tuple[Array, Array]:
        """The same in the air of the room."""
        return self._sides(doses, self.at_rest, _resting_ph, NEAR, (ACID_SIDE, ALKALINE_SIDE))

    def high_reserve(self, doses: Array) -> Array:
        """High side of the acid reserve after each of several doses, solved exactly [meq/L]."""
        added = self.exact.added_g(doses[:, None])
        largest = np.max(np.abs(self.reserve.at(added)), axis=-1, keepdims=True)
        near = NEAR_RESERVE * np.maximum(largest, 1.0)
        sides = (ALKALINE_SIDE,)
        return self._sides(doses, self.reserve, Bath.acid_reserve_meq_l, near, sides)[1]

    def _sides(
        self,
        doses: Array,
        curve: Curve,
        solved_of: Callable[[Bath], Array],
        enough: Array | float,
        quantiles: tuple[float, ...],
    ) -> tuple[Array, Array]:
        """Both sides after each of several doses; of the quantiles that are asked for, exactly.

        Only the tubs near one are solved: of the others it matters on which side they lie.
        """
        added = self.exact.added_g(doses[:, None])
        values = curve.at(added)
        ranked = np.sort(values[:, :-READ_ROWS], axis=-1)
        last = ranked.shape[1] - 1
        near = np.zeros(values.shape, dtype=bool)
        near[:, -READ_ROWS:] = True
        for side in quantiles:
            place = int(side * last)
            low, high = ranked[:, [place]], ranked[:, [min(place + 1, last)]]
            near |= (values >= low - enough) & (values <= high + enough)
        dose, tub = np.nonzero(near)
        solved = solved_of(self.exact.some(added[near], tub))
        off = np.zeros_like(values)
        off[near] = np.abs(solved - values[near])
        values[dose, tub] = solved
        if not (np.isfinite(values).all() and np.all(off < 0.5 * enough)):
            # The curves are off somewhere: nothing is left out.
            values = solved_of(self.exact.judged(doses[:, None]))
        return both_sides(values)


def _closed_ph(bath: Bath) -> Array:
    return np.asarray(bath.ph)


def _resting_ph(bath: Bath) -> Array:
    return np.asarray(bath.ph_at_rest)
