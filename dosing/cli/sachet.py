"""``sachet``: one sachet for many homes: sizes, rules by strip and by colour, and blends."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli.options import (
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
    more_option,
)
from indicator.notes import say


def _asked(name: str) -> object:
    return typer.Option(f"--{name}", help=say(f"help.sachet-{name}"))


def _rare(name: str) -> object:
    return more_option(f"--{name}", help=f"help.sachet-{name}")


def sachet(
    recipe: Recipe = None,
    demo: Demo = None,
    population: Annotated[str | None, _asked("population")] = None,
    homes_csv: Annotated[Path | None, _asked("homes-csv")] = None,
    sizes: Annotated[str | None, _asked("sizes")] = None,
    wished_share: Annotated[str | None, _asked("wished-share")] = None,
    target: TargetWish = None,
    more: More = False,
    cautions: Cautions = False,
    picture: Picture = None,
    sheet: Sheet = None,
    paper: Paper = "A4",
    read_with: Annotated[str | None, _rare("read-with")] = None,
    homes: Annotated[int, _rare("homes")] = 10_000,
    sachets: Annotated[int | None, _rare("sachets")] = None,
    powders: Annotated[str | None, _rare("powders")] = None,
    band: Annotated[str | None, _rare("band")] = None,
    prices: Annotated[list[str] | None, _rare("price")] = None,
    as_json: Json = False,
) -> None:
    """Sachets for many homes."""
    from dataclasses import replace

    from dosing.cli.given import Files, check_bottles, recipe_of
    from dosing.cli.sachets import AskedSachet, homes_of, show_sachet

    check_bottles(recipe)
    files = Files(picture, sheet, paper)
    asked = AskedSachet(sizes, wished_share, sachets, powders, band, prices or (), more, cautions)
    inputs = recipe_of(recipe, demo)
    inputs = replace(inputs, wish=replace(inputs.wish, target=target or inputs.wish.target))
    drawn = homes_of(population, homes_csv, read_with, homes)
    raise typer.Exit(show_sachet(inputs, drawn, asked, files, as_json=as_json))


COMMAND = Command(sachet, "help.sachet")
