"""The open tub: its carbon dioxide leaves through the surface, and it cools."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from dosing.bath.mixed import Bath, SolvedBath
from dosing.bath.mixing import taken
from dosing.equilibrium import Array, kelvin, water_density_kg_l
from dosing.equilibrium.constants import constant
from indicator.tables import Number

_SCHMIDT_OF_VELOCITIES = 600.0
_ATMOSPHERE_PA = 101_325.0
_SECONDS_PER_HOUR = 3600.0
_CM_PER_M = 100.0
_NEARLY_ALL = 1e-4
"""Share of the gas that can leave, down to which its leaving is followed."""
_MOMENTS = 200
_LONGEST_S, _STEP_S = 72 * 3600.0, 60.0


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

    Returns
    -------
    numpy.ndarray
        [1/s], the broadcast shape.
    """
    velocity = np.asarray(transfer_cm_h) * np.sqrt(
        _SCHMIDT_OF_VELOCITIES / schmidt_co2(temperature_c)
    )
    return np.asarray(velocity / _SECONDS_PER_HOUR / np.asarray(depth_cm, dtype=np.float64))


def foam_slows(bath: Bath) -> Number:
    """Transfer velocity over that of a tub without foam bath: surfactants slow it."""
    foaming = any(np.any(np.asarray(grams) > 0.0) for grams in bath.surfactants_g_l.values())
    return taken("foam_transfer", "foam" if foaming else "none")


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

    Returns
    -------
    numpy.ndarray
        [°C], the broadcast shape.
    """
    start = np.asarray(start_c, dtype=np.float64)
    towards = np.minimum(np.asarray(room_c, dtype=np.float64), start)
    per_litre = taken("heat_capacity_kj_kg_k").value * 1e3 * water_density_kg_l(start)
    per_m2 = per_litre * 1e3 * np.asarray(depth_cm, dtype=np.float64) / _CM_PER_M
    decay = np.exp(-np.asarray(loss_w_m2_k) * np.asarray(seconds, dtype=np.float64) / per_m2)
    return np.asarray(towards + (start - towards) * decay)


def gas_litres(moles: ArrayLike, temperature_c: ArrayLike) -> Array:
    """Volume of a gas at one atmosphere [L].

    Parameters
    ----------
    moles : array_like
        Gas [mol].
    temperature_c : array_like
        Its temperature [°C].

    Returns
    -------
    numpy.ndarray
        [L], by the ideal gas law; the broadcast shape.
    """
    cubic = np.asarray(moles) * constant("gas_constant") * kelvin(temperature_c) / _ATMOSPHERE_PA
    return np.asarray(1000.0 * cubic)


@dataclass(frozen=True)
class Leaving:
    """Tubs while their carbon dioxide leaves; arrays have the batch shape and then (moments,)."""

    ph: Array
    """From the closed tub nearly to rest with the air."""
    co2_atm: Array
    """Pressure of the dissolved gas."""
    constants: Array
    """Time since the closed tub, in time constants of the dissolved gas."""
    carbon: Array
    """Carbon total [mol/kg]."""

    rest: SolvedBath
    """The tubs at rest with the air."""

    @property
    def since_quiet(self) -> Array:
        """`constants` from when it no longer bubbles: what water cannot hold leaves at once."""
        quiet = np.argmax(self.co2_atm <= taken("fizz_atm").value, axis=-1)
        return self.constants - np.take_along_axis(self.constants, quiet[..., None], axis=-1)


def leaving(bath: Bath) -> Leaving:
    """PH while gas leaves in first order, whatever its velocity.

    With the dissolved gas g of a carbon total C and g0 that at rest with the air, dC/dt is
    -k (g - g0); so the time is the integral of dC / (g - g0) in units of 1/k, and one batch of
    equilibria along C gives the whole course.

    Parameters
    ----------
    bath : Bath
        The tubs, as warm as they stay.
    """
    pco2 = np.asarray(bath.air_co2_ppm, dtype=np.float64)[..., None]
    rest = bath.at_rest()
    kept = rest.inorganic_carbon_mol_kg[..., None]
    in_air = np.asarray(rest.equilibrium.molality["CO2"])[..., None]
    whole = np.asarray(bath.totals.get("C", np.zeros(())))[..., None]
    left = np.geomspace(1.0, _NEARLY_ALL, _MOMENTS)
    carbon = kept + (whole - kept) * left
    totals = {
        name: np.broadcast_to(np.asarray(total)[..., None], carbon.shape)
        for name, total in bath.totals.items()
    }
    warm = np.broadcast_to(np.asarray(bath.temperature_c)[..., None], carbon.shape)
    solved = replace(bath, totals={**totals, "C": carbon}, temperature_c=warm).solve()
    gas = np.asarray(solved.equilibrium.molality["CO2"])
    with np.errstate(divide="ignore", invalid="ignore"):
        # Over the logarithm of what is left the integrand has no pole.
        speed = np.where(gas != in_air, (carbon - kept) / (gas - in_air), 1.0)
    steps = 0.5 * (speed[..., 1:] + speed[..., :-1]) * -np.diff(np.log(left))
    start = np.zeros((*steps.shape[:-1], 1))
    constants = np.concatenate([start, np.cumsum(steps, axis=-1)], axis=-1)
    return Leaving(np.asarray(solved.ph), gas / in_air * pco2 * 1e-6, constants, carbon, rest)


def constants_passed(transfer_cm_h: float, start_c: float, depth_cm: float) -> tuple[Array, Array]:
    """Three days of a tub that cools, and the time constants of its gas that have passed by then.

    Parameters
    ----------
    transfer_cm_h : float
        As in `co2_per_second` [cm/h].
    start_c : float
        Temperature at first [°C].
    depth_cm : float
        Volume over surface [cm].

    Returns
    -------
    tuple of numpy.ndarray
        Seconds since the pour [s], and time constants as in `Leaving`; both shape (moments,).
    """
    seconds = np.arange(0.0, _LONGEST_S + _STEP_S, _STEP_S)
    loss = taken("surface_loss_w_m2_k").value
    warm = temperature_after(seconds, start_c, taken("room_c").value, loss, depth_cm)
    rate = co2_per_second(transfer_cm_h, warm, depth_cm)
    done = np.concatenate([[0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1]) * _STEP_S)])
    return seconds, done
