"""Writes chemistry_phreeqc_chalk.csv: waters held at saturation with calcite by PHREEQC.

Run ``python tests/reference/build_phreeqc_chalk.py``; it needs the PyPI package ``phreeqc``.
PHREEQC is given the species and constants of data/equilibrium, so that what is compared is the
way to the answer and not the constants; one bath is run with phreeqc.dat as shipped as well.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import phreeqc_runs as phreeqc
from reference_csv import write_csv

from dosing.equilibrium import carbon_from_alkalinity, strong_charge
from dosing.equilibrium.activity import ion_rows
from dosing.equilibrium.constants import published_function
from dosing.equilibrium.species import Species, component_rows, solid_rows, system_of

WATERS, SEED = 30, 20261130
AIR_PPM = 420.0
ELEMENTS = {
    "Na": "Na",
    "K": "K",
    "Ca": "Ca",
    "Mg": "Mg",
    "Cl": "Cl",
    "SO4": "Sul",
    "C": "Carb",
    "phosphate": "Phos",
    "citrate": "Cit",
}
"""Our components as elements of the database that is written here."""
PUNCH = {"ph": '-LA("H+")', "index": 'SI("Calcite")', "chalk": 'EQUI("Calcite")'}
SODA_BATH = {"temperature_c": 38.0, "Ca": 2.7e-3, "alkalinity": 4.5e-3, "soda_g": 16.0, "l": 120.0}


def _charged(name: str, charge: int) -> str:
    return name + ("" if charge == 0 else f"{charge:+d}".replace("+1", "+").replace("-1", "-"))


def _ion(component: str) -> str:
    return _charged(ELEMENTS[component], component_rows()[component].base_charge)


def _formula(species: Species) -> str:
    """A species by the elements above."""
    if not species.metal and not species.ligand:
        return species.name
    hydrogen = {0: "", 1: "H", -1: "OH"}.get(species.protons, f"H{species.protons}")
    metal, ligand = (ELEMENTS.get(one, "") for one in (species.metal, species.ligand))
    return _charged(metal + hydrogen + ligand, species.charge)


def _numbers(values: Any) -> str:
    return " ".join(f"{value:.12g}" for value in values)


def _reaction(species: Species) -> str:
    left = [_ion(one) for one in (species.metal, species.ligand) if one]
    left += [f"{species.protons} H+"] if species.protons > 0 else []
    left += ["H2O"] if species.protons < 0 else []
    right = [_formula(species), *(["H+"] if species.protons < 0 else [])]
    neutral = "" if species.charge else "\n -gamma 0 0"
    constants = f"\n -analytic {_numbers(species.log_k)}{neutral}"
    return f"{' + '.join(left)} = {' + '.join(right)}{constants}"


def database() -> str:
    """Our species and constants as a database of PHREEQC."""
    known = system_of(tuple(ELEMENTS), gas=False).species
    own = dict(zip(ELEMENTS, ion_rows(tuple(ELEMENTS)), strict=True))
    masters = ["H H+ -1 H 1.008", "H(0) H2 0 H", "H(1) H+ -1 0", "E e- 0 0 0"]
    masters += ["O H2O 0 O 16", "O(0) O2 0 O", "O(-2) H2O 0 0"]
    masters += [f"{element} {_ion(name)} 0 1 1" for name, element in ELEMENTS.items()]
    blocks = ["H+ = H+", "e- = e-", "H2O = H2O"]
    blocks += ["2 H2O = O2 + 4 H+ + 4 e-\n log_k -86.08", "2 H+ + 2 e- = H2\n log_k -3.15"]
    for name, row in own.items():
        gamma = "" if row is None else f"\n -gamma {row.size_angstrom} {row.linear}"
        blocks.append(f"{_ion(name)} = {_ion(name)}{gamma}")
    free = {_ion(name) for name in ELEMENTS} | {"H+"}
    blocks += [_reaction(one) for one in known if _formula(one) not in free]
    calcite = next(row for row in solid_rows() if row.solid == "calcite")
    gas = published_function("carbon-dioxide-solubility")
    return "\n".join(
        [
            "SOLUTION_MASTER_SPECIES",
            *masters,
            "SOLUTION_SPECIES",
            *blocks,
            "PHASES",
            "Calcite\n CaCarb = Ca+2 + Carb-2",
            f" -analytic {_numbers(published_function(calcite.function))}",
            f"CO2(g)\n H2Carb = H2Carb\n -analytic {_numbers(gas)}",
            "END\n",
        ]
    )


def waters() -> list[dict[str, float]]:
    """Tap waters from soft to very hard, some with soda, citrate or Epsom salt [mol/kg]."""
    rng = np.random.default_rng(SEED)
    found = []
    for row in range(WATERS):
        alkalinity = rng.uniform(0.6e-3, 7e-3)
        temperature_c = round(float(rng.uniform(8.0, 45.0)), 1)
        totals = {
            "Ca": alkalinity * rng.uniform(0.1, 0.8),
            "Mg": alkalinity * rng.uniform(0.02, 0.2),
            "Na": rng.uniform(0.2e-3, 2e-3),
            "K": rng.uniform(0.02e-3, 0.2e-3),
            "SO4": rng.uniform(0.05e-3, 1.5e-3),
            "phosphate": rng.uniform(0.0, 0.03e-3),
            "citrate": 0.0 if row % 3 else alkalinity * rng.uniform(0.05, 0.3),
        }
        carbon = carbon_from_alkalinity(alkalinity, rng.uniform(7.2, 8.4), totals, temperature_c)
        soda = rng.uniform(0.0, 4e-3) if row % 2 else 0.0
        totals |= {"C": float(carbon) + soda, "Na": totals["Na"] + 2.0 * soda}
        # Chloride, or sodium, closes the charges.
        missing = float(strong_charge(totals)) - alkalinity - 2.0 * soda
        totals["Cl"] = max(missing, 0.0)
        totals["Na"] += max(-missing, 0.0)
        found.append({"temperature_c": temperature_c, **totals})
    return [{name: float(f"{value:.7g}") for name, value in one.items()} for one in found]


def _asked(number: int, totals: Mapping[str, float], temperature_c: float) -> str:
    """One water four times: clear and with calcite, closed and under air."""
    named = {element: totals[name] for name, element in ELEMENTS.items() if name in totals}
    air = f" CO2(g) {math.log10(AIR_PPM * 1e-6):.8f} 10\n"
    text = phreeqc.solution(number, named, temperature_c) + "END\n"
    for phases in (air, " Calcite 0 0\n", f" Calcite 0 0\n{air}"):
        text += f"USE solution {number}\nEQUILIBRIUM_PHASES 1\n{phases}END\n"
    return text


def water_rows() -> list[dict[str, object]]:
    """One row per water."""
    drawn = waters()
    texts = [_asked(n + 1, one, one["temperature_c"]) for n, one in enumerate(drawn)]
    solved = phreeqc.run(database(), texts, PUNCH)
    rows: list[dict[str, object]] = []
    for number, one in enumerate(drawn):
        closed, opened, settled, open_settled = solved[4 * number : 4 * number + 4]
        rows.append(
            {
                "water": number + 1,
                **one,
                "index": f"{closed['index']:.5f}",
                "ph_closed": f"{closed['ph']:.5f}",
                "ph_open": f"{opened['ph']:.5f}",
                "ph_closed_chalk": f"{settled['ph']:.5f}",
                "ph_open_chalk": f"{open_settled['ph']:.5f}",
                "chalk_closed": f"{settled['chalk']:.6e}",
                "chalk_open": f"{open_settled['chalk']:.6e}",
            }
        )
    return rows


def soda_rows() -> list[dict[str, object]]:
    """Sixteen grams of washing soda in a hard bath, by phreeqc.dat as shipped.

    The pH of the tap water is not part of the figure; three are tried.
    """
    soda = SODA_BATH["soda_g"] / 105.988 / SODA_BATH["l"]
    rows: list[dict[str, object]] = []
    for tap_ph in (7.3, 7.6, 7.9):
        start = (
            f"SOLUTION 1\n units mol/kgw\n temp {SODA_BATH['temperature_c']}\n pH {tap_ph}\n"
            f" Ca {SODA_BATH['Ca']!r}\n Alkalinity {SODA_BATH['alkalinity']!r}\n Cl 1e-3 charge\n"
            f"REACTION 1\n Na2CO3 1\n {soda!r} moles\nSAVE solution 2\nEND\n"
        )
        settle = "USE solution 2\nEQUILIBRIUM_PHASES 1\n Calcite 0 0\nEND\n"
        punched = {**PUNCH, "C": 'TOT("C")', "Cl": 'TOT("Cl")', "Na": 'TOT("Na")'}
        solved = phreeqc.run(phreeqc.database_text("phreeqc.dat"), [start, settle], punched)
        poured, settled = solved[-2:]
        rows.append(
            {
                "tap_ph": tap_ph,
                "temperature_c": SODA_BATH["temperature_c"],
                "Ca": SODA_BATH["Ca"],
                **{name: f"{poured[name]:.6e}" for name in ("Na", "C", "Cl")},
                "index": f"{poured['index']:.4f}",
                "ph_closed": f"{poured['ph']:.4f}",
                "ph_closed_chalk": f"{settled['ph']:.4f}",
                "chalk_closed": f"{settled['chalk']:.5e}",
            }
        )
    return rows


def main() -> None:
    """Write both files."""
    program = f"PHREEQC {phreeqc.version()} (PyPI phreeqc); written by build_phreeqc_chalk.py."
    write_csv(
        "chemistry_phreeqc_chalk.csv",
        [
            "Waters with none and with all of the excess calcite taken out, closed and under air"
            f" of {AIR_PPM:g} ppm carbon dioxide.",
            f"{program} It holds the species, constants and activity equations of"
            " data/equilibrium as they were when this was written.",
            "Totals and calcite fallen out [mol/kg water]; index: of calcite, closed.",
        ],
        water_rows(),
    )
    write_csv(
        "chemistry_phreeqc_soda.csv",
        [
            "16 g of washing soda (anhydrous) in 120 L of hard water of 4.5 meq/L and 2.7 mmol/L"
            " calcium at 38 C, with phreeqc.dat as shipped.",
            f"{program} Totals after the soda and calcite fallen out [mol/kg water].",
        ],
        soda_rows(),
    )


if __name__ == "__main__":
    main()
