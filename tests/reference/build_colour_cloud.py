"""Writes colour_cloud_photons.csv: what comes back from cloudy tubs, photon by photon.

Run ``python tests/reference/build_colour_cloud.py``; it takes a quarter of a minute.
"""

from __future__ import annotations

import itertools

import numpy as np
from cloud_photons import reflectance
from reference_csv import write_csv

SCATTERING = (0.0, 0.01, 0.03, 0.1, 0.3)
"""Kubelka-Munk S [1/cm]: clear, hazy, between, milky, milkier."""
DEPTHS_CM = (15.0, 25.0, 40.0)
ABSORBANCES = (0.0, 0.003, 0.01, 0.02, 0.05)
"""[1/cm]"""
FLOORS = (0.85, 0.55, 0.40)
"""White, beige and grey of ``floors.csv``."""
PHOTONS = 100_000
COMMENT = (
    "Share of diffuse light that comes back from cloudy water over a matt floor, counted photon",
    f"by photon (cloud_photons.py, {PHOTONS} photons, made by build_colour_cloud.py).",
    "scattering: Kubelka-Munk S [1/cm]; absorbance: decadic [1/cm].",
)


def main() -> None:
    """Write the file."""
    cases = list(itertools.product(ABSORBANCES, FLOORS))
    absorbance, floor = (np.array(one) for one in zip(*cases, strict=True))
    rows = []
    for scattering, depth in itertools.product(SCATTERING, DEPTHS_CM):
        found = reflectance(scattering, depth, absorbance, floor, PHOTONS)
        rows += [
            {
                "scattering": scattering,
                "depth_cm": depth,
                "absorbance": a,
                "floor": f,
                "reflectance": f"{share:.5f}",
            }
            for (a, f), share in zip(cases, found, strict=True)
        ]
    write_csv("colour_cloud_photons.csv", COMMENT, rows)


if __name__ == "__main__":
    main()
