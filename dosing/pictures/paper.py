"""Paper that every picture is drawn on: its colours, its type, its vessel, and how it is saved.

Lengths are pixels from the top left corner, y growing downwards. The computed water is the only
strong colour on it; everything else is one ink on warm paper, so that a grey print says the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.path import Path as Outline

Array = NDArray[np.float64]
Box = tuple[float, float, float, float]
"""Left, top, right and bottom [px]."""

GROUND = "#FAF7F1"
"""Warm off-white paper."""
INK = "#23262B"
"""The one dark ink."""
FAINT = "#65625C"
"""The same ink, thinned, for remarks."""
ENAMEL = "#FFFFFF"
SHADE = "#E9E3D5"
"""Paper behind what may be, or does, as it should."""
ALIKE = 8.0
"""CIELAB lightness by which two waters differ that a grey print tells apart."""
FAMILY = "DejaVu Sans"
"""A humanist sans that comes with the drawing library (Bitstream Vera licence, free to embed)."""
SIDE = 1080
"""Of a square picture [px]."""
HAIRLINE = 2.0
"""[px]"""
_DPI = 100.0
LONGEST = 40_000
"""Longest side of a picture in pixels; twice that cannot be drawn."""
LETTER = 0.55
"""Width of a letter over the size of its type, on average."""
_LEAST_TYPE = 0.6
"""How far a line of type shrinks before it is cut."""
HATCHING = {"mind": (40.0, False), "justify": (20.0, False), "stop": (20.0, True)}
"""Level to the distance of its hatch lines [px], and whether they cross."""


class Paper:
    """A picture of a fixed size.

    Parameters
    ----------
    width, height : float
        [px]
    """

    def __init__(self, width: float = SIDE, height: float = SIDE) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.width, self.height = width, height
        self.figure: Figure = Figure((width / _DPI, height / _DPI), dpi=_DPI, facecolor=GROUND)
        canvas: Any = FigureCanvasAgg(self.figure)
        self._renderer = canvas.get_renderer()
        self.axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_axis_off()
        self.axes.set(xlim=(0.0, width), ylim=(height, 0.0), autoscale_on=False)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        room: float | None = None,
        align: str = "left",
        **style: Any,
    ) -> float:
        """Write a line; where it is longer than its room it shrinks, and at last is cut.

        Parameters
        ----------
        x, y : float
            Left end, middle or right end of its base line, by `align` [px].
        text : str
            One line, taken as it is.
        size : float
            Height of the type [px].
        room : float, optional
            Longest that it may be [px].
        align : str
            ``"left"``, ``"center"`` or ``"right"``.
        **style
            Of `matplotlib.text.Text`: ``weight``, ``color``, ``rotation``.

        Returns
        -------
        float
            Its length [px].
        """
        text = " ".join(text.split())
        style = {"color": INK, "family": FAMILY, "zorder": 6, "ha": align, **style}
        written = self.axes.text(x, y, text, size=0.72 * size, parse_math=False, **style)
        length = self._length(written)
        if room is None or length <= room:
            return length
        written.set_fontsize(0.72 * size * max(room / length, _LEAST_TYPE))
        while self._length(written) > room and len(text) > 1:
            text = text[:-1]
            written.set_text(text.rstrip() + "…")
        return self._length(written)

    def paragraph(
        self, x: float, y: float, text: str, size: float, room: float, **style: Any
    ) -> float:
        """Write a text in as many lines as it takes.

        Parameters
        ----------
        x, y : float
            As in `text`; the top of the first line [px].
        text : str
            Its words.
        size : float
            Height of the type [px].
        room : float
            Longest line [px].
        **style
            As in `text`.

        Returns
        -------
        float
            y below it [px].
        """
        for line in wrap(text, max(int(room / (LETTER * size)), 1)):
            y += 1.25 * size
            self.text(x, y - 0.25 * size, line, size, room=room, **style)
        return y

    def cropped(self, height: float) -> Figure:
        """The picture cut off below a height [px]; a very long one has fewer pixels."""
        self.figure.set_size_inches(self.width / _DPI, height / _DPI)
        self.figure.set_dpi(_DPI * min(1.0, LONGEST / height))
        self.axes.set_ylim(height, 0.0)
        return self.figure

    def _length(self, written: Any) -> float:
        return float(written.get_window_extent(self._renderer).width)

    def rule(self, x: float, y: float, to_x: float, to_y: float, width: float = HAIRLINE) -> None:
        """Draw a straight line in ink.

        Parameters
        ----------
        x, y, to_x, to_y : float
            Its ends [px].
        width : float
            [px]
        """
        self.axes.plot(
            [x, to_x], [y, to_y], color=INK, lw=0.72 * width, zorder=5, solid_capstyle="butt"
        )

    def area(self, outline: Array, clip: Outline | None = None, **style: Any) -> None:
        """Fill an area.

        Parameters
        ----------
        outline : numpy.ndarray
            Its corners, shape (corners, 2) [px].
        clip : matplotlib.path.Path, optional
            Outside of it nothing is filled.
        **style
            Of `matplotlib.patches.Polygon`.
        """
        from matplotlib.patches import Polygon

        shape = Polygon(outline, closed=True, **{"lw": 0.0, "zorder": 2, **style})
        self.axes.add_artist(shape)
        if clip is not None:
            shape.set_clip_path(clip, self.axes.transData)

    def hatch(self, level: str, box: Box, clip: Outline, ink: str, order: float = 4.0) -> None:
        """Hatch a box as densely as a caution level is heavy; ``ok`` is left bare.

        Parameters
        ----------
        level : str
            Of the caution.
        box : tuple of float
            Left, top, right and bottom [px].
        clip : matplotlib.path.Path
            Outside of it nothing is hatched.
        ink : str
            Colour of the lines.
        order : float
            What has a higher one lies above it.
        """
        from matplotlib.collections import LineCollection

        if level not in HATCHING:
            return
        (apart, crossed), (left, top, right, bottom) = HATCHING[level], box
        tall = bottom - top
        starts = np.arange(left - tall, right, apart)
        lines = [[(x, bottom), (x + tall, top)] for x in starts]
        lines += [[(x, top), (x + tall, bottom)] for x in starts] if crossed else []
        hatched = LineCollection(lines, colors=ink, linewidths=1.3, zorder=order)
        self.axes.add_collection(hatched, autolim=False)
        hatched.set_clip_path(clip, self.axes.transData)

    def vessel(
        self, waters: Sequence[str], box: Box, shape: Shape, wall: float, level: str = "ok"
    ) -> None:
        """Draw a vessel in section, its waters touching along a wave.

        Parameters
        ----------
        waters : sequence of str
            Colours from left to right, ``#rrggbb``.
        box : tuple of float
            Left, waterline, right and bottom of the water [px].
        shape : Shape
            Of the vessel.
        wall : float
            How thick it is [px].
        level : str
            Caution level of the last water, which is hatched by it.
        """
        from matplotlib.path import Path as Outline

        left, top, right, bottom = box
        inside, dry = basin(box, shape.corner), shape.section(box)
        outer = replace(shape, corner=shape.corner + wall)
        shell = outer.section((left - wall, top, right + wall, bottom + wall))
        edge: dict[str, Any] = {"edgecolor": INK, "lw": 0.72 * HAIRLINE}
        self.area(np.concatenate([shell, dry[::-1]]), facecolor=ENAMEL, zorder=1, **edge)
        water = Outline(inside)
        self.area(inside, facecolor=waters[-1])
        self.hatch(level, box, water, ink_on(waters[-1]), 2.5)
        # Each earlier water covers all that lies left of its end.
        ends = np.linspace(left, right, len(waters) + 1)[1:-1]
        for place, (colour, end) in enumerate(zip(waters, ends, strict=False)):
            line = wave(end, top, bottom)
            before = np.concatenate([line, [[left, bottom], [left, top]]])
            self.area(before, water, facecolor=colour, zorder=3.9 - 0.1 * place)
            if abs(lightness(colour) - lightness(waters[place + 1])) < ALIKE:
                self.axes.plot(*line.T, color=GROUND, lw=0.72 * HAIRLINE, zorder=3.95)
        self.area(inside, facecolor="none", zorder=5, **edge)
        self.rule(left, top, right, top, min(2 * HAIRLINE, wall / 2))


@dataclass(frozen=True)
class Shape:
    """Shape of a vessel around its water; lengths in pixels."""

    corner: float
    """Radius of the lower corners."""
    above: float
    """From the water up to the rim."""
    neck: float = 1.0
    """Width at the rim over that of the water."""

    def section(self, box: Box) -> Array:
        """Section from the left rim down and up to the right one, shape (points, 2) [px].

        Parameters
        ----------
        box : tuple of float
            Left, waterline, right and bottom of the water [px].

        Returns
        -------
        numpy.ndarray
        """
        left, top, right, _ = box
        up = np.linspace(1.0, 0.0, 40)
        ease = np.clip(up / 0.6, 0.0, 1.0)
        inwards = 0.5 * (1.0 - self.neck) * (right - left) * ease * ease * (3.0 - 2.0 * ease)
        height = top - self.above * up
        rise = np.column_stack([left + inwards, height])
        fall = np.column_stack([right - inwards, height])[::-1]
        return np.concatenate([rise, basin(box, self.corner), fall])


def basin(box: Box, corner: float) -> Array:
    """Section of a vessel, from its left rim down and up to the right one.

    Parameters
    ----------
    box : tuple of float
        Left, top, right and bottom [px].
    corner : float
        Radius of the lower corners [px].

    Returns
    -------
    numpy.ndarray
        Shape (points, 2) [px].
    """
    left, top, right, bottom = box
    turn = np.linspace(0.0, np.pi / 2, 40)
    across, down = corner * (1.0 - np.cos(turn)), corner * (np.sin(turn) - 1.0)
    foot = np.column_stack([left + across, bottom + down])
    other = np.column_stack([right - across, bottom + down])[::-1]
    return np.concatenate([[[left, top]], foot, other, [[right, top]]])


def wave(x: float, top: float, bottom: float) -> Array:
    """The line along which two waters touch.

    Parameters
    ----------
    x : float
        About which it sways [px].
    top, bottom : float
        Its ends [px].

    Returns
    -------
    numpy.ndarray
        Shape (points, 2) [px].
    """
    down = np.linspace(0.0, 1.0, 80)
    sway = 0.055 * (bottom - top) * np.sin(2 * np.pi * down)
    return np.column_stack([x + sway, top + (bottom - top) * down])


def lightness(colour: str) -> float:
    """CIELAB lightness of a colour ``#rrggbb``, 0 to 100."""
    from indicator.appearance import lab_from_hex

    return float(lab_from_hex(colour)[0])


def ink_on(colour: str) -> str:
    """Ink that is read on a water: dark on a light one, the paper's own white on a dark one."""
    return INK if lightness(colour) > 58.0 else GROUND
