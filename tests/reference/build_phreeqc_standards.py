"""Writes chemistry_standards_rivals.csv: PHREEQC's pH of every pH standard, by its databases.

Run ``python tests/reference/build_phreeqc_standards.py``; it needs the PyPI package ``phreeqc``.
"""

from __future__ import annotations

import phreeqc_runs as phreeqc
from reference_csv import read_csv, write_csv

COMMON = {"Na": "Na", "K": "K", "Ca": "Ca", "C": "C(4)", "phosphate": "P", "borate": "B"}
NAMES = {
    "minteq.v4": {
        **COMMON,
        "citrate": "Citrate",
        "tartrate": "Tartarate",
        "phthalate": "Phthalate",
    },
    "minteq.v4+Davies": {
        **COMMON,
        "citrate": "Citrate",
        "tartrate": "Tartarate",
        "phthalate": "Phthalate",
    },
    "phreeqc.dat": COMMON,
    "sit.dat": {**COMMON, "citrate": "Cit", "phthalate": "Phthalat", "oxalate": "Ox"},
    "llnl.dat": {**COMMON, "phthalate": "O_phthalate"},
}
"""Our components as each database calls them; a buffer with any other cannot be computed."""
LOWEST_C = {"llnl.dat": 0.01}
"""Lowest temperature that a database covers [°C]."""


def databases() -> dict[str, str]:
    """Text of each rival."""
    shipped = phreeqc.database_text("minteq.v4.dat")
    return {
        "minteq.v4": shipped,
        "minteq.v4+Davies": phreeqc.with_davies_throughout(shipped),
        **{name: phreeqc.database_text(name) for name in ("phreeqc.dat", "sit.dat", "llnl.dat")},
    }


def standards() -> list[dict[str, str]]:
    """Rows of the first list of standards."""
    return [row for row in read_csv("chemistry_standards.csv") if row["set"] == "NBS-IUPAC"]


def totals(row: dict[str, str]) -> dict[str, float]:
    """Composition of one standard."""
    components = [*COMMON, "citrate", "tartrate", "oxalate", "phthalate"]
    return {name: float(row[name]) for name in components if row[name]}


def rival_ph(name: str, text: str, rows: list[dict[str, str]]) -> list[str]:
    """One database's pH of every row; empty where it lacks a component or the temperature."""
    elements = NAMES[name]
    able = [
        index
        for index, row in enumerate(rows)
        if set(totals(row)) <= set(elements)
        and float(row["temperature_c"]) >= LOWEST_C.get(name, 0.0)
    ]
    solutions = [
        phreeqc.solution(
            index + 1,
            {elements[component]: total for component, total in totals(rows[index]).items()},
            float(rows[index]["temperature_c"]),
        )
        for index in able
    ]
    found = [""] * len(rows)
    for index, result in zip(able, phreeqc.run(text, solutions, {"ph": '-LA("H+")'}), strict=True):
        found[index] = f"{result['ph']:.4f}"
    return found


def main() -> None:
    """Write the file."""
    rows = standards()
    columns = {name: rival_ph(name, text, rows) for name, text in databases().items()}
    write_csv(
        "chemistry_standards_rivals.csv",
        [
            "pH of the standards of chemistry_standards.csv as PHREEQC calculates it from its"
            " databases; empty where a database lacks a component or the temperature.",
            f"PHREEQC {phreeqc.version()} (PyPI phreeqc), pH by charge balance on H+, closed to"
            " air; written by build_phreeqc_standards.py.",
            phreeqc.DAVIES_NOTE,
        ],
        [
            {
                "buffer": row["buffer"],
                "temperature_c": row["temperature_c"],
                "ph": row["ph"],
                **{name: column[index] for name, column in columns.items()},
            }
            for index, row in enumerate(rows)
        ],
    )


if __name__ == "__main__":
    main()
