"""Ladders and jars as a person asks for them: vessels, pH values, strengths and solutions."""

from __future__ import annotations

import re
from collections.abc import Sequence

from dosing.bottle.rainbow import StockSolution
from dosing.ingredients.powders import powder
from dosing.recipe import quantities
from dosing.recipe.quantities import InputError
from indicator.appearance import light_name
from indicator.colourants import Colourant
from indicator.ladders import shown_strength, typed_strength
from indicator.notes import say
from indicator.optics import VIEWS, View, small_view, tub_view, view_value

MOST_RUNGS = 200


def views(names: Sequence[str], depth: str | None, light: str | None) -> list[View]:
    """The views of those names, each once.

    Parameters
    ----------
    names : sequence of str
        Of vessels, as `indicator.optics.VIEWS` lists them.
    depth : str or None
        Path of the light with its unit; the vessel's own if None.
    light : str or None
        Name of a light; daylight if None.

    Returns
    -------
    list of View

    Raises
    ------
    InputError
        If a vessel is not known, or one depth is given for several.
    """
    vessels = list(dict.fromkeys(name.strip().lower() for name in names))
    for name in vessels:
        if name not in VIEWS:
            raise InputError(say("cli.view", {"value": name}), "view", name)
    if len(vessels) > 1 and depth is not None:
        values = {"value": depth, "views": ", ".join(vessels)}
        raise InputError(say("cli.depth-of-several", values), "depth", depth)
    path = None if depth is None else quantities.length_cm(depth, "depth")
    lit = light_name("D65" if light is None else light)
    usual = view_value("tub_depth")
    return [
        tub_view(usual if path is None else path, lit)
        if name == "tub"
        else small_view(name, path, lit)
        for name in vessels
    ]


def ph_values(text: str) -> list[float]:
    """A list of pH values as it is typed; raises InputError for none or too many."""
    values = [quantities.ph(part.strip(), "ph") for part in text.split(",") if part.strip()]
    if not 1 <= len(values) <= MOST_RUNGS:
        raise InputError(say("cli.ph-list", {"count": len(values), "most": MOST_RUNGS}), "ph", text)
    return values


def strengths(liquid: Sequence[Colourant], text: str | None, view: View) -> dict[Colourant, float]:
    """Strength of each colourant in the vessel: as typed, else one at which it shows.

    Parameters
    ----------
    liquid : sequence of Colourant
        What is in it.
    text : str or None
        Strength with its unit.
    view : View
        The vessel.

    Returns
    -------
    dict
        Colourant to its strength, in the units of `indicator.ladders`.
    """
    if text is None:
        return {which: shown_strength(which, view) for which in liquid}
    typed = quantities.colour_strength(text, "strength")
    return {which: typed_strength(which, typed.kind, typed.value) for which in liquid}


def stock_solution(text: str) -> StockSolution:
    """A solution such as ``"citric acid 5 %"``; raises InputError for what is none."""
    written = re.fullmatch(r"\s*(.*\S)\s+(\d+(?:[.,]\d+)?)\s*%\s*", text)
    if written is None:
        raise InputError(say("rainbow.stock", {"value": text}), "stock", text)
    name, percent = written[1].lower().replace(" ", "-"), written[2].replace(",", ".")
    return StockSolution(powder(name).name, float(percent))
