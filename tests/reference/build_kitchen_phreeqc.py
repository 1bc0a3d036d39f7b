"""Writes kitchen_phreeqc.csv: the kitchen solutions of the photo mat, by PHREEQC.

Run ``python tests/reference/build_kitchen_phreeqc.py``; it needs the PyPI package ``phreeqc``. What
is in a glass is counted here from the grams of the tables and the formulas of the powders.
"""

from __future__ import annotations

import csv
from math import log10
from pathlib import Path

import phreeqc_runs as phreeqc
from reference_csv import write_csv

DATA = Path(__file__).resolve().parents[2] / "data" / "trade"
ADDED = {
    "citric_acid": {"Citrate": 1 / 192.12},
    "baking_soda": {"Na": 1 / 84.007, "C(4)": 1 / 84.007},
    "washing_soda": {"Na": 2 / 105.988, "C(4)": 1 / 105.988},
}
"""Moles in a gram, by IUPAC atomic weights."""
SOUR_MEQ_G = 0.2
"""Acid of a pigment like most (data/colour/own_acid.csv)."""
STANDARD = {"Na": 0.075, "C(4)": 0.05}, 10.012
"""Primary pH standard of carbonate at 25 C, 0.025 mol/kg of each salt (Buck et al. 2002)."""
GAS_PPM = {"closed": None, "fizzed": 20000.0, "open_air": 1000.0}
"""Carbon dioxide of the air that the glass is at rest with; None for all that the powders bring."""


def rows(name: str) -> list[dict[str, str]]:
    """Rows of a table of the kitchen."""
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def totals(mixture: dict[str, str], numbers: dict[str, float]) -> dict[str, float]:
    """Totals of a glass by element [mol/kg water]."""
    water = float(mixture["water_g"])
    jar, moles = water, dict.fromkeys(("Na", "C(4)", "Citrate"), 0.0)
    for stock, added in ADDED.items():
        poured, per_kg = float(mixture[f"{stock}_g"]), numbers[f"{stock}_per_kg"]
        jar += poured
        water += poured * 1000 / (1000 + per_kg)
        for element, in_gram in added.items():
            moles[element] += poured * per_kg / (1000 + per_kg) * in_gram
    share, infusion = numbers["glass_mixture"] / jar, numbers["glass_infusion"]
    kilograms = (share * water + infusion) / 1000
    petals = infusion / numbers["infusion_thinned"] * numbers["petals"] / 100
    sour = SOUR_MEQ_G / 1000 * petals / kilograms
    return {name: share * amount / kilograms for name, amount in moles.items()} | {"Cl": sour}


def pitzer_ph(held: dict[str, float], temperature_c: float) -> float:
    """PH of a glass of soda by Pitzer's model, on the scale of the primary standard."""
    soda = {name: amount for name, amount in held.items() if name != "Citrate"}
    solutions = [phreeqc.solution(1, soda, temperature_c), phreeqc.solution(2, STANDARD[0], 25.0)]
    database = phreeqc.database_text("pitzer.dat")
    glass, standard = phreeqc.run(database, solutions, {"ph": '-LA("H+")'})
    return float(glass["ph"]) + STANDARD[1] - float(standard["ph"])


def main() -> None:
    """Solve every glass and write the table."""
    numbers = {row["name"]: float(row["value"]) for row in rows("kitchen.csv")}
    glasses: list[tuple[str, str, str]] = []
    solutions = []
    for mixture in rows("kitchen_mixtures.csv"):
        held = totals(mixture, numbers)
        for gas, ppm in GAS_PPM.items():
            mine, extra = dict(held), ""
            if ppm is not None:
                del mine["C(4)"]
                extra = f" C(4) 0.01 CO2(g) {log10(ppm * 1e-6)!r}"
            pitzer = gas == "closed" and not held["Citrate"]
            by_pitzer = f"{pitzer_ph(held, numbers['temperature']):.4f}" if pitzer else ""
            glasses.append((mixture["place"], gas, by_pitzer))
            solutions.append(
                phreeqc.solution(len(glasses), mine, numbers["temperature"], extra=extra)
            )
    davies = phreeqc.with_davies_throughout(phreeqc.database_text("minteq.v4.dat"))
    unpaired = phreeqc.without_species(davies, phreeqc.is_alkali_pair)
    paired, found = (
        phreeqc.run(database, solutions, {"ph": '-LA("H+")'}) for database in (davies, unpaired)
    )
    write_csv(
        "kitchen_phreeqc.csv",
        [
            "Glasses of the photo mat's kitchen solutions with a tenth of infusion; pH by PHREEQC"
            f" {phreeqc.version()} (PyPI phreeqc); written by build_kitchen_phreeqc.py.",
            phreeqc.DAVIES_NOTE,
            "gas: closed, with all that the powders bring; fizzed and open_air, at rest with 20,000"
            " and 1000 ppm of carbon dioxide.",
            "ph: without the pairs of Na+ with anything but sulfate, as the tool has it"
            " (chemistry_phreeqc_baths.csv); ph_with_alkali_pairs: with them, which without a scale"
            " of its own reads the primary standard of carbonate 0.15 too low.",
            "ph_pitzer: pitzer.dat, moved by what it misses of the primary standard of carbonate at"
            " 25 C (10.012, Buck et al. 2002, Pure Appl. Chem. 74:2169).",
        ],
        [
            {
                "place": place,
                "gas": gas,
                "ph": f"{row['ph']:.4f}",
                "ph_with_alkali_pairs": f"{with_pairs['ph']:.4f}",
                "ph_pitzer": by_pitzer,
                "source": "phreeqc, minteq.v4+Davies",
            }
            for (place, gas, by_pitzer), row, with_pairs in zip(glasses, found, paired, strict=True)
        ],
    )


if __name__ == "__main__":
    main()
