"""More or less colour in a tub: what is tried where a tint or a change is not seen."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting
from dosing.bath.inputs import ColourInputs, RecipeInputs
from dosing.bath.mixed import surfactant_pka
from dosing.ingredients.trade_values import typical
from dosing.plan.records import ColourAmount
from indicator.absorbance import WAVELENGTH_NM, mixture_absorbance
from indicator.appearance import delta_e, lab_of
from indicator.colourants import Range
from indicator.pigments import dye_molarity
from indicator.words import change_level, visibility_level

Array = NDArray[np.float64]

_G_PER_L_AT_ONE_PERCENT = 10.0
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
    levels = _visibility(setting, labs_at(setting, STRONGER, [start])[:, 0])
    seen = np.flatnonzero(np.isin(levels, ("visible", "strong")))
    if not strengths or levels[0] in ("visible", "strong") or not len(seen):
        return ()
    factor = float(STRONGER[seen[0]])
    return amounts_in(inputs, factor)


def worth_it(
    inputs: RecipeInputs, setting: Setting, ph_before: float, ph_after: float
) -> tuple[tuple[ColourAmount, ...], tuple[ColourAmount, ...]]:
    """Less colour that still shows an obvious change: nearly all of it, or the most per gram.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    setting : Setting
        Its tub.
    ph_before, ph_after : float
        pH of the two moments.

    Returns
    -------
    tuple of tuple of ColourAmount
        The least that shows nearly the change of the recipe's (CIEDE2000), and what shows the most
        change per gram among what is obvious; one for each colour, all by the same factor. Empty
        where the recipe's is not much more.
    """
    if not setting.bath.strengths:
        return (), ()
    labs = labs_at(setting, WEAKER, [ph_before, ph_after])
    change, visible = delta_e(labs[:, 0], labs[:, 1]), _visibility(setting, labs[:, 0])
    share = typical("worthwhile_share_of_change").value
    obvious = (change_level(change) == "obvious") & np.isin(visible, ("visible", "strong"))
    if not obvious[0]:
        return (), ()
    # Down from the recipe's, without a gap.
    least = float(WEAKER[np.argmin(np.append(obvious & (change >= share * change[0]), False)) - 1])
    most_per_gram = float(WEAKER[np.argmax(np.where(obvious, change / WEAKER, 0.0))])
    most = typical("nearly_all_colour").value
    return (
        amounts_in(inputs, least) if least < most else (),
        amounts_in(inputs, most_per_gram) if most_per_gram < most else (),
    )


def amounts_in(inputs: RecipeInputs, factor: float = 1.0) -> tuple[ColourAmount, ...]:
    """Amounts of the colours of a recipe.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    factor : float
        Times what it has.

    Returns
    -------
    tuple of ColourAmount
    """
    return tuple(
        ColourAmount(
            colour.colourant,
            factor,
            factor * colour.amount,
            colour.amount_unit,
            _g_per_l(colour),
            _usual_g_per_l(colour),
        )
        for colour in inputs.colours
    )


def _g_per_l(colour: ColourInputs) -> float | None:
    if colour.petals_percent is not None:
        return colour.petals_percent * _G_PER_L_AT_ONE_PERCENT if colour.volume_l else None
    if colour.colourant.kind != "dye" or colour.bottle_strength is None:
        return None
    return colour.bottle_strength / float(dye_molarity(colour.colourant, 1.0))


def _usual_g_per_l(colour: ColourInputs) -> Range | None:
    per_percent = colour.colourant.per_percent
    if per_percent is None or colour.petals_percent is not None or not colour.bottle_strength:
        return None
    strength = colour.bottle_strength * _G_PER_L_AT_ONE_PERCENT
    ends = (per_percent.best, per_percent.high, per_percent.low)
    return Range(*(strength / end for end in ends))


def _visibility(setting: Setting, labs: Array) -> NDArray[np.str_]:
    clear = lab_of(np.zeros(len(WAVELENGTH_NM)), setting.view)
    return np.asarray(visibility_level(delta_e(clear, labs)))


def labs_at(setting: Setting, factors: Array, ph_values: Sequence[float]) -> Array:
    """CIELAB of the tub with more or less of its colourants.

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
    numpy.ndarray
        Shape (factors, pH values, 3).
    """
    strengths = {name: s * factors[:, None] for name, s in setting.bath.strengths.items()}
    ph = np.asarray(ph_values)[None, :]
    pka = surfactant_pka(strengths, setting.bath.surfactants_g_l)
    return lab_of(mixture_absorbance(strengths, ph, pka), setting.view)
