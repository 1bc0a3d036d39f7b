"""Masses of a soak as they are printed, so that the numbers of one page add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from dosing.ingredients.powders import kitchen_round_g, scale_floor_g, scale_step
from dosing.soak.records import Step

STEPS_G = (1.0, 0.1, 0.01)
"""Of scales, the coarsest first [g]."""
FINE_ENOUGH = 2.0
"""Steps of a scale that the smallest portion has at least."""


def with_printed(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Steps with their masses as they are printed.

    Totals of each powder are rounded, down where a step has nothing to spare, and every mass is the
    difference of two of them: so the tub is never further off than one rounding.
    """
    scales_g = {onwards: _scale_g(steps, onwards=onwards) for onwards in (True, False)}
    totals_g = {True: 0.0, False: 0.0}
    shown = []
    for step in steps:
        scale, before = scales_g[step.onwards], totals_g[step.onwards]
        total = before
        if step.grams > 0:
            nearest = float(kitchen_round_g(step.total_g, scale))
            lower = scale_floor_g(step.total_g, scale)
            total = max(nearest if step.to_spare else lower, before)
        totals_g[step.onwards] = total
        exact = step.total_g - step.grams + np.cumsum(step.portions_g)
        marks = np.clip(kitchen_round_g(exact, scale), before, total)
        marks[-1] = total
        portions = tuple(np.diff(marks, prepend=before).tolist())
        shown.append(
            replace(step, printed_g=total - before, printed_portions_g=portions, scale_g=scale)
        )
    return tuple(shown)


def _scale_g(steps: Sequence[Step], *, onwards: bool) -> float:
    """One step of a scale for everything that is said of a powder [g]."""
    scales = [1.0]
    for step in steps:
        if step.onwards == onwards and step.grams > 0:
            least = min(step.portions_g)
            fine = [scale for scale in STEPS_G if least >= FINE_ENOUGH * scale]
            scales += [scale_step(step.grams), fine[0] if fine else STEPS_G[-1]]
    return min(scales)
