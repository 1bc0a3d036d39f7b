"""``water``: what a tap water holds and what it takes to turn it."""

from __future__ import annotations

from typing import Annotated

import typer

from dosing.cli import options
from indicator.notes import say

READINGS = (
    *("alkalinity", "hardness", "ph", "like", "calcium", "magnesium"),
    *("sodium", "potassium", "chloride", "sulfate", "nitrate"),
)
"""Options that are keys of a recipe's ``[water]``."""


def water(
    context: typer.Context,
    alkalinity: Annotated[str | None, options.usual("water-alkalinity")] = None,
    hardness: Annotated[str | None, options.usual("water-hardness")] = None,
    ph: Annotated[str | None, options.usual("water-ph")] = None,
    like: Annotated[str | None, options.usual("water-like")] = None,
    temperature: Annotated[str | None, options.rare("water-temperature")] = None,
    calcium: Annotated[str | None, options.rare("water-calcium")] = None,
    magnesium: Annotated[str | None, options.rare("water-magnesium")] = None,
    sodium: Annotated[str | None, options.rare("water-sodium")] = None,
    potassium: Annotated[str | None, options.rare("water-potassium")] = None,
    chloride: Annotated[str | None, options.rare("water-chloride")] = None,
    sulfate: Annotated[str | None, options.rare("water-sulfate")] = None,
    nitrate: Annotated[str | None, options.rare("water-nitrate")] = None,
    more: options.More = False,
    as_json: options.Json = False,
) -> None:
    """What a tap water holds and what it takes to turn it."""
    from dosing.cli.output import answer
    from dosing.cli.session import known_pigments
    from dosing.ingredients.tap import look_at
    from dosing.ingredients.water import tap_water
    from dosing.plan.levels import LEVELS
    from dosing.plan.pouring import gentlest_ph
    from dosing.recipe import recipe_from
    from dosing.recipe.quantities import InputError
    from dosing.words.templates import render

    read = {name: context.params[name] for name in READINGS if context.params[name] is not None}
    if not read:
        raise InputError(say("cli.water-nothing"))
    warm = {} if temperature is None else {"reading_temperature": temperature}
    inputs = recipe_from({"water": read | warm}, "water", known_pigments())
    look = look_at(tap_water(inputs.water))
    mind = LEVELS.index("mind")
    limits = {whom: gentlest_ph(whom, mind, acid=True) for whom in ("child", "adult")}
    answer(look, lambda: render("water", water=look, limits=limits, more=more), as_json=as_json)


COMMAND = options.Command(water, "help.water")
