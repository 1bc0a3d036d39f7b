"""A moving picture of a timeline: the tub, where it is poured at the left, the rest at the right.

Every frame carries the verdict, and the last one all cautions.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from dosing.pictures.poster import LIGHT_ENOUGH, Poster
from dosing.pictures.vessel import draw_vessel, vessel_height
from dosing.soak.records import Course
from dosing.words import course as words
from indicator.files import whole_file
from indicator.notes import Value, say
from indicator.sheet import ENAMEL, FAINT, GROUND, INK

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from PIL.Image import Image

KINDS = {".gif": "GIF", ".apng": "PNG"}
FRAMES_S = (
    0, 1, 2, 3, 4, 5, 7, 10, 13, 16, 20, 25, 30, 36, 42, 50, 60, 120, 180, 300, 600, 1200, 1800,
    2700, 3600, 7200, 14400, 36000,
)  # fmt: skip
"""Times after the last pour that have a frame [s]."""
EARLIER_S = (0, 2, 5, 10, 16, 25, 30, 42, 60, 120)
"""The same after every pour before it."""
WIDTH, DPI = 6.0, 120
MARGIN = 0.35
TITLE, LARGE, BODY, SMALL = 17.0, 14.0, 11.0, 9.6
"""Sizes of type [points]."""
FRAME_MS, LONG_MS, CAUTIONS_MS = 420, 3000, 12_000
"""How long a frame stands; the first, the sourest and the last of the water; the cautions [ms]."""
GREYS, MOST_COLOURS = 32, 256
"""From ink to paper, and all that a palette holds."""


def write_moving(line: Course, path: Path) -> None:
    """Write the tub as a moving picture.

    Parameters
    ----------
    line : Course
        What is followed.
    path : Path
        Ending in .gif or .apng.

    Raises
    ------
    ValueError
        If the ending is another one.
    OSError
        If the folder cannot be written to.
    """
    kind = KINDS.get(path.suffix.lower())
    if kind is None:
        raise ValueError(f"picture is {str(path)!r}; accepted endings are .gif and .apng")
    times = frame_times(line)
    palette = _palette(line, times)
    first, *rest = (_image(figure, palette) for figure in draw_frames(line, times))
    worst = line.lowest_local.at_s
    long = [time in (times[0], worst, times[-1]) for time in times]
    lasting = [LONG_MS if stays else FRAME_MS for stays in long]
    with whole_file(path) as draft:
        first.save(
            draft,
            format=kind,
            save_all=True,
            append_images=rest,
            duration=[*lasting, CAUTIONS_MS],
            loop=0,
            optimize=True,
        )


def frame_times(line: Course) -> list[float]:
    """Moments that have a frame, the sourest and the last among them [s since the first pour]."""
    end, last = float(line.times_s[-1]), line.last_pour_s
    wanted = {line.lowest_local.at_s, end}
    wanted |= {last + after for after in FRAMES_S if last + after <= end}
    for pour, following in zip(line.pours, line.pours[1:], strict=False):
        times = (pour.at_s + after for after in EARLIER_S)
        wanted |= {time for time in times if time < following.at_s}
    return sorted(wanted)


def draw_frames(line: Course, times: Sequence[float]) -> list[Figure]:
    """A frame for every moment, and one for the cautions, all of one size.

    Parameters
    ----------
    line : Course
        What is followed.
    times : sequence of float
        Moments, as in `frame_times` [s].

    Returns
    -------
    list of Figure
        One for each time, and one for the cautions.
    """
    frames = _Frames(line)
    sheets = [frames.water(time) for time in times]
    sheets.append(frames.cautions())
    bottom = min(end for _, end in sheets) - 0.2
    return [sheet.finished(bottom) for sheet, _ in sheets]


def _palette(line: Course, times: Sequence[float]) -> Image:
    """One palette for all frames, so that the file stays small: every water, and ink on paper."""
    from matplotlib.colors import to_rgb
    from PIL import Image

    places = np.searchsorted(line.times_s, times)
    waters = dict.fromkeys(
        str(colours.hex[place])
        for place in places
        for colours in (line.colours_local, line.colours)
    )
    ink, paper = np.array(to_rgb(INK)), np.array(to_rgb(GROUND))
    greys = ink + (paper - ink) * np.linspace(0.0, 1.0, GREYS)[:, None]
    fixed = [*greys, np.array(to_rgb(ENAMEL))]
    colours = [*fixed, *(np.array(to_rgb(water)) for water in waters)][:MOST_COLOURS]
    flat = np.round(255.0 * np.array(colours)).astype(np.uint8).ravel().tolist()
    image = Image.new("P", (1, 1))
    # What is not used repeats the last colour.
    image.putpalette(flat + flat[-3:] * (MOST_COLOURS - len(colours)))
    return image


def _image(figure: Figure, palette: Image) -> Image:
    """A frame as pixels."""
    from PIL import Image

    figure.set_dpi(DPI)
    canvas: Any = figure.canvas
    canvas.draw()
    pixels = np.asarray(canvas.buffer_rgba())[..., :3]
    return Image.fromarray(pixels).quantize(palette=palette, dither=Image.Dither.NONE)


class _Frames:
    """The frames of one pour."""

    def __init__(self, course: Course) -> None:
        self.course = course

    def water(self, time: float) -> tuple[Poster, float]:
        """One moment of the tub; returns where it ends [in]."""
        vessel, sheet = self.course.vessel, Poster(WIDTH, MARGIN)
        y = self._top(sheet)
        y = sheet.text(MARGIN, y - 0.08, self._clock(time), LARGE, bold=True)
        place = int(np.searchsorted(self.course.times_s, time))
        wide = 4.2 if vessel == "tub" else 2.2
        floor = y - 0.14 - vessel_height(vessel, wide)
        self._vessel(sheet, place, floor, wide)
        columns = [self._column(sheet, near, place, floor) for near in (True, False)]
        # Room for two lines of a name and one of a level, so that no frame is higher.
        below = min(*columns, floor - 1.25)
        return sheet, sheet.text(MARGIN, below - 0.08, self._status(time), BODY)

    def cautions(self) -> tuple[Poster, float]:
        """Draw what is to be minded; returns where it ends [in]."""
        sheet = Poster(WIDTH, MARGIN)
        y = self._top(sheet)
        return sheet, sheet.cautions(self.course.cautions, y - 0.12, (BODY, SMALL))

    def _top(self, sheet: Poster) -> float:
        """Title, and what may not be done."""
        top, closed = -0.22, self.course.not_for_bathing
        y = sheet.title(self.course.title, TITLE, top, not_for_bathing=closed)
        heads, reasons, _ = words.verdict(self.course)
        if self.course.forbidden:
            told = (heads, reasons, None)
            return sheet.verdict(told, y - 0.08, (LARGE, SMALL))
        texts = (words.how(self.course), *heads)
        y = min(y, top - 0.4) if closed else y
        return sheet.paragraphs(texts, y, SMALL, gap=0.0, ink=FAINT)

    def _clock(self, time: float) -> str:
        if self.course.since_pour(time) > 0:
            return words.moment(self.course, time)
        heading = words.pour_heading(self.course, self.course.pour_at(time) + 1)
        return say("time.sheet.begins") if heading is None else heading

    def _vessel(self, sheet: Poster, place: int, floor: float, wide: float) -> None:
        both = (self.course.colours_local, self.course.colours)
        near, rest = (str(colours.hex[place]) for colours in both)
        dark = min(float(colours.lab[place, 0]) for colours in both)
        halo = GROUND if dark < LIGHT_ENOUGH else None
        vessel, middle = self.course.vessel, WIDTH / 2
        draw_vessel(sheet.axes, vessel, near, middle, floor, wide, after=rest, halo=halo)

    def _column(self, sheet: Poster, near: bool, place: int, floor: float) -> float:
        """What stands below one half of the tub; returns y below it."""
        course = self.course
        label, x, ph, colours, levels = (
            ("pour", WIDTH / 4, course.ph_local, course.colours_local, course.level_local)
            if near
            else ("tub", 3 * WIDTH / 4, course.ph, course.colours, course.level)
        )
        values: dict[str, Value] = {"ph": float(ph[place])}
        y = sheet.text(x, floor - 0.1, say(f"time.sheet.{label}"), SMALL, align="center")
        y = sheet.text(x, y, say("figure.ph", values), TITLE, align="center")
        y = sheet.text(x, y, str(colours.name[place]), SMALL, align="center", width=2.6)
        mark = words.level_mark(levels[place])
        return sheet.text(x, y, mark, BODY, align="center", bold=True) if mark else y

    def _status(self, time: float) -> str:
        """Whether anyone may get in yet; a forbidden pour has its verdict above."""
        if self.course.forbidden or self.course.bathers == "nobody":
            return ""
        wait = self.course.wait_s
        return say("time.sheet.not-yet" if wait is None or time < wait else "time.sheet.mixed")
