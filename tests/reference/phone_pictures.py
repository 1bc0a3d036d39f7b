"""Pictures of jars as a telephone makes them, and the worlds that they are taken in.

Jars stand before white paper in a lamp's light. The camera balances the lamp in part, loses light
towards its corners, bends the tones by a curve of its own, adds noise, and writes a JPEG. The
tone curves are those of camera makers (tables of a free raw developer, read: matched to the
pictures that the cameras write); everything else is our own choice.
"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.interpolate import PchipInterpolator

from indicator.absorbance import form_fractions, form_spectra
from indicator.optics import jar_view
from indicator.photograph import Patch
from indicator.pigments import colourant
from indicator.spread import draws_of

Array = NDArray[np.float64]

TONE_CURVES = (
    ((0.0, 0.0282, 0.121, 0.4597, 0.8589, 1.0), (0.0, 0.0297, 0.2323, 0.7476, 0.9677, 1.0)),
    ((0.0, 0.0262, 0.1089, 0.3508, 0.6694, 1.0), (0.0, 0.0297, 0.2323, 0.7476, 0.9677, 1.0)),
    ((0.0, 0.0363, 0.121, 0.4597, 0.8589, 1.0), (0.0, 0.0365, 0.2282, 0.7597, 0.9835, 1.0)),
    ((0.0, 0.0121, 0.0726, 0.3105, 0.6113, 1.0), (0.0, 0.0073, 0.1307, 0.7293, 0.9516, 1.0)),
    ((0.0, 0.0319, 0.1054, 0.4345, 0.8557, 1.0), (0.0, 0.0365, 0.2282, 0.7597, 0.9835, 1.0)),
    ((0.0, 0.0323, 0.121, 0.2056, 0.6048, 1.0), (0.0, 0.0246, 0.1664, 0.3285, 0.7902, 1.0)),
    ((0.0, 0.034, 0.2491, 0.5019, 0.7509, 1.0), (0.0, 0.0282, 0.4395, 0.7984, 0.9556, 1.0)),
)
"""Light in, light out, both over the brightest that the camera tells."""
PH = np.arange(2.0, 10.0)
PETALS = 2.0
THINNED = 60.0
SIDE, GAP, JAR = 60, 20, 40
"""Of the picture's parts [pixels]."""
# IEC 61966-2-1 (sRGB) and the CAT16 matrix of the 2016 colour appearance model.
_TO_SRGB = np.linalg.inv(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
_CONES = np.array(
    [
        [0.401288, 0.650173, -0.051461],
        [-0.250268, 1.204414, 0.045854],
        [-0.002079, 0.048952, 0.953127],
    ]
)
_D65 = np.array([0.9505, 1.0, 1.0888])


@dataclass(frozen=True)
class World:
    """What is true of one maker's jars."""

    strength: float
    pka: Array
    absorbance: Array
    """Of the jars on the 5 nm grid, times the error of their width [1/cm], shape (jars, nm)."""


def world(seed: int, pigment: str = "butterfly-pea") -> World:
    """A pigment within the library's spreads, in jars whose pH, width and thinning are off."""
    random = np.random.default_rng(seed)
    which, drawn = colourant(pigment), draws_of(colourant(pigment), 1, seed)
    assert which.per_percent is not None
    sigma = np.log(which.per_percent.high / which.per_percent.low) / (2 * 1.6449)
    strength = PETALS * which.per_percent.best * np.exp(sigma * random.standard_normal())
    ph = PH + 0.1 * random.standard_normal(len(PH))
    off = np.exp(0.03 * random.standard_normal() + 0.03 * random.standard_normal())
    forms = form_fractions(which, ph, drawn.pka[0]) * drawn.heights[0]
    return World(
        float(strength), drawn.pka[0], off * strength / THINNED * forms @ form_spectra(which)
    )


def picture(
    absorbance: Array, power: Array, observer: Array, balanced: float, seed: int
) -> tuple[Any, list[Patch], list[Patch]]:
    """A picture of the jars; where the white paper is, and where the jars are.

    Parameters
    ----------
    absorbance : numpy.ndarray
        Of the jars, shape (jars, wavelengths) [1/cm].
    power : numpy.ndarray
        Of the lamp, shape (wavelengths,).
    observer : numpy.ndarray
        Colour matching functions, shape (wavelengths, 3).
    balanced : float
        Share of the lamp's colour that the camera takes out, 0 to 1.
    seed : int
        Of the camera.
    """
    random = np.random.default_rng(seed)
    weights = power[:, None] * observer
    weights = weights / weights[:, 1].sum()
    seen = np.vstack([np.ones(absorbance.shape[1]), jar_view().share(absorbance)]) @ weights
    gains = ((_CONES @ _D65) / (_CONES @ seen[0])) ** balanced
    balanced_xyz = seen @ (np.linalg.inv(_CONES) @ np.diag(gains) @ _CONES).T
    sensor = np.clip(balanced_xyz @ _TO_SRGB.T, 0.0, None)
    sensor /= sensor[0].max()
    jars = len(absorbance)
    width, height = GAP + jars * (SIDE + GAP), 240
    scene = np.broadcast_to(sensor[0], (height, width, 3)).copy()
    patches = []
    for k in range(jars):
        left = GAP + k * (SIDE + GAP)
        scene[100:200, left : left + SIDE] = sensor[k + 1]
        patches.append(Patch(left + 10, 115, JAR, 70))
    down, across = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j]
    scene *= 1.0 - random.uniform(0.05, 0.3) * ((across**2 + 0.3 * down**2) / 1.3)[..., None]
    curve = PchipInterpolator(*TONE_CURVES[random.integers(len(TONE_CURVES))])
    grid = np.linspace(0.0, 1.0, 2001)
    exposure = np.interp(random.uniform(0.45, 0.75), curve(grid), grid)
    linear = curve(np.clip(exposure * scene, 0.0, 1.0))
    encoded = np.where(
        linear <= 0.0031308, 12.92 * linear, 1.055 * np.maximum(linear, 1e-9) ** (1 / 2.4) - 0.055
    )
    encoded += 0.012 * random.standard_normal(encoded.shape)
    levels = np.rint(255.0 * np.clip(encoded, 0.0, 1.0)).astype(np.uint8)
    file = BytesIO()
    Image.fromarray(levels).save(file, "JPEG", quality=int(random.integers(75, 96)))
    written = Image.open(BytesIO(file.getvalue()))
    white = [Patch(x, 30, 40, 40) for x in (GAP, width // 2 - 20, width - GAP - 40)]
    return np.asarray(written.convert("RGB")), white, patches
