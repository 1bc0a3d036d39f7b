"""Writes learning_phreeqc.csv: makers who log ten pours in worlds that the planner does not know.

Run ``python tests/reference/build_learning.py``; it needs the PyPI package ``phreeqc``. Waters are
those of Danish homes as published, and a made-up softer population. The pH is PHREEQC's, with
Davies throughout and constants moved at random for every maker. Some of the gas leaves between pour
and reading, the fill differs from bath to bath, and the water from day to day, of which the learner
knows nothing but its own guesses. Readings are a strip's pads and a volume in tens of litres.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import phreeqc_runs as phreeqc
from build_jar_phreeqc import moved_database, named, shipped_database
from makers import BREW_ML, TARGET, learnt, tables, water_of
from numpy.typing import NDArray
from reference_csv import write_csv

from dosing.bath.assembled import assemble
from dosing.ingredients.powders import blend_per_gram
from dosing.ingredients.water import WaterReadings, tap_water
from dosing.recipe import recipe_from
from indicator.appearance import hex_of_lab
from indicator.spread import drawn_labs

Array = NDArray[np.float64]

SEED, MAKERS, POURS = 1713, 200, 10
KINDS = ("meter", "eye")
PADS_PPM = np.array([0.0, 40.0, 80.0, 120.0, 180.0, 240.0])
"""Steps of household strips (common practice, no source)."""
PPM_PER_MEQ_L = 50.04
MISREAD = 0.03
AIR_CO2 = 2.4e-5
"""Of water at 38 °C at rest with the air of a room of 1000 ppm [mol/kg]."""
BREW_STRENGTH, LEAST_AIM_G = 6.0, 3.0
DENSITY_KG_L, PURITY = 0.993, (0.985, 1.0)
PH = {"ph": '-LA("H+")', "co2": 'MOL("H2CO3")'}


def maker_row(number: int) -> dict[str, object]:
    """One maker: the reading, ten pours with what was seen, and the true dose of the eleventh."""
    random = np.random.default_rng((SEED, number))
    kind = KINDS[(number // 2) % 2]
    alkalinity, hardness, ph = water_of(number, random)
    pad = int(np.abs(alkalinity * PPM_PER_MEQ_L + random.normal(0, 12) - PADS_PPM).argmin())
    if random.random() < MISREAD:
        pad = int(np.clip(pad + random.choice([-1, 1]), 0, 5))
    by_eye = bool(random.random() < 0.5)
    volume = random.triangular(75.0, 120.0, 180.0)
    told = volume * (random.triangular(0.7, 1.0, 1.35) if by_eye else random.uniform(0.94, 1.06))
    told = float(np.round(told / 10) * 10) if by_eye else float(np.round(told))
    row: dict[str, Any] = {
        "kind": kind,
        "water": "danish" if number % 2 else "softer",
        "alkalinity_meq_l": f"{alkalinity:.4g}",
        "strip_ppm": f"{PADS_PPM[pad]:g}",
        "volume_l": f"{told:g}",
        "volume_measured": "" if by_eye else "yes",
    }
    days = daily(alkalinity, random)
    baths = waters(days, hardness, ph)
    database = moved_database(shipped_database(), random)
    litres = volume * random.uniform(0.96, 1.04, POURS + 1)
    lost = random.uniform(0.1, 0.9, POURS + 1)
    filled = after_filling(database, baths, lost)
    citrate = float(blend_per_gram({"citric-acid-anhydrous": 1.0})["citrate"])
    per_gram = citrate * random.uniform(*PURITY) / (litres * DENSITY_KG_L)
    row["true_g"] = f"{true_dose(database, filled[-1]) / per_gram[-1]:.5g}"
    aim = strip_dose(row)
    logged = np.maximum(np.round(aim * random.uniform(0.7, 1.2, POURS)), 1.0)
    poured = np.maximum(logged + random.normal(0, 0.5, POURS), 0.3)
    dosed = [
        {**bath, "Citrate": float(grams * each)}
        for bath, grams, each in zip(filled[:-1], poured, per_gram[:-1], strict=True)
    ]
    came = later(database, dosed, random.uniform(0.0, 0.25, POURS))
    row["grams"] = " ".join(f"{one:g}" for one in logged)
    meter = random.normal(0, 0.06) + random.normal(0, 0.08, POURS)
    row["ph"] = " ".join(f"{one:.2f}" for one in came + meter)
    row["hex"] = " ".join(colours(row, came, litres[:-1], random))
    return row


def strip_dose(row: Mapping[str, Any]) -> float:
    """Grams that a plan by the strip aims at."""
    setting = assemble(recipe_from(tables(row)))
    aim = float(setting.bath.grams_for_ph(TARGET, setting.per_gram)[0])
    # A strip that shows nothing lets no dose be worked out: a few spoonfuls then.
    return aim if np.isfinite(aim) else LEAST_AIM_G


def daily(alkalinity: float, random: np.random.Generator) -> Array:
    """Alkalinity of eleven days that hang together [meq/L]."""
    spread, off = random.uniform(0.01, 0.10), 0.0
    days = []
    for _ in range(POURS + 1):
        off = 0.6 * off + 0.8 * random.normal(0, spread)
        days.append(alkalinity * np.exp(off))
    return np.array(days)


def waters(days: Array, hardness: float, ph: float) -> list[dict[str, float]]:
    """Totals of the tap by PHREEQC's names."""
    read = WaterReadings(alkalinity_meq_l=days, ph=ph, hardness_mmol_l=hardness)
    totals = dict(tap_water(read).totals)
    return [named(totals, row) for row in range(len(days))]


