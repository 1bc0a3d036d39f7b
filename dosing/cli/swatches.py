"""``swatch``: colours of pigments and mixtures along the pH, in one vessel or several."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from dosing.cli.jsonout import notes
from dosing.cli.output import Page, to_json
from dosing.cli.own_files import known_pigments
from dosing.cli.planning import check_picture
from dosing.recipe.quantities import InputError, colour_strength, length_cm
from dosing.recipe.quantities import ph as typed_ph
from indicator.absorbance import WAVELENGTH_NM, form_spectra
from indicator.appearance import light_name
from indicator.notes import Note, Value, say, sentence
from indicator.optics import OBSERVERS_DEG, VIEWS, View, small_view, tub_view
from indicator.own import at_home
from indicator.pigments import (
    Colourant,
    Pigments,
    check_distinct,
    dye_molarity,
    infusion_strength,
    unsteady,
)
from indicator.sheet import write_picture
from indicator.spread import DRAWS, spread_delta_e
from indicator.swatch import (
    Ladder,
    Swatch,
    amount_phrase,
    colours_phrase,
    draw_ladders,
    ladder,
    view_phrase,
)
from indicator.words import threshold

MOST_RUNGS = 200
MOST_LADDERS = 24
MOST_DRAWN, LEAST_DRAWS = 4000, 50
"""Colours that are drawn for the spread of one ladder, and draws of each at least."""
USUAL_DEPTH_CM = 25.0
SHOWN_ABSORBANCE = 0.8
"""Strength times path at which a ladder is drawn if no strength is given: clear, not dark."""


def run_swatch(
    liquids: Sequence[str],
    ph: str,
    *,
    strength: str | None,
    view_names: Sequence[str],
    depth: str | None,
    light: str | None,
    observer: str | None,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Show the ladder of each liquid in each view."""
    check_picture(picture)
    pigments = known_pigments()
    mixtures = list(dict.fromkeys(tuple(colourants_of(text, pigments)) for text in liquids))
    check_distinct(which for mixture in mixtures for which in mixture)
    views = views_of(view_names, depth, light, observer)
    values = ph_values(ph)
    if len(mixtures) * len(views) > MOST_LADDERS:
        count = len(mixtures) * len(views)
        raise InputError(say("cli.ladders", {"count": count, "most": MOST_LADDERS}), "view")
    ladders = []
    for mixture in mixtures:
        for view in views:
            strengths = strengths_in(mixture, strength, view)
            ladders.append(Ladder(strengths, view, ladder(strengths, values, view)))
    if picture is not None:
        write_picture(draw_ladders(ladders), picture)
    if as_json:
        to_json(_document(ladders))
        return
    _show(ladders, Page())
    if picture is not None:
        Page().line(say("cli.picture-written", {"file": str(picture)}))


def colourants_of(liquid: str, pigments: Pigments) -> list[Colourant]:
    """Colourants of a liquid such as ``butterfly-pea+tartrazine``, each once.

    Parameters
    ----------
    liquid : str
        Their names, or paths of pigment files, with a plus between them.
    pigments : Pigments
        What the maker can name.

    Raises
    ------
    ValueError
        If one of them is unknown; the sentence offers the nearest name.
    """
    # A pigment file may have a plus in its path.
    whole = liquid.endswith(".toml") and at_home(liquid).is_file()
    parts = [liquid] if whole else [part.strip() for part in liquid.split("+")]
    if len(parts) > 1 and not all(parts):
        raise InputError(say("cli.mixture", {"value": liquid}), "pigment", liquid)
    found = list(dict.fromkeys(map(pigments.find, parts)))
    check_distinct(found)
    return found


def views_of(
    names: Sequence[str], depth: str | None, light: str | None, observer: str | None
) -> list[View]:
    """The views of those names, each once.

    Raises
    ------
    InputError
        As `view_of`, or if one depth is given for several views.
    """
    found = list(dict.fromkeys(name.strip().lower() for name in names))
    views = [view_of(name, depth, light, observer) for name in found]
    if len(found) > 1 and depth is not None:
        values = {"value": depth, "views": ", ".join(found)}
        raise InputError(say("cli.depth-of-several", values), "depth", depth)
    return views


def view_of(
    name: str, depth: str | None, light: str | None = None, observer: str | None = None
) -> View:
    """The view of that name.

    Raises
    ------
    InputError
        If there is none, or the depth or observer cannot be used.
    ValueError
        If the light is unknown.
    """
    if name not in VIEWS:
        raise InputError(say("cli.view", {"value": name}), "view", name)
    path = None if depth is None else length_cm(depth, "depth")
    lit = light_name("D65" if light is None else light)
    degrees = None if observer is None else _observer_deg(observer)
    if name == "tub":
        return tub_view(USUAL_DEPTH_CM if path is None else path, light=lit, observer_deg=degrees)
    return small_view(name, path, lit, observer_deg=degrees)


def _observer_deg(text: str) -> int:
    """2 or 10, with or without a sign for degrees."""
    number = text.strip().casefold().removesuffix("°").removesuffix("deg").strip()
    for degrees in OBSERVERS_DEG:
        if number == str(degrees):
            return degrees
    raise InputError(say("cli.observer", {"value": text}), "observer", text)


