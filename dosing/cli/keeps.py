"""``keep``: what is left of a bottle's colour after some time."""

from __future__ import annotations

from pathlib import Path

from dosing import wording
from dosing.assembly import assemble
from dosing.cli.jsonout import colour, notes
from dosing.cli.output import Page, to_json
from dosing.cli.planning import recipe_of
from dosing.keeping import Kept, keep
from dosing.quantities import InputError, days, temperature_c
from dosing.quantities import ph as typed_ph
from indicator.appearance import delta_e
from indicator.notes import Value, say, sentence
from indicator.pigments import colourant


def run_keep(
    recipe: Path | None,
    demo: str | None,
    *,
    time: str,
    temperature: str,
    ph: str | None,
    as_json: bool,
) -> None:
    """Show what is left of the colour."""
    long, warm = days(time, "time"), temperature_c(temperature, "temperature")
    acidity = None if ph is None else typed_ph(ph, "ph")
    inputs = recipe_of(recipe, demo).core()
    kept = keep(inputs, assemble(inputs), days=long, temperature_c=warm, ph=acidity)
    if kept is None:
        raise InputError(say("keep.none"), "colour")
    change = float(delta_e(kept.fresh.lab, kept.kept.lab))
    if as_json:
        to_json(
            {
                "pigment": kept.pigment,
                "days": kept.days,
                "temperature_c": kept.temperature_c,
                "ph": kept.ph,
                "condition": kept.condition,
                "share_left": {
                    "low": kept.share_low,
                    "best": kept.share_left,
                    "high": kept.share_high,
                },
                "half_life_days": kept.half_life_days,
                "fresh": colour(kept.fresh),
                "kept": colour(kept.kept),
                "change_delta_e": change,
                "warnings": notes(kept.notes),
            }
        )
        return
    _show(inputs.title, kept, change, Page())


def _show(title: str, kept: Kept, change: float, page: Page) -> None:
    page.line(title, style="bold")
    values: dict[str, Value] = {
        "colour": colourant(kept.pigment).label,
        "time": wording.time_span(kept.days),
        "temperature": kept.temperature_c,
        "ph": kept.ph,
        "left": kept.share_left,
        "low": kept.share_low,
        "high": kept.share_high,
        "half": wording.time_span(kept.half_life_days),
        "change": change,
    }
    page.line(say("keep.left", values), indent=2, hang=2)
    page.line(say("keep.range", values), indent=2, hang=2)
    page.line(say(f"keep.{kept.condition}", values), indent=2, hang=2)
    page.heading(say("keep.tub"))
    page.swatch(str(kept.fresh.hex), say("keep.fresh", {"name": str(kept.fresh.name)}))
    page.swatch(str(kept.kept.hex), say("keep.kept", {"name": str(kept.kept.name)}))
    page.line(say("keep.change", values), indent=2, hang=2)
    page.heading(say("plan.heading.notes"))
    for note in kept.notes:
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)
