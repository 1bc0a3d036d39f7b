"""Commands about colour, from the petal to the ladder of hues, and their options."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli import colours
from dosing.cli.options import (
    Command,
    Demo,
    Json,
    Light,
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
    soak: Annotated[str, typer.Option("--soak", help=say("help.soak"))] = "60 min",
    demo: Demo = None,
    as_json: Json = False,
) -> None:
    """What is left of a bottle's colour."""
    from dosing.cli import keeps

    keeps.run_keep(**context.params)


def calibrate(
    context: typer.Context,
    pigment: Annotated[str, typer.Argument(help=say("help.calibrate-pigment"))],
    series: Annotated[Path | None, typer.Argument(help=say("help.calibrate-series"))] = None,
    photo: Annotated[
        Path | None, typer.Option("--photo", metavar="FILE", help=say("help.photo"))
    ] = None,
    white: Annotated[list[str] | None, typer.Option("--white", help=say("help.white"))] = None,
    jar: Annotated[list[str] | None, typer.Option("--jar", help=say("help.jar"))] = None,
    path: Annotated[str | None, typer.Option("--path", help=say("help.path"))] = None,
    light: Light = None,
    diluted: Annotated[float, typer.Option("--diluted", help=say("help.diluted"))] = 1.0,
    petals: Annotated[
        str | None, typer.Option("--petals", help=say("help.calibrate-petals"))
    ] = None,
    ph_by: Annotated[str, typer.Option("--ph-by", help=say("help.ph-by"))] = "meter",
    in_foam_bath: Annotated[
        str | None, typer.Option("--in-foam-bath", help=say("help.in-foam-bath"))
    ] = None,
    only_strength: Annotated[
        bool, typer.Option("--only-strength", help=say("help.only-strength"))
    ] = False,
    name: Annotated[str | None, typer.Option("--name", help=say("help.pigment-name"))] = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help=say("help.pigment-output"))
    ] = None,
    anyway: Annotated[bool, typer.Option("--anyway", help=say("help.anyway"))] = False,
    as_json: Json = False,
) -> None:
    """A pigment fitted to the maker's own jars."""
    from dosing.cli import calibrates

    raise typer.Exit(calibrates.run_calibrate(calibrates.CalibrateOptions(**context.params)))


ABOUT = "colour"
COMMANDS = (
    Command(brew, "help.brew"),
    Command(steep, "help.steep"),
    Command(keep, "help.keep"),
    colours.COMMAND,
    Command(calibrate, "help.calibrate"),
)
