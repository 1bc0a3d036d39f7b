"""``adjust``: readings of a batch against what was stirred in, and how much more."""

from __future__ import annotations

from typing import Annotated

import typer

from dosing.cli import options


def adjust(
    readings: Annotated[
        list[str] | None, options.argument("adjust-readings", metavar="G=PH ...")
    ] = None,
    to: Annotated[float, options.usual("adjust-to")] = 5.5,
    given: Annotated[str, options.usual("adjust-with", "--with")] = "citric-acid",
    then: Annotated[str | None, options.usual("adjust-next", "--next")] = None,
    batch: Annotated[str, options.usual("adjust-batch")] = "1 kg",
    read_with: Annotated[str, options.usual("adjust-read-with")] = "meter",
    dyed: Annotated[bool, options.usual("adjust-dyed", "--dyed")] = False,
    more: options.More = False,
    as_json: options.Json = False,
) -> None:
    """How much more acid or base brings a batch to a pH."""
    from dosing.cli.output import answer
    from dosing.cli.session import NOT_MET
    from dosing.words.templates import render
    from dosing.workshop import batch_readings
    from dosing.workshop.adjust import adjust as adjusted
    from dosing.workshop.adjusters import adjuster_of

    stock = adjuster_of(given)
    asked = batch_readings.asked(
        readings or (),
        wished_ph=to,
        given=stock,
        next_in=stock if then is None else adjuster_of(then, "next"),
        batch=batch,
        read_with=read_with,
        dyed=dyed,
    )
    adjustment = adjusted(asked)
    answer(
        adjustment,
        lambda: render("adjust", adjustment=adjustment, batch=batch, more=more),
        as_json=as_json,
    )
    raise typer.Exit(0 if adjustment.consistent else NOT_MET)


COMMAND = options.Command(adjust, "help.adjust")
