"""Chalk: solutions out of which all the calcite falls that they hold above saturation."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from dosing.equilibrium.constants import LN10, Array
from dosing.equilibrium.solve import Equilibrium, solve

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
) -> Settled:
    """Equilibrium with calcite held at saturation wherever the solution would be above it.

    Parameters
    ----------
    totals : mapping of str to array_like
        Totals of the components as in `dosing.equilibrium.solve` [mol/kg water].
    temperature_c : array_like
        Temperature [°C]; broadcasts with the totals.
    pco2_ppm : array_like, optional
        Carbon dioxide of the air that it rests with [ppm]; closed to air if not given. Calcite
        takes calcium and, closed to air, carbon.

    Returns
    -------
    Settled
        What is left in solution, and the calcite that fell out [mol/kg water], both of the batch
        shape.

    Raises
    ------
    ValueError
        As `solve`.
    """
    clear = solve(totals, temperature_c, pco2_ppm=pco2_ppm)
    shape, flat = np.shape(clear.ph), clear.batch
    index = np.ravel(clear.saturation_of(CALCITE))
    over = np.flatnonzero(np.ravel(clear.converged) & (index > NEAR_ENOUGH))
    chalk = np.zeros(len(index))
    if not len(over):
        return Settled(clear, chalk.reshape(shape)[()])
    air = None if flat.pco2_ppm is None else flat.pco2_ppm[over]
    part = {name: total[over] for name, total in flat.totals.items()}
    # What calcite is made of, the scarcer of which limits it.
    taken = ("Ca", "C") if air is None else ("Ca",)
    most = np.minimum.reduce([part[name] for name in taken])

    def index_at(log_left: Array) -> Array:
        totals_left = _without(part, -np.expm1(log_left) * most, taken)
        solved = solve(totals_left, flat.temperature_c[over], pco2_ppm=air)
        return np.asarray(solved.saturation_of(CALCITE))

    chalk[over] = -np.expm1(_no_excess(index_at, index[over])) * most
    fallen = chalk.reshape(shape)
    left = solve(_without(clear.totals, fallen, taken), temperature_c, pco2_ppm=pco2_ppm)
    return Settled(left, fallen[()])


def _no_excess(index_at: Callable[[Array], Array], index: Array) -> Array:
    """Where the saturation index is none, by false position (Illinois).

    The unknown is ln of the share that is left of what limits calcite, in which the index is
    nearly a straight line: each share takes at least as much off the ion product.
    """
    low, high = -LN10 * index - MARGIN, np.zeros_like(index)
    at_low, at_high = index_at(low), index
    for _ in range(MOST_STEPS):
        if not np.any(at_low > 0.0):
            break
        low = np.where(at_low > 0.0, 2.0 * low, low)
        at_low = index_at(low)
    last, root = np.zeros_like(index), low
    for _ in range(MOST_STEPS):
        root = low + (high - low) * at_low / (at_low - at_high)
        here = index_at(root)
        if np.all(np.abs(here) <= NEAR_ENOUGH):
            break
        above = here > 0.0
        # An end that stays twice counts half, so that both ends close in.
        at_low = np.where(above, np.where(last > 0, 0.5 * at_low, at_low), here)
        at_high = np.where(above, here, np.where(last < 0, 0.5 * at_high, at_high))
        low, high = np.where(above, low, root), np.where(above, root, high)
        last = np.where(above, 1.0, -1.0)
    return root


def _without(totals: Mapping[str, Array], chalk: Array, taken: tuple[str, ...]) -> dict[str, Array]:
    return {
        name: np.maximum(total - chalk, 0.0) if name in taken else total
        for name, total in totals.items()
    }
