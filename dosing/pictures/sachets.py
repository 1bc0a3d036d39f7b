"""The picture of a sachet: in which waters and tubs it turns, seen at one glance.

Tubs stand by the alkalinity of their water and by their size, each before and after the sachet; a
tub is the larger, the more homes are like it, and its mark says what becomes of most of these.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import colour_at
from dosing.ingredients.hardness_units import alkalinity_in
from dosing.pictures.paper import FAINT, SHADE, Paper, Shape, basin
from dosing.plan.households import DOES_NOT_TURN, TOO_SOUR, TURNS, in_tub
from dosing.sachets.sizes import SachetAnswer
from dosing.words.filters import grams, litres, of_hundred
from indicator.notes import Value, say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

STEPS_PPM = (10.0, 20.0, 25.0, 50.0, 100.0, 200.0)
"""Widths of a column, in alkalinity."""
MOST_COLUMNS, ENDS = 5, (0.02, 0.98)
"""The homes between these shares have columns of their own; the last has what is beyond."""
ROWS = 3
"""Sizes of tub, each with as many homes."""
LEFT, RIGHT, TOP, BOTTOM = 130.0, 1060.0, 200.0, 950.0
"""Where the tubs stand [px]."""
FEWEST, MOST = 0.5, 0.84
"""Width of the tub of fewest and of most homes, in its place."""
LEVEL = {TURNS: "ok", DOES_NOT_TURN: "ok", TOO_SOUR: "stop"}


@dataclass(frozen=True)
class Cell:
    """Homes with about one water and one tub."""

    column: int
    row: int
    share: float
    """Of all homes."""
    verdict: str
    """What becomes of most of them."""
    before: str
    after: str
    """Colours of one of these, ``#rrggbb``."""


def draw_sachet(answer: SachetAnswer, inputs: RecipeInputs) -> Figure:
    """Draw what the recommended sachet, or the best single one, does in all homes.

    Parameters
    ----------
    answer : SachetAnswer
        What `dosing.sachets.sizes.sachet_answer` gave.
    inputs : RecipeInputs
        The recipe it was given for; its colours and view are drawn.

    Returns
    -------
    matplotlib.figure.Figure
        Square; save it with `dosing.pictures.sheets.write_picture`.
    """
    paper = Paper()
    if answer.recommended == "none":
        poured = np.full(answer.homes, (answer.single or answer.sizes[0]).grams)
    else:
        poured = answer.poured(answer.recommended)
    turned, past = answer.doses.turned_and_past(poured)
    least, most = grams(float(poured.min())), grams(float(poured.max()))
    told = least if least == most else say("picture.sachet-range", {"least": least, "most": most})
    used = paper.text(1040, 96, told, 34, room=560, align="right")
    paper.text(40, 96, answer.title, 44, room=970 - used)
    values: dict[str, Value] = {"turns": _hundred(turned), "sour": _hundred(past)}
    paper.text(40, 156, say("picture.sachet-homes", values), 30, room=1000, weight="bold")
    edges = _columns(answer)
    tubs_l, cells = grid_of(answer, inputs, poured, edges)
    wide, tall = (RIGHT - LEFT) / (len(edges) - 1), (BOTTOM - TOP) / ROWS
    largest = max(cell.share for cell in cells)
    for cell in cells:
        if cell.verdict == TURNS:
            x, y = LEFT + wide * cell.column, TOP + tall * cell.row
            paper.area(basin((x, y, x + wide, y + tall), 0.0), facecolor=SHADE, zorder=0)
        x, floor = LEFT + wide * (cell.column + 0.5), TOP + tall * (cell.row + 0.72)
        half = wide / 2 * (FEWEST + (MOST - FEWEST) * float(np.sqrt(cell.share / largest)))
        box = (x - half, floor - 1.3 * half, x + half, floor)
        paper.vessel(
            (cell.before, cell.after), box, Shape(0.4 * half, 12.0), 4.0, LEVEL[cell.verdict]
        )
        mark = say(f"picture.sachet-mark.{cell.verdict.replace(' ', '-')}")
        paper.text(x, floor + 50, mark, 38, align="center", weight="bold")
    for row, volume in enumerate(tubs_l):
        y = TOP + tall * (row + 0.6)
        paper.text(40, y, litres(volume), 28, room=LEFT - 50)
    for column, ends in enumerate(pairwise(edges)):
        x = LEFT + wide * (column + 0.5)
        paper.text(x, BOTTOM + 44, _between(*ends), 27, room=wide - 4, align="center")
    paper.text(RIGHT, BOTTOM + 88, say("picture.sachet-water"), 26, align="right", color=FAINT)
    paper.text(40, BOTTOM + 88, say("picture.sachet-marks"), 26, room=620, color=FAINT)
    return paper.figure


