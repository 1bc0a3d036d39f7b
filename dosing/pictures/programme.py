"""The running order of a programme as one sheet, to pin on the wall beside the tub."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dosing.pictures.poster import LEFT, RIGHT, SMALL, Poster
from dosing.pictures.vessel import draw_vessel, vessel_height
from dosing.soak.stages import Programme
from dosing.words import programme as words
from dosing.words.course import tub, verdict
from indicator.notes import say
from indicator.sheet import FAINT

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TITLE, HEADING, BODY = 19.0, 11.0, 8.4
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
    sheet = Poster()
    y = _headline(sheet, programme)
    y = _row(sheet, programme, str(programme.before.hex), words.before(programme), [], y - 0.22)
    for number, stage in enumerate(programme.stages, 1):
        heading, texts = words.heading(stage, number), words.steps(programme, number)
        y = _row(sheet, programme, str(stage.colour.hex), heading, texts, y - 0.2)
    y = _foot(sheet, programme, y - 0.2)
    return sheet.finished(y - 0.28)


def _headline(sheet: Poster, programme: Programme) -> float:
    title = say("programme.title", {"title": programme.title})
    y = sheet.title(title, TITLE, -0.36, not_for_bathing=programme.not_for_bathing)
    y = sheet.text(LEFT, y - 0.02, tub(programme), BODY, ink=FAINT)
    refusal = verdict(programme)
    if refusal[0]:
        y = sheet.verdict(refusal, y - 0.12)
    if (company := words.company(programme)) is not None:
        y = sheet.text(LEFT, y - 0.08, company, BODY, bold=True, width=RIGHT - LEFT)
    return y


def _row(
    sheet: Poster,
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
    y = sheet.paragraphs(texts, y, BODY, ends=(COLUMN, RIGHT))
    bottom = min(y, floor) - 0.1
    sheet.rule(LEFT, bottom, RIGHT, bottom)
    return bottom


def _foot(sheet: Poster, programme: Programme, top: float) -> float:
    y = sheet.paragraphs(words.whole(programme), top, BODY, gap=0.0)
    y = sheet.cautions(programme.cautions, y - 0.08, (HEADING, SMALL))
    return sheet.remark("programme.remark", programme.light, y - 0.1)
