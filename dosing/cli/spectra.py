"""``spectrum``: absorbance of a liquid along the wavelength, and its colour, along the pH."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dosing.cli.output import show
from dosing.cli.own_files import known_pigments
from dosing.cli.planning import check_picture
from dosing.cli.swatches import Liquid, colourants_of, liquid_of, ph_values, strengths_in, view_of
from dosing.words.colours import spectrum_lines
from indicator.sheet import write_picture
from indicator.spectrum_plot import PLOTTED_NM, Spectrum, draw_spectra, spectra


@dataclass(frozen=True)
class SpectrumDocument:
    """What ``spectrum`` answers."""

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
    picture: Path | None,
    as_json: bool,
) -> None:
    """Show the spectra of a liquid."""
    check_picture(picture)
    colours = colourants_of(pigment, known_pigments())
    looked = view_of(view.strip().lower(), depth, light, observer)
    strengths = strengths_in(colours, strength, looked)
    shown = spectra(strengths, ph_values(ph), looked)
    if picture is not None:
        write_picture(draw_spectra(strengths, shown, looked), picture)
    liquid = liquid_of(strengths, looked)
    document = SpectrumDocument(liquid, "1/cm", PLOTTED_NM, tuple(shown))
    show(document, spectrum_lines(strengths, looked, shown), picture, as_json=as_json)
