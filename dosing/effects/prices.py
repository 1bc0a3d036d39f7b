"""Prices of colours and powders, as a person writes it: "tartrazine 4.50 euro per 100 g"."""

from __future__ import annotations

import re
from collections.abc import Sequence

from dosing.effects.shelf import shelf_item
from dosing.recipe.quantities import InputError, mass_g
from indicator.notes import say
from indicator.pigments import Pigments

_PRICE = re.compile(
    # A sign or three capitals before the number, or any word behind it, is a currency.
    r"(?P<what>.+?)\s+(?:[^\w\s.,+−-]+|[A-Z]{3})?\s*(?P<money>\d+(?:[.,]\d+)?)[^\d/,.]*?\.?\s*"
    r"(?:per\b|/)\s*(?P<mass>.+)"
)


def prices_per_gram(written: Sequence[str], pigments: Pigments) -> dict[str, float]:
    """Price of a gram of each colour or powder that has one, in the money it was written in.

    Parameters
    ----------
    written : sequence of str
        What, how much money and for how much of it.
    pigments : Pigments
        What the maker can name.

    Returns
    -------
    dict
        Key of the colour or powder to its price.

    Raises
    ------
    InputError
        If one is no price, or of nothing that is known.
    """
    return dict(_price(text, pigments) for text in written)


def _price(text: str, pigments: Pigments) -> tuple[str, float]:
    match = _PRICE.fullmatch(text.strip())
    if match is None:
        raise InputError(say("design.error.price", {"value": text}), "price", text)
    mass = match["mass"].strip()
    grams = mass_g(mass if mass[:1].isdigit() else f"1 {mass}", "price")
    if grams <= 0:
        raise InputError(say("design.error.price", {"value": text}), "price", text)
    item = shelf_item(match["what"].strip(), pigments, "price")
    name = item if isinstance(item, str) else item.name
    return name, float(match["money"].replace(",", ".")) / grams
