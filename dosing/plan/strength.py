"""More or less colour in a tub: what is tried where a tint or a change is not seen."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import colour_at
from dosing.plan.records import ColourAmount
from indicator.appearance import SeenColour
from indicator.words import visibility_level

Array = NDArray[np.float64]

STRONGER = np.geomspace(1.0, 200.0, 60)
WEAKER = np.geomspace(1.0, 0.02, 45)
"""Times the colour of the recipe that are tried; each is a tenth from the one before."""


def to_be_seen(inputs: RecipeInputs, setting: Setting) -> tuple[ColourAmount, ...]:
    """Amounts of the colours that would tint the tub visibly before any dose.

    Empty where the tint is visible already, where there is no colour, or where no amount is seen.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    setting : Setting
        Its tub.

    Returns
    -------
    tuple of ColourAmount
        One for each colour of the recipe, all by the same factor.
    """
    strengths, start = setting.bath.strengths, float(setting.bath.ph)
    levels = visibility_level(colours_at(setting, STRONGER, [start]).visibility_delta_e[:, 0])
    seen = np.flatnonzero(np.isin(levels, ("visible", "strong")))
    if not strengths or levels[0] in ("visible", "strong") or not len(seen):
        return ()
    factor = float(STRONGER[seen[0]])
    return tuple(
        ColourAmount(colour.colourant, factor, factor * colour.amount, colour.amount_unit)
        for colour in inputs.colours
    )


def colours_at(setting: Setting, factors: Array, ph_values: Sequence[float]) -> SeenColour:
    """Colours of the tub with more or less of its colourants.

    Parameters
    ----------
    setting : Setting
        The tub.
    factors : numpy.ndarray
        By which the strengths are multiplied, shape (factors,).
    ph_values : sequence of float
        pH.

    Returns
    -------
    SeenColour
        Shape (factors, pH values).
    """
    strengths = {name: s * factors[:, None] for name, s in setting.bath.strengths.items()}
    return colour_at(
        strengths,
        np.asarray(ph_values)[None, :],
        setting.view,
        setting.bath.surfactants_g_l,
    )
