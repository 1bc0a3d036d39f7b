"""``water``: what a tap water holds and what it takes to turn it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from dosing.cli.output import show
from dosing.ingredients.tap import look_at
from dosing.ingredients.water import WaterReadings, tap_water, typical_water
from dosing.recipe import quantities as q
from dosing.words.waters import water_lines
from indicator.notes import say

READINGS: Mapping[str, tuple[str, Callable[[str, str], float]]] = {
    "alkalinity": ("alkalinity_meq_l", q.alkalinity_meq_l),
    "hardness": ("hardness_mmol_l", q.hardness_mmol_l),
    "ph": ("ph", q.ph),
    "temperature": ("reading_temperature_c", q.temperature_c),
}
"""Option: field of `WaterReadings`, and what reads the text; the others are ions."""


def run_water(*, like: str | None, as_json: bool, **readings: str | None) -> None:
    """Show a tap water.

    Parameters
    ----------
    like : str, optional
        Typical water to start from.
    as_json : bool
        Print one JSON document.
    **readings : str, optional
        Text with a unit of each reading, by the name of its option.
    """
    given: dict[str, float] = {}
    for name, text in readings.items():
        if text is None:
            continue
        if name in READINGS:
            field, reader = READINGS[name]
            given[field] = reader(text, name)
        else:
            given[f"{name}_mmol_l"] = q.ion_mmol_l(text, name, name)
    if like is None and not given.keys() - {"reading_temperature_c"}:
        raise q.InputError(say("cli.water-nothing"))
    start = WaterReadings() if like is None else typical_water(like.replace(" ", "-"))
    # The names are the record's own.
    water = look_at(tap_water(replace(start, **given)))  # type: ignore[arg-type]
    show(water, [] if as_json else water_lines(water), as_json=as_json)
