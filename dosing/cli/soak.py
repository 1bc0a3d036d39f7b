"""``soak``: one pour or several, from the tub before to hours later and the way back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dosing.cli import options
from indicator.notes import say

if TYPE_CHECKING:
    from dosing.bath.inputs import RecipeInputs
    from dosing.pictures.shop import Shown
    from dosing.soak.records import Soak

SOAK_LINES = 20
"""Lines of a default answer, at 80 columns."""
FILMS = (".gif", ".webp")
"""Endings of moving pictures."""


def soak(
    recipe: options.Recipe = None,
    demo: options.Demo = None,
    dose: Annotated[str | None, options.usual("soak-dose")] = None,
    steps: Annotated[str | None, options.usual("soak-steps")] = None,
    minutes: Annotated[int, options.usual("soak-minutes")] = 60,
    poured: Annotated[str | None, options.usual("soak-poured")] = None,
    stir: Annotated[str, options.usual("soak-stir")] = "hand",
    grain: Annotated[str | None, options.rare("soak-grain")] = None,
    more: options.More = False,
    cautions: options.Cautions = False,
    picture: Annotated[Path | None, options.usual("soak-picture", metavar="FILE")] = None,
    sheet: options.Sheet = None,
    accept_ph: options.AcceptPh = None,
    accept_pouring: options.AcceptPouring = None,
    paper: options.Paper = "A4",
    as_json: options.Json = False,
) -> None:
    """One pour or several, from the tub before to hours later."""
    from dataclasses import replace

    from dosing.cli.given import Files, check_picture, checked_product, recipe_of, typed_name
    from dosing.cli.output import answer
    from dosing.cli.session import NOT_MET
    from dosing.pictures.sheets import ENDINGS
    from dosing.recipe.quantities import InputError
    from dosing.soak.records import Manner
    from dosing.soak.steps import first_portion_g, make_soak, parse_steps
    from dosing.words.templates import render_in
    from indicator.accepted import reason

    check_picture(picture, (*ENDINGS, ".gif"))
    Files(None, sheet, paper)
    if dose is not None and steps is not None:
        raise InputError(say("cli.dose-and-steps"), "dose", dose)
    product = checked_product(recipe)
    inputs = recipe_of(recipe, demo)
    manner = Manner(poured or inputs.activator.pouring, stir, grain, minutes)
    inputs = replace(inputs, activator=replace(inputs.activator, pouring=manner.poured))
    inputs, dose_g = _measured(inputs, dose)
    if dose is None and steps is None:
        dose_g = first_portion_g(inputs) if product is None else product.activator_g
    wishes = None if steps is None else parse_steps(steps)
    if picture is not None and picture.suffix.lower() in FILMS and wishes and len(wishes) > 1:
        raise InputError(say("cli.film-one-pour", {"steps": len(wishes)}), "picture", picture)
    followed = make_soak(
        inputs,
        wishes,
        dose_g=dose_g,
        manner=manner,
        accept_ph=reason("accept-ph", accept_ph),
        accept_pouring=reason("accept-pouring", accept_pouring),
    )

    def text(*, whole: bool) -> str:
        told = {"more": more, "cautions": cautions or whole, "on_paper": whole}
        told["first_portion"] = bool(dose_g and not dose and product is None)
        return render_in(SOAK_LINES, "soak", soak=followed, whose=typed_name(recipe, demo), **told)

    if picture is not None or sheet is not None:
        from dosing.pictures.ribbon import draw_head
        from dosing.pictures.sheets import write_sheet
        from dosing.pictures.shop import shown_soak

        shown = shown_soak(followed, foam=inputs.foam_bath is not None)
    if picture is not None:
        _draw(followed, shown, picture)
    if sheet is not None:
        write_sheet(text(whole=True), draw_head(shown), sheet, paper)
    answer(followed.to_pour(), lambda: text(whole=False), as_json=as_json, written=(picture, sheet))
    raise typer.Exit(0 if followed.reached else NOT_MET)


def _measured(inputs: RecipeInputs, dose: str | None) -> tuple[RecipeInputs, float | None]:
    """The recipe with how its dose is measured, and the dose [g]; None for the plan's own."""
    from dosing.recipe import measured_dose
    from dosing.recipe.quantities import InputError

    if dose is None:
        return inputs, None
    measured, grams = measured_dose(inputs, dose)
    if grams <= 0:
        raise InputError(say("cli.zero-dose", {"value": repr(dose)}), "dose", dose)
    return measured, grams


def _draw(followed: Soak, shown: Shown, picture: Path) -> None:
    from dosing.pictures.film import SMALL, write_film
    from dosing.pictures.paper import SIDE
    from dosing.pictures.sheets import write_picture
    from dosing.pictures.shop import draw_shop
    from dosing.recipe.quantities import InputError

    if picture.suffix.lower() not in FILMS:
        write_picture(draw_shop(shown), picture)
        return
    if followed.course is None:
        raise InputError(say("cli.nothing-to-film"), "picture")
    # Moving pictures of few colours get large.
    side = SMALL if picture.suffix.lower() == ".gif" else SIDE
    write_film(shown, followed.course, followed.volume_l, picture, side)


COMMAND = options.Command(soak, "help.soak")
