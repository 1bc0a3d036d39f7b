"""Units: the kind and the factor of every spelling that a person may type."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from dosing.ingredients.hardness_units import Quantity, water_units
from indicator.tables import Sourced, read_table

# A name, perhaps to a power, perhaps over another.
_SHAPE = re.compile(r"(1?/)?([a-z_]+)(-1|2|3)?(?:/([a-z_]+))?")
_POWERS = {"length": {-1: "1/length", 2: "area", 3: "volume"}}


@dataclass(frozen=True)
class _FactorRow(Sourced):
    unit: str
    kind: str
    factor: float
    offset: float
    prefixed: bool
    aliases: str
    spread: float


@dataclass(frozen=True)
class Unit:
    """Kind of a unit, and what one of it is in the core unit of that kind."""

    kind: str
    """As in ``data/trade/units.csv``; of two units ``"mass/volume"`` and the like."""
    factor: float
    """Core units in one unit."""
    offset: float = 0.0
    """What is added to a number before the factor: the zero of a temperature scale."""
    spread: float = 0.0
    """Relative standard deviation of what such a kitchen measure holds; 0 for a unit of science."""


def unit_spelling(words: str) -> str:
    """Spelling under which the tables know a unit: lower case, spaces as underscores."""
    unit = (
        re.sub(r"^level\s+", "", words.strip().lower())
        .replace("µ", "u")
        .replace("μ", "u")
        .replace("º", "°")
    )
    unit = unit.replace("℃", "°c").replace("℉", "°f")
    # cm², cm^2, cm**2 and cm2 are one unit.
    unit = unit.replace("²", "2").replace("³", "3").replace("^", "").replace("**", "")
    unit = unit.replace("⁻¹", "-1").replace("₃", "3")
    unit = re.sub(r"°\s*", "deg", unit)
    unit = re.sub(r"\s+per\s+(?=lit(?:er|re)\b|l\b|kg\b|cm\b)", "/", unit)
    unit = re.sub(r"/\s*lit(?:er|re)\b", "/l", unit)
    unit = re.sub(r"^per\s+", "/", unit)
    unit = re.sub(r"\b(?:as|of)\b", " ", unit)
    unit = re.sub(r"\s*/\s*", "/", unit)
    unit = re.sub(r"[()]", " ", unit).strip()
    # Laboratories put the substance before the litre: mg CaCO3/L.
    unit = re.sub(r"^mg\s+([a-z][a-z\d]*[\d+-]*)/l$", r"mg/l \1", unit)
    return re.sub(r"[\s_]+", "_", unit.rstrip(".").strip())


@cache
def unit_of(spelling: str) -> Unit | None:
    """Unit of a spelling, None if there is none.

    Parameters
    ----------
    spelling : str
        As `unit_spelling` gives it; a power (``m2``, ``cm-1``) or a ratio (``meq/kg``) too.

    Returns
    -------
    Unit or None
    """
    shape = _SHAPE.fullmatch(spelling)
    if spelling in _units() or shape is None:
        return _named(spelling)
    inverse, name, power, under = shape.groups()
    unit, below = _named(name), _named(under or "")
    exponent = int(power or 1) * (-1 if inverse else 1)
    if unit is not None and exponent != 1:
        kind = _POWERS.get(unit.kind, {}).get(exponent, "")
        unit = Unit(kind, unit.factor**exponent)
    if unit is None or under is None or below is None:
        return None if under else unit
    return Unit(f"{unit.kind}/{below.kind}", unit.factor / below.factor)


@cache
def water_unit_of(spelling: str, quantity: Quantity) -> Unit | None:
    """Unit of hardness or alkalinity [meq/L], None if there is none.

    Parameters
    ----------
    spelling : str
        As `unit_spelling` gives it.
    quantity : {"hardness", "alkalinity"}
        A millimole is two equivalents of hardness and one of alkalinity.

    Returns
    -------
    Unit or None
    """
    known = {unit_spelling(name): meq for name, meq in water_units(quantity).items()}
    return Unit(quantity, known[spelling]) if spelling in known else None


def _named(name: str) -> Unit | None:
    """A unit that has a name of its own, perhaps in the plural."""
    return _units().get(name) or _units().get(name.removesuffix("s"))


@cache
def number_words() -> dict[str, float]:
    """Words for numbers, spaces as underscores: ``two``, ``half_a``."""
    return {name: row.factor for row, names in _rows() if row.kind == "number" for name in names}


def _rows() -> list[tuple[_FactorRow, tuple[str, ...]]]:
    """Rows of the table, each with all its spellings."""
    rows = read_table("trade/units.csv", _FactorRow)
    return [(row, (row.unit, *row.aliases.split())) for row in rows]


@cache
def _units() -> dict[str, Unit]:
    """Every spelling without a plural, with the prefixes that it takes."""
    rows = _rows()
    prefixes = {name: row.factor for row, names in rows if row.kind == "prefix" for name in names}
    words = ("prefix", "number")
    plain = {name: row for row, names in rows if row.kind not in words for name in names}
    prefixed = {
        prefix + name: Unit(row.kind, row.factor * factor)
        for name, row in plain.items()
        if row.prefixed
        for prefix, factor in prefixes.items()
    }
    return prefixed | {
        name: Unit(row.kind, row.factor, row.offset, row.spread) for name, row in plain.items()
    }
