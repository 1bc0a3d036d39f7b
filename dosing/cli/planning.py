"""``recipe``: a recipe to fill in, its schema, or a demo."""

from __future__ import annotations

import json
import sys

from dosing.cli.output import Page
from dosing.recipe import blank_recipe, demo_text, recipe_schema
from dosing.recipe.quantities import InputError
from indicator.notes import say


def run_recipe(*, blank: bool, schema: bool, demo: str | None) -> None:
    """Print a recipe to fill in, its schema, or a demo.

    Parameters
    ----------
    blank, schema : bool
        Whether the empty recipe, or the schema, is printed.
    demo : str or None
        Name of the demo that is printed.
    """
    chosen = [blank, schema, demo is not None]
    if sum(chosen) != 1:
        raise InputError(say("cli.recipe-choice"))
    if schema:
        text = json.dumps(recipe_schema(), indent=2)
    else:
        text = blank_recipe() if demo is None else demo_text(demo)
    page = Page()
    sys.stdout.write("".join(f"{page.fit(line)}\n" for line in text.rstrip("\n").split("\n")))
