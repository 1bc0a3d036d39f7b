"""Curves of pH and acid reserve over the dose in every possible tub: to find a place quickly.

Between solved doses they are monotone cubic pieces, within 0.01 pH (tests/dosing/test_curves.py).
What is printed, and what is near a gate, is solved exactly.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import Setting
from dosing.bath.mixed import Bath
from dosing.bath.possible_tubs import ACID_SIDE, ALKALINE_SIDE, READ_ROWS, Possible, both_sides
from dosing.equilibrium.solve import strong_charge
from dosing.plan.path import Path

Array = NDArray[np.float64]
Places = NDArray[np.intp]

STEPS = 24
"""Of pH along the path, closed and at rest, at whose doses the tubs are solved."""
FIRST = (0.1, 0.25, 0.5, 1.5, 3.0, 5.0, 9.0)
"""Times the first such dose, at which too: a water poor in gas turns with the first grains."""
STRAIGHT = 2
"""Doses of the pH for one of the acid reserve, which is next to a straight line."""
SALT_EQ_PER_G = 1e-4
"""Alkalinity that a gram of an activator takes up at least, as far as a scale goes [eq/g]."""
LEAST_G = 1e-3
LAST = (0.3, 0.75, 1.0)
"""The same of the last dose of all."""
APART = 1.006
"""Of a dose over the one before; what is nearer is left out."""
LEAST_SHARE = 0.05
"""Of the mass that takes up the usual alkalinity: a tub without any has a scale too."""
BEYOND = 1.3
"""The last dose over that of the path's end: scales and constants are off."""
LEAN = 0.015
"""pH, or meq/L, by which curves are taken to be off where they decide something."""
NEAR = 0.04
"""pH from a quantile within which a tub is solved exactly."""
NEAR_RESERVE = 0.004
"""The same of a quantile of the acid reserve, over it where it is above 1 meq/L: next to a straight
line, curves come nearer."""


@dataclass(frozen=True)
class Curve:
    """A monotone quantity of many tubs over the mass that is in each."""

    mass: Array
    """Shape (nodes,), from 0 up, in any unit."""
    values: Array
    """Shape (nodes, tubs); NaN where it is only solved once it is asked for."""
    solved: Callable[[Places, Places], Array] | None = None
    """Takes nodes and tubs, both shape (n,), and gives the quantity there."""

    @cached_property
    def _slopes(self) -> Array:
        """Per unit of mass at the nodes, by parabolas, but so that every piece is monotone.

        Source: Fritsch and Carlson 1980, SIAM J. Numer. Anal. 17:238 (no slope is above three
        times that of a chord beside it).
        """
        step = np.diff(self.mass)[:, None]
        rise = np.diff(self.values, axis=0) / step
        mean = (step[1:] * rise[:-1] + step[:-1] * rise[1:]) / (step[1:] + step[:-1])
        most = 3.0 * np.minimum(np.abs(rise[:-1]), np.abs(rise[1:]))
        inner = np.where(rise[:-1] * rise[1:] > 0.0, np.clip(mean, -most, most), 0.0)
        return np.concatenate([rise[:1], inner, rise[-1:]])

    def at(self, mass: Array) -> Array:
        """The quantity with a mass in each tub, shape (..., tubs)."""
        low = np.searchsorted(self.mass, mass, side="right") - 1
        low = np.clip(low, 0, len(self.mass) - 2)
        tubs = np.arange(self.values.shape[1])
        self._solve_around(low, tubs)
        width = self.mass[low + 1] - self.mass[low]
        share = (mass - self.mass[low]) / width
        start, end = self.values[low, tubs], self.values[low + 1, tubs]
        out, into = self._slopes[low, tubs] * width, self._slopes[low + 1, tubs] * width
        bend = 3.0 * (end - start) - 2.0 * out - into
        return start + share * (out + share * (bend + share * (2.0 * (start - end) + out + into)))

    def _solve_around(self, low: Places, tubs: Places) -> None:
        """Solve what the pieces from these nodes on hang on: their ends and one node beyond."""
        if self.solved is None:
            return
        asked = np.zeros(self.values.shape, dtype=bool)
        for place in range(-1, 3):
            asked[np.clip(low + place, 0, len(self.mass) - 1), tubs] = True
        where = np.nonzero(asked & np.isnan(self.values))
        if len(where[0]):
            self.values[where] = self.solved(*where)
            vars(self).pop("_slopes", None)


@dataclass(frozen=True)
class _Between:
    """Tubs with masses in them, by their curves."""

    curves: Curves
    share: Array
    """Of `Curves.whole_g`, shape (..., tubs)."""

    @property
    def ph(self) -> Array:
        return self.curves.closed.at(self.share)

    @property
    def ph_at_rest(self) -> Array:
        return self.curves.at_rest.at(self.share)

    def acid_reserve_meq_l(self) -> Array:
        return self.curves.reserve.at(self.share)


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

    def ends(self, quantity: Array) -> tuple[float, float]:
        low, high = self.curves.exact.ends(quantity)
        return low - self.lean, high + self.lean

    def decide(self, holds: Callable[[Tubs], bool]) -> bool:
        return holds(self)


