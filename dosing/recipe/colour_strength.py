"""How strong a colour of a recipe is: by how it was steeped, or by a few drops in a litre."""

from __future__ import annotations

import math

from dosing.bath.inputs import ColourInputs
from dosing.ingredients.trade_values import reading_spread, typical
from dosing.recipe import quantities as q
from dosing.recipe.models import Colour, DropTest
from indicator.colourants import Colourant
from indicator.notes import Note, Value, say

_ML_PER_L = 1000.0
_MOST_TEST_DROPS = 1000.0


def steeped_strength(
    colour: Colour, place: str, pigment: Colourant, strength: q.ColourStrength, notes: list[Note]
) -> tuple[float, float] | None:
    """Strength of the infusion [1/cm] and its relative standard deviation, as it was steeped.

    None if the recipe does not say how.

    Raises
    ------
    InputError
        If its strength was measured, so that nothing is to be reckoned.
    """
    from dosing.bottle.steeping import infusion, steeping_notes, steeping_value

    written = _steeping_keys(colour)
    if not written:
        return None
    if strength.kind != "percent":
        key, text = written[0]
        raise q.refuse(
            "error.steeped-measured", f"{place}.{key}", text, say("error.accepted.percent")
        )
    celsius = steeping_value("usual_temperature").best
    if colour.steeped_at is not None:
        celsius = q.steep_temperature_c(colour.steeped_at, f"{place}.steeped_at")
    minutes = steeping_value("usual_minutes").best
    if colour.steeped_for is not None:
        minutes = q.steep_minutes(colour.steeped_for, f"{place}.steeped_for")
    made = infusion(pigment, strength.value, celsius, minutes)
    values: dict[str, Value] = {
        "temperature": celsius,
        "minutes": minutes,
        "strength": float(made.best),
        "low": float(made.low),
        "high": float(made.high),
    }
    notes.append(Note("assume.recipe.steeped", values, f"{place}.{written[0][0]}"))
    notes.extend(steeping_notes(pigment, strength.value, celsius, minutes))
    return float(made.best), float(made.relative_sd)


def refuse_steeping(colour: Colour, place: str, code: str) -> None:
    """Refuse the keys of steeping where they have no meaning.

    Raises
    ------
    InputError
        If one of them is there.
    """
    for key, text in _steeping_keys(colour):
        raise q.refuse(code, f"{place}.{key}", text, "")


def _steeping_keys(colour: Colour) -> list[tuple[str, str]]:
    keys = {"steeped_at": colour.steeped_at, "steeped_for": colour.steeped_for}
    return [(key, text) for key, text in keys.items() if text is not None]


def as_millilitres(colour: Colour, place: str, drops: float, notes: list[Note]) -> Colour:
    """The same colour with its drops as a volume, where the strength is told.

    Raises
    ------
    InputError
        If nobody knows how strong a drop is.
    """
    if colour.strength is None:
        raise q.refuse("error.drops-without-strength", f"{place}.amount", colour.amount, "")
    volume = typical("drop_volume").value
    notes.append(Note("assume.recipe.drop-volume", {"volume": volume}, f"{place}.amount"))
    return colour.model_copy(update={"amount": f"{drops * volume:.12g} mL"})


def in_drops(made: ColourInputs, drops: float) -> ColourInputs:
    """What a volume brings, told as the drops that it is; drops differ in size."""
    from dataclasses import replace

    known = reading_spread("pigment_strength", "measured").sd_relative
    if made.strength_sd is not None:
        known = made.strength_sd
    elif not made.strength_measured:
        known = made.colourant.strength_sd
    spread = math.hypot(known, reading_spread("drop", "dropper").sd_relative)
    return replace(made, amount=drops, amount_unit="drops", strength_sd=spread)


