"""Typed quantities: the number, the unit, and the bounds that the value must keep."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import NoReturn, cast

from dosing.ingredients.hardness_units import Quantity
from dosing.recipe.quantities.dry_goods import without_goods
from dosing.recipe.quantities.errors import refuse
from dosing.recipe.quantities.units import (
    Unit,
    number_words,
    unit_of,
    unit_spelling,
    water_unit_of,
)
from indicator.notes import Value, say
from indicator.tables import Sourced, read_table


@dataclass(frozen=True)
class Limits(Sourced):
    """Core unit of a kind of quantity, and how far a value may go."""

    kind: str
    """Key of the catalogue's table [error.accepted]."""
    unit: str
    """Core unit in the spelling of ``data/trade/units.csv``; empty for a plain number."""
    water: str
    """``"hardness"`` or ``"alkalinity"`` where the units of water count, else empty."""
    shown: str
    """Core unit as people read it."""
    low: float
    """Smallest accepted value [shown]."""
    high: float
    """Largest accepted value [shown]."""


@cache
def limits() -> dict[str, Limits]:
    """Limits of every kind of quantity."""
    return {row.kind: row for row in read_table("trade/typed_limits.csv", Limits)}


_LONGEST = 200
_MOST_NUMBER_WORDS = 4
# What one unit of a kind is in another kind: per cent are grams per 100 mL, AU is only a sign.
_AS = {
    ("share", "weight in volume"): 1.0,
    ("mass/volume", "weight in volume"): 100.0,
    ("absorbance/length", "1/length"): 1.0,
}
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
        if isinstance(self.text, int | float) and not isinstance(self.text, bool):
            if self.kind not in limits() or limits()[self.kind].unit:
                self.wrong("error.no-unit")
            return float(self.text), ""
        if not isinstance(self.text, str):
            self.wrong("error.unreadable")
        # The long minus sign is what word processors make of a hyphen.
        words = self.text.strip().replace("−", "-")
        for sign, fraction in _FRACTIONS.items():
            words = words.replace(sign, f" {fraction}")
        words = _in_digits(words.strip())
        if self.kind == "ph":
            words = re.sub(r"^ph\s*=?\s*", "", words, flags=re.IGNORECASE)
        match = _NUMBER.match(words)
        if match is None or len(words) > _LONGEST:
            self.wrong("error.unreadable")
        unit = unit_spelling(words[match.end() :])
        if self.kind == "colour-amount":
            unit = without_goods(unit)
        if match["word"]:
            return float(match["word"]), unit
        if match["fraction"]:
            return self._fraction(match["whole"], match["fraction"]), unit
        return self._decimal(match["plain"]), unit

    def measure(self) -> tuple[float, Unit]:
        """Number, and its unit; one without a kind where there is none."""
        number, spelling = self.split()
        return number, unit_of(spelling) or Unit("", 1.0)

    def measures(self) -> str:
        """Kind of the unit, as in ``data/trade/units.csv``; empty for no unit."""
        return self.measure()[1].kind

    def core(self, kind: str = "") -> float:
        """Value in the core unit of a kind, its own if none is named.

        Raises
        ------
        InputError
            If the unit is unknown or of another kind, or the value out of bounds.
        """
        bounds = limits()[kind or self.kind]
        number, spelling = self.split()
        if not bounds.unit and not spelling:
            return self.within(number, bounds.kind)
        unit, core = (
            water_unit_of(name, cast(Quantity, bounds.water)) if bounds.water else unit_of(name)
            for name in (spelling, bounds.unit)
        )
        if unit is None or core is None:
            self.wrong_unit(spelling)
        share = 1.0 if unit.kind == core.kind else _AS.get((unit.kind, core.kind))
        if share is None:
            self.wrong_unit(spelling)
        value = (number + unit.offset) * unit.factor * share / core.factor
        return self.within(value, bounds.kind)

    def within(self, value: float, kind: str = "") -> float:
        """A value in core units, if it is finite and within the limits of its kind.

        Parameters
        ----------
        value : float
            In the core unit of the kind.
        kind : str
            Whose limits are kept; the kind of the field if not named.

        Returns
        -------
        float
            The value unchanged.

        Raises
        ------
        InputError
            If it is not.
        """
        bounds = limits()[kind or self.kind]
        if not math.isfinite(value):
            self.wrong("error.not-finite")
        # A converted bound may miss itself by a rounding.
        slack = 1e-9 * max(abs(bounds.low), abs(bounds.high))
        if bounds.low - slack <= value <= bounds.high + slack:
            return value
        treated = self.kind == "volume" and value > bounds.high
        unit = f" {bounds.shown}" if bounds.shown else ""
        read = f"{value:.10g}{unit}"
        return self.wrong(
            "error.treated-water" if treated else "error.range",
            low=f"{bounds.low:g}",
            high=f"{bounds.high:g}",
            unit=unit,
            read="" if read == str(self.text).strip() else f" ({read})",
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


def _in_digits(words: str) -> str:
    """The text with digits for a number in words at its start: ``half a cup``, ``two tsp``."""
    tokens = words.split()
    for count in range(min(len(tokens) - 1, _MOST_NUMBER_WORDS), 0, -1):
        number = number_words().get("_".join(tokens[:count]).casefold())
        if number is not None:
            return " ".join([f"{number:g}", *tokens[count:]])
    return words
