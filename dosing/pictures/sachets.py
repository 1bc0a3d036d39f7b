"""The picture of a sachet: in which waters and tubs it turns, seen at one glance.

Tubs stand by the alkalinity of their water and by their size, each before and after the sachet; a
tub is the larger, the more homes are like it, and its mark says what becomes of most of these.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dosing.pictures.paper import FAINT, SHADE, Paper, Shape, basin
from dosing.plan.households import TOO_SOUR, TURNS
from dosing.sachets.answer import SachetAnswer
from dosing.words.filters import grams, litres, of_hundred
from indicator.notes import Value, say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LEFT, RIGHT, TOP, BOTTOM = 130.0, 1060.0, 200.0, 950.0
"""Where the tubs stand [px]."""
FEWEST, MOST = 0.5, 0.84
"""Width of the tub of fewest and of most homes, in its place."""


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
    paper, offer, cells = Paper(), answer.offer, answer.waters
    least, most = grams(offer.least_g), grams(offer.most_g)
    told = least if least == most else say("picture.sachet-range", {"least": least, "most": most})
    forbidden = not answer.allowed or bool(answer.over_the_limit)
    told, weight = (say("picture.make-none"), "bold") if forbidden else (told, "normal")
    used = paper.text(1040, 96, told, 34, room=560, align="right", weight=weight)
    paper.text(40, 96, answer.title, 44, room=970 - used)
    turns, sour = _hundred(offer.shares.turns_share), _hundred(offer.shares.past_limit_share)
    values: dict[str, Value] = {"turns": turns, "sour": sour}
    paper.text(40, 156, say("picture.sachet-homes", values), 30, room=1000, weight="bold")
    columns, rows = sorted({cell.ppm for cell in cells}), sorted({cell.litres for cell in cells})
    wide, tall = (RIGHT - LEFT) / len(columns), (BOTTOM - TOP) / len(rows)
    largest = max(cell.homes_share for cell in cells)
    for cell in cells:
        column, row = columns.index(cell.ppm), rows.index(cell.litres)
        if cell.verdict == TURNS and not forbidden:
            left, top = LEFT + wide * column, TOP + tall * row
            shade = basin((left, top, left + wide, top + tall), 0.0)
            paper.area(shade, facecolor=SHADE, zorder=0)
        x, floor = LEFT + wide * (column + 0.5), TOP + tall * (row + 0.72)
        size = FEWEST + (MOST - FEWEST) * float(np.sqrt(cell.homes_share / largest))
        half = size * min(wide, tall) / 2
        box = (x - half, floor - 1.3 * half, x + half, floor)
        colours = (str(cell.before.colour.hex), str(cell.after.colour.hex))
        level = "stop" if cell.verdict == TOO_SOUR else "ok"
        paper.vessel(colours, box, Shape(0.4 * half, 12.0), 4.0, level)
        mark = say(f"picture.sachet-mark.{cell.verdict.replace(' ', '-')}")
        paper.text(x, floor + 50, mark, 38, align="center", weight="bold")
    for row, (low, high) in enumerate(rows):
        paper.text(40, TOP + tall * (row + 0.6), litres((low + high) / 2), 28, room=LEFT - 50)
    for column, ends in enumerate(columns):
        x = LEFT + wide * (column + 0.5)
        paper.text(x, BOTTOM + 44, _between(*ends), 27, room=wide - 4, align="center")
    paper.text(RIGHT, BOTTOM + 88, say("picture.sachet-water"), 26, align="right", color=FAINT)
    paper.text(40, BOTTOM + 88, say("picture.sachet-marks"), 26, room=620, color=FAINT)
    return paper.figure


def _hundred(share: float) -> str:
    return of_hundred(share) if share else say("picture.none")


def _between(low: float, high: float) -> str:
    if low == 0:
        return say("picture.ppm-under", {"high": high})
    if np.isinf(high):
        return say("picture.ppm-over", {"low": low})
    return say("picture.ppm-range", {"low": low, "high": high})
