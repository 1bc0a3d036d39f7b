"""Ways in which a pour may go: every doubtful number at the end that makes it so."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from dosing.bath.mixing import taken
from dosing.soak.records import Manner
from dosing.soak.zones import Courses
from indicator.tables import Number

Array = NDArray[np.float64]

BEST, SOUR, MILD, LATE = range(4)
"""As is thought likely, and all doubtful numbers so that it gets sourer, milder or slower."""
WAYS = len((BEST, SOUR, MILD, LATE))
ENDS = {
    "zone": ("value", "low", "high", "value"),
    "mixed": ("value", "high", "low", "high"),
    "film": ("value", "low", "high", "high"),
    "grain": ("value", "low", "high", "high"),
    "jug": ("value", "low", "high", "low"),
    "pour": ("value", "low", "high", "high"),
    "transfer": ("value", "low", "high", "low"),
    "foam": ("value", "low", "high", "low"),
    "air": ("value", "high", "low", "high"),
    "loss": ("value", "low", "high", "value"),
}
"""Which end of each doubtful number a way takes, in the order of the ways."""


def ends(name: str, row: Number) -> Array:
    """A doubtful number in each of the ways.

    Parameters
    ----------
    name : str
        Of `ENDS`.
    row : Number
        Its value, low and high.

    Returns
    -------
    numpy.ndarray
        Shape (ways,), in the unit of the row.
    """
    range_of = dict(zip(("value", "low", "high"), (row.value, *row.ends), strict=True))
    return np.array([range_of[end] for end in ENDS[name]], dtype=np.float64)


def courses_in(tub_l: float, manner: Manner) -> Courses:
    """Zones and mixing of a pour in all ways.

    Parameters
    ----------
    tub_l : float
        Water in the tub [L].
    manner : Manner
        How it is poured and stirred.

    Returns
    -------
    Courses
        Arrays of shape (ways,).
    """
    most = taken("pour_zone_most").value * tub_l
    return Courses(
        tub_l=tub_l,
        zone_l=np.minimum(ends("zone", taken("pour_zone_l", manner.poured)), most),
        mixed_s=ends("mixed", taken("mixed_s", manner.stir)),
        film_um=ends("film", taken("film_um", manner.stir)),
        pour_s=ends("pour", taken("pour_s", manner.poured)),
    )
