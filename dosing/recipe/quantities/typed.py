"""What was typed for a field: its number, its unit, and the bounds its value must keep."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NoReturn

from dosing.recipe.quantities.errors import refuse
from indicator.notes import Value, say


@dataclass(frozen=True)
class Limits:
    """Core unit of a kind of quantity, and how far a value may go."""

    unit: str
    """Core unit in the unit library's terms; empty where that library is not asked."""
    shown: str
    """Core unit as people read it."""
    low: float
    """Smallest accepted value [core unit]."""
    high: float
    """Largest accepted value [core unit]."""


# The bounds only keep typing errors out (a unit mistaken, a digit too many); they are our own.
# Whether a value inside them is wise is for warnings and cautions. What is accepted is said in
# words in the catalogue, table [error.accepted].
LIMITS: Mapping[str, Limits] = {
    "volume": Limits("liter", "L", 0.05, 799.0),
    "amount-volume": Limits("milliliter", "mL", 0.0, 20_000.0),
    "mass": Limits("gram", "g", 0.0, 20_000.0),
    "length": Limits("centimeter", "cm", 1.0, 400.0),
    "area": Limits("centimeter ** 2", "cm²", 10.0, 60_000.0),
    "temperature": Limits("degree_celsius", "°C", 0.0, 60.0),
    "alkalinity": Limits("", "meq/L", 0.0, 40.0),
    "drop-step": Limits("", "meq/L", 0.01, 2.0),
    "hardness": Limits("", "mmol/L", 0.0, 20.0),
    "ion": Limits("", "mmol/L", 0.0, 100.0),
    "titratable": Limits("milliequivalent / kilogram", "meq/kg", -1000.0, 1000.0),
    "percent": Limits("", "%", 0.0, 30.0),
    "share": Limits("", "%", 0.0, 100.0),
    "absorbance": Limits("1 / centimeter", "per cm", 0.0, 300.0),
    "age": Limits("year", "years", 0.0, 120.0),
    "time": Limits("day", "days", 0.0, 3650.0),
    "steep-temperature": Limits("degree_celsius", "°C", 0.0, 100.0),
    "steep-time": Limits("minute", "minutes", 0.5, 4320.0),
    "infusion": Limits("gram", "g", 10.0, 20_000.0),
    "petals": Limits("", "%", 0.05, 15.0),
    "drops": Limits("", "drops", 0.0, 10_000.0),
    "ph": Limits("", "", 0.0, 14.0),
    "thinned": Limits("", "", 1.0, 10.0),
}

_LONGEST = 200
_FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8"}
_NUMBER = re.compile(
    r"(?P<word>[+-]?(?:nan|inf|infinity))(?![a-z])"
    r"|(?P<whole>\d+(?:\s+|-))?(?P<fraction>\d+/\d+)"
    r"|(?P<plain>[+-]?(?:\d+(?:[.,]\d+)*|[.,]\d+)(?:e[+-]?\d+)?)",
    re.IGNORECASE,
)
_THOUSAND_OR_DECIMAL = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}(?!\d)")


