"""The banner: what is not as wished, in a frame that cannot be overlooked on any sheet."""

from __future__ import annotations

from dosing import wording
from dosing.records import Plan
from indicator.sheet import Sheet

LARGE, BODY = 12.0, 8.2
"""Sizes of type [points]."""


def draw_banner(sheet: Sheet, plan: Plan, left: float, right: float, top: float) -> float:
    """What is not as wished, in a frame that cannot be overlooked."""
    pad = 0.15
    x, width = left + pad, right - left - 2 * pad
    y = top - 0.6 * pad
    heads, reasons, follows = wording.refusal(plan)
    for text in heads:
        y = sheet.text(x, y, text, LARGE, width=width, bold=True)
    for text in (*reasons, *([] if follows is None else [follows])):
        y = sheet.text(x, y - 0.03, text, BODY, width=width)
    bottom = y - 0.7 * pad
    sheet.frame(left, top, right, bottom, 1.6)
    return bottom
