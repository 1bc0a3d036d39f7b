"""``papers``: labels, directions and the sheets that a product is made and assessed by."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli import options
from dosing.cli.product import ProductDemo, ProductPath
from indicator.notes import say

EXAMPLE = '"2026-12-01"'
"""Of a first day, for who wrote none."""


def papers(
    product: ProductPath = None,
    demo: ProductDemo = None,
    output: Annotated[
        Path | None, options.usual("papers-output", "-o", "--output", metavar="FOLDER")
    ] = None,
    only: Annotated[str | None, options.usual("papers-only")] = None,
    paper: Annotated[str, options.usual("papers-paper")] = "A4",
    bottles: Annotated[int, options.usual("papers-bottles")] = 24,
    start: Annotated[str | None, options.usual("papers-start")] = None,
    as_json: options.Json = False,
) -> None:
    """Papers of a product."""
    from datetime import date

    from dosing.cli.given import product_of, typed_name
    from dosing.cli.output import answer
    from dosing.cli.session import NOT_MET, check_free
    from dosing.pictures.paper_set import KINDS, PaperSet
    from dosing.pictures.papers import PAPER_NAMES
    from dosing.recipe.names import calendar_day
    from dosing.words.templates import render
    from indicator.accepted import one_of
    from indicator.files import whole_file

    one_of("paper", paper, PAPER_NAMES)
    kinds = KINDS if only is None else tuple(kind.strip() for kind in only.split(","))
    for kind in kinds:
        one_of("only", kind, KINDS)
    _check_folder(output)
    written = date.today() if start is None else start
    first_day = date.fromisoformat(calendar_day(written, "start", EXAMPLE))
    made = PaperSet.of(product_of(product, demo), kinds, bottles, first_day)
    listed = made.listed(None if output is None else str(output))
    if output is not None:
        for each in listed.papers:
            check_free(output / each.file, "output")
        files = made.files(paper)
        output.mkdir(exist_ok=True)
        for name, pdf in files.items():
            with whole_file(output / name) as draft:
                draft.write_bytes(pdf)
    whose = typed_name(product, demo)
    answer(listed, lambda: render("papers", answer=listed, whose=whose), as_json=as_json)
    raise typer.Exit(NOT_MET if made.refused else 0)


def _check_folder(folder: Path | None) -> None:
    from dosing.recipe.quantities import InputError

    if folder is None or folder.is_dir():
        return
    if folder.is_file() or not folder.parent.is_dir():
        code = "cli.no-folder" if folder.is_file() else "cli.picture-folder"
        raise InputError(say(code, {"option": "output", "file": str(folder)}), "output")


COMMAND = options.Command(papers, "help.papers")
