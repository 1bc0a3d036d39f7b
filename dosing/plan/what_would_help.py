"""Help for a wish that fails: changes to make; where the water is unknown, a decision."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dosing.bath.chalk import Chalked
from dosing.bath.inputs import RecipeInputs
from dosing.ingredients.powders import Blend, powder, scale_floor_g, scale_step
from dosing.ingredients.trade_values import typical
from dosing.plan.case import MIND, OK, Case, read_itself
from dosing.plan.cautions import Caution, exit_code
from dosing.plan.levels import LEVELS, bath_level
from dosing.plan.next_reading import NextStep
from dosing.plan.odds import odds
from dosing.plan.path import Match, turns
from dosing.plan.pouring import pour_at_once
from dosing.plan.records import FirstPortion, Wish
from dosing.plan.strength import STRONGER, WEAKER, labs_at
from indicator.appearance import SeenColour, delta_e, lab_from_hex
from indicator.notes import Note, Value
from indicator.words import change_level, matches_word, visibility_level

Array = NDArray[np.float64]

LEAST_TURNED = 0.05
"""Share of the possible tubs that must turn, for a first portion to be worth pouring."""


def needed(
    case: Case, wish: Wish, match: Match, ideal: Match, cautions: tuple[Caution, ...]
) -> tuple[Note, ...]:
    """Changes to water, powder, colour or wish for a wish to come true.

    Parameters
    ----------
    case : Case
        The recipe worked out.
    wish : Wish
        What was asked for.
    match : Match
        Where the plan meets it, or comes nearest.
    ideal : Match
        The same if no caution stood in the way.
    cautions : tuple of Caution
        Of the plan.

    Returns
    -------
    tuple of Note
        Empty where nothing is known that would help.
    """
    path, notes = case.path, []
    values: dict[str, Value]
    if not case.setting.bath.strengths and wish.ph is None and wish.kind != "dose":
        return (Note("needed.no-colour", {}),)
    if not turns(path):
        values = {"ph": float(path.ph[0]), "nearest_ph": float(path.ph[-1])}
        return (Note("needed.no-turn", values),)
    if ideal.met and ideal.step > match.step:
        ph, grams = float(path.ph[ideal.step]), float(path.grams[ideal.step])
        reserve = case.basis.after(grams).acid_reserve_meq_l()
        level = LEVELS[int(bath_level(ph, reserve, case.bathers))]
        values = {"ph": ph, "grams": grams, "level": level}
        codes = {"stop": "beyond-cautions"}
        if not case.accept_ph:
            # A reason that was written opens the pH of the tub as read, not of all it may be.
            codes["justify"] = "beyond-reason"
        notes.append(Note(f"needed.{codes.get(level, 'surer-water')}", values))
    elif wish.ph is not None and not ideal.met:
        values = {"ph": wish.ph, "nearest_ph": float(path.ph[ideal.step])}
        away = (wish.ph > float(path.ph[0])) == path.acid
        side = "up" if path.acid else "down"
        notes.append(Note(f"needed.other-way-{side}" if away else "needed.other-powder", values))
    elif not ideal.met and (wish.word is not None or wish.hex is not None):
        values = {"target": wish.text, "from_ph": float(path.ph[0]), "to_ph": float(path.ph[-1])}
        notes.append(Note("needed.other-colour", values))
    if exit_code(cautions) != 0:
        notes.append(Note("needed.see-cautions", {}))
    if wish.ph is None and wish.kind != "dose":
        notes.extend(_another_strength(case))
    return tuple(notes)


def kept_by_chalk(
    wish: Wish, chalk: Sequence[Chalked], before: SeenColour
) -> tuple[bool, tuple[Note, ...]]:
    """Whether a wish still holds with all excess chalk out, and what to say where it does not.

    Parameters
    ----------
    wish : Wish
        What was asked for; a given dose wishes for nothing.
    chalk : sequence of Chalked
        From `dosing.bath.chalk.chalk_of`.
    before : SeenColour
        The tub before, where nothing but an obvious change is wished.

    Returns
    -------
    tuple
        Whether it holds (bool), and notes (tuple of Note).
    """
    for fallen in chalk:
        if fallen.moment == "after" and not _holds(wish, fallen, before):
            return False, (
                Note("needed.chalk", {"ph": fallen.ph, "name": str(fallen.colour.name)}),
            )
    return True, ()


def _holds(wish: Wish, fallen: Chalked, before: SeenColour) -> bool:
    if wish.kind == "dose":
        return True
    if wish.ph is not None:
        return abs(fallen.ph - wish.ph) <= typical("wished_ph_within").value
    if wish.word is not None:
        return bool(matches_word(fallen.colour.patch, wish.word))
    if wish.hex is not None:
        away = float(delta_e(lab_from_hex(wish.hex), fallen.colour.lab))
        return away <= typical("same_colour_delta_e").value
    return str(change_level(delta_e(before.lab, fallen.colour.lab))) == "obvious"


def _another_strength(case: Case) -> tuple[Note, ...]:
    """How much more, or less, pigment would make the change obvious within the cautions."""
    strengths, path = case.setting.bath.strengths, case.path
    if not strengths:
        return ()
    end = case.limit_ph
    for code, factors in (("stronger", STRONGER), ("weaker", WEAKER)):
        lab = labs_at(case.setting, factors, [float(path.ph[0]), end])
        obvious = change_level(delta_e(lab[:, 0], lab[:, 1])) == "obvious"
        if obvious[0]:
            return ()
        if obvious.any():
            factor = float(factors[np.argmax(obvious)])
            return (Note(f"needed.{code}", {"factor": factor, "ph": end}),)
    cover = case.inputs.tub.foam_cover
    if cover >= typical("much_foam").value:
        return (Note("needed.foam", {"share": cover}),)
    return (Note("needed.no-strength", {"ph": end}),)


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
    return read_itself(inputs.water) or _hardness_read(inputs)


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
    if not read_itself(inputs.water):
        return "ask-supplier"
    return steps[0].code if steps else None


def _hardness_read(inputs: RecipeInputs) -> bool:
    return inputs.water.hardness_mmol_l is not None or inputs.water.calcium_mmol_l is not None
