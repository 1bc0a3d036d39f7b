"""Writes data/colour/camera_matrices.csv, and prints the column `shape` of camera_tones.csv.

Run ``python tests/reference/build_camera.py``. The matrix of each camera in data/colour/camera.csv
turns its balanced channels into linear sRGB; it is fitted to a colour chart in daylight. The shape
is the main way in which seven tone curves differ once each has its best share of their mean.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from camera import matrix_to_srgb
from phone_pictures import TONE_CURVES
from scipy.interpolate import PchipInterpolator

from indicator.camera import camera_names, sensitivities
from indicator.tables import columns_in

FILE = Path(__file__).resolve().parents[2] / "data" / "colour" / "camera_matrices.csv"
HEADER = """\
# Matrix from a camera's balanced channels to linear sRGB, fitted to a chart in daylight, by rows.
# Written by tests/reference/build_camera.py.
camera,first,second,third,source,confidence
"""
DARKEST = 0.02
"""Light over the brightest from which the curves are compared."""


def main() -> None:
    rows = [
        f"{camera},{','.join(f'{each:.4f}' for each in row)},camera-sensitivities,DERIVED"
        for camera in camera_names()
        for row in matrix_to_srgb(sensitivities(camera))
    ]
    FILE.write_text(HEADER + "\n".join(rows) + "\n", encoding="utf-8")
    light = np.array(columns_in("colour/camera_tones.csv")["scene"])
    bent = [np.log(np.maximum(PchipInterpolator(*curve)(light), 1e-9)) for curve in TONE_CURVES]
    away = np.array(bent) - np.log(light)
    mean, seen = away.mean(axis=0), light >= DARKEST
    shares = away[:, seen] @ mean[seen] / (mean[seen] @ mean[seen])
    left = away - shares[:, None] * mean
    mixed, _, _ = np.linalg.svd(left[:, seen], full_matrices=False)
    for scene, shape in zip(light, mixed[:, 0] @ left / np.sqrt(len(left) - 1.0), strict=True):
        print(f"{scene:g} {shape:.3f}")


if __name__ == "__main__":
    main()
