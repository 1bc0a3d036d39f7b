"""Pictures of a timeline: a strip of water along the time, and a moving picture of the tub."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing import wording
from dosing.cautions import LEVELS, Caution, gate_level
from dosing.records import Plan
from dosing.tide_mark import HATCHING, LIGHT_ENOUGH
from dosing.timeline import wording as words
from dosing.timeline.course import span
from dosing.timeline.records import Timeline
from indicator.appearance import SeenColour, light_label
from indicator.files import whole_file
from indicator.notes import Value, say, sentence
from indicator.sheet import FAINT, GROUND, INK, Sheet
from indicator.swatch import draw_vessel, vessel_height

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from PIL.Image import Image

Array = NDArray[np.float64]

WIDTH = 7.0
LEFT, RIGHT = 0.55, WIDTH - 0.55
TITLE, HEADING, BODY, SMALL = 19.0, 10.0, 8.2, 7.4
"""Sizes of type [points]."""
BAND = 0.62
"""Height of a band of water [in]."""
SHORE = 0.24
"""Height of the hatched part at its lower edge [in]."""
COLUMNS = 700
BEND_S = 8.0
"""The axis is straight up to here, and then by tenfolds [s]."""
TICKS_S = (5, 15, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 18000, 36000)
APART = 0.1
"""Least space between two labels [in]."""
FRAMES_S = (
    0, 1, 2, 3, 4, 5, 7, 10, 13, 16, 20, 25, 30, 36, 42, 50, 60, 120, 180, 300, 600, 1200, 1800,
    2700, 3600, 7200, 14400, 36000,
)  # fmt: skip
FRAME_WIDTH = 3.5
FRAME_DPI = 110
FRAME_MS, LAST_MS = 420, 3000
"""How long a frame stands, and the first and the last [ms]."""
FRAME_COLOURS = 96


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
    scale = _Scale(float(line.times_s[-1]))
    y = _band(sheet, line, scale, y - 0.3, local=False)
    y = _band(sheet, line, scale, y - 0.18, local=True)
    y = _ticks(sheet, scale, y - 0.02)
    y = sheet.text(LEFT, y - 0.04, _note(line, plan), SMALL, width=RIGHT - LEFT, ink=FAINT)
    y = _text(sheet, line, plan, y - 0.2)
    return sheet.finished(y - 0.28)


class _Scale:
    """Where times lie on the sheet: straight at first, then the later, the closer."""

    def __init__(self, end_s: float) -> None:
        self.end_s = end_s

    def x(self, seconds: ArrayLike) -> Array:
        share = np.log1p(np.asarray(seconds) / BEND_S) / np.log1p(self.end_s / BEND_S)
        return np.asarray(LEFT + (RIGHT - LEFT) * share)

    def seconds(self, x: ArrayLike) -> Array:
        share = (np.asarray(x) - LEFT) / (RIGHT - LEFT)
        return np.asarray(BEND_S * np.expm1(share * np.log1p(self.end_s / BEND_S)))


def _headline(sheet: Sheet, line: Timeline, plan: Plan) -> float:
    top, room = -0.36, RIGHT - LEFT
    if plan.not_for_bathing:
        room -= 0.2 + sheet.boxed(say("plan.not-for-bathing"), RIGHT, top - 0.06)
    y = sheet.text(LEFT, top, say("time.sheet.title", {"title": line.title}), TITLE, width=room)
    text = f"{words.how(line)}. {words.tub(plan)}"
    return sheet.text(LEFT, y - 0.02, text, BODY, width=RIGHT - LEFT, ink=FAINT)


def _band(sheet: Sheet, line: Timeline, scale: _Scale, top: float, *, local: bool) -> float:
    """One water along the time, its pH on the waterline, its names in it; returns y below it."""
    from matplotlib.colors import to_rgb

    colours = line.colours_local if local else line.colours
    ph = line.ph_local if local else line.ph
    label = say("time.sheet.pour" if local else "time.sheet.tub")
    y = sheet.text(LEFT, top, label, HEADING, bold=True)
    waterline = y - 0.22
    floor = waterline - BAND
    rgb = np.array([to_rgb(str(one)) for one in colours.hex])
    middles = LEFT + (RIGHT - LEFT) * (np.arange(COLUMNS) + 0.5) / COLUMNS
    at = scale.seconds(middles)
    water = np.stack([np.interp(at, line.times_s, rgb[:, k]) for k in range(3)], axis=-1)
    sheet.axes.imshow(
        water[None],
        extent=(LEFT, RIGHT, floor, waterline),
        interpolation="nearest",
        aspect="auto",
        zorder=1,
    )
    sheet.rule(LEFT - 0.12, waterline, RIGHT + 0.12, waterline, 1.3)
    if local:
        _reaches(sheet, line, scale, floor)
    _names(sheet, line, colours, scale, waterline)
    _ph_along(sheet, line, ph, scale, waterline)
    return floor


def _ph_along(sheet: Sheet, line: Timeline, ph: Array, scale: _Scale, waterline: float) -> None:
    """The pH on the waterline, where there is a tick and room."""
    start = say("figure.ph", {"ph": float(ph[0])})
    y = waterline + 0.19
    sheet.text(LEFT, y, start, SMALL)
    taken = LEFT + sheet.measure(start, SMALL)
    for time in _shown_ticks(scale):
        x, text = float(scale.x(time)), f"{float(np.interp(time, line.times_s, ph)):.1f}"
        half = sheet.measure(text, SMALL) / 2
        if x - half < taken + APART or x + half > RIGHT + 0.12:
            continue
        sheet.rule(x, waterline, x, waterline + 0.05)
        sheet.text(x, y, text, SMALL, align="center", clear=True)
        taken = x + half


def _shown_ticks(scale: _Scale) -> list[float]:
    return [float(t) for t in TICKS_S if t < scale.end_s * 0.999] + [scale.end_s]


def _reaches(sheet: Sheet, line: Timeline, scale: _Scale, floor: float) -> None:
    """Hatch the times at which the water near the pour is beyond a gate."""
    levels = [LEVELS[int(k)] for k in gate_level(line.ph_local, line.bathers)]
    place = 0
    for level, run in groupby(levels):
        first = place
        place += len(list(run))
        if level not in HATCHING:
            continue
        ends = (_edge(line, scale, first), _edge(line, scale, place))
        lightness = float(np.mean(line.colours_local.lab[first:place, 0]))
        _hatch(sheet, level, ends, floor, INK if lightness >= LIGHT_ENOUGH else GROUND)


def _edge(line: Timeline, scale: _Scale, place: int) -> float:
    """Half way, on the sheet, between the time at a place and the one before."""
    if place == 0:
        return LEFT
    if place == len(line.times_s):
        return RIGHT
    return float(np.mean(scale.x(line.times_s[place - 1 : place + 1])))


def _hatch(sheet: Sheet, level: str, ends: tuple[float, float], floor: float, ink: str) -> None:
    from matplotlib.collections import LineCollection
    from matplotlib.patches import Rectangle

    distance, crossed = HATCHING[level]
    left, right = ends
    starts = np.arange(left - SHORE, right, distance)
    rising = [[(x, floor), (x + SHORE, floor + SHORE)] for x in starts]
    falling = [[(x + SHORE, floor), (x, floor + SHORE)] for x in starts] if crossed else []
    hatched = LineCollection([*rising, *falling], colors=ink, linewidths=0.8, zorder=2)
    sheet.axes.add_collection(hatched, autolim=False)
    hatched.set_clip_path(
        Rectangle((left, floor), right - left, SHORE, transform=sheet.axes.transData)
    )
    sheet.axes.plot([left, right], [floor + SHORE] * 2, color=ink, linewidth=0.8, zorder=2)
    mark = f"{wording.MARKS[level]} {wording.level(level)}"
    if sheet.measure(mark, SMALL, bold=True) < right - left - APART:
        y = floor + SHORE + 0.16
        sheet.text((left + right) / 2, y, mark, SMALL, ink=ink, align="center", bold=True)


def _names(
    sheet: Sheet, line: Timeline, colours: SeenColour, scale: _Scale, waterline: float
) -> None:
    """The names of the colours, written into the water where there is room."""
    place = 0
    for name, run in groupby(str(one) for one in colours.name):
        first = place
        place += len(list(run))
        left, right = _edge(line, scale, first), _edge(line, scale, place)
        if sheet.measure(name, SMALL) > right - left - APART:
            continue
        lightness = float(np.mean(colours.lab[first:place, 0]))
        ink = INK if lightness >= LIGHT_ENOUGH else GROUND
        sheet.text((left + right) / 2, waterline - 0.06, name, SMALL, ink=ink, align="center")


def _ticks(sheet: Sheet, scale: _Scale, y: float) -> float:
    """Times along the lower edge; returns y below the labels."""
    sheet.rule(LEFT, y, RIGHT, y)
    taken = LEFT - 1.0
    for time in [0.0, *_shown_ticks(scale)]:
        x, text = float(scale.x(time)), span(time)
        half = sheet.measure(text, SMALL) / 2
        sheet.rule(x, y, x, y - 0.05)
        begin = x if time == 0.0 else x - half
        if begin > taken + APART:
            sheet.text(x, y - 0.06, text, SMALL, align="left" if time == 0.0 else "center")
            taken = begin + 2 * half
    return y - 0.24


def _note(line: Timeline, plan: Plan) -> str:
    values: dict[str, Value] = {
        "light": light_label(plan.light),
        "marks": say("plan.comma").join(
            f"{mark} {wording.level(level)}" for level, mark in wording.MARKS.items() if mark
        ),
    }
    return say("time.sheet.note-nobody" if line.bathers == "nobody" else "time.sheet.note", values)


def _text(sheet: Sheet, line: Timeline, plan: Plan, top: float) -> float:
    """The same sentences as on the terminal."""
    forbidden = wording.forbidden(plan)
    heavy = [one for one in plan.cautions if one.level in ("justify", "stop")]
    acid = "time.heading.acid" if line.acid else "time.heading.alkaline"
    groups = (
        ("time.heading.see", words.turning(line)),
        (acid, words.near_the_pour(line, None)),
        ("time.heading.wait", words.waiting(line, forbidden=forbidden)),
        ("time.heading.soak", words.soaking(line)),
        ("plan.heading.cautions", [_caution_text(one) for one in (*heavy, *line.cautions)]),
        ("plan.heading.notes", [sentence(note) for note in line.warnings]),
    )
    y = top
    for heading, texts in groups:
        if not texts:
            continue
        y = sheet.text(LEFT, y - 0.06, say(heading), HEADING, bold=True)
        for text in texts:
            y = sheet.text(LEFT, y - 0.02, text, BODY, width=RIGHT - LEFT)
    return y


def _caution_text(one: Caution) -> str:
    values: dict[str, Value] = {
        "mark": wording.MARKS[one.level],
        "level": wording.level(one.level),
        "text": one.message,
    }
    return say("plan.caution", values).strip()


def write_moving(line: Timeline, plan: Plan, path: Path) -> None:
    """Write the tub as a moving picture, the pour's water at the left, the rest at the right.

    Parameters
    ----------
    line : Timeline
        What is followed.
    plan : Plan
        Whose dose it is.
    path : Path
        Ending in .gif or .apng.

    Raises
    ------
    ValueError
        If the ending is another one.
    OSError
        If the folder cannot be written to.
    """
    ending = path.suffix.lower()
    if ending not in (".gif", ".apng"):
        raise ValueError(f"picture is {str(path)!r}; accepted endings are .gif and .apng")
    times = [float(t) for t in FRAMES_S if t <= line.times_s[-1]]
    if times[-1] < line.times_s[-1]:
        times.append(float(line.times_s[-1]))
    frames = [_frame(line, plan, time) for time in times]
    lasting = [LAST_MS, *[FRAME_MS] * (len(frames) - 2), LAST_MS]
    first, rest = frames[0], frames[1:]
    kind = {".gif": "GIF", ".apng": "PNG"}[ending]
    with whole_file(path) as draft:
        first.save(
            draft,
            format=kind,
            save_all=True,
            append_images=rest,
            duration=lasting,
            loop=0,
            optimize=True,
        )


def _frame(line: Timeline, plan: Plan, time: float) -> Image:
    """One moment of the tub, in few colours so that the file stays small."""
    from PIL import Image

    sheet = Sheet(FRAME_WIDTH)
    place = int(np.argmin(np.abs(line.times_s - time)))
    middle, margin = FRAME_WIDTH / 2, 0.2
    y = sheet.text(margin, -0.12, line.title, 11.0, width=FRAME_WIDTH - 2 * margin)
    clock = say("time.sheet.clock", {"time": span(time)})
    y = sheet.text(margin, y - 0.02, clock, 9.0, bold=True)
    if plan.not_for_bathing:
        y = sheet.text(margin, y - 0.02, say("plan.not-for-bathing"), SMALL, bold=True)
    wide = 2.5 if line.vessel == "tub" else 1.5
    floor = y - 0.12 - vessel_height(line.vessel, wide)
    local, rest = str(line.colours_local.hex[place]), str(line.colours.hex[place])
    draw_vessel(sheet.axes, line.vessel, local, middle, floor, wide, after=rest)
    quarter = FRAME_WIDTH / 4
    for x, label, ph, name in (
        (quarter, "pour", line.ph_local[place], line.colours_local.name[place]),
        (3 * quarter, "tub", line.ph[place], line.colours.name[place]),
    ):
        below = sheet.text(x, floor - 0.08, say(f"time.sheet.{label}"), SMALL, align="center")
        below = sheet.text(x, below, say("figure.ph", {"ph": float(ph)}), 11.0, align="center")
        below = sheet.text(x, below, str(name), SMALL, align="center", width=1.5)
        if label == "pour":
            _level_word(sheet, line, x, below, place)
    # The same height for every frame: two lines of a name and one of a level.
    figure = sheet.finished(floor - 1.12)
    figure.set_dpi(FRAME_DPI)
    canvas: Any = figure.canvas
    canvas.draw()
    pixels = np.asarray(canvas.buffer_rgba())[..., :3]
    image = Image.fromarray(pixels)
    return image.quantize(FRAME_COLOURS, dither=Image.Dither.NONE)


def _level_word(sheet: Sheet, line: Timeline, x: float, y: float, place: int) -> None:
    """The caution level of the water near the pour, where one speaks."""
    level = LEVELS[int(gate_level(line.ph_local[place], line.bathers))]
    if level == "ok":
        return
    text = f"{wording.MARKS[level]} {wording.level(level)}"
    sheet.text(x, y, text, SMALL, align="center", bold=True)
