"""``sachet``: one sachet for many homes: sizes, rules by strip and by colour, and blends."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli import options


def sachet(
    recipe: options.Recipe = None,
    demo: options.Demo = None,
    population: Annotated[str | None, options.usual("sachet-population")] = None,
    homes_csv: Annotated[Path | None, options.usual("sachet-homes-csv")] = None,
    sizes: Annotated[str | None, options.usual("sachet-sizes")] = None,
    wished_share: Annotated[str | None, options.usual("sachet-wished-share")] = None,
    target: options.TargetWish = None,
    more: options.More = False,
    cautions: options.Cautions = False,
    picture: options.Picture = None,
    sheet: options.Sheet = None,
    paper: options.Paper = "A4",
    read_with: Annotated[str | None, options.rare("sachet-read-with")] = None,
    homes: Annotated[int, options.rare("sachet-homes")] = 10_000,
    sachets: Annotated[int | None, options.rare("sachet-sachets")] = None,
    powders: Annotated[str | None, options.rare("sachet-powders")] = None,
    band: Annotated[str | None, options.rare("sachet-band")] = None,
    prices: Annotated[list[str] | None, options.rare("sachet-price", "--price")] = None,
    as_json: options.Json = False,
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


COMMAND = options.Command(sachet, "help.sachet")
