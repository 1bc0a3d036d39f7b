"""A plan as a step of a soak: where its pouring ends, and the portions that are still ahead."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from dosing.plan.case import Case
from dosing.plan.pouring import Pouring, worst_level
from dosing.plan.records import Plan


def as_planned(plan: Plan, at_once: Pouring, case: Case) -> Pouring:
    """The pouring of a plan, as far as a soak judges it.

    Parameters
    ----------
    plan : Plan
        With its portions.
    at_once : Pouring
        The same dose poured at once.
    case : Case
        Whose tubs these are.

    Returns
    -------
    Pouring
        With the sides of the pH that the plan tells.
    """
    final = (plan.ph_acid_side, plan.ph_alkaline_side)
    aired = (plan.ph_acid_side_airing, plan.ph_alkaline_side_airing)
    firsts = [pour.ph_acid_side for pour in plan.pours if np.isfinite(pour.ph_acid_side)]
    reserve = plan.acid_reserve_high_meq_l
    return replace(
        at_once,
        totals_g=tuple(pour.total_g for pour in plan.pours),
        acid_sides=tuple(pour.ph_acid_side for pour in plan.pours),
        final=final,
        aired=aired,
        reserve_meq_l=reserve,
        level=worst_level([*final, *aired, *firsts], reserve, case.bathers),
    )


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
