"""Usual values of pouring, mixing and the gas that leaves: ``data/trade/mixing.csv``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from indicator.tables import DataError, Sourced, read_table


@dataclass(frozen=True)
class Taken:
    """A number of ``data/trade/mixing.csv`` with its range."""

    value: float
    low: float
    """Lower end of where about nine cases in ten lie; the value itself where none is stated."""
    high: float
    source: str
    confidence: str


@dataclass(frozen=True)
class _MixingRow(Sourced):
    name: str
    way: str
    value: float
    low: float | None
    high: float | None
    unit: str


def taken(name: str, way: str = "any") -> Taken:
    """Usual value and range of a quantity of pouring and mixing.

    Parameters
    ----------
    name : str
        First column of ``data/trade/mixing.csv``.
    way : str
        When the row holds, for instance ``"hand"`` or ``"jug"``.

    Returns
    -------
    Taken
        Value, low and high [unit of the row], source and confidence.

    Raises
    ------
    DataError
        If the table has no such row.
    """
    row = _mixing().get((name, way))
    if row is None:
        raise DataError(f"data/trade/mixing.csv has no row {name!r} for {way!r}")
    low = row.value if row.low is None else row.low
    high = row.value if row.high is None else row.high
    return Taken(row.value, low, high, row.source, row.confidence)


@cache
def _mixing() -> dict[tuple[str, str], _MixingRow]:
    return {(row.name, row.way): row for row in read_table("trade/mixing.csv", _MixingRow)}
