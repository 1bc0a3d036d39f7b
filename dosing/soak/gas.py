"""Carbon dioxide that the steps of a soak set free."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dosing.bath.mixed import Bath, SolvedBath
from dosing.bath.open_tub import gas_litres
from dosing.ingredients.powders import powder
from dosing.plan.cautions import Caution
from dosing.soak.records import Step
from indicator.notes import Value, say
from indicator.tables import citation


def gas_left_l(bath: Bath) -> float:
    """Carbon dioxide that a tub can still give off [L]."""
    kept = bath.at_rest().inorganic_carbon_mol_kg
    moles = (bath.totals.get("C", np.zeros(())) - kept) * bath.water_kg
    return float(gas_litres(moles, bath.temperature_c))


def gas_caution(steps: Sequence[Step]) -> list[Caution]:
    """Caution on the gas that acid and soda in one soak set free; none where they do not meet."""
    if not any(not step.onwards and step.grams > 0 for step in steps):
        return []
    poured = [powder(name) for step in steps if step.grams > 0 for name, _ in step.powder]
    bases = dict.fromkeys(known.label for known in poured if known.reaction == "base")
    values: dict[str, Value] = {
        "litres": sum(step.co2_litres for step in steps),
        "bases": say("plan.and").join(bases),
    }
    return [Caution("mind", "programme-both", citation("carbon-dioxide"), "DERIVED", values)]


def gas_pressure_atm(closed: SolvedBath, aired: SolvedBath) -> float:
    """Pressure of the gas in a closed bath, by what it holds at rest with the air [atm].

    Parameters
    ----------
    closed, aired : SolvedBath
        One tub with all of its carbon, and in the air.

    Returns
    -------
    float
        [atm].
    """
    held, at_rest = (
        float(np.asarray(bath.equilibrium.molality["CO2"])) for bath in (closed, aired)
    )
    return held / at_rest * float(np.asarray(closed.bath.air_co2_ppm)) * 1e-6
