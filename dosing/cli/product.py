"""``product``: a product file, from what is in it to whether it may be sold."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli import options

ProductPath = Annotated[Path | None, options.argument("product-argument")]
ProductDemo = Annotated[str | None, options.usual("product-demo", "--demo")]


def product(
    file: ProductPath = None,
    demo: ProductDemo = None,
    names: Annotated[bool, options.usual("product-names", "--names")] = False,
    more: options.More = False,
    cautions: options.Cautions = False,
    as_json: options.Json = False,
) -> None:
    """Composition, colour, preservative, limits and verdicts of a product."""
    from dosing.cli.given import product_of
    from dosing.cli.output import answer
    from dosing.cli.session import NOT_MET
    from dosing.words.templates import render
    from dosing.workshop import assess
    from dosing.workshop.materials import known_names

    if names:
        known = known_names()
        answer(known, lambda: render("product-names", known=known), as_json=as_json)
        return
    assessed = assess(product_of(file, demo))
    answer(
        assessed,
        lambda: render("product", answer=assessed, more=more, cautions=cautions),
        as_json=as_json,
    )
    raise typer.Exit(0 if assessed.allowed else NOT_MET)


COMMAND = options.Command(product, "help.product")
