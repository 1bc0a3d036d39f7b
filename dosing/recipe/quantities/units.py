"""Units: what a typed unit means, by the unit library and by the table of water units."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from dosing.ingredients.hardness_units import IONS, unit_meq_l
from dosing.ingredients.molar_mass import molar_mass
from dosing.recipe.quantities.typed import LIMITS, Typed, unit_spelling
from indicator.tables import read_table, read_toml

CHARGE = {
    "calcium": 2,
    "magnesium": 2,
    "sodium": 1,
    "potassium": 1,
    "chloride": 1,
    "sulfate": 2,
    "nitrate": 1,
    "bicarbonate": 1,
}
"""Charge numbers of the ions of a water report, without their signs."""

# A name, perhaps to a power, perhaps over another: nothing else reaches the unit library.
_SHAPE = re.compile(r"(?:1?/)?[a-z_]+(?:\*\*-?[123])?(?:/[a-z_]+)?")
_AS_NITROGEN = ("mg/l_n", "ppm_n", "mg/l_no3-n")
_GRAINS = ("grain/gallon", "grains/gallon", "grains/gal", "grains", "gr/gal")
_SPELLED_OUT = {
    "german_degrees": "dH",
    "french_degrees": "fH",
    "english_degrees": "e",
    "clark_degrees": "e",
    "degclark": "e",
}


@dataclass(frozen=True)
class _WaterUnitRow:
    unit: str
    quantity: str
    mass_mg: float | None
    formula: str
    volume_l: float
    meq_per_mmol: float
    aliases: str
    source: str
    confidence: str


def convert(typed: Typed, number: float, unit: str, limits: str = "") -> float:
    """Number in the core unit of its kind, checked against the limits.

    Raises
    ------
    InputError
        If the unit is unknown or of another kind, or the value out of bounds.
    """
    kind = limits or typed.kind
    wanted = LIMITS[kind].unit
    if dimension(typed, unit) != known_dimension(wanted):
        typed.wrong_unit(unit)
    value = float(_registry().Quantity(number, _spelled(unit)).to(wanted).magnitude)
    return typed.within(value, kind)


def water_unit_meq_l(typed: Typed, quantity: Literal["hardness", "alkalinity"], unit: str) -> float:
    """Charge equivalents in one unit of hardness or alkalinity [meq/L]; raises InputError."""
    known = _water_units().get((quantity, unit))
    if known is None:
        typed.wrong_unit(unit)
    return unit_meq_l(quantity, known)


def ion_unit_mmol_l(typed: Typed, ion: str, unit: str) -> float:
    """Millimoles per litre of an ion in one unit; raises InputError."""
    if ion == "nitrate" and unit in _AS_NITROGEN:
        return 1 / molar_mass("N")
    if not unit:
        typed.wrong_unit(unit)
    # mg/L Ca2+ of calcium is what it says; mg/L Mg of calcium is a slip, and no unit.
    of_itself = rf"_{IONS[ion].lower()}(?:\d?[+-]+)?$"
    plain = re.sub(of_itself, "", unit).replace("ppm", "mg/l")
    if ion in ("calcium", "magnesium") and plain not in ("mg/l", "mmol/l", "meq/l"):
        known = _water_units().get(("hardness", unit))
        if known is not None:
            return unit_meq_l("hardness", known) / 2
    of_what = dimension(typed, plain)
    per_mmol = {
        "milligram / liter": molar_mass(IONS[ion]),
        "millimole / liter": 1.0,
        "milliequivalent / liter": float(CHARGE[ion]),
    }
    for wanted, one_mmol in per_mmol.items():
        if of_what == known_dimension(wanted):
            return float(_registry().Quantity(1.0, plain).to(wanted).magnitude) / one_mmol
    return typed.wrong_unit(unit)


def dimension(typed: Typed, unit: str) -> Any:
    """Dimension of a typed unit; raises InputError if it is none."""
    if _SHAPE.fullmatch(unit) is None:
        typed.wrong_unit(unit)
    try:
        return _registry().parse_units(_spelled(unit)).dimensionality
    except (AttributeError, ValueError, TypeError):
        # What the unit library raises for unknown names and for prefixes on degrees.
        typed.wrong_unit(unit)


@cache
def known_dimension(unit: str) -> Any:
    """Dimension of a unit that is ours."""
    return _registry().parse_units(unit).dimensionality


def _spelled(unit: str) -> str:
    return f"1{unit}" if unit.startswith("/") else unit


@cache
def _water_units() -> dict[tuple[str, str], str]:
    """Quantity and spelling to the name in the table of water units."""
    known: dict[tuple[str, str], str] = {}
    for row in read_table("trade/water_units.csv", _WaterUnitRow):
        quantities = ("hardness", "alkalinity") if row.quantity == "both" else (row.quantity,)
        spellings = {unit_spelling(name) for name in (row.unit, *row.aliases.split())}
        if row.formula == "HCO3":
            spellings |= {"mg/l_hco3-", "ppm_hco3", "ppm_hco3-"}
        if row.unit == "gpg":
            spellings |= set(_GRAINS)
        spellings |= {name for name, unit in _SPELLED_OUT.items() if unit == row.unit}
        known |= {(quantity, name): row.unit for quantity in quantities for name in spellings}
    return known


@cache
def _registry() -> Any:
    """Registry with the units of ``data/trade/units.toml`` only: built in a few milliseconds."""
    import pint

    registry: Any = pint.UnitRegistry(None)
    registry.load_definitions(list(read_toml("trade/units.toml")["definitions"]))
    return registry
