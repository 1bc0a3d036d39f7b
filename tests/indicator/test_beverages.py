"""The published method for the colour of beverages, worked from its own printed table."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from indicator.absorbance import WAVELENGTH_NM, mixture_absorbance
from indicator.appearance import seen
from indicator.optics import View

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
# OIV-MA-AS2-11: white of D65 and 10 degrees.
WHITE = np.array([94.825, 100.0, 107.381])


def printed_table() -> np.ndarray:
    lines = (REFERENCE / "colour_beverages.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return np.array([[float(value) for value in row.values()] for row in rows])


def by_the_printed_method(absorbance: np.ndarray, path_cm: float) -> np.ndarray:
    """X = K sum(T S x10), K = 100 / sum(S y10), and CIELAB with the printed constants."""
    table = printed_table()
    np.testing.assert_array_equal(table[:, 0], WAVELENGTH_NM)
    transmittance = 10.0 ** (-absorbance * path_cm)
    weights = table[:, 1:2] * table[:, 2:]
    xyz = transmittance @ weights * 100.0 / weights[:, 1].sum()
    ratio = xyz / WHITE
    root = np.where(ratio > 0.008856, np.cbrt(ratio), 7.787 * ratio + 16.0 / 116.0)
    x, y, z = np.moveaxis(root, -1, 0)
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


@pytest.mark.parametrize("path_cm", [0.1, 1.0, 5.0])
@pytest.mark.parametrize(
    "strengths",
    [{"butterfly-pea": 0.4}, {"red-cabbage": 0.4}, {"roselle": 0.4, "tartrazine": 1e-5}],
    ids="+".join,
)
def test_liquids_have_the_colour_that_the_method_gives(
    strengths: dict[str, float], path_cm: float
) -> None:
    absorbance = mixture_absorbance(strengths, np.arange(1.0, 11.0, 0.5))
    found = seen(absorbance, View("jar", path_cm, "D65", 10)).lab
    # The table has 4 decimals and the method's white comes from sums at 1 nm: together less than
    # 0.05, far below what anyone sees.
    apart = np.linalg.norm(found - by_the_printed_method(absorbance, path_cm), axis=-1)
    assert apart.max() < 0.05
