"""``trouble``: what went wrong with a bath, its causes, and the one test that tells them apart."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from dosing.cli import options
from indicator.notes import say


def trouble(
    happened: Annotated[str, options.argument("trouble-happened")],
    recipe: Annotated[Path | None, options.argument("recipe-argument")] = None,
    demo: options.Demo = None,
    saw: Annotated[list[str] | None, options.usual("trouble-saw")] = None,
    dose: Annotated[str | None, options.usual("trouble-dose")] = None,
    as_json: options.Json = False,
) -> None:
    """What went wrong, and why."""
    from dosing.cli.given import product_in, recipe_of, typed_name
    from dosing.cli.output import answer, printable
    from dosing.plan.households import small_vessel
    from dosing.recipe import measured_dose
    from dosing.recipe.quantities import InputError
    from dosing.words.templates import in_basin, render
    from dosing.workshop.trouble import complaint_of, observed
    from dosing.workshop.trouble import trouble as causes_of

    if recipe is not None and happened.endswith(".toml"):
        # Either order is plain enough.
        happened, recipe = str(recipe), Path(happened)
    elif happened.endswith(".toml"):
        raise InputError(say("trouble.nothing-said", {"file": happened}), "happened", happened)
    complaint_of(happened)
    inputs, grams = recipe_of(recipe, demo), None
    if dose is not None:
        inputs, grams = measured_dose(inputs, dose)
    elif demo is None and (product := product_in(recipe)) is not None:
        grams = product.activator_g
    found = causes_of(printable(happened), inputs, dict(map(observed, saw or ())), grams)
    typed = typed_name(recipe, demo) + ("" if dose is None else f' --dose "{dose}"')

    def text() -> str:
        told = render("trouble", answer=found, typed=typed)
        return in_basin(told) if small_vessel(inputs) else told

    answer(found, text, as_json=as_json)


COMMAND = options.Command(trouble, "help.trouble")
