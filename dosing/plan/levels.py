"""Caution levels: limits of pH, of acid reserve and of what else is measured, and who is judged.

Levels are ``ok``, ``mind``, ``justify`` (needs a written reason) and ``stop``. Limits are data.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.inputs import BATHERS
from indicator.tables import Sourced, read_table

Array = NDArray[np.float64]

LEVELS = ("ok", "mind", "justify", "stop")


@dataclass(frozen=True)
class CautionLimit(Sourced):
    """Where a caution level begins: a row of ``data/trade/caution_limits.csv``."""

    name: str
    bathers: str
    limit: float
    level: str
    unit: str


@cache
def limits(name: str, bathers: str) -> tuple[CautionLimit, ...]:
    """Limits of a quantity for those who bathe, in the order of the table.

    Parameters
    ----------
    name : str
        Of the quantity, as the table has it.
    bathers : str
        One of `BATHERS`, or ``"any"``.

    Returns
    -------
    tuple of CautionLimit
        Empty where there is none.
    """
    rows = read_table("trade/caution_limits.csv", CautionLimit)
    return tuple(row for row in rows if row.name == name and row.bathers == bathers)


def judged_bathers(bathers: str | None) -> str:
    """Who the bath is judged for: a child where nothing was said.

    Raises
    ------
    ValueError
        If it is none of `BATHERS`.
    """
    if bathers is None:
        return "child"
    if bathers not in BATHERS:
        raise ValueError(f"bathers is {bathers!r}; accepted are {', '.join(BATHERS)}")
    return bathers


def gate_level(ph: ArrayLike, bathers: str) -> NDArray[np.int_]:
    """Caution level of a bath's pH.

    Parameters
    ----------
    ph : array_like
        pH, any shape; NaN is judged ``stop``.
    bathers : str
        One of `BATHERS`; ``nobody`` has no gate.

    Returns
    -------
    numpy.ndarray
        Index into `LEVELS`.
    """
    acidity = np.asarray(ph, dtype=np.float64)
    sides = _beyond(-acidity, "ph-acid", bathers, -1.0), _beyond(acidity, "ph-alkaline", bathers)
    return np.where(np.isnan(acidity), LEVELS.index("stop"), np.maximum(*sides))


def reserve_level(reserve_meq_l: ArrayLike, bathers: str) -> NDArray[np.int_]:
    """Caution level of a bath's acid reserve: two baths of one pH may hold tenfold different acid.

    Parameters
    ----------
    reserve_meq_l : array_like
        Strong base to pH 7, closed to air [meq/L], any shape; NaN is judged ``stop``.
    bathers : str
        One of `BATHERS`; ``nobody`` has no gate.

    Returns
    -------
    numpy.ndarray
        Index into `LEVELS`.
    """
    reserve = np.asarray(reserve_meq_l, dtype=np.float64)
    unknown = np.isnan(reserve) & (bathers != "nobody")
    return np.where(unknown, LEVELS.index("stop"), _beyond(reserve, "acid-reserve", bathers))


def bath_level(ph: ArrayLike, reserve_meq_l: ArrayLike, bathers: str) -> NDArray[np.int_]:
    """Caution level of a bath: the heavier of those of its pH and of its acid reserve.

    Parameters
    ----------
    ph : array_like
        pH, any shape; NaN is judged ``stop``.
    reserve_meq_l : array_like
        Acid reserve [meq/L]; broadcasts with the pH.
    bathers : str
        One of `BATHERS`.

    Returns
    -------
    numpy.ndarray
        Index into `LEVELS`, the broadcast shape; limits and sources in
        ``data/trade/caution_limits.csv``.
    """
    return np.maximum(gate_level(ph, bathers), reserve_level(reserve_meq_l, bathers))


def reserve_limit(bathers: str, level: int) -> float:
    """Acid reserve that does not yet exceed a caution level [meq/L]; infinite without a limit.

    Parameters
    ----------
    bathers : str
        One of `BATHERS`.
    level : int
        Index into `LEVELS`.

    Returns
    -------
    float
        [meq/L], from ``data/trade/caution_limits.csv``.
    """
    beyond = [row for row in limits("acid-reserve", bathers) if LEVELS.index(row.level) > level]
    return min((row.limit for row in beyond), default=math.inf)


def rounded_outwards(ph: float, *, down: bool) -> float:
    """A pH to one decimal, down on the acid side and up on the alkaline one, so never milder.

    Parameters
    ----------
    ph : float
        pH.
    down : bool
        Whether the acid side is meant.

    Returns
    -------
    float
        pH.
    """
    tenths = 10.0 * ph
    return (math.floor(tenths + 1e-9) if down else math.ceil(tenths - 1e-9)) / 10.0


def _beyond(value: Array, name: str, bathers: str, sign: float = 1.0) -> NDArray[np.int_]:
    """Caution level of a value by the limits that lie below it, all times the sign."""
    level = np.zeros(value.shape, dtype=int)
    for row in limits(name, bathers):
        beyond = np.where(value > sign * row.limit, LEVELS.index(row.level), 0)
        level = np.maximum(level, beyond)
    return level
