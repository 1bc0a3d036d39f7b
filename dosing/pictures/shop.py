"""The shop picture: one vessel in section that fills the frame, its waters touching.

It shows, it does not tell: a title, the grams, the pH on the waterline, and the word of the caution
level where one has to be said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from dosing.effects.answer import Effects
from dosing.effects.designs import Design
from dosing.ingredients.powders import powder
from dosing.pictures.paper import ENAMEL, LETTER, Box, Paper, Shape, basin, ink_on
from dosing.plan.records import Plan
from dosing.soak.records import Soak
from dosing.words.filters import grams, level, mark
from indicator.appearance import SeenColour
from indicator.notes import listed, say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TUB = Shape(200.0, 45.0)
TITLE, SAID = 46.0, 34.0
"""Type of the title, and of what is poured [px]."""
TOLD = ("justify", "stop")
"""Caution levels whose word stands on the picture."""
BUBBLES = 420
FROTH = "#DDD8CE"
"""Edge of a bubble."""


@dataclass(frozen=True)
class Shown:
    """Content of a shop picture."""

    title: str
    waters: tuple[tuple[float, str], ...]
    """pH and colour of each moment, ``#rrggbb``, from left to right as they follow each other."""
    poured: str
    """Grams and powder; empty where none are told."""
    why_not: str
    """Why nothing is to be poured; empty where it may be."""
    level: str
    """The heaviest caution level of pouring it."""
    not_for_bathing: bool
    foam: bool = False
    """Whether there is foam bath in it."""


def shown_plan(plan: Plan, *, foam: bool = False) -> Shown:
    """A plan or a preview, before and after; only before where nothing is to be poured.

    A preview shows what its dose would do, also where it is forbidden: then it is hatched.

    Parameters
    ----------
    plan : Plan
        Of the tub.
    foam : bool
        Whether there is foam bath in it.

    Returns
    -------
    Shown
        For `draw_shop`.
    """
    met = plan.wish_met and not plan.forbidden
    sights = (plan.before, plan.after) if met or plan.wish.kind == "dose" else (plan.before,)
    waters = [(sight.ph, sight.colour) for sight in sights]
    portions = [pour.grams for pour in plan.portions if not pour.spare]
    poured = _poured(portions, plan.activator, plan.scale_step_g)
    return _shown(plan, plan.title, waters, poured, reached=met, foam=foam)


def shown_design(effects: Effects, *, foam: bool = False) -> Shown | None:
    """The best design of an effect, before and after.

    Parameters
    ----------
    effects : Effects
        What `dosing.effects.answer.design_effects` found.
    foam : bool
        Whether there is foam bath in the tub.

    Returns
    -------
    Shown or None
        For `draw_shop`; None where every design is forbidden.
    """
    if not effects.designs:
        return None
    design = effects.designs[0]
    waters = [(sight.ph, sight.colour) for sight in (design.before, design.after)]
    ends = {"start": effects.start.text, "end": effects.end.text}
    title = say("picture.effect", ends).capitalize()
    poured = _poured([design.pour_g], design.activator)
    return _shown(design, title, waters, poured, reached=design.reached, foam=foam)


def shown_soak(soak: Soak, *, foam: bool = False) -> Shown:
    """A soak before, and after each of its steps.

    Parameters
    ----------
    soak : Soak
        What is followed.
    foam : bool
        Whether there is foam bath in the tub.

    Returns
    -------
    Shown
        For `draw_shop`.
    """
    sights = (soak.before, *(step.after for step in soak.steps))
    waters = [(sight.ph, sight.colour) for sight in sights]
    poured = (_poured([step.printed_g], step.powder) for step in soak.steps)
    told = say("picture.then").join(filter(None, poured))
    return _shown(soak, soak.title, waters, told, reached=soak.reached, foam=foam)


def _poured(
    portions_g: Sequence[float],
    activator: tuple[tuple[str, float], ...],
    step_g: float | None = None,
) -> str:
    """Portions one after the other, and of what; nothing where there is none."""
    if sum(portions_g) <= 0:
        return ""
    masses = say("picture.and-then").join(grams(mass, step_g) for mass in portions_g)
    names = listed([powder(name).label for name, _ in activator])
    return say("picture.poured", {"grams": masses, "powder": names})


