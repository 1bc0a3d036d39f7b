"""Drops of a colour that nobody knows the strength of: what a few in a litre of water tell.

The strength of that water follows from its absorbance, or from the colour it shows in a jar. The
drop's own size cancels out as long as the same dropper doses the tub. What is not known of a
pigment's forms at the pH of that water is part of how far the strength may be off.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dosing.bath.mixed import colour_at
from dosing.ingredients.trade_values import reading_spread
from indicator.absorbance import WAVELENGTH_NM, mixture_absorbance
from indicator.appearance import delta_e
from indicator.colourants import Colourant, ColourantLike
from indicator.optics import View, jar_view
from indicator.pigments import colourant
from indicator.spread import DRAWS, drawn_absorbance, drawn_labs
from indicator.srgb import lab_from_hex

Array = NDArray[np.float64]

# Absorbance through the jar at the colourant's maximum: from clear water to black.
_PALEST, _DARKEST = 1e-3, 30.0
_COARSE, _FINE = 121, 81
_STEP = 0.15
"""Step in the logarithm of strength over which the colour's change with it is taken."""
_VISIBLE_FROM_NM = 400.0


@dataclass(frozen=True)
class WaterStrength:
    """Strength of the colour in the test water."""

    strength: float
    """Of a pigment: pH-1 absorbance per cm; of a dye: mol/L."""
    relative_sd: float
    """Relative standard deviation of it, a drop's own and what is not known of a pigment at the pH
    of that water included."""
    nearest_hex: str = ""
    """The colour of that strength, where a colour was read."""
    nearest_delta_e: float = 0.0
    """CIEDE2000 between it and the colour that was read."""
    from_clear_delta_e: float = 0.0
    """CIEDE2000 between the colour that was read and clear water."""


def water_by_absorbance(which: ColourantLike, absorbance_per_cm: float, ph: float) -> WaterStrength:
    """Strength of a water whose absorbance at the colourant's maximum was read.

    Parameters
    ----------
    which : Colourant or str
        A record, or the name of a shipped colourant.
    absorbance_per_cm : float
        Decadic, at its maximum in the visible at this pH, from 0 up [1/cm].
    ph : float
        pH of that water.

    Returns
    -------
    WaterStrength

    Raises
    ------
    ValueError
        If there is no such colourant.

    Notes
    -----
    Beer–Lambert: absorbance over the absorbance at strength 1.

    Examples
    --------
    >>> f"{water_by_absorbance('tartrazine', 0.08, 7.0).strength:.2e} mol/L"
    '2.83e-06 mol/L'
    """
    known = colourant(which)
    relative = reading_spread("pigment_strength", "measured").sd_relative
    drawn = _highest(drawn_absorbance({known: 1.0}, np.full(DRAWS, ph)))
    return WaterStrength(
        absorbance_per_cm / peak(known, ph), _with_drop(relative, _relative(np.log(drawn)))
    )


def water_by_colour(
    which: ColourantLike, colour_hex: str, path_cm: float, ph: float, light: str = "D65"
) -> WaterStrength:
    """Strength of a water whose colour in a jar is nearest to the one that was read.

    Parameters
    ----------
    which : Colourant or str
        A record, or the name of a shipped colourant.
    colour_hex : str
        What a photograph or a reading shows, as sRGB.
    path_cm : float
        Inner width of the jar [cm].
    ph : float
        pH of that water.
    light : str
        Name in ``data/colour/lights.csv``.

    Returns
    -------
    WaterStrength

    Raises
    ------
    ValueError
        If the colour is no hex colour, or a name is unknown.
    """
    known, read = colourant(which), lab_from_hex(colour_hex)
    view = jar_view(path_cm, light)
    unit = peak(known, ph) * path_cm
    coarse = np.linspace(np.log(_PALEST / unit), np.log(_DARKEST / unit), _COARSE)
    step = coarse[1] - coarse[0]
    near = _nearest(known, coarse, ph, view, read)
    log_strength = _nearest(known, np.linspace(near - step, near + step, _FINE), ph, view, read)
    sides = np.exp(log_strength + np.array([-_STEP, 0.0, _STEP]))
    seen = colour_at({known: sides}, ph, view)
    nearest = str(seen.hex[1])
    away = float(delta_e(lab_from_hex(nearest), read))
    slope = float(delta_e(seen.lab[0], seen.lab[2])) / (2.0 * _STEP)
    off = max(reading_spread("colour", "photograph").sd_absolute, away)
    pigment = _colour_sd(
        known, float(sides[1]), ph, view, (seen.lab[2] - seen.lab[0]) / 2.0 / _STEP
    )
    return WaterStrength(
        strength=float(np.exp(log_strength)),
        relative_sd=_with_drop(off / max(slope, 1e-6), pigment),
        nearest_hex=nearest,
        nearest_delta_e=away,
        from_clear_delta_e=float(delta_e(lab_from_hex("#FFFFFF"), read)),
    )


def peak(which: ColourantLike, ph: float) -> float:
    """Absorbance per cm of a colourant of strength 1 at its maximum in the visible.

    Parameters
    ----------
    which : Colourant or str
        A record, or the name of a shipped colourant.
    ph : float
        pH of the liquid.

    Returns
    -------
    float
        [1/cm], or [L/(mol cm)] of a dye.
    """
    return float(_highest(mixture_absorbance({colourant(which): 1.0}, ph)))


def _highest(spectrum: Array) -> Array:
    return np.asarray(spectrum[..., WAVELENGTH_NM >= _VISIBLE_FROM_NM].max(axis=-1))


def _colour_sd(which: Colourant, strength: float, ph: float, view: View, per_ln: Array) -> float:
    """What a colour may be off by the colourant's own spread, as a part of its strength.

    `per_ln` is how CIELAB goes with the logarithm of the strength; of each drawn colour only the
    part along it is taken for strength, the rest is another shade.
    """
    drawn = drawn_labs({which: strength}, ph, view)
    along = (drawn - drawn.mean(axis=0)) @ per_ln / max(float(per_ln @ per_ln), 1e-6)
    return _relative(along)


def _with_drop(reading_sd: float, pigment_sd: float) -> float:
    """Relative standard deviation of a reading, the pigment and a drop's own together."""
    drop = reading_spread("drop", "dropper").sd_relative
    return float(np.linalg.norm([reading_sd, pigment_sd, drop]))


def _relative(logarithms: Array) -> float:
    return float(np.sqrt(np.expm1(np.var(logarithms))))


def _nearest(which: Colourant, log_strength: Array, ph: float, view: View, read: Array) -> float:
    """Of these the strength whose colour, as a screen shows it, is nearest to the one read.

    Several may give the same eight-bit colour; then the middle one.
    """
    seen = colour_at({which: np.exp(log_strength)}, ph, view)
    shown = np.stack([lab_from_hex(str(each)) for each in seen.hex])
    away = delta_e(shown, read)
    return float(np.mean(log_strength[away <= away.min() + 1e-9]))
