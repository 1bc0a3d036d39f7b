"""The banner: what is not as wished, in a frame that cannot be overlooked on any sheet."""

from __future__ import annotations

from collections.abc import Sequence

from dosing.plan.records import Plan
from dosing.words import wording
from indicator.sheet import Sheet

LARGE, BODY = 12.0, 8.2
"""Sizes of type [points]."""


def draw_banner(sheet: Sheet, plan: Plan, left: float, right: float, top: float) -> float:
    """What is not as wished, in a frame that cannot be overlooked."""
    heads, reasons, follows = wording.refusal(plan)
    texts = [*reasons, *([] if follows is None else [follows])]
    return draw_frame(sheet, heads, texts, left, right, top)


def draw_frame(
    sheet: Sheet,
    heads: Sequence[str],
    texts: Sequence[str],
    left: float,
    right: float,
    top: float,
    sizes: tuple[float, float] = (LARGE, BODY),
) -> float:
    """Heads in bold and texts below them in a frame; returns y below it [in]."""
    pad = 0.15
    x, width = left + pad, right - left - 2 * pad
    y = top - 0.6 * pad
    for text in heads:
        y = sheet.text(x, y, text, sizes[0], width=width, bold=True)
    for text in texts:
        y = sheet.text(x, y - 0.03, text, sizes[1], width=width)
    bottom = y - 0.7 * pad
    sheet.frame(left, top, right, bottom, 1.6)
    return bottom
