"""``papers``: labels, directions and the sheets that a product is made and assessed by."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli import options
from dosing.cli.batch import USUAL_BOTTLES
from dosing.cli.product import ProductDemo, ProductPath


def papers(
    product: ProductPath = None,
    demo: ProductDemo = None,
    output: Annotated[
        Path | None, options.usual("papers-output", "-o", "--output", metavar="FOLDER")
    ] = None,
    only: Annotated[str | None, options.usual("papers-only")] = None,
    paper: Annotated[str, options.usual("papers-paper")] = "A4",
    bottles: Annotated[int, options.usual("papers-bottles")] = USUAL_BOTTLES,
    start: Annotated[str | None, options.usual("papers-start")] = None,
    as_json: options.Json = False,
) -> None:
    """Papers of a product."""
    from dosing.cli.given import product_of, typed_name
    from dosing.cli.printing import Printed, show_papers

    asked = Printed.of(output, only, paper, bottles, start)
    whose = typed_name(product, demo)
    raise typer.Exit(show_papers(product_of(product, demo), asked, whose, as_json=as_json))


COMMAND = options.Command(papers, "help.papers")
