"""Range of a change of colour, by what is not known of the pigments and their strength."""

from __future__ import annotations

import numpy as np

from dosing.bath.assembled import Setting
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import surfactant_pka
from dosing.bath.possible_tubs import ACID_SIDE, ALKALINE_SIDE, relative_spreads
from indicator.appearance import delta_e
from indicator.spread import DRAWS, SEED, drawn_labs


def change_range(
    inputs: RecipeInputs, setting: Setting, ph_before: float, ph_after: float
) -> tuple[float, float]:
    """5 % and 95 % quantile of the change between two pH values of one tub.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe; its instruments tell how far the strength is known.
    setting : Setting
        The tub as read.
    ph_before, ph_after : float
        pH of the two moments.

    Returns
    -------
    tuple of float
        CIEDE2000; nothing at all where the recipe has no colour.
    """
    if not setting.bath.strengths:
        return (0.0, 0.0)
    *_, strength_sd = relative_spreads(inputs)
    sigma = np.sqrt(np.log1p(strength_sd**2))
    normal = np.random.default_rng(SEED - 1).standard_normal((DRAWS, 1))
    factor = np.exp(sigma * normal)
    strengths = {
        name: np.asarray(strength) * factor for name, strength in setting.bath.strengths.items()
    }
    pka = surfactant_pka(strengths, setting.bath.surfactants_g_l)
    labs = drawn_labs(strengths, np.array([ph_before, ph_after]), setting.view, pka=pka)
    low, high = np.quantile(delta_e(labs[:, 0], labs[:, 1]), (ACID_SIDE, ALKALINE_SIDE))
    return (float(low), float(high))
