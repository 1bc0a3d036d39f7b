"""Writes jar_phreeqc.csv: jar tests whose true pH comes from PHREEQC, with hands and eyes that err.

Run ``python tests/reference/build_jar_phreeqc.py``; it needs the PyPI package ``phreeqc``. Every
world has its own water, its own gas that left, its own errors of weighing and pouring, and its own
constants: those of minteq.v4 with Davies throughout, moved at random. Strips and drops are read in
steps, and one reading in twenty is simply wrong, which the fit is not told. A jar that is read by
its colour has its true pH here; jar_worlds.py makes the colours of it.
"""

from __future__ import annotations

import re
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from typing import Any

import numpy as np
import phreeqc_runs as phreeqc
from numpy.typing import NDArray
from reference_csv import write_csv

from dosing.ingredients.powders import blend_per_gram
from dosing.ingredients.water import WaterReadings, tap_water

Array = NDArray[np.float64]

SEED, WORLDS = 77, 500
"""Worlds for each way to read."""
PROCESSES = 2
INSTRUMENTS = {
    # own scatter, scatter that all readings share, step of what is written
    "meter": (0.06, 0.08, 0.01),
    "drop-kit": (0.16, 0.12, 0.5),
    "strip": (0.25, 0.2, 0.5),
}
READINGS = {"meter": 8, "drop-kit": 12, "strip": 10}
WAYS = (*INSTRUMENTS, "colour")
MISREAD, MISREAD_BY = 0.05, (1.0, 2.0)
TARGET, JAR_C, TUB_C = 5.7, 25.0, 38.0
PERCENT, MADE_SD, SYRINGE_SD, JUG_SD = 1.0, 0.033, 0.02, 0.005
EACH_ML, GRAMS_PER_ML = 0.04, 0.01002
GAS_PER_READING = (0.004, 0.12)
"""Share of the free carbon dioxide that leaves while a jar is stirred and read: even in logs."""
AIR_CO2 = 1.4e-5
"""Of water at rest with the air [mol/kg]."""
ROUNDS, SETTLED = 8, 1e-7
LOG_K_SD = {"Citrate": 0.03, "CO3": 0.02}
"""Of protons; complexes with metals move three times as much."""
PH = '-LA("H+")'
FRACTIONS = (0.0, 0.3, 0.6, 0.8, 0.9, 1.0, 1.1, 1.25, 1.4, 1.6, 0.7, 1.5)
"""Of the dose that the recipe lets expect: where to read, the first so many."""
FRACTIONS_BY_COLOUR = (
    *(0.0, 0.2, 0.4, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5),
    *(1.75, 2.0, 2.5, 3.0, 4.0, 6.0),
)


@cache
def shipped_database() -> str:
    """The database before its constants are moved."""
    return phreeqc.with_davies_throughout(phreeqc.database_text("minteq.v4.dat"))


def moved_database(text: str, random: np.random.Generator) -> str:
    """The database with the constants of carbonate and citrate moved at random."""
    lines, equation = [], ""
    in_species = False
    for line in text.splitlines():
        if re.fullmatch(r"[A-Z_]{4,}", line.strip()):
            in_species = line.strip() == "SOLUTION_SPECIES"
        if " = " in line and not line.strip().startswith("-"):
            equation = line
        match = re.match(r"(\s*-?log_k\s+)(\S+)(.*)", line)
        kind = next((one for one in LOG_K_SD if one in equation), None)
        if in_species and match and kind and " + " in equation:
            metal = "Ca" in equation.replace("Cit", "") or "Mg" in equation
            moved = float(match[2]) + random.normal(0, LOG_K_SD[kind] * (3.0 if metal else 1.0))
            line = f"{match[1]}{moved:.5f}{match[3]}"
        lines.append(line)
    return "\n".join(lines) + "\n"


def named(totals: dict[str, Array], row: int = 0) -> dict[str, float]:
    """Totals by PHREEQC's names; ions that take no part become sodium or chloride."""
    found: dict[str, float] = {}
    spare = {"cation": "Na", "anion": "Cl"}
    for name, values in totals.items():
        key = phreeqc.MINTEQ_NAMES[spare.get(name, name)]
        found[key] = found.get(key, 0.0) + float(np.atleast_1d(values)[row])
    return found


def ph_of(
    database: str, solutions: list[dict[str, float]], temperature_c: float
) -> list[dict[str, Any]]:
    """PH and free carbon dioxide of solutions closed to air."""
    inputs = [phreeqc.solution(k + 1, totals, temperature_c) for k, totals in enumerate(solutions)]
    return phreeqc.run(database, inputs, {"ph": PH, "co2": 'MOL("H2CO3")'})


def dose_of(database: str, water: dict[str, float]) -> float:
    """Citric acid that takes a litre of the closed tub to the target [g]."""
    wished = phreeqc.solution(1, water, TUB_C, ph=repr(TARGET), extra=" Citrate 1e-3 charge")
    (found,) = phreeqc.run(database, [wished], {"citric": 'TOT("Citrate")'})
    per_gram = float(blend_per_gram({"citric-acid-anhydrous": 1.0})["citrate"])
    return float(found["citric"]) / per_gram


