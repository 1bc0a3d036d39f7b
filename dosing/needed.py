"""What would have to change: for a wish to come true, and for a tint to be seen at all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from dosing.bath import colour_at
from dosing.case import Case
from dosing.cautions import Caution, exit_code, gate_level
from dosing.planner import Match
from dosing.pouring import gentlest_ph, level_name
from dosing.records import ColourAmount, Wish
from indicator.appearance import SeenColour, delta_e
from indicator.notes import Note, Value
from indicator.words import change_level, visibility_level

Array = NDArray[np.float64]

FACTORS = np.geomspace(1.0, 200.0, 60)
"""Times the colour of the recipe that are tried; each is a tenth more than the one before."""


def needed(
    case: Case, wish: Wish, match: Match, ideal: Match, cautions: tuple[Caution, ...]
) -> tuple[Note, ...]:
    """What would have to change for the wish to come true."""
    path, notes = case.path, []
    if ideal.met and ideal.step > match.step:
        level = level_name(int(gate_level(np.asarray(path.ph[ideal.step]), case.bathers)))
        values: dict[str, Value] = {
            "ph": float(path.ph[ideal.step]),
            "grams": float(path.grams[ideal.step]),
            "level": level,
        }
        safe = level in ("ok", "mind")
        notes.append(Note("needed.surer-water" if safe else "needed.beyond-cautions", values))
    elif wish.ph is not None and not ideal.met:
        values = {"ph": wish.ph, "nearest_ph": float(path.ph[ideal.step])}
        notes.append(Note("needed.other-powder", values))
    elif wish.word is not None or wish.hex is not None:
        notes.append(Note("needed.other-colour", {"target": wish.text}))
    if exit_code(cautions) != 0:
        notes.append(Note("needed.see-cautions", {}))
    if wish.ph is None and wish.kind != "dose":
        notes.extend(_stronger(case))
    return tuple(notes)


def to_be_seen(case: Case) -> tuple[ColourAmount, ...]:
    """How much of the colours would tint the tub visibly before any dose.

    Empty where the tint is visible already, where there is no colour, or where no amount is seen.
    """
    strengths = case.setting.bath.strengths
    start = float(case.path.ph[0])
    levels = visibility_level(_stronger_colours(case, strengths, [start]).visibility_delta_e[:, 0])
    seen = np.flatnonzero(np.isin(levels, ("visible", "strong")))
    if not strengths or levels[0] in ("visible", "strong") or not len(seen):
        return ()
    factor = float(FACTORS[seen[0]])
    return tuple(
        ColourAmount(colour.name, factor, factor * colour.amount, colour.amount_unit)
        for colour in case.inputs.colours
    )


def _stronger(case: Case) -> tuple[Note, ...]:
    """How much more pigment would make the change obvious within the cautions."""
    strengths, path = case.setting.bath.strengths, case.path
    if not strengths:
        return ()
    limit, end = gentlest_ph(case.bathers, case.accepted, acid=path.acid), float(path.ph[-1])
    end = max(limit, end) if path.acid else min(limit, end)
    lab = _stronger_colours(case, strengths, [float(path.ph[0]), end]).lab
    obvious = change_level(delta_e(lab[:, 0], lab[:, 1])) == "obvious"
    if obvious[0]:
        return ()
    if not obvious.any():
        return (Note("needed.no-strength", {"ph": end}),)
    return (Note("needed.stronger", {"factor": float(FACTORS[np.argmax(obvious)]), "ph": end}),)


def _stronger_colours(
    case: Case, strengths: Mapping[str, Array], ph_values: Sequence[float]
) -> SeenColour:
    """The tub's colours with more and more of its colourants, shape (factors, pH values)."""
    scaled = {name: s * FACTORS[:, None] for name, s in strengths.items()}
    return colour_at(scaled, np.asarray(ph_values)[None, :], case.setting.view)
