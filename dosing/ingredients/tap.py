"""A tap water looked at: its hardness, its chalk, and the acid that turns it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dosing.equilibrium import CALCITE, Array, mass_for_ph, solve, water_density_kg_l
from dosing.ingredients.hardness_units import hardness_class, hardness_in
from dosing.ingredients.powders import per_gram
from dosing.ingredients.water import TapWater
from indicator.notes import Note

TARGETS = (6.0, 5.5, 5.0, 4.5)
BATH_C = 38.0
LITRES = 100.0


@dataclass(frozen=True)
class AcidDose:
    """Citric acid that brings 100 L to a pH."""

    ph: float
    grams: float | None
    """Nothing where no amount leads there [g]."""
    temperature_c: float


@dataclass(frozen=True)
class WaterLook:
    """Contents of a tap water, and the acid that turns it."""

    totals_mol_kg: Mapping[str, Array]
    """Component to total [mol/kg water]."""
    alkalinity_meq_l: Array
    hardness_mmol_l: Array
    """Calcium plus magnesium."""
    hardness_ppm: Array
    """As calcium carbonate."""
    hardness_class: str
    ph: Array
    """At `temperature_c`."""
    temperature_c: Array
    ionic_strength_mol_kg: Array
    calcite_saturation_index: Array
    imbalance_percent: Array
    """Charge that the readings left over, (cations - anions) / (cations + anions)."""
    citric_acid_g_per_100_l: tuple[AcidDose, ...]
    assumptions: tuple[Note, ...]
    warnings: tuple[Note, ...]


def look_at(water: TapWater) -> WaterLook:
    """Hardness class, saturation with calcite and doses of citric acid of one tap water."""
    solved = solve(water.totals, water.temperature_c)
    needed = mass_for_ph(water.totals, per_gram("citric-acid-anhydrous"), TARGETS, BATH_C)
    grams = np.asarray(needed.mass) * float(water_density_kg_l(BATH_C)) * LITRES
    doses = zip(TARGETS, grams.tolist(), needed.reached, strict=True)
    return WaterLook(
        totals_mol_kg=water.totals,
        alkalinity_meq_l=water.alkalinity_meq_l,
        hardness_mmol_l=water.hardness_mmol_l,
        hardness_ppm=hardness_in(water.hardness_mmol_l, "ppm"),
        hardness_class=hardness_class(float(water.hardness_mmol_l)),
        ph=solved.ph,
        temperature_c=water.temperature_c,
        ionic_strength_mol_kg=solved.ionic_strength,
        calcite_saturation_index=solved.saturation_of(CALCITE),
        imbalance_percent=water.imbalance_percent,
        citric_acid_g_per_100_l=tuple(
            AcidDose(ph, mass if reached else None, BATH_C) for ph, mass, reached in doses
        ),
        assumptions=water.assumptions,
        warnings=water.warnings,
    )
