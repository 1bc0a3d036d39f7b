"""Moments of a pour: when each portion goes in, when to look, and how a time is told."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from dosing.bath.mixing import taken
from dosing.ingredients.powders import powder
from indicator.notes import say

Array = NDArray[np.float64]

SECONDS = 300
"""For so long every second is looked at, after every pour; then every minute."""
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
    first = np.arange(0.0, SECONDS + 1.0)
    seconds = (poured_s[:, None] + first).ravel()
    told = np.union1d(seconds[seconds <= end], np.arange(0.0, end + 1.0, MINUTE_S))
    close = (poured_s[:, None] + np.arange(*CLOSELY_S)).ravel()
    return told, np.union1d(told, close[close <= end])


def span(seconds: float) -> str:
    """A time in words: seconds to two minutes, then minutes, then hours; never rounded down."""
    if seconds <= 10.0:
        return say("time.seconds", {"count": int(np.ceil(seconds))})
    if seconds < 2.0 * MINUTE_S:
        return say("time.seconds", {"count": 5 * int(np.ceil(seconds / 5.0 - 1e-9))})
    if seconds < 2.0 * HOUR_S:
        return say("time.minutes", {"count": int(np.ceil(seconds / MINUTE_S - 1e-9))})
    return say("time.hours", {"count": int(np.ceil(seconds / HOUR_S - 1e-9))})


def clock(seconds: float) -> str:
    """A moment as a clock shows it, to the second and not rounded to rounder numbers."""
    whole = round(seconds)
    if whole < 2 * MINUTE_S:
        return say("time.seconds", {"count": whole})
    large, small, name = (HOUR_S, MINUTE_S, "hours") if whole >= 2 * HOUR_S else (60, 1, "minutes")
    count, rest = divmod(round(whole / small), round(large / small))
    if not rest:
        return say(f"time.{name}", {"count": count})
    return say(f"time.{name}-and", {"count": count, "rest": rest})


def roughly(seconds: float) -> str:
    """A time that is known roughly: five minutes, then half hours, then hours; not rounded down."""
    if seconds <= HOUR_S:
        return say("time.minutes", {"count": 5 * max(int(np.ceil(seconds / 300.0 - 1e-9)), 1)})
    halves = int(np.ceil(2.0 * seconds / HOUR_S - 1e-9))
    if halves < 6 and halves % 2:
        return say("time.hours-and-a-half", {"count": halves // 2})
    return say("time.hours", {"count": -(-halves // 2)})
