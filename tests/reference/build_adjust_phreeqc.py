"""Writes adjust_phreeqc.csv: made-up surfactant bases titrated with citric acid by PHREEQC.

Run ``python tests/reference/build_adjust_phreeqc.py``; it needs the PyPI package ``phreeqc``. A
base is sodium salts of three to five weak acids of minteq.v4 (Davies throughout) in salt water at
pH 8 to 10, and take up some 5 to 100 meq/kg from pH 8 to 5. Readings stand at a quarter, a
half and three quarters of the citric acid that pH 5.5 takes, and are off as a meter is in foam.
"""

from __future__ import annotations

import numpy as np
import phreeqc_runs as phreeqc
from reference_csv import write_csv

SEED, BASES, POINTS = 20, 120, 80
GROUPS = ("P", "B", "C(4)", "Acetate", "Phthalate", "Benzoate", "N(-3)")
EQ_KG = (0.005, 0.1)
"""Taken up from pH 8 to 5: even in logs, the salt's effect on the constants left out."""
MOST_MOL_KG = 0.2
SALT_MOL_KG = (0.05, 0.3)
START_PH = (8.0, 10.0)
WISHED_PH, METER_SD = 5.5, 0.1
CITRIC_G_MOL = 192.124
SHARES = (0.0, 0.25, 0.5, 0.75)
PH = '-LA("H+")'


def base(database: str, random: np.random.Generator) -> tuple[dict[str, float], float]:
    """Totals of a made-up base [mol/kg] without its counter-ion, and its pH."""
    chosen = random.choice(GROUPS, random.integers(3, 6), replace=False)
    parts = random.dirichlet(np.ones(len(chosen)))
    salt = {"Cl": float(random.uniform(*SALT_MOL_KG))}
    taken = float(np.exp(random.uniform(*np.log(EQ_KG))))
    totals = {str(name): 0.02 * float(part) for name, part in zip(chosen, parts, strict=True)}
    scale = taken / (sodium(database, totals | salt, 8.0) - sodium(database, totals | salt, 5.0))
    scaled = {name: scale * total for name, total in totals.items()}
    if sum(scaled.values()) > MOST_MOL_KG:
        # What hardly takes up anything there is no base that takes so much.
        return base(database, random)
    return scaled | salt, float(random.uniform(*START_PH))


def sodium(database: str, totals: dict[str, float], ph: float) -> float:
    """Sodium that makes totals electroneutral at a pH [mol/kg]."""
    at_ph = phreeqc.solution(1, totals, 25.0, ph=repr(ph), extra=" Na 0.1 charge")
    return float(phreeqc.run(database, [at_ph], {"na": 'TOT("Na")'})[0]["na"])


def titrated(database: str, totals: dict[str, float], ph: float) -> tuple[np.ndarray, np.ndarray]:
    """Citric acid [g/kg] and pH of a base on the way to the wish."""
    counter_ion = sodium(database, totals, ph)
    most = 0.002
    while True:
        citrate = np.linspace(0.0, most, POINTS)
        inputs = [
            phreeqc.solution(n + 1, totals | {"Na": counter_ion, "Citrate": float(mol)}, 25.0)
            for n, mol in enumerate(citrate)
        ]
        found = np.array([row["ph"] for row in phreeqc.run(database, inputs, {"ph": PH})])
        if found[-1] < WISHED_PH:
            return citrate * CITRIC_G_MOL, found
        most *= 1.5


def main() -> None:
    """Write the file."""
    random = np.random.default_rng(SEED)
    database = phreeqc.with_davies_throughout(phreeqc.database_text("minteq.v4.dat"))
    rows = []
    for number in range(BASES):
        grams, found = titrated(database, *base(database, random))
        wished = float(np.interp(WISHED_PH, found[::-1], grams[::-1]))
        row: dict[str, object] = {"base": number, "wished_ph": WISHED_PH, "wished_g_kg": wished}
        for place, share in enumerate(SHARES):
            true = float(np.interp(share * wished, grams, found))
            row |= {
                f"g_kg_{place}": share * wished,
                f"true_ph_{place}": true,
                f"read_ph_{place}": round(true + random.normal(0.0, METER_SD), 2),
            }
        rows.append(row)
    comment = (
        "Made-up bases titrated with citric acid; build_adjust_phreeqc.py. true_ph of PHREEQC,",
        f"read_ph as a meter shows it. PHREEQC {phreeqc.version()}. {phreeqc.DAVIES_NOTE}",
    )
    write_csv("adjust_phreeqc.csv", comment, rows)


if __name__ == "__main__":
    main()
