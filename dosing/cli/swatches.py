"""``swatch``: colours of a pigment along the pH."""

from __future__ import annotations

from pathlib import Path

from dosing.cli.output import Page, to_json
from dosing.cli.planning import check_picture
from dosing.quantities import InputError, colour_strength, length_cm
from dosing.quantities import ph as typed_ph
from indicator.absorbance import WAVELENGTH_NM, form_spectra
from indicator.notes import Value, say
from indicator.optics import View, bottle_view, jar_view, tub_view
from indicator.pigments import Colourant, colourant, dye_molarity, infusion_strength
from indicator.sheet import write_picture
from indicator.swatch import Swatch, draw_ladder, ladder

MOST_RUNGS = 200
USUAL_DEPTH_CM = 25.0
SHOWN_ABSORBANCE = 0.8
"""Strength times path at which a ladder is drawn if no strength is given: clear, not dark."""


def run_swatch(
    pigment: str,
    ph: str,
    *,
    strength: str | None,
    view_name: str,
    depth: str | None,
    light: str,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Show the ladder of a colourant."""
    check_picture(picture)
    which = colourant(pigment)
    view = view_of(view_name.strip().lower(), depth, light)
    values = _ph_values(ph)
    strengths = {which.name: _strength(which, strength, view)}
    rungs = ladder(strengths, values, view)
    if picture is not None:
        write_picture(draw_ladder(strengths, values, view), picture)
    if as_json:
        to_json(
            {
                "pigment": which.name,
                "strength": strengths[which.name],
                "strength_unit": "1/cm" if which.kind == "pigment" else "mol/L",
                "view": view.kind,
                "path_cm": view.path_cm,
                "light": view.light,
                "observer_deg": view.observer_deg,
                "swatches": [rung.as_dict() for rung in rungs],
            }
        )
        return
    _show(which, view, rungs, Page())
    if picture is not None:
        Page().line(say("cli.picture-written", {"file": str(picture)}))


def _show(which: Colourant, view: View, rungs: list[Swatch], page: Page) -> None:
    page.line(which.label, style="bold")
    page.line(say(f"view.{view.kind}", {"path_cm": view.path_cm}))
    for rung in rungs:
        mark = "" if rung.in_gamut else say("cli.out-of-gamut-mark")
        values: dict[str, Value] = {
            "ph": rung.ph,
            "phrase": rung.phrase,
            "hex": rung.hex,
            "mark": mark,
        }
        page.swatch(rung.hex, say("cli.rung", values).rstrip())
    if not all(rung.in_gamut for rung in rungs):
        page.line(say("cli.out-of-gamut-note"))


def view_of(name: str, depth: str | None, light: str) -> View:
    """The view of that name.

    Raises
    ------
    InputError
        If there is none, or the depth or light cannot be used.
    """
    path = None if depth is None else length_cm(depth, "depth")
    if name == "tub":
        return tub_view(USUAL_DEPTH_CM if path is None else path, light=light)
    if name == "jar":
        return jar_view(path, light=light)
    if name == "bottle":
        return bottle_view(path, light=light)
    raise InputError(say("cli.view", {"value": name}), "view", name)


def shown_strength(which: Colourant, view: View) -> float:
    """A strength at which any colourant shows: its own maximum times the way the light goes."""
    height = 1.0 if which.kind == "pigment" else float(form_spectra(which, WAVELENGTH_NM).max())
    passes = 2.0 if view.kind == "tub" else 1.0
    return SHOWN_ABSORBANCE / (height * view.path_cm * passes)


def _ph_values(text: str) -> list[float]:
    values = [typed_ph(part.strip(), "ph") for part in text.split(",") if part.strip()]
    if not 1 <= len(values) <= MOST_RUNGS:
        raise InputError(say("cli.ph-list", {"count": len(values), "most": MOST_RUNGS}), "ph", text)
    return values


def _strength(which: Colourant, text: str | None, view: View) -> float:
    """Strength in the liquid that is looked at."""
    if text is None:
        return shown_strength(which, view)
    typed = colour_strength(text, "strength")
    if which.kind == "dye":
        if typed.kind == "absorbance":
            return typed.value / float(form_spectra(which, WAVELENGTH_NM).max())
        return float(dye_molarity(which.name, 10.0 * typed.value))
    if typed.kind == "absorbance":
        return typed.value
    return float(infusion_strength(which.name, typed.value))
