"""``spectrum``: absorbance of a liquid along the wavelength, and its colour, along the pH."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dosing.cli.output import show
from dosing.cli.own_files import known_pigments
from dosing.cli.swatches import Liquid, colourants_of, liquid_of, ph_values, strengths_in, view_of
from dosing.words.colours import spectrum_lines
from indicator.ladders import FINE_NM, Swatch, ladder


@dataclass(frozen=True)
class Spectrum:
    """Absorbance of a liquid at one pH, and the colour that is seen."""

    answer: Swatch
    absorbance: NDArray[np.float64]
    """Decadic [1/cm]."""


@dataclass(frozen=True)
class SpectrumDocument:
    """Answer of ``spectrum``."""

    answer: Liquid
    absorbance_unit: str
    wavelength_nm: NDArray[np.float64]
    spectra: tuple[Spectrum, ...]


def run_spectrum(
    *,
    pigment: str,
    ph: str,
    strength: str | None,
    view: str,
    depth: str | None,
    light: str | None,
    observer: str | None,
    as_json: bool,
) -> None:
    """Show the absorbance maxima and colours of a liquid at several pH values.

    Parameters
    ----------
    pigment : str
        Colourants of the liquid, with a plus between them.
    ph : str
        PH values, with commas between them.
    strength : str or None
        As typed; one at which the colour shows if not given.
    view : str
        Vessel.
    depth : str or None
        Width or depth, with a unit; the usual one if not given.
    light, observer : str or None
        The usual ones if not given.
    as_json : bool
        Whether one document is printed.
    """
    colours = colourants_of(pigment, known_pigments())
    looked = view_of(view.strip().lower(), depth, light, observer)
    strengths = strengths_in(colours, strength, looked)
    shown = ladder(strengths, ph_values(ph), looked)
    liquid = liquid_of(strengths, looked)
    each = tuple(map(Spectrum, shown.swatches, shown.absorbance))
    document = SpectrumDocument(liquid, "1/cm", FINE_NM, each)
    show(document, spectrum_lines(shown), as_json=as_json)
