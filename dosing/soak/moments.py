"""Moments of a pour: when each portion goes in, when to look, and how a time is told."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dosing.bath.mixing import taken
from dosing.ingredients.powders import powder
from indicator.notes import say

Array = NDArray[np.float64]

TOLD_S = np.array([
    0, 1, 2, 3, 5, 7, 10, 15, 20, 25, 30, 40, 50, 60, 90, 120, 180, 300,
    600, 1200, 1800, 3600, 7200, 14400, 21600, 36000,
])  # fmt: skip
"""Times after every pour that are told [s]."""
SECONDS = 300
"""For so long every second is worked out, after every pour; then every minute."""
CLOSELY_S = (300.0, 900.0, 30.0)
"""From, to and step of the further moments that are worked out after every pour [s]."""
MINUTE_S, HOUR_S = 60.0, 3600.0


def look_interval_s(parts: Mapping[str, float]) -> float:
    """From one portion to the next: stirring, and a look [s].

    Parameters
    ----------
    parts : mapping of str to float
        Powders of the activator (key of the powder table) to their share.
    """
    remarks = [powder(name).remark for name in parts]
    slow = any(
        remark is not None and remark.code.endswith("slow-to-dissolve") for remark in remarks
    )
    return taken("look_slow_s" if slow else "look_s").value


def told_and_worked(minutes: int, poured_s: Array) -> tuple[Array, Array]:
    """Times that are told, and the moments that are worked out for them, both rising [s].

    Parameters
    ----------
    minutes : int
        How long to look after the last pour.
    poured_s : numpy.ndarray
        When each portion is poured, shape (pours,) [s].

    Returns
    -------
    tuple of numpy.ndarray
        Times told, shape (times,), and moments worked out, shape (moments,) [s].
    """
    end = float(poured_s[-1]) + MINUTE_S * minutes
    told: list[float] = [end]
    for start, following in pairwise([*poured_s, end]):
        told += [time for time in (start + TOLD_S).tolist() if time < following]
    closely = np.concatenate([np.arange(SECONDS + 1.0), np.arange(*CLOSELY_S)])
    close = (poured_s[:, None] + closely).ravel()
    worked = np.union1d(close[close <= end], np.arange(0.0, end + 1.0, MINUTE_S))
    return np.unique(told), np.union1d(told, worked)


def span(seconds: float) -> str:
    """A time in words: seconds to two minutes, then minutes, then hours; never rounded down."""
    if seconds <= 10.0:
        return say("time.seconds", {"count": int(np.ceil(seconds))})
    if seconds < 2.0 * MINUTE_S:
        return say("time.seconds", {"count": 5 * int(np.ceil(seconds / 5.0 - 1e-9))})
    if seconds < 2.0 * HOUR_S:
        return say("time.minutes", {"count": int(np.ceil(seconds / MINUTE_S - 1e-9))})
    return say("time.hours", {"count": int(np.ceil(seconds / HOUR_S - 1e-9))})


def span_minutes(seconds: float) -> str:
    """A time in words, to the whole minute; never rounded down."""
    return span(MINUTE_S * float(np.ceil(seconds / MINUTE_S)))


def roughly(seconds: float) -> str:
    """A time that is known roughly: five minutes, then half hours, then hours; not rounded down."""
    if seconds <= HOUR_S:
        return say("time.minutes", {"count": 5 * max(int(np.ceil(seconds / 300.0 - 1e-9)), 1)})
    halves = int(np.ceil(2.0 * seconds / HOUR_S - 1e-9))
    if halves < 6 and halves % 2:
        return say("time.hours-and-a-half", {"count": halves // 2})
    return say("time.hours", {"count": -(-halves // 2)})
