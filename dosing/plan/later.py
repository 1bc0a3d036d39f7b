"""Hours later: how far a tub may have come by itself, from hardly at all to all the way.

The slow end is a tub that nobody moves in, under foam where there is any, some hours on; at the
other end all the gas is gone. Either may be in a stuffy room or in fresh air, and with all of its
excess chalk out or with none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
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
    return laters((bath,), setting)[0]


def laters(baths: Sequence[Bath], setting: Setting) -> list[Later]:
    """PH and colour hours later of several contents of one tub, all in one batch.

    Parameters
    ----------
    baths : sequence of Bath
        The tub just poured, with contents of its own each, batch shapes ().
    setting : Setting
        How it is looked at, and how deep it is.

    Returns
    -------
    list of Later
        As `later_of`, in the order of the baths.
    """
    tub = baths[0]
    hours, room = typical("hours_later").value, typical("room_air_co2")
    air = np.array(room.ends)
    names = {name for bath in baths for name in bath.totals}
    totals = {
        name: np.array([[float(bath.totals.get(name, 0.0))] for bath in baths]) for name in names
    }
    course = leaving(replace(tub, totals=totals, air_co2_ppm=air))
    velocity = taken("transfer_cm_h", "still").ends[0] * foam_slows(tub).ends[0]
    warm = float(tub.temperature_c)
    passed = np.interp(
        hours * _SECONDS_PER_HOUR, *constants_passed(velocity, warm, setting.depth_cm)
    )
    carbon = np.zeros(course.ph.shape[:-1])
    for place in np.ndindex(carbon.shape):
        carbon[place] = np.interp(passed, course.since_quiet[place], course.carbon[place])
    still = replace(tub, totals={**totals, "C": carbon}).solve()
    both = [*_ends(still, None), *_ends(course.rest, air)]
    ph, chalk_g_l = (np.concatenate(values, axis=-1) for values in zip(*both, strict=True))

    ends = [
        (row, int(pick(many))) for row, many in enumerate(ph) for pick in (np.argmin, np.argmax)
    ]
    sights: dict[tuple[int, int], Sight] = {}
    views = {place: clouded(setting.view, float(chalk_g_l[place])) for place in ends}
    for view in dict.fromkeys(views.values()):
        places = [place for place in ends if views[place] == view]
        seen_ph = np.array([ph[place] for place in places])
        colours = colour_at(tub.strengths, seen_ph, view, tub.surfactants_g_l)
        for order, place in enumerate(places):
            sights[place] = Sight("later", float(ph[place]), colours.at(order))
    return [
        Later(hours, sights[low], sights[high])
        for low, high in zip(ends[::2], ends[1::2], strict=True)
    ]


def _ends(solved: SolvedBath, pco2_ppm: ArrayLike | None) -> Iterator[tuple[Array, Array]]:
    """PH and chalk in the water [g/L], with none fallen out and with all of it where it may."""
    clear = np.asarray(solved.ph)
    yield clear, np.zeros_like(clear)
    over = may_fall(solved)
    if np.any(over):
        settled = solved.bath.solve(pco2_ppm=pco2_ppm, chalk=True)
        yield np.where(over, settled.ph, clear), np.where(over, settled.chalk_g_l, 0.0)
