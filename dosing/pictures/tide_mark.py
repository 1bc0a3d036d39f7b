"""The tide mark: a ribbon of computed colours under a waterline.

Grams and spoons are its ticks, the pH stands along the waterline, the reaches that a caution speaks
about are hatched in three densities with their word beneath.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from dosing.ingredients.powders import spoons
from dosing.pictures.poster import BODY, HATCHING, SMALL, Poster, ink_on, marks_explained, runs
from dosing.plan.records import Plan, Ribbon
from dosing.words import wording
from indicator.notes import say
from indicator.sheet import FAINT, GROUND, INK

Array = NDArray[np.float64]

MOST_TICKS = 8
MOST_TEASPOONS = 12
"""Beyond these the ticks are tablespoons."""
APART = 0.1
"""Least space between two labels of a row [in]."""


@dataclass(frozen=True)
class _Scale:
    """Where grams lie on the sheet."""

    left: float
    right: float
    most_g: float

    def x(self, grams: float) -> float:
        return self.left + (self.right - self.left) * grams / self.most_g


def draw_tide_mark(sheet: Poster, plan: Plan, left: float, right: float, top: float) -> float:
    """Draw the ribbon of a plan.

    Parameters
    ----------
    sheet : Poster
        Where it is drawn.
    plan : Plan
        Whose ribbon it is.
    left, right : float
        Ends of the ribbon [in].
    top : float
        y at which its heading begins [in].

    Returns
    -------
    float
        y below it [in].
    """
    from matplotlib.colors import to_rgb

    ribbon = plan.ribbon
    scale = _Scale(left, right, float(ribbon.grams[-1]))
    y = sheet.text(left, top, say("plan.heading.ribbon"), 10.0, bold=True)
    waterline = y - (0.68 if plan.dose_g.best > 0 else 0.24)
    rgb = np.array([to_rgb(str(hex_colour)) for hex_colour in ribbon.colours.hex])
    floor = sheet.water(rgb, (left, right), waterline, "bilinear")
    sheet.rule(left - 0.12, waterline, right + 0.12, waterline, 1.3)
    levels_y = _reaches(sheet, ribbon, scale, floor)
    if plan.dose_g.best > 0:
        _marks(sheet, plan, scale, waterline, floor)
    _names(sheet, plan, scale, waterline)
    _ph_along(sheet, ribbon, scale, waterline)
    bottom = _ticks(sheet, plan, scale, levels_y)
    bottom = sheet.text(left, bottom - 0.04, marks_explained(), SMALL, ink=FAINT)
    return sheet.text(left, bottom, wording.ribbon_note(plan), SMALL, width=right - left, ink=FAINT)


def _reaches(sheet: Poster, ribbon: Ribbon, scale: _Scale, floor: float) -> float:
    """Hatch what a caution speaks about; returns y below the words."""
    words_y = floor - 0.05
    for level, first, end in runs(ribbon.level):
        left, right = _edges(ribbon, scale, first, end)
        if level in HATCHING:
            lightness = float(np.mean(ribbon.colours.lab[first:end, 0]))
            sheet.hatching(level, (left, right), floor, lightness)
        mark = wording.MARKS[level]
        for label in (f"{mark} {wording.level(level)}".strip(), mark):
            if label and sheet.measure(label, SMALL) <= right - left:
                sheet.text((left + right) / 2, words_y, label, SMALL, align="center")
                break
    return words_y - 0.17


def _names(sheet: Poster, plan: Plan, scale: _Scale, waterline: float) -> None:
    """The names of the colours, written into the water where there is room."""
    ribbon = plan.ribbon
    plumbs = [scale.x(grams) for grams in (plan.dose_g.best, plan.maximum_g) if grams > 0]
    for name, first, end in runs([str(name) for name in ribbon.colours.name]):
        left, right = _widest(*_edges(ribbon, scale, first, end), plumbs)
        lightness = float(np.mean(ribbon.colours.lab[first:end, 0]))
        lines = sheet.lines(name, SMALL, right - left - APART)
        if (
            len(lines) > 2
            or max(sheet.measure(line, SMALL) for line in lines) > right - left - APART
        ):
            continue
        y = waterline - (0.11 if len(lines) == 1 else 0.03)
        for line in lines:
            y = sheet.text(
                (left + right) / 2, y, line, SMALL, ink=ink_on(lightness), align="center"
            )


def _ph_along(sheet: Poster, ribbon: Ribbon, scale: _Scale, waterline: float) -> None:
    """The pH on the waterline, at its start and at every half unit that has room."""
    start = float(ribbon.ph[0])
    order = np.argsort(ribbon.ph)
    halves = np.arange(np.ceil(2 * ribbon.ph.min()), np.floor(2 * ribbon.ph.max()) + 1) / 2
    halves = halves if start < ribbon.ph[-1] else halves[::-1]
    places = np.interp(halves, ribbon.ph[order], ribbon.grams[order])
    label = say("figure.ph", {"ph": start})
    y = waterline + 0.19
    sheet.text(scale.left, y, label, SMALL)
    taken = scale.left + sheet.measure(label, SMALL)
    for ph, grams in zip(halves, places, strict=True):
        x, text = scale.x(float(grams)), f"{ph:.1f}"
        half = sheet.measure(text, SMALL) / 2
        if x - half < taken + APART or x + half > scale.right + 0.12:
            continue
        sheet.rule(x, waterline, x, waterline + 0.05)
        sheet.label(x, y, text, SMALL)
        taken = x + half


def _marks(sheet: Poster, plan: Plan, scale: _Scale, waterline: float, floor: float) -> None:
    """The aim and the most, each on a plumb line, and the range that the readings leave open."""
    best, most = plan.dose_g.best, plan.maximum_g
    upper, lower = waterline + 0.61, waterline + 0.45
    bracket = waterline + 0.25
    if not plan.nothing_to_spare:
        text = say("figure.most", {"grams": wording.most(plan)})
        _plumb(sheet, scale, most, text, upper, floor, bold=False, to_right=True)
        text = say("figure.aim", {"grams": wording.aim(plan)})
    else:
        text = say("figure.aim-and-most", {"grams": wording.aim(plan)})
    if plan.wish.kind == "dose":
        text = say("figure.given", {"grams": wording.aim(plan)})
    else:
        low, high = (
            scale.x(min(value, scale.most_g)) for value in (plan.dose_g.low, plan.dose_g.high)
        )
        sheet.rule(low, bracket, high, bracket, 2.2)
        open_to = say("figure.open")
        room = sheet.measure(open_to, SMALL) + 0.06
        if low - room > scale.left:
            sheet.text(low - 0.06, bracket + 0.08, open_to, SMALL, ink=FAINT, align="right")
        elif high + room < scale.right + 0.1:
            sheet.text(high + 0.06, bracket + 0.08, open_to, SMALL, ink=FAINT)
    _plumb(sheet, scale, best, text, lower, floor, bold=True, to_right=plan.nothing_to_spare)


def _plumb(
    sheet: Poster,
    scale: _Scale,
    grams: float,
    text: str,
    y: float,
    floor: float,
    *,
    bold: bool,
    to_right: bool,
) -> None:
    """A line down through the water with its words at the top, on the side that has room."""
    x = scale.x(grams)
    dashes = "-" if bold else (0, (4, 2))
    for ink, width in ((GROUND, 3.0), (INK, 1.4)):
        sheet.axes.plot([x, x], [floor, y], color=ink, linewidth=width, linestyle=dashes, zorder=3)
    wide = sheet.measure(text, BODY, bold=bold)
    if to_right:
        to_right = x + 0.06 + wide <= scale.right + 0.2
    else:
        to_right = x - 0.06 - wide < scale.left - 0.2
    sheet.text(
        x + (0.06 if to_right else -0.06),
        y + 0.02,
        text,
        BODY,
        bold=bold,
        align="left" if to_right else "right",
    )


def _ticks(sheet: Poster, plan: Plan, scale: _Scale, top: float) -> float:
    """Grams, and level spoons below them; returns y below the labels."""
    y = top - 0.03
    sheet.rule(scale.left, y, scale.right, y)
    taken = scale.left - 1.0
    for grams in _round_steps(scale.most_g):
        x = scale.x(grams)
        text = f"{grams:g}" if grams else say("figure.grams", {"grams": 0})
        half = sheet.measure(text, SMALL) / 2
        sheet.rule(x, y, x, y - 0.05)
        if x - half > taken + APART:
            sheet.text(x, y - 0.06, text, SMALL, align="left" if grams == 0 else "center")
            taken = x + half
    return _spoon_ticks(sheet, plan, scale, y - 0.24)


def _spoon_ticks(sheet: Poster, plan: Plan, scale: _Scale, y: float) -> float:
    measured = spoons(dict(plan.activator), 1.0)
    per_gram, name = measured.teaspoons, "teaspoons"
    if per_gram * scale.most_g > MOST_TEASPOONS:
        per_gram, name = measured.tablespoons, "tablespoons"
    label = say(f"figure.{name}")
    sheet.text(scale.left, y, label, SMALL, ink=FAINT)
    taken = scale.left + sheet.measure(label, SMALL)
    for count in _round_steps(per_gram * scale.most_g):
        x, text = scale.x(count / per_gram), f"{count:g}"
        half = sheet.measure(text, SMALL) / 2
        if x - half > taken + APART:
            sheet.text(x, y, text, SMALL, ink=FAINT, align="center")
            taken = x + half
    return y - 0.15


def _round_steps(most: float) -> list[float]:
    """0, and round numbers up to `most`, few enough to read."""
    raw = most / MOST_TICKS
    power = 10.0 ** np.floor(np.log10(raw))
    step = power * next(
        round_step for round_step in (1.0, 2.0, 5.0, 10.0) if round_step * power >= raw * 0.999
    )
    return [float(round(k * step, 10)) for k in range(int(most / step * 1.000001) + 1)]


def _edges(ribbon: Ribbon, scale: _Scale, first: int, end: int) -> tuple[float, float]:
    """Where a run begins and ends on the sheet, half way to its neighbours."""
    edges = [0.0, *(ribbon.grams[1:] + ribbon.grams[:-1]) / 2, scale.most_g]
    return scale.x(float(edges[first])), scale.x(float(edges[end]))


def _widest(left: float, right: float, lines: Sequence[float]) -> tuple[float, float]:
    """The widest stretch between left and right that no line crosses."""
    stops = sorted({left, right, *(x for x in lines if left < x < right)})
    return max(pairwise(stops), key=lambda ends: ends[1] - ends[0])
