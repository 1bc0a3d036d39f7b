"""Appearance: from a spectrum to what a person sees, in numbers and in a word.

The colour library brings observers, lights, CIELAB, CAT16, sRGB and CIEDE2000; it takes most of a
second to load and is imported only when a colour is asked for.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.absorbance import WAVELENGTH_NM
from indicator.optics import View
from indicator.tables import read_table
from indicator.words import colour_word, describe, published_name, visibility_level
from indicator.words import lab_from_hex as lab_from_hex

Array = NDArray[np.float64]
Text = NDArray[np.str_]


@dataclass(frozen=True)
class _LightRow:
    name: str
    spectrum: str
    label: str
    source: str
    confidence: str


@dataclass(frozen=True)
class SeenColour:
    """Colours as seen; arrays have the batch shape, a single colour gives plain values."""

    xyz: Array
    """Tristimulus values under the light, Y = 1 for a perfect white, shape (..., 3)."""
    lab: Array
    """CIELAB relative to the light's and observer's white, shape (..., 3)."""
    hex: Text
    """sRGB, adapted by CAT16 to its D65 white; clipped where `in_gamut` is false."""
    hue_deg: Array
    """CIELAB hue angle, 0 to 360 [degrees]."""
    chroma: Array
    """CIELAB chroma."""
    word: Text
    """Plain colour word."""
    phrase: Text
    """The word with pale, deep or nothing before it."""
    name: Text
    """Nearest published colour name that goes with the word (ISCC-NBS)."""
    in_gamut: NDArray[np.bool_]
    """Whether sRGB can show the colour."""
    visibility_delta_e: Array
    """CIEDE2000 against the same vessel holding the same liquid without colourants."""
    visibility: Text
    """``invisible``, ``hardly``, ``visible`` or ``strong``."""

    def at(self, index: int) -> SeenColour:
        """One colour of a batch."""
        return SeenColour(**{name: values[index] for name, values in vars(self).items()})


def light_names() -> tuple[str, ...]:
    """Names of the lights."""
    return tuple(row.name for row in read_table("colour/lights.csv", _LightRow))


def light_label(light: str) -> str:
    """What people call a light.

    Raises
    ------
    ValueError
        If there is no light of that name.
    """
    return _light(light).label


def seen(absorbance_per_cm: ArrayLike, view: View) -> SeenColour:
    """What the eye sees of a liquid.

    Parameters
    ----------
    absorbance_per_cm : array_like
        Decadic absorbance on `WAVELENGTH_NM`, shape (..., wavelengths) [1/cm].
    view : View
        Vessel, light and observer.

    Returns
    -------
    SeenColour
        NaN in, NaN out; the word is then empty.

    Raises
    ------
    ValueError
        If the light is unknown or the observer is neither 2 nor 10.
    """
    absorbance = np.asarray(absorbance_per_cm, dtype=np.float64)
    colour = from_spectrum(view.share(absorbance), view.light, view.observer_deg)
    clear = xyz_to_lab(
        view.share(np.zeros(len(WAVELENGTH_NM))) @ _weights(view.light, view.observer_deg),
        view.light,
        view.observer_deg,
    )
    difference = delta_e(clear, colour["lab"])
    return SeenColour(
        **colour,
        visibility_delta_e=np.asarray(difference)[()],
        visibility=np.asarray(visibility_level(difference))[()],
    )


def from_spectrum(share: ArrayLike, light: str, observer_deg: int) -> dict[str, Any]:
    """Colour numbers and words of a reflectance or transmittance, by the fields of `SeenColour`.

    Parameters
    ----------
    share : array_like
        Reflectance or transmittance on `WAVELENGTH_NM`, shape (..., wavelengths).
    light : str
        Name of the light.
    observer_deg : int
        2 or 10.
    """
    xyz = np.asarray(share, dtype=np.float64) @ _weights(light, observer_deg)
    lab = xyz_to_lab(xyz, light, observer_deg)
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    hue = np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) % 360.0
    hexes, in_gamut = _srgb(xyz, light, observer_deg)
    word = np.asarray(colour_word(lab))
    return {
        "xyz": xyz,
        "lab": lab,
        "hex": hexes[()],
        "hue_deg": hue[()],
        "chroma": chroma[()],
        "word": word[()],
        "phrase": np.asarray(describe(lab, word))[()],
        "name": np.asarray(published_name(lab, word))[()],
        "in_gamut": in_gamut[()],
    }


def _light(light: str) -> _LightRow:
    for row in read_table("colour/lights.csv", _LightRow):
        if row.name == light:
            return row
    raise ValueError(f"light is {light!r}; accepted are {', '.join(light_names())}")


@cache
def _weights(light: str, observer_deg: int) -> Array:
    """Shape (wavelengths, 3): a spectrum times this is XYZ with Y = 1 for a perfect white.

    Summed at 5 nm, as CIE 15 allows where spectra are smooth.
    """
    import colour

    observers = {
        2: "CIE 1931 2 Degree Standard Observer",
        10: "CIE 1964 10 Degree Standard Observer",
    }
    if observer_deg not in observers:
        raise ValueError(f"observer is {observer_deg}; accepted are 2 and 10")
    power = colour.SDS_ILLUMINANTS[_light(light).spectrum]
    observer = colour.MSDS_CMFS[observers[observer_deg]]
    light_at = np.interp(WAVELENGTH_NM, power.wavelengths, power.values)
    cmfs = np.stack(
        [np.interp(WAVELENGTH_NM, observer.wavelengths, observer.values[:, k]) for k in range(3)],
        axis=-1,
    )
    weights = light_at[:, None] * cmfs
    return np.asarray(weights / weights[:, 1].sum())


@cache
def _white(light: str, observer_deg: int) -> Array:
    return np.asarray(_weights(light, observer_deg).sum(axis=0))


def xyz_to_lab(xyz: ArrayLike, light: str, observer_deg: int) -> Array:
    """CIELAB of tristimulus values relative to the white of a light and observer."""
    import colour

    white = colour.XYZ_to_xy(_white(light, observer_deg))
    return np.asarray(colour.XYZ_to_Lab(np.asarray(xyz), white), dtype=np.float64)


@cache
def _to_linear_srgb(light: str, observer_deg: int) -> Array:
    import colour

    srgb = colour.RGB_COLOURSPACES["sRGB"]
    # The space's own white from its primaries, so that a perfect white becomes exactly 1, 1, 1.
    target = np.asarray(srgb.matrix_RGB_to_XYZ).sum(axis=1)
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        _white(light, observer_deg), target, transform="CAT16"
    )
    matrix = np.asarray(srgb.matrix_RGB_to_XYZ, dtype=np.float64)
    return np.asarray(np.linalg.inv(matrix) @ np.asarray(adapt, dtype=np.float64))


def _srgb(xyz: Array, light: str, observer_deg: int) -> tuple[Text, NDArray[np.bool_]]:
    import colour

    linear = xyz @ _to_linear_srgb(light, observer_deg).T
    with np.errstate(invalid="ignore"):
        in_gamut = np.all((linear >= -1e-6) & (linear <= 1.0 + 1e-6), axis=-1)
        encoded = colour.models.eotf_inverse_sRGB(np.clip(linear, 0.0, 1.0))
    return _hex(np.asarray(encoded, dtype=np.float64)), np.asarray(in_gamut)


def _hex(encoded: Array) -> Text:
    known = np.isfinite(encoded).all(axis=-1)
    levels = np.rint(255.0 * np.where(np.isfinite(encoded), encoded, 0.0)).astype(int)
    flat = [f"#{r:02X}{g:02X}{b:02X}" for r, g, b in levels.reshape(-1, 3)]
    texts = np.array(flat, dtype="<U7").reshape(encoded.shape[:-1])
    return np.where(known, texts, "")


def delta_e(lab_a: ArrayLike, lab_b: ArrayLike) -> Array:
    """CIEDE2000 colour difference of CIELAB colours, shapes broadcast.

    Above about 5 it ranks differences, it does not measure them.
    """
    import colour

    a, b = np.broadcast_arrays(np.asarray(lab_a, dtype=float), np.asarray(lab_b, dtype=float))
    return np.asarray(colour.difference.delta_E_CIE2000(a, b), dtype=np.float64)[()]
