"""The recipe file: TOML that a maker writes, checked, and turned into plain numbers.

Every quantity in it is text with a unit. What cannot be used is refused with one sentence
(`dosing.recipe.quantities.InputError`); what was left open is assumed and listed.
"""

from __future__ import annotations

from dosing.recipe.core import measured_dose as measured_dose
from dosing.recipe.models import recipe_schema as recipe_schema
from dosing.recipe.reading import blank_recipe as blank_recipe
from dosing.recipe.reading import demo_names as demo_names
from dosing.recipe.reading import demo_recipe as demo_recipe
from dosing.recipe.reading import demo_tables as demo_tables
from dosing.recipe.reading import demo_text as demo_text
from dosing.recipe.reading import load_recipe as load_recipe
from dosing.recipe.reading import load_tables as load_tables
from dosing.recipe.reading import parse_recipe as parse_recipe
from dosing.recipe.reading import recipe_from as recipe_from
