"""``design``: from a start colour to an end colour; without them, the gallery of what works."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli import options


def design(
    start: Annotated[str | None, options.argument("design-start")] = None,
    end: Annotated[str | None, options.argument("design-end")] = None,
    recipe: Annotated[Path | None, options.argument("design-recipe")] = None,
    demo: options.Demo = None,
    shelf: Annotated[str | None, options.usual("shelf-of")] = None,
    bathers: Annotated[str | None, options.usual("design-bathers")] = None,
    write: Annotated[Path | None, options.usual("write-design", metavar="FILE")] = None,
    more: options.More = False,
    cautions: options.Cautions = False,
    picture: options.Picture = None,
    sheet: options.Sheet = None,
    as_json: options.Json = False,
    pick: Annotated[int | None, options.rare("pick")] = None,
    count: Annotated[int, options.rare("design-count")] = 3,
    price: Annotated[list[str] | None, options.rare("price")] = None,
    paper: options.Paper = "A4",
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


COMMAND = options.Command(design, "help.design")
