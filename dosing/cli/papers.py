"""``papers``: labels, directions and the sheets that a product is made and assessed by."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli.batch import USUAL_BOTTLES
from dosing.cli.options import Command, Json
from dosing.cli.product import ProductDemo, ProductPath
from indicator.notes import say


def papers(
    product: ProductPath = None,
    demo: ProductDemo = None,
    output: Annotated[
        Path | None,
        typer.Option("-o", "--output", metavar="FOLDER", help=say("help.papers-output")),
    ] = None,
    only: Annotated[str | None, typer.Option("--only", help=say("help.papers-only"))] = None,
    paper: Annotated[str, typer.Option("--paper", help=say("help.papers-paper"))] = "A4",
    bottles: Annotated[
        int, typer.Option("--bottles", help=say("help.papers-bottles"))
    ] = USUAL_BOTTLES,
    start: Annotated[str | None, typer.Option("--start", help=say("help.papers-start"))] = None,
    as_json: Json = False,
) -> None:
    """Papers of a product."""
    from dosing.cli.given import product_of, typed_name
    from dosing.cli.printing import Printed, show_papers

    asked = Printed.of(output, only, paper, bottles, start)
    whose = typed_name(product, demo)
    raise typer.Exit(show_papers(product_of(product, demo), asked, whose, as_json=as_json))


COMMAND = Command(papers, "help.papers")
