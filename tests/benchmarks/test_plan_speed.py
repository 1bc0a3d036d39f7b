"""Speed of a plan, measured on request: `python -m pytest tests/benchmarks --benchmark-only`.

CPU seconds of one thread, demo 1, its case made and asked before, median of 30. Nothing here
asserts a time.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from dosing import demo_recipe, make_plan, preview
from dosing.bath.inputs import RecipeInputs
from dosing.plan.records import Plan

ROUNDS = 30


@pytest.fixture(scope="module")
def recipe() -> RecipeInputs:
    return demo_recipe("1")


def measured(benchmark: BenchmarkFixture, ask: Callable[[], Plan]) -> Plan:
    ask()
    asked: Any = benchmark
    plan: Plan = asked.pedantic(ask, rounds=ROUNDS)
    return plan


@pytest.mark.benchmark(timer=time.process_time)
def test_preview(benchmark: BenchmarkFixture, recipe: RecipeInputs) -> None:
    doses = iter(range(5, 50))
    assert measured(benchmark, lambda: preview(recipe, float(next(doses)))).wish.kind == "dose"


@pytest.mark.benchmark(timer=time.process_time)
@pytest.mark.parametrize("target", [None, "5.2", "6.2", "blue", "purple", "pink", "#8060C0"])
def test_plan(benchmark: BenchmarkFixture, recipe: RecipeInputs, target: str | None) -> None:
    asked = replace(recipe, wish=replace(recipe.wish, target=target))
    assert measured(benchmark, lambda: make_plan(asked)).dose_g.best > 0


@pytest.mark.benchmark(timer=time.process_time)
def test_a_recipe_never_seen_before(benchmark: BenchmarkFixture, recipe: RecipeInputs) -> None:
    assert measured(benchmark, lambda: make_plan(replace(recipe))).pours
