"""Acid–base and complexation equilibrium of baths: totals in, pH and every species out."""

from dosing.equilibrium.activity import ACTIVITY_MODELS, DEFAULT_ACTIVITY_MODEL
from dosing.equilibrium.constants import water_density_kg_l
from dosing.equilibrium.solve import (
    Equilibrium,
    MassForPh,
    carbon_from_alkalinity,
    mass_for_ph,
    solve,
    strong_charge,
)
from dosing.equilibrium.species import component_names, species_names

COMPONENTS = component_names()

__all__ = [
    "ACTIVITY_MODELS",
    "COMPONENTS",
    "DEFAULT_ACTIVITY_MODEL",
    "Equilibrium",
    "MassForPh",
    "carbon_from_alkalinity",
    "component_names",
    "mass_for_ph",
    "solve",
    "species_names",
    "strong_charge",
    "water_density_kg_l",
]
