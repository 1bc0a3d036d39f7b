"""Writes chemistry_phreeqc_outgassing.csv: dosed baths that lose carbon dioxide, by PHREEQC.

Run ``python tests/reference/build_phreeqc_outgassing.py``; it needs the PyPI package ``phreeqc``.
"""

from __future__ import annotations

import itertools
import math
from typing import Any

import phreeqc_runs as phreeqc
from build_phreeqc_baths import carbonate_functions
from phreeqc import Phreeqc
from reference_csv import write_csv

ALKALINITIES = (0.0008, 0.0019, 0.0045)
"""[eq/kg]"""
TEMPERATURES_C = (25.0, 38.0)
DOSED = (0.35, 0.7, 1.3)
"""Citric acid, in equivalents over the alkalinity."""
LAMBDA = 2e-4
"""Share of the gas beyond that of the air that leaves per second [1/s]."""
TIME_CONSTANTS = (0.25, 0.5, 1.0, 2.0, 4.0)
AIR_PPM = 420.0
GAS = "H2CO3"
"""Dissolved carbon dioxide in minteq.v4.dat."""


def composition(alkalinity: float, dosed: float) -> dict[str, float]:
    """Totals of a tap water with calcium, magnesium, sodium and citric acid [mol/kg]."""
    return {
        "Ca": round(0.35 * alkalinity, 7),
        "Mg": round(0.10 * alkalinity, 7),
        "Na": round(0.35 * alkalinity, 7),
        "Cl": round(0.25 * alkalinity, 7),
        # As at pH 7.9 or so; the pH itself follows from the charges.
        "C": round(1.03 * alkalinity, 7),
        "citrate": round(dosed * alkalinity / 3.0, 7),
    }


def courses(database: str, totals: dict[str, float], temperature_c: float) -> dict[str, float]:
    """PH closed, open, and on the way from the one to the other."""
    named = {phreeqc.MINTEQ_NAMES[name]: value for name, value in totals.items()}
    pressure = f"{math.log10(AIR_PPM * 1e-6):.8f}"
    closed = phreeqc.solution(1, named, temperature_c)
    at_rest = closed + f"EQUILIBRIUM_PHASES 1\n CO2(g) {pressure} 10\n"
    opened = _rows(database, at_rest)[-1]
    times = " ".join(repr(constants / LAMBDA) for constants in TIME_CONSTANTS)
    kinetics = (
        "RATES\n Leaving\n -start\n"
        f' 10 rate = PARM(1) * (MOL("{GAS}") - PARM(2))\n 20 SAVE rate * TIME\n -end\n'
        f"{closed}"
        "KINETICS 1\n Leaving\n  -formula C -1 O -2\n  -m0 10\n"
        f"  -parms {LAMBDA!r} {opened['gas']!r}\n  -tol 1e-10\n -steps {times}\n"
        " -cvode true\nINCREMENTAL_REACTIONS false\n"
    )
    rows = _rows(database, kinetics)
    found = {"ph_closed": rows[0]["ph"], "ph_open": opened["ph"]}
    for constants, row in zip(TIME_CONSTANTS, rows[1:], strict=True):
        found[f"ph_after_{constants:g}"] = row["ph"]
    return found


def _rows(database: str, text: str) -> list[dict[str, Any]]:
    program = Phreeqc()
    program.SetErrorStringOn(True)
    if program.LoadDatabaseString(database):
        raise RuntimeError(program.GetErrorString())
    settings = (
        "KNOBS\n -convergence_tolerance 1e-12\n -iterations 400\n"
        "SELECTED_OUTPUT\n -reset false\n -high_precision true\n"
        "USER_PUNCH\n -headings ph gas\n -start\n"
        f' 10 PUNCH -LA("H+")\n 20 PUNCH MOL("{GAS}")\n -end\n'
    )
    if program.RunString(settings + text + "END\n"):
        raise RuntimeError(program.GetErrorString())
    table = program.GetSelectedOutput()
    return [dict(zip(table, row, strict=True)) for row in zip(*table.values(), strict=True)]


def main() -> None:
    """Write the file."""
    davies = phreeqc.with_davies_throughout(phreeqc.database_text("minteq.v4.dat"))
    unpaired = phreeqc.without_species(davies, phreeqc.is_alkali_pair)
    database = phreeqc.with_more(unpaired, carbonate_functions())
    rows = []
    for alkalinity, warm, dosed in itertools.product(ALKALINITIES, TEMPERATURES_C, DOSED):
        totals = composition(alkalinity, dosed)
        found = courses(database, totals, warm)
        rows.append(
            {
                "temperature_c": warm,
                **{name: f"{value:.7e}" for name, value in totals.items()},
                **{name: f"{value:.5f}" for name, value in found.items()},
            }
        )
    write_csv(
        "chemistry_phreeqc_outgassing.csv",
        [
            "pH of dosed baths from closed to open, carbon dioxide leaving in first order.",
            f"PHREEQC {phreeqc.version()} (PyPI phreeqc), KINETICS with CVODE, no precipitation;"
            " written by build_phreeqc_outgassing.py.",
            "minteq.v4 with Davies throughout, without the pairs of Na+ and K+ but sulfate's, with"
            " the carbonic acid constants of Plummer and Busenberg 1982.",
            f"Totals in mol per kg water; rate = {LAMBDA!r} /s x (dissolved gas - that at rest with"
            f" {AIR_PPM:g} ppm).  ph_after_N: after N time constants of the gas.",
        ],
        rows,
    )


if __name__ == "__main__":
    main()
