"""The reach of an activator: the pH values a tub can be led to, and what is judged there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.possible_tubs import both_sides, possible_tubs
from dosing.effects.shelf import Shelf
from dosing.effects.task import PH_STEP, Field
from dosing.plan.case import MIND
from dosing.plan.levels import bath_level
from dosing.plan.path import colour_path, turns

Array = NDArray[np.float64]

ACID, ALKALINE = "acid", "alkaline"
FIELD_NODES = 22
"""pH values at which all possible tubs are poured; between them is interpolated."""


@dataclass(frozen=True)
class Reach:
    """PH values that one activator leads the tub to, with both sides of the possible tubs."""

    parts: Mapping[str, float]
    side: str
    """`ACID` or `ALKALINE`: where it leads."""
    ph: Array
    """Aims from the start on, each poured at once into all possible tubs, shape (nodes,)."""
    sides: Array
    """Their acid and alkaline side, shape (2, nodes)."""
    extremes: Array
    """The same of a tub just poured or at rest with the air, whichever is further."""
    reserve: Array
    """Acid reserve on the high side [meq/L], shape (nodes,)."""

    @property
    def span(self) -> float:
        """Width of the pH values that it leads to [pH]."""
        return abs(float(self.ph[-1] - self.ph[0]))

    def field(self, bathers: str, sour_ph: Array) -> Field:
        """The pH values that may be aimed at, each poured at once.

        Parameters
        ----------
        bathers : str
            As in `dosing.plan.levels.gate_level`.
        sour_ph : ndarray
            As in `Field`.

        Returns
        -------
        Field
        """
        order = np.argsort(self.ph)
        first = np.ceil(self.ph[order[0]] / PH_STEP - 1e-9)
        last = np.floor(self.ph[order[-1]] / PH_STEP + 1e-9)
        ph = np.round(np.arange(first, last + 1) * PH_STEP, 2)
        ph = ph[np.abs(ph - self.ph[0]) >= PH_STEP]
        acid, alkaline, lowest, highest, reserve = (
            np.interp(ph, self.ph[order], side[order])
            for side in (*self.sides, *self.extremes, self.reserve)
        )
        level = np.max([bath_level(side, reserve, bathers) for side in (lowest, highest)], axis=0)
        kept = level <= MIND
        minded = level[kept] == MIND
        return Field(float(self.ph[0]), ph[kept], acid[kept], alkaline[kept], minded, sour_ph)


def reaches_of(inputs: RecipeInputs, shelf: Shelf) -> tuple[Reach, ...]:
    """The powder of the shelf that leads furthest to each side, or the recipe's own activator.

    Parameters
    ----------
    inputs : RecipeInputs
        The tub; its colours are left out.
    shelf : Shelf
        Powders that may be taken; the recipe's activator where there are none.

    Returns
    -------
    tuple of Reach
        One for each side to which the tub can be led.
    """
    blends = [{name: 1.0} for name in shelf.powders] or [dict(inputs.activator.parts)]
    best: dict[str, Reach] = {}
    for reach in (_reach(inputs, parts) for parts in blends):
        known = None if reach is None else best.get(reach.side)
        if reach is not None and (known is None or reach.span > known.span + PH_STEP):
            best[reach.side] = reach
    return tuple(best.values())


def _reach(inputs: RecipeInputs, parts: Mapping[str, float]) -> Reach | None:
    """What an activator does to the tub without colours; None where it does not turn it."""
    poured = replace(inputs, colours=(), activator=replace(inputs.activator, parts=dict(parts)))
    setting, possible = assemble(poured), possible_tubs(poured)
    path = colour_path(setting.bath, setting.per_gram, setting.view)
    if not turns(path):
        return None
    nodes = np.unique(np.round(np.linspace(0, len(path.ph) - 1, FIELD_NODES)).astype(int))
    grams = path.grams[nodes][:, None]
    tubs = possible.judged(grams)
    closed, aired = (np.stack(both_sides(solved.ph)) for solved in (tubs.solve(), tubs.at_rest()))
    reserve = tubs.acid_reserve_meq_l()
    lowest, highest = np.minimum(closed[0], aired[0]), np.maximum(closed[1], aired[1])
    return Reach(
        parts=dict(parts),
        side=ACID if path.acid else ALKALINE,
        ph=path.ph[nodes],
        sides=closed,
        extremes=np.stack([lowest, highest]),
        reserve=both_sides(reserve)[1],
    )
