"""The same baths through PHREEQC, to compare speeds in one run.

Needs the PyPI package ``phreeqc``, which no other part of the project needs; skipped without it.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path
from types import ModuleType

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

pytest.importorskip("phreeqc", reason="PHREEQC is compared only where its package is installed")

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
BATCH = 600
ELEMENTS = {
    "C": "C(4)",
    "NO3": "N(5)",
    "SO4": "S(6)",
    "phosphate": "P",
    "citrate": "Citrate",
    "tartrate": "Tartarate",
}


@pytest.fixture(scope="module")
def runs() -> ModuleType:
    sys.path.insert(0, str(REFERENCE))
    try:
        import phreeqc_runs
    finally:
        sys.path.remove(str(REFERENCE))
    return phreeqc_runs


@pytest.fixture(scope="module")
def batch(runs: ModuleType) -> str:
    sys.path.insert(0, str(REFERENCE))
    try:
        from compositions import composition_rows
    finally:
        sys.path.remove(str(REFERENCE))
    totals, temperature_c = composition_rows(BATCH, seed=7)
    return "".join(
        runs.solution(
            row + 1,
            {ELEMENTS.get(name, name): float(values[row]) for name, values in totals.items()},
            float(temperature_c[row]),
        )
        for row in range(BATCH)
    )


def trimmed(runs: ModuleType, text: str) -> str:
    """The database without solids and without the elements that these baths do not have."""
    keep = {"Na", "K", "Ca", "Mg", "Cl", "F", "N", "S", "C", "P", "H", "O", "Citrate", "Tartarate"}
    dissolved = text[: text.index("\nPHASES")]
    masters, species = dissolved.split("SOLUTION_SPECIES", 1)
    kept = [
        line
        for line in masters.splitlines()
        if not line.strip()
        or line.split("(")[0].split()[0] in keep | {"E", "Alkalinity", "SOLUTION_MASTER_SPECIES"}
    ]

    def foreign(equation: str) -> bool:
        names = re.findall(r"Citrate|Tartarate|[A-Z][a-z]*", re.sub(r"(^|[ +])e-", " ", equation))
        return not set(names) <= keep

    body = str(runs.without_species("SOLUTION_SPECIES" + species + "\nPHASES\n", foreign))
    return "\n".join(kept) + "\n" + body.replace("\nPHASES\n", "\n") + "END\n"


@pytest.mark.parametrize("database", ["shipped", "trimmed"])
def test_one_batch_of_solutions(
    benchmark: BenchmarkFixture, runs: ModuleType, batch: str, database: str
) -> None:
    from phreeqc import Phreeqc

    text = runs.database_text("minteq.v4.dat")
    if database == "trimmed":
        text = trimmed(runs, text)
    program = Phreeqc()
    assert program.LoadDatabaseString(text) == 0

    def run() -> int:
        return int(program.RunString(batch + "END\n"))

    assert benchmark(run) == 0
    if benchmark.stats is not None:
        benchmark.extra_info["solves_per_second"] = BATCH / benchmark.stats["median"]