def _shown(
    judged: Plan | Design | Soak,
    title: str,
    waters: Sequence[tuple[float, SeenColour]],
    poured: str,
    *,
    reached: bool,
    foam: bool,
) -> Shown:
    """What is judged, with no grams where it is not to be poured."""
    pour = judged.verdicts.pour
    why_not = "" if reached else say("picture.not-reached")
    if not pour.allowed:
        why_not = say("picture.do-not-pour")
    return Shown(
        title=title,
        waters=tuple((ph, str(colour.hex)) for ph, colour in waters),
        poured="" if why_not else poured,
        why_not=why_not,
        level=pour.level,
        not_for_bathing=judged.not_for_bathing,
        foam=foam,
    )


def draw_shop(shown: Shown) -> Figure:
    """Draw the square picture: a vessel that fills the frame, title and grams above it.

    Parameters
    ----------
    shown : Shown
        Title, waters and grams.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `dosing.pictures.sheets.write_picture`.
    """
    paper = Paper()
    box = (59.0, 216.0, 1021.0, 1021.0)
    draw_waters(paper, shown, box, TUB)
    if shown.foam:
        draw_foam(paper, box[0], box[2], box[1])
    room = box[2] - box[0]
    said, weight = shown.why_not or shown.poured, "bold" if shown.why_not else "normal"
    if LETTER * (TITLE * len(shown.title) + SAID * len(said)) > room:
        paper.text(box[0], 70, shown.title, TITLE, room=room)
        paper.text(box[0], 116, said, SAID, room=room, weight=weight)
    else:
        used = paper.text(box[2], 108, said, SAID, align="right", weight=weight)
        paper.text(box[0], 108, shown.title, TITLE, room=room - used - 30)
    paper.text(box[2], 154, notice(shown), 28, room=room, align="right")
    return paper.figure


def notice(shown: Shown) -> str:
    """Cautions as a picture says them: the level's word, and that nobody may bathe."""
    told = [f"{mark(shown.level)} {level(shown.level)}"] if shown.level in TOLD else []
    told += [say("picture.not-for-bathing")] if shown.not_for_bathing else []
    return " · ".join(told)


def draw_waters(paper: Paper, shown: Shown, box: Box, shape: Shape) -> None:
    """Draw the vessel with its waters, and the pH of each under the waterline.

    Parameters
    ----------
    paper : Paper
        Where it is drawn.
    shown : Shown
        Whose waters.
    box : tuple of float
        Left, waterline, right and bottom of the water [px].
    shape : Shape
        Of the vessel.
    """
    colours = [colour for _, colour in shown.waters]
    paper.vessel(colours, box, shape, 15.0, shown.level if shown.level in TOLD else "ok")
    each = (box[2] - box[0]) / len(colours)
    for place, (ph, colour) in enumerate(shown.waters):
        x, text = box[0] + each * (place + 0.5), say("picture.ph", {"ph": ph})
        clear = {"facecolor": colour, "edgecolor": "none", "pad": 5.0}
        paper.text(x, box[1] + 80, text, 34, align="center", color=ink_on(colour), bbox=clear)


def draw_foam(paper: Paper, left: float, right: float, waterline: float) -> None:
    """Draw foam along a waterline, always the same.

    Parameters
    ----------
    paper : Paper
        Where it is drawn.
    left, right : float
        Its ends [px].
    waterline : float
        [px]
    """
    from matplotlib.patches import Circle

    drawn = np.random.default_rng(7)
    # Heaped in drifts, with the small bubbles lying in front.
    x = drawn.uniform(left + 22, right - 22, BUBBLES)
    drift = 0.55 + 0.45 * np.sin(x / 47.0) * np.sin(x / 131.0 + 1.0)
    radius = np.sort(5.0 + 21.0 * drawn.power(0.7, BUBBLES))[::-1]
    paper.area(
        basin((left + 1, waterline - 12, right - 1, waterline + 4), 0.0),
        facecolor=ENAMEL,
        zorder=5.4,
    )
    y = waterline + 4 - drift * drawn.uniform(0.0, 34.0, BUBBLES) - 0.2 * radius
    radius *= 0.6 + 0.4 * drift
    for middle_x, middle_y, size in zip(x, y, radius, strict=True):
        bubble = Circle((middle_x, middle_y), size, facecolor=ENAMEL, edgecolor=FROTH, lw=0.7)
        bubble.set_zorder(5.5)
        paper.axes.add_artist(bubble)
