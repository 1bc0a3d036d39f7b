"""Writes rainbow_phreeqc.csv: class jars of tap water, brew and a stock solution, by PHREEQC.

Run ``python tests/reference/build_phreeqc_jars.py``; it needs the PyPI package ``phreeqc``. What
the powders add is counted from their formulas here; the water of a jar is the tool's own.
"""

from __future__ import annotations

from dataclasses import replace

import phreeqc_runs as phreeqc
from reference_csv import write_csv

from dosing.bottle.rainbow import filled_jar
from dosing.ingredients.water import WaterReadings
from dosing.recipe import demo_recipe
from indicator.pigments import colourant

WATERS = ((0.5, 0.6, 7.6), (1.9, 1.1, 8.4), (5.0, 2.9, 7.4))
"""Alkalinity [meq/L], hardness [mmol/L] and pH of the tap."""
GRAMS = {
    "citric-acid-anhydrous": (0.0025, 0.02, 0.1, 0.75),
    "sodium-bicarbonate": (0.0025, 0.1, 0.75),
    "sodium-carbonate": (0.0025, 0.02, 0.1, 0.6),
}
"""Powder in a jar [g]."""
ADDED = {
    "citric-acid-anhydrous": {"citrate": 1 / 192.12},
    "sodium-bicarbonate": {"Na": 1 / 84.007, "C": 1 / 84.007},
    "sodium-carbonate": {"Na": 2 / 105.988, "C": 1 / 105.988},
}
"""Moles in a gram, by IUPAC atomic weights."""
INERT = {"anion": "Cl", "cation": "K"}
STRENGTH = 0.1


def jar_totals(water: tuple[float, float, float]) -> tuple[dict[str, float], float]:
    """Totals of a jar of butterfly pea without a stock solution [mol/kg], and its water [kg]."""
    alkalinity, hardness, ph = water
    readings = WaterReadings(alkalinity_meq_l=alkalinity, hardness_mmol_l=hardness, ph=ph)
    recipe = replace(demo_recipe(1), water=readings)
    bath = filled_jar(recipe, {colourant("butterfly-pea"): STRENGTH}).bath
    return {name: float(total) for name, total in bath.totals.items()}, float(bath.water_kg)


def main() -> None:
    """Solve every jar and write the table."""
    jars = []
    for water in WATERS:
        totals, kilograms = jar_totals(water)
        for powder, masses in GRAMS.items():
            for grams in masses:
                jar = dict(totals)
                for name, moles in ADDED[powder].items():
                    jar[name] = jar.get(name, 0.0) + grams * moles / kilograms
                jars.append((water, powder, grams, jar))
    solutions = []
    for number, (*_, jar) in enumerate(jars):
        by_element: dict[str, float] = {}
        for name, total in jar.items():
            element = phreeqc.MINTEQ_NAMES[INERT.get(name, name)]
            by_element[element] = by_element.get(element, 0.0) + total
        solutions.append(phreeqc.solution(number, by_element, 20.0))
    davies = phreeqc.with_davies_throughout(phreeqc.database_text("minteq.v4.dat"))
    unpaired = phreeqc.without_species(davies, phreeqc.is_alkali_pair)
    paired, found = (
        phreeqc.run(database, solutions, {"ph": '-LA("H+")'}) for database in (davies, unpaired)
    )
    write_csv(
        "rainbow_phreeqc.csv",
        [
            "Jars of 0.2 L at 20 C: tap water, 10 % of brew, and a powder dissolved; pH by PHREEQC"
            f" {phreeqc.version()} (PyPI phreeqc); written by build_phreeqc_jars.py.",
            phreeqc.DAVIES_NOTE,
            "ph: without the pairs of Na+ and K+ with anything but sulfate, as the tool has it"
            " (chemistry_phreeqc_baths.csv); ph_with_alkali_pairs: with them, up to 0.12 lower in"
            " strong soda.",
            "tolerance 0.03: the constants of citrate and carbonate differ by some hundredths"
            " between collections, as in chemistry_phreeqc_baths.csv.",
        ],
        [
            dict(
                zip(("alkalinity_meq_l", "hardness_mmol_l", "tap_ph"), water, strict=True),
                powder=powder,
                grams=grams,
                ph=f"{row['ph']:.4f}",
                ph_with_alkali_pairs=f"{with_pairs['ph']:.4f}",
                tolerance=0.03,
                source="phreeqc, minteq.v4+Davies",
            )
            for (water, powder, grams, _), row, with_pairs in zip(jars, found, paired, strict=True)
        ],
    )


if __name__ == "__main__":
    main()
