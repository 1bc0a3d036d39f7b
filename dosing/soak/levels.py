"""Caution levels along a timeline, in the tub and where it is poured.

The tub as read stands for many that fit the readings. The plan knows how far those lie apart after
every pour; on the way there the distance grows with the tub's own way.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dosing.plan.cautions import Verdict, Verdicts, exit_code, heaviest_first, pour_forbidden
from dosing.plan.levels import LEVELS, gate_level, reserve_level
from dosing.plan.records import Plan
from dosing.soak.records import Course, OtherWay, Timeline

Array = NDArray[np.float64]
Levels = NDArray[np.int_]


def judged(line: Timeline, plan: Plan, other_way: OtherWay) -> Course:
    """A pour as followed, with what its plan says of the dose.

    Parameters
    ----------
    line : Timeline
        What is followed.
    plan : Plan
        Whose dose it is.
    other_way : OtherWay
        How far it would go poured the other way.

    Returns
    -------
    Course
        Levels of shape (times,).
    """
    cautions = heaviest_first((*line.cautions, *plan.cautions))
    # A dose of the maker's own has no wish to miss.
    wished = plan.reached or plan.wish.kind == "dose"
    both = {"warnings": (*line.warnings, *plan.warnings), "cautions": cautions}
    return Course(
        **{**vars(line), **both},
        volume_l=plan.volume_l,
        before_temperature_c=plan.temperature_c,
        wish_met=plan.wish_met,
        reached=wished and exit_code(cautions) == 0,
        forbidden=pour_forbidden(cautions),
        not_for_bathing=plan.not_for_bathing,
        verdicts=_verdicts(line, plan),
        market=plan.market,
        dose_g=plan.dose_g.best,
        maximum_g=plan.maximum_g,
        level=tuple(LEVELS[int(level)] for level in in_tub(line, plan)),
        level_local=tuple(LEVELS[int(level)] for level in near_pour(line, plan)),
        other_way=other_way,
    )


def _verdicts(line: Timeline, plan: Plan) -> Verdicts:
    """Those of the plan, none of which allows what a caution of the pour forbids."""
    own = plan.verdicts
    worst = next((caution for caution in line.cautions if pour_forbidden((caution,))), None)
    if worst is None:
        return own
    no = Verdict(worst.level, allowed=False, because=worst.code)
    return Verdicts(
        *(no if verdict.allowed else verdict for verdict in (own.pour, own.give, own.sell))
    )


def in_tub(line: Timeline, plan: Plan) -> Levels:
    """Caution level of the tub away from the pour, an index into `LEVELS`, shape (times,).

    Parameters
    ----------
    line : Timeline
        What is followed.
    plan : Plan
        Whose dose it is: it tells how far the possible tubs lie apart.

    Returns
    -------
    numpy.ndarray
        Shape (times,).
    """
    acid_side, alkaline_side = _sides(line, plan)
    each = [gate_level(ph, line.bathers) for ph in (line.ph, acid_side, alkaline_side)]
    # Nothing that was poured leaves the tub, so its acid reserve grows with the grams.
    poured = sum(pour.grams * (line.times_s > pour.at_s) for pour in line.pours)
    share = np.asarray(poured) / max(sum(pour.grams for pour in line.pours), 1e-9)
    each.append(reserve_level(share * plan.acid_reserve_high_meq_l, line.bathers))
    return np.asarray(np.max(each, axis=0))


def near_pour(line: Timeline, plan: Plan) -> Levels:
    """Caution levels where it is poured; never milder than those of the tub around it.

    Parameters
    ----------
    line : Timeline
        What is followed.
    plan : Plan
        Whose dose it is.

    Returns
    -------
    numpy.ndarray
        Shape (times,).
    """
    return np.maximum(gate_level(line.ph_local, line.bathers), in_tub(line, plan))


def _sides(line: Timeline, plan: Plan) -> tuple[Array, Array]:
    """The pH of the tub at both sides of the possible tubs, shape (times,)."""
    starts = [*(pour.at_s for pour in line.pours), np.inf]
    ends_ph = [pour.ph for pour in plan.pours[: len(line.pours) - 1]] + [line.closed_ph]
    sides = [np.array(line.ph), np.array(line.ph)]
    here_ph, here = line.before_ph, (0.0, 0.0)
    for k, end_ph in enumerate(ends_ph):
        there = _apart(line, plan, k)
        during = (line.times_s > starts[k]) & (line.times_s <= starts[k + 1])
        way = end_ph - here_ph
        done = np.clip((line.ph - here_ph) / way, 0.0, 1.0) if way else np.ones_like(line.ph)
        # What was poured stays poured, however the gas then turns the pH back.
        done = np.maximum.accumulate(np.where(during, done, 0.0))
        for side, first, last in zip(sides, here, there, strict=True):
            side += np.where(during, first + (last - first) * done, 0.0)
        here_ph, here = end_ph, there
    return sides[0], sides[1]


def _apart(line: Timeline, plan: Plan, number: int) -> tuple[float, float]:
    """How far the acid and the alkaline side lie from the tub as read after a pour."""
    if number == len(line.pours) - 1:
        ph = plan.after.ph
        return min(plan.ph_acid_side - ph, 0.0), max(plan.ph_alkaline_side - ph, 0.0)
    pour = plan.pours[number]
    # NaN where hardly any tub takes this pour.
    return (min(pour.ph_acid_side - pour.ph, 0.0) if np.isfinite(pour.ph_acid_side) else 0.0), 0.0
