"""The sheet of a jar test: one page to print, with the lines to fill in.

Where the jar is coloured, each line shows the water that is expected; it is the only colour on the
page.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dosing.jar.guide import Guide
from dosing.pictures.vessel import draw_vessel, vessel_height
from dosing.words import jar_guide
from indicator.notes import say
from indicator.sheet import FAINT, HAIRLINE, Sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH = 7.0
LEFT = 0.55
RIGHT = WIDTH - LEFT
TITLE, HEADING, BODY, SMALL = 21.0, 10.0, 8.6, 7.4
"""Sizes of type [points]."""
COLUMN = 2.6
GUTTER = 0.35
LINE = 0.4
"""Height of a line of the table, wide enough to write on [in]."""
JAR_WIDTH = 0.26
GAP = 0.16
"""Between columns of the table [in]."""


def draw_guide(guide: Guide, command: str) -> Figure:
    """The jar test of a recipe as one page.

    Parameters
    ----------
    guide : Guide
        As `dosing.jar.guide.guide` lays it out.
    command : str
        What is typed when the table is filled in.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `indicator.sheet.write_picture`.
    """
    sheet = Sheet(WIDTH)
    sections = jar_guide.sections(guide)
    y = sheet.text(LEFT, -0.38, say("jar.title", {"title": guide.title}), TITLE, width=RIGHT - LEFT)
    for text in sections.pop("why"):
        y = sheet.text(LEFT, y - 0.05, text, BODY, width=RIGHT - LEFT, ink=FAINT)
    top = y - 0.2
    left_end = top + 0.14
    for heading, texts in sections.items():
        left_end = _block(sheet, heading, texts, left_end - 0.14)
    y = min(left_end, _table(sheet, guide, LEFT + COLUMN + GUTTER, top)) - 0.22
    sheet.rule(LEFT, y, RIGHT, y)
    y = sheet.text(LEFT, y - 0.09, say("jar.heading.enter"), HEADING, bold=True)
    for text in jar_guide.entering(guide, command):
        y = sheet.text(LEFT, y - 0.04, text, SMALL, width=RIGHT - LEFT)
    return sheet.finished(y - 0.28)


def _block(sheet: Sheet, heading: str, texts: Sequence[str], top: float) -> float:
    y = sheet.text(LEFT, top, say(f"jar.heading.{heading}"), HEADING, bold=True)
    for text in texts:
        y = sheet.text(LEFT, y - 0.05, text, BODY, width=COLUMN)
    return y


def _table(sheet: Sheet, guide: Guide, left: float, top: float) -> float:
    """Lines with what to add, what to expect, and room for what was read."""
    heads, *lines = jar_guide.table(guide)
    places = _places(sheet, [heads, *lines], left, coloured=guide.readings[0].expected is not None)
    y = sheet.text(left, top, say("jar.heading.table"), HEADING, bold=True)
    below = y
    for place, head in zip(places, heads, strict=True):
        below = sheet.text(place, y - 0.05, head, SMALL, ink=FAINT)
    y = below - 0.04
    sheet.rule(left, y, RIGHT, y, HAIRLINE)
    for row, (add, total, expect, _) in zip(guide.readings, lines, strict=True):
        text_top = y - 0.5 * (LINE - 0.17)
        sheet.text(places[0], text_top, add, BODY, bold=True)
        sheet.text(places[1], text_top, total, BODY)
        sheet.text(places[2], text_top, expect, BODY, ink=FAINT)
        if row.expected is not None:
            floor = y - 0.5 * (LINE + vessel_height("jar", JAR_WIDTH))
            beside = places[3] - GAP - 0.5 * JAR_WIDTH
            draw_vessel(sheet.axes, "jar", str(row.expected.hex), beside, floor, JAR_WIDTH)
        y -= LINE
        sheet.rule(left, y, RIGHT, y, HAIRLINE)
    return y


def _places(
    sheet: Sheet, rows: Sequence[Sequence[str]], left: float, *, coloured: bool
) -> list[float]:
    """Where the columns begin, each as wide as its widest cell [in]."""
    heads, *lines = rows
    places = [left]
    for column in range(3):
        widths = [sheet.measure(row[column], BODY, bold=column == 0) for row in lines]
        vessel = GAP + JAR_WIDTH if coloured and column == 2 else 0.0
        widest = max(sheet.measure(heads[column], SMALL), max(widths) + vessel)
        places.append(places[-1] + widest + GAP)
    return places
