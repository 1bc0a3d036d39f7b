"""Prices of colours and powders, as a person writes it: "tartrazine 4.50 per 100 g"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import get_close_matches

from dosing.effects.shelf import known_powder
from dosing.ingredients.powders import powder_names
from dosing.recipe.quantities import InputError, mass_g
from indicator.notes import Value, say
from indicator.pigments import Pigments, colourant_names

_PRICE = re.compile(r"(?P<what>.+?)\s+(?P<money>\d+(?:[.,]\d+)?)\s*(?:per|/)\s*(?P<mass>.+)")


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
    return _priced(match["what"].strip(), pigments), float(match["money"].replace(",", ".")) / grams


def _priced(name: str, pigments: Pigments) -> str:
    """Key of the colour or powder that has a price."""
    key = known_powder(name)
    if key is not None:
        return key
    try:
        return pigments.find(name).name
    except ValueError:
        close = get_close_matches(name, (*colourant_names(), *powder_names()), n=1, cutoff=0.5)
        hint = say("error.near", {"name": close[0]}) if close else ""
        values: dict[str, Value] = {"value": name, "hint": hint}
        raise InputError(say("design.error.price-unknown", values), "price", name) from None
