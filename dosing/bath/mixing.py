"""Usual values of pouring, mixing and the gas that leaves: ``data/trade/mixing.csv``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from indicator.tables import DataError, Number, read_table


@dataclass(frozen=True)
class _MixingRow(Number):
    way: str = "any"


def taken(name: str, way: str = "any") -> Number:
    """Usual value and range of a quantity of pouring and mixing.

    Parameters
    ----------
    name : str
        First column of ``data/trade/mixing.csv``.
    way : str
        When the row holds, for instance ``"hand"`` or ``"jug"``.

    Returns
    -------
    Number
        Value and its ends [unit of the row], source and confidence.

    Raises
    ------
    DataError
        If the table has no such row.
    """
    row = _mixing().get((name, way))
    if row is None:
        raise DataError(f"data/trade/mixing.csv has no row {name!r} for {way!r}")
    return row


@cache
def _mixing() -> dict[tuple[str, str], _MixingRow]:
    return {(row.name, row.way): row for row in read_table("trade/mixing.csv", _MixingRow)}
