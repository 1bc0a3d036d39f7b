"""Colour-vision deficiency: how large a change is to those who see fewer colours."""

from __future__ import annotations

from collections.abc import Sequence

from indicator.appearance import delta_e
from indicator.cie import matrix
from indicator.srgb import Levels, encoded_levels, lab_from_linear, linear_srgb, srgb_levels

DEFICIENCIES = ("protan", "deutan", "tritan")
"""The complete deficiency of each kind is shown."""


def seen_by(hex_colours: Sequence[str], deficiency: str) -> Levels:
    """Colours as they look with a complete colour-vision deficiency, as levels of sRGB.

    Parameters
    ----------
    hex_colours : sequence of str
        ``#rrggbb``.
    deficiency : str
        A key of `DEFICIENCIES`.

    Returns
    -------
    numpy.ndarray
        0 to 255, shape (colours, 3).

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
    linear = linear_srgb([srgb_levels(text) for text in hex_colours])
    return encoded_levels(linear @ matrix(deficiency).T)


def change_seen_by(before: str, after: str) -> dict[str, float]:
    """CIEDE2000 between two hex colours for each deficiency.

    Parameters
    ----------
    before, after : str
        ``#rrggbb``.

    Returns
    -------
    dict of str to float
        By the keys of `DEFICIENCIES`.
    """
    pairs = {
        name: lab_from_linear(linear_srgb(seen_by([before, after], name))) for name in DEFICIENCIES
    }
    return {name: float(delta_e(*pair)) for name, pair in pairs.items()}
