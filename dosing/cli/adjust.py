"""``adjust``: readings of a batch against what was stirred in, and how much more."""

from __future__ import annotations

from typing import Annotated

import typer

from dosing.cli.options import Command, Json, More
from indicator.notes import say


def adjust(
    readings: Annotated[
        list[str] | None, typer.Argument(metavar="G=PH ...", help=say("help.adjust-readings"))
    ] = None,
    to: Annotated[float, typer.Option("--to", help=say("help.adjust-to"))] = 5.5,
    given: Annotated[str, typer.Option("--with", help=say("help.adjust-with"))] = "citric-acid",
    then: Annotated[str | None, typer.Option("--next", help=say("help.adjust-next"))] = None,
    batch: Annotated[str, typer.Option("--batch", help=say("help.adjust-batch"))] = "1 kg",
    read_with: Annotated[
        str, typer.Option("--read-with", help=say("help.adjust-read-with"))
    ] = "meter",
    dyed: Annotated[bool, typer.Option("--dyed", help=say("help.adjust-dyed"))] = False,
    more: More = False,
    as_json: Json = False,
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


COMMAND = Command(adjust, "help.adjust")
