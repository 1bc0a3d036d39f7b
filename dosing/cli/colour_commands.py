"""Commands about colour, from the petal to the ladder of hues, and their options."""

from __future__ import annotations

from typing import Annotated

import typer

from dosing.cli import calibrate, colours
from dosing.cli.options import (
    Command,
    Demo,
    Json,
    Recipe,
)
from indicator.notes import say


def brew(
    context: typer.Context,
    recipe: Recipe = None,
    demo: Demo = None,
    bottle: Annotated[str, typer.Option("--bottle", help=say("help.bottle"))] = "250 mL",
    baths: Annotated[int, typer.Option("--baths", help=say("help.baths"))] = 1,
    as_json: Json = False,
) -> None:
    """How much colour a tub takes."""
    from dosing.cli import brews

    raise typer.Exit(brews.run_brew(**context.params))


def steep(
    context: typer.Context,
    pigment: Annotated[str, typer.Argument(help=say("help.steep-pigment"))] = "butterfly-pea",
    petals: Annotated[str | None, typer.Option("--petals", help=say("help.steep-petals"))] = None,
    temperature: Annotated[
        str | None, typer.Option("--temperature", help=say("help.steep-temperature"))
    ] = None,
    time: Annotated[str | None, typer.Option("--time", help=say("help.steep-time"))] = None,
    makes: Annotated[str, typer.Option("--makes", help=say("help.makes"))] = "500 g",
    no_lid: Annotated[bool, typer.Option("--open", help=say("help.no-lid"))] = False,
    pressed: Annotated[bool, typer.Option("--pressed", help=say("help.pressed"))] = False,
    measured: Annotated[str | None, typer.Option("--measured", help=say("help.measured"))] = None,
    as_json: Json = False,
) -> None:
    """Petals, water, warmth and minutes for an infusion."""
    from dosing.cli import steeps

    steeps.run_steep(steeps.SteepOptions(**context.params))


def keep(
    context: typer.Context,
    recipe: Recipe = None,
    time: Annotated[str, typer.Option("--time", help=say("help.time"))] = "6 weeks",
    temperature: Annotated[str, typer.Option("--temperature", help=say("help.shelf"))] = "22 C",
    ph: Annotated[str | None, typer.Option("--ph", help=say("help.bottle-ph"))] = None,
    soak: Annotated[str, typer.Option("--soak", help=say("help.keep-soak"))] = "60 min",
    demo: Demo = None,
    as_json: Json = False,
) -> None:
    """What is left of a bottle's colour."""
    from dosing.cli import keeps

    keeps.run_keep(**context.params)


ABOUT = "colour"
COMMANDS = (
    Command(brew, "help.brew"),
    Command(steep, "help.steep"),
    Command(keep, "help.keep"),
    colours.COMMAND,
    calibrate.COMMAND,
)
