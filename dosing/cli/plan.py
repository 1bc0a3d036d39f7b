"""``plan``: the dose for a wish, or what a given dose does, in one tub or in six homes."""

from __future__ import annotations

from typing import Annotated

import typer

from dosing.cli import options


def plan(
    recipe: options.Recipe = None,
    target: options.TargetWish = None,
    dose: Annotated[str | None, options.usual("dose")] = None,
    demo: options.Demo = None,
    homes: Annotated[bool, options.usual("homes", "--homes")] = False,
    more: options.More = False,
    cautions: options.Cautions = False,
    picture: options.Picture = None,
    sheet: options.Sheet = None,
    paper: options.Paper = "A4",
    accept_ph: options.AcceptPh = None,
    accept_pouring: options.AcceptPouring = None,
    as_json: options.Json = False,
) -> None:
    """Dose, colours and cautions for a recipe."""
    from dosing.cli.given import Files, checked_product, recipe_of, typed_name
    from dosing.cli.plans import show_plan
    from dosing.words.plans import PlanWish

    product = checked_product(recipe)
    files = Files(picture, sheet, paper)
    whose = typed_name(recipe, demo)
    asked = PlanWish(target, dose, accept_ph, accept_pouring, homes, more, cautions, whose, product)
    raise typer.Exit(show_plan(recipe_of(recipe, demo), asked, files, as_json=as_json))


COMMAND = options.Command(plan, "help.plan")
