"""The recipe file: TOML that a maker writes, checked, and turned into plain numbers.

Every quantity in it is text with a unit. What cannot be used is refused with one sentence
(`dosing.recipe.quantities.InputError`); what was left open is assumed and listed.
"""

from __future__ import annotations

from dosing.recipe.models import Recipe, recipe_schema
from dosing.recipe.reading import (
    blank_recipe,
    demo_names,
    demo_recipe,
    demo_text,
    load_recipe,
    parse_recipe,
)

__all__ = [
    "Recipe",
    "blank_recipe",
    "demo_names",
    "demo_recipe",
    "demo_text",
    "load_recipe",
    "parse_recipe",
    "recipe_schema",
]
