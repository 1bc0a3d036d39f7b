"""Constants and their temperature: density, permittivity, and log K as five coefficients.

Every equilibrium constant, whatever form its source gives, becomes the same five coefficients of
``log10 K = a1 + a2 T + a3/T + a4 log10 T + a5/T^2``, so that all constants at all temperatures
are one matrix product.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.tables import Sourced, row_named, value_of

Array = NDArray[np.float64]
LN10 = float(np.log(10.0))
HENRY = "carbon-dioxide-solubility"
"""Published function of carbon dioxide between air [atm] and water."""


@dataclass(frozen=True)
class _WaterRow(Sourced):
    name: str
    c0: float
    c1: float
    c2: float
    c3: float
    c4: float
    c5: float


@dataclass(frozen=True)
class _FunctionRow(Sourced):
    name: str
    a1: float
    a2: float
    a3: float
    a4: float
    a5: float
    t_low_c: float
    t_high_c: float


def constant(name: str) -> float:
    """Value of one row of ``data/equilibrium/constants.csv``, in the unit stated there."""
    return value_of("equilibrium/constants.csv", name)


def _of_water(name: str, temperature_c: ArrayLike) -> Array:
    """A polynomial of ``data/equilibrium/water.csv`` at a temperature [°C]."""
    row = row_named("equilibrium/water.csv", _WaterRow, name, "property")
    terms = (row.c0, row.c1, row.c2, row.c3, row.c4, row.c5)
    celsius = np.asarray(temperature_c, dtype=np.float64)
    return np.asarray(np.polynomial.polynomial.polyval(celsius, terms))


def kelvin(temperature_c: ArrayLike) -> Array:
    """Absolute temperature [K] of a temperature [°C]."""
    return np.asarray(temperature_c, dtype=np.float64) + constant("zero_celsius")


def water_density_kg_l(temperature_c: ArrayLike) -> Array:
    """Density of air-free water at one atmosphere [kg/L].

    Parameters
    ----------
    temperature_c : array_like
        Temperature [°C], 0 to 60.

    Source: Kell 1975, J. Chem. Eng. Data 20:97.
    """
    numerator, denominator = (
        _of_water(f"density_{part}", temperature_c) for part in ("numerator", "denominator")
    )
    return np.asarray(numerator / denominator / 1000.0)


def debye_huckel(temperature_c: ArrayLike) -> tuple[Array, Array]:
    """Debye–Hückel limiting slope A and size factor B, at a temperature [°C].

    Returns
    -------
    tuple of numpy.ndarray
        A for log10 of the activity coefficient [kg^0.5 mol^-0.5], and B [kg^0.5 mol^-0.5 per
        angstrom], of the shape of the temperature. Source: Truesdell and Jones 1974; relative
        permittivity of water: Malmberg and Maryott 1956, J. Res. NBS 56:1.
    """
    heat = _of_water("dielectric", temperature_c) * kelvin(temperature_c)
    root = np.sqrt(water_density_kg_l(temperature_c) / heat)
    slope = constant("debye_huckel_factor") * root / heat
    return np.asarray(slope), np.asarray(constant("debye_huckel_size_factor") * root)


def temperature_basis(temperature_c: ArrayLike) -> Array:
    """The five functions of temperature that multiply the coefficients, shape (5, ...)."""
    T = kelvin(temperature_c)
    return np.stack([np.ones_like(T), T, 1.0 / T, np.log10(T), 1.0 / (T * T)])


def _function(name: str) -> _FunctionRow:
    return row_named("equilibrium/temperature_functions.csv", _FunctionRow, name, "function")


def published_function(name: str) -> Array:
    """Five coefficients of a published log K(T), shape (5,)."""
    row = _function(name)
    return np.array([row.a1, row.a2, row.a3, row.a4, row.a5])


def known_between_c(functions: Iterable[str]) -> tuple[float, float]:
    """Temperatures between which the model and all of some published functions hold [°C]."""
    rows = [_function(name) for name in functions if name]
    return (
        max([constant("temperature_low"), *(row.t_low_c for row in rows)]),
        min([constant("temperature_high"), *(row.t_high_c for row in rows)]),
    )


def dissolved_co2(pco2_ppm: ArrayLike, temperature_c: ArrayLike) -> Array:
    """Carbon dioxide that dilute water holds at rest with air, by Henry's law [mol/kg].

    Parameters
    ----------
    pco2_ppm : array_like
        Carbon dioxide of the air [ppm by volume at one atmosphere].
    temperature_c : array_like
        Temperature of the water [°C]; broadcasts with the air.

    Returns
    -------
    numpy.ndarray
        CO2 and H2CO3 together [mol/kg water], the broadcast shape. The constant of Henry's law is
        the row `HENRY` of ``data/equilibrium/temperature_functions.csv``, with its source.
    """
    henry = published_function(HENRY)
    log_k = np.tensordot(henry, temperature_basis(temperature_c), axes=1)
    return np.asarray(10.0**log_k * np.asarray(pco2_ppm, dtype=np.float64) * 1e-6)


def coefficients(
    log_k: float, dh_kj_mol: float | None, dcp_j_mol_k: float | None, function: str
) -> Array:
    """Five coefficients of log K from whichever data a table row has; a function wins.

    Parameters
    ----------
    log_k : float
        log10 K at 25 °C.
    dh_kj_mol : float or None
        Enthalpy of the reaction at 25 °C [kJ/mol]; 0 if None.
    dcp_j_mol_k : float or None
        Heat capacity of the reaction, taken as constant [J/(mol K)]; 0 if None.
    function : str
        Name of a published function of temperature, whose source stands beside it in
        ``data/equilibrium/temperature_functions.csv``; empty if there is none.

    Returns
    -------
    numpy.ndarray
        What `temperature_basis` is multiplied with, shape (5,). Without a function
        ln K = ln K0 - (dH/R)(1/T - 1/T0) + (dCp/R)(T0/T - 1 + ln(T/T0)).
    """
    if function:
        return published_function(function)
    gas_constant, T0 = constant("gas_constant"), constant("reference_temperature")
    enthalpy = 1000.0 * (dh_kj_mol or 0.0) / gas_constant
    heat_capacity = (dcp_j_mol_k or 0.0) / gas_constant
    level = enthalpy / T0 - heat_capacity * (1.0 + np.log(T0))
    falling = (heat_capacity * T0 - enthalpy) / LN10
    return np.array([log_k + level / LN10, 0.0, falling, heat_capacity, 0.0])
