"""Spectra of a liquid at several pH values: their maxima, the colours seen, and how they are drawn.

Each panel holds one curve in ink; what lies under it is filled with the colour that the eye sees.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, log10
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.absorbance import form_spectra, mixture_absorbance
from indicator.appearance import light_label, seen
from indicator.colourants import Strengths
from indicator.notes import say
from indicator.optics import View
from indicator.pigments import by_record
from indicator.sheet import FAINT, GROUND, HAIRLINE, INK, Sheet
from indicator.speciation import form_fractions
from indicator.swatch import amount_phrase, colours_phrase, view_phrase

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

PLOTTED_NM: Array = np.arange(380.0, 780.5, 1.0)
"""Wavelengths of a plotted spectrum [nm]: finer than those that colours are summed over."""
PLOTTED_NM.setflags(write=False)
LEAST_SHARE = 0.05
"""A maximum lower than this share of the highest absorbance is a ripple, not a band."""
MOST_COLUMNS = 3
PANEL_WIDTH, PANEL_HEIGHT = 2.15, 1.25
MARGIN, GUTTER, SCALE_ROOM = 0.42, 0.34, 0.42
"""Space around the panels, between them, and for the numbers left of each row [in]."""
TICKS_NM = (400, 500, 600, 700)
TITLE, NUMBER, WORD, SMALL = 13.0, 10.5, 7.6, 6.6
"""Sizes of type [points]."""


@dataclass(frozen=True)
class Spectrum:
    """Absorbance of a liquid at one pH, and the colour that is seen."""

    ph: float
    absorbance: Array
    """Decadic, on `PLOTTED_NM` [1/cm]."""
    lambda_max_nm: float | None
    """Wavelength of the highest maximum [nm]; None if the curve only rises, falls or is zero."""
    absorbance_max: float
    """Absorbance there, else the highest of all [1/cm]."""
    maxima: tuple[tuple[float, float], ...]
    """Wavelength [nm] and absorbance [1/cm] of every maximum, the shortest wave first."""
    hex: str
    word: str
    phrase: str
    in_gamut: bool


def liquid_spectrum(
    strengths: Strengths, ph: ArrayLike, wavelength_nm: ArrayLike = PLOTTED_NM
) -> Array:
    """Absorbance of a liquid at any wavelengths.

    Parameters
    ----------
    strengths : mapping of Colourant or str to float
        Colourant to its strength: pH-1 absorbance per cm, or mol/L for a dye.
    ph : array_like
        pH of the liquid.
    wavelength_nm : array_like
        Shape (wavelengths,) [nm].

    Returns
    -------
    numpy.ndarray
        Decadic, shape (..., wavelengths) [1/cm]; `indicator.absorbance.mixture_absorbance` on
        wavelengths of one's own.

    Raises
    ------
    ValueError
        If a colourant is unknown.
    """
    acidity = np.asarray(ph, dtype=np.float64)
    total = np.zeros((*acidity.shape, np.size(wavelength_nm)))
    for which, strength in by_record(strengths).items():
        total += strength * (form_fractions(which, acidity) @ form_spectra(which, wavelength_nm))
    return total


def maxima(absorbance: ArrayLike) -> list[int]:
    """Places of the maxima of one spectrum; the two ends are none, nor is a ripple.

    Parameters
    ----------
    absorbance : array_like
        Shape (wavelengths,).
    """
    heights = np.asarray(absorbance, dtype=np.float64)
    rising = np.diff(heights) > 0.0
    tops = np.flatnonzero(rising[:-1] & ~rising[1:]) + 1
    return [int(top) for top in tops if heights[top] >= LEAST_SHARE * heights.max()]


def spectra(strengths: Strengths, ph_values: Sequence[float], view: View) -> list[Spectrum]:
    """Spectra of a liquid with their maxima and the colours seen.

    Parameters
    ----------
    strengths : mapping of Colourant or str to float
        Colourant to its strength: pH-1 absorbance per cm, or mol/L for a dye.
    ph_values : sequence of float
        In the order they are shown.
    view : View
        Vessel, light and observer.

    Raises
    ------
    ValueError
        If a colourant or the light is unknown, or a strength is negative.
    """
    ph = np.asarray(ph_values, dtype=np.float64).reshape(-1)
    colours = seen(mixture_absorbance(strengths, ph), view).steady()
    curves = liquid_spectrum(strengths, ph)
    return [
        _spectrum(
            float(ph[k]),
            curve,
            str(colours.hex[k]),
            str(colours.word[k]),
            str(colours.phrase[k]),
            bool(colours.in_gamut[k]),
        )
        for k, curve in enumerate(curves)
    ]


def _spectrum(
    ph: float, curve: Array, hex_colour: str, word: str, phrase: str, in_gamut: bool
) -> Spectrum:
    places = maxima(curve)
    highest = max(places, key=lambda place: curve[place], default=None)
    return Spectrum(
        ph=ph,
        absorbance=curve,
        lambda_max_nm=None if highest is None else float(PLOTTED_NM[highest]),
        absorbance_max=float(curve.max() if highest is None else curve[highest]),
        maxima=tuple((float(PLOTTED_NM[place]), float(curve[place])) for place in places),
        hex=hex_colour,
        word=word,
        phrase=phrase,
        in_gamut=in_gamut,
    )


def draw_spectra(strengths: Strengths, shown: Sequence[Spectrum], view: View) -> Figure:
    """One panel for each pH, all on one scale, with the highest maximum marked in numerals.

    Parameters
    ----------
    strengths, view
        As in `spectra`.
    shown : sequence of Spectrum
        At least one.

    Returns
    -------
    matplotlib.figure.Figure
        Not attached to any window; save it with `indicator.sheet.write_picture`.
    """
    columns = min(len(shown), MOST_COLUMNS, 2 if len(shown) == 4 else MOST_COLUMNS)
    # A title and a note need two panels' room.
    room = SCALE_ROOM + max(columns, 2) * (PANEL_WIDTH + GUTTER) - GUTTER
    sheet = Sheet(room + 2 * MARGIN)
    title = say("spectrum.title", {"colours": colours_phrase(strengths)})
    y = sheet.text(MARGIN, -0.32, title[:1].upper() + title[1:], TITLE, width=room)
    amounts = [amount_phrase(which, value) for which, value in strengths.items()]
    liquid = " · ".join([*amounts, view_phrase(view)])
    y = sheet.text(MARGIN, y - 0.04, liquid, WORD, width=room, ink=FAINT)
    step = _tick_step(max(float(one.absorbance.max()) for one in shown))
    top = step * ceil(max(max(float(one.absorbance.max()) for one in shown) / step, 1.0) - 1e-9)
    for start in range(0, len(shown), columns):
        y = _row(sheet, shown[start : start + columns], y - 0.3, step, top)
    remark = say("spectrum.remark", {"light": light_label(view.light)})
    if not all(one.in_gamut for one in shown):
        remark += " " + say("view.out-of-gamut")
    y = sheet.text(MARGIN, y - 0.24, remark, SMALL, width=room, ink=FAINT)
    return sheet.finished(y - 0.24)


def _tick_step(most: float) -> float:
    """1, 2 or 5 times a power of ten that divides the scale in two to four."""
    if most <= 0.0:
        return 1.0
    wanted = most / 3.0
    power = 10.0 ** floor(log10(wanted))
    return next((one * power for one in (1.0, 2.0, 5.0) if one * power >= wanted), 10.0 * power)


def _row(sheet: Sheet, shown: Sequence[Spectrum], top: float, step: float, scale: float) -> float:
    """Panels side by side; returns the lower end."""
    head = 0.3
    floor_y = top - head - PANEL_HEIGHT
    left = MARGIN + SCALE_ROOM
    sheet.text(MARGIN, top + 0.02, say("spectrum.scale"), SMALL, ink=FAINT)
    for k in range(round(scale / step) + 1):
        y = floor_y + PANEL_HEIGHT * k * step / scale
        sheet.text(left - 0.09, y + 0.065, f"{k * step:.3g}", SMALL, ink=FAINT, align="right")
    end = floor_y
    for place, one in enumerate(shown):
        x = left + place * (PANEL_WIDTH + GUTTER)
        end = _panel(sheet, one, x, floor_y, step, scale)
    return end


def _panel(
    sheet: Sheet, one: Spectrum, left: float, floor_y: float, step: float, scale: float
) -> float:
    """A curve over its axis, with pH and word above it; returns the lower end."""
    per_nm = PANEL_WIDTH / (PLOTTED_NM[-1] - PLOTTED_NM[0])
    x = left + per_nm * (PLOTTED_NM - PLOTTED_NM[0])
    y = floor_y + PANEL_HEIGHT * one.absorbance / scale
    sheet.axes.fill_between(x, floor_y, y, facecolor=one.hex or GROUND, linewidth=0.0)
    sheet.axes.plot(x, y, color=INK, linewidth=1.1, solid_joinstyle="round")
    sheet.rule(left, floor_y, left + PANEL_WIDTH, floor_y)
    sheet.rule(left, floor_y, left, floor_y + PANEL_HEIGHT)
    for k in range(1, round(scale / step) + 1):
        height = floor_y + PANEL_HEIGHT * k * step / scale
        sheet.rule(left - 0.04, height, left, height)
    for nm in TICKS_NM:
        at = left + per_nm * (nm - PLOTTED_NM[0])
        sheet.rule(at, floor_y, at, floor_y - 0.04)
        label = say("spectrum.nm", {"nm": nm}) if nm == TICKS_NM[-1] else str(nm)
        sheet.text(at, floor_y - 0.06, label, SMALL, ink=FAINT, align="center")
    _mark_maximum(sheet, one, x, y, per_nm)
    mark = "" if one.in_gamut else f" {say('view.out-of-gamut-mark')}"
    head = floor_y + PANEL_HEIGHT + 0.36
    heading = say("view.ph", {"ph": one.ph})
    sheet.text(left + 0.06, head, heading, NUMBER)
    beside = left + 0.06 + sheet.measure(heading, NUMBER) + 0.12
    sheet.text(beside, head - 0.045, one.phrase + mark, WORD)
    return floor_y - 0.2


def _mark_maximum(sheet: Sheet, one: Spectrum, x: Array, y: Array, per_nm: float) -> None:
    """A hairline through the highest maximum and its wavelength beside it."""
    if one.lambda_max_nm is None:
        return
    place = round(one.lambda_max_nm - PLOTTED_NM[0])
    sheet.axes.plot(
        [x[place], x[place]], [y[place], y[place] + 0.07], color=INK, linewidth=HAIRLINE
    )
    label = say("spectrum.nm", {"nm": one.lambda_max_nm})
    half = sheet.measure(label, SMALL) / 2
    at = float(np.clip(x[place], x[0] + half + 0.04, x[-1] - half))
    sheet.text(at, float(y[place]) + 0.07 + 0.125, label, SMALL, align="center", clear=True)


__all__ = ["PLOTTED_NM", "Spectrum", "draw_spectra", "liquid_spectrum", "maxima", "spectra"]
