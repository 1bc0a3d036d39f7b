"""Six homes: one bottle and one sachet in six tubs, before and after, the maker's own first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dosing.pictures.paper import FAINT, Paper, Shape
from dosing.plan.households import Home
from dosing.plan.records import Plan
from dosing.words.filters import grams, litres, ppm
from indicator.notes import say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

COLUMNS, PLACE, TALL = 3, 340.0, 440.0
"""Homes in a row, and the room of each [px]."""
SMALL, LARGE = 236.0, 292.0
"""Widths of a tub; one with more water is drawn larger [px]."""


def draw_homes(plan: Plan, homes: Sequence[Home]) -> Figure:
    """Draw the homes three to a row, each tub with its verdict.

    Parameters
    ----------
    plan : Plan
        The plan whose sachet and bottle go round.
    homes : sequence of Home
        As `dosing.plan.households.six_homes` gives them, row by row.

    Returns
    -------
    matplotlib.figure.Figure
        Square; save it with `dosing.pictures.sheets.write_picture`.
    """
    paper = Paper()
    told, weight = grams(plan.pour_g), "normal"
    if not plan.verdicts.pour.allowed:
        told, weight = say("picture.do-not-pour"), "bold"
    used = paper.text(1040, 96, told, 34, room=600, align="right", weight=weight)
    paper.text(40, 96, plan.title, 44, room=970 - used)
    for place, home in enumerate(homes):
        across, down = place % COLUMNS, place // COLUMNS
        _home(paper, home, 30 + PLACE * (across + 0.5), 150 + TALL * down)
    return paper.figure


def _home(paper: Paper, home: Home, x: float, top: float) -> None:
    """One home around x: its water, its tub, and whether it turns."""
    paper.text(x, top + 40, say(f"picture.water.{home.water}"), 32, align="center", weight="bold")
    amounts = f"{litres(home.volume_l)} · {ppm(home.alkalinity_meq_l)}"
    paper.text(x, top + 80, amounts, 27, align="center", color=FAINT)
    half = (LARGE if home.size == "large" else SMALL) / 2
    box = (x - half, top + 290 - half, x + half, top + 300)
    waters = [str(sight.colour.hex) for sight in (home.before, home.after)]
    paper.vessel(waters, box, Shape(0.45 * half, 24.0), 8.0, home.level)
    verdict = home.verdict.replace(" ", "-")
    paper.text(x, top + 352, say(f"picture.verdict.{verdict}"), 30, align="center", weight="bold")
    values = {"before": home.before.ph, "after": home.after.ph}
    paper.text(x, top + 390, say("picture.ph-from-to", values), 27, align="center", color=FAINT)
