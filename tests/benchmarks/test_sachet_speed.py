"""Speed of sachets, measured on request: `python -m pytest tests/benchmarks --benchmark-only`.

Nothing here asserts a time; the figures are copied into tests/README.md by hand.
"""

from __future__ import annotations

import resource
import sys
from collections.abc import Callable
from typing import Any, TypeVar, cast

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from dosing.recipe import demo_recipe
from dosing.sachets.blends import propose_blends
from dosing.sachets.home_doses import HomeDoses, Limit, filled, home_doses
from dosing.sachets.populations import draw_homes
from dosing.sachets.turning import turning_table

HOMES, SIZES = 100_000, 40
Result = TypeVar("Result")


def once(benchmark: BenchmarkFixture, work: Callable[[], Result]) -> Result:
    """One round: these take long, and later ones find nothing in a cache but the colour tables."""
    run: Any = benchmark.pedantic
    return cast(Result, run(work, rounds=1))


def peak_mb() -> float:
    """Most memory that this process and the largest of its helpers have had [MB]."""
    unit = 1e6 if sys.platform == "darwin" else 1e3
    own, helpers = (
        resource.getrusage(who).ru_maxrss / unit
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return own + 2 * helpers


def test_hundred_thousand_homes_by_forty_sizes(benchmark: BenchmarkFixture) -> None:
    inputs = demo_recipe("1")
    sizes = np.linspace(2.0, 80.0, SIZES)

    def everything() -> HomeDoses:
        inside = filled(inputs, draw_homes("denmark", HOMES))
        ends = (float(inside.volume_l.min()), float(inside.volume_l.max()))
        table = turning_table(inputs, None, ends)
        return home_doses(inside, table, Limit(5.0, 5.0), tuple(float(one) for one in sizes))

    doses = once(benchmark, everything)
    assert doses.final_ph.shape == (SIZES, HOMES)
    assert np.isfinite(doses.final_ph).all()
    # More acid is never milder, and both ways of counting agree.
    assert np.all(np.diff(doses.final_ph, axis=0) < 0)
    for row, grams in enumerate(sizes):
        past = np.mean(doses.final_ph[row] < 5.0)
        assert past == pytest.approx(np.mean(grams > doses.limit_g), abs=1e-4)
    benchmark.extra_info["peak_mb_with_helpers"] = peak_mb()


def test_search_for_blends(benchmark: BenchmarkFixture) -> None:
    inputs = demo_recipe("1")
    homes = draw_homes("denmark", 2000)
    found = once(benchmark, lambda: propose_blends(inputs, homes))
    assert len(found.proposals) >= 2
