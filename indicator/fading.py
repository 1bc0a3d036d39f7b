"""Fading: how much of a colour is left after some time in the dark.

Published rates for one pigment differ a hundredfold between a clean bottle and a raw infusion, so
both are kept apart and a forecast quotes both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.pigments import colourant
from indicator.tables import read_table, value_of

Array = NDArray[np.float64]

CONDITIONS = ("clean", "raw")
CONSTANTS = "equilibrium/constants.csv"
"""Constants of nature stand in one table, whichever room needs them."""


@dataclass(frozen=True)
class _RateRow:
    colourant: str
    condition: str
    ph: float
    temperature_c: float
    rate: float
    ea: float
    source: str
    ea_source: str
    confidence: str


@dataclass(frozen=True)
class Fading:
    """Rates of loss, in the shape of the inputs."""

    rate: Array
    """First-order rate in the dark [1/day]."""
    in_range: NDArray[np.bool_]
    """Whether the pH lies within the published ones; beyond, the nearest is taken."""

    def share_left(self, days: ArrayLike) -> Array:
        """Share of the colour that is left after some days."""
        return np.asarray(np.exp(-self.rate * np.asarray(days, dtype=np.float64)))

    @property
    def half_life_days(self) -> Array:
        """Time in which half of the colour goes [day]."""
        return np.asarray(np.log(2.0) / self.rate)


def fading_conditions(name: str) -> tuple[str, ...]:
    """Conditions for which a colourant has a published rate; empty if there is none.

    Raises
    ------
    ValueError
        If there is no such colourant.
    """
    key = colourant(name).name
    return tuple(one for one in CONDITIONS if _rows(key, one))


def fading(name: str, ph: ArrayLike, temperature_c: ArrayLike, condition: str) -> Fading:
    """First-order rate of loss by the Arrhenius equation, between published pH values.

    Parameters
    ----------
    name : str
        Colourant.
    ph, temperature_c : array_like
        pH and temperature of the liquid, broadcast against each other.
    condition : {"clean", "raw"}
        With few germs, or as a raw infusion.

    Raises
    ------
    ValueError
        If there is no such colourant, or no published rate for it in that condition.
    """
    key = colourant(name).name
    rows = _rows(key, condition)
    if not rows:
        known = ", ".join(fading_conditions(key)) or "none"
        raise ValueError(f"condition is {condition!r}; published for {key} are {known}")
    acidity, celsius = np.broadcast_arrays(
        np.asarray(ph, dtype=np.float64), np.asarray(temperature_c, dtype=np.float64)
    )
    at = np.array([row.ph for row in rows])
    logs = np.stack([_ln_rate(row, celsius) for row in rows], axis=-1)
    flat = logs.reshape(-1, len(rows))
    ln_rate = np.array(
        [np.interp(value, at, line) for value, line in zip(acidity.ravel(), flat, strict=True)]
    ).reshape(acidity.shape)
    inside = (acidity >= at[0]) & (acidity <= at[-1])
    return Fading(np.asarray(np.exp(ln_rate)), np.asarray(inside))


def _ln_rate(row: _RateRow, celsius: Array) -> Array:
    """Natural logarithm of a row's rate at another temperature."""
    zero, gas = (value_of(CONSTANTS, name) for name in ("zero_celsius", "gas_constant"))
    inverse = 1.0 / (row.temperature_c + zero) - 1.0 / (celsius + zero)
    return np.asarray(np.log(row.rate) + 1000.0 * row.ea / gas * inverse)


def _rows(key: str, condition: str) -> list[_RateRow]:
    rows = read_table("colour/fading.csv", _RateRow)
    found = [row for row in rows if row.colourant == key and row.condition == condition]
    return sorted(found, key=lambda row: row.ph)
