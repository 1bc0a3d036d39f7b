"""What an open tub does by itself: its carbon dioxide leaves through the surface, and it cools."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.equilibrium import kelvin, water_density_kg_l
from dosing.equilibrium.constants import constant
from dosing.timeline.dissolving import taken

Array = NDArray[np.float64]

_SCHMIDT_OF_VELOCITIES = 600.0
_ATMOSPHERE_PA = 101_325.0
_SECONDS_PER_HOUR = 3600.0
_CM_PER_M = 100.0


def schmidt_co2(temperature_c: ArrayLike) -> Array:
    """Schmidt number of carbon dioxide in fresh water; held beyond 0 to 40 °C.

    References
    ----------
    Wanninkhof 2014, Limnol. Oceanogr. Methods 12:351, table 1.
    """
    low, high = taken("schmidt_from_c").value, taken("schmidt_to_c").value
    celsius = np.clip(np.asarray(temperature_c, dtype=np.float64), low, high)
    coefficients = [taken(f"schmidt_{power}").value for power in range(5)]
    return np.asarray(np.polynomial.polynomial.polyval(celsius, coefficients))


def co2_per_second(
    transfer_cm_h: ArrayLike, temperature_c: ArrayLike, depth_cm: ArrayLike
) -> Array:
    """Share of the carbon dioxide beyond that of the air which leaves a tub per second [1/s].

    The velocity grows with the inverse root of the Schmidt number, as for a surface that is
    renewed from below.

    Parameters
    ----------
    transfer_cm_h : array_like
        Transfer velocity for a Schmidt number of 600 [cm/h].
    temperature_c : array_like
        [°C].
    depth_cm : array_like
        Volume over surface [cm].
    """
    velocity = np.asarray(transfer_cm_h) * np.sqrt(
        _SCHMIDT_OF_VELOCITIES / schmidt_co2(temperature_c)
    )
    return np.asarray(velocity / _SECONDS_PER_HOUR / np.asarray(depth_cm, dtype=np.float64))


def temperature_after(
    seconds: ArrayLike,
    start_c: ArrayLike,
    room_c: ArrayLike,
    loss_w_m2_k: ArrayLike,
    depth_cm: ArrayLike,
) -> Array:
    """Temperature of a tub left to itself, by Newton's law of cooling [°C].

    Parameters
    ----------
    seconds : array_like
        [s].
    start_c, room_c : array_like
        Of the water at first and of the room [°C]; water cooler than the room is left as it is.
    loss_w_m2_k : array_like
        Heat lost per surface and degree above the room, evaporation and walls in it [W/(m² K)].
    depth_cm : array_like
        Volume over surface [cm].
    """
    start = np.asarray(start_c, dtype=np.float64)
    towards = np.minimum(np.asarray(room_c, dtype=np.float64), start)
    per_litre = taken("heat_capacity_kj_kg_k").value * 1e3 * water_density_kg_l(start)
    per_m2 = per_litre * 1e3 * np.asarray(depth_cm, dtype=np.float64) / _CM_PER_M
    decay = np.exp(-np.asarray(loss_w_m2_k) * np.asarray(seconds, dtype=np.float64) / per_m2)
    return np.asarray(towards + (start - towards) * decay)


def gas_litres(moles: ArrayLike, temperature_c: ArrayLike) -> Array:
    """Volume of a gas at one atmosphere [L]."""
    cubic = np.asarray(moles) * constant("gas_constant") * kelvin(temperature_c) / _ATMOSPHERE_PA
    return np.asarray(1000.0 * cubic)
