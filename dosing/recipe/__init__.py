"""The recipe file: TOML that a maker writes, checked, and turned into plain numbers.

Every quantity in it is text with a unit. What cannot be used is refused with one sentence
(`dosing.recipe.quantities.InputError`); what was left open is assumed and listed.
"""

from __future__ import annotations

from dosing.recipe.models import recipe_schema
from dosing.recipe.reading import (
    blank_recipe,
    demo_names,
    demo_recipe,
    demo_tables,
    demo_text,
    load_recipe,
    load_tables,
    parse_recipe,
    recipe_from,
)

__all__ = [
    "blank_recipe",
    "demo_names",
    "demo_recipe",
    "demo_tables",
    "demo_text",
    "load_recipe",
    "load_tables",
    "parse_recipe",
    "recipe_from",
    "recipe_schema",
]
