"""The interview: six answers turned into a recipe.

Nothing is asked of a terminal here; a face asks and hands the answers to `dosing.recipe.answers`.
"""

from __future__ import annotations

from typing import Any

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.possible_tubs import possible_tubs
from dosing.plan.brewing import tint_amounts
from dosing.recipe.answers import Answers, Table
from dosing.recipe.reading import parse_recipe
from dosing.recipe.writing import recipe_toml
from indicator.notes import say


def recipe_text(answers: Answers, title: str) -> str:
    """The recipe as TOML, with what was not known left open.

    Parameters
    ----------
    answers : Answers
        All six.
    title : str
        What the bath is called.

    Returns
    -------
    str
    """
    tables: dict[str, Any] = {
        name: getattr(answers, name) for name in ("tub", "water", "foam_bath", "wish")
    }
    comment = say("new.written")
    without = recipe_toml(comment, title, tables)
    if not answers.colour_wanted:
        return without
    colour = answers.colour or _clear_tint(parse_recipe(without))
    return recipe_toml(comment, title, {**tables, "colour": [colour]})


def _clear_tint(inputs: RecipeInputs) -> Table:
    """Colour for a clear tint, for somebody who does not know how much to take."""
    clear = next(
        amount
        for amount in tint_amounts(inputs, assemble(inputs), possible_tubs(inputs))
        if amount.tint == "clear"
    )
    step = 10.0 if clear.infusion_ml >= 20 else 1.0
    millilitres = max(round(clear.infusion_ml / step) * step, step)
    return {
        "pigment": "butterfly-pea",
        "amount": f"{millilitres:g} mL",
        "strength": f"{clear.infusion_percent:g} %",
    }
