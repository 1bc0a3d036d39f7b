"""Writes turn_phreeqc.csv: jars turned by eye, with spoons for scales, whose pH is PHREEQC's.

Run ``python tests/reference/build_turn_phreeqc.py``; it needs the PyPI package ``phreeqc``. Every
world has a tap water of its own that nobody read, its own spoon, its own powders that lie looser or
denser in it, its own gas that left and its own constants (as in build_jar_phreeqc.py). A teaspoon
of citric acid is stirred into a litre of that water and counted by teaspoons into a litre of it,
and into a second litre that holds three tablespoons of a teaspoon of baking soda in a litre.
jar_worlds.py makes the colours of it.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor

import build_jar_phreeqc as jars
import numpy as np
import phreeqc_runs as phreeqc
from numpy.typing import NDArray
from reference_csv import write_csv

from dosing.ingredients.powders import blend_per_gram, powder
from dosing.ingredients.water import WaterReadings, tap_water

Array = NDArray[np.float64]

SEED, WORLDS, PROCESSES = 91, 300, 2
ALKALINITY, TAP_PH = (0.3, 6.0), (7.2, 8.3)
"""Of the waters [meq/L], [pH]: even between the two."""
TEASPOON_ML, TABLESPOON = 4.92892, 3.0
SODA_TABLESPOONS = 3.0
SPOON_SD, LEVEL_SD, EACH_SD, JUG_SD = 0.04, 0.06, 0.06, 0.02
"""Relative standard deviations: volume of the spoon, how level a powder is filled, each spoonful of
a solution, a litre in a jug."""
ACID, SODA = "citric-acid-anhydrous", "sodium-bicarbonate"
MOST_SPOONS, SOUR_ENOUGH = 45, 3.3
DOSE_PH = (8.0, 7.5, 7.0, 6.5, 6.0, 5.5, 5.0, 4.5, 4.0, 3.5, 3.0)


def spooned_g(name: str, spoon: float, random: np.random.Generator) -> float:
    """What a level teaspoon of a powder weighs in one kitchen [g]."""
    kind = powder(name)
    spread = np.log(kind.bulk_high_g_ml / kind.bulk_low_g_ml) / (2 * 1.645)
    bulk = kind.bulk_g_ml * np.exp(random.normal(0, np.hypot(spread, LEVEL_SD)))
    return float(spoon * TEASPOON_ML * bulk)


def titrated(
    database: str, water: dict[str, float], soda_mol: float, acid_mol_l: float, poured_l: Array,
    extra_l: float, leaving: float,
) -> list[float]:  # fmt: skip
    """PH of a jar after each spoonful; the water of the solutions is that of the tap."""
    found = []
    for litres in poured_l:
        kg = 1.0 + extra_l + litres
        found.append(
            water
            | {
                "Citrate": float(max(acid_mol_l * litres, 1e-12) / kg),
                "Na": float(water.get("Na", 0.0) + soda_mol / kg),
                "C(4)": float(water["C(4)"] + soda_mol / kg),
            }
        )
    return jars.stirred(database, found, leaving)


def world_row(number: int) -> dict[str, object]:
    """One test by eye, of a seed of its own."""
    random = np.random.default_rng((SEED, number))
    alkalinity, ph = random.uniform(*ALKALINITY), random.uniform(*TAP_PH)
    readings = WaterReadings(
        alkalinity_meq_l=alkalinity,
        ph=ph,
        hardness_mmol_l=0.5 * alkalinity * float(np.exp(random.normal(0, 0.3))),
        reading_temperature_c=jars.JAR_C,
    )
    water = jars.named(dict(tap_water(readings).totals))
    database = jars.moved_database(jars.shipped_database(), random)
    spoon = float(np.exp(random.normal(0, SPOON_SD)))
    teaspoon_l = spoon * TEASPOON_ML / 1000.0
    jug, acid_jug, soda_jug = np.exp(random.normal(0, JUG_SD, 3))
    citrate = float(blend_per_gram({ACID: 1.0})["citrate"])
    sodium = float(blend_per_gram({SODA: 1.0})["Na"])
    acid_mol_l = citrate * spooned_g(ACID, spoon, random) / acid_jug
    soda_l = SODA_TABLESPOONS * TABLESPOON * teaspoon_l / jug
    soda_mol = sodium * spooned_g(SODA, spoon, random) / soda_jug * soda_l
    leaving = float(np.exp(random.uniform(*np.log(jars.GAS_PER_READING)))) / 3.0
    each = 1.0 + EACH_SD * random.standard_normal((2, MOST_SPOONS))
    poured = np.concatenate([np.zeros((2, 1)), np.cumsum(each, axis=1)], axis=1)
    row: dict[str, object] = {
        "world": number,
        "true_alkalinity_meq_l": f"{alkalinity:.4f}",
    }
    for name, spoons, soda, extra in (
        ("ph", poured[0], 0.0, 0.0),
        ("twin_ph", poured[1], soda_mol, soda_l),
    ):
        along = titrated(
            database, water, soda, acid_mol_l, spoons * teaspoon_l / jug, extra, leaving
        )
        sour = np.flatnonzero(np.array(along) < SOUR_ENOUGH)
        row[name] = " ".join(f"{one:.2f}" for one in along[: sour[0] + 1 if len(sour) else None])
    row["dose_g_l"] = " ".join(f"{dose_at(database, water, ph):.5f}" for ph in DOSE_PH)
    return row


def dose_at(database: str, water: dict[str, float], ph: float) -> float:
    """Citric acid that takes a litre of the closed tub to a pH [g]; 0 where it is there already."""
    bare = phreeqc.run(database, [phreeqc.solution(1, water, jars.TUB_C)], {"ph": jars.PH})
    if float(bare[0]["ph"]) <= ph:
        return 0.0
    wished = phreeqc.solution(1, water, jars.TUB_C, ph=repr(ph), extra=" Citrate 1e-3 charge")
    (found,) = phreeqc.run(database, [wished], {"citric": 'TOT("Citrate")'})
    return float(found["citric"]) / float(blend_per_gram({ACID: 1.0})["citrate"])


def main() -> None:
    """Write the file."""
    with ProcessPoolExecutor(PROCESSES) as pool:
        rows = list(pool.map(world_row, range(WORLDS), chunksize=10))
    write_csv(
        "turn_phreeqc.csv",
        [
            "Jars turned by eye in waters that nobody read: a level teaspoon of citric acid in a"
            " litre of the tap water, added by the teaspoon to a litre of it.  True pH by PHREEQC"
            f" {phreeqc.version()} (PyPI phreeqc); written by build_turn_phreeqc.py.",
            phreeqc.DAVIES_NOTE,
            "Each world: alkalinity 0.3 to 6 meq/L and pH 7.2 to 8.3, evenly; constants moved as in"
            " jar_phreeqc.csv; a spoon 4 % off, powders as loose as they may be and 6 % from level,"
            " spoonfuls 6 % off, litres 2 % off; 0.13 to 4 % of the free gas lost at each.",
            "ph, twin_ph: after 0, 1, 2 ... teaspoons, the twin with 3 tablespoons of a teaspoon of"
            " baking soda in a litre.  dose_g_l: citric acid per kg of water that takes the closed"
            f" tub at {jars.TUB_C:g} C to pH " + " ".join(f"{ph:g}" for ph in DOSE_PH) + ".",
        ],
        rows,
    )


if __name__ == "__main__":
    main()
