"""sRGB: between hex colours and CIELAB, and the patch that a screen can show of any colour.

Colours beyond sRGB keep their hue and give way in chroma; cut off channel by channel, a teal would
be shown as a blue.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.cie import lab_from_xyz, xyz_from_lab

Array = NDArray[np.float64]
Levels = NDArray[np.int_]

SRGB_TO_XYZ = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
)
"""IEC 61966-2-1."""
XYZ_TO_SRGB = np.linalg.inv(SRGB_TO_XYZ)
WHITE = SRGB_TO_XYZ.sum(axis=1)
WITHIN = 1e-6
"""Linear sRGB by which a colour may lie outside and still counts as shown."""
HALVINGS = 14
"""Of the chroma of a colour beyond sRGB: to 0.01."""
TO_THE_MIDDLE = 0.25
"""Lightness that a colour beyond sRGB may give way towards 50, over its chroma."""


def lab_from_hex(text: str) -> Array:
    """CIELAB of an sRGB hex colour, relative to sRGB's own white.

    Raises
    ------
    ValueError
        If the text is not # and six hexadecimal digits.
    """
    return lab_from_linear(linear_srgb(srgb_levels(text)))


def srgb_levels(text: str) -> Levels:
    """Red, green and blue of an sRGB hex colour, 0 to 255, shape (3,).

    Raises
    ------
    ValueError
        If the text is not # and six hexadecimal digits.
    """
    if not re.fullmatch(r"#?[0-9a-fA-F]{6}", text.strip()):
        raise ValueError(f"colour is {text!r}; accepted is # and six digits, for instance #8060C0")
    digits = text.strip().lstrip("#")
    return np.array([int(digits[k : k + 2], 16) for k in (0, 2, 4)])


def lab_from_linear(linear: ArrayLike) -> Array:
    """CIELAB of linear sRGB, shape (..., 3), relative to sRGB's own white."""
    return lab_from_xyz(np.asarray(linear, dtype=np.float64) @ SRGB_TO_XYZ.T, WHITE)


def linear_from_lab(lab: ArrayLike) -> Array:
    """Linear sRGB of CIELAB, shape (..., 3); below 0 or above 1 where sRGB has no such colour."""
    return np.asarray(xyz_from_lab(lab, WHITE) @ XYZ_TO_SRGB.T)


def linear_srgb(levels: ArrayLike) -> Array:
    """Linear sRGB, 0 to 1, of encoded levels from 0 to 255 (IEC 61966-2-1); any shape."""
    encoded = np.asarray(levels) / 255.0
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def encoded(linear: ArrayLike) -> Array:
    """Encoded sRGB, 0 to 1, of linear sRGB from 0 to 1 (IEC 61966-2-1); any shape; 0 for NaN."""
    part = np.clip(np.nan_to_num(np.asarray(linear, dtype=np.float64)), 0.0, 1.0)
    return np.where(part <= 0.0031308, 12.92 * part, 1.055 * part ** (1 / 2.4) - 0.055)


def encoded_levels(linear: ArrayLike) -> Levels:
    """Levels from 0 to 255 of linear sRGB from 0 to 1 (IEC 61966-2-1); any shape; 0 for NaN."""
    return np.rint(255.0 * encoded(linear)).astype(np.int_)


def in_srgb(linear: Array) -> NDArray[np.bool_]:
    """Whether sRGB has the colours, shape (..., 3) to (...); false for NaN."""
    return np.asarray(np.all((linear >= -WITHIN) & (linear <= 1.0 + WITHIN), axis=-1))


def shown_linear(linear: ArrayLike) -> Array:
    """Colours that sRGB can show of the same hue and nearly the same lightness.

    Parameters
    ----------
    linear : array_like
        Linear sRGB of any colours, shape (..., 3).

    Returns
    -------
    numpy.ndarray
        Shape (..., 3), 0 to 1: the hue of CIELAB is kept, its chroma is what there is.
    """
    shown = np.array(linear, dtype=np.float64)
    beyond = ~in_srgb(shown) & np.isfinite(shown).all(axis=-1)
    if beyond.any():
        shown[beyond] = linear_from_lab(_less_chroma(lab_from_linear(shown[beyond])))
    return np.clip(shown, 0.0, 1.0)


def patch_lab(lab: ArrayLike) -> Array:
    """CIELAB of the patch that shows colours on a screen, in whole levels; shapes (..., 3).

    Parameters
    ----------
    lab : array_like
        CIELAB relative to any white; a screen shows it relative to its own. NaN stays.
    """
    colours = np.asarray(lab, dtype=np.float64)
    patch = lab_from_linear(linear_srgb(encoded_levels(shown_linear(linear_from_lab(colours)))))
    return np.where(np.isnan(colours).any(axis=-1, keepdims=True), np.nan, patch)


def _less_chroma(lab: Array) -> Array:
    """Colours beyond sRGB, shape (n, 3), with the most chroma that it has near their lightness.

    They give way towards a grey that is nearer to the middle by `TO_THE_MIDDLE` of the chroma:
    at the very lightness of a light yellow there is next to no yellow.
    """
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    from_middle = np.clip(lab[:, 0], 0.0, 100.0) - 50.0
    grey = np.zeros_like(lab)
    grey[:, 0] = 50.0 + np.sign(from_middle) * np.maximum(
        np.abs(from_middle) - TO_THE_MIDDLE * chroma, 0.0
    )
    inside, outside = np.zeros((len(lab), 1)), np.ones((len(lab), 1))
    for _ in range(HALVINGS):
        share = 0.5 * (inside + outside)
        fits = in_srgb(linear_from_lab(grey + share * (lab - grey)))[:, None]
        inside, outside = np.where(fits, share, inside), np.where(fits, outside, share)
    return grey + inside * (lab - grey)
