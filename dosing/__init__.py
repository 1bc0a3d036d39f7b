"""Dose of an activator: water, powders, equilibrium and the plan of a colour-changing bath.

Names are loaded when first used, so that the command line starts at once.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dosing.equilibrium import Equilibrium, mass_for_ph, solve
    from dosing.face import Tub
    from dosing.ingredients.powders import blend_per_gram, powder_names
    from dosing.ingredients.water import WaterReadings, tap_water
    from dosing.plan.answer import make_plan, preview
    from dosing.plan.records import Plan
    from dosing.recipe import demo_recipe, load_recipe, parse_recipe

_HOME = {
    "Equilibrium": "equilibrium",
    "Plan": "plan.records",
    "Tub": "face",
    "WaterReadings": "ingredients.water",
    "blend_per_gram": "ingredients.powders",
    "demo_recipe": "recipe",
    "load_recipe": "recipe",
    "make_plan": "plan.answer",
    "mass_for_ph": "equilibrium",
    "parse_recipe": "recipe",
    "powder_names": "ingredients.powders",
    "preview": "plan.answer",
    "solve": "equilibrium",
    "tap_water": "ingredients.water",
}

__all__ = [
    "Equilibrium",
    "Plan",
    "Tub",
    "WaterReadings",
    "blend_per_gram",
    "demo_recipe",
    "load_recipe",
    "make_plan",
    "mass_for_ph",
    "parse_recipe",
    "powder_names",
    "preview",
    "solve",
    "tap_water",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'dosing' has no name {name!r}")
    return getattr(import_module(f"dosing.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
