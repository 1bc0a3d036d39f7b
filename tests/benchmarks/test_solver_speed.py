"""Speed of the equilibrium solver: `python -m pytest tests/benchmarks --benchmark-only`."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from dosing.bath.mixed import Bath
from dosing.bath.possible_tubs import POSSIBLE_TUBS, Possible, possible_tubs
from dosing.equilibrium import mass_for_ph, solve
from dosing.recipe import demo_names, demo_recipe

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
GRAMS = 40.0
DOSES = np.linspace(0.0, 60.0, 24)[:, None]
PH = 6.0


@pytest.fixture(scope="module")
def tubs() -> Possible:
    """The possible tubs of the first demo."""
    return possible_tubs(demo_recipe(demo_names()[0]))


def poured(tubs: Possible, grams: float | np.ndarray) -> Bath:
    return tubs.setting.bath.with_activator(tubs.tipped_g(grams), tubs.setting.per_gram)


def test_hundred_thousand_baths(benchmark: BenchmarkFixture) -> None:
    sys.path.insert(0, str(REFERENCE))
    try:
        from compositions import composition_rows
    finally:
        sys.path.remove(str(REFERENCE))
    totals, temperature_c = composition_rows(100_000, seed=7)
    solved = benchmark(solve, totals, temperature_c)
    assert solved.converged.all()
    imbalance = np.abs(solved.charge_error)
    charges = np.abs(solved.system.charge) @ solved.species_molality
    assert np.all(imbalance <= 1e-10 * charges)
    if benchmark.stats is not None:
        benchmark.extra_info["solves_per_second"] = 100_000 / benchmark.stats["median"]


@pytest.mark.parametrize("grams", [0.0, GRAMS, DOSES], ids=["before", "after", "ribbon"])
def test_possible_tubs(
    benchmark: BenchmarkFixture, tubs: Possible, grams: float | np.ndarray
) -> None:
    bath = poured(tubs, grams)
    solved = benchmark(solve, bath.totals, bath.temperature_c)
    assert solved.converged.all()
    assert solved.ph.shape[-1] == POSSIBLE_TUBS


def test_grams_for_a_ph(benchmark: BenchmarkFixture, tubs: Possible) -> None:
    bath, per_gram = tubs.setting.bath, tubs.setting.per_gram
    found = benchmark(mass_for_ph, bath.totals, per_gram, PH, bath.temperature_c)
    assert found.reached.all()


def test_one_bath(benchmark: BenchmarkFixture) -> None:
    totals = {"Ca": 1.5e-3, "Mg": 4e-4, "Na": 1e-3, "Cl": 1e-3, "C": 3e-3, "citrate": 8e-4}
    assert benchmark(solve, totals, 38.0).converged
