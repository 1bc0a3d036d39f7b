"""``batch``: a weigh sheet for so many bottles or kilograms of a product."""

from __future__ import annotations

from typing import Annotated

import typer

from dosing.cli import options
from dosing.cli.product import ProductDemo, ProductPath
from indicator.notes import say

USUAL_BOTTLES = 24


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
    from dosing.recipe import quantities as q
    from dosing.words.templates import render
    from dosing.workshop import assess
    from dosing.workshop.batch import BatchAsked
    from dosing.workshop.batch import batch as weigh_sheet
    from dosing.workshop.product_file import MOST_LOSS

    if bottles is not None and kilograms is not None:
        raise q.InputError(say("batch.bottles-and-kilograms"), "bottles", bottles)
    if kilograms is not None and not kilograms > 0:
        raise q.InputError(say("batch.error.kilograms", {"value": kilograms}), "kilograms")
    step_g = q.mass_g(balance, "balance")
    if not LEAST_STEP_G <= step_g <= MOST_STEP_G:
        raise q.InputError(say("batch.error.balance", {"value": balance}), "balance")
    loss = None if overage is None else q.share(overage, "overage")
    if loss is not None and loss >= MOST_LOSS:
        raise q.InputError(say("batch.error.overage", {"value": str(overage)}), "overage")
    asked = BatchAsked(
        kits=USUAL_BOTTLES if bottles is None and kilograms is None else bottles,
        makes_g=None if kilograms is None else 1000.0 * kilograms,
        balance_g=step_g,
        loss=loss,
    )
    sheet = weigh_sheet(assess(product_of(file, demo)), asked)
    answer(sheet, lambda: render("batch", sheet=sheet, more=more), as_json=as_json)
    raise typer.Exit(0 if sheet.allowed else NOT_MET)


LEAST_STEP_G, MOST_STEP_G = 0.001, 100.0
COMMAND = options.Command(batch, "help.batch")
