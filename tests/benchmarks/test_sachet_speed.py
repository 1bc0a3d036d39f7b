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
from numpy.typing import NDArray
from pytest_benchmark.fixture import BenchmarkFixture

from dosing.recipe import demo_recipe
from dosing.sachets.blends import propose_blends
from dosing.sachets.home_doses import HomeDoses, Limit, filled, home_doses
from dosing.sachets.populations import draw_homes
from dosing.sachets.survey import survey_homes
from dosing.sachets.turning import turning_table

Array = NDArray[np.float64]
HOMES, SIZES = 100_000, 40
Result = TypeVar("Result")


def once(benchmark: BenchmarkFixture, work: Callable[[], Result]) -> Result:
    """One round: these take long, and later ones find nothing in a cache but the colour tables."""
    run: Any = benchmark.pedantic
    return cast(Result, run(work, rounds=1))


def peak_mb() -> float:
    """Most memory that this process has had [MB]."""
    unit = 1e6 if sys.platform == "darwin" else 1e3
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit


def test_hundred_thousand_homes_by_forty_sizes(benchmark: BenchmarkFixture) -> None:
    inputs = demo_recipe("1")
    sizes = np.linspace(2.0, 80.0, SIZES)

    def everything() -> tuple[HomeDoses, Array]:
        inside = filled(inputs, draw_homes("denmark", HOMES))
        table = turning_table(inputs, None, inside.bath.ph, inside.homes.volume_l)
        doses = home_doses(inside, table, Limit(5.0, np.inf))
        return doses, np.stack([inside.after(grams).ph for grams in sizes])

    doses, final_ph = once(benchmark, everything)
    assert final_ph.shape == (SIZES, HOMES)
    # More acid is never milder, and both ways of counting agree.
    assert np.all(np.diff(final_ph, axis=0) < 0)
    for ph, grams in zip(final_ph, sizes, strict=True):
        assert np.mean(ph < 5.0) == pytest.approx(np.mean(grams > doses.limit_g), abs=1e-4)
    benchmark.extra_info["peak_mb"] = peak_mb()


def test_search_for_blends(benchmark: BenchmarkFixture) -> None:
    inputs = demo_recipe("1")
    survey = survey_homes(inputs, draw_homes("denmark", 2000), 3)
    found = once(benchmark, lambda: propose_blends(survey))
    assert len(found) >= 2
