"""The sheet of paper that every figure is drawn on: its colours, its type, and how it is saved.

Lengths are inches from the top left corner, y growing upwards, so that a sheet reaches from 0 down
to a negative y and grows as it is written.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from indicator.files import whole_file

if TYPE_CHECKING:
    from matplotlib.figure import Figure

GROUND = "#FAF7F1"
"""Warm off-white paper."""
INK = "#23262B"
"""The one dark ink of every figure."""
FAINT = "#65625C"
"""The same ink, thinned, for remarks."""
ENAMEL = "#FFFFFF"
HAIRLINE = 0.7
"""Width of all lines [points]."""
FAMILY = "DejaVu Sans"
"""A humanist sans that comes with the drawing library, so that a figure looks the same anywhere."""
LINE = 1.42
"""Line height over type size."""
_KEPT_TOGETHER = re.compile(r"(?<=\d) (?=(?:g|L|mL|cm|ppm|%)\b)|(?<=pH) (?=\d)")
"""The space between a number and its unit."""
PICTURE_ENDINGS = (".png", ".svg", ".pdf")
MOST_PIXELS = 60e6
"""Of a picture in pixels; a larger sheet gets fewer per inch."""
LONGEST_SIDE = 40_000
"""Of a picture [pixels]; twice that cannot be drawn."""


class Sheet:
    """A page of a fixed width that grows downwards."""

    def __init__(self, width: float) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.width = width
        self.figure: Figure = Figure(figsize=(width, 1.0), dpi=200, facecolor=GROUND)
        canvas: Any = FigureCanvasAgg(self.figure)
        self._renderer = canvas.get_renderer()
        self.axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_axis_off()

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        width: float | None = None,
        ink: str = INK,
        bold: bool = False,
        align: str = "left",
    ) -> float:
        """Write a paragraph with its top at y.

        Parameters
        ----------
        x, y : float
            Left end, middle or right end of the top of the paragraph, by `align` [in].
        text : str
            One paragraph.
        size : float
            Type size [points].
        width : float, optional
            Where lines are broken [in]; nowhere if not given.
        ink, bold, align
            How it is written; align is ``"left"``, ``"center"`` or ``"right"``.

        Returns
        -------
        float
            y below the paragraph.
        """
        weight = "bold" if bold else "normal"
        lines = [text] if width is None else self.lines(text, size, width, bold=bold)
        step = size * LINE / 72.0
        style: dict[str, Any] = {"size": size, "color": ink, "weight": weight, "family": FAMILY}
        for number, line in enumerate(lines):
            self.axes.text(
                x, y - (number + 0.74) * step, line, ha=align, va="baseline",
                parse_math=False, zorder=4, **style,
            )  # fmt: skip
        return y - len(lines) * step

    def label(self, x: float, y: float, text: str, size: float) -> None:
        """Write a line around x, with the paper cleared behind it of what was drawn before.

        Parameters
        ----------
        x, y : float
            Middle of its top [in].
        text : str
            One line.
        size : float
            Type size [points].
        """
        self.text(x, y, text, size, align="center")
        self.axes.texts[-1].set_bbox({"facecolor": GROUND, "edgecolor": "none", "pad": 1.2})

    def lines(self, text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
        """The text broken into lines no wider than `width` [in], words kept whole.

        Parameters
        ----------
        text : str
            One paragraph.
        size : float
            Type size [points].
        width : float
            Longest line [in].
        bold : bool
            Whether it is written so.

        Returns
        -------
        list of str
        """
        broken: list[str] = []
        for word in _KEPT_TOGETHER.sub("\N{NO-BREAK SPACE}", text).split(" "):
            longer = f"{broken[-1]} {word}" if broken else word
            if broken and self.measure(longer, size, bold=bold) <= width:
                broken[-1] = longer
            else:
                broken.append(word)
        return broken or [""]

    def measure(self, text: str, size: float, *, bold: bool = False) -> float:
        """Width of a line [in].

        Parameters
        ----------
        text : str
            One line.
        size : float
            Type size [points].
        bold : bool
            Whether it is written so.

        Returns
        -------
        float
            [in].
        """
        from matplotlib.font_manager import FontProperties

        font = FontProperties(family=FAMILY, size=size, weight="bold" if bold else "normal")
        width = self._renderer.get_text_width_height_descent(text, font, ismath=False)[0]
        return float(width) / float(self.figure.dpi)

    def rule(self, x: float, y: float, to_x: float, to_y: float, width: float = HAIRLINE) -> None:
        """A straight line in ink.

        Parameters
        ----------
        x, y, to_x, to_y : float
            Its ends [in].
        width : float
            Of the line [points].
        """
        self.axes.plot([x, to_x], [y, to_y], color=INK, linewidth=width, solid_capstyle="butt")

    def frame(self, left: float, top: float, right: float, bottom: float, width: float) -> None:
        """A rectangle in ink, its line `width` points wide.

        Parameters
        ----------
        left, top, right, bottom : float
            Its sides [in].
        width : float
            Of the line [points].
        """
        self.axes.plot(
            [left, right, right, left, left],
            [top, top, bottom, bottom, top],
            color=INK,
            linewidth=width,
            solid_joinstyle="miter",
        )

    def boxed(self, text: str, right: float, top: float) -> float:
        """A few bold words in a frame that ends at `right`; returns its width [in].

        Parameters
        ----------
        text : str
            A few words.
        right, top : float
            Corner of the frame [in].

        Returns
        -------
        float
            Width of the frame [in].
        """
        size, pad = 9.5, 0.1
        width = self.measure(text, size, bold=True) + 2 * pad
        bottom = self.text(right - pad, top - 0.6 * pad, text, size, bold=True, align="right")
        self.frame(right - width, top, right, bottom - 0.6 * pad, 1.6)
        return width

    def finished(self, bottom: float) -> Figure:
        """The figure, cut off at y = `bottom`."""
        self.figure.set_size_inches(self.width, -bottom)
        by_area = (MOST_PIXELS / (self.width * -bottom)) ** 0.5
        by_side = LONGEST_SIDE / max(self.width, -bottom)
        self.figure.set_dpi(min(float(self.figure.dpi), by_area, by_side))
        self.axes.set(xlim=(0.0, self.width), ylim=(bottom, 0.0), aspect="auto")
        return self.figure


def write_picture(figure: Figure, path: Path) -> None:
    """Save a figure; the same figure gives the same bytes, whenever it is written.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        What is drawn.
    path : Path
        Ending in .png, .svg or .pdf.

    Raises
    ------
    ValueError
        If the ending is another one.
    OSError
        If the folder cannot be written to.
    """
    from matplotlib import rc_context

    ending = path.suffix.lower()
    if ending not in PICTURE_ENDINGS:
        raise ValueError(f"picture is {str(path)!r}; accepted endings are .png, .svg and .pdf")
    dated = {".png": "Software", ".svg": "Date", ".pdf": "CreationDate"}[ending]
    with rc_context({"svg.hashsalt": "huedose", "pdf.fonttype": 42}), whole_file(path) as draft:
        figure.savefig(
            draft,
            format=ending[1:],
            dpi=figure.dpi,
            facecolor=figure.get_facecolor(),
            metadata={dated: None},
        )
