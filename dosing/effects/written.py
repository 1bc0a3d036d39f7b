"""A design written down as the recipe file whose plan it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from dosing.effects.answer import Effects
from dosing.effects.designs import Design, DesignedColour
from dosing.effects.gallery import GalleryEffect
from dosing.effects.shelf import measured_out
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
    code = "design.title" if design.reached else "design.title-missed"
    title = say(code, {**named, "title": effects.inputs.title})[:LONGEST_TITLE]
    parts, target = design.inputs.activator.parts, str(design.inputs.wish.target)
    whole = _with_effect(tables, design.colours, parts, target, pigments)
    comment = "design.recipe.comment" if design.reached else "design.recipe.comment-missed"
    return recipe_toml(say(comment, named), title, whole)


def product_lines(
    design: Design,
    pigments: Pigments = SHIPPED,
    bottled: Mapping[str, tuple[float, float]] | None = None,
) -> tuple[str, ...]:
    """Lines of a product file that make a design its colour, dry where its grams are known.

    Parameters
    ----------
    design : Design
        For one bath of the product.
    pigments : Pigments
        As for `designed_recipe`.
    bottled : mapping of str to tuple of float, optional
        Dye that goes into the foam bath, to the strength of its solution [% w/v] and the share of
        that in the foam bath [%].

    Returns
    -------
    tuple of str
        TOML.
    """
    bottled = bottled or {}
    dry = all(colour.grams is not None for colour in design.colours)
    lines = ["[colour]", f'layout = "{"dry sachet" if dry else "own bottle"}"']
    for colour in design.colours:
        table, is_dye = _colour(colour, pigments), colour.stock.is_dye
        if dry:
            table["amount"] = f"{colour.grams:.{3 if is_dye else 2}g} g"
            # A powder has no strength; petals are steeped to theirs.
            table |= {"strength": None} if is_dye else {}
        if colour.name in bottled:
            table |= {"amount": None, "strength": f"{bottled[colour.name][0]:.3g} %"}
        if not is_dye:
            lines += ["[[brew]]", f'name = "{colour.colourant.label}"']
        else:
            lines.append("[[dye]]")
        told = ((key, text) for key, text in table.items() if isinstance(text, str))
        lines += [f'{key} = "{text}"' for key, text in told]
    for name, (_, percent) in bottled.items():
        share = f'share = "{percent:.3g} %"'
        lines += ["[[ingredient]]", "stage = 1", f'use = "{name}"', share]
    parts = ", ".join(
        f"{name} = {share:g}" for name, share in design.inputs.activator.parts.items()
    )
    return (*lines, "[activator]", f"parts = {{ {parts} }}", f'sachet = "{design.pour_g:g} g"')


def recipe_with(
    tables: Mapping[str, Any], effect: GalleryEffect, volume_l: float | None = None
) -> dict[str, Any]:
    """Tables of a recipe whose tub shows an effect of the gallery.

    Parameters
    ----------
    tables : mapping
        Tub, water, foam bath and bathers, as written in a recipe.
    effect : GalleryEffect
        Its amounts are for `GalleryEffect.volume_l`.
    volume_l : float, optional
        Water of the tub [L], in proportion to which each colour is measured out; if not given, that
        of the gallery.

    Returns
    -------
    dict
        The same with colours, activator and target; for `dosing.recipe.recipe_from` or
        `dosing.recipe.writing.recipe_toml`.
    """
    times, target = (volume_l or effect.volume_l) / effect.volume_l, f"{effect.ph_after:.2f}"
    colours = [
        replace(each, amount_ml=measured_out(times * each.amount_ml, dye=each.stock.is_dye))
        for each in effect.colours
    ]
    return _with_effect(tables, colours, {effect.powder: 1.0}, target, SHIPPED)


def _with_effect(
    tables: Mapping[str, Any],
    colours: Sequence[DesignedColour],
    parts: Mapping[str, float],
    target: str,
    pigments: Pigments,
) -> dict[str, Any]:
    return {
        **tables,
        "colour": [_colour(colour, pigments) for colour in colours],
        "activator": {**tables.get("activator", {}), "parts": dict(parts)},
        "wish": {**tables.get("wish", {}), "target": target},
    }


def _colour(colour: DesignedColour, pigments: Pigments) -> dict[str, Any]:
    named = colour.colourant in pigments.every
    kept = {"preserved": True} if colour.stock.preserved else {}
    return {
        colour.colourant.kind: colour.name if named else colour.colourant.file,
        "amount": f"{colour.amount_ml:g} mL",
        "strength": colour.stock.written,
        **kept,
    }
