"""Colour-vision deficiency: how large a change is to those who see fewer colours."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.appearance import delta_e, lab_from_hex
from indicator.cie import matrix
from indicator.srgb import linear_srgb

Array = NDArray[np.float64]

DEFICIENCIES = ("protan", "deutan", "tritan")
"""The complete deficiency of each kind is shown."""


def seen_by(hex_colours: ArrayLike, deficiency: str) -> NDArray[np.str_]:
    """Colours as somebody with a complete deficiency sees them, as sRGB for everyone else.

    Parameters
    ----------
    hex_colours : array_like of str
        ``#rrggbb``, any shape.
    deficiency : str
        A key of `DEFICIENCIES`.

    Raises
    ------
    ValueError
        If there is no such deficiency.

    Blue-blindness (``"tritan"``) is only approximated by the method.

    Source: Machado, Oliveira and Fernandes 2009, IEEE Trans. Vis. Comput. Graph. 15:1291
    (``data/colour/matrices.csv``).
    """
    if deficiency not in DEFICIENCIES:
        accepted = ", ".join(DEFICIENCIES)
        raise ValueError(f"deficiency is {deficiency!r}; accepted are {accepted}")
    names = np.asarray(hex_colours)
    linear = _linear(names.reshape(-1)) @ matrix(deficiency).T
    encoded = _encoded(np.clip(linear, 0.0, 1.0))
    found = [
        f"#{red:02X}{green:02X}{blue:02X}"
        for red, green, blue in np.round(255 * encoded).astype(int)
    ]
    return np.array(found, dtype="<U7").reshape(names.shape)


def change_seen_by(before: str, after: str) -> dict[str, float]:
    """CIEDE2000 between two colours for each deficiency."""
    found = {}
    for name in DEFICIENCIES:
        pair = seen_by([before, after], name)
        found[name] = float(delta_e(lab_from_hex(str(pair[0])), lab_from_hex(str(pair[1]))))
    return found


def _linear(names: NDArray[np.str_]) -> Array:
    """Linear sRGB, shape (colours, 3)."""
    digits = [[int(str(name)[k : k + 2], 16) for k in (1, 3, 5)] for name in names]
    return linear_srgb(np.array(digits, dtype=np.float64).reshape(-1, 3))


def _encoded(linear: Array) -> Array:
    """Linear sRGB to encoded, IEC 61966-2-1."""
    return np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
