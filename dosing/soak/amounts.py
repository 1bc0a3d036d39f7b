"""Masses of a soak: as they are printed, so that a page adds up, and the portions of a plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from dosing.ingredients.powders import kitchen_round_g, scale_floor_g, scale_step
from dosing.plan.records import Plan
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


def as_plan_prints(step: Step, plan: Plan) -> Step:
    """The pour of a plan with its masses to the same step of a scale as the plan prints them.

    Parameters
    ----------
    step : Step
        The only one of a soak.
    plan : Plan
        Whose pour it is.

    Returns
    -------
    Step
        No printed mass passes the most of the plan, and level spoons stand where the plan has them.
    """
    portions = tuple(pour.grams for pour in plan.portions if not pour.spare)
    return replace(
        step,
        printed_g=plan.pour_g,
        printed_portions_g=portions,
        scale_g=plan.scale_step_g,
        weigh=not plan.spoons_keep_limit,
    )


def _scale_g(step: Step) -> float:
    """Step of a kitchen scale for a step's masses [g]."""
    if step.grams <= 0:
        return 1.0
    return min(scale_step(step.grams), scale_step(_FINE_ENOUGH * min(step.portions_g)))


def portions_ahead_g(plan: Plan, so_far: float, total: float) -> tuple[float, ...]:
    """The pours of a plan that are still ahead and lead no further than its aim [g].

    Behind its first pour a plan goes on in equal steps; what is left of them is shared out evenly,
    so that no step is larger than the plan's and none is a mere pinch.

    Parameters
    ----------
    plan : Plan
        For the tub at the start.
    so_far, total : float
        In the tub already, and in the end [g].

    Returns
    -------
    tuple of float
        [g].
    """
    marks = [pour.total_g for pour in plan.pours if so_far < pour.total_g <= total * 1.001]
    if not marks or marks[-1] < total * 0.999:
        marks.append(total)
    if plan.pours and so_far >= plan.pours[0].total_g:
        marks = [float(mark) for mark in np.linspace(so_far, total, len(marks) + 1)[1:]]
    return tuple(float(v) for v in np.diff([so_far, *marks]))
