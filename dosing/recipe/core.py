"""From what a recipe says to plain numbers in core units, with what had to be assumed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from dosing.bath.inputs import (
    ActivatorInputs,
    ColourInputs,
    FoamBathInputs,
    RecipeInputs,
    TubInputs,
    WishInputs,
)
from dosing.ingredients.hardness_units import alkalinity_in, ions
from dosing.ingredients.trade_values import typical
from dosing.ingredients.water import WaterReadings
from dosing.recipe import quantities as q
from dosing.recipe.colour_strength import (
    as_millilitres,
    in_drops,
    refuse_steeping,
    steeped_strength,
    tested_drops,
)
from dosing.recipe.models import Activator, Colour, FoamBath, Recipe, Tub, Water, Wish
from indicator.notes import Note, Value, say
from indicator.pigments import (
    Colourant,
    Pigments,
    colourant_names,
    dye_molarity,
    infusion_strength,
    own_pigments,
)
from indicator.tables import DataError

BATH_TEMPERATURE_C = 38.0
READING_TEMPERATURE_C = 25.0
PETALS_PERCENT = 2.0
"""Strength of an infusion that nobody stated; common practice, no source."""
ACTIVATOR = "citric-acid-anhydrous"
# A titration to pH 4.5, as the recipe asks for it.
_TITRATED_TO_PH = 4.5
_ML_PER_L = 1000.0
_ALL_PERCENT = 100.0
_UNITS = {"volume": "mL", "mass": "g"}
_LARGEST_PART = 1e6
_G_PER_L_AT_ONE_PERCENT = 10.0


def recipe_inputs(recipe: Recipe, pigments: Pigments | None = None) -> RecipeInputs:
    """Plain numbers of a recipe.

    Parameters
    ----------
    recipe : Recipe
        As read from the file.
    pigments : Pigments, optional
        What the maker can name; the shipped ones and those of the usual own folder if not given.

    Raises
    ------
    InputError
        If a quantity or a name cannot be used; the sentence names field, value and what is
        accepted.
    """
    notes: list[Note] = []
    known = own_pigments() if pigments is None else pigments
    foam = _foam_bath(recipe.foam_bath)
    return RecipeInputs(
        title=recipe.title,
        tub=_tub(recipe.tub, recipe.wish, notes),
        water=_water(recipe.water, notes),
        water_temperature_c=_bath_temperature(recipe.water, notes),
        foam_bath=foam,
        colours=_colours(recipe.colour, known, foam, _light(recipe.wish.light), notes),
        activator=_activator(recipe.activator, recipe.tub, notes),
        wish=_wish(recipe.wish),
        assumptions=tuple(notes),
    )


def _tub(tub: Tub, wish: Wish, notes: list[Note]) -> TubInputs:
    measures = {"length": tub.length, "width": tub.width, "fill": tub.fill}
    given = [name for name, text in measures.items() if text is not None]
    if given and tub.volume is not None:
        raise q.refuse("error.volume-twice", f"tub.{given[0]}", measures[given[0]], "")
    if given and len(given) < len(measures):
        missing = next(name for name, text in measures.items() if text is None)
        raise q.refuse("error.measure-missing", f"tub.{missing}", None, "")
    if tub.floor_area is not None and tub.volume is None:
        raise q.refuse("error.area-alone", "tub.floor_area", tub.floor_area, "")
    if tub.volume is not None and tub.volume_measured is None:
        notes.append(Note("assume.recipe.volume-by-eye", {}, "tub.volume_measured"))
    if wish.bathers == "nobody" and tub.bathers_in_tub > 0:
        raise q.refuse("error.bathers-but-nobody", "tub.bathers_in_tub", tub.bathers_in_tub, "")
    children = wish.bathers != "adult" and (wish.bathers == "child" or wish.child_age is not None)
    return TubInputs(
        volume_l=None if tub.volume is None else q.volume_l(tub.volume, "tub.volume"),
        length_cm=None if tub.length is None else q.length_cm(tub.length, "tub.length"),
        width_cm=None if tub.width is None else q.length_cm(tub.width, "tub.width"),
        fill_cm=None if tub.fill is None else q.length_cm(tub.fill, "tub.fill"),
        floor_area_cm2=(
            None if tub.floor_area is None else q.area_cm2(tub.floor_area, "tub.floor_area")
        ),
        volume_measured=tub.volume_measured,
        floor=tub.floor,
        cloud=tub.cloud,
        foam_cover=0.0 if tub.foam_cover is None else q.share(tub.foam_cover, "tub.foam_cover"),
        adults_in_tub=0 if children else tub.bathers_in_tub,
        children_in_tub=tub.bathers_in_tub if children else 0,
    )


def _water(water: Water, notes: list[Note]) -> WaterReadings:
    from dosing.ingredients.water import typical_water

    readings = WaterReadings()
    if water.like is not None:
        readings = typical_water(water.like.replace(" ", "-"))
    for name in ("alkalinity", "hardness", "carbonate_hardness"):
        text = getattr(water, name)
        if text is not None and q.counts_as_calcium_carbonate(text, f"water.{name}"):
            values = {"reading": text, "what": name.replace("_", " ")}
            notes.append(Note("assume.recipe.as-calcium-carbonate", values, f"water.{name}"))
    if water.alkalinity is not None:
        if water.bicarbonate is not None:
            raise q.refuse("error.alkalinity-twice", "water.bicarbonate", water.bicarbonate, "")
        alkalinity = q.alkalinity_meq_l(water.alkalinity, "water.alkalinity")
        thinned = _thinned(water)
        readings = replace(readings, alkalinity_meq_l=thinned * alkalinity, thinned=thinned)
    elif water.thinned is not None:
        raise q.refuse("error.thinned-alone", "water.thinned", str(water.thinned), "")
    if water.bicarbonate is not None:
        bicarbonate = q.ion_mmol_l(water.bicarbonate, "bicarbonate", "water.bicarbonate")
        readings = replace(readings, alkalinity_meq_l=bicarbonate)
    readings = _without_half_a_drop(water, readings, notes)
    if water.carbonate_hardness is not None:
        carbonate = q.alkalinity_meq_l(water.carbonate_hardness, "water.carbonate_hardness")
        readings = replace(readings, carbonate_hardness_meq_l=carbonate)
    if water.hardness is not None:
        hardness = q.hardness_mmol_l(water.hardness, "water.hardness")
        readings = replace(readings, hardness_mmol_l=hardness)
    read: dict[str, Any] = {
        f"{ion}_mmol_l": q.ion_mmol_l(text, ion, f"water.{ion}")
        for ion in ions()
        if ion != "bicarbonate" and (text := getattr(water, ion)) is not None
    }
    if water.hardness is None and {"calcium_mmol_l", "magnesium_mmol_l"} & set(read):
        # The hardness of a typical water would only contradict the ions that were read.
        readings = replace(readings, hardness_mmol_l=None)
    if water.ph is not None:
        readings = replace(readings, ph=q.ph(water.ph, "water.ph"))
    temperature = READING_TEMPERATURE_C
    if water.reading_temperature is not None:
        temperature = q.temperature_c(water.reading_temperature, "water.reading_temperature")
    readings = replace(readings, reading_temperature_c=temperature, **read)
    return replace(readings, instrument=_instrument(water, readings, notes))


def _without_half_a_drop(water: Water, readings: WaterReadings, notes: list[Note]) -> WaterReadings:
    """The readings with the alkalinity that a count of whole drops most likely means."""
    from dosing.ingredients.water import drops_counted_meq_l, usual_drop_step_meq_l

    step, read = water.drop_step, readings.alkalinity_meq_l
    if step is not None:
        if water.instrument not in (None, "drop kit"):
            values = {"instrument": water.instrument}
            raise q.refuse("error.step-of-no-kit", "water.drop_step", step, "", **values)
        if water.alkalinity is None and water.bicarbonate is None:
            raise q.refuse("error.step-alone", "water.drop_step", step, "")
    elif water.instrument != "drop kit" or (water.alkalinity is None and water.bicarbonate is None):
        return readings
    assert read is not None
    shown = float(np.asarray(read)) / readings.thinned
    drop = float(usual_drop_step_meq_l(shown)) if step is None else q.drop_step_meq_l(step)
    taken = readings.thinned * float(drops_counted_meq_l(shown, drop))
    told = {
        "step_ppm": float(alkalinity_in(drop, "ppm")),
        "ppm": float(alkalinity_in(taken, "ppm")),
    }
    code = "assume.recipe.drop-step" if step is None else "assume.recipe.half-drop"
    notes.append(Note(code, told, "water.drop_step"))
    return replace(readings, alkalinity_meq_l=taken, drop_step_meq_l=drop)


def _thinned(water: Water) -> float:
    """How many times the water of the strip was thinned."""
    return 1.0 if water.thinned is None else q.thinned(water.thinned, "water.thinned")


def _instrument(water: Water, readings: WaterReadings, notes: list[Note]) -> str | None:
    if water.alkalinity is None and water.bicarbonate is None:
        # Nobody read what the dose hangs on; the spread is that of a typical water.
        return readings.instrument
    if water.instrument is None and water.drop_step is not None:
        return "drop-kit"
    if water.instrument is None:
        notes.append(Note("assume.recipe.instrument", {}, "water.instrument"))
        return "strip"
    return water.instrument.replace(" ", "-")


def _bath_temperature(water: Water, notes: list[Note]) -> float:
    if water.temperature is not None:
        return q.temperature_c(water.temperature, "water.temperature")
    values = {"temperature_c": BATH_TEMPERATURE_C}
    notes.append(Note("assume.recipe.temperature", values, "water.temperature"))
    return BATH_TEMPERATURE_C


def _foam_bath(foam: FoamBath | None) -> FoamBathInputs | None:
    if foam is None:
        return None
    amount = q.amount(foam.amount, "foam_bath.amount")
    density = typical("foam_bath_density").value
    millilitres = amount.value if amount.kind == "volume" else amount.value / density
    ph = None if foam.ph is None else q.ph(foam.ph, "foam_bath.ph")
    titratable = None
    if foam.titratable is not None:
        titratable = q.titratable_meq_kg(foam.titratable, "foam_bath.titratable")
        _check_titration(foam, ph, titratable)
    surfactants = None if foam.surfactants is None else _surfactants(foam.surfactants)
    if millilitres <= 0:
        return None
    return FoamBathInputs(millilitres, ph, titratable, surfactants)


def _surfactants(written: Mapping[Any, str]) -> tuple[tuple[str, float], ...]:
    found = {
        kind: 100.0 * q.share(text, f"foam_bath.surfactants.{kind}")
        for kind, text in written.items()
    }
    if sum(found.values()) > _ALL_PERCENT:
        raise q.refuse("error.surfactants", "foam_bath.surfactants", dict(written), "")
    return tuple(sorted(found.items()))


def _check_titration(foam: FoamBath, ph: float | None, titratable: float) -> None:
    if ph is None:
        raise q.refuse("error.titratable-without-ph", "foam_bath.titratable", foam.titratable, "")
    if titratable * (ph - _TITRATED_TO_PH) < 0 or (ph == _TITRATED_TO_PH and titratable != 0):
        values = {"ph": ph, "end": _TITRATED_TO_PH}
        field = "foam_bath.titratable"
        raise q.refuse("error.titratable-sign", field, foam.titratable, "", **values)


def _colours(
    colours: list[Colour],
    pigments: Pigments,
    foam: FoamBathInputs | None,
    light: str,
    notes: list[Note],
) -> tuple[ColourInputs, ...]:
    found = []
    for number, colour in enumerate(colours, start=1):
        place = "colour" if len(colours) == 1 else f"colour[{number}]"
        which = _colourant(colour, place, pigments)
        found.append(_colour(colour, place, which, foam, light, notes))
    return tuple(colour for colour in found if colour.content > 0)


def _colour(
    colour: Colour,
    place: str,
    which: Colourant,
    foam: FoamBathInputs | None,
    light: str,
    notes: list[Note],
) -> ColourInputs:
    made = _brought(colour, place, which, light, notes)
    if colour.held_in == "foam bath":
        if foam is None:
            raise q.refuse("error.no-foam-bath", f"{place}.held_in", colour.held_in, "")
        if made.volume_l * _ML_PER_L > foam.amount_ml:
            values = {"foam_ml": foam.amount_ml}
            raise q.refuse("error.more-than-foam", f"{place}.amount", colour.amount, "", **values)
    return replace(made, held_in=colour.held_in, preserved=colour.preserved)


def _brought(
    colour: Colour, place: str, which: Colourant, light: str, notes: list[Note]
) -> ColourInputs:
    """What a colour brings, by volume, mass or drops."""
    if which.kind == "dye":
        refuse_steeping(colour, place, "error.steeped-dye")
    if colour.drop_test is not None:
        return tested_drops(colour, colour.drop_test, place, which, light, notes)
    amount = q.colour_amount(colour.amount, f"{place}.amount")
    dropped = amount.kind == "drops"
    written = as_millilitres(colour, place, amount.value, notes) if dropped else colour
    if which.kind == "pigment":
        made = _pigment(written, place, which, notes)
    else:
        made = _dye(written, place, which)
    return in_drops(made, amount.value) if dropped else made


def _colourant(colour: Colour, place: str, pigments: Pigments) -> Colourant:
    """The pigment or dye that is named."""
    if (colour.pigment is None) == (colour.dye is None):
        both = colour.pigment is not None
        code = "error.pigment-and-dye" if both else "error.colour-without-name"
        raise q.refuse(code, f"{place}.pigment", colour.pigment, ", ".join(colourant_names()))
    key = "pigment" if colour.pigment is not None else "dye"
    written = colour.pigment or colour.dye or ""
    try:
        known = pigments.find(written)
    except DataError as error:
        raise q.InputError(str(error), f"{place}.{key}", written) from None
    except ValueError as error:
        raise _unknown(f"{place}.{key}", written, pigments.names, error) from None
    if known.kind != key:
        values = {"label": known.label, "kind": known.kind}
        raise q.refuse("error.other-kind", f"{place}.{key}", written, known.kind, **values)
    return known


def _pigment(colour: Colour, place: str, pigment: Colourant, notes: list[Note]) -> ColourInputs:
    amount = q.amount(colour.amount, f"{place}.amount")
    strength = _strength(colour, place)
    if strength is None:
        strength = q.ColourStrength("percent", PETALS_PERCENT)
        if amount.kind == "volume":
            values: dict[str, Value] = {"percent": PETALS_PERCENT, "colour": pigment.name}
            notes.append(Note("assume.recipe.infusion-strength", values, f"{place}.strength"))
    measured = strength.kind == "absorbance"
    if measured and amount.kind == "mass":
        raise q.refuse("error.petals-by-absorbance", f"{place}.strength", colour.strength, "2 %")
    steeped = steeped_strength(colour, place, pigment, strength, notes)
    if steeped is not None:
        per_cm = steeped[0]
    else:
        per_cm = strength.value if measured else float(infusion_strength(pigment, strength.value))
    if amount.kind == "volume":
        litres = amount.value / _ML_PER_L
    else:
        grams_per_l = strength.value * _G_PER_L_AT_ONE_PERCENT
        if grams_per_l == 0:
            raise q.refuse(
                "error.petals-without-strength", f"{place}.strength", colour.strength, ""
            )
        litres = amount.value / grams_per_l
        if colour.strength is None:
            brewed: dict[str, Value] = {"litres": litres, "percent": PETALS_PERCENT}
            notes.append(Note("assume.recipe.petals-brewed", brewed, f"{place}.strength"))
    return ColourInputs(
        pigment,
        content=per_cm * litres,
        amount=amount.value,
        amount_unit=_UNITS[amount.kind],
        volume_l=litres,
        bottle_strength=per_cm,
        petals_percent=None if measured else strength.value,
        strength_measured=measured,
        strength_sd=None if steeped is None else steeped[1],
    )


def _dye(colour: Colour, place: str, dye: Colourant) -> ColourInputs:
    amount = q.amount(colour.amount, f"{place}.amount")
    strength = _strength(colour, place)
    if amount.kind == "mass":
        if strength is not None:
            raise q.refuse("error.dye-powder-strength", f"{place}.strength", colour.strength, "")
        # Weighed as powder: a mass is as good as a reading.
        moles = float(dye_molarity(dye, amount.value))
        return ColourInputs(
            dye,
            content=moles,
            amount=amount.value,
            amount_unit=_UNITS[amount.kind],
            strength_measured=True,
        )
    if strength is None or strength.kind != "percent":
        code = "error.dye-strength"
        raise q.refuse(code, f"{place}.strength", colour.strength, say("error.accepted.percent"))
    molarity = float(dye_molarity(dye, strength.value * _G_PER_L_AT_ONE_PERCENT))
    litres = amount.value / _ML_PER_L
    return ColourInputs(
        dye,
        content=molarity * litres,
        amount=amount.value,
        amount_unit=_UNITS[amount.kind],
        volume_l=litres,
        bottle_strength=molarity,
        strength_measured=True,
    )


def _strength(colour: Colour, place: str) -> q.ColourStrength | None:
    if colour.strength is None:
        return None
    return q.colour_strength(colour.strength, f"{place}.strength")


def _activator(activator: Activator | None, tub: Tub, notes: list[Note]) -> ActivatorInputs:
    occupied = "beside" if tub.bathers_in_tub > 0 else "before"
    written = activator or Activator()
    if written.parts is None:
        notes.append(Note("assume.recipe.activator", {}, "activator.parts"))
    parts = {ACTIVATOR: 1.0} if written.parts is None else _parts(written.parts)
    return ActivatorInputs(
        parts,
        pouring=written.pouring,
        poured=written.poured or occupied,
        weighed_with=written.weighed_with.replace(" ", "-"),
    )


def _parts(written_parts: Mapping[str, float | str]) -> dict[str, float]:
    from dosing.ingredients.powders import powder, powder_names

    parts: dict[str, float] = {}
    for written, part in written_parts.items():
        try:
            name = powder(re.sub(r"[\s_]+", "-", written.strip().casefold())).name
        except ValueError as error:
            raise _unknown("activator.parts", written, powder_names(), error) from None
        parts[name] = parts.get(name, 0.0) + _part(written, part)
    if not sum(parts.values()) > 0:
        raise q.refuse("error.no-powder", "activator.parts", dict(written_parts), "")
    return parts


def _part(powder: str, part: float | str) -> float:
    text = str(part).strip().casefold()
    match = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*(?:%|percent|per cent|parts?|g)?", text)
    value = float(match[1].replace(",", ".")) if match else float("nan")
    if isinstance(part, float):
        value = part
    if not 0 <= value <= _LARGEST_PART:
        accepted = f"0 to {_LARGEST_PART:.0f}"
        raise q.refuse("error.part", f"activator.parts.{powder}", part, accepted)
    return value


def _wish(wish: Wish) -> WishInputs:
    target = None if wish.target is None else _target(wish.target)
    age = None
    bathers: str | None = wish.bathers
    if wish.child_age is not None:
        if bathers in ("adult", "nobody"):
            values = {"bathers": bathers}
            raise q.refuse(
                "error.age-without-child", "wish.child_age", wish.child_age, "", **values
            )
        age, bathers = q.age_years(wish.child_age, "wish.child_age"), "child"
        if age >= 18:
            raise q.refuse("error.age-of-an-adult", "wish.child_age", wish.child_age, "")
    return WishInputs(
        target=target,
        bathers=bathers,
        child_age_years=age,
        purpose=wish.purpose,
        market=wish.market,
        view=wish.view,
        light=_light(wish.light),
        observer_deg=wish.observer,
    )


def _target(target: float | str) -> str:
    from indicator.words import colour_words, parse_target

    text = f"{target:g}" if isinstance(target, float) else target
    try:
        parse_target(text)
    except ValueError:
        accepted = ", ".join(colour_words())
        raise q.refuse("error.target", "wish.target", target, accepted) from None
    return text


def _light(written: str) -> str:
    from indicator.appearance import UnknownLightError, light_name

    try:
        return light_name(written)
    except UnknownLightError as error:
        hint = "" if error.nearest is None else say("error.near", {"name": error.nearest})
        accepted = error.accepted
        raise q.refuse("error.choice", "wish.light", written, accepted, hint=hint) from None


def _unknown(field: str, written: str, known: tuple[str, ...], error: ValueError) -> q.InputError:
    near = re.search(r"did you mean '([^']+)'", str(error))
    hint = say("error.near", {"name": near[1]}) if near else ""
    return q.refuse("error.choice", field, written, ", ".join(known), hint=hint)
