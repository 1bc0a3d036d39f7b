"""The ribbon: colour, pH and caution level along the dose."""

from __future__ import annotations

import numpy as np

from dosing.bath.mixed import colour_at
from dosing.plan.case import JUSTIFY, Case
from dosing.plan.levels import LEVELS, bath_level
from dosing.plan.path import Path
from dosing.plan.pouring import Pouring
from dosing.plan.records import Ribbon
from indicator.appearance import delta_e

RIBBON_DOSES = 41
RIBBON_REACH = 1.7
"""How far past the plan the ribbon goes, over the dose."""


def dose_ribbon(case: Case, grams: float, most: float, pouring: Pouring) -> Ribbon:
    """Colour, pH and caution level along the dose, past the plan so that the caution zone shows.

    A dose has the level that it has poured at once, or that of the portions that lead to it.

    Parameters
    ----------
    case : Case
        The recipe worked out.
    grams, most : float
        The aim, and the most that is ever poured [g].
    pouring : Pouring
        How it is poured.

    Returns
    -------
    Ribbon
        At `RIBBON_DOSES` doses from 0 up.
    """
    path = case.path
    end = min(
        max(RIBBON_REACH * grams, 1.15 * most, _grams_beyond_gates(case)), float(path.grams[-1])
    )
    doses = np.linspace(0.0, max(end, 1e-6), RIBBON_DOSES)
    ph = np.interp(doses, path.grams, path.ph)
    colours = colour_at(
        case.setting.bath.strengths, ph, case.setting.view, case.setting.bath.surfactants_g_l
    ).steady()
    low, high = case.basis.curves.closed_sides(doses)
    reserve = case.basis.curves.high_reserve(doses)
    levels = np.max([bath_level(side, reserve, case.bathers) for side in (low, high)], axis=0)
    if len(pouring.totals_g) > 1:
        in_portions = doses <= pouring.totals_g[-1]
        levels = np.where(in_portions, np.minimum(levels, pouring.level), levels)
    return Ribbon(
        grams=doses,
        ph=ph,
        ph_acid_side=low,
        colours=colours,
        change_delta_e=np.asarray(delta_e(colours.lab[0], colours.lab)),
        level=tuple(LEVELS[k] for k in levels),
    )


def _grams_beyond_gates(case: Case) -> float:
    """Grams a little past the last gate; 0 where no gate speaks about this bath."""
    path = case.path
    past = np.flatnonzero(case.path_level > JUSTIFY)
    if not len(past):
        return 0.0
    gate = float(path.ph[past[0]])
    return _grams_at(path, gate - 0.2 if path.acid else gate + 0.2)


def _grams_at(path: Path, ph: float) -> float:
    """Grams at a pH of the tub as read; at the end of the path where it lies beyond."""
    order = np.argsort(path.ph)
    return float(np.interp(ph, path.ph[order], path.grams[order]))
