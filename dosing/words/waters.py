"""A tap water in words."""

from __future__ import annotations

from dosing.ingredients.hardness_units import alkalinity_in, hardness_in
from dosing.ingredients.tap import WaterLook
from dosing.plan.levels import LEVELS
from dosing.plan.pouring import gentlest_ph
from dosing.words.lines import Line, bullets, titled, under
from dosing.words.wording import grams
from indicator.notes import Value, say


def water_lines(water: WaterLook) -> list[Line]:
    """Lines of ``water``: what a water holds, the acid it takes, and what was assumed of it."""
    hardness, alkalinity = float(water.hardness_mmol_l), float(water.alkalinity_meq_l)
    values: dict[str, Value] = {
        "class": water.hardness_class.replace("-", " "),
        "hardness": hardness,
        "hardness_ppm": float(hardness_in(hardness, "ppm")),
        "alkalinity": alkalinity,
        "alkalinity_ppm": float(alkalinity_in(alkalinity, "ppm")),
    }
    index = round(float(water.calcite_saturation_index), 1) + 0.0  # never -0.0
    scale = "scales" if index > 0.2 else "dissolves" if index < -0.2 else "rests"
    chalk: dict[str, Value] = {"ph": float(water.ph), "index": index}
    held = [say(f"cli.water-{reading}", values) for reading in ("alkalinity", "hardness")]
    doses = [
        say("cli.water-dose", {"ph": dose.ph, "grams": text})
        for dose in water.citric_acid_g_per_100_l
        for text in [say("cli.water-never") if dose.grams is None else grams(dose.grams)]
    ]
    gentlest = {
        bathers: gentlest_ph(bathers, LEVELS.index("mind"), acid=True)
        for bathers in ("child", "adult")
    }
    return [
        *titled(say("cli.water-heading")),
        *under([*held, say(f"cli.water-{scale}", chalk)]),
        *under(doses, "cli.water-doses", hang=0),
        *under([say("cli.water-jar"), say("cli.water-no-plan", gentlest)]),
        *bullets(water.assumptions, "plan.heading.assumed"),
        *bullets(water.warnings, "plan.heading.notes"),
    ]
