"""The sheet of the six homes: one bottle and one sachet, six tubs, each half before, half after."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dosing.pictures.poster import LARGE, LEFT, RIGHT, Poster
from dosing.pictures.vessel import draw_vessel, vessel_height
from dosing.plan.households import Home
from dosing.plan.records import Plan
from dosing.words import wording
from indicator.notes import Value, say
from indicator.sheet import FAINT

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TITLE, BODY, SMALL = 21.0, 8.6, 7.6
"""Sizes of type [points]."""
SMALL_TUB, LARGE_TUB = 1.4, 1.72
"""Widths [in]; a tub with more water is drawn larger."""
IN_A_ROW = 3


def draw_homes(plan: Plan, homes: Sequence[Home]) -> Figure:
    """The homes as one sheet, three to a row.

    Parameters
    ----------
    plan : Plan
        The plan whose sachet and bottle go round.
    homes : sequence of Home
        As `dosing.plan.households.six_homes` gives them, row by row.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `indicator.sheet.write_picture`.
    """
    sheet = Poster()
    y = _headline(sheet, plan, homes)
    if not plan.reached:
        y = sheet.verdict(wording.refusal(plan), y - 0.14)
    for start in range(0, len(homes), IN_A_ROW):
        y = _row(sheet, plan, homes[start : start + IN_A_ROW], y - 0.3)
    sheet.rule(LEFT, y - 0.28, RIGHT, y - 0.28)
    y = sheet.remark("homes.remark", plan.light, y - 0.38, SMALL)
    return sheet.finished(y - 0.28)


def _headline(sheet: Poster, plan: Plan, homes: Sequence[Home]) -> float:
    title = say("homes.title", {"title": plan.title})
    y = sheet.title(title, TITLE, -0.38, not_for_bathing=plan.not_for_bathing)
    room = RIGHT - LEFT
    values: dict[str, Value] = {"grams": wording.aim(plan), "powder": wording.powders(plan)}
    y = sheet.text(LEFT, y - 0.02, say("homes.same", values), BODY, width=room, ink=FAINT)
    return sheet.text(LEFT, y - 0.06, wording.homes_count(homes), LARGE, width=RIGHT - LEFT)


def _centres(count: int) -> list[float]:
    column = (RIGHT - LEFT) / count
    return [LEFT + column * (place + 0.5) for place in range(count)]


def _water(sheet: Poster, home: Home, x: float, top: float) -> float:
    y = sheet.text(x, top, wording.home_water(home), 10.0, bold=True, align="center")
    y = sheet.text(x, y, wording.home_tub(home), SMALL, align="center")
    return sheet.text(x, y, wording.home_alkalinity(home), SMALL, ink=FAINT, align="center")


def _row(sheet: Poster, plan: Plan, row: Sequence[Home], top: float) -> float:
    widths = [LARGE_TUB if home.size == "large" else SMALL_TUB for home in row]
    places = list(zip(row, _centres(len(row)), widths, strict=True))
    y = min(_water(sheet, home, x, top) for home, x, _ in places)
    floor = y - 0.04 - vessel_height(plan.vessel, max(widths))
    ends = [_home(sheet, plan, home, x, floor, width) for home, x, width in places]
    return min(ends)


def _home(sheet: Poster, plan: Plan, home: Home, x: float, floor: float, width: float) -> float:
    before, after = str(home.before.colour.hex), str(home.after.colour.hex)
    if plan.vessel != "tub":
        width *= 0.62
    draw_vessel(sheet.axes, plan.vessel, before, x, floor, width, after=after)
    values: dict[str, Value] = {"before": home.before.ph, "after": home.after.ph}
    y = sheet.text(x, floor - 0.07, say("homes.ph", values), LARGE, align="center")
    verdict = wording.home_verdict(home)
    y = sheet.text(x, y - 0.01, verdict, BODY, bold=True, align="center")
    names = wording.home_names(home)
    return sheet.text(x, y - 0.01, names, SMALL, width=1.85, ink=FAINT, align="center")
