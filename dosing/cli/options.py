"""Options that several commands share, and how a command is listed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from indicator.notes import say


def more_option(*names: str, help: str, **rest: Any) -> Any:
    """An option that only ``--help-all`` lists.

    Parameters
    ----------
    *names : str
        As it is written.
    help : str
        Key of its sentence.
    **rest
        As `typer.Option` takes them.

    Returns
    -------
    typer option
    """
    return typer.Option(*names, help=say(help), hidden=True, **rest)


Json = Annotated[bool, typer.Option("--json", help=say("help.json"))]
Picture = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE", help=say("help.picture"))
]
Sheet = Annotated[Path | None, typer.Option("--sheet", metavar="FILE", help=say("help.sheet"))]
Paper = Annotated[str, more_option("--paper", help="help.paper")]
More = Annotated[bool, typer.Option("--more", help=say("help.more"))]
Cautions = Annotated[bool, typer.Option("--cautions", help=say("help.cautions"))]
AcceptPh = Annotated[str | None, more_option("--accept-ph", metavar="WHY", help="help.accept-ph")]
AcceptPouring = Annotated[
    str | None, more_option("--accept-pouring", metavar="WHY", help="help.accept-pouring")
]
Recipe = Annotated[Path | None, typer.Argument(help=say("help.recipe-argument"))]
Demo = Annotated[str | None, typer.Option("--demo", help=say("help.demo"))]
TargetWish = Annotated[str | None, typer.Option("--target", help=say("help.target"))]
Strength = Annotated[str | None, typer.Option("--strength", help=say("help.strength"))]


@dataclass(frozen=True)
class Command:
    """A command as the top of the command line lists it."""

    run: Callable[..., None]
    help: str
    """Key of its sentence."""
    name: str | None = None
    """Where it is not that of the function."""
