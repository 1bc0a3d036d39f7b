"""Waters in which a sachet turns: homes by alkalinity and fill, with their colours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting, assemble
from dosing.bath.mixed import Bath, colour_at
from dosing.ingredients.hardness_units import alkalinity_in
from dosing.plan.households import DOES_NOT_TURN, TOO_SOUR, TURNS, in_tub
from dosing.plan.records import Sight
from dosing.sachets.counting import Shares, sachet_value, shares_of
from dosing.sachets.home_doses import Population
from dosing.sachets.survey import Survey

Array = NDArray[np.float64]

STEPS_PPM = (10.0, 20.0, 25.0, 50.0, 100.0, 200.0)
"""Widths of a class of alkalinity."""
MOST_CLASSES, ALL_BUT_FEW = 5, (0.02, 0.98)
"""The homes between these shares have classes of their own; the last has what is beyond."""
FILLS = 3
"""Classes of fill, with as many homes in each."""


@dataclass(frozen=True)
class WaterCell:
    """Homes of about one alkalinity and fill, and what the sachet does in them."""

    ppm: tuple[float, float]
    """Alkalinity from and to, as calcium carbonate; infinite at the end of the last class."""
    litres: tuple[float, float]
    """Water in the tub, from and to [L]."""
    homes_share: float
    """Of all homes, 0 to 1."""
    shares: Shares
    """Of the homes of this class."""
    before: Sight
    """The middle one of its homes."""
    after: Sight
    verdict: str
    """``"turns"``, ``"does not turn"``, or ``"too sour"`` where it is so in more than a few."""


def water_cells(survey: Survey, population: Population, after: Bath) -> tuple[WaterCell, ...]:
    """Homes by alkalinity and fill, the softest waters and the least full tubs first.

    Parameters
    ----------
    survey : Survey
        Whose bottle and view are seen.
    population : Population
        Some of its homes.
    after : Bath
        The same tubs just after pouring, batch shape (homes,).

    Returns
    -------
    tuple of WaterCell
        Those with homes in them.
    """
    met, past = survey.goal(population).met(after)
    ppm = alkalinity_in(population.homes.alkalinity_meq_l, "ppm")
    litres = population.homes.volume_l
    ends_l = np.unique(np.quantile(litres, np.linspace(0.0, 1.0, FILLS + 1)))
    ends_ppm = _classes(ppm)
    by_water = np.digitize(ppm, ends_ppm) - 1
    by_fill = np.clip(np.digitize(litres, ends_l) - 1, 0, max(len(ends_l) - 2, 0))
    cells = []
    for fill in np.unique(by_fill):
        setting = assemble(in_tub(survey.inputs, float(np.median(litres[by_fill == fill]))))
        for water in np.unique(by_water[by_fill == fill]):
            of = (by_water == water) & (by_fill == fill)
            shares = shares_of(met[of], past[of])
            cell = WaterCell(
                ppm=(ends_ppm[water], ends_ppm[water + 1]),
                litres=(float(ends_l[fill]), float(ends_l[min(fill + 1, len(ends_l) - 1)])),
                homes_share=float(np.mean(of)),
                shares=shares,
                before=_seen("before", setting, population.bath.ph[of]),
                after=_seen("after", setting, after.ph[of]),
                verdict=_verdict(shares),
            )
            cells.append(cell)
    return tuple(sorted(cells, key=lambda cell: (cell.ppm, cell.litres)))


def _classes(ppm: Array) -> list[float]:
    """Round ends of classes that part nearly all homes, from 0 to infinity [ppm]."""
    low, high = np.quantile(ppm, ALL_BUT_FEW)
    steps = (step for step in STEPS_PPM if high // step - low // step < MOST_CLASSES)
    step = next(steps, STEPS_PPM[-1])
    return [0.0, *(step * np.arange(low // step + 1, high // step + 1)).tolist(), np.inf]


def _seen(moment: str, setting: Setting, ph: Array) -> Sight:
    """The middle one of some tubs."""
    bath, middle = setting.bath, np.median(ph)
    seen = colour_at(bath.strengths, middle, setting.view, bath.surfactants_g_l)
    return Sight(moment, float(middle), seen)


def _verdict(shares: Shares) -> str:
    if shares.past_limit_share > sachet_value("most_past_of_a_pad"):
        return TOO_SOUR
    return TURNS if shares.turns_share >= 0.5 else DOES_NOT_TURN
