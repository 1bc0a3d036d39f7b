"""The ribbon: colour, pH and caution level along the dose."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from dosing.bath.mixed import colour_at
from dosing.plan.levels import LEVELS, bath_level
from dosing.plan.pouring import Pouring
from dosing.plan.records import Ribbon
from indicator.appearance import delta_e

if TYPE_CHECKING:
    from dosing.plan.case import Basis, Case

RIBBON_DOSES = 41
RIBBON_REACH = 1.7
"""How far past the plan the ribbon goes at least, over the dose."""
PAST_GATE_PH = 0.2
"""How far past the last gate it goes."""
REACHES = 1.25
"""From one end of a ribbon to the next larger one: a case that is asked again shows few of them."""


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
    end = max(RIBBON_REACH * grams, 1.15 * most, _grams_beyond_gates(case.basis))
    furthest = max(float(case.path.grams[-1]), 1e-6)
    shorter = np.floor(np.log(furthest / np.clip(end, 1e-6, furthest)) / np.log(REACHES))
    ribbon = case.basis.ribbon(furthest / REACHES**shorter)
    if len(pouring.totals_g) == 1:
        return ribbon
    levels = [LEVELS.index(level) for level in ribbon.level]
    gentler = np.where(ribbon.grams <= pouring.totals_g[-1], pouring.level, len(LEVELS))
    return replace(ribbon, level=tuple(LEVELS[k] for k in np.minimum(levels, gentler)))


def ribbon_to(basis: Basis, end_g: float) -> Ribbon:
    """Colour, pH and caution level of doses poured at once, from nothing up to an end.

    Parameters
    ----------
    basis : Basis
        The recipe worked out.
    end_g : float
        The last dose [g].

    Returns
    -------
    Ribbon
        At `RIBBON_DOSES` doses in equal steps.
    """
    doses, bath = np.linspace(0.0, end_g, RIBBON_DOSES), basis.setting.bath
    ph = np.interp(doses, basis.path.grams, basis.path.ph)
    colours = colour_at(bath.strengths, ph, basis.setting.view, bath.surfactants_g_l).steady()
    low, high = basis.curves.closed_sides(doses)
    sides = np.stack([low, high])
    levels = bath_level(sides, basis.curves.high_reserve(doses), basis.bathers).max(axis=0)
    return Ribbon(
        grams=doses,
        ph=ph,
        ph_acid_side=low,
        colours=colours,
        change_delta_e=np.asarray(delta_e(colours.lab[0], colours.lab)),
        level=tuple(LEVELS[k] for k in levels),
    )


def _grams_beyond_gates(basis: Basis) -> float:
    """Grams a little past the last gate; 0 where no gate speaks about this bath."""
    path = basis.path
    past = np.flatnonzero(basis.path_level == len(LEVELS) - 1)
    if not len(past):
        return 0.0
    beyond = np.abs(path.ph - path.ph[past[0]]) <= PAST_GATE_PH
    return float(path.grams[beyond].max())
