"""Commands about one bath, from the first questions to the jar beside it, and their options."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli import design, new, plan, recipe, soak
from dosing.cli.options import (
    AcceptPh,
    AcceptPouring,
    Command,
    Demo,
    Json,
    TargetWish,
)
from indicator.notes import say


def jar(
    context: typer.Context,
    files: Annotated[
        list[Path] | None, typer.Argument(help=say("help.jar-files"), metavar="[RECIPE] [SERIES]")
    ] = None,
    demo: Demo = None,
    step: Annotated[
        list[str] | None,
        typer.Option("--step", metavar='"ML: READING"', help=say("help.jar-step")),
    ] = None,
    by: Annotated[str | None, typer.Option("--by", help=say("help.jar-by"))] = None,
    plain: Annotated[bool, typer.Option("--plain", help=say("help.jar-plain"))] = False,
    with_foam: Annotated[bool, typer.Option("--with-foam", help=say("help.jar-with-foam"))] = False,
    size: Annotated[str, typer.Option("--jar", help=say("help.jar-size"))] = "1 L",
    acid: Annotated[str | None, typer.Option("--acid", help=say("help.jar-acid"))] = None,
    solution: Annotated[
        str | None, typer.Option("--solution", help=say("help.jar-solution"))
    ] = None,
    weighed: Annotated[
        list[str] | None, typer.Option("--weighed", help=say("help.jar-weighed"))
    ] = None,
    scale: Annotated[str, typer.Option("--scale", help=say("help.jar-scale"))] = "kitchen-scale",
    unit: Annotated[str | None, typer.Option("--unit", help=say("help.jar-unit"))] = None,
    drops_per_ml: Annotated[
        float | None, typer.Option("--drops-per-ml", help=say("help.jar-drops"))
    ] = None,
    colour_times: Annotated[
        float | None, typer.Option("--colour-times", help=say("help.jar-times"))
    ] = None,
    path: Annotated[str | None, typer.Option("--path", help=say("help.jar-path"))] = None,
    white: Annotated[
        list[str] | None,
        typer.Option("--white", metavar="X,Y,WIDTH,HEIGHT", help=say("help.jar-white")),
    ] = None,
    liquid: Annotated[
        str | None,
        typer.Option("--liquid", metavar="X,Y,WIDTH,HEIGHT", help=say("help.jar-liquid")),
    ] = None,
    temperature: Annotated[
        str | None, typer.Option("--temperature", help=say("help.jar-temperature"))
    ] = None,
    target: TargetWish = None,
    accept_ph: AcceptPh = None,
    accept_pouring: AcceptPouring = None,
    instructions: Annotated[
        bool, typer.Option("--instructions", help=say("help.jar-instructions"))
    ] = False,
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="FILE", help=say("help.jar-picture"))
    ] = None,
    as_json: Json = False,
) -> None:
    """A jar of the bath titrated, and the dose corrected."""
    from dosing.cli import jars

    raise typer.Exit(jars.run_jar(jars.JarOptions(**context.params)))


ABOUT = "bath"
COMMANDS = (
    new.COMMAND,
    plan.COMMAND,
    design.COMMAND,
    soak.COMMAND,
    Command(jar, "help.jar-test"),
    recipe.COMMAND,
)