def tested_drops(
    colour: Colour, test: DropTest, place: str, which: Colourant, light: str, notes: list[Note]
) -> ColourInputs:
    """What drops bring whose strength a test in plain water told.

    Parameters
    ----------
    colour : Colour
        As written.
    test : DropTest
        Its ``drop_test``.
    place : str
        Where it is written.
    which : Colourant
        Of which they are drops.
    light : str
        In which the colour was read.
    notes : list of Note
        What is assumed is added.

    Raises
    ------
    InputError
        If the amount is not in drops, the test is not complete, or its colour is none that this
        colourant gives.
    """
    amount = q.colour_amount(colour.amount, f"{place}.amount")
    if amount.kind != "drops":
        raise q.refuse("error.drop-test-amount", f"{place}.amount", colour.amount, "")
    if colour.strength is not None:
        raise q.refuse("error.drop-test-strength", f"{place}.strength", colour.strength, "")
    refuse_steeping(colour, place, "error.drop-test-strength")
    inside = f"{place}.drop_test"
    drops = _test_drops(test.drops, f"{inside}.drops")
    litres = q.volume_l(test.water, f"{inside}.water")
    strength, spread = _water_strength(test, inside, which, light, notes)
    values: dict[str, Value] = {"spread": spread}
    notes.append(Note("assume.recipe.drop-test", values, inside))
    return ColourInputs(
        which,
        content=amount.value * strength * litres / drops,
        amount=amount.value,
        amount_unit="drops",
        volume_l=amount.value * typical("drop_volume").value / _ML_PER_L,
        strength_measured=True,
        strength_sd=spread,
    )


def _test_drops(written: float | str, field: str) -> float:
    drops = written if isinstance(written, float | int) else _counted(written, field)
    if not 0 < drops <= _MOST_TEST_DROPS:
        raise q.refuse("error.drop-count", field, written, f"{_MOST_TEST_DROPS:.0f}")
    return float(drops)


def _counted(text: str, field: str) -> float:
    bare = text.strip().replace(".", "", 1).isdigit()
    amount = q.colour_amount(f"{text} drops" if bare else text, field)
    return amount.value if amount.kind == "drops" else float("nan")


def _water_strength(
    test: DropTest, place: str, which: Colourant, light: str, notes: list[Note]
) -> tuple[float, float]:
    """Strength of the test water and its relative standard deviation."""
    from dosing.bottle.drops import water_by_absorbance

    if (test.colour is None) == (test.absorbance is None):
        raise q.refuse("error.drop-test-reading", place, None, "")
    ph = typical("tap_ph").value if test.ph is None else q.ph(test.ph, f"{place}.ph")
    _say_ph(test, which, ph, place, notes)
    if test.absorbance is None:
        return _by_colour(test, place, which, ph, light)
    if test.path is not None:
        raise q.refuse("error.drop-test-path", f"{place}.path", test.path, "")
    absorbance = q.absorbance_per_cm(test.absorbance, f"{place}.absorbance")
    if absorbance == 0:
        raise q.refuse("error.drop-absorbance", f"{place}.absorbance", test.absorbance, "")
    water = water_by_absorbance(which, absorbance, ph)
    return water.strength, water.relative_sd


def _say_ph(test: DropTest, which: Colourant, ph: float, place: str, notes: list[Note]) -> None:
    if test.ph is None and which.kind == "pigment":
        notes.append(Note("assume.recipe.drop-test-ph", {"ph": ph}, f"{place}.ph"))


def _by_colour(
    test: DropTest, place: str, which: Colourant, ph: float, light: str
) -> tuple[float, float]:
    from dosing.bottle.drops import water_by_colour
    from indicator.words import threshold

    field = f"{place}.colour"
    if test.path is None:
        raise q.refuse("error.drop-test-width", field, test.colour, "")
    path = q.length_cm(test.path, f"{place}.path")
    try:
        water = water_by_colour(which, str(test.colour), path, ph, light)
    except ValueError:
        raise q.refuse("error.drop-colour", field, test.colour, "#F3EFA0") from None
    values: dict[str, Value] = {
        "colour": which.label,
        "nearest": water.nearest_hex,
        "away": water.nearest_delta_e,
    }
    if water.from_clear_delta_e < threshold("visible"):
        raise q.refuse("error.drop-colour-pale", field, test.colour, "", **values)
    share = typical("drop_colour_share").value * water.from_clear_delta_e
    if water.nearest_delta_e > min(typical("drop_colour_tolerance").value, share):
        raise q.refuse("error.drop-colour-other", field, test.colour, "", **values)
    if water.relative_sd > typical("drop_worst_sd").value:
        raise q.refuse("error.drop-colour-dull", field, test.colour, "", **values)
    return water.strength, water.relative_sd
