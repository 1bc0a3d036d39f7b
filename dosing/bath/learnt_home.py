"""Learnt home: the possible tubs of one home that agree with its logged pours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from dosing.equilibrium import Array
from indicator.notes import Note, Value
from indicator.tables import value_of

LEARNT_NOTES = "assume.water.learnt-"
LEARNING = "trade/learning.csv"


@dataclass(frozen=True)
class LearntHome:
    """One water and tub, as pours taught it beside its reading."""

    name: str
    """Under which it is saved."""
    place: str
    """The home."""
    on: str
    """Day of the last pour, ``YYYY-MM-DD``."""
    pours: int
    """How many taught it."""
    metered: tuple[str, ...]
    """Days on which a pH was metered, ``YYYY-MM-DD``, none twice."""
    middle: Mapping[str, float]
    """Fields of `dosing.bath.assembled.Truth` that the middle tub has."""
    quantities: tuple[str, ...]
    """Of `dosing.bath.possible_tubs.QUANTITIES`, those that it tells."""
    scores: tuple[float, ...]
    """Their means, in standard deviations from the reading, shape (quantities,)."""
    covariance: tuple[tuple[float, ...], ...]
    """Of the scores, shape (quantities, quantities)."""
    held: bool = False
    """Whether it may lower a dose and never raise one, as for a child."""

    @property
    def raises(self) -> bool:
        """Whether enough of them were metered that a maximum may rise."""
        return len(self.metered) >= value_of(LEARNING, "metered_days")

    def note(self, how: str) -> Note:
        """Assumption of a plan: ``used``, ``held``, ``lower``, or why it is not used."""
        told: dict[str, Value] = {"place": self.place, "date": self.on, "pours": self.pours}
        return Note(f"assume.water.learnt-{how}", told, "water.like")

    def moved(self, normal: Array, names: Sequence[str]) -> Array:
        """Standard normal numbers turned into scores of tubs that agree with the pours.

        Parameters
        ----------
        normal : numpy.ndarray
            Shape (tubs, names).
        names : sequence of str
            Quantities of its columns.

        Returns
        -------
        numpy.ndarray
            The same shape; columns that nothing was learnt of are as they were.
        """
        columns = [names.index(quantity) for quantity in self.quantities]
        root = np.linalg.cholesky(np.asarray(self.covariance))
        scores = np.array(normal)
        scores[:, columns] = np.asarray(self.scores) + normal[:, columns] @ root.T
        return scores
