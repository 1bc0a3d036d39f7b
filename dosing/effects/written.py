"""A design written down as the recipe file whose plan it is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dosing.effects.answer import Effects
from dosing.effects.designs import Design, DesignedColour
from dosing.recipe.writing import recipe_toml
from indicator.notes import Value, say
from indicator.pigments import SHIPPED, Pigments

LONGEST_TITLE = 200


def designed_recipe(
    tables: Mapping[str, Any],
    effects: Effects,
    design: Design,
    pigments: Pigments = SHIPPED,
) -> str:
    """Text of the recipe file whose plan a design is.

    Parameters
    ----------
    tables : mapping
        The recipe it was designed for, as written; its tub, water, foam bath and wish are kept.
    effects : Effects
        The two wishes.
    design : Design
        One of its designs.
    pigments : Pigments
        What the maker can name; any other colour is written as the path of its file.

    Returns
    -------
    str
        TOML; the same tub with the colours, the powders and the target pH of the design.
    """
    named: dict[str, Value] = {"start": effects.start.text, "end": effects.end.text}
    met = design.start_met and design.end_met
    code = "design.title" if met else "design.title-missed"
    title = say(code, {**named, "title": effects.inputs.title})[:LONGEST_TITLE]
    whole: dict[str, Any] = {
        **tables,
        "colour": [_colour(colour, pigments) for colour in design.colours],
        "activator": {
            **tables.get("activator", {}),
            "parts": dict(design.inputs.activator.parts),
        },
        "wish": {**tables.get("wish", {}), "target": str(design.inputs.wish.target)},
    }
    comment = say("design.recipe.comment" if met else "design.recipe.comment-missed", named)
    return recipe_toml(comment, title, whole)


def _colour(colour: DesignedColour, pigments: Pigments) -> dict[str, Any]:
    named = colour.colourant in pigments.every
    kept = {"preserved": True} if colour.stock.preserved else {}
    return {
        colour.colourant.kind: colour.name if named else colour.colourant.file,
        "amount": f"{colour.amount_ml:g} mL",
        "strength": colour.stock.written,
        **kept,
    }