def world_row(number: int) -> dict[str, object]:
    """One jar test, of a seed of its own."""
    by, random = WAYS[number % len(WAYS)], np.random.default_rng((SEED, number))
    shipped = shipped_database()
    read_alkalinity = float(random.uniform(1.0, 4.0))
    read_hardness = 0.6 * read_alkalinity
    read_ph = float(random.uniform(7.2, 8.0))
    alkalinity = max(read_alkalinity + random.normal(0, 0.5), 0.3)
    water = tap_water(
        WaterReadings(
            alkalinity_meq_l=alkalinity,
            ph=float(np.clip(read_ph + random.normal(0, 0.4), 6.7, 8.6)),
            hardness_mmol_l=read_hardness * float(np.exp(random.normal(0, 0.1))),
            reading_temperature_c=JAR_C,
        )
    )
    base = named(dict(water.totals))
    database = moved_database(shipped, random)
    scale = float(np.exp(random.normal(0, np.hypot(MADE_SD, np.hypot(SYRINGE_SD, JUG_SD)))))
    leaving = float(np.exp(random.uniform(*np.log(GAS_PER_READING))))
    expected_ml = 0.056 * read_alkalinity / GRAMS_PER_ML
    parts = FRACTIONS_BY_COLOUR if by == "colour" else sorted(FRACTIONS[: READINGS[by]])
    totals = np.unique(np.round(np.array(parts) * expected_ml))
    single = np.diff(totals, prepend=0.0)
    poured = totals + np.cumsum(np.where(single > 0, random.normal(0, EACH_ML, len(totals)), 0.0))
    citrate = float(blend_per_gram({"citric-acid-anhydrous": 1.0})["citrate"])
    jars = []
    for ml in poured:
        kg = 1.0 + 0.00099 * max(ml, 0.0)
        one = {name: float(total / kg) for name, total in base.items()}
        one["Citrate"] = float(citrate * GRAMS_PER_ML * max(ml, 0.0) * scale / kg)
        jars.append(one)
    true_ph = stirred(database, jars, leaving)
    read = [f"{ph:.4f}" for ph in true_ph] if by == "colour" else written(true_ph, by, random)
    return {
        "world": number,
        "by": by,
        "alkalinity_read_meq_l": f"{read_alkalinity:.3f}",
        "hardness_read_mmol_l": f"{read_hardness:.3f}",
        "ph_read": f"{read_ph:.2f}",
        "true_alkalinity_meq_l": f"{alkalinity:.4f}",
        "true_dose_g_l": f"{dose_of(database, base):.6f}",
        "ml": " ".join(f"{one:g}" for one in totals),
        "read": " ".join(read),
    }


def stirred(database: str, jars: list[dict[str, float]], leaving: float) -> list[float]:
    """PH at each reading of one jar that loses gas from reading to reading.

    What leaves depends on what has left before; a few rounds over the whole series settle it.
    """
    carbon = np.array([jar["C(4)"] for jar in jars])

    def solved(gone: Array) -> list[dict[str, Any]]:
        left = [jar | {"C(4)": float(c)} for jar, c in zip(jars, carbon - gone, strict=True)]
        return ph_of(database, left, JAR_C)

    gone = np.zeros(len(jars))
    for _ in range(ROUNDS):
        before = np.concatenate([[0.0], gone[:-1]])
        free = np.array([float(one["co2"]) for one in solved(before)])
        lost = leaving * np.maximum(free - AIR_CO2, 0.0)
        lost[0] = 0.0
        gone, last = np.cumsum(lost), gone
        if np.abs(gone - last).max() < SETTLED:
            break
    return [float(one["ph"]) for one in solved(gone)]


def written(true_ph: list[float], by: str, random: np.random.Generator) -> list[str]:
    """What is written down where the pH is this."""
    own, shared, step = INSTRUMENTS[by]
    off = random.normal(0, shared)
    found = []
    for ph in true_ph:
        read = ph + off + random.normal(0, own)
        if random.random() < MISREAD:
            read += random.choice([-1, 1]) * random.uniform(*MISREAD_BY)
        found.append(f"{round(read / step) * step:g}")
    return found


def main() -> None:
    """Write the file."""
    with ProcessPoolExecutor(PROCESSES) as pool:
        rows = list(pool.map(world_row, range(WORLDS * len(WAYS)), chunksize=20))
    write_csv(
        "jar_phreeqc.csv",
        [
            "Jar tests of plain water with 1 % citric acid in 1 L; true pH by PHREEQC"
            f" {phreeqc.version()} (PyPI phreeqc); written by build_jar_phreeqc.py.",
            phreeqc.DAVIES_NOTE,
            "Each world: constants of carbonate and citrate moved (sd 0.02, 0.03; 3 times for"
            " metals), 0.4 to 12 % of the free gas lost at each reading, acid 4 % off, additions"
            " 0.04 mL off, readings with a scatter of their own and one in common, written in steps"
            " of 0.01 (meter) or 0.5; one reading in twenty is off by 1 to 2 pH.",
            f"..._read: what the recipe says (strip).  true_dose_g_l: citric acid to pH {TARGET} in"
            f" the closed tub at {TUB_C:g} C, per kg of water.",
            "ml, read: in the jar in all and what was written down; by colour the true pH instead.",
        ],
        rows,
    )


if __name__ == "__main__":
    main()
