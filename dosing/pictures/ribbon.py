"""The head of a plan's sheet: its tub before and after, and below it the colour along the dose.

The tide mark is a ribbon of computed colours under a waterline, with grams as ticks and the pH
written along it; the reaches that a caution speaks about are hatched in three densities.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dosing.pictures.paper import HATCHING, SIDE, Box, Paper, Shape, basin, ink_on
from dosing.pictures.shop import Shown, draw_waters, shown_plan
from dosing.plan.records import Plan
from dosing.words.filters import grams, level, mark
from indicator.notes import say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

TYPE = 21.0
"""[px]"""
APART = 16.0
"""Least space between two labels of a row [px]."""
MOST_TICKS = 8
HEIGHTS = (64, 94)
"""Above the waterline of what is marked: the dose, the most; turned round at the left [px]."""
NEAR_END = 220.0
"""From an end within which a label has its line on the side of that end [px]."""
SHORE = 30.0
"""Height of the hatched part at the ribbon's floor [px]."""


def draw_head(shown: Shown) -> Figure:
    """Draw a low, wide vessel for the head of a sheet, whose title and grams stand in its text.

    Parameters
    ----------
    shown : Shown
        As `dosing.pictures.shop` makes it.

    Returns
    -------
    matplotlib.figure.Figure
        For `dosing.pictures.sheets.write_sheet`.
    """
    paper = Paper(SIDE, 300)
    draw_waters(paper, shown, (22.0, 52.0, 1058.0, 276.0), Shape(90.0, 45.0))
    return paper.figure


def draw_jars(jars: Sequence[tuple[str, str]]) -> Figure:
    """Draw a row of jars for the head of a sheet, as they should look one after the other.

    Parameters
    ----------
    jars : sequence of tuple
        What is in each in all, in words, and its colour, ``#rrggbb``.

    Returns
    -------
    matplotlib.figure.Figure
        For `dosing.pictures.sheets.write_sheet`.
    """
    place = min((SIDE - 40.0) / len(jars), 180.0)
    size = 0.22 * min(place, 136.0)
    paper = Paper(SIDE, 1.25 * place + 2.0 * size)
    for number, (text, colour) in enumerate(jars):
        x, half = 20.0 + place * (number + 0.5), 0.38 * place
        box = (x - half, 0.4 * place, x + half, 1.15 * place)
        shape = Shape(0.12 * place, 0.34 * place, neck=0.86)
        paper.vessel([colour], box, shape, 0.03 * place)
        paper.text(x, 1.2 * place + 1.5 * size, text, size, align="center")
    return paper.figure


def draw_plan_head(plan: Plan) -> Figure:
    """Draw the tub before and after, and the ribbon of colour along the dose under it.

    Parameters
    ----------
    plan : Plan
        A plan or a preview.

    Returns
    -------
    matplotlib.figure.Figure
        For `dosing.pictures.sheets.write_sheet`.
    """
    shown = shown_plan(plan)
    if not plan.has_ribbon:
        return draw_head(shown)
    paper = Paper(SIDE, 536)
    draw_waters(paper, shown, (22.0, 52.0, 1058.0, 236.0), Shape(80.0, 45.0))
    draw_ribbon(paper, plan, shown, (22.0, 372.0, 1058.0, 446.0))
    return paper.figure


