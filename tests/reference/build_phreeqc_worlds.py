"""Writes chemistry_phreeqc_worlds.csv: households whose true dose PHREEQC knows.

Run ``python tests/reference/build_phreeqc_worlds.py``; it needs the PyPI package ``phreeqc``.
The constants of each batch of worlds are perturbed within what handbooks differ by, so that no
world has quite the constants of the program under test.
"""

from __future__ import annotations

import re

import numpy as np
import phreeqc_runs as phreeqc
from reference_csv import write_csv

WORLDS, BATCH, SEED = 2000, 100, 20262
WISHED_PH = 5.5
CITRIC_G_MOL = 192.124
PROTONATION_SD, COMPLEX_SD = 0.02, 0.10
"""Of log K: of citrate and carbonate with protons, and of their complexes with metals."""
PURITY = (0.995, 0.003)
DENSITY_KG_L = 0.993
LEAST_SODIUM = 3e-4


def perturbed(text: str, random: np.random.Generator) -> str:
    """The same database with constants of citrate and carbonate a little off."""
    out = []
    equation = ""
    for line in text.splitlines():
        plain = line.split("#")[0].strip()
        if " = " in plain:
            equation = plain
        touched = re.search(r"Citrate-3|CO3-2", equation) and not equation.startswith("Citrate")
        if touched and (match := re.match(r"(\s*log_k\s+)(-?\d+(?:\.\d+)?)(.*)", line)):
            metal = re.search(r"(Ca|Mg)\+2", equation) is not None
            move = random.normal(0.0, COMPLEX_SD if metal else PROTONATION_SD)
            line = f"{match[1]}{float(match[2]) + move:.4f}{match[3]}"
        out.append(line)
    return "\n".join(out) + "\n"


def drawn(random: np.random.Generator) -> dict[str, np.ndarray]:
    """Waters and tubs of a made-up population: alkalinity and hardness go together.

    Some are more alkaline than the last step of a strip (4.8 meq/L).
    """
    alkalinity = np.clip(2.0 * np.exp(0.65 * random.standard_normal(WORLDS)), 0.3, 8.0)
    share = 0.82 * np.exp(0.25 * random.standard_normal(WORLDS))
    hardness = alkalinity / 2 / share
    return {
        "alkalinity_meq_l": alkalinity,
        "calcium_mmol_l": 0.79 * hardness,
        "magnesium_mmol_l": 0.21 * hardness,
        "chloride_mmol_l": 0.6 * np.exp(0.5 * random.standard_normal(WORLDS)),
        "sulfate_mmol_l": 0.3 * np.exp(0.5 * random.standard_normal(WORLDS)),
        "ph": np.clip(random.normal(7.6, 0.3, WORLDS), 6.9, 8.5),
        "temperature_c": np.clip(random.normal(38.0, 1.5, WORLDS), 33.0, 42.0),
        "volume_l": 120.0 * np.exp(0.25 * random.standard_normal(WORLDS)),
        "purity": np.minimum(random.normal(*PURITY, WORLDS), 1.0),
    }


def tap_waters(worlds: dict[str, np.ndarray], rows: range) -> list[str]:
    """Tap waters at 25 degrees with their alkalinity; sodium or chloride closes the charge."""
    waters = []
    for number, row in enumerate(rows):
        one = {name: float(values[row]) / 1000 for name, values in worlds.items()}
        held = {
            "Ca": one["calcium_mmol_l"],
            "Mg": one["magnesium_mmol_l"],
            "S(6)": one["sulfate_mmol_l"],
            "Alkalinity": one["alkalinity_meq_l"],
        }
        anions = held["Alkalinity"] + 2 * held["S(6)"] + one["chloride_mmol_l"]
        sodium = anions - 2 * (held["Ca"] + held["Mg"])
        if sodium > LEAST_SODIUM:
            held["Cl"], free = one["chloride_mmol_l"], f" Na {sodium!r} charge"
        else:
            held["Na"] = LEAST_SODIUM
            free = f" Cl {one['chloride_mmol_l'] + LEAST_SODIUM - sodium!r} charge"
        ph = repr(float(worlds["ph"][row]))
        waters.append(phreeqc.solution(number + 1, held, 25.0, ph=ph, extra=free))
    return waters


def main() -> None:
    """Write the file."""
    random = np.random.default_rng(SEED)
    worlds = drawn(random)
    davies = phreeqc.with_davies_throughout(phreeqc.database_text("minteq.v4.dat"))
    totals = {"Ca": "Ca", "Mg": "Mg", "Cl": "Cl", "S(6)": "S(6)", "Na": "Na", "C(4)": "C(4)"}
    grams = []
    for start in range(0, WORLDS, BATCH):
        rows = range(start, min(start + BATCH, WORLDS))
        text = perturbed(davies, random)
        punch = {name: f'TOT("{element}")' for name, element in totals.items()}
        waters = phreeqc.run(text, tap_waters(worlds, rows), punch)
        dosed = [
            phreeqc.solution(
                number + 1,
                {name: float(water[name]) for name in totals},
                float(worlds["temperature_c"][row]),
                ph=repr(WISHED_PH),
                extra=" Citrate 1e-3 charge",
            )
            for number, (row, water) in enumerate(zip(rows, waters, strict=True))
        ]
        found = phreeqc.run(text, dosed, {"citric": 'TOT("Citrate")'})
        for row, one in zip(rows, found, strict=True):
            kilograms = float(worlds["volume_l"][row]) * DENSITY_KG_L
            grams.append(one["citric"] * kilograms * CITRIC_G_MOL / worlds["purity"][row])
    write_csv(
        "chemistry_phreeqc_worlds.csv",
        [
            "Households and the grams of citric acid (anhydrous) that bring their tub to pH"
            f" {WISHED_PH}. The population is made up; alkalinity and hardness go together.",
            f"PHREEQC {phreeqc.version()} (PyPI phreeqc), closed to air; written by"
            " build_phreeqc_worlds.py.",
            phreeqc.DAVIES_NOTE,
            f"Every {BATCH} worlds the constants of citrate and carbonate are drawn anew: log K"
            f" +/- {PROTONATION_SD} with protons, +/- {COMPLEX_SD} with calcium and magnesium.",
        ],
        [
            {
                **{name: f"{values[row]:.5g}" for name, values in worlds.items()},
                "dose_g": f"{grams[row]:.5g}",
            }
            for row in range(WORLDS)
        ],
    )


if __name__ == "__main__":
    main()
