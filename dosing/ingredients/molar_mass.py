"""Molar masses from formulas, so that no table carries a molar mass of its own."""

from __future__ import annotations

import re
from functools import cache

from indicator.tables import numbers_in

_TOKEN = re.compile(r"([A-Z][a-z]?)(\d*)")
_PART = re.compile(r"(\d*)((?:[A-Z][a-z]?\d*)+)")


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
    weights = numbers_in("trade/atomic_weights.csv")
    total = 0.0
    for part in formula.split("."):
        match = _PART.fullmatch(part)
        if match is None:
            raise ValueError(f"formula {formula!r} cannot be read; write it like 'MgSO4.7H2O'")
        for element, count in _TOKEN.findall(match[2]):
            if element not in weights:
                raise ValueError(f"formula {formula!r} has the unknown element {element!r}")
            total += int(match[1] or 1) * weights[element].value * int(count or 1)
    return total
