"""Quantities: text with a unit, as a person types it, to plain floats in core units.

The unit library is loaded, and its registry built, when the first unit has to be understood.
Hardness and alkalinity go through the project's own table of water units. Everything that can be
wrong with a typed quantity ends here, as an `InputError` with one sentence.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, NoReturn

from dosing import hardness_units
from dosing.molar_mass import molar_mass
from indicator.notes import Value, say
from indicator.tables import read_table, read_toml


class InputError(ValueError):
    """Something a person wrote cannot be used; one sentence says what and what is accepted."""

    def __init__(
        self, message: str, field: str = "", value: object = None, accepted: str = ""
    ) -> None:
        super().__init__(message)
        self.field = field
        """Where it was written, for instance ``"tub.volume"``."""
        self.value = value
        """What was written."""
        self.accepted = accepted
        """What is accepted, in words."""


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: its core unit and how far a value may sensibly go."""

    unit: str
    """Core unit in the unit library's terms; empty where the table of water units serves."""
    shown: str
    """Core unit as people read it."""
    low: float
    """Smallest accepted value [core unit]."""
    high: float
    """Largest accepted value [core unit]."""


# The bounds only keep typing errors out (a unit mistaken, a digit too many); they are our own.
# Whether a value inside them is wise is for warnings and cautions. What is accepted is said in
# words in the catalogue, table [error.accepted].
KINDS: Mapping[str, Kind] = {
    "volume": Kind("liter", "L", 0.05, 799.0),
    "amount-volume": Kind("milliliter", "mL", 0.0, 20_000.0),
    "mass": Kind("gram", "g", 0.0, 20_000.0),
    "length": Kind("centimeter", "cm", 1.0, 400.0),
    "area": Kind("centimeter ** 2", "cm²", 10.0, 60_000.0),
    "temperature": Kind("degree_celsius", "°C", 0.0, 60.0),
    "alkalinity": Kind("", "meq/L", 0.0, 40.0),
    "hardness": Kind("", "mmol/L", 0.0, 20.0),
    "ion": Kind("", "mmol/L", 0.0, 100.0),
    "titratable": Kind("milliequivalent / kilogram", "meq/kg", -1000.0, 1000.0),
    "percent": Kind("", "%", 0.0, 30.0),
    "absorbance": Kind("1 / centimeter", "per cm", 0.0, 300.0),
    "age": Kind("year", "years", 0.0, 120.0),
    "ph": Kind("", "", 0.0, 14.0),
}
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
_AS_CALCIUM_CARBONATE = ("ppm", "mg/l")
_TOO_LONG = 60

_FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8"}
_NUMBER = re.compile(
    r"(?P<word>[+-]?(?:nan|inf|infinity))(?![a-z])"
    r"|(?P<mixed>\d+(?:\s+|-))?(?P<fraction>\d+/\d+)"
    r"|(?P<plain>[+-]?(?:\d+(?:[.,]\d+)*|[.,]\d+)(?:e[+-]?\d+)?)",
    re.IGNORECASE,
)
_UNIT = re.compile(r"(?:1?/)?[a-z_]+(?:\*\*-?[123])?(?:/[a-z_]+)?")


@dataclass(frozen=True)
class Amount:
    """An amount by volume or by mass."""

    kind: str
    """``"volume"`` or ``"mass"``."""
    value: float
    """[mL] or [g]."""


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


def titratable_meq_kg(text: object, field: str = "titratable") -> float:
    """Acid (or, negative, base) that a kilogram of product takes up [meq/kg]."""
    return _read("titratable", text, field)


def age_years(text: object, field: str = "child_age") -> float:
    """Age [years]; raises InputError."""
    return _read("age", text, field)


def ph(text: object, field: str = "ph") -> float:
    """PH, a plain number with or without ``pH`` before it; raises InputError."""
    if isinstance(text, int | float) and not isinstance(text, bool):
        return _within("ph", float(text), text, field)
    words = _words("ph", text, field)
    number, unit = _split("ph", re.sub(r"^ph\s*=?\s*", "", words, flags=re.I), text, field)
    if unit:
        _wrong("error.wrong-unit", "ph", text, field, unit=unit)
    return _within("ph", number, text, field)


