"""Changes that would help: for a wish to come true, and for a tint to be seen at all."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dosing.bath.chalk import Chalked
from dosing.ingredients.trade_values import typical
from dosing.plan.case import Case
from dosing.plan.cautions import Caution, exit_code
from dosing.plan.levels import LEVELS
from dosing.plan.path import Match, turns
from dosing.plan.records import Wish
from dosing.plan.strength import STRONGER, WEAKER, labs_at
from indicator.appearance import SeenColour, delta_e, lab_from_hex
from indicator.notes import Note, Value
from indicator.words import change_level, matches_word

Array = NDArray[np.float64]


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
        level = LEVELS[case.path_level[ideal.step]]
        values = {
            "ph": float(path.ph[ideal.step]),
            "grams": float(path.grams[ideal.step]),
            "level": level,
        }
        code = {"justify": "beyond-reason", "stop": "beyond-cautions"}.get(level, "surer-water")
        notes.append(Note(f"needed.{code}", values))
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
