"""Parts of every printed sheet: title, verdict, paragraphs, cautions, waters and hatching."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from dosing.plan.cautions import Caution
from dosing.words import wording
from indicator.appearance import light_label
from indicator.notes import Value, say
from indicator.sheet import FAINT, GROUND, INK, Sheet

Array = NDArray[np.float64]

WIDTH = 7.0
LEFT, RIGHT = 0.55, WIDTH - 0.55
"""Page of most sheets, and the ends of what is written on it [in]."""
LARGE, BODY, SMALL = 12.0, 8.2, 7.4
"""Sizes of type [points]."""
BAND = 0.62
"""Height of a band of water [in]."""
SHORE = 0.24
"""Height of the hatched part at its lower edge [in]."""
HATCHING = {"mind": (0.15, False), "justify": (0.075, False), "stop": (0.06, True)}
"""Level to the distance of its hatch lines [in], and whether they cross."""
LIGHT_ENOUGH = 58.0
"""CIELAB lightness from which dark ink is read on a colour; below it the paper's own white."""
MARK_ROOM = 0.24
"""For the mark of a caution, before its words [in]."""
APART = 0.1
"""Least space between two labels of a row [in]."""
PAD = 0.15
"""Between a frame and its words [in]."""
Verdict = tuple[Sequence[str], Sequence[str], str | None]
"""What is not as wished: heads, reasons, and what follows."""


