"""Dissolving: the speed at which grains of a powder go into solution.

A grain is a sphere that loses substance through a film of water of constant thickness. With a film
much thicker than the grain its surface shrinks evenly in time, with a thin one its radius does.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.mixing import taken
from dosing.equilibrium import kelvin, water_density_kg_l
from dosing.ingredients.powders import powder, solubility_g_per_kg
from dosing.ingredients.trade_values import nearest
from indicator.tables import Sourced, read_table

Array = NDArray[np.float64]

STIRS = ("still", "hand", "tap")
GRAINS = ("fine", "granular", "coarse")
POURED = ("jug", "dry")
_REFERENCE_C = 25.0
_STEPS = 400


@dataclass(frozen=True)
class _GrainRow(Sourced):
    powder: str
    diffusion_1e9: float
    density_g_ml: float
    usual_grain: str


def water_viscosity_pa_s(temperature_c: ArrayLike) -> Array:
    """Viscosity of water between 0 and 60 °C [Pa s]."""
    a, b, c = (taken(f"viscosity_{name}").value for name in "abc")
    return np.asarray(a * 10.0 ** (b / (kelvin(temperature_c) - c)))


def diffusion_m2_s(name: str, temperature_c: ArrayLike) -> Array:
    """Diffusion coefficient of a dissolved powder, scaled with T over the viscosity [m²/s].

    Parameters
    ----------
    name : str
        Powder that `has_grains`, or its alias.
    temperature_c : array_like
        [°C].

    Returns
    -------
    numpy.ndarray
        Shape of the temperature [m²/s].
    """
    at_reference = _grain(name).diffusion_1e9 * 1e-9
    warmer = kelvin(temperature_c) / kelvin(_REFERENCE_C)
    thinner = water_viscosity_pa_s(_REFERENCE_C) / water_viscosity_pa_s(temperature_c)
    return np.asarray(at_reference * warmer * thinner)


def has_grains(name: str) -> bool:
    """Whether a powder takes time to dissolve: liquids and unlisted powders count as dissolved."""
    return powder(name).name in _grains()


def usual_grain(name: str) -> str:
    """One of `GRAINS`, as which a powder is mostly sold."""
    return _grain(name).usual_grain


def saturated_g_ml(name: str, temperature_c: ArrayLike) -> Array:
    """Powder in a saturated solution [g/mL], volumes of solid and water taken to add up.

    Parameters
    ----------
    name : str
        Powder that `has_grains`.
    temperature_c : array_like
        [°C].

    Returns
    -------
    numpy.ndarray
        Shape of the temperature [g/mL].
    """
    per_kg = solubility_g_per_kg(name, temperature_c).g_per_kg
    share = per_kg / (1000.0 + per_kg)
    volume = share / _grain(name).density_g_ml + (1.0 - share) / water_density_kg_l(temperature_c)
    return np.asarray(share / volume)


@dataclass(frozen=True)
class Dissolving:
    """Numbers that decide how fast the grains of one powder or more dissolve at a temperature."""

    saturated_g_ml: float | Array
    """Powder in the water at the surface of a grain [g/mL]."""
    diffusion_m2_s: float | Array
    density_g_ml: float | Array
    """Of the solid [g/mL]."""


def dissolving(name: str, temperature_c: float) -> Dissolving:
    """Constants of a powder that `has_grains`, at a temperature [°C].

    Parameters
    ----------
    name : str
        Powder that `has_grains`.
    temperature_c : float
        Of the water [°C].

    Returns
    -------
    Dissolving
        Solubility [g/mL], diffusion [m²/s] and density [g/mL].
    """
    return Dissolving(
        float(saturated_g_ml(name, temperature_c)),
        float(diffusion_m2_s(name, temperature_c)),
        _grain(name).density_g_ml,
    )


def surface_rate(
    surface: ArrayLike,
    in_solution_g_ml: ArrayLike,
    powder_at: Dissolving,
    radius_um: ArrayLike,
    film_um: ArrayLike,
) -> Array:
    """Rate at which the surface of a grain shrinks, as a share of its first surface [1/s].

    Noyes and Whitney's law for a sphere of radius r behind a film of thickness h:
    dr/dt = -D (c_s - c) / ρ (1/r + 1/h), written for (r / r0)², which ends without a jerk.

    Parameters
    ----------
    surface : array_like
        Share that is left of the surface, 1 to 0.
    in_solution_g_ml : array_like
        Powder dissolved in the water around [g/mL].
    powder_at : Dissolving
        The powder at the temperature of the water.
    radius_um, film_um : array_like
        First radius of the grain, and thickness of the film [µm].

    Returns
    -------
    numpy.ndarray
        Negative while it dissolves, 0 for a grain that is gone.

    References
    ----------
    Wang and Flanagan 1999, J. Pharm. Sci. 88:731, doi 10.1021/js980236p.
    """
    left = np.maximum(np.asarray(surface, dtype=np.float64), 0.0)
    first = np.asarray(radius_um, dtype=np.float64) * 1e-6
    film = np.asarray(film_um, dtype=np.float64) * 1e-6
    short = np.maximum(powder_at.saturated_g_ml - np.asarray(in_solution_g_ml), 0.0)
    speed = powder_at.diffusion_m2_s * short / powder_at.density_g_ml
    rate = -2.0 * speed / first**2 * (1.0 + np.sqrt(left) * first / film)
    return np.asarray(np.where(left > 0.0, rate, 0.0))


def seconds_to_dissolve(
    powder_at: Dissolving, mass_g: float, water_l: float, radius_um: float, film_um: float
) -> float:
    """Time until all but a hundredth is dissolved in stirred water; infinite if it cannot be [s].

    Parameters
    ----------
    mass_g, water_l : float
        Powder [g] and the water it is stirred into [L].
    powder_at, radius_um, film_um
        As in `surface_rate`.

    Returns
    -------
    float
        [s].
    """
    end = taken("gone_share").value ** (2.0 / 3.0)
    surface = np.linspace(1.0, end, _STEPS)
    in_solution = mass_g * (1.0 - surface**1.5) / (1000.0 * water_l)
    rate = surface_rate(surface, in_solution, powder_at, radius_um, film_um)
    if np.any(rate >= 0.0):
        return float("inf")
    return float(np.sum(0.5 * (1.0 / rate[1:] + 1.0 / rate[:-1]) * np.diff(surface)))


def _grain(name: str) -> _GrainRow:
    rows = _grains()
    return rows[nearest(powder(name).name, rows, "powder with grains")]


@cache
def _grains() -> dict[str, _GrainRow]:
    return {row.powder: row for row in read_table("trade/powder_grains.csv", _GrainRow)}
