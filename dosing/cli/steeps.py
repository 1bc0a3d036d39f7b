"""``steep``: how much petal and water, what to do at the stove, and how strong it comes out."""

from __future__ import annotations

from typing import Any

from dosing.bottle.steeping import COVERAGE, Range, Steeping, steep, steeping_value
from dosing.cli.jsonout import notes
from dosing.cli.output import Page, to_json
from dosing.cli.own_files import known_pigments
from dosing.recipe.quantities import (
    InputError,
    absorbance_per_cm,
    infusion_g,
    petals_percent,
    steep_minutes,
    steep_temperature_c,
)
from dosing.words import wording
from indicator.notes import Value, say, sentence
from indicator.pigments import Colourant

_LONG_MIN = 120.0
_FINE_G = 20.0


def run_steep(
    pigment: str,
    *,
    petals: str | None,
    temperature: str | None,
    time: str | None,
    makes: str,
    lidded: bool,
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
        lidded=lidded,
        pressed=pressed,
        measured_per_cm=_measured(measured),
    )
    if as_json:
        to_json(_document(made))
        return
    _show(made, Page())


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


def _document(made: Steeping) -> dict[str, Any]:
    brew = made.brew
    return {
        "pigment": made.pigment.name,
        "petals_percent": made.petals_percent,
        "petals_percent_w_v": brew.brewed_percent.best,
        "temperature_c": made.temperature_c,
        "minutes": made.minutes,
        "lidded": made.lidded,
        "pressed": made.pressed,
        "makes_g": made.makes_g,
        "petals_g": brew.petals_g,
        "water_g": brew.water_g,
        "filtrate_g": _ends(brew.filtrate_g),
        "make_up_g": _ends(brew.make_up_g),
        "strength_per_cm": {**_ends(made.strength_per_cm), "coverage": COVERAGE},
        "reckoned_per_cm": {**_ends(made.reckoned_per_cm), "coverage": COVERAGE},
        "share_of_plateau": made.share_of_plateau,
        "left_in_petals": brew.left_in_petals,
        "measured": made.measured,
        "notes": notes(made.notes),
        "warnings": notes(made.warnings),
    }


def _ends(values: Range) -> dict[str, float]:
    return {"low": values.low, "best": values.best, "high": values.high}


def _show(made: Steeping, page: Page) -> None:
    values = _values(made)
    page.line(say("steep.title", values), style="bold")
    page.heading(say("steep.heading.do"))
    for number, code in enumerate(_steps(made), start=1):
        text = say(f"steep.do.{code}", values)
        page.line(say("steep.step", {"number": number, "text": text}), indent=2, hang=3)
    page.heading(say("steep.heading.strong"))
    for code in ("measured" if made.measured else "reckoned", "share"):
        page.line(say(f"steep.strong.{code}", values), indent=2, hang=2)
    page.line(say("steep.in-recipe", {"keys": _recipe_keys(made)}), indent=2, hang=2)
    page.heading(say("steep.heading.mind"))
    for note in made.warnings:
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)
    page.heading(say("plan.heading.notes"))
    for note in made.notes:
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)
    page.heading(say("plan.heading.next"))
    for code in ("calibrate",) if made.measured else ("calibrate", "photometer"):
        text = say(f"steep.next.{code}", values)
        page.line(say("plan.bullet", {"text": text}), indent=2, hang=2)


def _steps(made: Steeping) -> tuple[str, ...]:
    warm = made.temperature_c >= steeping_value("cold_below").best
    lid = "lid" if made.lidded else "open"
    return (
        "weigh",
        f"{'warm' if warm else 'cold'}-{lid}",
        "press" if made.pressed else "drain",
        "make-up",
    )


def _values(made: Steeping) -> dict[str, Value]:
    brew, strength, reckoned = made.brew, made.strength_per_cm, made.reckoned_per_cm
    grams = {
        "makes": made.makes_g,
        "petals": brew.petals_g,
        "water": brew.water_g,
        "filtrate": brew.filtrate_g.best,
        "make_up": brew.make_up_g.best,
    }
    per_cm = {
        "best": strength.best,
        "low": strength.low,
        "high": strength.high,
        "reckoned": reckoned.best,
        "reckoned_low": reckoned.low,
        "reckoned_high": reckoned.high,
    }
    return {
        **{name: _grams(mass) for name, mass in grams.items()},
        **{name: wording.two_figures(value) for name, value in per_cm.items()},
        "filtrate_low": brew.filtrate_g.low,
        "filtrate_high": brew.filtrate_g.high,
        "make_up_low": brew.make_up_g.low,
        "make_up_high": brew.make_up_g.high,
        "colour": made.pigment.label,
        "percent": f"{made.petals_percent:.3g}",
        "temperature": made.temperature_c,
        "time": _time(made.minutes),
        "share": made.share_of_plateau,
        "left": brew.left_in_petals,
    }


def _grams(mass: float) -> str:
    """Whole grams, or tenths of the few that a fine scale weighs."""
    fine = mass < _FINE_G and round(mass, 1) != round(mass)
    return say("plan.grams-tenth" if fine else "plan.grams-whole", {"grams": mass})


def _time(minutes: float) -> str:
    if minutes < _LONG_MIN:
        return say("steep.minutes", {"count": minutes})
    return say("steep.hours", {"count": minutes / 60.0})


def _recipe_keys(made: Steeping) -> str:
    values: dict[str, Value] = {
        "percent": f"{made.brew.brewed_percent.best:.2g}",
        "temperature": f"{made.temperature_c:.3g}",
        "time": _time(made.minutes),
        "strength": f"{made.strength_per_cm.best:.3g}",
    }
    return say("steep.keys-measured" if made.measured else "steep.keys", values)
