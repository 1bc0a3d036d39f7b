"""Prices of colours and powders, as a person writes it: "tartrazine 4.50 euro per 100 g"."""

from __future__ import annotations

import re
from collections.abc import Sequence

from dosing.effects.shelf import shelf_item
from dosing.recipe.quantities import InputError, mass_g, refuse
from indicator.notes import say
from indicator.pigments import Pigments

# A sign or three capitals before the number, or any word behind it, is a currency.
_COST = (
    r"(?:[^\w\s.,+−-]+|[A-Z]{3})?\s*(?P<money>\d+(?:[.,]\d+)?)[^\d/,.]*?\.?\s*"
    r"(?:per\b|/)\s*(?P<mass>.+)"
)
_PRICE = re.compile(rf"(?P<what>.+?)\s+(?P<cost>{_COST})")


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


def price_per_gram(written: str, field: str) -> float:
    """Price of a gram, in the money it was written in.

    Parameters
    ----------
    written : str
        How much money and for how much, for instance ``"9.50 /kg"``.
    field : str
        Where it was written.

    Returns
    -------
    float
        [money/g].

    Raises
    ------
    InputError
        If it is no price.
    """
    match = re.fullmatch(_COST, written.strip())
    mass = "" if match is None else match["mass"].strip()
    grams = mass_g(mass if mass[:1].isdigit() else f"1 {mass}", field) if mass else 0.0
    if match is None or grams <= 0:
        raise refuse("error.price", field, written, '"9.50 /kg"')
    return float(match["money"].replace(",", ".")) / grams


def _price(text: str, pigments: Pigments) -> tuple[str, float]:
    match = _PRICE.fullmatch(text.strip())
    if match is None:
        raise InputError(say("design.error.price", {"value": text}), "price", text)
    item = shelf_item(match["what"].strip(), pigments, "price")
    return item if isinstance(item, str) else item.name, price_per_gram(match["cost"], "price")
