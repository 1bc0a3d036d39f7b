"""Ladders drawn: vessels of every colour along the pH, those that one may bathe in shaded."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from math import ceil
from typing import TYPE_CHECKING

from dosing.pictures.vessel import draw_vessel, vessel_height
from dosing.plan.cautions import gate_level
from indicator.appearance import light_label
from indicator.ladders import Ladder, Swatch
from indicator.notes import say
from indicator.sheet import FAINT, GROUND, Sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH, MARGIN = 9.0, 0.4
"""Of the page, and around what stands on it [in]."""
PER_ROW, MOST_ROWS = 5, 6
"""Vessels side by side, more only where the rows would be too many."""
FILLED = 0.86
"""Share of its place that a vessel is wide at most; none is higher than its place is wide."""
TITLE, HEADING, NUMBER, WORD, REMARK = 17.0, 13.0, 14.0, 10.0, 8.0
"""Sizes of type [points]."""
SHADE = "#E7E1D2"
"""Paper behind vessels with a pH that one may bathe in."""


def draw_ladders(ladders: Sequence[Ladder], *, shade: bool = True) -> Figure:
    """Ladders one below the other: vessels in section, with the pH and the word under each.

    Parameters
    ----------
    ladders : sequence of Ladder
        One or more; the same place in each row is the same rung.
    shade : bool
        Whether those with a pH that one may bathe in are shaded; not of jars for a table.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `indicator.sheet.write_picture`.
    """
    sheet = Sheet(WIDTH)
    room = WIDTH - 2 * MARGIN
    y = -0.3
    if len(ladders) > 1:
        y = sheet.text(MARGIN, y, say("view.ladders"), TITLE, width=room) - 0.1
    for number, drawn in enumerate(ladders):
        if number:
            y -= 0.3
            sheet.rule(MARGIN, y, WIDTH - MARGIN, y)
        labels = " + ".join(which.label for which in drawn.strengths)
        title = say("view.ladder", {"colours": labels})
        size = TITLE if len(ladders) == 1 else HEADING
        y = sheet.text(MARGIN, y - 0.08, title[:1].upper() + title[1:], size, width=room)
        vessel = say(f"view.{drawn.view}", {"path_cm": drawn.path_cm})
        y = sheet.text(MARGIN, y - 0.02, vessel, WORD, width=room, ink=FAINT) - 0.1
        y = _rows(sheet, drawn, y, shade=shade)
    y = sheet.text(MARGIN, y - 0.24, _remark(ladders, shade=shade), REMARK, width=room, ink=FAINT)
    return sheet.finished(y - 0.25)


def _rows(sheet: Sheet, drawn: Ladder, top: float, *, shade: bool) -> float:
    """The vessels of a ladder, row by row; returns the lower end."""
    swatches = drawn.swatches
    most = max(PER_ROW, ceil(len(swatches) / MOST_ROWS))
    columns = ceil(len(swatches) / ceil(len(swatches) / most))
    place = (WIDTH - 2 * MARGIN) / max(columns, 3)
    y = top
    for start in range(0, len(swatches), columns):
        row, above = swatches[start : start + columns], y
        y = _row(sheet, drawn.view, row, above, place)
        if shade:
            _shade(sheet, row, (above, y + 0.06), place)
    return y


def _row(sheet: Sheet, view: str, row: Sequence[Swatch], top: float, place: float) -> float:
    """One row of vessels, each in the middle of a place of that width; returns the lower end."""
    width = place * min(FILLED, 1.0 / vessel_height(view, 1.0))
    floor = top - 0.14 - vessel_height(view, width)
    shrink = min(1.0, place / 1.6)
    bottom = floor
    for k, swatch in enumerate(row):
        x = MARGIN + place * (k + 0.5)
        draw_vessel(sheet.axes, view, swatch.hex or GROUND, x, floor, width)
        number = say("view.ph" if k == 0 else "view.number", {"ph": swatch.ph})
        y = sheet.text(x, floor - 0.06, number, NUMBER * shrink, align="center")
        mark = "" if swatch.in_gamut else f" {say('view.out-of-gamut-mark')}"
        for line in sheet.lines(swatch.phrase + mark, WORD * shrink, 0.95 * place):
            y = sheet.text(x, y, line, WORD * shrink, align="center")
        bottom = min(bottom, y)
    return bottom - 0.12


def _shade(sheet: Sheet, row: Sequence[Swatch], ends: tuple[float, float], place: float) -> None:
    """Shade the places of a row whose pH needs no caution for an adult."""
    from matplotlib.patches import Rectangle

    levels = gate_level([swatch.ph for swatch in row], "adult")
    for bathable, run in groupby(range(len(row)), key=lambda k: levels[k] == 0):
        if bathable:
            first, *others = run
            corner = (MARGIN + place * first, ends[1])
            wide = place * (1 + len(others))
            shade = Rectangle(corner, wide, ends[0] - ends[1], color=SHADE, linewidth=0, zorder=0)
            sheet.axes.add_artist(shade)


def _remark(ladders: Sequence[Ladder], *, shade: bool) -> str:
    """What the shading and the marks mean, and what the colours are computed for."""
    swatches = [swatch for drawn in ladders for swatch in drawn.swatches]
    lights = ", ".join(dict.fromkeys(light_label(drawn.light) for drawn in ladders))
    parts = [say("view.ladder-note", {"light": lights})]
    if shade and (gate_level([swatch.ph for swatch in swatches], "adult") == 0).any():
        parts.insert(0, say("view.bathable"))
    if not all(swatch.in_gamut for swatch in swatches):
        parts.append(say("view.out-of-gamut"))
    return " ".join(parts)
