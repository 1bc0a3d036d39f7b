"""``recipe``: a recipe to fill in, its schema, or one of the demos."""

from __future__ import annotations

from typing import Annotated

import typer

from dosing.cli.options import Command
from indicator.notes import say


def recipe(
    blank: Annotated[bool, typer.Option("--blank", help=say("help.blank"))] = False,
    schema: Annotated[bool, typer.Option("--schema", help=say("help.schema"))] = False,
    demo: Annotated[str | None, typer.Option("--demo", help=say("help.demo-text"))] = None,
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


COMMAND = Command(recipe, "help.recipe")
