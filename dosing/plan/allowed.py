"""Doses that may be poured: the stretch of a path that stays within a caution level."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from dosing.bath.possible_tubs import ALKALINE_SIDE
from dosing.plan.curves import Curves
from dosing.plan.look import look_between
from dosing.plan.path import Path
from dosing.plan.pouring import (
    Pouring,
    grams_to_limit,
    most_to_pour,
    portions_pass,
    pour_at_once,
    pour_gently,
    safe_first,
)

Mask = NDArray[np.bool_]

FINEST_SEARCH = 3
"""Steps of the path (0.03 pH) within which the last allowed one is found."""
SPREAD_SEARCH = 24
"""Steps along the path that are tried where the start may not stay as it is."""


@dataclass(frozen=True)
class Allowed:
    """Doses that the possible tubs take up to a caution level, for those who bathe."""

    curves: Curves
    path: Path
    """In equal steps of pH."""
    level_as_read: NDArray[np.int_]
    """Caution level of the tub as read at each step of the path."""
    bathers: str
    instrument: str
    """What can be read between portions."""

    def steps(self, path: Path, accepted: int, *, at_once: bool = False) -> Mask:
        """Steps of a path that can be poured within a caution level: one stretch of it.

        Most tubs may stay as they are. One that is too alkaline, as filled or once its gas has
        left, may not; the stretch then begins where enough is poured.

        Parameters
        ----------
        path : Path
            That of this tub, perhaps with a step more.
        accepted : int
            Index into `LEVELS` that may not be exceeded.
        at_once : bool
            Whether only what may be poured at once counts.

        Returns
        -------
        numpy.ndarray
            Of bool, shape (steps,); no step where none may be poured.
        """
        first_g, last_g = self._stretch(accepted, at_once)
        return np.asarray((path.grams >= first_g) & (path.grams <= last_g))

    @cached_property
    def _stretch(self) -> Callable[[int, bool], tuple[float, float]]:
        """Least and most grams by the accepted level; a case is asked again and again."""
        return lru_cache(maxsize=8)(self._searched)

    def _searched(self, accepted: int, at_once: bool) -> tuple[float, float]:
        def passes(step: int) -> bool:
            return self.passes(self.path, step, accepted, at_once=at_once)

        within = np.flatnonzero(self.level_as_read <= accepted)
        end = int(within[-1]) if len(within) else 0
        inside = 0 if passes(0) else _some_passing(passes, end)
        if inside is None:
            return np.inf, -np.inf
        first = 0 if inside == 0 else _edge(passes, inside, 0)
        last = end if passes(end) else _edge(passes, inside, end)
        return float(self.path.grams[first]), float(self.path.grams[last])

    def most_at_once_g(self, accepted: int) -> float:
        """Most that may be poured at once within a caution level [g]; 0 where none may.

        Parameters
        ----------
        accepted : int
            Index into `LEVELS` that may not be exceeded.

        Returns
        -------
        float
            [g].
        """
        return max(self._stretch(accepted, True)[1], 0.0)

    def passes(self, path: Path, step: int, accepted: int, *, at_once: bool = False) -> bool:
        """Whether there is a way to pour this much within a caution level.

        Parameters
        ----------
        path : Path
            As in `steps`.
        step : int
            Index into it.
        accepted : int
            Index into `LEVELS` that may not be exceeded.
        at_once : bool
            Whether only one pour counts.

        Returns
        -------
        bool
        """
        grams, curves, bathers = float(path.grams[step]), self.curves, self.bathers
        if curves.decide(lambda tubs: pour_at_once(tubs, grams, bathers).level <= accepted):
            return True
        look = None if at_once else look_between(path, step, self.instrument)
        if grams <= 0 or look is None:
            return False
        first_g = safe_first(self._to_limit(accepted))
        return portions_pass(curves, look, grams, first_g, bathers, accepted)

    def _to_limit(self, accepted: int) -> NDArray[np.float64]:
        return grams_to_limit(self.curves.exact, self.bathers, accepted, acid=self.path.acid)

    def poured(self, path: Path, step: int, accepted: int) -> Pouring:
        """The simplest way to pour this much that a caution level allows, or the gentlest there is.

        Parameters
        ----------
        path : Path
            As in `steps`.
        step : int
            Index into it.
        accepted : int
            Index into `LEVELS` that may not be exceeded.

        Returns
        -------
        Pouring
            Its level exceeds `accepted` where no way passes.
        """
        return pour_gently(
            self.curves,
            path,
            step,
            lambda: self._reach_g(path, step, accepted),
            self.bathers,
            accepted,
            self.instrument,
        )

    def most_g(self, path: Path, step: int, pouring: Pouring, accepted: int) -> float:
        """Never more than this: the printed maximum [g].

        Parameters
        ----------
        path : Path
            As in `steps`.
        step : int
            The aim, an index into it.
        pouring : Pouring
            How it is poured.
        accepted : int
            Index into `LEVELS` that may not be exceeded.

        Returns
        -------
        float
            [g].
        """
        aim, most = float(path.grams[step]), self._reach_g(path, step, accepted)
        # The most has the level that the plan says, so that its cautions hold for it too.
        level = min(pouring.level, accepted)
        return most_to_pour(self.curves, pouring, aim, most, self.bathers, level)

    def _reach_g(self, path: Path, step: int, accepted: int) -> float:
        """Dose that all but a few possible tubs need, within the tub's own limit [g]."""
        aim = float(path.grams[step])
        if aim == 0.0:
            return 0.0
        needed = self.curves.exact.grams_for_ph(float(path.ph[step]))
        high = float(np.nanquantile(needed, ALKALINE_SIDE)) if np.isfinite(needed).any() else aim
        to_limit = self._to_limit(accepted)
        # Half of the possible tubs would pass the limit with more than this.
        at_limit = float(np.median(to_limit)) if np.isfinite(to_limit).any() else high
        return max(aim, min(high, at_limit))


def _some_passing(passes: Callable[[int], bool], end: int) -> int | None:
    """A step that may be poured where the start may not; None where none is found."""
    tried = np.unique(np.linspace(0, end, SPREAD_SEARCH).round().astype(int))[:0:-1]
    return next((int(step) for step in tried if passes(int(step))), None)


def _edge(passes: Callable[[int], bool], inside: int, outside: int) -> int:
    """The last step that may be poured on the way to one that may not."""
    while abs(outside - inside) > FINEST_SEARCH:
        middle = (inside + outside) // 2
        if passes(middle):
            inside = middle
        else:
            outside = middle
    return inside
