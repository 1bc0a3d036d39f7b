"""Several tubs on one picture, each before and after: six homes, or the effects that work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from dosing.effects.gallery import GalleryEffect
from dosing.pictures.paper import FAINT, Paper, Shape
from dosing.pictures.shop import shown_plan
from dosing.plan.households import Home
from dosing.plan.records import Plan
from dosing.words.filters import grams, home_verdict, litres, mark, powder_label, ppm
from indicator.appearance import SeenColour
from indicator.notes import Value, say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

COLUMNS, MOST = 3, 6
"""Tubs in a row, and on a picture."""
PLACE, TALL = 340.0, 440.0
"""Room of each [px]."""
SMALL, LARGE = 236.0, 292.0
"""Widths of a tub; one with more water is drawn larger [px]."""


@dataclass(frozen=True)
class ShownTub:
    """One tub with what stands above and below it."""

    heading: str
    note: str
    waters: tuple[str, str]
    """Colours before and after, ``#rrggbb``."""
    verdict: str
    foot: str
    level: str
    """Caution level of the water after."""
    large: bool = True


def draw_homes(plan: Plan, homes: Sequence[Home]) -> Figure:
    """Draw one bottle and one sachet in six homes, the maker's own first.

    Parameters
    ----------
    plan : Plan
        The plan whose sachet and bottle go round.
    homes : sequence of Home
        As `dosing.plan.households.six_homes` gives them.

    Returns
    -------
    matplotlib.figure.Figure
        Square; save it with `dosing.pictures.sheets.write_picture`.
    """
    told = shown_plan(plan).why_not or grams(plan.pour_g)
    if plan.not_for_bathing:
        told = f"{told}, {say('picture.not-for-bathing')}"
    return _drawn(plan.title, told, [_of_home(home, plan.after.colour) for home in homes])


def draw_gallery(effects: Sequence[GalleryEffect]) -> Figure:
    """Draw the first effects of the gallery.

    Parameters
    ----------
    effects : sequence of GalleryEffect
        The best first.

    Returns
    -------
    matplotlib.figure.Figure
        Square; save it with `dosing.pictures.sheets.write_picture`.
    """
    told = litres(effects[0].volume_l)
    return _drawn(say("picture.gallery"), told, [_of_effect(effect) for effect in effects])


def _of_home(home: Home, wished: SeenColour) -> ShownTub:
    values: dict[str, Value] = {"before": home.before.ph, "after": home.after.ph}
    return ShownTub(
        heading=say(f"homes.water.{home.water}"),
        note=f"{litres(home.volume_l)} · {ppm(home.alkalinity_meq_l)}",
        waters=(str(home.before.colour.hex), str(home.after.colour.hex)),
        verdict=home_verdict(home, wished),
        foot=say("picture.ph-from-to", values),
        level=home.level,
        large=home.size == "large",
    )


def _of_effect(effect: GalleryEffect) -> ShownTub:
    values: dict[str, Value] = {"start": effect.start, "end": effect.end}
    return ShownTub(
        heading=say("picture.effect", values).capitalize(),
        note=" · ".join(colour.colourant.label for colour in effect.colours),
        waters=(effect.before.hex, effect.after.hex),
        verdict=f"{grams(effect.pour_g)} {powder_label(effect.powder)}",
        foot=f"{say('picture.ph', {'ph': effect.ph_after})} {mark(effect.level)}",
        level="ok",
    )


def _drawn(title: str, told: str, tubs: Sequence[ShownTub]) -> Figure:
    paper = Paper()
    used = paper.text(1040, 96, told, 34, room=600, align="right")
    paper.text(40, 96, title, 44, room=970 - used)
    for place, tub in enumerate(tubs[:MOST]):
        across, down = place % COLUMNS, place // COLUMNS
        _tub(paper, tub, 30 + PLACE * (across + 0.5), 150 + TALL * down)
    return paper.figure


def _tub(paper: Paper, tub: ShownTub, x: float, top: float) -> None:
    """One tub around x, with its words."""
    half = (LARGE if tub.large else SMALL) / 2
    box = (x - half, top + 290 - half, x + half, top + 300)
    paper.vessel(tub.waters, box, Shape(0.45 * half, 24.0), 8.0, tub.level)
    room = PLACE - 12
    for down, text in ((40, tub.heading), (352, tub.verdict)):
        paper.text(x, top + down, text, 31, room=room, align="center", weight="bold")
    for down, text in ((50, tub.note), (362, tub.foot)):
        paper.paragraph(x, top + down, text, 26, room, align="center", color=FAINT)
