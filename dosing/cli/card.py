"""``card``: the dose card of a product, for a phone, on paper and as a picture."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli import options


def card(
    recipe: options.Recipe = None,
    demo: options.Demo = None,
    output: Annotated[
        Path | None, options.usual("card-output", "-o", "--output", metavar="FILE")
    ] = None,
    paper_card: Annotated[Path | None, options.usual("card-paper", metavar="FILE")] = None,
    image: Annotated[Path | None, options.usual("card-image", metavar="FILE")] = None,
    board: Annotated[Path | None, options.usual("card-board", metavar="FILE")] = None,
    language: Annotated[str | None, options.usual("card-language")] = None,
    as_json: options.Json = False,
) -> None:
    """The dose card of a product."""
    from dosing.cli.cards import CardFiles, refused, show_card, write_board
    from dosing.cli.given import product_in, recipe_of, tables_of
    from dosing.cli.output import Page
    from indicator.notes import say

    files = CardFiles(output, paper_card, image, board)
    product = product_in(recipe) if demo is None else None
    if product is not None and (code := refused(product)):
        raise typer.Exit(code)
    inputs = recipe_of(recipe, demo) if product is None else product.recipe
    if board is not None:
        write_board(inputs, tables_of(recipe, demo), board, language)
    if files.only_board and not as_json:
        Page().line(say("cli.picture-written", {"file": str(board)}))
        raise typer.Exit
    raise typer.Exit(show_card(inputs, files, language, as_json=as_json))


COMMAND = options.Command(card, "help.card")