def alkalinity_meq_l(text: object, field: str = "alkalinity") -> float:
    """Alkalinity [meq/L]; ppm and mg/L count as calcium carbonate. Raises InputError."""
    number, unit = _split("alkalinity", _words("alkalinity", text, field), text, field)
    factor = _water_unit("alkalinity", unit, text, field)
    return _within("alkalinity", number * factor, text, field)


def hardness_mmol_l(text: object, field: str = "hardness") -> float:
    """Calcium plus magnesium [mmol/L]; ppm and mg/L count as calcium carbonate."""
    number, unit = _split("hardness", _words("hardness", text, field), text, field)
    factor = _water_unit("hardness", unit, text, field) / 2
    return _within("hardness", number * factor, text, field)


def ion_mmol_l(text: object, ion: str, field: str = "") -> float:
    """Concentration of an ion of a water report [mmol/L].

    Parameters
    ----------
    text : object
        mg/L or ppm of the ion itself, mmol/L or meq/L; of calcium and magnesium also a unit of
        hardness ("mg/L CaCO3", "dH"), of nitrate and nitrogen "mg/L N".
    ion : str
        A key of `dosing.hardness_units.IONS`.
    field : str
        Where it was written; the ion if empty.

    Raises
    ------
    InputError
        If it is no such quantity.
    """
    where = field or ion
    number, unit = _split("ion", _words("ion", text, where), text, where)
    return _within("ion", number * _ion_factor(ion, unit, text, where), text, where)


def amount(text: object, field: str = "amount") -> Amount:
    """An amount by volume [mL] or by mass [g]; raises InputError."""
    number, unit = _split("amount", _words("amount", text, field), text, field)
    if not unit:
        _wrong("error.no-unit", "amount", text, field)
    if _dimension(unit, "amount", text, field) == _registry_dimension("gram"):
        return Amount("mass", _convert("mass", number, unit, text, field, told_as="amount"))
    converted = _convert("amount-volume", number, unit, text, field, told_as="amount")
    return Amount("volume", converted)


def colour_strength(text: object, field: str = "strength") -> ColourStrength:
    """Strength as per cent (g per 100 mL) or as pH-1 absorbance per cm; raises InputError."""
    number, unit = _split("strength", _words("strength", text, field), text, field)
    if not unit:
        _wrong("error.no-unit", "strength", text, field)
    if unit in ("%", "percent", "per_cent", "%_w/v", "%_(w/v)", "w/v_%", "%_petals"):
        return ColourStrength("percent", _within("percent", number, text, field))
    if unit in ("g/l", "g/100ml", "g/100_ml", "mg/ml"):
        share = number if unit.startswith("g/100") else number / 10
        return ColourStrength("percent", _within("percent", share, text, field))
    unit = re.sub(r"^(?:au|a)(?=/)", "1", unit)
    converted = _convert("absorbance", number, unit, text, field, told_as="strength")
    return ColourStrength("absorbance", converted)


def counts_as_calcium_carbonate(text: object) -> bool:
    """Whether a hardness or alkalinity was written in ppm or mg/L without saying of what."""
    words = _words("alkalinity", text, "")
    return _split("alkalinity", words, text, "")[1] in _AS_CALCIUM_CARBONATE


def refuse(
    code: str, field: str, value: object, accepted: str, **more: Value
) -> InputError:  # returned, so that the caller's raise is seen by readers and type checker
    """Error with the catalogue's sentence ``code``, ready to be raised."""
    values: dict[str, Value] = {"field": field, "value": shown(value), "accepted": accepted}
    return InputError(say(code, values | more), field, value, accepted)


def shown(value: object) -> str:
    """What was written, short, on one line and in quotes if it is text."""
    text = repr(value) if isinstance(value, str | bytes) else str(value)
    return text if len(text) <= _TOO_LONG else f"{text[: _TOO_LONG - 3]}..."


def _read(kind: str, text: object, field: str) -> float:
    number, unit = _split(kind, _words(kind, text, field), text, field)
    if not unit:
        _wrong("error.no-unit", kind, text, field)
    return _convert(kind, number, unit, text, field)


