"""A moving picture of a timeline: the tub, where it is poured at the left, the rest at the right.

Every frame carries the verdict, and the last one all cautions.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from dosing.pictures.poster import LIGHT_ENOUGH, Poster
from dosing.plan.cautions import LEVELS
from dosing.plan.records import Plan
from dosing.soak import levels
from dosing.soak.levels import Levels, in_tub, near_pour
from dosing.soak.records import Timeline
from dosing.words import course as words
from indicator.appearance import SeenColour
from indicator.files import whole_file
from indicator.notes import Value, say
from indicator.sheet import ENAMEL, FAINT, GROUND, INK
from indicator.swatch import draw_vessel, vessel_height

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


def write_moving(line: Timeline, plan: Plan, path: Path) -> None:
    """Write the tub as a moving picture.

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
    kind = KINDS.get(path.suffix.lower())
    if kind is None:
        raise ValueError(f"picture is {str(path)!r}; accepted endings are .gif and .apng")
    times = frame_times(line)
    palette = _palette(line, times)
    first, *rest = (_image(figure, palette) for figure in draw_frames(line, plan, times))
    worst = line.lowest_local.at_s
    long = [time in (times[0], worst, times[-1]) for time in times]
    lasting = [LONG_MS if one else FRAME_MS for one in long]
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


def frame_times(line: Timeline) -> list[float]:
    """Moments that have a frame, the sourest and the last among them [s since the first pour]."""
    end, last = float(line.times_s[-1]), line.last_pour_s
    wanted = {line.lowest_local.at_s, end}
    wanted |= {last + after for after in FRAMES_S if last + after <= end}
    for pour, following in zip(line.pours, line.pours[1:], strict=False):
        times = (pour.at_s + after for after in EARLIER_S)
        wanted |= {time for time in times if time < following.at_s}
    return sorted(wanted)


def draw_frames(line: Timeline, plan: Plan, times: Sequence[float]) -> list[Figure]:
    """A frame for every moment, and one for the cautions, all of one size.

    Parameters
    ----------
    line : Timeline
        What is followed.
    plan : Plan
        Whose dose it is.
    times : sequence of float
        Moments, as in `frame_times` [s].

    Returns
    -------
    list of Figure
        One for each time, and one for the cautions.
    """
    frames = _Frames(line, plan)
    sheets = [frames.water(time) for time in times]
    sheets.append(frames.cautions())
    bottom = min(end for _, end in sheets) - 0.2
    return [sheet.finished(bottom) for sheet, _ in sheets]


def _palette(line: Timeline, times: Sequence[float]) -> Image:
    """One palette for all frames, so that the file stays small: every water, and ink on paper."""
    from matplotlib.colors import to_rgb
    from PIL import Image

    places = np.searchsorted(line.times_s, times)
    waters = dict.fromkeys(
        str(one.hex[place]) for place in places for one in (line.colours_local, line.colours)
    )
    ink, paper = np.array(to_rgb(INK)), np.array(to_rgb(GROUND))
    greys = ink + (paper - ink) * np.linspace(0.0, 1.0, GREYS)[:, None]
    fixed = [*greys, np.array(to_rgb(ENAMEL))]
    colours = [*fixed, *(np.array(to_rgb(one)) for one in waters)][:MOST_COLOURS]
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

    def __init__(self, line: Timeline, plan: Plan) -> None:
        self.line, self.plan = line, plan
        self.levels = in_tub(line, plan)
        self.levels_local = near_pour(line, plan)
        self.forbidden = levels.forbidden(line, plan)

    def water(self, time: float) -> tuple[Poster, float]:
        """One moment of the tub; returns where it ends [in]."""
        line, sheet = self.line, Poster(WIDTH, MARGIN)
        y = self._top(sheet)
        y = sheet.text(MARGIN, y - 0.08, self._clock(time), LARGE, bold=True)
        place = int(np.searchsorted(line.times_s, time))
        wide = 4.2 if line.vessel == "tub" else 2.2
        floor = y - 0.14 - vessel_height(line.vessel, wide)
        self._vessel(sheet, place, floor, wide)
        near = self._column(
            sheet, "pour", place, floor, line.ph_local, line.colours_local, self.levels_local
        )
        rest = self._column(sheet, "tub", place, floor, line.ph, line.colours, self.levels)
        # Room for two lines of a name and one of a level, so that no frame is higher.
        below = min(near, rest, floor - 1.25)
        return sheet, sheet.text(MARGIN, below - 0.08, self._status(time), BODY)

    def cautions(self) -> tuple[Poster, float]:
        """Draw what is to be minded; returns where it ends [in]."""
        sheet = Poster(WIDTH, MARGIN)
        y = self._top(sheet)
        cautions = levels.all_cautions(self.line, self.plan)
        return sheet, sheet.cautions(cautions, y - 0.12, (BODY, SMALL))

    def _top(self, sheet: Poster) -> float:
        """Title, and what may not be done."""
        top, closed = -0.22, self.plan.not_for_bathing
        y = sheet.title(self.line.title, TITLE, top, not_for_bathing=closed)
        heads, reasons, _ = words.verdict(self.line, self.plan)
        if self.forbidden:
            told = (heads, reasons, None)
            return sheet.verdict(told, y - 0.08, (LARGE, SMALL))
        texts = (words.how(self.line, self.plan), *heads)
        y = min(y, top - 0.4) if closed else y
        return sheet.paragraphs(texts, y, SMALL, gap=0.0, ink=FAINT)

    def _clock(self, time: float) -> str:
        if self.line.since_pour(time) > 0:
            return words.moment(self.line, time)
        number = self.line.pour_at(time) + 1
        heading = words.pour_heading(self.line, self.plan, number)
        return say("time.sheet.begins") if heading is None else heading

    def _vessel(self, sheet: Poster, place: int, floor: float, wide: float) -> None:
        line, middle = self.line, WIDTH / 2
        near, rest = (str(colours.hex[place]) for colours in (line.colours_local, line.colours))
        dark = float(
            np.min([colours.lab[place, 0] for colours in (line.colours_local, line.colours)])
        )
        halo = GROUND if dark < LIGHT_ENOUGH else None
        draw_vessel(sheet.axes, line.vessel, near, middle, floor, wide, after=rest, halo=halo)

    def _column(
        self,
        sheet: Poster,
        label: str,
        place: int,
        floor: float,
        ph: np.ndarray[Any, Any],
        colours: SeenColour,
        levels: Levels,
    ) -> float:
        """What stands below one half of the tub; returns y below it."""
        x = WIDTH / 4 if label == "pour" else 3 * WIDTH / 4
        values: dict[str, Value] = {"ph": float(ph[place])}
        y = sheet.text(x, floor - 0.1, say(f"time.sheet.{label}"), SMALL, align="center")
        y = sheet.text(x, y, say("figure.ph", values), TITLE, align="center")
        y = sheet.text(x, y, str(colours.name[place]), SMALL, align="center", width=2.6)
        mark = words.level_mark(LEVELS[int(levels[place])])
        return sheet.text(x, y, mark, BODY, align="center", bold=True) if mark else y

    def _status(self, time: float) -> str:
        """Whether anyone may get in yet; a forbidden pour has its verdict above."""
        if self.forbidden or self.line.bathers == "nobody":
            return ""
        wait = self.line.wait_s
        return say("time.sheet.not-yet" if wait is None or time < wait else "time.sheet.mixed")
