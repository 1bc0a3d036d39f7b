"""The strip of a timeline: tub and pour as bands of water along the time, and the words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dosing.pictures.poster import (
    HATCHING,
    LEFT,
    RIGHT,
    SHORE,
    SMALL,
    Poster,
    ink_on,
    marks_explained,
    runs,
)
from dosing.soak.axis import Stretch, stretches, ticks
from dosing.soak.moments import clock
from dosing.soak.records import Course
from dosing.words import course as words
from dosing.words import wording
from indicator.appearance import SeenColour, light_label
from indicator.notes import Value, say, sentence
from indicator.sheet import FAINT

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

TITLE, HEADING = 19.0, 10.0
"""Sizes of type [points]."""
COLUMNS_PER_INCH = 120
APART = 0.1
"""Least space between two labels [in]."""


@dataclass(frozen=True)
class _Band:
    """One water along the time."""

    label: str
    colours: SeenColour
    ph: Array
    levels: tuple[str, ...]


def draw_timeline(course: Course) -> Figure:
    """The course as one sheet: the tub and the pour as bands along the time, and the words.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `indicator.sheet.write_picture`.
    """
    sheet = Poster()
    y = _headline(sheet, course)
    strip = _Strip(sheet, course)
    tub = _Band(say("time.sheet.tub"), course.colours, course.ph, course.level)
    near = say("time.sheet.pour")
    pour = _Band(near, course.colours_local, course.ph_local, course.level_local)
    y = strip.band(tub, y - 0.26)
    y = strip.band(pour, y - 0.18)
    y = strip.times(y - 0.02)
    y = sheet.text(LEFT, y - 0.04, _note(course), SMALL, width=RIGHT - LEFT, ink=FAINT)
    y = _text(sheet, course, y - 0.2)
    return sheet.finished(y - 0.28)


def _headline(sheet: Poster, course: Course) -> float:
    title = say("time.sheet.title", {"title": course.title})
    y = sheet.title(title, TITLE, -0.36, not_for_bathing=course.not_for_bathing)
    y = sheet.paragraphs([words.tub(course)], y, ink=FAINT)
    verdict = words.verdict(course)
    if verdict[2] is None:
        y = sheet.paragraphs([words.how(course)], y, gap=0.0, ink=FAINT)
    return sheet.verdict(verdict, y - 0.12) if verdict[0] else y


class _Strip:
    """The bands over their common axis."""

    def __init__(self, sheet: Poster, course: Course) -> None:
        self.sheet, self.course = sheet, course
        self.stretches = stretches(course, LEFT, RIGHT)
        self.ticks = [self._ticks(stretch) for stretch in self.stretches]

    def _ticks(self, stretch: Stretch) -> list[float]:
        """The times that have a label, the start among them where nothing is in its way."""
        worst = self.course.lowest_local.at_s
        here = self.course.pour_at(worst) == stretch.number
        start = 2.0 * self._half(stretch.start_s)
        times = ticks(stretch, [worst] if here else [], self._half, start)
        reach = stretch.left + start + (self._half(times[0]) if times else 0.0)
        free = not times or float(stretch.x(times[0])) >= reach
        return [stretch.start_s, *times] if free or stretch.number == 0 else times

    def _half(self, time: float) -> float:
        """Half of the label of a time, and of the space around it [in]."""
        label = clock(self.course.since_pour(time))
        return (self.sheet.measure(label, SMALL) + APART) / 2

    def band(self, band: _Band, top: float) -> float:
        """One water along the time, pH on its waterline, names in it; returns y below it."""
        waterline = self.sheet.text(LEFT, top, band.label, HEADING, bold=True) - 0.22
        for stretch, times in zip(self.stretches, self.ticks, strict=True):
            floor = self._water(stretch, band.colours, waterline)
            self._reaches(stretch, band, floor)
            self._names(stretch, band.colours, waterline)
            self._ph_along(stretch, times, band.ph, waterline)
        self.sheet.text(LEFT - 0.08, waterline + 0.19, say("time.sheet.ph"), SMALL, align="right")
        self.sheet.rule(LEFT - 0.12, waterline, RIGHT + 0.12, waterline, 1.3)
        return floor

    def _water(self, stretch: Stretch, colours: SeenColour, waterline: float) -> float:
        from matplotlib.colors import to_rgb

        columns = max(int(COLUMNS_PER_INCH * (stretch.right - stretch.left)), 2)
        middles = (
            stretch.left + (stretch.right - stretch.left) * (np.arange(columns) + 0.5) / columns
        )
        rgb = np.array([to_rgb(str(hex_colour)) for hex_colour in colours.hex])
        at = stretch.seconds(middles)
        water = np.stack([np.interp(at, self.course.times_s, rgb[:, k]) for k in range(3)], axis=-1)
        return self.sheet.water(water, (stretch.left, stretch.right), waterline)

    def _ph_along(self, stretch: Stretch, times: list[float], ph: Array, waterline: float) -> None:
        """The pH on the waterline at every tick, the sourest moment in bold."""
        for time in times:
            text = f"{float(ph[int(np.searchsorted(self.course.times_s, time))]):.1f}"
            bold = ph is self.course.ph_local and time == self.course.lowest_local.at_s
            self._label(stretch, time, text, waterline, 0.05, waterline + 0.19, bold=bold)

    def _label(
        self,
        stretch: Stretch,
        time: float,
        text: str,
        y: float,
        tick: float,
        top: float,
        *,
        bold: bool,
    ) -> None:
        """A tick at a time, and a label that stays within its stretch."""
        x = float(stretch.x(time))
        self.sheet.rule(x, y, x, y + tick)
        half = self.sheet.measure(text, SMALL, bold=bold) / 2
        middle = stretch.label_x(time, half)
        self.sheet.text(middle, top, text, SMALL, align="center", bold=bold)

    def _reaches(self, stretch: Stretch, band: _Band, floor: float) -> None:
        """Hatch the times at which this water is beyond what the bathers may have."""
        for level, first, end in self._runs(stretch, band.levels):
            if level not in HATCHING:
                continue
            left, right = (stretch.edge(self.course.times_s, k) for k in (first, end))
            lightness = float(np.mean(band.colours.lab[first:end, 0]))
            ink = self.sheet.hatching(level, (left, right), floor, lightness)
            for mark in (words.level_mark(level), wording.MARKS[level]):
                if self.sheet.measure(mark, SMALL, bold=True) < right - left:
                    x, y = (left + right) / 2, floor + SHORE + 0.16
                    self.sheet.text(x, y, mark, SMALL, ink=ink, align="center", bold=True)
                    break

    def _names(self, stretch: Stretch, colours: SeenColour, waterline: float) -> None:
        """The names of the colours, written into the water where there is room."""
        for name, first, end in self._runs(stretch, [str(name) for name in colours.name]):
            left, right = (stretch.edge(self.course.times_s, k) for k in (first, end))
            if self.sheet.measure(name, SMALL) > right - left - APART:
                continue
            ink = ink_on(float(np.mean(colours.lab[first:end, 0])))
            middle = (left + right) / 2
            self.sheet.text(middle, waterline - 0.06, name, SMALL, ink=ink, align="center")

    def _runs(self, stretch: Stretch, items: Sequence[str]) -> Iterator[tuple[str, int, int]]:
        """Runs of equal items in a stretch as (item, first place, place after the last)."""
        own = stretch.places(self.course.times_s)
        first = int(own[0])
        for item, start, end in runs(items[first : int(own[-1]) + 1]):
            yield item, first + start, first + end

    def times(self, y: float) -> float:
        """Times since each pour along the lower edge; returns y below the labels."""
        several = len(self.stretches) > 1
        for stretch, times in zip(self.stretches, self.ticks, strict=True):
            self.sheet.rule(stretch.left, y, stretch.right, y)
            for time in times:
                text = clock(self.course.since_pour(time))
                self._label(stretch, time, text, y, -0.05, y - 0.06, bold=False)
            if several:
                self._pour_label(stretch, y - 0.2)
        return y - (0.4 if several else 0.24)

    def _pour_label(self, stretch: Stretch, y: float) -> None:
        """Which pour a stretch begins with, as fully as there is room."""
        values: dict[str, Value] = {
            "number": stretch.number + 1,
            "grams": words.pours_shown(self.course)[stretch.number],
        }
        for code in ("pour-grams", "pour-number"):
            text = say(f"time.sheet.{code}", values)
            if self.sheet.measure(text, SMALL, bold=True) <= stretch.right - stretch.left:
                self.sheet.text(stretch.left, y, text, SMALL, bold=True)
                break


def _note(course: Course) -> str:
    values: dict[str, Value] = {"light": light_label(course.light), "marks": marks_explained()}
    several = [say("time.sheet.note-several")] if len(course.pours) > 1 else []
    hatched = [] if course.bathers == "nobody" else [say("time.sheet.note-hatched", values)]
    return " ".join([say("time.sheet.note", values), *several, *hatched])


def _text(sheet: Poster, course: Course, top: float) -> float:
    """The same sentences as on the terminal."""
    forbidden = course.forbidden
    acid = "time.heading.acid" if course.acid else "time.heading.alkaline"
    groups = (
        ("time.heading.see", words.turning(course)),
        (acid, words.near_the_pour(course)),
        ("time.heading.wait", [] if forbidden else words.waiting(course)),
        ("time.heading.soak", words.soaking(course)),
        ("plan.heading.notes", [sentence(note) for note in course.warnings]),
    )
    y = top
    for heading, texts in groups:
        if not texts:
            continue
        y = sheet.text(LEFT, y - 0.06, say(heading), HEADING, bold=True)
        y = sheet.paragraphs(texts, y)
    return sheet.cautions(course.cautions, y - 0.06)
