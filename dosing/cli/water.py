"""``water``: what a tap water holds and what it takes to turn it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from dosing.cli.options import Command, Json, More, more_option
from indicator.notes import say

if TYPE_CHECKING:
    from dosing.ingredients.water import WaterReadings


def _reading(name: str) -> object:
    return typer.Option(f"--{name}", help=say(f"help.water-{name}"))


def _ion(name: str) -> object:
    return more_option(f"--{name}", help=f"help.water-{name}")


def water(
    context: typer.Context,
    alkalinity: Annotated[str | None, _reading("alkalinity")] = None,
    hardness: Annotated[str | None, _reading("hardness")] = None,
    ph: Annotated[str | None, _reading("ph")] = None,
    like: Annotated[str | None, _reading("like")] = None,
    temperature: Annotated[str | None, _reading("temperature")] = None,
    calcium: Annotated[str | None, _ion("calcium")] = None,
    magnesium: Annotated[str | None, _ion("magnesium")] = None,
    sodium: Annotated[str | None, _ion("sodium")] = None,
    potassium: Annotated[str | None, _ion("potassium")] = None,
    chloride: Annotated[str | None, _ion("chloride")] = None,
    sulfate: Annotated[str | None, _ion("sulfate")] = None,
    nitrate: Annotated[str | None, _ion("nitrate")] = None,
    more: More = False,
    as_json: Json = False,
) -> None:
    """What a tap water holds and what it takes to turn it."""
    from dosing.cli.output import answer
    from dosing.ingredients.tap import look_at
    from dosing.ingredients.water import tap_water
    from dosing.plan.levels import LEVELS
    from dosing.plan.pouring import gentlest_ph
    from dosing.words.templates import render

    options = context.params
    readings = _readings(like, {name: options[name] for name in (*_READERS, *_IONS)})
    look = look_at(tap_water(readings))
    limits = {
        whom: gentlest_ph(whom, LEVELS.index("mind"), acid=True) for whom in ("child", "adult")
    }
    answer(look, lambda: render("water", water=look, limits=limits, more=more), as_json=as_json)


_READERS = {
    "alkalinity": "alkalinity_meq_l",
    "hardness": "hardness_mmol_l",
    "ph": "ph",
    "temperature": "reading_temperature_c",
}
"""Options and the fields of the readings that they are; other readings are of an ion."""
_IONS = ("calcium", "magnesium", "sodium", "potassium", "chloride", "sulfate", "nitrate")


def _readings(like: str | None, texts: dict[str, str | None]) -> WaterReadings:
    """What was read, beside what a typical water holds."""
    from dataclasses import replace

    from dosing.ingredients.water import WaterReadings, typical_water
    from dosing.recipe import quantities

    read: dict[str, Any] = {}
    for name, text in texts.items():
        if text is None:
            continue
        if name in _IONS:
            read[f"{name}_mmol_l"] = quantities.ion_mmol_l(text, name, name)
        else:
            reader = getattr(
                quantities, "temperature_c" if name == "temperature" else _READERS[name]
            )
            read[_READERS[name]] = reader(text, name)
    if like is None and not read.keys() - {"reading_temperature_c"}:
        raise quantities.InputError(say("cli.water-nothing"))
    start = WaterReadings() if like is None else typical_water(like.replace(" ", "-"))
    return replace(start, **read)


COMMAND = Command(water, "help.water")
