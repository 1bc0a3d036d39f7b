"""``spectrum``: absorbance of a liquid along the wavelength, and its colour, along the pH."""

from __future__ import annotations

from pathlib import Path

from dosing.cli.output import BLOCK, Page, to_json
from dosing.cli.own_files import known_pigments
from dosing.cli.planning import check_picture
from dosing.cli.swatches import (
    colourants_of,
    liquid_document,
    ph_values,
    show_liquid,
    strengths_in,
    view_of,
)
from indicator.notes import Value, say
from indicator.sheet import write_picture
from indicator.spectrum_plot import PLOTTED_NM, Spectrum, draw_spectra, spectra


def run_spectrum(
    liquid: str,
    ph: str,
    *,
    strength: str | None,
    view_name: str,
    depth: str | None,
    light: str | None,
    observer: str | None,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Show the spectra of a liquid."""
    check_picture(picture)
    colours = colourants_of(liquid, known_pigments())
    view = view_of(view_name.strip().lower(), depth, light, observer)
    strengths = strengths_in(colours, strength, view)
    shown = spectra(strengths, ph_values(ph), view)
    if picture is not None:
        write_picture(draw_spectra(strengths, shown, view), picture)
    if as_json:
        to_json(
            {
                **liquid_document(strengths, view),
                "absorbance_unit": "1/cm",
                "wavelength_nm": PLOTTED_NM,
                "spectra": [_document(one) for one in shown],
            }
        )
        return
    page = Page()
    show_liquid(strengths, view, page)
    for one in shown:
        _show(one, page)
    page.line(say("spectrum.note"))
    if not all(one.in_gamut for one in shown):
        page.line(say("cli.out-of-gamut-note"))
    if picture is not None:
        page.line(say("cli.picture-written", {"file": str(picture)}))


def _document(one: Spectrum) -> dict[str, object]:
    return {
        "ph": one.ph,
        "lambda_max_nm": one.lambda_max_nm,
        "absorbance_max": one.absorbance_max,
        "maxima": [{"wavelength_nm": nm, "absorbance": height} for nm, height in one.maxima],
        "hex": one.hex,
        "word": one.word,
        "phrase": one.phrase,
        "in_gamut": one.in_gamut,
        "absorbance": one.absorbance,
    }


def _show(one: Spectrum, page: Page) -> None:
    """The colour with the first maximum beside it and the others below that one."""
    peaks = [say("spectrum.peak", {"nm": nm, "absorbance": high}) for nm, high in one.maxima]
    first, *others = peaks or [say("spectrum.no-peak")]
    mark = "" if one.in_gamut else say("cli.out-of-gamut-mark")
    values: dict[str, Value] = {"ph": one.ph, "phrase": f"{one.phrase}{mark}"}
    beside = say("spectrum.row", values)
    page.swatch(one.hex, f"{beside}{first}")
    indent = 2 + (len(BLOCK) + 2 if page.coloured else 0) + len(beside)
    for peak in others:
        page.line(peak, indent=indent)
