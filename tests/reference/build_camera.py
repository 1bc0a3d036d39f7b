"""Writes data/colour/camera.csv: a usual camera, the mean of two measured ones.

Run ``python tests/reference/build_camera.py``. A Nikon D5100 and a telephone's sensor, each channel
of each over its sum. It prints the rows of data/colour/matrices.csv that go with it: the matrix
from the mean's balanced channels to linear sRGB, fitted to a chart in daylight.
"""

from __future__ import annotations

from pathlib import Path

from camera import CAMERAS, matrix_to_srgb, sensitivities

from indicator.absorbance import WAVELENGTH_NM

FILE = Path(__file__).resolve().parents[2] / "data" / "colour" / "camera.csv"
STEP = 2
"""Of the 5 nm grid."""
HEADER = """\
# Sensitivities of a usual camera, the mean of two measured ones; matrices.csv has its matrix.
nm,red,green,blue,source,confidence
"""


def main() -> None:
    both = [sensitivities(camera) for camera in CAMERAS[:2]]
    mean = sum(each / each.sum(axis=0) for each in both) / 2
    rows = [
        f"{nm:g},{','.join(f'{each:.5f}' for each in row)},camera-sensitivities,DERIVED"
        for nm, row in zip(WAVELENGTH_NM[::STEP], mean[::STEP], strict=True)
        if row.max() >= 1e-5
    ]
    FILE.write_text(HEADER + "\n".join(rows) + "\n", encoding="utf-8")
    for row in matrix_to_srgb(mean):
        print("camera", *(f"{each:.5f}" for each in row), "camera-sensitivities,DERIVED", sep=",")


if __name__ == "__main__":
    main()
