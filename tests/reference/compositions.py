"""Draws bath-like compositions: an electroneutral tap water and what people tip into it.

Plain numpy and no huedose, so that the script that asks another program for their pH, the tests
and the benchmark all speak of the same kinds of solution. The ranges are those of the check they
serve (a wide tap-water range and up to 20 mmol/kg of each powder), not a survey of waters.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

COMPONENTS = (
    "Na",
    "K",
    "Ca",
    "Mg",
    "Cl",
    "F",
    "NO3",
    "SO4",
    "C",
    "phosphate",
    "citrate",
    "tartrate",
)
KINDS = (
    ("water", ()),
    ("citric", ("citric",)),
    ("tartaric", ("tartaric",)),
    ("bitartrate", ("bitartrate",)),
    ("epsom", ("epsom",)),
    ("bicarbonate", ("bicarbonate",)),
    ("citric-epsom", ("citric", "epsom")),
    ("citric-bicarbonate", ("citric", "bicarbonate")),
    ("citric-bitartrate", ("citric", "bitartrate")),
    ("tartaric-bitartrate", ("tartaric", "bitartrate")),
    ("tartaric-epsom", ("tartaric", "epsom")),
    ("everything", ("citric", "tartaric", "bitartrate", "epsom", "bicarbonate")),
)
"""Names of the kinds and the powders that each receives."""
POWDERS = {
    "citric": {"citrate": 1.0},
    "tartaric": {"tartrate": 1.0},
    "bitartrate": {"K": 1.0, "tartrate": 1.0},
    "epsom": {"Mg": 1.0, "SO4": 1.0},
    "bicarbonate": {"Na": 1.0, "C": 1.0},
}
"""What a mole of each powder adds [mol]."""
LEAST_POWDER, MOST_POWDER = 5e-5, 2e-2
"""Range of each powder that is present [mol/kg], uniform in its logarithm."""


def composition_rows(count: int, seed: int) -> tuple[dict[str, Array], Array]:
    """Compositions of ``count`` baths.

    Parameters
    ----------
    count : int
        Number of rows.
    seed : int
        Of the generator; the same seed gives the same rows.

    Returns
    -------
    totals : dict of str to numpy.ndarray
        Totals by component [mol/kg water], each of shape (count,).
    temperature_c : numpy.ndarray
        [°C], 10 to 45.
    """
    rng = np.random.default_rng(seed)
    totals = tap_water_rows(count, rng)
    kind = kind_rows(count)
    for powder, content in POWDERS.items():
        receives = np.array([powder in powders for _, powders in KINDS])[kind]
        amount = np.where(receives, _log_uniform(rng, LEAST_POWDER, MOST_POWDER, count), 0.0)
        for component, per_mole in content.items():
            totals[component] = totals[component] + per_mole * amount
    return totals, rng.uniform(10.0, 45.0, count)


def kind_rows(count: int) -> NDArray[np.intp]:
    """Index into `KINDS` of each row: they take turns."""
    return np.arange(count) % len(KINDS)


def tap_water_rows(count: int, rng: np.random.Generator) -> dict[str, Array]:
    """Electroneutral tap waters, at the end point of their alkalinity titration.

    Alkalinity 0.1 to 6 meq/kg and hardness 5 to 400 mg/kg as CaCO3 (both uniform in their
    logarithm), calcium 50 to 95 % of the hardness, pH about 6.5 to 9; chloride or sodium closes
    the charge.
    """
    alkalinity = _log_uniform(rng, 1e-4, 6e-3, count)
    hardness = _log_uniform(rng, 5.0, 400.0, count) / 100.0869e3
    calcium = hardness * rng.uniform(0.5, 0.95, count)
    magnesium = hardness - calcium
    sodium = _log_uniform(rng, 1e-4, 3e-3, count)
    potassium = _log_uniform(rng, 1e-5, 2e-4, count)
    chloride = _log_uniform(rng, 1e-4, 3e-3, count)
    sulfate = _log_uniform(rng, 2e-5, 1.5e-3, count)
    nitrate = rng.uniform(0.0, 8e-4, count)
    # Fluoride and phosphate as tap waters may hold them; every other row has none.
    treated = rng.random(count) < 0.5
    fluoride = np.where(treated, _log_uniform(rng, 5e-6, 8e-5, count), 0.0)
    phosphate = np.where(treated, _log_uniform(rng, 1e-6, 6e-5, count), 0.0)
    carbon = alkalinity * _carbon_per_alkalinity(rng.uniform(6.5, 9.0, count))
    negative = alkalinity + chloride + nitrate + 2.0 * sulfate + fluoride + phosphate
    excess = 2.0 * hardness + sodium + potassium - negative
    return {
        "Na": sodium + np.maximum(-excess, 0.0),
        "K": potassium,
        "Ca": calcium,
        "Mg": magnesium,
        "Cl": chloride + np.maximum(excess, 0.0),
        "F": fluoride,
        "NO3": nitrate,
        "SO4": sulfate,
        "C": carbon,
        "phosphate": phosphate,
        "citrate": np.zeros(count),
        "tartrate": np.zeros(count),
    }


def _carbon_per_alkalinity(ph: Array) -> Array:
    """Inorganic carbon per alkalinity of a dilute carbonate water near ``ph``, pK 6.35 and 10.33.

    Only spreads the waters over pH; their pH is what the programs then solve from the totals.
    """
    per_bicarbonate = 10.0 ** (6.35 - ph) + 1.0 + 10.0 ** (ph - 10.33)
    return np.asarray(per_bicarbonate / (1.0 + 2.0 * 10.0 ** (ph - 10.33)))


def _log_uniform(rng: np.random.Generator, low: float, high: float, count: int) -> Array:
    return np.asarray(np.exp(rng.uniform(np.log(low), np.log(high), count)))
