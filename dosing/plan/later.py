"""Hours later: how far a tub may have come by itself, from hardly at all to all the way.

The slow end is a tub that nobody moves in, under foam where there is any, some hours on; at the
other end all the gas is gone. Either may be in a stuffy room or in fresh air, and with all of its
excess chalk out or with none.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import Setting
from dosing.bath.chalk import clouded, may_fall
from dosing.bath.mixed import Bath, SolvedBath, colour_at
from dosing.bath.mixing import taken
from dosing.bath.open_tub import constants_passed, foam_slows, leaving
from dosing.ingredients.trade_values import typical
from dosing.plan.records import Later, Sight

Array = NDArray[np.float64]

_SECONDS_PER_HOUR = 3600.0


def later_of(bath: Bath, setting: Setting) -> Later:
    """PH and colour hours later, at both ends of what one tub may come to by itself.

    Parameters
    ----------
    bath : Bath
        The tub just poured, batch shape ().
    setting : Setting
        How it is looked at, and how deep it is.

    Returns
    -------
    Later
        The lower and the higher pH.
    """
    hours, room = typical("hours_later").value, typical("room_air_co2")
    air = np.array(room.ends)
    totals = {name: np.array([float(total)]) for name, total in bath.totals.items()}
    course = leaving(replace(bath, totals=totals, air_co2_ppm=air))
    velocity = taken("transfer_cm_h", "still").ends[0] * foam_slows(bath).ends[0]
    warm = float(bath.temperature_c)
    passed = np.interp(
        hours * _SECONDS_PER_HOUR, *constants_passed(velocity, warm, setting.depth_cm)
    )
    # In either air.
    since, carbon = course.since_quiet, course.carbon
    left = np.array([np.interp(passed, since[k], carbon[k]) for k in range(len(air))])
    still = replace(bath, totals={**totals, "C": left}).solve()
    both = [*_ends(still, None), *_ends(course.rest, air)]
    ph, chalk_g_l = (np.concatenate(values) for values in zip(*both, strict=True))

    def sight(place: int) -> Sight:
        view = clouded(setting.view, float(chalk_g_l[place]))
        colours = colour_at(bath.strengths, ph[[place]], view, bath.surfactants_g_l)
        return Sight("later", float(ph[place]), colours.at(0))

    return Later(hours, sight(int(np.argmin(ph))), sight(int(np.argmax(ph))))


def _ends(solved: SolvedBath, pco2_ppm: ArrayLike | None) -> Iterator[tuple[Array, Array]]:
    """PH and chalk in the water [g/L], with none fallen out and with all of it where it may."""
    clear = np.asarray(solved.ph)
    yield clear, np.zeros_like(clear)
    over = may_fall(solved)
    if np.any(over):
        settled = solved.bath.solve(pco2_ppm=pco2_ppm, chalk=True)
        yield np.where(over, settled.ph, clear), np.where(over, settled.chalk_g_l, 0.0)
