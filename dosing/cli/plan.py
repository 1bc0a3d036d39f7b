"""``plan``: the dose for a wish, or what a given dose does, in one tub or in six homes."""

from __future__ import annotations

from typing import Annotated

import typer

from dosing.cli.options import (
    AcceptPh,
    AcceptPouring,
    Cautions,
    Command,
    Demo,
    Json,
    More,
    Paper,
    Picture,
    Recipe,
    Sheet,
    TargetWish,
)
from indicator.notes import say


def plan(
    recipe: Recipe = None,
    target: TargetWish = None,
    dose: Annotated[str | None, typer.Option("--dose", help=say("help.dose"))] = None,
    demo: Demo = None,
    homes: Annotated[bool, typer.Option("--homes", help=say("help.homes"))] = False,
    more: More = False,
    cautions: Cautions = False,
    picture: Picture = None,
    sheet: Sheet = None,
    paper: Paper = "A4",
    accept_ph: AcceptPh = None,
    accept_pouring: AcceptPouring = None,
    as_json: Json = False,
) -> None:
    """Dose, colours and cautions for a recipe."""
    from dosing.cli.given import Files, check_bottles, recipe_of, typed_name
    from dosing.cli.plans import PlanWish, show_plan

    of_product = check_bottles(recipe)
    files = Files(picture, sheet, paper)
    whose = typed_name(recipe, demo)
    asked = PlanWish(
        target, dose, accept_ph, accept_pouring, homes, more, cautions, whose, of_product
    )
    raise typer.Exit(show_plan(recipe_of(recipe, demo), asked, files, as_json=as_json))


COMMAND = Command(plan, "help.plan")
