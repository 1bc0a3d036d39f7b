"""``steep``: how much petal and water, what to do at the stove, and how strong it comes out."""

from __future__ import annotations

from dataclasses import dataclass

from dosing.bottle.steeping import steep
from dosing.cli.output import show
from dosing.cli.own_files import known_pigments
from dosing.ingredients.trade_values import typical
from dosing.recipe.quantities import (
    InputError,
    absorbance_per_cm,
    infusion_g,
    petals_percent,
    steep_minutes,
    steep_temperature_c,
)
from dosing.words.bottle import steep_lines
from indicator.colourants import Colourant
from indicator.notes import say


@dataclass(frozen=True)
class SteepOptions:
    """Options of ``steep``, as they were typed."""

    pigment: str
    petals: str | None
    temperature: str | None
    time: str | None
    makes: str
    no_lid: bool
    pressed: bool
    measured: str | None
    as_json: bool


def run_steep(asked: SteepOptions) -> None:
    """Show how an infusion is made."""
    usual = typical("usual_infusion_percent").value
    made = steep(
        _pigment(asked.pigment),
        petals_percent=usual if asked.petals is None else petals_percent(asked.petals, "petals"),
        makes_g=infusion_g(asked.makes, "makes"),
        temperature_c=None if asked.temperature is None else steep_temperature_c(asked.temperature),
        minutes=None if asked.time is None else steep_minutes(asked.time),
        lidded=not asked.no_lid,
        pressed=asked.pressed,
        measured_per_cm=_measured(asked.measured),
    )
    show(made, steep_lines(made), as_json=asked.as_json)


def _pigment(name: str) -> Colourant:
    colourant = known_pigments().find(name)
    if (
        colourant.kind != "pigment"
        or colourant.per_percent is None
        or not colourant.per_percent.best > 0
    ):
        code = "steep.dye" if colourant.kind != "pigment" else "steep.no-strength"
        raise InputError(say(code, {"value": name}), "pigment", name)
    return colourant


def _measured(text: str | None) -> float | None:
    if text is None:
        return None
    value = absorbance_per_cm(text, "measured")
    if value == 0:
        raise InputError(say("steep.measured-nothing", {"value": text}), "measured", text)
    return value
