"""The way back to the first colour with baking soda, in an open tub.

Soda gives the alkalinity back that the acid took, but its carbon and the water's own then stand as
carbon dioxide in the tub and hold the pH down. While that gas leaves, the pH climbs, through the
pH of the start and on to where the untouched water would end as well. So the first colour comes
back on the way, hours later, and not where the way ends.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting
from dosing.bath.mixed import Bath, colour_at
from dosing.bath.mixing import taken
from dosing.bath.open_tub import constants_passed, foam_slows, leaving
from dosing.ingredients.powders import per_gram
from dosing.ingredients.trade_values import typical
from dosing.soak.moments import HOUR_S
from indicator.appearance import SeenColour, delta_e

Array = NDArray[np.float64]

SODA = "sodium-bicarbonate"
MORE, LESS = 61, 20
"""Doses that are tried from what takes up the acid: upwards, and down to nothing."""
MOST_SODA_G_L = 0.1
"""Beyond three times what takes up the acid, so much more is tried [g/L]."""


@dataclass(frozen=True)
class Return:
    """When the tub shows the first colour again."""

    ph: float
    """At which it does first."""
    moved_s: float | None
    """After the soda, with someone moving in the tub [s]; None beyond three days."""
    alone_s: float | None
    """The same, left alone."""


def soda_back(
    bath: Bath,
    setting: Setting,
    start: SeenColour,
    bathers: str,
    allowed: Callable[[float], bool],
    least_g: float,
) -> tuple[float, Return] | None:
    """The baking soda that leads back to the first colour; None where no allowed amount does.

    The least that brings it back within the hour and takes up the acid; where none is as quick,
    what takes up the acid; where that does not lead back or is forbidden, what is nearest to it.

    Parameters
    ----------
    bath : Bath
        The tub as it is.
    setting : Setting
        How it is looked at, and how deep it is.
    start : SeenColour
        The first colour.
    bathers : str
        As in `dosing.plan.cautions.gate_level`; where nobody bathes the tub is left alone.
    allowed : callable
        Whether the cautions allow so many grams.
    least_g : float
        Baking soda that takes up the acid of all that may be poured [g].

    Returns
    -------
    tuple or None
        Baking soda [g], and when the colour is back [s].
    """
    doses = _doses(bath, least_g)
    returns = _returns(bath.with_activator(doses, per_gram(SODA)), setting, start)
    waits = [back.alone_s if bathers == "nobody" else back.moved_s for back in returns]
    known = [(place, wait) for place, wait in enumerate(waits) if wait is not None]
    quick = [place for place, wait in known if wait <= HOUR_S and place < MORE]
    order = dict.fromkeys([*quick, *(place for place, _ in known)])
    chosen = next((place for place in order if allowed(float(doses[place]))), None)
    return None if chosen is None else (float(doses[chosen]), returns[chosen])


def _doses(bath: Bath, least: float) -> Array:
    """Baking soda to try, from what takes up the acid upwards, then down from there [g]."""
    most = 3.0 * least + float(bath.volume_l) * MOST_SODA_G_L
    return np.concatenate([np.linspace(least, most, MORE), np.linspace(least, 0.0, LESS)[1:]])


def _returns(poured: Bath, setting: Setting, start: SeenColour) -> list[Return]:
    """When each of a batch of tubs with soda shows the first colour again, while its gas leaves."""
    course = leaving(poured)
    colours = colour_at(poured.strengths, course.ph, setting.view, poured.surfactants_g_l)
    like = np.asarray(delta_e(start.lab, colours.lab)) <= typical("same_colour_delta_e").value
    first = np.argmax(like, axis=-1)
    tubs = np.arange(len(first))
    since = np.maximum(course.since_quiet[tubs, first], 0.0)
    constants = np.where(np.any(like, axis=-1), since, np.inf)
    slowed, warm = foam_slows(poured).value, float(poured.temperature_c)
    ways = []
    for way in ("moved", "still"):
        velocity = slowed * taken("transfer_cm_h", way).value
        seconds, passed = constants_passed(velocity, warm, setting.depth_cm)
        ways.append(np.interp(constants, passed, seconds, right=np.inf))
    ends = [[float(wait) if np.isfinite(wait) else None for wait in way] for way in ways]
    return [
        Return(float(ph), *wait) for ph, *wait in zip(course.ph[tubs, first], *ends, strict=True)
    ]
