"""Writes chemistry_carbonate.csv: carbonic acid and water by two public reference libraries.

Run ``python tests/reference/build_carbonate.py``; it needs the PyPI packages ``PyCO2SYS`` and
``iapws``. PyCO2SYS (Humphreys et al. 2022, Geosci. Model Dev. 15:15, doi 10.5194/gmd-15-15-2022)
is asked with salinity 0 and the freshwater constants of Millero 1979; iapws gives the ionisation
of water of release IAPWS R11-07.
"""

from __future__ import annotations

import importlib
import importlib.metadata
import warnings
from collections.abc import Iterator
from typing import Any

import numpy as np
from reference_csv import write_csv

TEMPERATURES_C = (5, 10, 15, 20, 25, 30, 35, 40, 45, 50)
WATERS = ((5e-5, 6e-5), (1e-4, 1.05e-4), (1e-4, 1.5e-4), (2e-4, 2.02e-4), (2e-4, 1.97e-4))
"""Alkalinity [eq/kg] and inorganic carbon [mol/kg]: so dilute that activities hardly matter."""
PK1 = (6.517, 6.464, 6.419, 6.381, 6.352, 6.327, 6.309, 6.298, 6.290, 6.285)
PK2 = (10.557, 10.490, 10.430, 10.377, 10.329, 10.290, 10.250, 10.220, 10.195, 10.172)
"""Printed for the same temperatures by the two works below."""
HARNED_DAVIS = "Harned and Davis 1943, J. Am. Chem. Soc. 65:2030 (from memory, unverified)"
HARNED_SCHOLES = "Harned and Scholes 1941, J. Am. Chem. Soc. 63:1706 (from memory, unverified)"


def by_library(work: str, library: str) -> str:
    """A work and the library that computed its values here."""
    return f"{work}, by {library} {importlib.metadata.version(library)}"


def pyco2sys(**arguments: Any) -> dict[str, Any]:
    """A PyCO2SYS call for fresh water."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found: dict[str, Any] = importlib.import_module("PyCO2SYS").sys(
            salinity=0, opt_k_carbonic=8, **arguments
        )
    return found


def pkw(temperature_c: float) -> float:
    """-log10 of the ionisation constant of water at one atmosphere [mol2/kg2]."""
    kelvin, pressure_mpa = temperature_c + 273.15, 0.101325
    water = importlib.import_module("iapws").IAPWS95(T=kelvin, P=pressure_mpa)
    return float(importlib.import_module("iapws._iapws")._Kw(water.rho, kelvin))


def row(
    quantity: str,
    temperature_c: float,
    value: float,
    tolerance: float,
    why: str,
    source: str,
    place: str,
    confidence: str = "CALC",
    water: tuple[float, float] | None = None,
) -> dict[str, object]:
    """One row of the file."""
    return {
        "quantity": quantity,
        "temperature_c": temperature_c,
        "alkalinity_eq_kg": "" if water is None else water[0],
        "carbon_mol_kg": "" if water is None else water[1],
        "value": f"{value:.4f}",
        "tolerance": tolerance,
        "why": why,
        "source": source,
        "place": place,
        "confidence": confidence,
    }


def constant_rows() -> Iterator[dict[str, object]]:
    """-log10 of the constants at zero ionic strength."""
    asked = pyco2sys(temperature=np.array(TEMPERATURES_C, dtype=float))
    millero = by_library("Millero 1979, Geochim. Cosmochim. Acta 43:1651", "PyCO2SYS")
    weiss = by_library("Weiss 1974, Mar. Chem. 2:203", "PyCO2SYS")
    release = by_library("IAPWS R11-07", "iapws")
    fits = "two fits of largely the same data"
    printed = "printed to 0.001; a later fit of the same data"
    for n, t in enumerate(TEMPERATURES_C):
        k1, k2, kh = (
            -float(np.log10(asked[name][n])) for name in ("k_carbonic_1", "k_carbonic_2", "k_CO2")
        )
        yield row("pk1", t, k1, 0.004, fits, millero, "salinity 0")
        yield row("pk2", t, k2, 0.004, fits, millero, "salinity 0")
        yield row("pkh", t, kh, 0.008, "two sets of solubility data", weiss, "salinity 0")
        releases = "the releases of 1981 and 2007 differ by up to 0.010"
        yield row("pkw", t, pkw(t), 0.012, releases, release, "0.101325 MPa")
        place = "table of the constant by temperature"
        yield row("pk1", t, PK1[n], 0.006, printed, HARNED_DAVIS, place, "MEMORY")
        yield row("pk2", t, PK2[n], 0.006, printed, HARNED_SCHOLES, place, "MEMORY")


def solution_rows() -> Iterator[dict[str, object]]:
    """pH of dilute bicarbonate waters from alkalinity and carbon."""
    source = by_library("Millero 1979, Geochim. Cosmochim. Acta 43:1651", "PyCO2SYS")
    why = "PyCO2SYS has no activity coefficients at salinity 0: up to 0.02 pH at I = 2e-4"
    for t in TEMPERATURES_C[::2]:
        for water in WATERS:
            found = pyco2sys(
                par1=1e6 * water[0],
                par2=1e6 * water[1],
                par1_type=1,
                par2_type=2,
                temperature=float(t),
            )
            ph = float(found["pH"])
            yield row("ph", t, ph, 0.02, why, source, "alkalinity and carbon", water=water)


def main() -> None:
    """Write the file."""
    write_csv(
        "chemistry_carbonate.csv",
        [
            "Carbonic acid and water at zero ionic strength, and pH of dilute bicarbonate waters.",
            "pk1, pk2: ionisation; pkh: solubility of CO2 [mol/kg/atm]; pkw: ionisation of water"
            " (all -log10).",
            "Written by build_carbonate.py.  confidence CALC: computed by the library named.",
        ],
        [*constant_rows(), *solution_rows()],
    )


if __name__ == "__main__":
    main()