def solve(database: str, solutions: list[dict[str, float]]) -> tuple[Array, Array]:
    """PH and free carbon dioxide [mol/kg] of closed tubs of 38 °C."""
    inputs = [phreeqc.solution(k + 1, one, 38.0) for k, one in enumerate(solutions)]
    found = phreeqc.run(database, inputs, PH)
    return np.array([one["ph"] for one in found]), np.array([one["co2"] for one in found])


def after_filling(
    database: str, baths: list[dict[str, float]], lost: Array
) -> list[dict[str, float]]:
    """Tubs with a share of the gas gone."""
    _, free = solve(database, baths)
    gone = lost * (free - AIR_CO2)
    return [
        {**bath, "C(4)": float(bath["C(4)"] - out)} for bath, out in zip(baths, gone, strict=True)
    ]


def later(database: str, dosed: list[dict[str, float]], lost: Array) -> Array:
    """PH when it is read, a share of the gas gone since the pour."""
    return solve(database, after_filling(database, dosed, lost))[0]


def true_dose(database: str, water: dict[str, float]) -> float:
    """Citrate that takes a closed tub to the target [mol/kg]."""
    wished = phreeqc.solution(1, water, 38.0, ph=repr(TARGET), extra=" Citrate 1e-3 charge")
    (found,) = phreeqc.run(database, [wished], {"citric": 'TOT("Citrate")'})
    return float(found["citric"])


def colours(
    row: Mapping[str, Any], ph: Array, litres: Array, random: np.random.Generator
) -> list[str]:
    """Colours as somebody calls them beside swatches: another brew, and an eye that errs."""
    view = assemble(recipe_from(tables(row))).view
    strength = BREW_ML / 1000 * BREW_STRENGTH * np.exp(random.uniform(-0.5, 0.5)) / litres
    draw = int(random.integers(0, 200))
    labs = drawn_labs({"butterfly-pea": strength}, ph, view)[draw]
    eye = random.normal(0, 3.0, 3) + 4.0 * random.standard_t(4, (len(ph), 3))
    return [str(one) for one in hex_of_lab(labs + eye, "D65", 10)]


def whole_row(number: int) -> dict[str, object]:
    """A maker with what is learnt."""
    row = maker_row(number)
    found = learnt(row)
    contradicts = "yes" if found.pop("contradicts") else ""
    return {
        **row,
        **{name: f"{value:.4g}" for name, value in found.items()},
        "contradicts": contradicts,
    }


def main() -> None:
    """Write the table."""
    rows = [whole_row(number) for number in range(2 * MAKERS)]
    write_csv(
        "learning_phreeqc.csv",
        [
            "Makers who log ten pours at one home; written by build_learning.py.",
            f"Truth by PHREEQC {phreeqc.version()} (PyPI phreeqc), minteq.v4 with Davies throughout"
            " and constants moved for every maker, closed tubs of 38 C.",
            "water: Danish homes as published (BMJ Open 2014, PMC4420976, table 1; triangles), or a"
            " softer made-up population.  kind: what the maker logs, a metered pH or a colour by"
            " eye beside swatches; both stand in every row.",
            f"true_g: citric acid that takes the eleventh bath to pH {TARGET}.  strip_, learnt_:"
            " ends of nine cases in ten before and after (before where the pours contradict).",
        ],
        rows,
    )


if __name__ == "__main__":
    main()
