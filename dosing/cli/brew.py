"""``brew``: petals, water and minutes, the bottle they fill, and how that keeps."""

from __future__ import annotations

from typing import Annotated

import typer

from dosing.cli import options
from indicator.notes import say

BREW_LINES = 20
"""Lines of a default answer, at 80 columns."""
MOST_BATHS = 100


def brew(
    recipe: options.Recipe = None,
    demo: options.Demo = None,
    pigment: Annotated[str | None, options.usual("brew-pigment")] = None,
    petals: Annotated[str | None, options.usual("brew-petals")] = None,
    makes: Annotated[str | None, options.usual("brew-makes")] = None,
    bottle: Annotated[str, options.usual("bottle")] = "250 mL",
    baths: Annotated[int, options.usual("baths")] = 1,
    time: Annotated[str, options.usual("brew-time")] = "6 weeks",
    shelf: Annotated[str, options.usual("brew-shelf")] = "22 C",
    more: options.More = False,
    sheet: options.Sheet = None,
    steep_at: Annotated[str | None, options.rare("steep-at")] = None,
    steep_for: Annotated[str | None, options.rare("steep-for")] = None,
    no_lid: Annotated[bool, options.rare("no-lid", "--open")] = False,
    pressed: Annotated[bool, options.rare("pressed", "--pressed")] = False,
    measured: Annotated[str | None, options.rare("measured")] = None,
    bottle_ph: Annotated[str | None, options.rare("bottle-ph")] = None,
    soak: Annotated[str, options.rare("brew-soak")] = "60 min",
    paper: options.Paper = "A4",
    as_json: options.Json = False,
) -> None:
    """Petals, water, minutes, bottle and keeping."""
    from dosing.bottle.answer import BrewAsked, brewing
    from dosing.cli.given import Files, recipe_of, typed_name
    from dosing.cli.output import answer
    from dosing.cli.session import NOT_MET, known_pigments
    from dosing.recipe import brewing as typed
    from dosing.recipe import quantities as q
    from dosing.words.templates import render, render_in

    Files(None, sheet, paper)
    if not 1 <= baths <= MOST_BATHS:
        raise q.InputError(say("cli.baths", {"value": baths, "most": MOST_BATHS}), "baths", baths)
    asked = BrewAsked(
        pigment=None if pigment is None else typed.steeped(pigment, known_pigments()),
        petals_percent=None if petals is None else q.petals_percent(petals, "petals"),
        makes_g=None if makes is None else q.infusion_g(makes, "makes"),
        steep_temperature_c=None
        if steep_at is None
        else q.steep_temperature_c(steep_at, "steep-at"),
        steep_minutes=None if steep_for is None else q.steep_minutes(steep_for, "steep-for"),
        lidded=not no_lid,
        pressed=pressed,
        measured_per_cm=None if measured is None else typed.measured_per_cm(measured),
        bottle_ml=typed.bottle_ml(bottle),
        baths=baths,
        days=q.days(time, "time"),
        shelf_c=q.temperature_c(shelf, "shelf"),
        bottle_ph=None if bottle_ph is None else q.ph(bottle_ph, "bottle-ph"),
        soak_days=q.days(soak, "soak"),
    )
    brewed = brewing(recipe_of(recipe, demo), asked)
    told = {"brew": brewed, "whose": typed_name(recipe, demo)}
    if sheet is not None:
        from dosing.pictures.sheets import write_sheet

        write_sheet(render("brew", **told, more=True, on_paper=True), None, sheet, paper)
    answer(
        brewed,
        lambda: render_in(BREW_LINES, "brew", **told, more=more, cautions=False, on_paper=False),
        as_json=as_json,
        written=(sheet,),
    )
    raise typer.Exit(0 if brewed.allowed else NOT_MET)


COMMAND = options.Command(brew, "help.brew")