def grid_of(
    answer: SachetAnswer, inputs: RecipeInputs, poured_g: Array, edges_ppm: Sequence[float]
) -> tuple[tuple[float, ...], tuple[Cell, ...]]:
    """Homes by water and tub.

    Parameters
    ----------
    answer : SachetAnswer
        With the homes.
    inputs : RecipeInputs
        Whose bottle is in each tub.
    poured_g : numpy.ndarray
        Activator in each home, shape (homes,) [g].
    edges_ppm : sequence of float
        Alkalinity between the columns, from 0 to infinity [ppm].

    Returns
    -------
    tuple
        Middle volume of each row of tubs [L], and the cells that have homes.
    """
    population = answer.in_homes
    volume = population.volume_l
    alkalinity = alkalinity_in(population.homes.alkalinity_meq_l, "ppm")
    columns = np.searchsorted(edges_ppm, alkalinity, side="right") - 1
    rows = np.searchsorted(np.quantile(volume, np.arange(1, ROWS) / ROWS), volume, side="right")
    after = population.bath.with_activator(poured_g, population.per_gram).solve().ph
    turned, past = answer.doses.turned_and_past(poured_g)
    verdicts = np.where(past, TOO_SOUR, np.where(turned, TURNS, DOES_NOT_TURN))
    tubs_l = tuple(float(np.median(volume[rows == row])) for row in range(ROWS))

    def cells() -> Iterator[Cell]:
        for row in range(ROWS):
            setting = assemble(in_tub(inputs, tubs_l[row]))
            strengths, surfactants = setting.bath.strengths, setting.bath.surfactants_g_l
            for column in range(len(edges_ppm) - 1):
                here = np.flatnonzero((rows == row) & (columns == column))
                if not len(here):
                    continue
                names, counts = np.unique(verdicts[here], return_counts=True)
                verdict = str(names[np.argmax(counts)])
                like = here[verdicts[here] == verdict]
                middle = like[np.argsort(after[like])[len(like) // 2]]
                ph = np.array([answer.doses.start_ph[middle], after[middle]])
                hexes = colour_at(strengths, ph, setting.view, surfactants).hex
                share = len(here) / answer.homes
                yield Cell(column, row, share, verdict, *map(str, hexes))

    return tubs_l, tuple(cells())


def _columns(answer: SachetAnswer) -> list[float]:
    """Round edges of the columns that hold nearly all homes [ppm]."""
    alkalinity = alkalinity_in(answer.in_homes.homes.alkalinity_meq_l, "ppm")
    low, high = np.quantile(alkalinity, ENDS)
    steps = (step for step in STEPS_PPM if high // step - low // step < MOST_COLUMNS)
    step = next(steps, STEPS_PPM[-1])
    inner = step * np.arange(low // step + 1, high // step + 1)
    return [0.0, *map(float, inner), np.inf]


def _hundred(which: NDArray[np.bool_]) -> str:
    share = float(np.mean(which))
    return of_hundred(share) if share else say("picture.none")


def _between(low: float, high: float) -> str:
    if low == 0:
        return say("picture.ppm-under", {"high": high})
    if np.isinf(high):
        return say("picture.ppm-over", {"low": low})
    return say("picture.ppm-range", {"low": low, "high": high})
