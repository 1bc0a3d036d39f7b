"""``water``: what a tap water holds and what it takes to turn it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from dosing.cli.jsonout import notes
from dosing.cli.output import Page, to_json
from dosing.equilibrium import Equilibrium, mass_for_ph, solve, water_density_kg_l
from dosing.ingredients.hardness_units import alkalinity_in, hardness_class, hardness_in
from dosing.ingredients.powders import per_gram
from dosing.ingredients.water import TapWater, WaterReadings, tap_water, typical_water
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

TARGETS = (6.0, 5.5, 5.0, 4.5)
BATH_C = 38.0
LITRES = 100.0
READINGS: Mapping[str, tuple[str, Callable[[str, str], float]]] = {
    "alkalinity": ("alkalinity_meq_l", alkalinity_meq_l),
    "hardness": ("hardness_mmol_l", hardness_mmol_l),
    "ph": ("ph", ph),
    "temperature": ("reading_temperature_c", temperature_c),
}
"""Option: field of `WaterReadings`, and what reads the text; the others are ions."""
Doses = list[tuple[float, float | None]]


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
            given[f"{name}_mmol_l"] = ion_mmol_l(text, name, name)
    if like is None and not given.keys() - {"reading_temperature_c"}:
        raise InputError(say("cli.water-nothing"))
    start = WaterReadings() if like is None else typical_water(like.replace(" ", "-"))
    # The names are the record's own.
    water = tap_water(replace(start, **given))  # type: ignore[arg-type]
    doses, solved = _doses(water), solve(water.totals, water.temperature_c)
    if as_json:
        to_json(_document(water, solved, doses))
    else:
        _show(water, solved, doses, Page())


def _doses(water: TapWater) -> Doses:
    """Grams of citric acid per 100 L at bath temperature for each pH."""
    found = mass_for_ph(water.totals, per_gram("citric-acid-anhydrous"), TARGETS, BATH_C)
    per_100_l = np.asarray(found.mass) * float(water_density_kg_l(BATH_C)) * LITRES
    return [
        (wished, float(mass) if reached else None)
        for wished, mass, reached in zip(TARGETS, per_100_l, found.reached, strict=True)
    ]


def _document(water: TapWater, solved: Equilibrium, doses: Doses) -> dict[str, object]:
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


def _show(water: TapWater, solved: Equilibrium, doses: Doses, page: Page) -> None:
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
    for heading, listed in (("assumed", water.assumptions), ("notes", water.warnings)):
        if listed:
            page.heading(say(f"plan.heading.{heading}"))
            for note in listed:
                page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)
