"""``sachet``: one sachet for many homes: sizes, rules by strip and by colour, and blends."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli import options

ANSWER_LINES = 20
"""Of a default answer, at 80 columns."""


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

    from dosing.cli.given import Files, checked_product, recipe_of, typed_name
    from dosing.cli.output import answer
    from dosing.cli.session import NOT_MET, known_pigments
    from dosing.effects.prices import prices_per_gram
    from dosing.sachets.asked import AskedSachet, homes_of
    from dosing.words.templates import render_in

    product = checked_product(recipe)
    if product is not None and sizes is None and product.activator_g:
        sizes = f"{product.activator_g:g} g"
    files = Files(picture, sheet, paper)
    costs = prices_per_gram(prices or (), known_pigments())
    asked = AskedSachet(sizes, wished_share, sachets, powders, band, costs)
    inputs = recipe_of(recipe, demo)
    inputs = replace(inputs, wish=replace(inputs.wish, target=target or inputs.wish.target))
    sold = asked.answer(inputs, homes_of(population, homes_csv, read_with, homes))

    def text(whole: bool = False) -> str:
        # Label and blend may stand on a page of their own.
        of_product = "" if product is None else typed_name(recipe, demo)
        how = {"of_product": of_product, "more": more, "cautions": cautions or whole, "bare": whole}
        return render_in(ANSWER_LINES, "sachet", answer=sold, **how)

    if any(files.written):
        from dosing.pictures.sachets import draw_sachet
        from dosing.pictures.sheets import write_picture, write_sheet

        if picture is not None:
            write_picture(draw_sachet(sold), picture)
        if sheet is not None:
            write_sheet(text(whole=True), draw_sachet(sold), sheet, files.paper)
    answer(sold, text, as_json=as_json, written=files.written)
    raise typer.Exit(0 if sold.reached else NOT_MET)


COMMAND = options.Command(sachet, "help.sachet")
