"""Options that several commands share, and how a command is listed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from indicator.notes import say


def usual(help: str, *names: str, **rest: Any) -> Any:
    """An option that the help of a command lists.

    Parameters
    ----------
    help : str
        Key of its sentence.
    *names : str
        As it is written; that of the parameter if not given, which a flag needs.
    **rest
        As `typer.Option` takes them.

    Returns
    -------
    typer option
    """
    return typer.Option(*names, help=say(f"help.{help}"), **rest)


def rare(help: str, *names: str, **rest: Any) -> Any:
    """An option that only ``--help-all`` lists; parameters as of `usual`."""
    return usual(help, *names, hidden=True, **rest)


def argument(help: str, **rest: Any) -> Any:
    """An argument that is taken by its place; parameters as of `usual`."""
    return typer.Argument(help=say(f"help.{help}"), **rest)


Json = Annotated[bool, usual("json", "--json")]
Picture = Annotated[Path | None, usual("picture", metavar="FILE")]
Sheet = Annotated[Path | None, usual("sheet", metavar="FILE")]
Paper = Annotated[str, rare("paper")]
More = Annotated[bool, usual("more", "--more")]
Cautions = Annotated[bool, usual("cautions", "--cautions")]
AcceptPh = Annotated[str | None, rare("accept-ph", metavar="WHY")]
AcceptPouring = Annotated[str | None, rare("accept-pouring", metavar="WHY")]
Recipe = Annotated[Path | None, argument("recipe-argument")]
Demo = Annotated[str | None, usual("demo")]
TargetWish = Annotated[str | None, usual("target", "--target")]


@dataclass(frozen=True)
class Command:
    """A command as the top of the command line lists it."""

    run: Callable[..., None]
    help: str
    """Key of its sentence."""
    name: str | None = None
    """Where it is not that of the function."""
