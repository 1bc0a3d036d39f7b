"""Ladders drawn: vessels of every colour along the pH, those that one may bathe in shaded.

Many ladders are drawn as bands in two columns, and the jars of a class in rows of eight.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from math import ceil
from typing import TYPE_CHECKING

from dosing.bottle.rainbow import Rainbow
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


BANDS_ACROSS, BAND, BANDS_TALL = 2, (468.0, 44.0), 1240.0
"""Columns of bands, the width and height of a band, and the most that all rows take [px]."""
JARS_ACROSS, LARGEST_JAR = 8, 180.0
"""Jars in a row, and the most place that one has [px]."""


def draw_overview(ladders: Sequence[Ladder]) -> Figure:
    """Draw many ladders of the same rungs as bands of water, side by side in two columns.

    Parameters
    ----------
    ladders : sequence of Ladder
        With as many rungs each.

    Returns
    -------
    matplotlib.figure.Figure
        Save it with `dosing.pictures.sheets.write_picture`.
    """
    paper = Paper(SIDE, 1.0)
    y = paper.paragraph(MARGIN, 30.0, say("view.ladders"), TITLE, ROOM)
    rows = ceil(len(ladders) / BANDS_ACROSS)
    tall = min(2.1 * BAND[1], BANDS_TALL / rows)
    lefts = (MARGIN, MARGIN + ROOM - BAND[0])
    several = len({drawn.view for drawn in ladders}) > 1
    for left in lefts[: len(ladders)]:
        _rungs(paper, ladders[0].ph.tolist(), left, y + 44)
    for place, drawn in enumerate(ladders):
        label = " + ".join(which.label for which in drawn.strengths).capitalize()
        label += f", {drawn.view}" if several else ""
        left, top = lefts[place // rows], y + 60 + tall * (place % rows)
        _band(paper, drawn.colours.hex.tolist(), label, (left, top, tall))
    y += 60 + tall * rows
    remark = _computed_for(ladders)
    return paper.cropped(paper.paragraph(MARGIN, y + 6, remark, REMARK, ROOM, color=FAINT) + 30)


def _rungs(paper: Paper, ph: Sequence[float], left: float, line: float) -> None:
    """The pH above a column of bands, of as many rungs as have room."""
    wide = BAND[0] / len(ph)
    for place in range(0, len(ph), ceil(44.0 / wide)):
        text = say("view.rung" if place else "view.first-rung", {"ph": ph[place]})
        paper.text(left + wide * (place + 0.5), line, text, WORD, align="center")


def _band(
    paper: Paper, colours: Sequence[str], label: str, place: tuple[float, float, float]
) -> None:
    """One ladder as a band, its name above it."""
    left, top, tall = place
    name, wide = 0.4 * tall, BAND[0] / len(colours)
    floor = top + 0.88 * tall
    paper.text(left, top + 0.8 * name, label, min(0.72 * name, 27.0), room=BAND[0])
    for rung, colour in enumerate(colours):
        x = left + wide * rung
        # One over the other's edge, so that no paper shows between them.
        right = min(x + wide + 1.0, left + BAND[0])
        paper.area(basin((x, top + name, right, floor), 0.0), facecolor=colour or GROUND)
    whole = basin((left, top + name, left + BAND[0], floor), 0.0)
    paper.area(whole, facecolor="none", edgecolor=FAINT, lw=0.8, zorder=3)


def draw_jar_rows(row: Rainbow) -> Figure:
    """Draw the jars of a class in rows: number, colour and pH large under each.

    Parameters
    ----------
    row : Rainbow
        As `dosing.bottle.rainbow.rainbow` gives it.

    Returns
    -------
    matplotlib.figure.Figure
        Save it with `dosing.pictures.sheets.write_picture`.
    """
    paper, drawn, jars = Paper(SIDE, 1.0), row.ladder, row.jars
    labels = " + ".join(which.label for which in drawn.strengths).capitalize()
    y = paper.paragraph(MARGIN, 30.0, labels, TITLE, ROOM) + 12
    columns = ceil(len(jars) / ceil(len(jars) / JARS_ACROSS))
    place = min(ROOM / columns, LARGEST_JAR)
    for start in range(0, len(jars), columns):
        for k, jar in enumerate(jars[start : start + columns]):
            x = MARGIN + place * (k + 0.5)
            foot = _water(paper, drawn.view, jar.hex, (x, y), place)
            words = (str(jar.number), jar.family, say("view.ph", {"ph": jar.answer.ph}))
            for line, (text, weight) in enumerate(
                zip(words, ("bold", "normal", "normal"), strict=True)
            ):
                at = foot + 38 + 32 * line
                paper.text(x, at, text, 28, room=place - 6, align="center", weight=weight)
        y = foot + 38 + 64 + 26
    remark = _computed_for([drawn])
    return paper.cropped(paper.paragraph(MARGIN, y, remark, REMARK, ROOM, color=FAINT) + 24)


def draw_ladders(ladders: Sequence[Ladder]) -> Figure:
    """Draw ladders one below the other: vessels in section, the pH and the word under each.

    Parameters
    ----------
    ladders : sequence of Ladder
        One or more; the same place in each row is the same rung.

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
        y = _rows(paper, drawn, y)
    remark = _remark(ladders)
    return paper.cropped(paper.paragraph(MARGIN, y + 24, remark, REMARK, ROOM, color=FAINT) + 30)


