"""The running order of a programme as one sheet, to pin on the wall beside the tub."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dosing.pictures.banner import draw_frame
from dosing.pictures.course import draw_cautions
from dosing.soak.stages import Programme
from dosing.words import programme as words
from indicator.appearance import light_label
from indicator.notes import say
from indicator.sheet import FAINT, Sheet
from indicator.swatch import draw_vessel, vessel_height

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH = 7.0
LEFT, RIGHT = 0.55, WIDTH - 0.55
TITLE, HEADING, BODY, SMALL = 19.0, 11.0, 8.4, 7.4
"""Sizes of type [points]."""
TUB_WIDTH = 1.35
COLUMN = LEFT + TUB_WIDTH + 0.3
"""Where the words begin [in]."""


def draw_programme(programme: Programme) -> Figure:
    """The running order: a vessel with its computed water and what to do for every step.

    Parameters
    ----------
    programme : Programme
        As `dosing.soak.steps.make_programme` gives it.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `indicator.sheet.write_picture`.
    """
    sheet = Sheet(WIDTH)
    y = _headline(sheet, programme)
    y = _row(sheet, programme, str(programme.before.hex), words.before(programme), [], y - 0.22)
    for number, stage in enumerate(programme.stages, 1):
        heading, texts = words.heading(stage, number), words.steps(programme, number)
        y = _row(sheet, programme, str(stage.colour.hex), heading, texts, y - 0.2)
    y = _foot(sheet, programme, y - 0.2)
    return sheet.finished(y - 0.28)


def _headline(sheet: Sheet, programme: Programme) -> float:
    top, room = -0.36, RIGHT - LEFT
    if programme.not_for_bathing:
        room -= 0.2 + sheet.boxed(say("plan.not-for-bathing"), RIGHT, top - 0.06)
    title = say("programme.title", {"title": programme.title})
    y = sheet.text(LEFT, top, title, TITLE, width=room)
    y = sheet.text(LEFT, y - 0.02, words.tub(programme), BODY, ink=FAINT)
    heads, reasons, follows = words.verdict(programme)
    if heads:
        texts = [*reasons, *([] if follows is None else [follows])]
        y = draw_frame(sheet, heads, texts, LEFT, RIGHT, y - 0.12)
    if (company := words.company(programme)) is not None:
        y = sheet.text(LEFT, y - 0.08, company, BODY, bold=True, width=RIGHT - LEFT)
    return y


def _row(
    sheet: Sheet,
    programme: Programme,
    water: str,
    heading: str,
    texts: list[str],
    top: float,
) -> float:
    """One step: its water at the left, its words at the right; returns y below both."""
    wide = TUB_WIDTH if programme.vessel == "tub" else 0.6 * TUB_WIDTH
    floor = top - 0.04 - vessel_height(programme.vessel, wide)
    draw_vessel(sheet.axes, programme.vessel, water, LEFT + TUB_WIDTH / 2, floor, wide)
    y = sheet.text(COLUMN, top, heading, HEADING, bold=True, width=RIGHT - COLUMN)
    for text in texts:
        y = sheet.text(COLUMN, y - 0.02, text, BODY, width=RIGHT - COLUMN)
    bottom = min(y, floor) - 0.1
    sheet.rule(LEFT, bottom, RIGHT, bottom)
    return bottom


def _foot(sheet: Sheet, programme: Programme, top: float) -> float:
    y = top
    for text in words.whole(programme):
        y = sheet.text(LEFT, y, text, BODY, width=RIGHT - LEFT)
    y = draw_cautions(sheet, programme.cautions, LEFT, RIGHT, y - 0.08, (HEADING, SMALL))
    light = say("programme.remark", {"light": light_label(programme.light)})
    return sheet.text(LEFT, y - 0.1, light, SMALL, width=RIGHT - LEFT, ink=FAINT)
