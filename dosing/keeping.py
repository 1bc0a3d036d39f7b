"""Keeping: what is left of a bottle's colour after some time, and what the tub then looks like."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dosing.assembly import Setting
from dosing.bath import colour_at
from dosing.inputs import RecipeInputs
from dosing.trade_values import typical
from indicator.appearance import SeenColour
from indicator.fading import fading, fading_conditions
from indicator.notes import Note
from indicator.pigments import colourant


@dataclass(frozen=True)
class Kept:
    """A bottle after some time in the dark."""

    days: float
    temperature_c: float
    ph: float
    """Of the bottle."""
    pigment: str
    condition: str
    """Which published rates the best value follows: ``"clean"`` or ``"raw"``."""
    share_left: float
    """Share of the pigment's colour."""
    share_low: float
    """By the fastest published rates, 0 to 1."""
    share_high: float
    """By the slowest."""
    half_life_days: float
    fresh: SeenColour
    """The tub before any dose, with fresh colour."""
    kept: SeenColour
    """The same with what is left."""
    notes: tuple[Note, ...]


def keep(
    inputs: RecipeInputs,
    setting: Setting,
    *,
    days: float,
    temperature_c: float,
    ph: float | None = None,
) -> Kept | None:
    """Colour of a recipe's bottle after some days in the dark.

    Parameters
    ----------
    inputs : RecipeInputs
        Its first pigment that has a published rate is followed; dyes keep.
    setting : Setting
        The tub as read.
    days : float
        Time in the bottle, from 0 up [day].
    temperature_c : float
        Temperature of the shelf [°C].
    ph : float, optional
        pH in the bottle; that of the setting's bottle, or of a usual infusion, if not given.

    Returns
    -------
    Kept or None
        None if no pigment of the recipe has a published rate.
    """
    followed = [one for one in inputs.colours if fading_conditions(one.name)]
    if not followed:
        return None
    first = followed[0]
    usual = setting.bottle.ph if setting.bottle is not None else typical("infusion_ph").value
    in_bottle = usual if ph is None else ph
    conditions = fading_conditions(first.name)
    wanted = "clean" if first.preserved else "raw"
    condition = wanted if wanted in conditions else conditions[0]
    rates = {one: fading(first.name, in_bottle, temperature_c, one) for one in conditions}
    shares = {one: float(rate.share_left(days)) for one, rate in rates.items()}
    strengths = {name: np.asarray(value) for name, value in setting.bath.strengths.items()}
    aged = {**strengths, first.name: strengths[first.name] * shares[condition]}
    start = setting.bath.solve().ph
    notes = [Note("keep.light", {"colour": colourant(first.name).label})]
    if not bool(rates[condition].in_range):
        notes.append(Note("keep.ph-range", {"ph": in_bottle}))
    unfollowed = [
        colourant(one.name).label
        for one in inputs.colours
        if colourant(one.name).kind == "pigment" and not fading_conditions(one.name)
    ]
    notes += [Note("keep.unknown", {"colour": label}) for label in unfollowed]
    return Kept(
        days=days,
        temperature_c=temperature_c,
        ph=in_bottle,
        pigment=first.name,
        condition=condition,
        share_left=shares[condition],
        share_low=min(shares.values()),
        share_high=max(shares.values()),
        half_life_days=float(rates[condition].half_life_days),
        fresh=colour_at(strengths, start, setting.view),
        kept=colour_at(aged, start, setting.view),
        notes=tuple(notes),
    )
