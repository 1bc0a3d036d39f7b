"""Masses of a soak as they are printed, so that the numbers of one page add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from dosing.ingredients.powders import kitchen_round_g, scale_floor_g, scale_step
from dosing.soak.records import Step

_FINE_ENOUGH = 2.5
"""Times the smallest portion, whose step of a scale serves: two steps at least are in it."""


def with_printed(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Steps with their masses as they are printed.

    Totals of each powder are rounded, down where a step has nothing to spare, and every mass is the
    difference of two of them: so the tub is never further off than one rounding.
    """
    totals_g = {True: 0.0, False: 0.0}
    shown = []
    for step in steps:
        scale = min(_scale_g(other) for other in steps if other.onwards == step.onwards)
        before = totals_g[step.onwards]
        exact = step.total_g - step.grams + np.cumsum(step.portions_g)
        marks = kitchen_round_g(exact, scale)
        if not step.to_spare:
            marks[-1] = scale_floor_g(exact[-1], scale)
        last = max(marks[-1], before) if step.grams > 0 else before
        marks = np.clip(marks, before, last)
        totals_g[step.onwards] = float(marks[-1])
        portions = tuple(np.diff(marks, prepend=before).tolist())
        mass = float(marks[-1]) - before
        shown.append(replace(step, printed_g=mass, printed_portions_g=portions, scale_g=scale))
    return tuple(shown)


def _scale_g(step: Step) -> float:
    """Step of a kitchen scale for a step's masses [g]."""
    if step.grams <= 0:
        return 1.0
    return min(scale_step(step.grams), scale_step(_FINE_ENOUGH * min(step.portions_g)))
