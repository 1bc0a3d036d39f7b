"""Pictures that carry grams: one sheet to pin on the wall beside the tub.

The computed water is the only strong colour on it; caution levels are told by word, mark and
hatching, so that a grey print says the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from dosing.pictures.poster import BODY, LARGE, LEFT, RIGHT, SMALL, Poster
from dosing.pictures.tide_mark import draw_tide_mark
from dosing.pictures.vessel import draw_vessel, vessel_height
from dosing.plan.records import Plan, Sight
from dosing.words import wording
from indicator.notes import say, sentence
from indicator.sheet import FAINT, HAIRLINE, INK

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TITLE, HEADING = 21.0, 10.0
"""Sizes of type [points]."""
TUB_WIDTH = 2.0
BOTTLE_WIDTH = 0.6
CAPTION_WIDTH = 0.8
"""Of what stands under the bottle."""
DIRECTIONS_WIDTH = 2.55
GUTTER = 0.4


def draw_plan(plan: Plan) -> Figure:
    """The plan as one sheet: tub before and after, bottle, ribbon, directions, cautions.

    Parameters
    ----------
    plan : Plan
        A plan or a preview.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `indicator.sheet.write_picture`.
    """
    sheet = Poster()
    y = sheet.title(plan.title, TITLE, -0.38, not_for_bathing=plan.not_for_bathing)
    y = sheet.text(LEFT, y - 0.02, wording.vessel(plan), BODY, ink=FAINT)
    if not plan.reached:
        y = sheet.verdict(wording.refusal(plan), y - 0.14)
    y = _waters(sheet, plan, y - 0.3)
    if plan.has_ribbon:
        y = draw_tide_mark(sheet, plan, LEFT, RIGHT, y - 0.3)
    y = _columns(sheet, plan, y - 0.3)
    sheet.rule(LEFT, y - 0.2, RIGHT, y - 0.2, HAIRLINE)
    y = sheet.remark("figure.remark", plan.light, y - 0.29)
    return sheet.finished(y - 0.28)


def _waters(sheet: Poster, plan: Plan, top: float) -> float:
    """Bottle, bath before and bath after, as water in section on one floor."""
    width = TUB_WIDTH if plan.vessel == "tub" else 0.55 * TUB_WIDTH
    after_x = RIGHT - TUB_WIDTH / 2
    before_x = after_x - TUB_WIDTH - 0.95
    bottle_x = LEFT + CAPTION_WIDTH / 2
    height = vessel_height(plan.vessel, width)
    floor = top - max(height, vessel_height("bottle", BOTTLE_WIDTH))
    ends = []
    if plan.bottle is not None:
        ends.append(
            _water(sheet, "bottle", plan.bottle, bottle_x, floor, BOTTLE_WIDTH, CAPTION_WIDTH)
        )
    else:
        before_x -= 0.45
    for sight, x in ((plan.before, before_x), (plan.after, after_x)):
        ends.append(_water(sheet, plan.vessel, sight, x, floor, width, TUB_WIDTH + 0.1))
    _poured(sheet, plan, (before_x + after_x) / 2, floor + 0.5 * height)
    bottom = min(ends)
    if plan.drifts:
        text = say("figure.later", wording.later(plan.later, plan.after_airing))
        sheet.text(after_x, bottom - 0.02, text, SMALL, width=2.0, ink=FAINT, align="center")
        bottom -= 0.02 + 0.15 * len(sheet.lines(text, SMALL, 2.0))
    return bottom


def _water(
    sheet: Poster, kind: str, sight: Sight, x: float, floor: float, width: float, room: float
) -> float:
    """One vessel with its moment, pH and colour name under it."""
    draw_vessel(sheet.axes, kind, str(sight.colour.hex), x, floor, width)
    moment = wording.moment(sight)
    y = sheet.text(x, floor - 0.08, moment, SMALL, ink=FAINT, align="center")
    y = sheet.text(x, y, say("figure.ph", {"ph": sight.ph}), LARGE, align="center")
    return sheet.text(x, y, wording.colour_name(sight), BODY, width=room, align="center")


def _poured(sheet: Poster, plan: Plan, x: float, y: float) -> None:
    """The dose between the two baths, on an arrow from one to the other."""
    best = plan.dose_g.best
    reach = 0.36
    sheet.rule(x - reach, y, x + reach, y)
    head = 0.06
    sheet.axes.fill(
        [x + reach + head, x + reach - head, x + reach - head], [y, y + 0.045, y - 0.045], color=INK
    )
    sheet.text(x, y + 0.3, wording.aim(plan), LARGE + 2, bold=True, align="center")
    if best > 0:
        measured = wording.spoon_words_beside(plan)
        y = sheet.text(x, y - 0.07, measured, SMALL, width=0.95, align="center")
    water = say("figure.in-water", {"volume": wording.litres(plan.volume_l)})
    sheet.text(x, y if best > 0 else y - 0.07, water, SMALL, ink=FAINT, align="center")


def _columns(sheet: Poster, plan: Plan, top: float) -> float:
    """Directions on the left, cautions on the right."""
    right = LEFT + DIRECTIONS_WIDTH + GUTTER
    left_end = _notes(sheet, plan, _directions(sheet, plan, top))
    cautions = wording.heaviest_first(plan.cautions)
    right_end = sheet.cautions(cautions, top, gap=0.05, left=right)
    return min(left_end, right_end)


def _directions(sheet: Poster, plan: Plan, top: float) -> float:
    y = sheet.text(LEFT, top, say("plan.heading.dose"), HEADING, bold=True)
    y = sheet.text(LEFT, y - 0.05, wording.dose(plan), BODY, width=DIRECTIONS_WIDTH, bold=True)
    if plan.dose_g.best <= 0:
        return y
    shares = wording.blend(plan)
    texts = [] if shares is None else [shares]
    if plan.wish.kind != "dose":
        texts.append(wording.dose_range(plan))
    texts += [wording.spoon_dose(plan), wording.ph_sides(plan), *wording.odds(plan)]
    y = _paragraphs(sheet, texts, y)
    if not plan.forbidden:
        y = _pouring(sheet, plan, y - 0.12)
    y = sheet.text(LEFT, y - 0.12, say("plan.heading.undo"), HEADING, bold=True)
    return _paragraphs(sheet, wording.undoing(plan), y)


def _pouring(sheet: Poster, plan: Plan, top: float) -> float:
    y = sheet.text(LEFT, top, say("plan.heading.pour"), HEADING, bold=True)
    first, portions, end = wording.pouring(plan)
    y = _paragraphs(sheet, [first], y)
    for portion in portions:
        y = sheet.text(LEFT + 0.12, y - 0.04, portion, BODY, width=DIRECTIONS_WIDTH - 0.12)
    return y if end is None else _paragraphs(sheet, [end], y)


def _notes(sheet: Poster, plan: Plan, top: float) -> float:
    if not plan.warnings:
        return top
    y = sheet.text(LEFT, top - 0.12, say("plan.heading.notes"), HEADING, bold=True)
    return _paragraphs(sheet, [sentence(note) for note in plan.warnings], y)


def _paragraphs(sheet: Poster, texts: Sequence[str], y: float) -> float:
    return sheet.paragraphs(texts, y, gap=0.05, ends=(LEFT, LEFT + DIRECTIONS_WIDTH))


__all__ = ["draw_plan"]
