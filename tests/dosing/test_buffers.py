"""The engine against printed buffer recipes (tests/reference/build_buffers.py)."""

import csv
from pathlib import Path

import numpy as np
import pytest

from dosing.equilibrium import solve

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
COMPONENTS = ("Na", "K", "phosphate", "citrate", "phthalate")
HIGHEST_GATED_IONIC_STRENGTH = {"citrate-phosphate": 0.3}


def rows(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize(
    ("table", "gate", "least_rows"),
    [
        ("phthalate", 0.035, 19),
        ("phosphate", 0.035, 23),
        ("citrate", 0.09, 17),
        ("citrate-phosphate", 0.15, 15),
    ],
)
def test_printed_recipes(table: str, gate: float, least_rows: int) -> None:
    recipes = [row for row in rows("chemistry_buffers.csv") if row["table"] == table]
    totals = {name: np.array([float(row[name]) for row in recipes]) for name in COMPONENTS}
    found = solve(totals, 25.0)
    assert found.converged.all()
    gated = found.ionic_strength <= HIGHEST_GATED_IONIC_STRENGTH.get(table, np.inf)
    assert gated.sum() >= least_rows
    assert {float(row["tolerance"]) for row in recipes} == {gate}
    misses = [
        f"pH {row['printed_ph']}: off by {ph - float(row['ph']):+.3f}"
        for row, ph, counts in zip(recipes, found.ph, gated, strict=True)
        if counts and not abs(ph - float(row["ph"])) <= gate
    ]
    assert not misses


def test_a_strong_citrate_phosphate_buffer_is_reported_out_of_range() -> None:
    # At pH 8.0 the 1921 table reaches I = 0.58: a pH is given, and that it is beyond the model.
    last = rows("chemistry_buffers.csv")[-1]
    assert last["printed_ph"] == "8.0"
    found = solve({name: float(last[name]) for name in COMPONENTS}, 25.0)
    assert found.converged
    assert not found.in_range
