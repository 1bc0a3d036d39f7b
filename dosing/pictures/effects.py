"""The sheet of designs: a vessel for each, half before and half after, with what goes into it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dosing.effects.answer import Effects
from dosing.effects.designs import Design, labels
from dosing.pictures.vessel import draw_vessel, vessel_height
from dosing.words import effects as told
from dosing.words.wording import caution_line, colour_name
from indicator.appearance import light_label
from indicator.notes import Value, say, sentence
from indicator.sheet import FAINT, Sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure

WIDTH = 7.0
LEFT = 0.55
RIGHT = WIDTH - LEFT
BESIDE = 2.55
"""Where the words beside a vessel begin [in]."""
VESSEL = {"tub": 1.62, "jar": 0.95, "bottle": 0.8, "beaker": 0.95}
"""Widths [in]."""
TITLE, LARGE, BODY, SMALL = 19.0, 11.5, 8.4, 7.4
"""Sizes of type [points]."""
GAP = 0.2
BOX_HEIGHT = 0.36
"""Of a few words in a frame, with the space below it [in]."""


def draw_effects(effects: Effects) -> Figure:
    """The designs as one sheet, the best on top.

    Parameters
    ----------
    effects : Effects
        As `dosing.effects.answer.design_effects` gives them.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `indicator.sheet.write_picture`.
    """
    sheet = Sheet(WIDTH)
    y = _headline(sheet, effects)
    for rank, design in enumerate(effects.designs, start=1):
        values: dict[str, Value] = {"rank": rank, "colours": labels(design)}
        y = _design(sheet, effects, design, say("design.head", values), y)
    for code, extra in (
        ("beyond-shelf", effects.beyond_shelf),
        ("display", effects.display_only),
    ):
        if extra is not None:
            heading = f"{say(f'design.{code}')}: {labels(extra)}"
            y = _design(sheet, effects, extra, heading, y)
    sheet.rule(LEFT, y - GAP, RIGHT, y - GAP)
    y = _below(sheet, effects, y - GAP)
    sheet.rule(LEFT, y - GAP, RIGHT, y - GAP)
    values = {"light": light_label(effects.inputs.wish.light)}
    remark = say("design.figure.remark", values)
    y = sheet.text(LEFT, y - GAP - 0.1, remark, SMALL, width=RIGHT - LEFT, ink=FAINT)
    return sheet.finished(y - 0.28)


def _below(sheet: Sheet, effects: Effects, top: float) -> float:
    """What holds for all designs: cautions, what is poured from, and what to run first."""
    y = top - 0.02
    for heading, texts in (
        (told.cautions_heading(effects), map(caution_line, told.shared_cautions(effects))),
        ("design.heading-stocks", told.stock_lines(effects)),
        ("design.heading-next", told.next_lines(effects)),
    ):
        for number, text in enumerate(texts):
            if number == 0:
                y = sheet.text(LEFT, y - 0.1, say(heading), LARGE, bold=True)
            y = sheet.text(LEFT, y - 0.03, text, BODY, width=RIGHT - LEFT)
    return y


def _headline(sheet: Sheet, effects: Effects) -> float:
    top, room = -0.38, RIGHT - LEFT
    if effects.bathers == "nobody":
        room -= 0.2 + sheet.boxed(say("plan.not-for-bathing"), RIGHT, top - 0.06)
    y = sheet.text(LEFT, top, told.title(effects), TITLE, width=room)
    setting = told.setting_line(effects)
    y = sheet.text(LEFT, y - 0.03, setting, BODY, width=RIGHT - LEFT, ink=FAINT)
    y = sheet.text(LEFT, y - 0.1, told.outcome(effects), LARGE, width=RIGHT - LEFT, bold=True)
    reasons = [caution.message for caution in effects.blocked]
    reasons += [sentence(n) for n in effects.needed if not n.code.startswith("caution.")]
    for text in reasons:
        y = sheet.text(LEFT, y - 0.03, text, BODY, width=RIGHT - LEFT)
    return y


def _design(sheet: Sheet, effects: Effects, design: Design, heading: str, top: float) -> float:
    """One design under a hairline; returns its lower end."""
    sheet.rule(LEFT, top - GAP, RIGHT, top - GAP)
    start = top - GAP - 0.12
    room, floor_of_box = RIGHT - BESIDE, start
    if design.not_for_bathing and effects.bathers != "nobody":
        room -= 0.15 + sheet.boxed(say("plan.not-for-bathing"), RIGHT, start - 0.02)
        floor_of_box = start - BOX_HEIGHT
    y = min(sheet.text(BESIDE, start, heading, LARGE, width=room, bold=True), floor_of_box)
    for text in told.lines(design, effects):
        y = sheet.text(BESIDE, y - 0.015, text, BODY, width=RIGHT - BESIDE)
    kind = effects.inputs.wish.view
    width = VESSEL[kind]
    floor = start - vessel_height(kind, width) - 0.04
    before, after = str(design.before.colour.hex), str(design.after.colour.hex)
    middle = 0.5 * (LEFT + BESIDE - 0.25)
    draw_vessel(sheet.axes, kind, before, middle, floor, width, after=after)
    values: dict[str, Value] = {"before": design.before.ph, "after": design.after.ph}
    low = sheet.text(middle, floor - 0.06, say("design.figure.ph", values), LARGE, align="center")
    for sight, code in ((design.before, "before"), (design.after, "after")):
        name = say(f"design.figure.{code}", {"name": colour_name(sight)})
        for text in sheet.lines(name, SMALL, BESIDE - LEFT - 0.1):
            low = sheet.text(middle, low, text, SMALL, align="center")
    hexes: dict[str, Value] = {"before": before, "after": after}
    low = sheet.text(middle, low, say("design.hexes", hexes), SMALL, ink=FAINT, align="center")
    return min(y, low)
