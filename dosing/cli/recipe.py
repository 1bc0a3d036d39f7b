"""``recipe``: a recipe to fill in, its schema, or one of the demos."""

from __future__ import annotations

from typing import Annotated

from dosing.cli import options
from indicator.notes import say


def recipe(
    blank: Annotated[bool, options.usual("blank", "--blank")] = False,
    schema: Annotated[bool, options.usual("schema", "--schema")] = False,
    demo: Annotated[str | None, options.usual("demo-text")] = None,
) -> None:
    """A recipe to fill in, its schema, or one of the demos."""
    import json
    import sys

    from dosing.cli.output import Page
    from dosing.recipe import blank_recipe, demo_text, recipe_schema
    from dosing.recipe.quantities import InputError
    from dosing.workshop.product_file import DEMOS, demo_product_text

    if blank + schema + (demo is not None) != 1:
        raise InputError(say("cli.recipe-choice"))
    if schema:
        text = json.dumps(recipe_schema(), indent=2)
    elif demo in DEMOS:
        text = demo_product_text(demo)
    else:
        text = blank_recipe() if demo is None else demo_text(demo)
    page = Page()
    sys.stdout.write("".join(f"{page.fit(line)}\n" for line in text.rstrip("\n").split("\n")))


COMMAND = options.Command(recipe, "help.recipe")
