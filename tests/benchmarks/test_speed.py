"""Speed, measured on request: `python -m pytest tests/benchmarks --benchmark-only`.

Nothing here asserts a time; the figures are copied into tests/README.md by hand.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tracemalloc
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from indicator.absorbance import mixture_absorbance
from indicator.appearance import seen
from indicator.optics import View, bottle_view, jar_view, tub_view
from indicator.pigments import colourant, colourant_names

PIGMENTS = {name for name in colourant_names() if colourant(name).kind == "pigment"}


@pytest.mark.parametrize(
    "arguments",
    [
        ["--help"],
        ["plan"],
        ["plan", "--json"],
        ["plan", "--homes", "--picture", "homes.png"],
        ["design", "blue", "pink", "--demo", "5"],
    ],
    ids=["help", "plan", "plan-json", "plan-homes", "design"],
)
def test_command(benchmark: BenchmarkFixture, arguments: list[str], tmp_path: Path) -> None:
    command = [sys.executable, "-c", "from dosing.cli import main; main()", *arguments]
    root = str(Path(__file__).resolve().parents[2])
    environment = {**os.environ, "NO_COLOR": "1", "PYTHONPATH": root}

    def run() -> int:
        return subprocess.run(
            command, capture_output=True, env=environment, cwd=tmp_path
        ).returncode

    assert benchmark(run) == 0
    peak_kb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    benchmark.extra_info["peak_memory_mb"] = peak_kb / 1024


def test_ladders_of_nine_pigments_in_three_views(benchmark: BenchmarkFixture) -> None:
    ph = np.linspace(1.0, 13.0, 121)
    views = (tub_view(25.0), jar_view(), bottle_view())
    names = colourant_names()[:9]

    def run() -> int:
        found = [
            seen(mixture_absorbance({name: 1e-2 if name in PIGMENTS else 1e-5}, ph), view)
            for name in names
            for view in views
        ]
        return sum(len(one.hex) for one in found)

    assert benchmark(run) == 9 * 121 * 3


@pytest.mark.parametrize("view", [tub_view(25.0), jar_view()], ids=["tub", "jar"])
def test_a_million_spectra(benchmark: BenchmarkFixture, view: View) -> None:
    """From absorbance to XYZ, CIELAB, hex, words and names; fed in ten parts to save memory."""
    random = np.random.default_rng(11)
    ph, strength = random.uniform(1.0, 12.0, 100_000), 10.0 ** random.uniform(-4.0, -1.0, 100_000)
    absorbance = mixture_absorbance({"butterfly-pea": strength, "tartrazine": 1e-4 * strength}, ph)
    seen(absorbance[:1], view)

    def run() -> int:
        return sum(len(seen(absorbance, view).hex) for _ in range(10))

    measured: Any = benchmark
    assert measured.pedantic(run, rounds=1) == 1_000_000
    tracemalloc.start()
    found = seen(absorbance, view)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    answer = sum(np.asarray(one).nbytes for one in vars(found).values())
    benchmark.extra_info["mb_beside_input_and_answer"] = (peak - answer) / 1e6
