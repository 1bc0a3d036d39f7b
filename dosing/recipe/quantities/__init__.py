"""Quantities: text with a unit, as a person types it, to plain floats in core units.

One table holds the units and another the limits; hardness and alkalinity go through the project's
own table of water units. Everything that can be wrong with a typed quantity ends here, as an
`InputError` with one sentence.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from dosing.ingredients.hardness_units import ions
from dosing.ingredients.molar_mass import molar_mass
from dosing.ingredients.powders import spoons
from dosing.ingredients.trade_values import NINE_IN_TEN, typical
from dosing.recipe.quantities.dry_goods import goods_in
from dosing.recipe.quantities.errors import InputError as InputError
from dosing.recipe.quantities.errors import refuse as refuse
from dosing.recipe.quantities.typed import Typed
from dosing.recipe.quantities.units import unit_of, water_unit_of

_ML_PER_L = 1000.0
_AS_CALCIUM_CARBONATE = ("ppm", "mg/l")
_AS_NITROGEN = ("mg/l_n", "ppm_n", "mg/l_no3-n")


@dataclass(frozen=True)
class Amount:
    """An amount by volume, by mass or in drops."""

    kind: str
    """``"volume"``, ``"mass"``, ``"drops"``, or ``"dry"``: spoons of petals or powder."""
    value: float
    """[mL], [g] or the number of drops."""
    spread: float = 0.0
    """Relative standard deviation of a kitchen measure; 0 for a unit of science."""
    goods: str = ""
    """Which dry goods were named, a row of ``data/trade/dry_goods.csv``; empty if none."""


@dataclass(frozen=True)
class ColourStrength:
    """Strength of an infusion or of a dye solution."""

    kind: str
    """``"percent"`` (grams per 100 mL) or ``"absorbance"`` (pH-1 absorbance per cm)."""
    value: float


@dataclass(frozen=True)
class Reader:
    """A quantity as a person types it, to a plain float in its core unit."""

    kind: str
    """Row of the table of limits, ``data/trade/typed_limits.csv``."""
    field: str
    """Where it was typed, if the caller does not say."""

    def __call__(self, text: object, field: str | None = None) -> float:
        """Read what was typed.

        Parameters
        ----------
        text : object
            A number with its unit.
        field : str, optional
            Where it was typed, for the sentence of a refusal.

        Returns
        -------
        float
            In the unit that the quantity's name ends with.

        Raises
        ------
        InputError
            If it is no such quantity, or out of bounds.

        Examples
        --------
        >>> volume_l("40 gal (US)")
        151.41647136
        >>> round(alkalinity_meq_l("7 dH"), 3)
        2.497
        >>> round(temperature_c("100 F"), 2)
        37.78
        """
        return Typed(self.kind, text, self.field if field is None else field).core()


volume_l = Reader("volume", "volume")
"""Water in a vessel [L]; for instance ``"150 L"`` or ``"40 gal (US)"``."""
mass_g = Reader("mass", "dose")
"""Mass [g]; for instance ``"60 g"``."""
length_cm = Reader("length", "length")
"""Length [cm]; for instance ``"30 cm"``."""
area_cm2 = Reader("area", "floor_area")
"""Area [cm²]; for instance ``"0.55 m2"``."""
temperature_c = Reader("temperature", "temperature")
"""Temperature [°C]; for instance ``"38 C"`` or ``"100 F"``."""
steep_temperature_c = Reader("steep-temperature", "temperature")
"""Temperature of steeping water, to the boil [°C]; for instance ``"75 C"``."""
steep_minutes = Reader("steep-time", "time")
"""Time that petals steep [min]; for instance ``"25 min"``."""
petals_percent = Reader("petals", "petals")
"""Grams of dried petals per 100 g of infusion [%]; for instance ``"2 %"``."""
absorbance_per_cm = Reader("absorbance", "absorbance")
"""Absorbance per centimetre [1/cm]; for instance ``"5.2 /cm"``."""
titratable_meq_kg = Reader("titratable", "titratable")
"""Acid (negative: base) that a kilogram takes up [meq/kg]; for instance ``"12 meq/kg"``."""
days = Reader("time", "time")
"""A time on the shelf [day]; for instance ``"6 weeks"``."""
ph = Reader("ph", "ph")
"""The pH, a plain number with or without ``pH`` before it; for instance ``7.8``."""
thinned = Reader("thinned", "thinned")
"""Factor by which a water was thinned, a plain number; for instance ``2``."""
alkalinity_meq_l = Reader("alkalinity", "alkalinity")
"""Alkalinity [meq/L]; ppm and mg/L count as CaCO3; for instance ``"7 dH"``."""
drop_step_meq_l = Reader("drop-step", "water.drop_step")
"""Alkalinity that a drop of a kit stands for [meq/L]; for instance ``"10 ppm"``."""
hardness_mmol_l = Reader("hardness", "hardness")
"""Calcium plus magnesium [mmol/L]; ppm and mg/L count as CaCO3; for instance ``"8 dH"``."""
density_g_ml = Reader("density", "density")
"""Density [g/mL]; for instance ``"1.03 g/mL"``."""
money = Reader("money", "cost")
"""An amount of money, a plain number in whatever currency; for instance ``14.90``."""
size_ml = Reader("size", "size_mL")
"""What a pack holds [mL], a plain number; for instance ``250``."""


def infusion_g(text: object, field: str = "makes") -> float:
    """Finished infusion by weight, or by volume at 1 g to the mL [g].

    Parameters
    ----------
    text : object
        As it was typed, for instance ``"500 mL"``.
    field : str
        Where it was typed, for the sentence of a refusal.

    Returns
    -------
    float
        [g].

    Raises
    ------
    InputError
        If it is no such quantity, or out of bounds.
    """
    typed = Typed("infusion", text, field)
    return typed.within(typed.core("amount-volume" if typed.measures() == "volume" else ""))


def age_years(text: object, field: str = "child_age") -> float:
    """Age [years], as in ``4 years``, ``6 weeks`` or ``9-month-old``.

    Parameters
    ----------
    text : object
        As it was typed, for instance ``"6 weeks"``.
    field : str
        Where it was typed, for the sentence of a refusal.

    Returns
    -------
    float
        [years].

    Raises
    ------
    InputError
        If it is no such quantity, or out of bounds.
    """
    if isinstance(text, str):
        plain = re.sub(r"[\s-]*old\s*$", "", text, flags=re.IGNORECASE)
        text = re.sub(r"(?<=\d)-(?=[a-z])", " ", plain, flags=re.IGNORECASE)
    return Typed("age", text, field).core()


def ion_mmol_l(text: object, ion: str, field: str = "") -> float:
    """Concentration of an ion of a water report [mmol/L].

    Parameters
    ----------
    text : object
        mg/L or ppm of the ion itself, mmol/L or meq/L; of calcium and magnesium also a unit of
        hardness ("mg/L CaCO3", "dH"), of nitrate also "mg/L N".
    ion : str
        A key of `dosing.ingredients.hardness_units.ions`.
    field : str
        Where it was written; the ion if empty.

    Returns
    -------
    float
        [mmol/L].

    Raises
    ------
    InputError
        If it is no such quantity.
    """
    typed = Typed("ion", text, field or ion)
    number, unit = typed.split()
    if ion == "nitrate" and unit in _AS_NITROGEN:
        return typed.within(number / molar_mass("N"))
    row = ions()[ion]
    # mg/L Ca2+ of calcium is what it says; mg/L Mg of calcium is a slip, and no unit.
    of_itself = rf"_{row.formula.lower()}(?:\d?[+-]+)?$"
    plain = re.sub(of_itself, "", unit).replace("ppm", "mg/l")
    hardness = water_unit_of(unit, "hardness")
    by_itself = ion not in ("calcium", "magnesium") or plain in ("mg/l", "mmol/l", "meq/l")
    if hardness is not None and not by_itself:
        return typed.within(number * hardness.factor / row.charge)
    per_mmol = {
        "mass/volume": molar_mass(row.formula) * 1e-3,
        "substance/volume": 1.0,
        "charge/volume": row.charge,
    }
    spelt = unit_of(plain)
    if spelt is None or spelt.kind not in per_mmol:
        typed.wrong_unit(unit)
    return typed.within(number * spelt.factor * _ML_PER_L / per_mmol[spelt.kind])


def amount(text: object, field: str = "amount") -> Amount:
    """An amount of a liquid by volume [mL], also in drops, or by mass [g].

    Parameters
    ----------
    text : object
        As it was typed, for instance ``"700 mL"``.
    field : str
        Where it was typed, for the sentence of a refusal.

    Returns
    -------
    Amount

    Raises
    ------
    InputError
        If it is no such quantity, or out of bounds.
    """
    return _amount(Typed("amount", text, field))


def colour_amount(text: object, field: str = "amount") -> Amount:
    """An amount of a colour by volume [mL], by mass [g], in drops or in spoons of dry petals.

    Parameters
    ----------
    text : object
        As it was typed, for instance ``"20 drops"`` or ``"a handful of petals"``.
    field : str
        Where it was typed, for the sentence of a refusal.

    Returns
    -------
    Amount

    Raises
    ------
    InputError
        If it is no such quantity, or out of bounds.
    """
    return _amount(Typed("colour-amount", text, field))


def _amount(typed: Typed) -> Amount:
    number, unit = typed.measure()
    if unit.kind == "mass":
        return Amount("mass", typed.core("mass"))
    colour = typed.kind == "colour-amount"
    if unit.kind == "drops":
        drops = typed.core("drops")
        return (
            Amount("drops", drops)
            if colour
            else Amount("volume", drops * typical("drop_volume").value)
        )
    goods = goods_in(str(typed.text)) if colour else ""
    if colour and (goods or unit.kind == "dry volume") and unit.kind.endswith("volume"):
        millilitres = typed.within(number * unit.factor, "amount-volume")
        return Amount("dry", millilitres, unit.spread, goods)
    return Amount("volume", typed.core("amount-volume"), unit.spread)


def powder_mass(
    text: object, parts: Mapping[str, float], field: str = "dose", kind: str = "dose"
) -> Amount:
    """Mass of a powder or a blend [g], from a mass or from level spoons, cups or pinches of it.

    Parameters
    ----------
    text : object
        As it was typed, for instance ``"12 g"``, ``"2 tsp"`` or ``"a pinch"``.
    parts : mapping of str to float
        Powder to its part by mass.
    field : str
        Where it was typed, for the sentence of a refusal.
    kind : {"dose", "part", "sachet"}
        What is asked for, for that sentence.

    Returns
    -------
    Amount
        A mass; its spread is 0 where it was typed as one.

    Raises
    ------
    InputError
        If it is no such quantity, or out of bounds.

    Examples
    --------
    >>> round(powder_mass("2 tsp", {"citric-acid": 1.0}).value, 1)
    8.4
    """
    typed = Typed(kind, text, field)
    number, unit = typed.measure()
    if not (unit.spread and unit.kind.endswith("volume")):
        return Amount("mass", typed.core())
    per_gram = spoons(parts, 1.0)
    millilitres = per_gram.teaspoons * typical("teaspoon_us").value
    ends = (per_gram.teaspoons_high - per_gram.teaspoons_low) / per_gram.teaspoons
    spread = math.hypot(unit.spread, ends / NINE_IN_TEN)
    return Amount("mass", typed.within(number * unit.factor / millilitres), spread)


def drop_count(written: float | str, field: str = "drops") -> float:
    """Number of drops, with or without the word.

    Parameters
    ----------
    written : object
        As it was typed, for instance ``"5 drops"`` or ``5``.
    field : str
        Where it was typed, for the sentence of a refusal.

    Returns
    -------
    float
        Drops.

    Raises
    ------
    InputError
        If it is no such quantity, or out of bounds.
    """
    bare = not isinstance(written, str) or written.strip().replace(".", "", 1).isdigit()
    return Typed("test-drops", f"{written} drops" if bare else written, field).core()


def share(text: object, field: str = "share") -> float:
    """A share, 0 to 1, written as per cent.

    Parameters
    ----------
    text : object
        As it was typed, for instance ``"30 %"``.
    field : str
        Where it was typed, for the sentence of a refusal.

    Returns
    -------
    float
        0 to 1.

    Raises
    ------
    InputError
        If it is no such quantity, or out of bounds.
    """
    return Typed("share", text, field).core() / 100.0


def colour_strength(text: object, field: str = "strength") -> ColourStrength:
    """Strength as per cent (g per 100 mL) or as pH-1 absorbance per cm.

    Parameters
    ----------
    text : object
        As it was typed, for instance ``"2 %"`` or ``"6 /cm"``.
    field : str
        Where it was typed, for the sentence of a refusal.

    Returns
    -------
    ColourStrength

    Raises
    ------
    InputError
        If it is no such quantity, or out of bounds.
    """
    typed = Typed("strength", text, field)
    if typed.measures() in ("share", "weight in volume", "mass/volume"):
        return ColourStrength("percent", typed.core())
    return ColourStrength("absorbance", typed.core("absorbance"))


def counts_as_calcium_carbonate(text: object, field: str) -> bool:
    """Whether a hardness or alkalinity is in ppm or mg/L without a word of what.

    Parameters
    ----------
    text : object
        As it was typed.
    field : str
        Where; what ends in ``.hardness`` is one.

    Returns
    -------
    bool
    """
    kind = "hardness" if field.endswith(".hardness") else "alkalinity"
    return Typed(kind, text, field).split()[1] in _AS_CALCIUM_CARBONATE
