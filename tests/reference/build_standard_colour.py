"""Writes data/colour/standard_spectra.csv and matrices.csv from the colour library.

Run ``python tests/reference/build_standard_colour.py``; tests/indicator/test_cie.py holds what is
computed with them against the library.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

import colour
import numpy as np
from colour.adaptation.datasets import CAT_CAT16
from colour.blindness import matrix_cvd_Machado2009

FOLDER = Path(__file__).resolve().parents[2] / "data" / "colour"
WAVELENGTH_NM = np.arange(380.0, 780.5, 5.0)
OBSERVERS = ("CIE 1931 2 Degree Standard Observer", "CIE 1964 10 Degree Standard Observer")
LIGHTS = ("D65", "A", "LED-B1", "LED-B3")
SPECTRA = """\
# Standard observers (colour-matching functions, 2 and 10 degrees) and power of lights, every 5 nm.
# Written by tests/reference/build_standard_colour.py from the colour library.
"""
MATRICES = """\
# Rows of matrices. cat16: XYZ to the cone-like responses of CAT16. protan, deutan, tritan: linear
# sRGB as somebody with the complete deficiency sees it.
# Written by tests/reference/build_standard_colour.py from the colour library.
"""


def main() -> None:
    columns = [colour.MSDS_CMFS[name].values.T for name in OBSERVERS]
    places = [colour.MSDS_CMFS[name].wavelengths for name in OBSERVERS]
    observed = [
        np.interp(WAVELENGTH_NM, at, one)
        for at, three in zip(places, columns, strict=True)
        for one in three
    ]
    power = [
        np.interp(WAVELENGTH_NM, light.wavelengths, light.values)
        for light in (colour.SDS_ILLUMINANTS[name] for name in LIGHTS)
    ]
    header = ["wavelength_nm", "x_2", "y_2", "z_2", "x_10", "y_10", "z_10"]
    header += [name.replace("-", "_") for name in LIGHTS]
    spectra = np.column_stack([WAVELENGTH_NM, *observed, *power]).tolist()
    _write("standard_spectra", SPECTRA, header, ([*row, "cie15", "SEEN"] for row in spectra))
    matrices = {"cat16": (np.asarray(CAT_CAT16), "cat16-2017")}
    for name in ("Protan", "Deuteran", "Tritan"):
        key = {"Protan": "protan", "Deuteran": "deutan", "Tritan": "tritan"}[name]
        matrices[key] = (np.asarray(matrix_cvd_Machado2009(f"{name}omaly", 1.0)), "machado2009")
    rows = (
        [name, *row, source, "SEEN"]
        for name, (matrix, source) in matrices.items()
        for row in matrix.tolist()
    )
    _write("matrices", MATRICES, ["name", "first", "second", "third"], rows)


def _write(
    name: str, comment: str, header: Sequence[str], rows: Iterable[Sequence[object]]
) -> None:
    with (FOLDER / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
        file.write(comment)
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([*header, "source", "confidence"])
        writer.writerows(rows)


if __name__ == "__main__":
    main()
