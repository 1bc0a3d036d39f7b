"""Quantities: text with a unit, as a person types it, to plain floats in core units.

The unit library is loaded, and its registry built, when the first unit has to be understood.
Hardness and alkalinity go through the project's own table of water units. Everything that can be
wrong with a typed quantity ends here, as an `InputError` with one sentence.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from dosing.recipe.quantities.errors import InputError, refuse, shown
from dosing.recipe.quantities.typed import LIMITS, Typed
from dosing.recipe.quantities.units import (
    convert,
    dimension,
    ion_unit_mmol_l,
    known_dimension,
    water_unit_meq_l,
)

__all__ = [
    "LIMITS",
    "Amount",
    "ColourStrength",
    "InputError",
    "absorbance_per_cm",
    "age_years",
    "alkalinity_meq_l",
    "amount",
    "area_cm2",
    "colour_amount",
    "colour_strength",
    "counts_as_calcium_carbonate",
    "days",
    "drop_step_meq_l",
    "hardness_mmol_l",
    "infusion_g",
    "ion_mmol_l",
    "length_cm",
    "mass_g",
    "petals_percent",
    "ph",
    "refuse",
    "share",
    "shown",
    "steep_minutes",
    "steep_temperature_c",
    "temperature_c",
    "thinned",
    "titratable_meq_kg",
    "volume_l",
    "volume_ml",
]

_DROPS = ("drop", "drops", "gtt")
_PERCENT = ("%", "percent", "per_cent", "%_w/v", "w/v_%", "%_petals")
# What one unit is in g per 100 mL.
_GRAMS = {"g/l": 0.1, "mg/ml": 0.1, "g/ml": 100.0, "g/100ml": 1.0, "g/100_ml": 1.0}
_AS_CALCIUM_CARBONATE = ("ppm", "mg/l")


@dataclass(frozen=True)
class Amount:
    """An amount by volume, by mass or in drops."""

    kind: str
    """``"volume"``, ``"mass"`` or ``"drops"``."""
    value: float
    """[mL], [g] or the number of drops."""


@dataclass(frozen=True)
class ColourStrength:
    """Strength of an infusion or of a dye solution."""

    kind: str
    """``"percent"`` (grams per 100 mL) or ``"absorbance"`` (pH-1 absorbance per cm)."""
    value: float


def volume_l(text: object, field: str = "volume") -> float:
    """Water in a vessel [L]; raises InputError."""
    return _read("volume", text, field)


def volume_ml(text: object, field: str = "amount") -> float:
    """Small volume, of a product or an infusion [mL]; raises InputError."""
    return _read("amount-volume", text, field)


def mass_g(text: object, field: str = "dose") -> float:
    """Mass [g]; raises InputError."""
    return _read("mass", text, field)


def length_cm(text: object, field: str = "length") -> float:
    """Length [cm]; raises InputError."""
    return _read("length", text, field)


def area_cm2(text: object, field: str = "floor_area") -> float:
    """Area [cm²]; raises InputError."""
    return _read("area", text, field)


def temperature_c(text: object, field: str = "temperature") -> float:
    """Temperature [°C]; raises InputError."""
    return _read("temperature", text, field)


def steep_temperature_c(text: object, field: str = "temperature") -> float:
    """Temperature of steeping water, to the boil [°C]; raises InputError."""
    return _read("steep-temperature", text, field)


def steep_minutes(text: object, field: str = "time") -> float:
    """How long petals steep [min]; raises InputError."""
    return _read("steep-time", text, field)


def infusion_g(text: object, field: str = "makes") -> float:
    """Finished infusion by weight, or by volume at 1 g to the mL [g]; raises InputError."""
    typed = Typed("infusion", text, field)
    number, unit = typed.split()
    if dimension(typed, unit) == known_dimension("gram"):
        return convert(typed, number, unit)
    return typed.within(convert(typed, number, unit, "amount-volume"))


def petals_percent(text: object, field: str = "petals") -> float:
    """Grams of dried petals per 100 g of infusion [%]; raises InputError."""
    typed = Typed("petals", text, field)
    number, unit = typed.split()
    if unit not in _PERCENT and unit not in _GRAMS:
        typed.wrong_unit(unit)
    return typed.within(number * _GRAMS.get(unit, 1.0))


def absorbance_per_cm(text: object, field: str = "absorbance") -> float:
    """Absorbance per centimetre [1/cm]; raises InputError."""
    typed = Typed("absorbance", text, field)
    number, unit = typed.split()
    return convert(typed, number, _without_sign(unit))


def titratable_meq_kg(text: object, field: str = "titratable") -> float:
    """Acid (or, negative, base) that a kilogram of product takes up [meq/kg]."""
    return _read("titratable", text, field)


def age_years(text: object, field: str = "child_age") -> float:
    """Age [years], as in ``4 years``, ``6 weeks`` or ``9-month-old``; raises InputError."""
    if isinstance(text, str):
        plain = re.sub(r"[\s-]*old\s*$", "", text, flags=re.IGNORECASE)
        text = re.sub(r"(?<=\d)-(?=[a-z])", " ", plain, flags=re.IGNORECASE)
    return _read("age", text, field)


def days(text: object, field: str = "time") -> float:
    """A time on the shelf [day]; raises InputError."""
    return _read("time", text, field)


def ph(text: object, field: str = "ph") -> float:
    """PH, a plain number with or without ``pH`` before it; raises InputError."""
    return _plain("ph", text, field)


def thinned(text: object, field: str = "thinned") -> float:
    """How many times a water was thinned, a plain number; raises InputError."""
    return _plain("thinned", text, field)


def _plain(kind: str, text: object, field: str) -> float:
    typed = Typed(kind, text, field)
    if isinstance(text, int | float) and not isinstance(text, bool):
        return typed.within(float(text))
    number, unit = typed.split()
    if unit:
        typed.wrong_unit(unit)
    return typed.within(number)


def alkalinity_meq_l(text: object, field: str = "alkalinity") -> float:
    """Alkalinity [meq/L]; ppm and mg/L count as calcium carbonate. Raises InputError."""
    typed = Typed("alkalinity", text, field)
    number, unit = typed.split()
    return typed.within(number * water_unit_meq_l(typed, "alkalinity", unit))


def drop_step_meq_l(text: object, field: str = "water.drop_step") -> float:
    """What a drop of a kit stands for [meq/L of alkalinity]; raises InputError."""
    typed = Typed("drop-step", text, field)
    number, unit = typed.split()
    return typed.within(number * water_unit_meq_l(typed, "alkalinity", unit))


def hardness_mmol_l(text: object, field: str = "hardness") -> float:
    """Calcium plus magnesium [mmol/L]; ppm and mg/L count as calcium carbonate."""
    typed = Typed("hardness", text, field)
    number, unit = typed.split()
    return typed.within(number * water_unit_meq_l(typed, "hardness", unit) / 2)


def ion_mmol_l(text: object, ion: str, field: str = "") -> float:
    """Concentration of an ion of a water report [mmol/L].

    Parameters
    ----------
    text : object
        mg/L or ppm of the ion itself, mmol/L or meq/L; of calcium and magnesium also a unit of
        hardness ("mg/L CaCO3", "dH"), of nitrate also "mg/L N".
    ion : str
        A key of `dosing.ingredients.hardness_units.IONS`.
    field : str
        Where it was written; the ion if empty.

    Raises
    ------
    InputError
        If it is no such quantity.
    """
    typed = Typed("ion", text, field or ion)
    number, unit = typed.split()
    return typed.within(number * ion_unit_mmol_l(typed, ion, unit))


def amount(text: object, field: str = "amount") -> Amount:
    """An amount by volume [mL] or by mass [g]; raises InputError."""
    typed = Typed("amount", text, field)
    number, unit = typed.split()
    if dimension(typed, unit) == known_dimension("gram"):
        return Amount("mass", convert(typed, number, unit, "mass"))
    return Amount("volume", convert(typed, number, unit, "amount-volume"))


def colour_amount(text: object, field: str = "amount") -> Amount:
    """An amount of a colour by volume [mL], by mass [g] or in drops; raises InputError."""
    typed = Typed("colour-amount", text, field)
    number, unit = typed.split()
    if unit in _DROPS:
        return Amount("drops", typed.within(number, "drops"))
    if dimension(typed, unit) == known_dimension("gram"):
        return Amount("mass", convert(typed, number, unit, "mass"))
    return Amount("volume", convert(typed, number, unit, "amount-volume"))


def share(text: object, field: str = "share") -> float:
    """A share, 0 to 1, written as per cent; raises InputError."""
    typed = Typed("share", text, field)
    number, unit = typed.split()
    if unit not in ("%", "percent", "per_cent"):
        typed.wrong_unit(unit)
    return typed.within(number) / 100.0


def colour_strength(text: object, field: str = "strength") -> ColourStrength:
    """Strength as per cent (g per 100 mL) or as pH-1 absorbance per cm; raises InputError."""
    typed = Typed("strength", text, field)
    number, unit = typed.split()
    if unit in _PERCENT or unit in _GRAMS:
        return ColourStrength("percent", typed.within(number * _GRAMS.get(unit, 1.0), "percent"))
    per_length = _without_sign(unit)
    return ColourStrength("absorbance", convert(typed, number, per_length, "absorbance"))


def counts_as_calcium_carbonate(text: object, field: str) -> bool:
    """Whether a hardness or alkalinity is in ppm or mg/L without a word of what."""
    kind = "hardness" if field.endswith(".hardness") else "alkalinity"
    return Typed(kind, text, field).split()[1] in _AS_CALCIUM_CARBONATE


def _without_sign(unit: str) -> str:
    """What is left of AU/cm and A/cm without the sign of absorbance."""
    return unit.removeprefix("a").removeprefix("u")


def _read(kind: str, text: object, field: str) -> float:
    typed = Typed(kind, text, field)
    number, unit = typed.split()
    return convert(typed, number, unit)