def draw_ribbon(paper: Paper, plan: Plan, shown: Shown, box: Box) -> None:
    """Draw the colour along the dose.

    Parameters
    ----------
    paper : Paper
        Where it is drawn.
    plan : Plan
        Whose ribbon.
    shown : Shown
        The same plan; where it has no grams, none are marked.
    box : tuple of float
        Left, waterline, right and floor of the ribbon [px].
    """
    from matplotlib.colors import to_rgb
    from matplotlib.path import Path as Outline

    ribbon, (left, top, right, floor) = plan.ribbon, box
    most = float(ribbon.grams[-1])
    rgb = np.array([to_rgb(str(colour)) for colour in ribbon.colours.hex])
    extent = (left, right, floor, top)
    paper.axes.imshow(rgb[None], extent=extent, interpolation="bilinear", aspect="auto")
    middles = [0.0, *(ribbon.grams[1:] + ribbon.grams[:-1]) / 2, most]
    for name, first, end in runs(ribbon.level):
        if name in HATCHING:
            start, stop = (left + (right - left) * middles[k] / most for k in (first, end))
            ink = ink_on(str(ribbon.colours.hex[(first + end) // 2]))
            shore = (start, floor - SHORE, stop, floor)
            paper.hatch(name, shore, Outline(basin(shore, 0.0)), ink)
            told = f"{mark(name)} {level(name)}"
            room = stop - start - APART / 2
            told = told if 0.4 * TYPE * len(told) < room else mark(name)
            paper.text((start + stop) / 2, floor + 66, told, TYPE, room=room, align="center")
    paper.rule(left - 12, top, right + 12, top, 3.0)
    for mass in _round_steps(most):
        x = left + (right - left) * mass / most
        paper.rule(x, floor, x, floor + 8)
        text = f"{mass:g}" if mass else say("picture.no-grams")
        paper.text(x, floor + 34, text, TYPE, align="center" if mass else "left")
    marks = list(_marks(plan)) if shown.poured else []
    places = [left + (right - left) * min(mass / most, 1.0) for mass, _ in marks]
    _ph_along(paper, plan, box, places)
    # The line of the lower label ends under the higher one, which lies across it.
    at_left = bool(places) and places[0] < left + NEAR_END
    heights = HEIGHTS[::-1] if at_left else HEIGHTS
    for x, (_, text), height in zip(places, marks, heights, strict=False):
        paper.rule(x, floor, x, top - height, 3.0)
        beside = {"left": 8, "right": -8}
        align = "left" if at_left and x < right - NEAR_END else "right"
        paper.text(x + beside[align], top - height + 14, text, TYPE, align=align)


def _marks(plan: Plan) -> Iterator[tuple[float, str]]:
    """The dose, and the most where a scale tells it from the dose."""
    poured = [pour.grams for pour in plan.portions if not pour.spare] or [plan.pour_g]
    masses = say("picture.and-then").join(grams(mass, plan.scale_step_g) for mass in poured)
    yield plan.pour_g, say("picture.dose", {"grams": masses})
    if plan.wish.kind != "dose" and not plan.nothing_to_spare:
        yield plan.never_over_g, say("picture.most", {"grams": grams(plan.never_over_g)})


def _ph_along(paper: Paper, plan: Plan, box: Box, lines: Sequence[float]) -> None:
    """The pH above the waterline, at its start and at every half unit, where there is room."""
    ribbon, (left, top, right, _) = plan.ribbon, box
    order = np.argsort(ribbon.ph)
    halves = np.arange(np.ceil(2 * ribbon.ph.min()), np.floor(2 * ribbon.ph.max()) + 1) / 2
    halves = halves if ribbon.ph[0] < ribbon.ph[-1] else halves[::-1]
    places = np.interp(halves, ribbon.ph[order], ribbon.grams[order]) / ribbon.grams[-1]
    start = say("picture.ph", {"ph": float(ribbon.ph[0])})
    taken = left
    if min(lines, default=right) > left + 4.0 * TYPE:
        taken += paper.text(left, top - 12, start, TYPE)
    for ph, x in zip(halves, left + (right - left) * places, strict=True):
        in_the_way = any(abs(x - line) < 24 for line in lines)
        if in_the_way or x - 14 - APART < taken or x + 14 > right + 12:
            continue
        paper.rule(x, top, x, top - 7)
        taken = x + paper.text(x, top - 12, f"{ph:.1f}", TYPE, align="center") / 2


def _round_steps(most: float) -> list[float]:
    """0, and round numbers up to `most`, few enough to read."""
    raw = most / MOST_TICKS
    power = 10.0 ** np.floor(np.log10(raw))
    step = power * next(step for step in (1.0, 2.0, 5.0, 10.0) if step * power >= raw * 0.999)
    return [float(round(k * step, 10)) for k in range(int(most / step * 1.000001) + 1)]


def runs(items: Sequence[str]) -> Iterator[tuple[str, int, int]]:
    """Runs of equal items as (item, first place, place after the last)."""
    first = 0
    for item, group in groupby(items):
        end = first + len(list(group))
        yield item, first, end
        first = end
