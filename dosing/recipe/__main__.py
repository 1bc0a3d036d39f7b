"""``python -m dosing.recipe > data/text/recipe.schema.json`` writes the schema afresh."""

from __future__ import annotations

import json
import sys

from dosing.recipe.models import recipe_schema

json.dump(recipe_schema(), sys.stdout, indent=2, ensure_ascii=False)
sys.stdout.write("\n")
