"""``steep``: how much petal and water, what to do at the stove, and how strong it comes out."""

from __future__ import annotations

from dosing.bottle.steeping import steep
from dosing.cli.output import show
from dosing.cli.own_files import known_pigments
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


def run_steep(
    *,
    pigment: str,
    petals: str | None,
    temperature: str | None,
    time: str | None,
    makes: str,
    no_lid: bool,
    pressed: bool,
    measured: str | None,
    as_json: bool,
) -> None:
    """Show how an infusion is made."""
    made = steep(
        _pigment(pigment),
        petals_percent=_percent(petals),
        makes_g=infusion_g(makes, "makes"),
        temperature_c=None if temperature is None else steep_temperature_c(temperature),
        minutes=None if time is None else steep_minutes(time),
        lidded=not no_lid,
        pressed=pressed,
        measured_per_cm=_measured(measured),
    )
    show(made, steep_lines(made), as_json=as_json)


def _pigment(name: str) -> Colourant:
    found = known_pigments().find(name)
    if found.kind != "pigment" or found.per_percent is None or not found.per_percent.best > 0:
        code = "steep.dye" if found.kind != "pigment" else "steep.no-strength"
        raise InputError(say(code, {"value": name}), "pigment", name)
    return found


def _percent(petals: str | None) -> float:
    from dosing.ingredients.trade_values import typical

    if petals is None:
        return typical("usual_infusion_percent").value
    return petals_percent(petals, "petals")


def _measured(text: str | None) -> float | None:
    if text is None:
        return None
    value = absorbance_per_cm(text, "measured")
    if value == 0:
        raise InputError(say("steep.measured-nothing", {"value": text}), "measured", text)
    return value