@dataclass(frozen=True)
class Typed:
    """Text that a person typed where a quantity of some kind belongs."""

    kind: str
    """Key of the catalogue's table [error.accepted]."""
    text: object
    field: str

    def split(self) -> tuple[float, str]:
        """Number and unit; the unit in the spelling of `unit_spelling`, empty if there is none.

        Raises
        ------
        InputError
            If there is no number, or one that can be read two ways.
        """
        if not isinstance(self.text, str):
            bare = isinstance(self.text, int | float) and not isinstance(self.text, bool)
            self.wrong("error.no-unit" if bare else "error.unreadable")
        # The long minus sign is what word processors make of a hyphen.
        words = self.text.strip().replace("−", "-")
        for sign, fraction in _FRACTIONS.items():
            words = words.replace(sign, f" {fraction}")
        words = words.strip()
        if self.kind == "ph":
            words = re.sub(r"^ph\s*=?\s*", "", words, flags=re.IGNORECASE)
        match = _NUMBER.match(words)
        if match is None or len(words) > _LONGEST:
            self.wrong("error.unreadable")
        unit = unit_spelling(words[match.end() :])
        if match["word"]:
            return float(match["word"]), unit
        if match["fraction"]:
            return self._fraction(match["whole"], match["fraction"]), unit
        return self._decimal(match["plain"]), unit

    def within(self, value: float, limits: str = "") -> float:
        """The value itself, if it is finite and within the limits of its kind.

        Raises
        ------
        InputError
            If it is not.
        """
        bounds = LIMITS[limits or self.kind]
        if not math.isfinite(value):
            self.wrong("error.not-finite")
        # A converted bound may miss itself by a rounding.
        slack = 1e-9 * max(abs(bounds.low), abs(bounds.high))
        if bounds.low - slack <= value <= bounds.high + slack:
            return value
        treated = self.kind == "volume" and value > bounds.high
        return self.wrong(
            "error.treated-water" if treated else "error.range",
            low=f"{bounds.low:g}",
            high=f"{bounds.high:g}",
            unit=f" {bounds.shown}" if bounds.shown else "",
            read=f"{value:.10g}",
        )

    def wrong(self, code: str, **more: Value) -> NoReturn:
        """Refuse it with a sentence of the catalogue."""
        accepted = say(f"error.accepted.{self.kind}")
        raise refuse(code, self.field, self.text, accepted, **more)

    def wrong_unit(self, unit: str) -> NoReturn:
        """Refuse it for its unit, or for having none."""
        if not unit:
            self.wrong("error.no-unit")
        self.wrong("error.wrong-unit", unit=unit.replace("_", " "))

    def _fraction(self, whole: str | None, fraction: str) -> float:
        over, under = (float(part) for part in fraction.split("/"))
        if under == 0:
            self.wrong("error.unreadable")
        return float(re.sub(r"\D", "", whole or "0")) + over / under

    def _decimal(self, digits: str) -> float:
        if len(re.findall(r"[.,]", digits)) > 1:
            self.wrong("error.thousands")
        decimal = float(digits.replace(",", "."))
        if _THOUSAND_OR_DECIMAL.match(digits):
            # 1,500 is 1500 to some and 1.5 to others: nobody should find out in a bath.
            plain = float(digits.replace(",", ""))
            self.wrong("error.two-readings", plain=f"{plain:g}", decimal=f"{decimal:g}")
        return decimal


def unit_spelling(words: str) -> str:
    """Spelling under which the tables know a unit: lower case, spaces as underscores."""
    unit = words.strip().lower().replace("µ", "u").replace("μ", "u").replace("º", "°")
    unit = unit.replace("℃", "°c").replace("℉", "°f")
    unit = unit.replace("²", "**2").replace("^", "**").replace("⁻¹", "**-1").replace("₃", "3")
    unit = re.sub(r"°\s*", "deg", unit)
    unit = re.sub(r"\s+per\s+(?=lit(?:er|re)\b|l\b|kg\b|cm\b)", "/", unit)
    unit = re.sub(r"/\s*lit(?:er|re)\b", "/l", unit)
    unit = re.sub(r"^per\s+", "/", unit)
    unit = re.sub(r"\b(?:as|of)\b", " ", unit)
    unit = re.sub(r"\s*/\s*", "/", unit)
    unit = re.sub(r"[()]", " ", unit).strip()
    # Laboratories put the substance before the litre: mg CaCO3/L.
    unit = re.sub(r"^mg\s+([a-z][a-z\d]*[\d+-]*)/l$", r"mg/l \1", unit)
    # cm-1 and m2 as they are written by hand.
    unit = re.sub(r"(?<=[a-z])(?=-1$)", "**", unit)
    unit = re.sub(r"(?<=m)(?=2$)", "**", unit)
    return re.sub(r"[\s_]+", "_", unit.rstrip(".").strip())
