"""Makers of learning_phreeqc.csv: their recipe, their book, and what they learn of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from dosing.bath.possible_tubs import possible_tubs
from dosing.recipe import recipe_from
from dosing.workshop.learning import learn
from dosing.workshop.records import LoggedPour

TARGET = 6.0
FIRST_DAY, TODAY = date(2026, 9, 1), date(2026, 11, 30)
BREW_ML = 420.0
MG_HCO3_PER_MEQ = 61.017


def water_of(number: int, random: np.random.Generator) -> tuple[float, float, float]:
    """Alkalinity [meq/L], hardness [mmol/L] and pH of a home."""
    if number % 2:
        # Denmark: HCO3 287 (112 to 427) mg/L, hardness 16.0 (7.4 to 30) dH, pH 7.57 (7.14 to
        # 7.92); BMJ Open 2014, PMC4420976, table 1. Triangles between the ends.
        middle = 3 * 287 - 112 - 427
        bicarbonate = random.triangular(112, middle, 427)
        hardness = 0.1783 * 16.0 * bicarbonate / 287 * random.uniform(0.75, 1.25)
        ph = random.triangular(7.14, 7.65, 7.92)
        return bicarbonate / MG_HCO3_PER_MEQ, float(hardness), float(ph)
    alkalinity = float(np.clip(1.6 * np.exp(0.5 * random.standard_normal()), 0.5, 4.5))
    return alkalinity, alkalinity / 2 / random.uniform(0.6, 1.1), random.uniform(7.2, 8.3)


def tables(row: Mapping[str, Any], pigment: str = "butterfly-pea") -> dict[str, Any]:
    """The recipe of a maker."""
    tub: dict[str, Any] = {"volume": f"{row['volume_l']} L"}
    if row["volume_measured"]:
        tub["volume_measured"] = True
    brew = {"pigment": pigment, "amount": f"{BREW_ML:g} mL", "strength": "2 %"}
    return {
        "title": "a maker's soak",
        "tub": tub,
        "water": {"alkalinity": f"{row['strip_ppm']} ppm", "instrument": "strip"},
        "colour": [brew],
        "activator": {"parts": {"citric-acid-anhydrous": 1}},
        "wish": {"target": f"{TARGET}", "bathers": "adult"},
    }


def pours(row: Mapping[str, Any]) -> list[LoggedPour]:
    """The ten pours as they stand in the book."""
    recipe = tables(row)
    seen = zip(row["grams"].split(), row["ph"].split(), row["hex"].split(), strict=True)
    return [
        LoggedPour(
            FIRST_DAY + timedelta(days=7 * k),
            "guesthouse",
            recipe,
            float(grams),
            **(
                {"ph": float(ph), "ph_read_with": "meter"}
                if row["kind"] == "meter"
                else {"colour_hex": colour}
            ),
        )
        for k, (grams, ph, colour) in enumerate(seen)
    ]


def learnt(row: Mapping[str, Any]) -> dict[str, Any]:
    """Ends of the dose to the target before and after learning; before where it contradicts."""
    inputs = recipe_from(tables(row))
    home = learn(pours(row), TODAY)
    after = inputs if home.contradicts else replace(inputs, learnt=home.learnt)
    ends: dict[str, Any] = {}
    for name, which in (("strip", inputs), ("learnt", after)):
        low, high = np.nanquantile(possible_tubs(which).grams_for_ph(TARGET), (0.05, 0.95))
        ends |= {f"{name}_low_g": low, f"{name}_high_g": high}
    return ends | {"share": home.share_of_tubs, "contradicts": home.contradicts}
