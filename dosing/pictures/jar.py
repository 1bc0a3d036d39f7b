"""The sheet of a jar test: one page to print, with the lines to fill in.

Where the jar is coloured, each line shows the water that is expected; it is the only colour on the
page.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dosing.words import jar_guide
from dosing.words.jar_guide import Guide, Row
from indicator.notes import say
from indicator.sheet import FAINT, HAIRLINE, Sheet
from indicator.swatch import draw_vessel, vessel_height

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


def draw_guide(one: Guide) -> Figure:
    """The jar test of a recipe as one page.

    Parameters
    ----------
    one : Guide
        As `dosing.words.jar_guide.guide` lays it out.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `indicator.sheet.write_picture`.
    """
    sheet = Sheet(WIDTH)
    y = sheet.text(LEFT, -0.38, say("jar.title", {"title": one.title}), TITLE, width=RIGHT - LEFT)
    for text in jar_guide.headline(one):
        y = sheet.text(LEFT, y - 0.05, text, BODY, width=RIGHT - LEFT, ink=FAINT)
    top = y - 0.2
    y = _block(sheet, "kit", jar_guide.kit(one), top)
    y = _block(sheet, "acid", jar_guide.acid(one), y - 0.14)
    y = _block(sheet, "fill", jar_guide.filling(one), y - 0.14)
    y = _block(sheet, "read", jar_guide.reading(one), y - 0.14)
    left_end = _block(sheet, "mind", jar_guide.minding(one), y - 0.14)
    right_end = _table(sheet, one, LEFT + COLUMN + GUTTER, top)
    y = min(left_end, right_end) - 0.22
    sheet.rule(LEFT, y, RIGHT, y)
    y = sheet.text(LEFT, y - 0.09, say("jar.heading.enter"), HEADING, bold=True)
    for text in jar_guide.entering(one):
        y = sheet.text(LEFT, y - 0.04, text, SMALL, width=RIGHT - LEFT)
    return sheet.finished(y - 0.28)


def _block(sheet: Sheet, heading: str, texts: Sequence[str], top: float) -> float:
    y = sheet.text(LEFT, top, say(f"jar.heading.{heading}"), HEADING, bold=True)
    for text in texts:
        y = sheet.text(LEFT, y - 0.05, text, BODY, width=COLUMN)
    return y


def _table(sheet: Sheet, one: Guide, left: float, top: float) -> float:
    """Lines with what to add, what to expect, and room for what was read."""
    places = _places(sheet, one, left)
    y = sheet.text(left, top, say("jar.heading.table"), HEADING, bold=True)
    below = y
    for place, head in zip(places, _heads(), strict=True):
        below = sheet.text(place, y - 0.05, head, SMALL, ink=FAINT)
    y = below - 0.04
    sheet.rule(left, y, RIGHT, y, HAIRLINE)
    for row in one.rows:
        _line(sheet, row, one.model.titrant.unit, places, y)
        y -= LINE
        sheet.rule(left, y, RIGHT, y, HAIRLINE)
    return y


def _places(sheet: Sheet, one: Guide, left: float) -> tuple[float, ...]:
    """Where the columns begin, each as wide as its widest cell [in]."""
    unit = one.model.titrant.unit
    add, total, expect = (sheet.measure(head, SMALL) for head in _heads()[:-1])
    vessel = 0.0 if one.rows[0].colour is None else GAP + JAR_WIDTH
    for row in one.rows:
        add = max(add, sheet.measure(jar_guide.addition(row, unit), BODY, bold=True))
        total = max(total, sheet.measure(jar_guide.amount(row.total, unit), BODY))
        expect = max(expect, sheet.measure(_expected(row), BODY) + vessel)
    second = left + add + GAP
    third = second + total + GAP
    return left, second, third, third + expect + GAP


def _heads() -> list[str]:
    return [say(f"jar.sheet.{name}") for name in ("add", "total", "expect", "yours")]


def _expected(row: Row) -> str:
    return say("jar.do.expect-ph", {"ph": row.ph})


def _line(sheet: Sheet, row: Row, unit: str, places: tuple[float, ...], top: float) -> None:
    add, total, expect, yours = places
    text_top = top - 0.5 * (LINE - 0.17)
    sheet.text(add, text_top, jar_guide.addition(row, unit), BODY, bold=True)
    sheet.text(total, text_top, jar_guide.amount(row.total, unit), BODY)
    sheet.text(expect, text_top, _expected(row), BODY, ink=FAINT)
    if row.colour is not None:
        floor = top - 0.5 * (LINE + vessel_height("jar", JAR_WIDTH))
        beside = yours - GAP - 0.5 * JAR_WIDTH
        draw_vessel(sheet.axes, "jar", str(row.colour.hex), beside, floor, JAR_WIDTH)
