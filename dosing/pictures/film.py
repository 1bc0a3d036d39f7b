"""The film of a pour: it winds through the tub as fast as the mixing is computed.

The two waters of every moment are those of the zone where it is poured and of the rest of the tub,
and the swirl has that zone's share of the picture. It is carried by a stream that turns over once
in the time constant of the mixing. A thin tide mark keeps the tub's colours from the pour on.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from dosing.pictures.paper import ENAMEL, GROUND, INK, SIDE, Paper, basin
from dosing.pictures.shop import TUB, Shown, draw_foam, notice
from dosing.soak.records import Course
from dosing.soak.ways import BEST, courses_in
from dosing.soak.zones import Courses
from indicator.files import whole_file
from indicator.notes import say

if TYPE_CHECKING:
    from PIL.Image import Image

Array = NDArray[np.float64]

SMALL = 480
"""Side of a film that is light to send [px]."""
FRAME_MS, HOLD_MS, LAST_MS = 110, 900, 1800
"""How long a frame stands; the first; the last [ms]."""
MIXING_FRAMES, LATER_FRAMES, FADE_FRAMES = 48, 10, 4
BOX = (59.0, 216.0, 1021.0, 1021.0)
TIDE = (59.0, 140.0, 1021.0, 152.0)
"""Where the water and the tide mark stand in a film of `SIDE` [px]."""
GRID = 160
"""Points along a side at which the swirl is worked out."""
POUR_X, POUR_Y = 0.2, 0.04
"""Where it is poured, in the water's width and height."""
STREAM = ((1, 1, 0.6, 0.0), (2, 2, -0.6, 0.8), (3, 4, 0.55, 1.7), (6, 5, -0.3, 3.1))
"""Eddies across and down, their strength, and how fast they come and go."""
SUBSTEPS = 3
GREYS, TIDES = 24, 30
"""Of a palette: from ink to paper, and along the tide mark."""


