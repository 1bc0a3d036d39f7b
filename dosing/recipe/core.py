"""From the tables of a recipe to what the core takes, with what had to be assumed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from dosing.bath import inputs
from dosing.bath.inputs import RecipeInputs
from dosing.bath.learnt_home import LearntHome
from dosing.ingredients import water as tap_water
from dosing.ingredients.hardness_units import alkalinity_in, ions
from dosing.ingredients.trade_values import typical
from dosing.ingredients.water import WaterReadings
from dosing.plan.levels import judged_bathers
from dosing.recipe import models, names
from dosing.recipe import quantities as q
from dosing.recipe.colours import colours_of
from dosing.recipe.own_waters import own_water
from dosing.recipe.place import Place
from indicator.notes import Note
from indicator.pigments import Pigments, own_pigments

BATH_TEMPERATURE_C = 38.0
READING_TEMPERATURE_C = 25.0
ACTIVATOR = "citric-acid-anhydrous"
# A titration to pH 4.5, as the recipe asks for it.
_TITRATED_TO_PH = 4.5
_ALL_PERCENT = 100.0
JAR_TESTS = ("jar test", "rough jar test", "very rough jar test")
OF_ONES_OWN = ("strip", "drop kit", "meter", *JAR_TESTS)
"""Instruments that read a water, rather than report it."""


def recipe_inputs(
    recipe: models.RecipeFile, written: Mapping[str, Any], pigments: Pigments | None = None
) -> RecipeInputs:
    """Core inputs of a recipe.

    Parameters
    ----------
    recipe : RecipeFile
        As read from the file.
    written : mapping
        The same tables as they are written, for sentences that quote them.
    pigments : Pigments, optional
        What the maker can name; the shipped ones and those of the usual own folder if not given.

    Returns
    -------
    RecipeInputs

    Raises
    ------
    InputError
        If what is written does not go together; the sentence names field, value and what is
        accepted.
    """
    notes: list[Note] = []
    known = own_pigments() if pigments is None else pigments
    recipe, written, learnt = _own_water(recipe, written, known, notes)
    tub, water, bottle, poured, wish = (
        Place(name, written.get(name) or {}, notes)
        for name in ("tub", "water", "foam_bath", "activator", "wish")
    )
    foam = None if recipe.foam_bath is None else _foam_bath(recipe.foam_bath, bottle)
    return RecipeInputs(
        title=recipe.title,
        tub=_tub(recipe.tub, recipe.wish, tub),
        water=_water(recipe.water, water),
        water_temperature_c=_bath_temperature(recipe.water, water),
        foam_bath=foam,
        colours=colours_of(recipe, foam, known, written, notes),
        activator=_activator(recipe.activator, poured, recipe.tub.bathers_in_tub),
        wish=_wish(recipe.wish, wish),
        assumptions=tuple(notes),
        card=_card(recipe.card, recipe.activator),
        learnt=learnt,
    )


def _own_water(
    recipe: models.RecipeFile, written: Mapping[str, Any], known: Pigments, notes: list[Note]
) -> tuple[models.RecipeFile, Mapping[str, Any], LearntHome | None]:
    """Recipe with the reading of an own water that it names, and what was learnt of that home."""
    like = recipe.water.like
    if like is None or like.replace(" ", "-") in tap_water.typical_water_names():
        return recipe, written, None
    own, wish = own_water(like, known.folder), recipe.wish
    tables = {"tub": {}, **written}
    why_not = own.why_not(tables["water"], tables["tub"], date.today())
    unlike = {key: value for key, value in tables["water"].items() if key != "like"}
    read = {**own.water, **unlike}
    recipe = recipe.model_copy(update={"water": models.WaterTable.model_validate(read)})
    written = {**tables, "water": read}
    if why_not is not None:
        notes.append(own.learnt.note(why_not))
        return recipe, written, None
    child = wish.child_age_years is not None or judged_bathers(wish.bathers) == "child"
    held = child or wish.purpose != "own" or not own.learnt.raises
    learnt = replace(own.learnt, held=held)
    notes.append(learnt.note("held" if held else "used"))
    return recipe, written, learnt


def _card(card: models.CardTable, activator: models.ActivatorTable) -> inputs.CardInputs:
    """What the card carries; a sachet in spoons is a mass of this activator."""
    kept = {name: value for name, value in card if name not in ("sachet", "directions")}
    grams = None
    if card.sachet is not None:
        parts = {ACTIVATOR: 1.0} if activator.parts is None else activator.parts.by_powder
        grams = q.powder_mass(card.sachet, parts, "card.sachet", "sachet").value
    return inputs.CardInputs(**kept, sachet_g=grams, directions=tuple(card.directions))


def measured_dose(
    recipe: RecipeInputs, dose: str, field: str = "dose"
) -> tuple[RecipeInputs, float]:
    """Grams of a dose, weighed or in level spoons, and the recipe with how it is measured.

    Parameters
    ----------
    recipe : RecipeInputs
        In core units.
    dose : str
        Of its activator, for instance ``"12 g"`` or ``"2 tsp"``.
    field : str
        Where it was typed, for the sentence of a refusal.

    Returns
    -------
    RecipeInputs
        The same, with its powder measured by the spoon where the dose is.
    float
        Dose [g].

    Raises
    ------
    InputError
        If it is no such dose.
    """
    mass = q.powder_mass(dose, recipe.activator.parts, field)
    if mass.spread > 0:
        spooned = replace(recipe.activator, weighed_with="spoon")
        recipe = replace(recipe, activator=spooned)
    return recipe, mass.value


def _tub(tub: models.TubTable, wish: models.WishTable, place: Place) -> inputs.TubInputs:
    measures = {"length": tub.length_cm, "width": tub.width_cm, "fill": tub.fill_cm}
    given = [key for key, measure in measures.items() if measure is not None]
    missing = [key for key, measure in measures.items() if measure is None]
    if given and tub.volume_l is not None:
        raise place.refuse("error.volume-twice", given[0])
    if given and missing:
        raise place.refuse("error.measure-missing", missing[0])
    if tub.floor_area_cm2 is not None and tub.volume_l is None:
        raise place.refuse("error.area-alone", "floor_area")
    if tub.volume_l is not None and tub.volume_measured is None:
        place.assume("assume.recipe.volume-by-eye", "volume_measured")
    if wish.bathers == "nobody" and tub.bathers_in_tub > 0:
        raise place.refuse("error.bathers-but-nobody", "bathers_in_tub")
    children = wish.bathers == "child" or wish.child_age_years is not None
    read = {**dict(tub), "foam_cover": tub.foam_cover or 0.0}
    sitting = read.pop("bathers_in_tub")
    return inputs.TubInputs(
        **read,
        adults_in_tub=0 if children else sitting,
        children_in_tub=sitting if children else 0,
    )


def _water(water: models.WaterTable, place: Place) -> WaterReadings:
    for key in ("alkalinity", "hardness", "carbonate_hardness"):
        text = place.written.get(key)
        if text is not None and q.counts_as_calcium_carbonate(text, f"water.{key}"):
            values = {"reading": text, "what": key.replace("_", " ")}
            place.assume("assume.recipe.as-calcium-carbonate", key, **values)
    if water.alkalinity_meq_l is not None and water.bicarbonate_mmol_l is not None:
        raise place.refuse("error.alkalinity-twice", "bicarbonate")
    if water.alkalinity_meq_l is None and water.thinned is not None:
        raise place.refuse("error.thinned-alone", "thinned")
    ends = _ends_of_jar_test(water, place)
    like = (
        WaterReadings()
        if water.like is None
        else tap_water.typical_water(water.like.replace(" ", "-"))
    )
    names = ("carbonate_hardness_meq_l", "hardness_mmol_l", "ph", *map("{}_mmol_l".format, ions()))
    read = {name: number for name, number in water if name in names and number is not None}
    bicarbonate = read.pop("bicarbonate_mmol_l", None)
    if {"calcium_mmol_l", "magnesium_mmol_l"} & set(read):
        # The hardness of a typical water would only contradict the ions that were read.
        read.setdefault("hardness_mmol_l", None)
    shown = bicarbonate if water.alkalinity_meq_l is None else water.alkalinity_meq_l
    if shown is None and (water.instrument in OF_ONES_OWN or water.drop_step_meq_l is not None):
        # A kit or strip sold for carbonate hardness takes acid up to the same end: alkalinity.
        shown = read.pop("carbonate_hardness_meq_l", None)
    taken, step = _without_half_a_drop(water, shown, place)
    if shown is not None:
        thinned = water.thinned or 1.0
        read |= {"alkalinity_meq_l": thinned * taken, "thinned": thinned, "drop_step_meq_l": step}
        read |= {"alkalinity_low_meq_l": ends[0], "alkalinity_high_meq_l": ends[1]}
        # Else nobody read what the dose hangs on; the spread is that of a typical water.
        read["instrument"] = _instrument(water, place)
    temperature = water.reading_temperature_c
    read["reading_temperature_c"] = READING_TEMPERATURE_C if temperature is None else temperature
    hangs_on = {"alkalinity_meq_l", "carbonate_hardness_meq_l"}
    return replace(like, **read, typical=water.like is not None and not hangs_on & set(read))


def _ends_of_jar_test(water: models.WaterTable, place: Place) -> tuple[float | None, float | None]:
    """What a jar test left open of the alkalinity [meq/L]."""
    low, high = water.alkalinity_low_meq_l, water.alkalinity_high_meq_l
    if low is None and high is None:
        return None, None
    best = water.alkalinity_meq_l
    between = low is not None and high is not None and best is not None and low <= best <= high
    if not between or water.instrument not in JAR_TESTS:
        raise place.refuse(
            "error.alkalinity-ends", f"alkalinity_{'high' if low is None else 'low'}"
        )
    return low, high


def _without_half_a_drop(
    water: models.WaterTable, shown: float | None, place: Place
) -> tuple[float, float | None]:
    """Alkalinity that a count of whole drops most likely means, and what a drop is [meq/L]."""
    step = water.drop_step_meq_l
    if step is not None and water.instrument not in (None, "drop kit"):
        raise place.refuse("error.step-of-no-kit", "drop_step", instrument=water.instrument)
    if step is not None and shown is None:
        raise place.refuse("error.step-alone", "drop_step")
    if shown is None or (step is None and water.instrument != "drop kit"):
        return shown or 0.0, None
    drop = float(tap_water.usual_drop_step_meq_l(shown)) if step is None else step
    taken = float(tap_water.drops_counted_meq_l(shown, drop))
    code = "assume.recipe.drop-step" if step is None else "assume.recipe.half-drop"
    in_ppm = {"step_ppm": drop, "ppm": (water.thinned or 1.0) * taken}
    told = {name: float(alkalinity_in(meq_l, "ppm")) for name, meq_l in in_ppm.items()}
    place.assume(code, "drop_step", **told)
    return taken, drop


def _instrument(water: models.WaterTable, place: Place) -> str:
    if water.instrument == "not named":
        place.assume("assume.recipe.not-named", "alkalinity")
    if water.instrument is not None:
        return water.instrument.replace(" ", "-")
    if water.drop_step_meq_l is not None:
        return "drop-kit"
    place.assume("assume.recipe.instrument", "instrument")
    return "strip"


def _bath_temperature(water: models.WaterTable, place: Place) -> float:
    if water.temperature_c is not None:
        return water.temperature_c
    place.assume("assume.recipe.temperature", "temperature", temperature_c=BATH_TEMPERATURE_C)
    return BATH_TEMPERATURE_C


def _foam_bath(foam: models.FoamBathTable, place: Place) -> inputs.FoamBathInputs | None:
    amount_ml = foam.amount.value
    if foam.amount.kind == "mass":
        amount_ml /= typical("foam_bath_density").value
    if foam.titratable_meq_kg is not None:
        _check_titration(foam.titratable_meq_kg, foam.ph, place)
    active = {kind: 100.0 * share for kind, share in (foam.surfactants or {}).items()}
    if sum(active.values()) > _ALL_PERCENT:
        raise place.refuse("error.surfactants", "surfactants")
    if amount_ml <= 0:
        return None
    surfactants = None if foam.surfactants is None else tuple(sorted(active.items()))
    return inputs.FoamBathInputs(amount_ml, foam.ph, foam.titratable_meq_kg, surfactants)


def _check_titration(meq_kg: float, ph: float | None, place: Place) -> None:
    """Refuse a titration from an unknown pH, or one with the sign of the other direction."""
    if ph is None:
        raise place.refuse("error.titratable-without-ph", "titratable")
    if meq_kg * (ph - _TITRATED_TO_PH) < 0 or (ph == _TITRATED_TO_PH and meq_kg != 0):
        raise place.refuse("error.titratable-sign", "titratable", ph=ph, end=_TITRATED_TO_PH)


def _activator(
    activator: models.ActivatorTable, place: Place, sitting: int
) -> inputs.ActivatorInputs:
    if activator.parts is None:
        place.assume("assume.recipe.activator", "parts")
    parts = activator.parts or names.PowderParts({ACTIVATOR: 1.0})
    return inputs.ActivatorInputs(
        parts.by_powder,
        parts_spread=parts.spread,
        pouring=activator.pouring,
        poured=activator.poured or ("beside" if sitting > 0 else "before"),
        weighed_with=activator.weighed_with.replace(" ", "-"),
    )


def _wish(wish: models.WishTable, place: Place) -> inputs.WishInputs:
    if wish.child_age_years is None:
        return inputs.WishInputs(**dict(wish))
    if wish.bathers in ("adult", "nobody"):
        raise place.refuse("error.age-without-child", "child_age", bathers=wish.bathers)
    return inputs.WishInputs(**{**dict(wish), "bathers": "child"})