def _rows(paper: Paper, drawn: Ladder, top: float) -> float:
    """The vessels of a ladder, row by row; returns the lower end."""
    swatches = drawn.swatches
    most = max(PER_ROW, ceil(len(swatches) / MOST_ROWS))
    columns = ceil(len(swatches) / ceil(len(swatches) / most))
    place = ROOM / max(columns, 3)
    for start in range(0, len(swatches), columns):
        row, above = swatches[start : start + columns], top
        top = max(_vessel(paper, drawn.view, k, row[k], above, place) for k in range(len(row))) + 10
        _shade(paper, row, (above, top), place)
    return top


def _vessel(
    paper: Paper, view: str, column: int, swatch: Swatch, top: float, place: float
) -> float:
    """One vessel in the middle of its place, and its words; returns the lower end."""
    x = MARGIN + place * (column + 0.5)
    shrink = min(1.0, place / FULL)
    y = _water(paper, view, swatch.hex, (x, top), place) + 44 * shrink
    number = say("view.ph" if column == 0 else "view.number", {"ph": swatch.ph})
    paper.text(x, y, number, NUMBER * shrink, align="center")
    mark = "" if swatch.in_gamut else f" {say('view.out-of-gamut-mark')}"
    words = swatch.phrase + mark
    return paper.paragraph(x, y + 8 * shrink, words, WORD * shrink, 0.95 * place, align="center")


def _water(paper: Paper, view: str, colour: str, at: tuple[float, float], place: float) -> float:
    """A vessel of water below a point, in the middle of its place; returns the lower end."""
    wide, deep, shape = VESSELS[view]
    x, water = at[0], at[1] + 12 + place * shape.above
    box = (x - place * wide / 2, water, x + place * wide / 2, water + place * deep)
    shape = Shape(place * shape.corner, place * shape.above, shape.neck)
    paper.vessel([colour or GROUND], box, shape, 0.03 * place)
    return box[3] + 0.03 * place


def _shade(paper: Paper, row: Sequence[Swatch], ends: tuple[float, float], place: float) -> None:
    """Shade the places of a row whose pH needs no caution for an adult."""
    levels = gate_level([swatch.ph for swatch in row], "adult")
    for bathable, run in groupby(range(len(row)), key=lambda k: levels[k] == 0):
        if bathable:
            first, *others = run
            left, right = (MARGIN + place * k for k in (first, first + 1 + len(others)))
            paper.area(basin((left, ends[0], right, ends[1]), 0.0), facecolor=SHADE, zorder=0)


def _remark(ladders: Sequence[Ladder]) -> str:
    """What the shading and the marks mean, and what the colours are computed for."""
    swatches = [swatch for drawn in ladders for swatch in drawn.swatches]
    parts = [_computed_for(ladders)]
    if (gate_level([swatch.ph for swatch in swatches], "adult") == 0).any():
        parts.insert(0, say("view.bathable"))
    if not all(swatch.in_gamut for swatch in swatches):
        parts.append(say("view.out-of-gamut"))
    return " ".join(parts)


def _computed_for(ladders: Sequence[Ladder]) -> str:
    lights = ", ".join(dict.fromkeys(light_label(drawn.light) for drawn in ladders))
    return say("view.ladder-note", {"light": lights})
