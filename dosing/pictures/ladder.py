"""Ladders drawn: vessels of every colour along the pH, those that one may bathe in shaded."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from math import ceil
from typing import TYPE_CHECKING

from dosing.pictures.paper import FAINT, GROUND, SHADE, SIDE, Paper, Shape, basin
from dosing.plan.levels import gate_level
from indicator.appearance import light_label
from indicator.ladders import Ladder, Swatch
from indicator.notes import say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MARGIN, ROOM = 44.0, SIDE - 88.0
PER_ROW, MOST_ROWS = 5, 6
"""Vessels side by side, more only where the rows would be too many."""
FULL = 190.0
"""Place of a vessel beside which its words have their whole size [px]."""
TITLE, HEADING, NUMBER, WORD, REMARK = 40.0, 32.0, 34.0, 24.0, 19.0
"""Sizes of type [px]."""
VESSELS = {
    "tub": (0.84, 0.42, Shape(0.2, 0.11)),
    "jar": (0.74, 0.7, Shape(0.12, 0.3, neck=0.86)),
    "bottle": (0.48, 0.62, Shape(0.06, 0.4, neck=0.3)),
    "beaker": (0.7, 0.66, Shape(0.05, 0.28)),
}
"""Width of the water and its depth, and the vessel around it, in places of a ladder."""


def draw_ladders(ladders: Sequence[Ladder], *, shade: bool = True) -> Figure:
    """Draw ladders one below the other: vessels in section, the pH and the word under each.

    Parameters
    ----------
    ladders : sequence of Ladder
        One or more; the same place in each row is the same rung.
    shade : bool
        Whether those with a pH that one may bathe in are shaded; not of jars for a table.

    Returns
    -------
    matplotlib.figure.Figure
        Save it with `dosing.pictures.sheets.write_picture`.
    """
    paper = Paper(SIDE, 1.0)
    y = 30.0
    if len(ladders) > 1:
        y = paper.paragraph(MARGIN, y, say("view.ladders"), TITLE, ROOM) + 10
    for number, drawn in enumerate(ladders):
        if number:
            paper.rule(MARGIN, y + 30, MARGIN + ROOM, y + 30)
            y += 40
        labels = " + ".join(which.label for which in drawn.strengths)
        title = say("view.ladder", {"colours": labels})
        size = TITLE if len(ladders) == 1 else HEADING
        y = paper.paragraph(MARGIN, y, title[:1].upper() + title[1:], size, ROOM)
        vessel = say(f"view.{drawn.view}", {"path_cm": drawn.path_cm})
        y = paper.paragraph(MARGIN, y, vessel, WORD, ROOM, color=FAINT) + 12
        y = _rows(paper, drawn, y, shade=shade)
    remark = _remark(ladders, shade=shade)
    return paper.cropped(paper.paragraph(MARGIN, y + 24, remark, REMARK, ROOM, color=FAINT) + 30)


def _rows(paper: Paper, drawn: Ladder, top: float, *, shade: bool) -> float:
    """The vessels of a ladder, row by row; returns the lower end."""
    swatches = drawn.swatches
    most = max(PER_ROW, ceil(len(swatches) / MOST_ROWS))
    columns = ceil(len(swatches) / ceil(len(swatches) / most))
    place = ROOM / max(columns, 3)
    for start in range(0, len(swatches), columns):
        row, above = swatches[start : start + columns], top
        top = max(_vessel(paper, drawn.view, k, row[k], above, place) for k in range(len(row))) + 10
        if shade:
            _shade(paper, row, (above, top), place)
    return top


def _vessel(
    paper: Paper, view: str, column: int, swatch: Swatch, top: float, place: float
) -> float:
    """One vessel in the middle of its place, and its words; returns the lower end."""
    wide, deep, shape = VESSELS[view]
    x, water = MARGIN + place * (column + 0.5), top + 12 + place * shape.above
    box = (x - place * wide / 2, water, x + place * wide / 2, water + place * deep)
    shape = Shape(place * shape.corner, place * shape.above, shape.neck)
    paper.vessel([swatch.hex or GROUND], box, shape, 0.03 * place)
    shrink = min(1.0, place / FULL)
    y = box[3] + 0.03 * place + 44 * shrink
    number = say("view.ph" if column == 0 else "view.number", {"ph": swatch.ph})
    paper.text(x, y, number, NUMBER * shrink, align="center")
    mark = "" if swatch.in_gamut else f" {say('view.out-of-gamut-mark')}"
    words = swatch.phrase + mark
    return paper.paragraph(x, y + 8 * shrink, words, WORD * shrink, 0.95 * place, align="center")


def _shade(paper: Paper, row: Sequence[Swatch], ends: tuple[float, float], place: float) -> None:
    """Shade the places of a row whose pH needs no caution for an adult."""
    levels = gate_level([swatch.ph for swatch in row], "adult")
    for bathable, run in groupby(range(len(row)), key=lambda k: levels[k] == 0):
        if bathable:
            first, *others = run
            left, right = (MARGIN + place * k for k in (first, first + 1 + len(others)))
            paper.area(basin((left, ends[0], right, ends[1]), 0.0), facecolor=SHADE, zorder=0)


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
