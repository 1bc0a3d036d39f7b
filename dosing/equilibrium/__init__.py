"""Acid–base and complexation equilibrium of baths: totals in, pH and every species out."""

from dosing.equilibrium.activity import ACTIVITY_MODELS
from dosing.equilibrium.chalk import CALCITE, Settled, settle_chalk
from dosing.equilibrium.constants import Array, dissolved_co2, kelvin, water_density_kg_l
from dosing.equilibrium.solve import (
    PHS,
    TEMPERATURES_C,
    Equilibrium,
    MassForPh,
    carbon_from_alkalinity,
    mass_for_ph,
    solve,
    strong_charge,
)
from dosing.equilibrium.species import component_rows, species_names

COMPONENTS = tuple(component_rows())
"""Names of all components, in the order of the table."""


__all__ = [
    "ACTIVITY_MODELS",
    "CALCITE",
    "COMPONENTS",
    "PHS",
    "TEMPERATURES_C",
    "Array",
    "Equilibrium",
    "MassForPh",
    "Settled",
    "carbon_from_alkalinity",
    "dissolved_co2",
    "kelvin",
    "mass_for_ph",
    "settle_chalk",
    "solve",
    "species_names",
    "strong_charge",
    "water_density_kg_l",
]
