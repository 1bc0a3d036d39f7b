"""Molar masses from formulas, so that no table carries a molar mass of its own."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from indicator.tables import Sourced, read_table

_TOKEN = re.compile(r"([A-Z][a-z]?)(\d*)")
_PART = re.compile(r"(\d*)((?:[A-Z][a-z]?\d*)+)")


@dataclass(frozen=True)
class AtomicWeight(Sourced):
    """One row of the table of atomic weights."""

    element: str
    """Symbol of the element."""
    weight: float
    """Standard atomic weight [g/mol]."""


@cache
def molar_mass(formula: str) -> float:
    """Molar mass of a formula such as ``"MgSO4.7H2O"``.

    Parameters
    ----------
    formula : str
        Elements with their counts, without brackets or charge; parts joined by a full stop.

    Returns
    -------
    float
        Molar mass [g/mol].

    Raises
    ------
    ValueError
        If the formula cannot be read or names an element that the table lacks.
    """
    rows = read_table("trade/atomic_weights.csv", AtomicWeight)
    weights = {row.element: row.weight for row in rows}
    total = 0.0
    for part in formula.split("."):
        match = _PART.fullmatch(part)
        if match is None:
            raise ValueError(f"formula {formula!r} cannot be read; write it like 'MgSO4.7H2O'")
        for element, count in _TOKEN.findall(match[2]):
            if element not in weights:
                raise ValueError(f"formula {formula!r} has the unknown element {element!r}")
            total += int(match[1] or 1) * weights[element] * int(count or 1)
    return total
