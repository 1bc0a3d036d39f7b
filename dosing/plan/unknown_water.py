"""A decision where the water is unknown: a first portion by colour, and the next thing to do."""

from __future__ import annotations

import numpy as np

from dosing.bath.inputs import RecipeInputs
from dosing.ingredients.powders import Blend, powder, scale_floor_g, scale_step
from dosing.plan.case import MIND, OK, Case
from dosing.plan.levels import LEVELS
from dosing.plan.next_reading import NextStep
from dosing.plan.odds import odds
from dosing.plan.pouring import pour_at_once
from dosing.plan.records import FirstPortion, Wish
from indicator.words import visibility_level

LEAST_TURNED = 0.05
"""Share of the possible tubs that must turn, for a first portion to be worth pouring."""


def alkalinity_read(inputs: RecipeInputs) -> bool:
    """Whether the alkalinity was read, or something that it goes with.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.

    Returns
    -------
    bool
        False where nothing but what is usual tells of it.
    """
    return _read_itself(inputs) or _hardness_read(inputs)


def first_portion(case: Case) -> FirstPortion | None:
    """Portion that even the softest water that it may be takes, told by its colour.

    Parameters
    ----------
    case : Case
        The recipe worked out.

    Returns
    -------
    FirstPortion or None
        None where nothing shows whether it turned, or next to no tub would turn.
    """
    path = case.path
    start = str(visibility_level(path.colours.visibility_delta_e[0]))
    if start not in ("visible", "strong"):
        return None
    for level in (OK, MIND):
        steps = np.flatnonzero(case.basis.allowed.steps(path, level, at_once=True))
        most_g = float(path.grams[steps[-1]]) if len(steps) else 0.0
        grams = scale_floor_g(most_g, scale_step(most_g))
        pouring = pour_at_once(case.possible, grams, case.bathers)
        turned = odds(case, Wish("none", ""), pouring).reached_share
        if grams > 0.0 and pouring.level <= level and turned >= LEAST_TURNED:
            return FirstPortion(grams, LEVELS[level], pouring.final[0], turned)
    return None


def do_next(case: Case, steps: tuple[NextStep, ...], *, strip_at_end: bool) -> str | None:
    """The one thing to do next that a kitchen allows, for a surer dose.

    Parameters
    ----------
    case : Case
        The recipe worked out.
    steps : tuple of NextStep
        Readings that narrow the dose, the one that buys most first.
    strip_at_end : bool
        Whether the alkalinity was read at the last step of a strip.

    Returns
    -------
    str or None
        As `Plan.do_next`; None where nothing narrows the dose.
    """
    inputs = case.inputs
    if strip_at_end:
        return "thin-strip"
    if not alkalinity_read(inputs):
        kinds = [powder(name) for name in Blend(inputs.activator.parts).parts]
        solid_acid = all(kind.kind == "solid" and kind.reaction != "base" for kind in kinds)
        tea = any(colour.colourant.kind == "pigment" for colour in inputs.colours)
        return "pinch-test" if tea and solid_acid else "strip"
    if not _read_itself(inputs):
        return "ask-supplier"
    return steps[0].code if steps else None


def _read_itself(inputs: RecipeInputs) -> bool:
    water = inputs.water
    return water.alkalinity_meq_l is not None or water.carbonate_hardness_meq_l is not None


def _hardness_read(inputs: RecipeInputs) -> bool:
    return inputs.water.hardness_mmol_l is not None or inputs.water.calcium_mmol_l is not None
