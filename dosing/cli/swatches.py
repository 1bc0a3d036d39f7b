"""``swatch``: colours of pigments and mixtures along the pH, in one vessel or several."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from dosing.cli.given import check_picture
from dosing.cli.output import show
from dosing.cli.own_files import known_pigments
from dosing.pictures.ladder import draw_ladders
from dosing.recipe.quantities import InputError, colour_strength, length_cm
from dosing.recipe.quantities import ph as typed_ph
from dosing.words.colours import swatch_lines
from indicator.absorbance import WAVELENGTH_NM, form_spectra
from indicator.appearance import light_name
from indicator.ladders import Ladder, Swatch, ladder, shown_strength
from indicator.notes import Note, say
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

MOST_RUNGS = 200
MOST_LADDERS = 24
USUAL_DEPTH_CM = 25.0


@dataclass(frozen=True)
class Liquid:
    """Liquid that is looked at: its colourants, their strengths and the view."""

    pigment: str
    """Keys of its colourants, joined by +."""
    strength: float | None
    """Of its one colourant; None of a mixture."""
    strength_unit: str | None
    strengths: dict[str, float]
    """Of each colourant: pH-1 absorbance per cm, or mol/L of a dye."""
    view: str
    path_cm: float
    light: str
    observer_deg: int


@dataclass(frozen=True)
class LadderDocument:
    """One liquid in one view along the pH."""

    answer: Liquid
    swatches: tuple[Swatch, ...]


@dataclass(frozen=True)
class SwatchDocument:
    """Answer of ``swatch``."""

    ladders: tuple[LadderDocument, ...]
    warnings: tuple[Note, ...]


@dataclass(frozen=True)
class SwatchOptions:
    """Options of ``swatch``, as they were typed."""

    pigments: Sequence[str]
    ph: str
    strength: str | None
    view: Sequence[str] | None
    depth: str | None
    light: str | None
    observer: str | None
    picture: Path | None
    as_json: bool


def run_swatch(asked: SwatchOptions) -> None:
    """Show the ladder of each liquid in each view."""
    check_picture(asked.picture)
    known = known_pigments()
    mixtures = list(dict.fromkeys(tuple(colourants_of(text, known)) for text in asked.pigments))
    check_distinct(which for mixture in mixtures for which in mixture)
    views = views_of(asked.view or ["jar"], asked.depth, asked.light, asked.observer)
    rungs = ph_values(asked.ph)
    count = len(mixtures) * len(views)
    if count > MOST_LADDERS:
        raise InputError(say("cli.ladders", {"count": count, "most": MOST_LADDERS}), "view")
    ladders = [
        ladder(strengths_in(mixture, asked.strength, looked), rungs, looked)
        for mixture in mixtures
        for looked in views
    ]
    if asked.picture is not None:
        write_picture(draw_ladders(ladders), asked.picture)
    # The lowest pH may do more to a colour than its forms tell.
    warnings = unsteady((which for ladder in ladders for which in ladder.strengths), min(rungs))
    document = SwatchDocument(tuple(map(_ladder, ladders)), warnings)
    show(document, swatch_lines(ladders, warnings), asked.picture, as_json=asked.as_json)


def colourants_of(liquid: str, pigments: Pigments) -> list[Colourant]:
    """Colourants of a liquid such as ``butterfly-pea+tartrazine``, each once.

    Parameters
    ----------
    liquid : str
        Their names, or paths of pigment files, with a plus between them.
    pigments : Pigments
        What the maker can name.

    Returns
    -------
    list of Colourant
        In the order of the text.

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
    colourants = list(dict.fromkeys(map(pigments.find, parts)))
    check_distinct(colourants)
    return colourants


def views_of(
    names: Sequence[str], depth: str | None, light: str | None, observer: str | None
) -> list[View]:
    """The views of those names, each once.

    Parameters
    ----------
    names : sequence of str
        Vessels.
    depth : str, optional
        Text with a unit; the usual one if not given.
    light, observer : str, optional
        The usual ones if not given.

    Returns
    -------
    list of View

    Raises
    ------
    InputError
        As `view_of`, or if one depth is given for several views.
    """
    vessels = list(dict.fromkeys(name.strip().lower() for name in names))
    views = [view_of(name, depth, light, observer) for name in vessels]
    if len(vessels) > 1 and depth is not None:
        values = {"value": depth, "views": ", ".join(vessels)}
        raise InputError(say("cli.depth-of-several", values), "depth", depth)
    return views


def view_of(
    name: str, depth: str | None, light: str | None = None, observer: str | None = None
) -> View:
    """The view of that name.

    Parameters
    ----------
    name : str
        Vessel.
    depth : str, optional
        Text with a unit; the usual one if not given.
    light, observer : str, optional
        The usual ones if not given.

    Returns
    -------
    View

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

    Parameters
    ----------
    colours : sequence of Colourant
        Of the liquid.
    text : str, optional
        The strength as typed; one at which each shows if not given.
    view : View
        How it is looked at.

    Returns
    -------
    dict of Colourant to float
        PH-1 absorbance per cm, or mol/L of a dye.

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


def liquid_of(strengths: Mapping[Colourant, float], view: View) -> Liquid:
    """Liquid that is looked at, as JSON shows it; a mixture has no one strength.

    Parameters
    ----------
    strengths : mapping of Colourant to float
        PH-1 absorbance per cm, or mol/L of a dye.
    view : View
        How it is looked at.

    Returns
    -------
    Liquid
    """
    alone = [*strengths] if len(strengths) == 1 else []
    by_name = {which.name: value for which, value in strengths.items()}
    units = {"pigment": "1/cm", "dye": "mol/L"}
    return Liquid(
        pigment="+".join(by_name),
        strength=next((strengths[which] for which in alone), None),
        strength_unit=next((units[which.kind] for which in alone), None),
        strengths=by_name,
        view=view.kind,
        path_cm=view.path_cm,
        light=view.light,
        observer_deg=view.observer_deg,
    )


def _ladder(ladder: Ladder) -> LadderDocument:
    return LadderDocument(liquid_of(ladder.strengths, ladder.looked), ladder.swatches)
