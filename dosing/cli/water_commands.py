"""Commands about waters, one or many, and their options."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli.options import AcceptPh, Command, Demo, Json, Picture, Recipe, TargetWish
from indicator.notes import say


def _reading(name: str) -> object:
    return typer.Option(f"--{name}", help=say(f"help.water-{name}"))


def water(
    context: typer.Context,
    alkalinity: Annotated[str | None, _reading("alkalinity")] = None,
    hardness: Annotated[str | None, _reading("hardness")] = None,
    ph: Annotated[str | None, _reading("ph")] = None,
    calcium: Annotated[str | None, _reading("calcium")] = None,
    magnesium: Annotated[str | None, _reading("magnesium")] = None,
    sodium: Annotated[str | None, _reading("sodium")] = None,
    potassium: Annotated[str | None, _reading("potassium")] = None,
    chloride: Annotated[str | None, _reading("chloride")] = None,
    sulfate: Annotated[str | None, _reading("sulfate")] = None,
    nitrate: Annotated[str | None, _reading("nitrate")] = None,
    temperature: Annotated[str | None, _reading("temperature")] = None,
    like: Annotated[str | None, _reading("like")] = None,
    as_json: Json = False,
) -> None:
    """What a tap water holds and what it takes to turn it."""
    from dosing.cli import waters

    waters.run_water(**context.params)


def sachet(
    context: typer.Context,
    recipe: Recipe = None,
    demo: Demo = None,
    population: Annotated[
        str | None, typer.Option("--population", help=say("help.sachet-population"))
    ] = None,
    homes_csv: Annotated[
        Path | None, typer.Option("--homes-csv", metavar="FILE", help=say("help.sachet-homes-csv"))
    ] = None,
    read_with: Annotated[
        str | None, typer.Option("--read-with", help=say("help.sachet-read-with"))
    ] = None,
    homes: Annotated[int, typer.Option("--homes", help=say("help.sachet-homes-count"))] = 10_000,
    sizes: Annotated[str | None, typer.Option("--sizes", help=say("help.sachet-sizes"))] = None,
    wished_share: Annotated[
        str | None, typer.Option("--wished-share", help=say("help.sachet-wished-share"))
    ] = None,
    sachets: Annotated[
        int | None, typer.Option("--sachets", help=say("help.sachet-sachets"))
    ] = None,
    target: TargetWish = None,
    accept_ph: AcceptPh = None,
    blend: Annotated[bool, typer.Option("--blend", help=say("help.sachet-blend"))] = False,
    powders: Annotated[
        str | None, typer.Option("--powders", help=say("help.sachet-blend-powders"))
    ] = None,
    band: Annotated[str | None, typer.Option("--band", help=say("help.sachet-band"))] = None,
    prices: Annotated[
        list[str] | None, typer.Option("--price", help=say("help.sachet-price"))
    ] = None,
    picture: Picture = None,
    as_json: Json = False,
) -> None:
    """Sachets for many homes."""
    from dosing.cli import sachets as room

    raise typer.Exit(room.run_sachet(room.SachetOptions(**context.params)))


ABOUT = "water"
COMMANDS = (
    Command(water, "help.water"),
    Command(sachet, "help.sachet"),
)
