"""The picture of a sachet: in which waters and tubs it turns, seen at one glance.

Tubs stand by the alkalinity of their water and by their size, each before and after the sachet.
Under each stand what becomes of most homes like it, as a mark, and how many of them turn.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dosing.pictures.paper import FAINT, SHADE, Paper, Shape, basin
from dosing.plan.households import DOES_NOT_TURN, TOO_SOUR, TURNS
from dosing.sachets.answer import SachetAnswer
from dosing.sachets.waters import WaterCell
from dosing.words.filters import grams, hundred, litres
from indicator.notes import Value, say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LEFT, RIGHT, TOP, BOTTOM = 140.0, 1060.0, 190.0, 915.0
"""Where the tubs stand [px]."""
WIDEST = 0.84
"""Width of the largest tub over its place."""
MARKS = {TURNS: "✓", DOES_NOT_TURN: "–", TOO_SOUR: "X"}
GAP = 56.0
"""Between two entries of the legend [px]."""


def draw_sachet(answer: SachetAnswer) -> Figure:
    """Draw what is sold, or comes nearest, in all homes.

    Parameters
    ----------
    answer : SachetAnswer
        What `dosing.sachets.answer.sachet_answer` gave.

    Returns
    -------
    matplotlib.figure.Figure
        Square; save it with `dosing.pictures.sheets.write_picture`.
    """
    paper, cells = Paper(), answer.waters
    made = answer.worth_making() and not answer.over_the_limit
    _head(paper, answer, made=made)
    columns, rows = sorted({cell.ppm for cell in cells}), sorted({cell.litres for cell in cells})
    wide, tall = (RIGHT - LEFT) / len(columns), (BOTTOM - TOP) / len(rows)
    shares = np.array([cell.homes_share for cell in cells])
    turned = shares * [cell.shares.turns_share for cell in cells]
    many = _hundredths(turned), _hundredths(shares - turned)
    for cell, turns, rest in zip(cells, *many, strict=True):
        column, row = columns.index(cell.ppm), rows.index(cell.litres)
        left, top = LEFT + wide * column, TOP + tall * row
        size = WIDEST * float(np.sqrt(sum(cell.litres) / sum(rows[-1])))
        place = (left, top, left + wide, top + tall)
        told = say("picture.sachet-cell", {"turns": turns, "count": turns + rest})
        _tub(paper, cell, place, size, told, shade=made)
    for row, (low, high) in enumerate(rows):
        paper.text(40, TOP + tall * (row + 0.5), litres((low + high) / 2), 30, room=LEFT - 50)
    for column, ends in enumerate(columns):
        x = LEFT + wide * (column + 0.5)
        paper.text(x, BOTTOM + 40, _between(*ends), 30, room=wide - 8, align="center")
    paper.text(RIGHT, BOTTOM + 82, say("picture.sachet-water"), 30, align="right", color=FAINT)
    x = 40.0
    for verdict, told in _verdicts(answer).items():
        x += GAP + paper.text(x, BOTTOM + 140, f"{MARKS[verdict]} {told}", 32)
    return paper.figure


def _head(paper: Paper, answer: SachetAnswer, *, made: bool) -> None:
    """Title, grams, and what becomes of a hundred homes; no grams where none is to be made."""
    least, most = grams(answer.offer.least_g), grams(answer.offer.most_g)
    told = least if least == most else say("picture.sachet-range", {"least": least, "most": most})
    told, weight = (told, "normal") if made else (say("picture.make-none"), "bold")
    used = paper.text(1040, 96, told, 34, room=560, align="right", weight=weight)
    paper.text(40, 96, answer.title, 44, room=970 - used)
    shares = answer.offer.shares
    turns, sour = hundred(shares.turns_share), hundred(shares.past_limit_share)
    values: dict[str, Value] = {"turns": turns, "sour": sour}
    line = say("picture.sachet-homes" if made else "picture.sachet-at-best", values)
    paper.text(40, 156, line, 32, room=1000, weight="bold")


def _tub(
    paper: Paper, cell: WaterCell, place: tuple[float, float, float, float], size: float,
    told: str, *, shade: bool,
) -> None:  # fmt: skip
    """One tub in its place, as wide as `size` of it, with its mark and what is told of it."""
    left, top, right, bottom = place
    x, floor = (left + right) / 2, top + 0.6 * (bottom - top)
    half = size * min(right - left, bottom - top) / 2
    if shade and cell.verdict == TURNS:
        paper.area(basin(place, 0.0), facecolor=SHADE, zorder=0)
    colours = (str(cell.before.colour.hex), str(cell.after.colour.hex))
    level = "stop" if cell.verdict == TOO_SOUR else "ok"
    box = (x - half, floor - 1.3 * half, x + half, floor)
    paper.vessel(colours, box, Shape(0.4 * half, 12.0), 4.0, level)
    paper.text(x, floor + 48, MARKS[cell.verdict], 38, align="center", weight="bold")
    paper.text(x, floor + 80, told, 27, room=right - left - 8, align="center")


def _hundredths(shares: NDArray[np.float64]) -> list[int]:
    """Shares in whole hundredths that add up to their sum, as the headline has it."""
    ends = np.round(100.0 * np.cumsum(shares))
    return [int(each) for each in np.diff(ends, prepend=0.0)]


def _verdicts(answer: SachetAnswer) -> dict[str, str]:
    """What the marks mean; a tub may change and yet fall short of the pH or colour wished."""
    wished = "change" if answer.wish is None else answer.wish.kind
    return {
        TURNS: say("picture.sachet-mark.turns"),
        DOES_NOT_TURN: say(f"picture.sachet-mark.not-{wished}"),
        TOO_SOUR: say("picture.sachet-mark.too-sour"),
    }


def _between(low: float, high: float) -> str:
    if low == 0:
        return say("picture.ppm-under", {"high": high})
    if np.isinf(high):
        return say("picture.ppm-over", {"low": low})
    return say("picture.ppm-range", {"low": low, "high": high})
