"""Chalk: solutions out of which all the calcite falls that they hold above saturation."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.equilibrium.activity import DEFAULT_ACTIVITY_MODEL
from dosing.equilibrium.constants import LN10
from dosing.equilibrium.solve import Equilibrium, solve

Array = NDArray[np.float64]

CALCITE = "calcite"
NEAR_ENOUGH = 1e-8
"""Of a saturation index that counts as none."""
MARGIN = 0.5
"""Added to the first far end of the bracket, in its logarithm: what activities may shift."""
MOST_STEPS = 60


@dataclass(frozen=True)
class Settled:
    """Solutions that are nowhere above saturation with calcite."""

    equilibrium: Equilibrium
    """What is left in solution."""
    chalk_mol_kg: Array
    """Calcite that fell out [mol/kg water], the batch shape; zero where there was no excess."""


def settle_chalk(
    totals: Mapping[str, ArrayLike],
    temperature_c: ArrayLike = 25.0,
    *,
    pco2_ppm: ArrayLike | None = None,
    activity: str = DEFAULT_ACTIVITY_MODEL,
) -> Settled:
    """Solve with calcite held at saturation wherever the solution would be above it.

    Parameters
    ----------
    totals, temperature_c, pco2_ppm, activity
        As in `dosing.equilibrium.solve`. Calcite takes calcium and, closed to air, carbon.

    Raises
    ------
    ValueError
        As `solve`.
    """
    clear = solve(totals, temperature_c, pco2_ppm=pco2_ppm, activity=activity)
    shape = np.shape(clear.ph)
    index = np.ravel(clear.saturation_of(CALCITE))
    over = np.flatnonzero(np.ravel(clear.converged) & (index > NEAR_ENOUGH))
    chalk = np.zeros(len(index))
    if not len(over):
        return Settled(clear, chalk.reshape(shape)[()])
    air = None if pco2_ppm is None else _rows(pco2_ppm, shape)[over]
    part = _Excess(
        {name: _rows(values, shape)[over] for name, values in clear.totals.items()},
        _rows(temperature_c, shape)[over],
        air,
        activity,
    )
    chalk[over] = part.fallen(index[over])
    fallen = chalk.reshape(shape)
    left = solve(
        _without(clear.totals, fallen, carbon=air is None),
        temperature_c,
        pco2_ppm=pco2_ppm,
        activity=activity,
    )
    return Settled(left, fallen[()])


@dataclass(frozen=True)
class _Excess:
    """Solutions above saturation, one axis; the search for what falls out of them."""

    totals: Mapping[str, Array]
    temperature_c: Array
    pco2_ppm: Array | None
    activity: str

    def fallen(self, index: Array) -> Array:
        """Calcite that leaves none of the excess [mol/kg], by false position (Illinois).

        The unknown is ln of the share that is left of what limits it, in which the index is
        nearly a straight line: each share takes at least as much off the ion product.
        """
        low, at_low = self._under(index)
        high, at_high = np.zeros_like(index), index
        last = np.zeros_like(index)
        root = low
        for _ in range(MOST_STEPS):
            root = low + (high - low) * at_low / (at_low - at_high)
            here = self._index(root)
            if np.all(np.abs(here) <= NEAR_ENOUGH):
                break
            above = here > 0.0
            # An end that stays twice counts half, so that both ends close in.
            tired_low, tired_high = above & (last > 0), ~above & (last < 0)
            at_low = np.where(above, np.where(tired_low, 0.5 * at_low, at_low), here)
            at_high = np.where(above, here, np.where(tired_high, 0.5 * at_high, at_high))
            low, high = np.where(above, low, root), np.where(above, root, high)
            last = np.where(above, 1.0, -1.0)
        return self._amount(root)

    def _under(self, index: Array) -> tuple[Array, Array]:
        """The far end of the bracket, where nothing is above saturation, and the index there."""
        low = -LN10 * index - MARGIN
        at_low = self._index(low)
        for _ in range(MOST_STEPS):
            still_over = at_low > 0.0
            if not np.any(still_over):
                break
            low = np.where(still_over, 2.0 * low, low)
            at_low = self._index(low)
        return low, at_low

    def _amount(self, log_left: Array) -> Array:
        return -np.expm1(log_left) * self._most

    @property
    def _most(self) -> Array:
        """The scarcer of what calcite is made of [mol/kg]."""
        if self.pco2_ppm is not None:
            return self.totals["Ca"]
        return np.minimum(self.totals["Ca"], self.totals["C"])

    def _index(self, log_left: Array) -> Array:
        totals = _without(self.totals, self._amount(log_left), carbon=self.pco2_ppm is None)
        solved = solve(totals, self.temperature_c, pco2_ppm=self.pco2_ppm, activity=self.activity)
        return np.asarray(solved.saturation_of(CALCITE))


def _without(totals: Mapping[str, Array], chalk: Array, *, carbon: bool) -> dict[str, Array]:
    taken = ("Ca", "C") if carbon else ("Ca",)
    return {
        name: np.maximum(values - chalk, 0.0) if name in taken else values
        for name, values in totals.items()
    }


def _rows(values: ArrayLike, shape: tuple[int, ...]) -> Array:
    return np.broadcast_to(np.asarray(values, dtype=np.float64), shape).ravel()
