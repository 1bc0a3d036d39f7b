"""Where times lie on a strip: straight at first, then the later, the closer, anew at every pour."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.soak.records import Timeline

Array = NDArray[np.float64]

BEND_S = 8.0
"""The axis is straight up to here, and then by tenfolds [s]."""
GAP = 0.06
"""Between the stretches of two pours [in]."""
TICKS_S = (5, 15, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 18000, 36000)


@dataclass(frozen=True)
class Stretch:
    """The part of a strip from one pour to the next, or to the end."""

    number: int
    """Which pour, counted from 0."""
    start_s: float
    end_s: float
    left: float
    """Where it lies on the sheet [in]."""
    right: float
    last: bool
    """Whether no pour follows."""

    @property
    def length_s(self) -> float:
        """Length of the stretch [s]."""
        return self.end_s - self.start_s

    def x(self, seconds: ArrayLike) -> Array:
        """Where moments since the first pour lie on the sheet [in]."""
        since = np.asarray(seconds, dtype=np.float64) - self.start_s
        share = np.log1p(since / BEND_S) / np.log1p(self.length_s / BEND_S)
        return np.asarray(self.left + (self.right - self.left) * share)

    def seconds(self, x: ArrayLike) -> Array:
        """Which moment lies at a place on the sheet, since the first pour [s]."""
        share = (np.asarray(x, dtype=np.float64) - self.left) / (self.right - self.left)
        since = BEND_S * np.expm1(share * np.log1p(self.length_s / BEND_S))
        return np.asarray(self.start_s + since)

    def label_x(self, time: float, half: float) -> float:
        """Where the middle of a label lies: at its moment, or within the ends of the stretch [in].

        Parameters
        ----------
        time : float
            Since the first pour [s].
        half : float
            Half of the label [in].

        Returns
        -------
        float
            x [in].
        """
        return min(max(float(self.x(time)), self.left + half), self.right - half)

    def places(self, times_s: Array) -> NDArray[np.int_]:
        """Places of the times that belong to it, its start among them."""
        before_end = times_s <= self.end_s if self.last else times_s < self.end_s
        return np.flatnonzero((times_s >= self.start_s) & before_end)

    def edge(self, times_s: Array, place: int) -> float:
        """Half way, on the sheet, between the time at a place and the one before [in].

        Parameters
        ----------
        times_s : numpy.ndarray
            Of the timeline, shape (times,) [s].
        place : int
            Of the later of both.

        Returns
        -------
        float
            x [in].
        """
        own = self.places(times_s)
        if place <= own[0]:
            return self.left
        if place > own[-1]:
            return self.right
        return float(np.mean(self.x(times_s[place - 1 : place + 1])))


def stretches(line: Timeline, left: float, right: float) -> list[Stretch]:
    """The stretches of a timeline side by side, each as wide as its axis is long.

    Parameters
    ----------
    line : Timeline
        What is followed.
    left, right : float
        Ends of the strip [in].

    Returns
    -------
    list of Stretch
        One for each pour.
    """
    starts = [pour.at_s for pour in line.pours]
    ends = [*starts[1:], float(line.times_s[-1])]
    lengths = np.log1p((np.array(ends) - np.array(starts)) / BEND_S)
    room = right - left - GAP * (len(starts) - 1)
    widths = room * lengths / np.sum(lengths)
    begins = left + np.concatenate([[0.0], np.cumsum(widths[:-1] + GAP)])
    return [
        Stretch(
            number=k,
            start_s=starts[k],
            end_s=ends[k],
            left=float(begins[k]),
            right=float(begins[k] + widths[k]),
            last=k == len(starts) - 1,
        )
        for k in range(len(starts))
    ]


def ticks(
    stretch: Stretch, wanted_s: Sequence[float], half: Callable[[float], float], start_width: float
) -> list[float]:
    """Round times of a stretch whose labels leave room for each other [s since the first pour].

    Parameters
    ----------
    stretch : Stretch
        Where.
    wanted_s : sequence of float
        Moments [s] that go before the round ones, and before the label of the start.
    half : callable
        From a time to half of its label and of the space around it [in].
    start_width : float
        Of the label that begins at the left end, and the space after it [in].

    Returns
    -------
    list of float
        Rising [s since the first pour].
    """
    last = [stretch.end_s] if stretch.last else []
    round_ones = [stretch.start_s + after for after in TICKS_S if after < 0.999 * stretch.length_s]
    placed: dict[float, float] = {}
    for time in dict.fromkeys((*last, *wanted_s, *round_ones)):
        room = half(time)
        x = stretch.label_x(time, room)
        begin = stretch.left if time in wanted_s else stretch.left + start_width
        inside = x - room >= begin - 1e-9 and x + room <= stretch.right + 1e-9
        if inside and all(abs(x - at) >= room + half(other) for other, at in placed.items()):
            placed[time] = x
    return sorted(placed)