class Poster(Sheet):
    """A sheet with margins, and what is written on all of them between these.

    What writes returns y below it [in].
    """

    def __init__(self, width: float = WIDTH, margin: float = LEFT) -> None:
        super().__init__(width)
        self.left, self.right = margin, width - margin

    def title(self, title: str, size: float, top: float, *, not_for_bathing: bool) -> float:
        """Write the title, with a box beside it where nobody may bathe.

        Parameters
        ----------
        title : str
            The title.
        size : float
            Type size [points].
        top : float
            y at which it begins [in].
        not_for_bathing : bool
            Whether the box is drawn.

        Returns
        -------
        float
            y below the title [in].
        """
        room = self.right - self.left
        if not_for_bathing:
            room -= 0.2 + self.boxed(say("plan.not-for-bathing"), self.right, top - 0.06)
        return self.text(self.left, top, title, size, width=room)

    def verdict(
        self, verdict: Verdict, top: float, sizes: tuple[float, float] = (LARGE, BODY)
    ) -> float:
        """Frame what is not as wished, so that it cannot be overlooked.

        Parameters
        ----------
        verdict : tuple
            Heads in bold, reasons below them, and what follows from them or None.
        top : float
            y of the frame's upper edge [in].
        sizes : tuple of float
            Type sizes of heads and texts [points].

        Returns
        -------
        float
            y of its lower edge, or `top` where there is no head [in].
        """
        heads, reasons, follows = verdict
        if not heads:
            return top
        x, width, y = self.left + PAD, self.right - self.left - 2 * PAD, top - 0.6 * PAD
        for text in heads:
            y = self.text(x, y, text, sizes[0], width=width, bold=True)
        texts = [*reasons, *([] if follows is None else [follows])]
        y = self.paragraphs(texts, y, sizes[1], gap=0.03, ends=(x, x + width))
        self.frame(self.left, top, self.right, y - 0.7 * PAD, 1.6)
        return y - 0.7 * PAD

    def paragraphs(
        self,
        texts: Iterable[str],
        top: float,
        size: float = BODY,
        *,
        gap: float = 0.02,
        ends: tuple[float, float] | None = None,
        ink: str = INK,
    ) -> float:
        """Write paragraphs under each other.

        Parameters
        ----------
        texts : iterable of str
            One for each paragraph.
        top : float
            y above them [in].
        size : float
            Type size [points].
        gap : float
            Space above each [in].
        ends : tuple of float, optional
            Left and right end of the lines [in]; the margins if not given.
        ink : str
            Their colour.

        Returns
        -------
        float
            y below them [in].
        """
        left, right = ends or (self.left, self.right)
        for text in texts:
            top = self.text(left, top - gap, text, size, width=right - left, ink=ink)
        return top

    def cautions(
        self,
        cautions: Sequence[Caution],
        top: float,
        sizes: tuple[float, float] = (10.0, BODY),
        *,
        gap: float = 0.02,
        left: float | None = None,
    ) -> float:
        """Write every caution with its mark before its words.

        Parameters
        ----------
        cautions : sequence of Caution
            The heaviest first.
        top : float
            y of the heading [in].
        sizes : tuple of float
            Type sizes of heading and words [points].
        gap : float
            Space above each [in].
        left : float, optional
            Left end of the lines [in]; the margin if not given.

        Returns
        -------
        float
            y below them [in].
        """
        left = self.left if left is None else left
        y = self.text(left, top, say("plan.heading.cautions"), sizes[0], bold=True)
        for caution in cautions:
            level = wording.level(caution.level)
            mark = wording.MARKS[caution.level]
            self.text(left + 0.08, y - gap, mark, sizes[1], bold=True, align="center")
            text = say("figure.caution", {"level": level, "text": caution.message})
            ends = (left + MARK_ROOM, self.right)
            y = self.paragraphs([text], y, sizes[1], gap=gap, ends=ends)
        return y

    def remark(self, code: str, light: str, top: float, size: float = SMALL) -> float:
        """Write the remark at the foot, on the light and what the colours are.

        Parameters
        ----------
        code : str
            Of the sentence in the catalogue.
        light : str
            The light of the colours.
        top : float
            y above it [in].
        size : float
            Type size [points].

        Returns
        -------
        float
            y below it [in].
        """
        values: dict[str, Value] = {"light": light_label(light)}
        return self.paragraphs([say(code, values)], top, size, gap=0.0, ink=FAINT)

    def water(
        self, rgb: Array, ends: tuple[float, float], waterline: float, drawn: str = "nearest"
    ) -> float:
        """Fill a band with the colours of a water, side by side.

        Parameters
        ----------
        rgb : numpy.ndarray
            sRGB from left to right, shape (columns, 3), 0 to 1.
        ends : tuple of float
            Left and right end [in].
        waterline : float
            y of its upper edge [in].
        drawn : str
            Between columns: ``"nearest"`` or, for few of them, ``"bilinear"``.

        Returns
        -------
        float
            y of its floor [in].
        """
        floor = waterline - BAND
        extent = (*ends, floor, waterline)
        self.axes.imshow(rgb[None], extent=extent, interpolation=drawn, aspect="auto", zorder=1)
        return floor

    def hatching(
        self, level: str, ends: tuple[float, float], floor: float, lightness: float
    ) -> str:
        """Hatch the shore of a band where a caution speaks about it.

        Parameters
        ----------
        level : str
            Key of `HATCHING`.
        ends : tuple of float
            Left and right end of the reach [in].
        floor : float
            y of the band's lower edge [in].
        lightness : float
            CIELAB lightness of the water under it.

        Returns
        -------
        str
            The ink that is read there.
        """
        from matplotlib.collections import LineCollection
        from matplotlib.patches import Rectangle

        (distance, crossed), (left, right), ink = HATCHING[level], ends, ink_on(lightness)
        top = floor + SHORE
        starts = np.arange(left - SHORE, right, distance)
        rising = [[(x, floor), (x + SHORE, top)] for x in starts]
        falling = [[(x + SHORE, floor), (x, top)] for x in starts] if crossed else []
        lines = LineCollection([*rising, *falling], colors=ink, linewidths=0.8, zorder=2)
        self.axes.add_collection(lines, autolim=False)
        shore = Rectangle((left, floor), right - left, SHORE, transform=self.axes.transData)
        lines.set_clip_path(shore)
        outline = [left, left, right, right], [floor, top, top, floor]
        self.axes.plot(*outline, color=ink, linewidth=0.8, zorder=2)
        return ink


def ink_on(lightness: float) -> str:
    """The ink that is read on a colour of this CIELAB lightness."""
    return INK if lightness >= LIGHT_ENOUGH else GROUND


def runs(items: Sequence[str]) -> list[tuple[str, int, int]]:
    """Runs of equal items as (item, first place, place after the last)."""
    spans: list[tuple[str, int, int]] = []
    for item, run in groupby(items):
        first = spans[-1][2] if spans else 0
        spans.append((item, first, first + len(list(run))))
    return spans


def marks_explained() -> str:
    """The marks of caution levels with their words."""
    return say("plan.comma").join(
        f"{mark} {wording.level(level)}" for level, mark in wording.MARKS.items() if mark
    )
