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
    Picture,
    Recipe,
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
    accept_ph: AcceptPh = None,
    accept_pouring: AcceptPouring = None,
    as_json: Json = False,
) -> None:
    """Dose, colours and cautions for a recipe."""
    from dosing.cli.given import check_picture, recipe_of
    from dosing.cli.plans import Asked, show_plan

    check_picture(picture)
    asked = Asked(
        target, dose, accept_ph, accept_pouring, homes=homes, more=more, cautions=cautions
    )
    code = show_plan(recipe_of(recipe, demo), asked, picture, as_json=as_json)
    raise typer.Exit(code)


COMMAND = Command(plan, "help.plan")
