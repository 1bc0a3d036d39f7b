"""``design``: from a start colour to an end colour; without them, the gallery of what works."""

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
    Sheet,
    more_option,
)
from indicator.notes import say


def design(
    start: Annotated[str | None, typer.Argument(help=say("help.design-start"))] = None,
    end: Annotated[str | None, typer.Argument(help=say("help.design-end"))] = None,
    recipe: Annotated[Path | None, typer.Argument(help=say("help.design-recipe"))] = None,
    demo: Demo = None,
    shelf: Annotated[str | None, typer.Option("--shelf", help=say("help.shelf-of"))] = None,
    bathers: Annotated[
        str | None, typer.Option("--bathers", help=say("help.design-bathers"))
    ] = None,
    write: Annotated[
        Path | None, typer.Option("--write", metavar="FILE", help=say("help.write-design"))
    ] = None,
    more: More = False,
    cautions: Cautions = False,
    picture: Picture = None,
    sheet: Sheet = None,
    as_json: Json = False,
    pick: Annotated[int | None, more_option("--pick", help="help.pick")] = None,
    count: Annotated[int, more_option("--count", help="help.design-count")] = 3,
    price: Annotated[list[str] | None, more_option("--price", help="help.price")] = None,
    paper: Paper = "A4",
) -> None:
    """From a start colour to an end colour."""
    from dosing.cli.designs import Asked, show_design, show_gallery
    from dosing.cli.given import Files

    # A file is known by its ending wherever it stands, and else by its place.
    typed = [str(word) for word in (start, end, recipe) if word is not None]
    colours = [word for word in typed if not word.endswith(".toml")]
    named = [word for word in typed if word not in colours] + colours[2:]
    recipe = Path(named[0]) if named else None
    start, end = (*colours, None, None)[:2]
    files = Files(picture, sheet, paper)
    asked = Asked(shelf, bathers, write, pick, count, price or (), more, cautions)
    if start is None or end is None:
        given = {"recipe": recipe, "demo": demo, "write": write, "price": price or None}
        raise typer.Exit(show_gallery(start, asked, files, given, as_json=as_json))
    raise typer.Exit(show_design((start, end), (recipe, demo), asked, files, as_json=as_json))


COMMAND = Command(design, "help.design")