def _words(kind: str, text: object, field: str) -> str:
    if isinstance(text, int | float) and not isinstance(text, bool):
        _wrong("error.no-unit", kind, text, field)
    if not isinstance(text, str) or not text.strip():
        _wrong("error.unreadable", kind, text, field)
    # The long minus sign is what word processors make of a hyphen.
    return text.strip().replace("−", "-")


def _split(kind: str, words: str, text: object, field: str) -> tuple[float, str]:
    """Number and unit of what was written; the unit in lower case, spaces as underscores."""
    for sign, fraction in _FRACTIONS.items():
        words = words.replace(sign, f" {fraction}")
    words = words.strip()
    match = _NUMBER.match(words)
    if match is None or len(words) > 200:
        _wrong("error.unreadable", kind, text, field)
    unit = _unit(words[match.end() :])
    if match["word"]:
        return float(match["word"]), unit
    if match["fraction"]:
        over, under = (float(part) for part in match["fraction"].split("/"))
        if under == 0:
            _wrong("error.unreadable", kind, text, field)
        whole = float(re.sub(r"\D", "", match["mixed"])) if match["mixed"] else 0.0
        return whole + over / under, unit
    return _decimal(match["plain"], kind, text, field), unit


def _decimal(digits: str, kind: str, text: object, field: str) -> float:
    marks = re.findall(r"[.,]", digits)
    if len(marks) > 1:
        _wrong("error.thousands", kind, text, field)
    decimal = float(digits.replace(",", "."))
    if re.match(r"[+-]?[1-9]\d{0,2},\d{3}(?!\d)", digits):
        # 1,500 is 1500 to some and 1.5 to others: nobody should have to find out in a bath.
        plain = f"{float(digits.replace(',', '')):g}"
        _wrong("error.two-readings", kind, text, field, plain=plain, decimal=f"{decimal:g}")
    return decimal


def _unit(words: str) -> str:
    """Spelling under which the tables know a unit."""
    unit = words.strip().lower().replace("µ", "u").replace("μ", "u")
    unit = unit.replace("²", "**2").replace("^", "**").replace("⁻¹", "**-1").replace("₃", "3")
    unit = re.sub(r"°\s*", "deg", unit).replace("us liquid", "us")
    unit = re.sub(r"\s*\b(?:as|of|per liter|per litre|per l)\b\s*", _per, unit)
    unit = re.sub(r"\s*/\s*", "/", unit)
    unit = re.sub(r"^per\s+", "/", unit)
    unit = re.sub(r"\((us|uk|imp|imperial)\)", r"\1", unit)
    unit = re.sub(r"(?<=[a-z])(?=-1$)", "**", unit)
    unit = re.sub(r"(?<=m)(?=2$)", "**", unit)
    return re.sub(r"[\s_]+", "_", unit.rstrip(".").strip())


def _per(match: re.Match[str]) -> str:
    return "/l " if "per" in match[0] else " "


def _convert(
    kind: str, number: float, unit: str, text: object, field: str, *, told_as: str | None = None
) -> float:
    told = told_as or kind
    wanted = KINDS[kind].unit
    if _dimension(unit, told, text, field) != _registry_dimension(wanted):
        _wrong("error.wrong-unit", told, text, field, unit=unit.replace("_", " "))
    spelled = f"1{unit}" if unit.startswith("/") else unit
    value = float(_registry().Quantity(number, spelled).to(wanted).magnitude)
    return _within(kind, value, text, field, told_as=told)


def _within(
    kind: str, value: float, text: object, field: str, *, told_as: str | None = None
) -> float:
    limits = KINDS[kind]
    if not math.isfinite(value):
        _wrong("error.not-finite", told_as or kind, text, field)
    # A converted bound may miss itself by a rounding.
    slack = 1e-9 * max(abs(limits.low), abs(limits.high))
    if not limits.low - slack <= value <= limits.high + slack:
        treated = kind == "volume" and value > limits.high
        _wrong(
            "error.treated-water" if treated else "error.range",
            told_as or kind,
            text,
            field,
            low=f"{limits.low:g}",
            high=f"{limits.high:g}",
            unit=f" {limits.shown}" if limits.shown else "",
            read=f"{value:.6g}",
        )
    return value


