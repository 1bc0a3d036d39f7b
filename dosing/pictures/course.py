"""The strip of a timeline: tub and pour as bands of water along the time, and the words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dosing.pictures.banner import draw_frame
from dosing.pictures.tide_mark import HATCHING, LIGHT_ENOUGH
from dosing.plan.cautions import LEVELS, Caution
from dosing.plan.records import Plan
from dosing.soak import levels
from dosing.soak.axis import Stretch, stretches, ticks
from dosing.soak.levels import Levels, in_tub, near_pour
from dosing.soak.moments import clock
from dosing.soak.records import Timeline
from dosing.words import course as words
from dosing.words import wording
from indicator.appearance import SeenColour, light_label
from indicator.notes import Value, say, sentence
from indicator.sheet import FAINT, GROUND, INK, Sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

WIDTH = 7.0
LEFT, RIGHT = 0.55, WIDTH - 0.55
TITLE, HEADING, BODY, SMALL = 19.0, 10.0, 8.2, 7.4
"""Sizes of type [points]."""
BAND = 0.62
"""Height of a band of water [in]."""
SHORE = 0.24
"""Height of the hatched part at its lower edge [in]."""
COLUMNS_PER_INCH = 120
APART = 0.1
"""Least space between two labels [in]."""
MARK_ROOM = 0.24
"""For the mark of a caution, before its words [in]."""


@dataclass(frozen=True)
class _Band:
    """One water along the time."""

    label: str
    colours: SeenColour
    ph: Array
    levels: Levels


def draw_timeline(line: Timeline, plan: Plan) -> Figure:
    """The timeline as one sheet: the tub and the pour as bands along the time, and the words.

    Parameters
    ----------
    line : Timeline
        What is followed.
    plan : Plan
        Whose dose it is.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `indicator.sheet.write_picture`.
    """
    sheet = Sheet(WIDTH)
    y = _headline(sheet, line, plan)
    strip = _Strip(sheet, line)
    tub = _Band(say("time.sheet.tub"), line.colours, line.ph, in_tub(line, plan))
    near = say("time.sheet.pour")
    pour = _Band(near, line.colours_local, line.ph_local, near_pour(line, plan))
    y = strip.band(tub, y - 0.26)
    y = strip.band(pour, y - 0.18)
    y = strip.times(plan, y - 0.02)
    y = sheet.text(LEFT, y - 0.04, _note(line, plan), SMALL, width=RIGHT - LEFT, ink=FAINT)
    y = _text(sheet, line, plan, y - 0.2)
    return sheet.finished(y - 0.28)


def _headline(sheet: Sheet, line: Timeline, plan: Plan) -> float:
    top, room = -0.36, RIGHT - LEFT
    if plan.not_for_bathing:
        room -= 0.2 + sheet.boxed(say("plan.not-for-bathing"), RIGHT, top - 0.06)
    y = sheet.text(LEFT, top, say("time.sheet.title", {"title": line.title}), TITLE, width=room)
    y = sheet.text(LEFT, y - 0.02, words.tub(plan), BODY, width=RIGHT - LEFT, ink=FAINT)
    heads, reasons, follows = words.verdict(line, plan)
    if follows is None:
        y = sheet.text(LEFT, y, words.how(line, plan), BODY, width=RIGHT - LEFT, ink=FAINT)
    if heads:
        texts = [*reasons, *([] if follows is None else [follows])]
        y = draw_frame(sheet, heads, texts, LEFT, RIGHT, y - 0.12)
    return y


class _Strip:
    """The bands over their common axis."""

    def __init__(self, sheet: Sheet, line: Timeline) -> None:
        self.sheet, self.line = sheet, line
        self.stretches = stretches(line, LEFT, RIGHT)
        self.ticks = [self._ticks(one) for one in self.stretches]

    def _ticks(self, one: Stretch) -> list[float]:
        """The times that have a label, the start among them where nothing is in its way."""
        worst = self.line.lowest_local.at_s
        here = self.line.pour_at(worst) == one.number
        start = 2.0 * self._half(one.start_s)
        found = ticks(one, [worst] if here else [], self._half, start)
        reach = one.left + start + (self._half(found[0]) if found else 0.0)
        free = not found or float(one.x(found[0])) >= reach
        return [one.start_s, *found] if free or one.number == 0 else found

    def _half(self, time: float) -> float:
        """Half of the label of a time, and of the space around it [in]."""
        label = clock(self.line.since_pour(time))
        return (self.sheet.measure(label, SMALL) + APART) / 2

    def band(self, band: _Band, top: float) -> float:
        """One water along the time, pH on its waterline, names in it; returns y below it."""
        waterline = self.sheet.text(LEFT, top, band.label, HEADING, bold=True) - 0.22
        floor = waterline - BAND
        for one, times in zip(self.stretches, self.ticks, strict=True):
            self._water(one, band.colours, waterline, floor)
            self._reaches(one, band, floor)
            self._names(one, band.colours, waterline)
            self._ph_along(one, times, band.ph, waterline)
        self.sheet.text(LEFT - 0.08, waterline + 0.19, say("time.sheet.ph"), SMALL, align="right")
        self.sheet.rule(LEFT - 0.12, waterline, RIGHT + 0.12, waterline, 1.3)
        return floor

    def _water(self, one: Stretch, colours: SeenColour, waterline: float, floor: float) -> None:
        from matplotlib.colors import to_rgb

        columns = max(int(COLUMNS_PER_INCH * (one.right - one.left)), 2)
        middles = one.left + (one.right - one.left) * (np.arange(columns) + 0.5) / columns
        rgb = np.array([to_rgb(str(hex_colour)) for hex_colour in colours.hex])
        at = one.seconds(middles)
        water = np.stack([np.interp(at, self.line.times_s, rgb[:, k]) for k in range(3)], axis=-1)
        self.sheet.axes.imshow(
            water[None],
            extent=(one.left, one.right, floor, waterline),
            interpolation="nearest",
            aspect="auto",
            zorder=1,
        )

    def _ph_along(self, one: Stretch, times: list[float], ph: Array, waterline: float) -> None:
        """The pH on the waterline at every tick, the sourest moment in bold."""
        for time in times:
            text = f"{float(ph[int(np.searchsorted(self.line.times_s, time))]):.1f}"
            bold = ph is self.line.ph_local and time == self.line.lowest_local.at_s
            self._label(one, time, text, waterline, 0.05, waterline + 0.19, bold=bold)

    def _label(
        self, one: Stretch, time: float, text: str, y: float, tick: float, top: float, *, bold: bool
    ) -> None:
        """A tick at a time, and a label that stays within its stretch."""
        x = float(one.x(time))
        self.sheet.rule(x, y, x, y + tick)
        half = self.sheet.measure(text, SMALL, bold=bold) / 2
        middle = one.label_x(time, half)
        self.sheet.text(middle, top, text, SMALL, align="center", bold=bold)

    def _reaches(self, one: Stretch, band: _Band, floor: float) -> None:
        """Hatch the times at which this water is beyond what the bathers may have."""
        named = [LEVELS[int(k)] for k in band.levels]
        for level, first, end in self._runs(one, named):
            if level not in HATCHING:
                continue
            left, right = (one.edge(self.line.times_s, k) for k in (first, end))
            lightness = float(np.mean(band.colours.lab[first:end, 0]))
            self._hatch(level, (left, right), floor, _ink_on(lightness))

    def _hatch(self, level: str, ends: tuple[float, float], floor: float, ink: str) -> None:
        from matplotlib.collections import LineCollection
        from matplotlib.patches import Rectangle

        distance, crossed = HATCHING[level]
        left, right = ends
        axes, top = self.sheet.axes, floor + SHORE
        starts = np.arange(left - SHORE, right, distance)
        rising = [[(x, floor), (x + SHORE, top)] for x in starts]
        falling = [[(x + SHORE, floor), (x, top)] for x in starts] if crossed else []
        hatched = LineCollection([*rising, *falling], colors=ink, linewidths=0.8, zorder=2)
        axes.add_collection(hatched, autolim=False)
        reach = Rectangle((left, floor), right - left, SHORE, transform=axes.transData)
        hatched.set_clip_path(reach)
        outline = [left, left, right, right], [floor, top, top, floor]
        axes.plot(*outline, color=ink, linewidth=0.8, zorder=2)
        for mark in (words.level_mark(level), wording.MARKS[level]):
            if self.sheet.measure(mark, SMALL, bold=True) < right - left:
                middle = (left + right) / 2
                self.sheet.text(middle, top + 0.16, mark, SMALL, ink=ink, align="center", bold=True)
                break

    def _names(self, one: Stretch, colours: SeenColour, waterline: float) -> None:
        """The names of the colours, written into the water where there is room."""
        for name, first, end in self._runs(one, [str(name) for name in colours.name]):
            left, right = (one.edge(self.line.times_s, k) for k in (first, end))
            if self.sheet.measure(name, SMALL) > right - left - APART:
                continue
            ink = _ink_on(float(np.mean(colours.lab[first:end, 0])))
            middle = (left + right) / 2
            self.sheet.text(middle, waterline - 0.06, name, SMALL, ink=ink, align="center")

    def _runs(self, one: Stretch, items: Sequence[str]) -> Iterator[tuple[str, int, int]]:
        """Runs of equal items in a stretch as (item, first place, place after the last)."""
        own = one.places(self.line.times_s)
        first = int(own[0])
        for item, run in groupby(items[first : int(own[-1]) + 1]):
            end = first + len(list(run))
            yield item, first, end
            first = end

    def times(self, plan: Plan, y: float) -> float:
        """Times since each pour along the lower edge; returns y below the labels."""
        several = len(self.stretches) > 1
        for one, times in zip(self.stretches, self.ticks, strict=True):
            self.sheet.rule(one.left, y, one.right, y)
            for time in times:
                text = clock(self.line.since_pour(time))
                self._label(one, time, text, y, -0.05, y - 0.06, bold=False)
            if several:
                self._pour_label(one, plan, y - 0.2)
        return y - (0.4 if several else 0.24)

    def _pour_label(self, one: Stretch, plan: Plan, y: float) -> None:
        """Which pour a stretch begins with, as fully as there is room."""
        values: dict[str, Value] = {
            "number": one.number + 1,
            "grams": words.pours_shown(self.line, plan)[one.number],
        }
        for code in ("pour-grams", "pour-number"):
            text = say(f"time.sheet.{code}", values)
            if self.sheet.measure(text, SMALL, bold=True) <= one.right - one.left:
                self.sheet.text(one.left, y, text, SMALL, bold=True)
                break


def _ink_on(lightness: float) -> str:
    return INK if lightness >= LIGHT_ENOUGH else GROUND


def _note(line: Timeline, plan: Plan) -> str:
    marks = say("plan.comma").join(
        f"{mark} {wording.level(level)}" for level, mark in wording.MARKS.items() if mark
    )
    values: dict[str, Value] = {"light": light_label(plan.light), "marks": marks}
    several = [say("time.sheet.note-several")] if len(line.pours) > 1 else []
    hatched = [] if line.bathers == "nobody" else [say("time.sheet.note-hatched", values)]
    return " ".join([say("time.sheet.note", values), *several, *hatched])


def _text(sheet: Sheet, line: Timeline, plan: Plan, top: float) -> float:
    """The same sentences as on the terminal."""
    forbidden = levels.forbidden(line, plan)
    acid = "time.heading.acid" if line.acid else "time.heading.alkaline"
    groups = (
        ("time.heading.see", words.turning(line)),
        (acid, words.near_the_pour(line, forbidden=forbidden)),
        ("time.heading.wait", [] if forbidden else words.waiting(line)),
        ("time.heading.soak", words.soaking(line)),
        ("plan.heading.notes", [sentence(note) for note in (*line.warnings, *plan.warnings)]),
    )
    y = top
    for heading, texts in groups:
        if not texts:
            continue
        y = sheet.text(LEFT, y - 0.06, say(heading), HEADING, bold=True)
        for text in texts:
            y = sheet.text(LEFT, y - 0.02, text, BODY, width=RIGHT - LEFT)
    return draw_cautions(sheet, levels.all_cautions(line, plan), LEFT, RIGHT, y - 0.06)


def draw_cautions(
    sheet: Sheet,
    cautions: Sequence[Caution],
    left: float,
    right: float,
    top: float,
    sizes: tuple[float, float] = (HEADING, BODY),
) -> float:
    """Every caution with its mark before its words; returns y below them [in]."""
    y = sheet.text(left, top, say("plan.heading.cautions"), sizes[0], bold=True)
    for one in cautions:
        values: dict[str, Value] = {"level": wording.level(one.level), "text": one.message}
        mark, begin = wording.MARKS[one.level], left + MARK_ROOM
        sheet.text(left + 0.08, y - 0.02, mark, sizes[1], bold=True, align="center")
        text = say("figure.caution", values)
        y = sheet.text(begin, y - 0.02, text, sizes[1], width=right - begin)
    return y