def write_film(shown: Shown, course: Course, volume_l: float, path: Path, side: int = SIDE) -> None:
    """Write the pour as a film that begins again when it ends.

    Parameters
    ----------
    shown : Shown
        What its shop picture shows: the first water, the foam, and what stands against it.
    course : Course
        Colours of both zones along the time.
    volume_l : float
        Water in the tub [L].
    path : Path
        Ending in .gif or .webp.
    side : int
        Width and height [px]; `SMALL` for one that is light to send.

    Raises
    ------
    ValueError
        If the ending is another one.
    OSError
        If the folder cannot be written to.
    """
    if path.suffix.lower() not in (".gif", ".webp"):
        raise ValueError(say("picture.film-ending", {"file": repr(str(path))}))
    film = Film(shown, course, volume_l, side)
    images = film.images()
    lasting = [HOLD_MS, *[FRAME_MS] * (len(images) - FADE_FRAMES - 2), LAST_MS]
    lasting += [FRAME_MS] * FADE_FRAMES
    how: dict[str, Any] = {"quality": 82, "method": 4}
    if path.suffix.lower() == ".gif":
        tide = film.colours[0]
        tide = tide[:: max(len(tide) // TIDES, 1)]
        images = [_few_colours(image, tide) for image in images]
        how = {"optimize": False}
    with whole_file(path) as draft:
        images[0].save(
            draft, save_all=True, append_images=images[1:], duration=lasting, loop=0, **how
        )


CLOCK_SHARE = 0.148
"""Share of a frame's height that the minutes and the tide mark take."""


@dataclass(frozen=True)
class Film:
    """Frames of a pour, as `write_film` takes them."""

    shown: Shown
    course: Course
    volume_l: float
    side: int

    def images(self) -> list[Image]:
        """All frames: before, the pours, what follows, and the way back to the first."""
        from PIL import Image

        frames = [self.frame(None, np.zeros(()))]
        frames += [self.frame(time, swirl) for time, swirl in self.swirls()]
        back = np.linspace(0.0, 1.0, FADE_FRAMES + 2)[1:-1]
        faded = [Image.blend(frames[-1], frames[0], share) for share in back]
        # Two clocks on top of each other cannot be read.
        clock = frames[0].crop((0, 0, self.side, round(CLOCK_SHARE * self.side)))
        for image in faded:
            image.paste(clock)
        return [*frames, *faded]

    def swirls(self) -> Iterator[tuple[float, Array]]:
        """Every moment, and how much of the pour's water is where, shape (`GRID`, `GRID`)."""
        swirl, before = np.zeros((GRID, GRID)), 0.0
        for time in self.times():
            since = self.course.since_pour(time)
            source = poured_blob(self.zone_share) * (since < self.mixing.pour_s[BEST])
            turned = min((time - before) / self.constant_s, 4.0)
            swirl = carried(swirl, source, since / self.constant_s, turned)
            # The zone keeps its share of the tub, however far it is drawn out.
            swirl = np.minimum(swirl * self.zone_share / np.mean(swirl), 1.0)
            before = time
            yield time, swirl

    @cached_property
    def colours(self) -> list[Array]:
        """Colours of the tub and of the pour along the course, each of shape (times, 3)."""
        both = (self.course.colours, self.course.colours_local)
        return [np.array([_rgb(str(colour)) for colour in seen.hex]) for seen in both]

    @cached_property
    def mixing(self) -> Courses:
        """Zones and mixing of the pour, as is thought likely at `BEST`."""
        return courses_in(self.volume_l, self.course.manner)

    @property
    def zone_share(self) -> float:
        """Share of the tub that a pour first spreads through."""
        return float(self.mixing.zone_l[BEST]) / self.volume_l

    @property
    def constant_s(self) -> float:
        """Time in which the difference of the zones falls to 1/e [s]."""
        return float(self.mixing.constant_s[BEST])

    def times(self) -> list[float]:
        """Moments that have a frame [s since the first pour]."""
        starts = [pour.at_s for pour in self.course.pours]
        end = float(self.course.times_s[-1])
        times: list[float] = []
        for start, following in zip(starts, [*starts[1:], end], strict=True):
            mixed = min(start + float(self.mixing.mixed_s[BEST]), following)
            count = MIXING_FRAMES if start == starts[-1] else MIXING_FRAMES // 2
            times += [start + (mixed - start) * (k / count) ** 1.4 for k in range(1, count + 1)]
        later = np.geomspace(max(times[-1] - starts[-1], 1.0), end - starts[-1], LATER_FRAMES)
        return [*times, *(starts[-1] + later[1:])]

    def frame(self, time: float | None, swirl: Array) -> Image:
        """One moment of the film.

        Parameters
        ----------
        time : float or None
            After the first pour [s]; None before it.
        swirl : numpy.ndarray
            Share of the water from where it was poured, 0 to 1, shape (grid, grid).

        Returns
        -------
        PIL.Image.Image
        """
        from PIL import Image

        rest = near = _rgb(self.shown.waters[0][1])
        if time is not None:
            rest, near = (_at(time, self.course.times_s, colours) for colours in self.colours)
        # Light adds up linearly, sRGB values do not.
        water = (rest**2.2 + (near**2.2 - rest**2.2) * swirl[..., None]) ** (1 / 2.2)
        water = np.broadcast_to(water, (GRID, GRID, 3))
        scale = self.side / SIDE
        left, top, right, bottom = (round(scale * end) for end in BOX)
        grid = Image.fromarray(np.round(255 * water).astype(np.uint8))
        image = self.paper.copy()
        filled = image.copy()
        filled.paste(
            grid.resize((right - left, bottom - top), Image.Resampling.BICUBIC), (left, top)
        )
        image.paste(filled, mask=self.mask)
        self._tide(image, time)
        image.paste(self.front, mask=self.front)
        self._clock(image, time)
        return image

    def _tide(self, image: Image, time: float | None) -> None:
        """The tub's colours so far, by the frames that have been."""
        from PIL import Image

        if time is None:
            return
        times = np.array(self.times())
        so_far = times[times <= time]
        row = np.array([[_at(moment, self.course.times_s, self.colours[0]) for moment in so_far]])
        left, top, right, bottom = (self.side / SIDE * end for end in TIDE)
        wide = max(round((right - left) * len(so_far) / len(times)), 1)
        strip = Image.fromarray(np.round(255 * row).astype(np.uint8))
        image.paste(strip.resize((wide, max(round(bottom - top), 3))), (round(left), round(top)))

    def _clock(self, image: Image, time: float | None) -> None:
        from matplotlib import get_data_path
        from PIL import ImageDraw, ImageFont

        minutes, seconds = divmod(round(time or 0.0), 60)
        text = say("picture.clock", {"minutes": minutes, "seconds": f"{seconds:02d}"})
        file = Path(get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"
        font = ImageFont.truetype(str(file), round(self.side * 60 / SIDE))
        at = (self.side * BOX[0] / SIDE, self.side * 112 / SIDE)
        ImageDraw.Draw(image).text(at, text, fill=INK, font=font, anchor="ls")

    @cached_property
    def paper(self) -> Image:
        """Background: everything behind the water."""
        paper = Paper()
        paper.vessel([GROUND], BOX, TUB, 15.0)
        told = " · ".join(filter(None, (self.shown.why_not, notice(self.shown))))
        paper.text(BOX[2], 108, told, 34, room=640, align="right", weight="bold")
        return self._drawn(paper).convert("RGB")

    @cached_property
    def front(self) -> Image:
        """Foreground: what lies before it: waterline, edge and foam, the rest clear."""
        paper = Paper()
        paper.figure.set_facecolor("none")
        left, top, right, _ = BOX
        paper.area(basin(BOX, TUB.corner), facecolor="none", edgecolor=INK, lw=1.44)
        paper.rule(left, top, right, top, 4.0)
        paper.rule(TIDE[0], TIDE[1], TIDE[2], TIDE[1])
        if self.shown.foam:
            draw_foam(paper, left, right, top)
        return self._drawn(paper)

    @cached_property
    def mask(self) -> Image:
        """Where there is water."""
        paper = Paper()
        paper.figure.set_facecolor("none")
        paper.area(basin(BOX, TUB.corner), facecolor=INK)
        return self._drawn(paper).getchannel("A")

    def _drawn(self, paper: Paper) -> Image:
        from PIL import Image

        canvas: Any = paper.figure.canvas
        canvas.draw()
        drawn = Image.fromarray(np.asarray(canvas.buffer_rgba()).copy())
        return drawn.resize((self.side, self.side), Image.Resampling.LANCZOS)


def poured_blob(share: float) -> Array:
    """The water that a pour first spreads through: a share of the picture, shape (grid, grid)."""
    y, x = _grid()
    away = np.hypot(x - POUR_X, 0.8 * (y - POUR_Y))
    edge = float(np.quantile(away, share))
    return np.asarray(np.clip((1.25 * edge - away) / (0.5 * edge), 0.0, 1.0))


def carried(swirl: Array, source: Array, stirred: float, turned: float) -> Array:
    """A swirl carried on by a stream that turns between the walls and keeps changing.

    Parameters
    ----------
    swirl : numpy.ndarray
        Where how much of it is, shape (`GRID`, `GRID`), 0 to 1.
    source : numpy.ndarray
        What still runs in, in the same shape.
    stirred : float
        Time since the pour, in time constants of the mixing.
    turned : float
        How much of it has passed since the last frame, in the same.

    Returns
    -------
    numpy.ndarray
        The same a moment later.
    """
    from scipy.ndimage import gaussian_filter, map_coordinates

    y, x = _grid()
    step = turned / SUBSTEPS
    for part in range(SUBSTEPS):
        across, down = np.zeros_like(x), np.zeros_like(y)
        for wide, tall, strength, pace in STREAM:
            now = strength * np.cos(pace * (stirred + part * step))
            kx, ky = np.pi * wide, np.pi * tall
            across += now * tall * np.sin(kx * x) * np.cos(ky * y)
            down -= now * wide * np.cos(kx * x) * np.sin(ky * y)
        whence = np.stack([y - step * down, x - step * across]) * (GRID - 1)
        moved = map_coordinates(np.maximum(swirl, source), whence, order=1, mode="nearest")
        swirl = np.asarray(moved)
    return np.asarray(gaussian_filter(swirl, 1.2 * turned**0.5, mode="nearest"))


def _grid() -> Array:
    """Height below the waterline and distance from the left, each of shape (grid, grid), 0 to 1."""
    return np.asarray(np.mgrid[0.0 : 1.0 : GRID * 1j, 0.0 : 1.0 : GRID * 1j])


def _at(time: float, times_s: Array, colours: Array) -> Array:
    """The colour of a moment, between those of the course."""
    return np.array([np.interp(time, times_s, level) for level in colours.T])


def _rgb(colour: str) -> Array:
    from matplotlib.colors import to_rgb

    return np.array(to_rgb(colour))


def _few_colours(image: Image, tide: Array) -> Image:
    """A frame in 256 colours: those of the paper and of the tide mark, and the water's own."""
    from PIL import Image

    side = image.width
    paper = np.vstack([np.linspace(_rgb(INK), _rgb(GROUND), GREYS), _rgb(ENAMEL), tide])
    # Away from the foam and the rounded corners.
    water = image.crop((side // 12, side // 4, 11 * side // 12, 3 * side // 4))
    own = water.resize((GRID, GRID)).quantize(256 - len(paper)).getpalette() or []
    palette = Image.new("P", (1, 1))
    palette.putpalette([*np.round(255 * paper).astype(int).ravel().tolist(), *own][: 3 * 256])
    return image.quantize(palette=palette, dither=Image.Dither.NONE)