def shown_strength(which: Colourant, view: View) -> float:
    """A strength at which any colourant shows: its own maximum times the way the light goes."""
    height = 1.0 if which.kind == "pigment" else float(form_spectra(which, WAVELENGTH_NM).max())
    passes = 2.0 if view.kind == "tub" else 1.0
    return SHOWN_ABSORBANCE / (height * view.path_cm * passes)


def ph_values(text: str) -> list[float]:
    """A list of pH values as it is typed.

    Raises
    ------
    InputError
        If one is no pH, or there are none or too many.
    """
    values = [typed_ph(part.strip(), "ph") for part in text.split(",") if part.strip()]
    if not 1 <= len(values) <= MOST_RUNGS:
        raise InputError(say("cli.ph-list", {"count": len(values), "most": MOST_RUNGS}), "ph", text)
    return values


def strengths_in(
    colours: Sequence[Colourant], text: str | None, view: View
) -> dict[Colourant, float]:
    """Strength of each colourant in the liquid that is looked at.

    Raises
    ------
    InputError
        If the text is no strength.
    """
    return {which: _strength(which, text, view) for which in colours}


def _strength(which: Colourant, text: str | None, view: View) -> float:
    if text is None:
        return shown_strength(which, view)
    typed = colour_strength(text, "strength")
    if which.kind == "dye":
        if typed.kind == "absorbance":
            return typed.value / float(form_spectra(which, WAVELENGTH_NM).max())
        return float(dye_molarity(which, 10.0 * typed.value))
    if typed.kind == "absorbance":
        return typed.value
    return float(infusion_strength(which, typed.value))


def liquid_document(strengths: Mapping[Colourant, float], view: View) -> dict[str, Any]:
    """What is looked at, as JSON shows it; a mixture has no one strength."""
    by_name = {which.name: value for which, value in strengths.items()}
    alone = next(iter(strengths)) if len(strengths) == 1 else None
    units = {"pigment": "1/cm", "dye": "mol/L"}
    return {
        "pigment": "+".join(by_name),
        "strength": None if alone is None else strengths[alone],
        "strength_unit": None if alone is None else units[alone.kind],
        "strengths": by_name,
        "view": view.kind,
        "path_cm": view.path_cm,
        "light": view.light,
        "observer_deg": view.observer_deg,
    }


def _document(ladders: Sequence[Ladder]) -> dict[str, Any]:
    shown = [
        {
            **liquid_document(one.strengths, one.view),
            "swatches": [
                {**rung.as_dict(), "spread_delta_e": spread}
                for rung, spread in zip(one.swatches, _spreads(one), strict=True)
            ],
        }
        for one in ladders
    ]
    alone = shown[0] if len(shown) == 1 else {}
    return {**alone, "ladders": shown, "warnings": notes(_warnings(ladders))}


def _warnings(ladders: Sequence[Ladder]) -> tuple[Note, ...]:
    """What the lowest pH does to a colour besides what the forms tell."""
    lowest = min(rung.ph for one in ladders for rung in one.swatches)
    return unsteady((which for one in ladders for which in one.strengths), lowest)


def _spreads(one: Ladder) -> list[float]:
    """How far each colour may be off by what is not known of the colourants (CIEDE2000)."""
    ph = np.array([rung.ph for rung in one.swatches])
    labs = np.array([rung.lab for rung in one.swatches])
    draws = min(DRAWS, max(MOST_DRAWN // len(ph), LEAST_DRAWS))
    return [float(v) for v in spread_delta_e(one.strengths, ph, one.view, labs, draws)]


def show_liquid(strengths: Mapping[Colourant, float], view: View, page: Page) -> None:
    """Name, view and, of a mixture, the parts."""
    page.line(colours_phrase(strengths), style="bold")
    page.line(view_phrase(view))
    if len(strengths) > 1:
        amounts = [amount_phrase(which, value) for which, value in strengths.items()]
        page.line(say("plan.comma").join(amounts))


def _show(ladders: Sequence[Ladder], page: Page) -> None:
    for number, one in enumerate(ladders):
        if number > 0:
            page.line()
        show_liquid(one.strengths, one.view, page)
        for rung in one.swatches:
            _show_rung(rung, page)
    if not all(rung.in_gamut for one in ladders for rung in one.swatches):
        page.line(say("cli.out-of-gamut-note"))
    for note in _warnings(ladders):
        page.line(sentence(note))
    most = max(max(_spreads(one)) for one in ladders)
    if most >= threshold("hardly_visible"):
        page.line(say("cli.spread", {"most": most}))


def _show_rung(rung: Swatch, page: Page) -> None:
    mark = "" if rung.in_gamut else say("cli.out-of-gamut-mark")
    values: dict[str, Value] = {
        "ph": rung.ph,
        "phrase": rung.phrase,
        "hex": rung.hex,
        "mark": mark,
    }
    page.swatch(rung.hex, say("cli.rung", values).rstrip())
