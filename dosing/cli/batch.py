"""``batch``: a weigh sheet for so many bottles or kilograms of a product."""

from __future__ import annotations

from typing import Annotated

import typer

from dosing.cli import options
from dosing.cli.product import ProductDemo, ProductPath


def batch(
    file: ProductPath = None,
    demo: ProductDemo = None,
    bottles: Annotated[int | None, options.usual("batch-bottles")] = None,
    kilograms: Annotated[float | None, options.usual("batch-kilograms")] = None,
    balance: Annotated[str, options.usual("batch-balance")] = "1 g",
    overage: Annotated[str | None, options.usual("batch-overage")] = None,
    more: options.More = False,
    as_json: options.Json = False,
) -> None:
    """A weigh sheet for bottles or kilograms of a product."""
    from dosing.cli.given import product_of
    from dosing.cli.output import answer
    from dosing.cli.session import NOT_MET
    from dosing.words.templates import render
    from dosing.workshop import assess
    from dosing.workshop.batch import BatchAsked
    from dosing.workshop.batch import batch as weigh_sheet

    asked = BatchAsked.typed(bottles, kilograms, balance, overage)
    sheet = weigh_sheet(assess(product_of(file, demo)), asked)
    answer(sheet, lambda: render("batch", sheet=sheet, more=more), as_json=as_json)
    raise typer.Exit(0 if sheet.allowed else NOT_MET)


COMMAND = options.Command(batch, "help.batch")
