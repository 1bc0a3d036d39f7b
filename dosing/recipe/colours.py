"""Contents of the colours of a recipe: by volume, by mass, as steeped, or by drops in water."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Literal

from dosing.bath.inputs import ColourInputs, FoamBathInputs
from dosing.bath.spreads import strength_sd
from dosing.ingredients.trade_values import reading_spread, typical
from dosing.recipe.models import ColourTable, DropTestTable, RecipeFile
from dosing.recipe.names import known_colourant
from dosing.recipe.place import Place
from dosing.recipe.quantities import Amount, ColourStrength
from dosing.recipe.quantities.dry_goods import dry_goods
from indicator.colourants import Colourant
from indicator.notes import Note, Value, say
from indicator.pigments import Pigments, colourant_names, dye_molarity, infusion_strength

PETALS_PERCENT = 2.0
"""Strength of an infusion that nobody stated; common practice, no source."""
_ML_PER_L = 1000.0
_G_PER_L_AT_ONE_PERCENT = 10.0
_UNITS = {"volume": "mL", "mass": "g"}


def colours_of(
    recipe: RecipeFile,
    foam: FoamBathInputs | None,
    pigments: Pigments,
    written: Mapping[str, Any],
    notes: list[Note],
) -> tuple[ColourInputs, ...]:
    """Content and volume that each colour of a recipe brings into the tub.

    Parameters
    ----------
    recipe : RecipeFile
        As read from the file.
    foam : FoamBathInputs or None
        Foam bath, in which a colour may stand.
    pigments : Pigments
        What the maker can name.
    written : mapping
        The tables as they are written.
    notes : list of Note
        What is assumed is added.

    Returns
    -------
    tuple of ColourInputs
        Those of which anything goes in.

    Raises
    ------
    InputError
        If what is said of a colour does not go together.
    """
    brought = []
    for number, colour in enumerate(recipe.colour, start=1):
        name = "colour" if len(recipe.colour) == 1 else f"colour[{number}]"
        place = Place(name, written["colour"][number - 1], notes)
        made = _brought(colour, pigments, recipe.wish.light, place)
        if colour.held_in == "foam bath":
            if foam is None:
                raise place.refuse("error.no-foam-bath", "held_in")
            if made.volume_l * _ML_PER_L > foam.amount_ml:
                raise place.refuse("error.more-than-foam", "amount", foam_ml=foam.amount_ml)
        brought.append(replace(made, held_in=colour.held_in, preserved=colour.preserved))
    return tuple(made for made in brought if made.content > 0)


def _brought(colour: ColourTable, pigments: Pigments, light: str, place: Place) -> ColourInputs:
    if (colour.pigment is None) == (colour.dye is None):
        both = colour.pigment is not None
        code = "error.pigment-and-dye" if both else "error.colour-without-name"
        raise place.refuse(code, "pigment", ", ".join(colourant_names()))
    kind: Literal["pigment", "dye"] = "dye" if colour.pigment is None else "pigment"
    which = known_colourant(colour.pigment or colour.dye or "", place.at(kind), kind, pigments)
    if kind == "dye":
        _refuse_steeping(place, "error.steeped-dye")
    if colour.drop_test is not None:
        return _tested_drops(which, colour, colour.drop_test, light, place)
    amount = _weighed(colour, which, place)
    bring = _dye if kind == "dye" else _pigment
    made = bring(which, colour, amount, place)
    if amount.spread > 0:
        made = replace(made, strength_sd=math.hypot(strength_sd(made), amount.spread))
    if colour.amount.kind == "drops":
        made = replace(made, amount=colour.amount.value, amount_unit="drops")
    return made


def _weighed(colour: ColourTable, which: Colourant, place: Place) -> Amount:
    """Drops as the volume [mL], and spoons of dry petals as the mass [g], that they likely are."""
    amount = colour.amount
    written = str(place.written["amount"])
    if which.kind == "pigment" and amount.kind == "volume" and re.search("(?i)sp|cup", written):
        raise place.refuse("error.brew-or-petals", "amount", written, millilitres=amount.value)
    if amount.kind == "drops":
        if colour.strength is None:
            raise place.refuse("error.drops-without-strength", "amount")
        volume_ml = typical("drop_volume").value
        place.assume("assume.recipe.drop-volume", "amount", volume=volume_ml)
        spread = reading_spread("drop", "dropper").sd_relative
        return Amount("volume", amount.value * volume_ml, spread)
    if amount.kind == "dry":
        goods = dry_goods()["dye" if which.kind == "dye" else amount.goods or "petals"]
        grams = amount.value * goods.bulk_g_ml
        spread = math.hypot(amount.spread, goods.spread)
        place.assume("assume.recipe.spoons", "amount", grams=grams, spread=spread)
        return Amount("mass", grams, spread)
    return amount


def _pigment(which: Colourant, colour: ColourTable, amount: Amount, place: Place) -> ColourInputs:
    said = colour.strength
    strength = said or ColourStrength("percent", PETALS_PERCENT)
    measured = strength.kind == "absorbance"
    litres = amount.value / _ML_PER_L
    if amount.kind == "mass":
        if measured:
            raise place.refuse("error.petals-by-absorbance", "strength", "2 %")
        if strength.value == 0:
            raise place.refuse("error.petals-without-strength", "strength")
        litres = amount.value / (strength.value * _G_PER_L_AT_ONE_PERCENT)
        if said is None:
            brewed = {"litres": litres, "percent": PETALS_PERCENT}
            place.assume("assume.recipe.petals-brewed", "strength", **brewed)
    elif said is None:
        assumed: dict[str, Value] = {"percent": PETALS_PERCENT, "colour": which.name}
        place.assume("assume.recipe.infusion-strength", "strength", **assumed)
    steeped = _steeped_strength(which, colour, strength, place)
    if steeped is not None:
        per_cm = steeped[0]
    else:
        per_cm = strength.value if measured else float(infusion_strength(which, strength.value))
    return ColourInputs(
        which,
        content=per_cm * litres,
        amount=amount.value,
        amount_unit=_UNITS[amount.kind],
        volume_l=litres,
        bottle_strength=per_cm,
        petals_percent=None if measured else strength.value,
        strength_measured=measured,
        strength_sd=None if steeped is None else steeped[1],
    )


def _dye(which: Colourant, colour: ColourTable, amount: Amount, place: Place) -> ColourInputs:
    strength, molarity, litres = colour.strength, None, 0.0
    if amount.kind == "mass":
        if strength is not None:
            raise place.refuse("error.dye-powder-strength", "strength")
        moles = float(dye_molarity(which, amount.value))
    else:
        if strength is None or strength.kind != "percent":
            raise place.refuse("error.dye-strength", "strength", say("error.accepted.dye-percent"))
        molarity = float(dye_molarity(which, strength.value * _G_PER_L_AT_ONE_PERCENT))
        litres = amount.value / _ML_PER_L
        moles = molarity * litres
    return ColourInputs(
        which,
        content=moles,
        amount=amount.value,
        amount_unit=_UNITS[amount.kind],
        volume_l=litres,
        bottle_strength=molarity,
        # Dyes are weighed: a mass is as good as a reading.
        strength_measured=True,
    )


def _steeped_strength(
    which: Colourant, colour: ColourTable, strength: ColourStrength, place: Place
) -> tuple[float, float] | None:
    """Strength [1/cm] and its relative standard deviation, as steeped; None if not said how."""
    from dosing.bottle.steeping import infusion, steeping_notes, steeping_value

    written = [key for key in ("steeped_at", "steeped_for") if key in place.written]
    if not written:
        return None
    if strength.kind != "percent":
        raise place.refuse("error.steeped-measured", written[0], say("error.accepted.percent"))
    celsius, minutes = (
        steeping_value(usual) if said is None else said
        for said, usual in (
            (colour.steeped_at_c, "usual_temperature"),
            (colour.steeped_for_min, "usual_minutes"),
        )
    )
    made = infusion(which, strength.value, celsius, minutes)
    best, low, high = (float(each) for each in (made.best, made.low, made.high))
    told = {"temperature": celsius, "minutes": minutes, "strength": best, "low": low, "high": high}
    place.assume("assume.recipe.steeped", written[0], **told)
    place.notes.extend(steeping_notes(which, strength.value, celsius, minutes))
    return best, float(made.relative_sd)


def _refuse_steeping(place: Place, code: str) -> None:
    """Refuse the keys of steeping where they have no meaning."""
    for key in ("steeped_at", "steeped_for"):
        if key in place.written:
            raise place.refuse(code, key)


def _tested_drops(
    which: Colourant, colour: ColourTable, test: DropTestTable, light: str, place: Place
) -> ColourInputs:
    """What drops bring whose strength a test in plain water told."""
    if colour.amount.kind != "drops":
        raise place.refuse("error.drop-test-amount", "amount")
    if colour.strength is not None:
        raise place.refuse("error.drop-test-strength", "strength")
    _refuse_steeping(place, "error.drop-test-strength")
    drops = colour.amount.value
    inside = Place(place.at("drop_test"), place.written["drop_test"], place.notes)
    strength, spread = _water_strength(which, test, light, inside)
    place.assume("assume.recipe.drop-test", "drop_test", spread=spread)
    return ColourInputs(
        which,
        content=drops * strength * test.water_l / test.drops,
        amount=drops,
        amount_unit="drops",
        volume_l=drops * typical("drop_volume").value / _ML_PER_L,
        strength_measured=True,
        strength_sd=spread,
    )


def _water_strength(
    which: Colourant, test: DropTestTable, light: str, place: Place
) -> tuple[float, float]:
    """Strength of the test water and its relative standard deviation."""
    from dosing.bottle.drops import water_by_absorbance

    if (test.colour is None) == (test.absorbance_per_cm is None):
        raise place.refuse("error.drop-test-reading", "")
    ph = typical("tap_ph").value if test.ph is None else test.ph
    if test.ph is None and which.kind == "pigment":
        place.assume("assume.recipe.drop-test-ph", "ph", ph=ph)
    if test.absorbance_per_cm is None:
        return _by_colour(which, test, ph, light, place)
    if test.path_cm is not None:
        raise place.refuse("error.drop-test-path", "path")
    if test.absorbance_per_cm == 0:
        raise place.refuse("error.drop-absorbance", "absorbance")
    water = water_by_absorbance(which, test.absorbance_per_cm, ph)
    return water.strength, water.relative_sd


def _by_colour(
    which: Colourant, test: DropTestTable, ph: float, light: str, place: Place
) -> tuple[float, float]:
    from dosing.bottle.drops import water_by_colour
    from indicator.words import threshold

    if test.path_cm is None:
        raise place.refuse("error.drop-test-width", "colour")
    try:
        water = water_by_colour(which, str(test.colour), test.path_cm, ph, light)
    except ValueError:
        raise place.refuse("error.drop-colour", "colour", "#F3EFA0") from None
    share = typical("drop_colour_share").value * water.from_clear_delta_e
    tolerated = min(typical("drop_colour_tolerance").value, share)
    refused = {
        "error.drop-colour-pale": water.from_clear_delta_e < threshold("visible"),
        "error.drop-colour-other": water.nearest_delta_e > tolerated,
        "error.drop-colour-dull": water.relative_sd > typical("drop_worst_sd").value,
    }
    for code in (code for code, wrong in refused.items() if wrong):
        nearest, away = water.nearest_hex, water.nearest_delta_e
        raise place.refuse(code, "colour", colour=which.label, nearest=nearest, away=away)
    return water.strength, water.relative_sd