@dataclass(frozen=True)
class Curves:
    """The possible tubs along the dose, solved at a few doses."""

    exact: Possible
    whole_g: Array
    """Mass that takes up the alkalinity of each tub [g]: there they turn alike."""
    shares: Array
    """Of that mass, at which they are solved, from 0 up."""

    @classmethod
    def along(cls, possible: Possible, path: Path, setting: Setting) -> Curves:
        """Curves over the doses of a path, solved in equal steps of its pH, closed and at rest.

        Parameters
        ----------
        possible : Possible
            The tubs that agree with the readings.
        path : Path
            Where the activator leads the tub as read.
        setting : Setting
            That tub.

        Returns
        -------
        Curves
            Solved at doses that reach a little beyond the path's.
        """
        bath, per_gram = possible.without_activator
        alkalinity = strong_charge(bath.totals) * bath.water_kg
        # A salt takes up none, nor does a tub without alkalinity need any.
        per_dose = np.maximum(np.abs(strong_charge(per_gram)), SALT_EQ_PER_G)
        whole = np.broadcast_to(np.abs(alkalinity) / per_dose, possible.rows)
        whole = np.maximum(whole, LEAST_SHARE * np.median(whole) + LEAST_G)
        at_rest = setting.bath.with_activator(path.grams, setting.per_gram).ph_at_rest
        grams = np.concatenate([_evenly(path.ph, path.grams), _evenly(at_rest, path.grams)])
        shares = np.unique(grams[grams > 0.0]) / whole[-1]
        first = shares[0] if len(shares) else 1.0
        last = max(BEYOND * path.grams[-1] / whole.min(), 2.0 * first)
        shares = np.sort([*shares, *(first * np.array(FIRST)), *(last * np.array(LAST))])
        apart = np.append(shares[1:] > APART * shares[:-1], True)
        return cls(possible, whole, np.append(0.0, shares[apart]))

    @property
    def look_error(self) -> Array:
        """As of `Possible`."""
        return self.exact.look_error

    @property
    def before_ph(self) -> Array:
        """As of `Possible`."""
        return self.exact.before_ph

    def _curve(self, shares: Array, quantity: Callable[[Bath], Array]) -> Curve:
        """A quantity over the shares, each tub solved only where it is asked for."""

        def solved(nodes: Places, tubs: Places) -> Array:
            return quantity(self.exact.some(shares[nodes] * self.whole_g[tubs], tubs))

        return Curve(shares, np.full((len(shares), self.exact.rows), np.nan), solved)

    @cached_property
    def closed(self) -> Curve:
        """pH, closed to the air."""
        return self._curve(self.shares, _closed_ph)

    @cached_property
    def at_rest(self) -> Curve:
        """PH in the air of the room."""
        return self._curve(self.shares, lambda bath: np.asarray(bath.ph_at_rest))

    @cached_property
    def reserve(self) -> Curve:
        """Acid reserve [meq/L]."""
        few = np.append(self.shares[:-1:STRAIGHT], self.shares[-1])
        return self._curve(few, Bath.acid_reserve_meq_l)

    def judged(self, grams: ArrayLike) -> PouredTubs:
        """The tubs after the same grams, as `Possible.judged`, by the curves."""
        return _Between(self, self.exact.added_g(grams) / self.whole_g)

    def ends(self, quantity: Array) -> tuple[float, float]:
        """As of `Possible`."""
        return self.exact.ends(quantity)

    def decide(self, holds: Callable[[Tubs], bool]) -> bool:
        """Whether something holds of the tubs, solved only where the curves are too near to tell.

        Parameters
        ----------
        holds : callable
            Takes tubs; what holds with ends further out must hold with ends further in.
        """
        if holds(_Leaning(self, LEAN)):
            return True
        return holds(_Leaning(self, -LEAN)) and holds(self.exact)

    def closed_sides(self, doses: Array) -> tuple[Array, Array]:
        """Acid and alkaline side of the pH after each of several doses [g], solved exactly."""
        return self._sides(doses, self.closed, _closed_ph, NEAR, (ACID_SIDE, ALKALINE_SIDE))

    def high_reserve(self, doses: Array) -> Array:
        """High side of the acid reserve after each of several doses, solved exactly [meq/L]."""
        rough = self.judged(doses[:, None]).acid_reserve_meq_l()
        largest = np.max(np.abs(rough), axis=-1, keepdims=True)
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
        values = curve.at(added / self.whole_g)
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


def _evenly(ph: Array, grams: Array) -> Array:
    """Doses in equal steps of a pH that moves one way with the dose [g]."""
    order = np.argsort(ph)
    return np.interp(np.linspace(ph[0], ph[-1], STEPS), ph[order], grams[order])


def _closed_ph(bath: Bath) -> Array:
    return np.asarray(bath.ph)


PouredTubs = Bath | _Between
"""Possible tubs, and the tub as read behind them, with activator in them."""
Tubs = Possible | Curves | _Leaning
"""Tubs that agree with the readings: solved, or curves that come near to them."""
