"""``water``: what a tap water holds and what it takes to turn it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from dosing.cli.jsonout import notes
from dosing.cli.output import Page, to_json
from dosing.equilibrium import mass_for_ph, solve, water_density_kg_l
from dosing.ingredients.powders import per_gram
from dosing.ingredients.water import (
    TapWater,
    WaterReadings,
    alkalinity_in,
    hardness_class,
    hardness_in,
    tap_water,
    typical_water,
)
from dosing.plan.cautions import LEVELS
from dosing.plan.pouring import gentlest_ph
from dosing.recipe.quantities import (
    InputError,
    alkalinity_meq_l,
    hardness_mmol_l,
    ion_mmol_l,
    ph,
    temperature_c,
)
from dosing.words.wording import grams
from indicator.notes import Value, say, sentence

IONS = ("calcium", "magnesium", "sodium", "potassium", "chloride", "sulfate", "nitrate")
TARGETS = (6.0, 5.5, 5.0, 4.5)
BATH_C = 38.0
LITRES = 100.0


def run_water(
    readings: Mapping[str, str | None],
    *,
    temperature: str | None,
    like: str | None,
    as_json: bool,
) -> None:
    """Show a tap water."""
    if like is None and not any(readings.values()):
        raise InputError(say("cli.water-nothing"))
    water = tap_water(_readings(readings, temperature, like))
    doses = _doses(water)
    if as_json:
        to_json(_document(water, doses))
    else:
        _show(water, doses, Page())


def _readings(
    readings: Mapping[str, str | None], temperature: str | None, like: str | None
) -> WaterReadings:
    start = WaterReadings() if like is None else typical_water(like.replace(" ", "-"))
    given: dict[str, float] = {}
    for name, text in readings.items():
        if text is None:
            continue
        if name == "alkalinity":
            given["alkalinity_meq_l"] = alkalinity_meq_l(text, name)
        elif name == "hardness":
            given["hardness_mmol_l"] = hardness_mmol_l(text, name)
        elif name == "ph":
            given["ph"] = ph(text, name)
        else:
            given[f"{name}_mmol_l"] = ion_mmol_l(text, name, name)
    if temperature is not None:
        given["reading_temperature_c"] = temperature_c(temperature, "temperature")
    return replace(start, **given)  # type: ignore[arg-type]  # names are the record's own


def _doses(water: TapWater) -> list[tuple[float, float | None]]:
    """Grams of citric acid per 100 L at bath temperature for each pH."""
    found = mass_for_ph(water.totals, per_gram("citric-acid-anhydrous"), TARGETS, BATH_C)
    per_100_l = np.asarray(found.mass) * float(water_density_kg_l(BATH_C)) * LITRES
    return [
        (wished, float(mass) if reached else None)
        for wished, mass, reached in zip(TARGETS, per_100_l, found.reached, strict=True)
    ]


def _document(water: TapWater, doses: list[tuple[float, float | None]]) -> dict[str, object]:
    solved = solve(water.totals, water.temperature_c)
    return {
        "totals_mol_kg": dict(water.totals),
        "alkalinity_meq_l": water.alkalinity_meq_l,
        "hardness_mmol_l": water.hardness_mmol_l,
        "hardness_class": hardness_class(float(water.hardness_mmol_l)),
        "ph": solved.ph,
        "temperature_c": water.temperature_c,
        "ionic_strength_mol_kg": solved.ionic_strength,
        "calcite_saturation_index": solved.saturation["calcite"],
        "imbalance_percent": water.imbalance_percent,
        "citric_acid_g_per_100_l": [
            {"ph": wished, "grams": mass, "temperature_c": BATH_C} for wished, mass in doses
        ],
        "assumptions": notes(water.assumptions),
        "warnings": notes(water.warnings),
    }


def _show(water: TapWater, doses: list[tuple[float, float | None]], page: Page) -> None:
    hardness, alkalinity = float(water.hardness_mmol_l), float(water.alkalinity_meq_l)
    values: dict[str, Value] = {
        "class": hardness_class(hardness).replace("-", " "),
        "hardness": hardness,
        "hardness_ppm": float(hardness_in(hardness, "ppm")),
        "alkalinity": alkalinity,
        "alkalinity_ppm": float(alkalinity_in(alkalinity, "ppm")),
    }
    page.line(say("cli.water-heading"), style="bold")
    page.line(say("cli.water-alkalinity", values), indent=2, hang=2)
    page.line(say("cli.water-hardness", values), indent=2, hang=2)
    solved = solve(water.totals, water.temperature_c)
    index = round(float(solved.saturation["calcite"]), 1) + 0.0  # never -0.0
    scale = "scales" if index > 0.2 else "dissolves" if index < -0.2 else "rests"
    page.line(say(f"cli.water-{scale}", {"ph": float(solved.ph), "index": index}), indent=2, hang=2)
    page.heading(say("cli.water-doses"))
    for wished, mass in doses:
        text = say("cli.water-never") if mass is None else grams(mass)
        page.line(say("cli.water-dose", {"ph": wished, "grams": text}), indent=2)
    page.line(say("cli.water-jar"), indent=2, hang=2)
    limits: dict[str, Value] = {
        bathers: gentlest_ph(bathers, LEVELS.index("mind"), acid=True)
        for bathers in ("child", "adult")
    }
    page.line(say("cli.water-no-plan", limits), indent=2, hang=2)
    for heading, listed in (
        ("plan.heading.assumed", water.assumptions),
        ("plan.heading.notes", water.warnings),
    ):
        if listed:
            page.heading(say(heading))
            for note in listed:
                page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)
