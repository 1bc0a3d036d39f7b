"""Looking between portions: how one tells that the tub has turned, and how far that may be off.

An eye tells a pH only where the colour follows it. Where the colour has all but stopped to change,
a meter is the surer look. A strip is none: its pads are read by colour, and the bath is coloured.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dosing.ingredients.trade_values import reading_spread, typical
from dosing.plan.path import Path
from indicator.appearance import delta_e
from indicator.words import threshold

METER = "meter"
"""The one instrument that reads the pH of a coloured bath; strips and drops are read by colour."""
NOTHING = "nothing"
"""No eye may decide for a child in a water that nobody read."""
SLOPE_SPAN_PH = 0.25


@dataclass(frozen=True)
class Look:
    """Reading between portions that tells where to stop."""

    by: str
    """``"colour"`` or ``"meter"``."""
    stop_ph: float
    """Where pouring stops, as it is read: a little before the aim."""
    sd_ph: float
    """Standard deviation of what is read, as pH."""
    acid: bool
    """Whether the pH falls on the way."""


def look_between(path: Path, step: int, instrument: str) -> Look | None:
    """The surer of eye and instrument at a step of the path.

    Parameters
    ----------
    path : Path
        What the activator does to the tub as read.
    step : int
        The aim, an index into the path.
    instrument : str
        What the water was read with, as in the recipe, or `NOTHING`.

    Returns
    -------
    Look or None
        None where there is nothing to see and no instrument.
    """
    if instrument == NOTHING:
        return None
    short = typical("stop_short_ph").value
    aim = float(path.ph[step])
    stop = aim + short if path.acid else aim - short
    looks = []
    # Nothing to compare with stands beside the tub: a slight change is missed, and the next
    # portion goes in.
    if float(path.change_delta_e[step]) >= threshold("change_obvious"):
        looks.append(Look("colour", stop, _eye_sd_ph(path, step), path.acid))
    if instrument == METER:
        looks.append(Look(METER, stop, float(reading_spread("ph", METER).sd(aim)), path.acid))
    return min(looks, key=lambda look: look.sd_ph, default=None)


def _eye_sd_ph(path: Path, step: int) -> float:
    """The pH by which the colour must move before an eye sees it."""
    order = np.argsort(path.ph)
    ends = np.interp(path.ph[step] + np.array([-1, 1]) * SLOPE_SPAN_PH, path.ph[order], order)
    here, there = np.round(ends).astype(int)
    span = abs(float(path.ph[here] - path.ph[there]))
    seen = float(delta_e(path.colours.lab[here], path.colours.lab[there]))
    most = typical("eye_worst_ph").value
    return min(threshold("change_subtle") * span / max(seen, 1e-9), most)