def _wrong(code: str, kind: str, text: object, field: str, **more: Value) -> NoReturn:
    raise refuse(code, field, text, say(f"error.accepted.{kind}"), **more)


def _water_unit(quantity: hardness_units.Quantity, unit: str, text: object, field: str) -> float:
    """Charge equivalents in one unit of hardness or alkalinity [meq/L]."""
    if not unit:
        _wrong("error.no-unit", quantity, text, field)
    known = _water_units().get((quantity, unit))
    if known is None:
        _wrong("error.wrong-unit", quantity, text, field, unit=unit.replace("_", " "))
    return hardness_units.unit_meq_l(quantity, known)


def _ion_factor(ion: str, unit: str, text: object, field: str) -> float:
    """Millimoles per litre in one unit."""
    if not unit:
        _wrong("error.no-unit", "ion", text, field)
    if ion == "nitrate" and unit in ("mg/l_n", "ppm_n", "mg/l_no3-n", "mg_n/l"):
        return 1 / molar_mass("N")
    plain = re.sub(r"_?(?:ca|mg|na|k|cl|so4|no3|hco3)[\d+-]*$", "", unit)
    if plain == "ppm":
        plain = "mg/l"
    if ion in ("calcium", "magnesium") and plain not in ("mg/l", "mmol/l", "meq/l"):
        known = _water_units().get(("hardness", unit))
        if known is not None:
            return hardness_units.unit_meq_l("hardness", known) / 2
    dimension = _dimension(plain, "ion", text, field)
    per_mmol = {
        "milligram / liter": molar_mass(hardness_units.IONS[ion]),
        "millimole / liter": 1.0,
        "milliequivalent / liter": float(CHARGE[ion]),
    }
    for wanted, one_mmol in per_mmol.items():
        if dimension == _registry_dimension(wanted):
            return float(_registry().Quantity(1.0, plain).to(wanted).magnitude) / one_mmol
    _wrong("error.wrong-unit", "ion", text, field, unit=unit.replace("_", " "))


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


@cache
def _water_units() -> dict[tuple[str, str], str]:
    """Quantity and spelling to the name in the table of water units."""
    known: dict[tuple[str, str], str] = {}
    for row in read_table("trade/water_units.csv", _WaterUnitRow):
        quantities = ("hardness", "alkalinity") if row.quantity == "both" else (row.quantity,)
        for spelling in (row.unit, *row.aliases.split()):
            for quantity in quantities:
                known[quantity, _unit(spelling)] = row.unit
                if spelling.endswith("_HCO3"):
                    known[quantity, _unit(f"{spelling}-")] = row.unit
                    known[quantity, "ppm_hco3"] = row.unit
    for quantity in ("hardness", "alkalinity"):
        for spelling in ("grain/gallon", "grains/gallon", "grains/gal", "grains", "gr/gal"):
            known[quantity, spelling] = "gpg"
        for spelling in ("degclark", "clark_degrees", "english_degrees"):
            known[quantity, spelling] = "e"
        known[quantity, "german_degrees"] = "dH"
        known[quantity, "french_degrees"] = "fH"
    return known


def _dimension(unit: str, kind: str, text: object, field: str) -> Any:
    """Dimension of a typed unit."""
    spelled = f"1{unit}" if unit.startswith("/") else unit
    if _UNIT.fullmatch(spelled.removeprefix("1")) is None:
        _wrong("error.wrong-unit", kind, text, field, unit=unit.replace("_", " "))
    try:
        return _registry().parse_units(spelled).dimensionality
    except (AttributeError, ValueError, TypeError):
        # What the unit library raises for unknown names and for prefixes on degrees.
        _wrong("error.wrong-unit", kind, text, field, unit=unit.replace("_", " "))


@cache
def _registry_dimension(unit: str) -> Any:
    return _registry().parse_units(unit).dimensionality


@cache
def _registry() -> Any:
    """Registry with the units of ``data/trade/units.toml`` only: built in a few milliseconds."""
    import pint

    registry: Any = pint.UnitRegistry(None)
    registry.load_definitions(list(read_toml("trade/units.toml")["definitions"]))
    return registry
