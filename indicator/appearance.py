"""Appearance: from a spectrum to what a person sees, in numbers and in a word.

The colour library takes most of a second to load: it is imported only for a light that
`indicator.cie` has no table of.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.absorbance import WAVELENGTH_NM
from indicator.cie import (
    adaptation,
    lab_from_xyz,
    light_power,
    observer_functions,
    xyz_from_lab,
)
from indicator.cie import delta_e as delta_e
from indicator.notes import Value, say
from indicator.optics import View
from indicator.srgb import (
    WHITE,
    XYZ_TO_SRGB,
    encoded_levels,
    in_srgb,
    lab_from_linear,
    linear_srgb,
    shown_linear,
)
from indicator.srgb import lab_from_hex as lab_from_hex
from indicator.tables import Sourced, read_table, value_of
from indicator.threads import one_thread
from indicator.words import (
    colour_word,
    describe,
    published_name,
    threshold,
    visibility_level,
)

Array = NDArray[np.float64]
Text = NDArray[np.str_]

ROWS_AT_ONCE = 4096
"""Of 81 wavelengths: some 3 MB for each array that is worked with, which a processor's cache holds
in part; larger chunks are slower."""
_KELVIN = re.compile(r"(\d+|\d{1,2},\d{3})k(?:elvin)?")
_DIGITS = np.frombuffer("0123456789ABCDEF".encode("utf-32-le"), dtype="<u4")


@dataclass(frozen=True)
class _LightRow(Sourced):
    name: str
    spectrum: str
    label: str


@dataclass(frozen=True)
class SeenColour:
    """Colours as seen; arrays have the batch shape, a single colour gives plain values."""

    xyz: Array
    """Tristimulus values under the light, Y = 1 for a perfect white, shape (..., 3)."""
    lab: Array
    """CIELAB relative to the light's and observer's white, shape (..., 3)."""
    hex: Text
    """sRGB, adapted by CAT16 to its D65 white; of less chroma where `in_gamut` is false."""
    patch: Array
    """CIELAB in daylight of the patch that `hex` shows, by which it is called, shape (..., 3)."""
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
        return SeenColour(**{name: batch[index] for name, batch in vars(self).items()})

    def steady(self) -> SeenColour:
        """The colours as a series, shape (n,), in which no word comes and goes unseen."""
        word = _steady_words(self.patch, self.word)
        phrase, name = describe(self.patch, word), published_name(self.patch, word)
        return replace(self, word=word, phrase=phrase, name=name)


def _steady_words(lab: Array, words: Text) -> Text:
    """Words along a series, without a stretch that parts one word from itself and is not seen.

    A border may run along a series and cross it more than once. Where the colours between two
    places of one word, shape (n, 3), differ from either by less than a change that is noticed,
    they keep it.
    """
    kept = np.array(words)
    for last in range(len(kept) - 2):
        again = last + 2 + np.flatnonzero(kept[last + 2 :] == kept[last])
        if kept[last + 1] != kept[last] and len(again):
            between = slice(last + 1, again[0])
            away = delta_e(lab[[last, again[0]]][:, None], lab[between])
            if away.min(axis=0).max() < threshold("change_subtle"):
                kept[between] = kept[last]
    return kept


def light_names() -> tuple[str, ...]:
    """Names of our own lights; the illuminants of CIE 15 are accepted beside them."""
    return tuple(row.name for row in read_table("colour/lights.csv", _LightRow))


@cache
def light_name(written: str) -> str:
    """Name of the light that a person means.

    Parameters
    ----------
    written : str
        One of `light_names` or its label ("warm white LED"), a colour temperature ("2700 K"), or
        an illuminant of CIE 15 (D50, FL2, LED-B5 ...). Capitals, spaces, hyphens and underscores
        do not matter.

    Returns
    -------
    str
        As the other functions here take it and as answers show it. The colour library is loaded
        only where the name is none of ours.

    Raises
    ------
    ValueError
        If there is no such light, or the colour temperature is out of reach.
    """
    values: dict[str, Value] = {"field": "light", "value": repr(written), "hint": ""}
    kelvin = _kelvin(written)
    if kelvin is not None:
        low, high = (_limit(end) for end in ("coolest", "hottest"))
        if not low <= kelvin <= high:
            accepted = say("error.accepted.kelvin", {"low": low, "high": high})
            raise ValueError(say("error.choice", values | {"accepted": accepted}))
        return f"{kelvin:.0f} K"
    rows = read_table("colour/lights.csv", _LightRow)
    known = {_plain(word): row.name for row in rows for word in (row.name, row.label)}
    wanted = _plain(written)
    if wanted not in known:
        known |= {_plain(name): name for name in _illuminants() if _plain(name) not in known}
    if wanted in known:
        return known[wanted]
    for close in get_close_matches(wanted, known, n=1, cutoff=0.6):
        values["hint"] = say("error.near", {"name": known[close]})
    accepted = say("error.accepted.light", {"names": ", ".join(light_names())})
    raise ValueError(say("error.choice", values | {"accepted": accepted}))


def light_label(light: str) -> str:
    """Name by which people call a light; of a light that is none of ours its own name.

    Raises
    ------
    ValueError
        If there is no light of that name.
    """
    name = light_name(light)
    labels = {row.name: row.label for row in read_table("colour/lights.csv", _LightRow)}
    return labels.get(name) or say("light.other", {"name": name})


def _kelvin(light: str) -> float | None:
    """Colour temperature that a light is named by [K]."""
    match = _KELVIN.fullmatch(_plain(light))
    return None if match is None else float(match[1].replace(",", ""))


def _limit(name: str) -> float:
    return value_of("colour/kelvin.csv", name)


def _plain(words: str) -> str:
    return re.sub(r"[\s_-]+", "", words.casefold())


def _illuminants() -> tuple[str, ...]:
    """Illuminants of the colour library whose spectrum covers all that is seen.

    Those of ISO 7589 end at 690 nm or below.
    """
    import colour

    return tuple(
        name
        for name, power in colour.SDS_ILLUMINANTS.items()
        if power.wavelengths[0] <= WAVELENGTH_NM[0] and power.wavelengths[-1] >= WAVELENGTH_NM[-1]
    )


@one_thread()
def seen(absorbance_per_cm: ArrayLike, view: View) -> SeenColour:
    """Colour that the eye sees of a liquid.

    Parameters
    ----------
    absorbance_per_cm : array_like
        Decadic absorbance on `WAVELENGTH_NM`, shape (..., wavelengths) [1/cm]. A large batch is
        worked on in chunks: beside it and the answer it needs a few dozen MB.
    view : View
        Vessel, light and observer.

    Returns
    -------
    SeenColour
        NaN in, NaN out; the word is then empty.

    Raises
    ------
    ValueError
        If the light is unknown, or the observer is neither 2 nor 10.
    """
    light = light_name(view.light)
    clear = lab_of(np.zeros((1, len(WAVELENGTH_NM))), view)

    def part(absorbance: Array) -> dict[str, Any]:
        colour = _named(view.share(absorbance), light, view.observer_deg)
        difference = np.asarray(delta_e(clear, colour["lab"]))
        return {
            **colour,
            "visibility_delta_e": difference,
            "visibility": np.asarray(visibility_level(difference)),
        }

    return SeenColour(**in_chunks(part, np.asarray(absorbance_per_cm, dtype=np.float64)))


def lab_of(absorbance_per_cm: ArrayLike, view: View) -> Array:
    """CIELAB alone, for those who need very many colours and no words.

    Parameters
    ----------
    absorbance_per_cm : array_like
        As in `seen`.
    view : View
        As in `seen`.

    Returns
    -------
    numpy.ndarray
        Shape (..., 3).
    """
    white = _white(light_name(view.light), view.observer_deg)
    return lab_from_xyz(_xyz(absorbance_per_cm, view), white)


def from_spectrum(share: ArrayLike, light: str, observer_deg: int) -> dict[str, Any]:
    """Colour numbers and words of a reflectance or transmittance, by the fields of `SeenColour`.

    Parameters
    ----------
    share : array_like
        Reflectance or transmittance on `WAVELENGTH_NM`, shape (..., wavelengths); a large batch
        is worked on in chunks.
    light : str
        A light as `light_name` knows it.
    observer_deg : int
        2 or 10.

    Returns
    -------
    dict of str to numpy.ndarray
        Each of the shape without the wavelength axis; plain numbers and str for a single spectrum.
        CIELAB has a last axis of 3.
    """
    name = light_name(light)
    spectra = np.asarray(share, dtype=np.float64)
    return in_chunks(lambda part: _named(part, name, observer_deg), spectra)


def _named(share: Array, light: str, observer_deg: int) -> dict[str, Any]:
    """All that is told of the colour itself, for spectra of shape (n, wavelengths)."""
    xyz = share @ light_weights(light, observer_deg)
    lab = lab_from_xyz(xyz, _white(light, observer_deg))
    linear = xyz @ to_linear_srgb(light, observer_deg).T
    levels, known = _levels(linear)
    patch = np.where(known[:, None], lab_from_linear(linear_srgb(levels)), np.nan)
    word = colour_word(patch)
    return {
        "xyz": xyz,
        "lab": lab,
        "hex": _hex(levels, known),
        "patch": patch,
        "hue_deg": np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) % 360.0,
        "chroma": np.hypot(lab[..., 1], lab[..., 2]),
        "word": word,
        "phrase": describe(patch, word),
        "name": published_name(patch, word),
        "in_gamut": in_srgb(linear),
    }


def power_of(light: str) -> Array:
    """Relative power of a light on `WAVELENGTH_NM`.

    A colour temperature is a black body's, or that of daylight from where CIE 13.3 changes over.
    """
    spectra = {row.name: row.spectrum for row in read_table("colour/lights.csv", _LightRow)}
    name = spectra.get(light, light)
    tabled = light_power(name)
    if tabled is not None:
        return tabled
    import colour

    kelvin = _kelvin(name)
    if kelvin is None:
        power = colour.SDS_ILLUMINANTS[name]
    elif kelvin < _limit("daylight_from"):
        power = colour.sd_blackbody(kelvin)
    else:
        power = colour.sd_CIE_illuminant_D_series(colour.temperature.CCT_to_xy_CIE_D(kelvin))
    return np.asarray(np.interp(WAVELENGTH_NM, power.wavelengths, power.values))


@cache
def light_weights(light: str, observer_deg: int) -> Array:
    """XYZ of light at each wavelength under a light: a spectrum times this is XYZ.

    Summed at 5 nm, as CIE 15 allows where spectra are smooth; Y = 1 for a perfect white.

    Parameters
    ----------
    light : str
        As `light_name` gives it.
    observer_deg : int
        2 or 10.

    Returns
    -------
    numpy.ndarray
        Shape (wavelengths, 3).
    """
    weights = observer_functions(observer_deg) * power_of(light)[:, None]
    return np.asarray(weights / weights[:, 1].sum())


@cache
def _white(light: str, observer_deg: int) -> Array:
    return np.asarray(light_weights(light, observer_deg).sum(axis=0))


def photographed_linear(absorbance_per_cm: ArrayLike, view: View) -> Array:
    """Linear sRGB of what a white-balanced picture shows of a liquid.

    The colour under the view's light is adapted to daylight and clipped to sRGB, as a hex colour
    or a photograph carries it.

    Parameters
    ----------
    absorbance_per_cm : array_like
        As in `seen`.
    view : View
        As in `seen`.

    Returns
    -------
    numpy.ndarray
        Shape (..., 3), 0 to 1.
    """
    to_linear = to_linear_srgb(light_name(view.light), view.observer_deg)
    return np.asarray(np.clip(_xyz(absorbance_per_cm, view) @ to_linear.T, 0.0, 1.0))


def _xyz(absorbance_per_cm: ArrayLike, view: View) -> Array:
    """Tristimulus values of a liquid, shape (..., 3)."""
    weights = light_weights(light_name(view.light), view.observer_deg)
    return np.asarray(view.share(absorbance_per_cm) @ weights)


def photographed_lab(absorbance_per_cm: ArrayLike, view: View) -> Array:
    """CIELAB in daylight of `photographed_linear`.

    Parameters
    ----------
    absorbance_per_cm : array_like
        As in `seen`.
    view : View
        As in `seen`.

    Returns
    -------
    numpy.ndarray
        Shape (..., 3), for D65 and the 2 degree observer, like `lab_from_hex`.
    """
    return lab_from_linear(photographed_linear(absorbance_per_cm, view))


def hex_of_lab(lab: ArrayLike, light: str, observer_deg: int) -> Text:
    """SRGB hex of CIELAB colours under a light, shape (..., 3) to (...).

    What sRGB cannot show keeps its hue and has less chroma.

    Parameters
    ----------
    lab : array_like
        L*, a*, b*, shape (..., 3).
    light : str
        A light as `light_name` knows it.
    observer_deg : int
        Standard observer, 2 or 10 [degrees].

    Returns
    -------
    numpy.ndarray
        ``#RRGGBB``, shape (...); empty where a colour is NaN.
    """
    known = light_name(light)
    xyz = xyz_from_lab(lab, _white(known, observer_deg))
    return _hex(*_levels(xyz @ to_linear_srgb(known, observer_deg).T))


@cache
def to_linear_srgb(light: str, observer_deg: int) -> Array:
    """Matrix from XYZ under a light to linear sRGB, adapted by CAT16 to its D65 white.

    Parameters
    ----------
    light : str
        As `light_name` gives it.
    observer_deg : int
        2 or 10.

    Returns
    -------
    numpy.ndarray
        Shape (3, 3).
    """
    return XYZ_TO_SRGB @ adaptation(_white(light, observer_deg), WHITE)


def _levels(linear: Array) -> tuple[NDArray[np.int_], NDArray[np.bool_]]:
    """Levels of the patches that show colours of linear sRGB, and which colours are known."""
    return encoded_levels(shown_linear(linear)), np.asarray(np.isfinite(linear).all(axis=-1))


def _hex(levels: NDArray[np.int_], known: NDArray[np.bool_]) -> Text:
    """``#RRGGBB`` of levels from 0 to 255, shape (..., 3) to (...); empty where not known."""
    # A text is a row of code points, so that digits are looked up and no text is put together.
    letters = np.full((*known.shape, 7), ord("#"), dtype="<u4")
    letters[..., 1::2], letters[..., 2::2] = _DIGITS[levels >> 4], _DIGITS[levels & 15]
    return np.where(known, letters.view("<U7")[..., 0], "")


def in_chunks(
    work: Callable[[Array], Mapping[str, Any]], rows: Array, at_once: int = ROWS_AT_ONCE
) -> dict[str, Any]:
    """Work on a large batch of rows part by part.

    Parameters
    ----------
    work : callable
        Takes rows of shape (n, m) to named arrays that begin with an axis of length n. Each row
        has to be worked on for itself.
    rows : numpy.ndarray
        Shape (..., m); the batch axes may be any or none.
    at_once : int
        Most rows that are handed to `work` together.

    Returns
    -------
    dict of str to numpy.ndarray
        The same arrays over the batch shape of `rows`, plain values for a single row. What `work`
        needs besides takes the memory of one part.
    """
    batch = rows.shape[:-1]
    flat = rows.reshape(-1, rows.shape[-1])
    parts = [work(flat[start : start + at_once]) for start in range(0, len(flat) or 1, at_once)]
    whole = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    return {name: each.reshape((*batch, *each.shape[1:]))[()] for name, each in whole.items()}
