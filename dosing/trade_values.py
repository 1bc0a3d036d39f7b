"""What the trade takes as typical where nothing was measured, and how far readings may be off."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.tables import read_table

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Typical:
    """A number that stands in for what nobody measured."""

    key: str
    """Name of the number."""
    value: float
    """The number [unit]."""
    low: float | None
    """Lower end of where about nine cases in ten lie [unit]."""
    high: float | None
    """Upper end of where about nine cases in ten lie [unit]."""
    unit: str
    """Unit of the three."""
    source: str
    """Key of the source."""
    confidence: str
    """How far the number can be trusted."""


@dataclass(frozen=True)
class Spread:
    """How far a reading may be from the truth."""

    sd_absolute: float
    """Standard deviation that does not grow with the reading [unit of the quantity]."""
    sd_relative: float
    """Standard deviation as a share of the reading."""
    source: str
    """Key of the source."""
    confidence: str
    """How far the two can be trusted."""

    def sd(self, reading: ArrayLike) -> Array:
        """Give the standard deviation of the true value at ``reading`` [unit of the quantity]."""
        return np.hypot(self.sd_absolute, self.sd_relative * np.asarray(reading, dtype=float))


@dataclass(frozen=True)
class _InstrumentRow:
    quantity: str
    instrument: str
    unit: str
    sd_absolute: float
    sd_relative: float
    source: str
    confidence: str


def typical(key: str) -> Typical:
    """Typical value of ``key`` in ``data/trade/typical.csv``.

    Raises
    ------
    ValueError
        If there is no such key.
    """
    return _typical()[nearest(key, _typical(), "typical value")]


def reading_spread(quantity: str, instrument: str) -> Spread:
    """How far a reading of ``quantity`` by ``instrument`` may be off.

    Parameters
    ----------
    quantity : str
        ``"alkalinity"`` [meq/L], ``"hardness"`` [mmol/L], ``"ph"``, ``"volume"`` [L],
        ``"mass"`` [g], ``"temperature"`` [°C] or ``"pigment_strength"``.
    instrument : str
        For instance ``"strip"``, ``"drop-kit"``, ``"meter"``, ``"water-report"``; for a volume
        ``"measured"``, ``"dimensions"`` or ``"by-eye"``.

    Returns
    -------
    Spread

    Raises
    ------
    ValueError
        If the quantity is unknown, or is not read with such an instrument.
    """
    table = _instruments()
    known = table[nearest(quantity, table, "quantity")]
    return known[nearest(instrument, known, f"instrument for {quantity}")]


def instruments(quantity: str) -> tuple[str, ...]:
    """Names of the instruments that `reading_spread` knows for ``quantity``."""
    table = _instruments()
    return tuple(table[nearest(quantity, table, "quantity")])


def nearest(name: str, known: Iterable[str], what: str) -> str:
    """``name`` itself if it is among ``known``.

    Raises
    ------
    ValueError
        Naming the nearest known name, or all of them where none is near.
    """
    names = list(known)
    if name in names:
        return name
    close = get_close_matches(name, names, n=1)
    hint = f"did you mean {close[0]!r}?" if close else "known are " + ", ".join(names)
    raise ValueError(f"unknown {what} {name!r}; {hint}")


def middle(values: ArrayLike) -> float:
    """Median of the finite values, the one number that a note quotes of a batch; else NaN."""
    array = np.asarray(values, dtype=float)
    finite = array[np.isfinite(array)]
    return float(np.median(finite)) if finite.size else float("nan")


@cache
def _typical() -> dict[str, Typical]:
    return {row.key: row for row in read_table("trade/typical.csv", Typical)}


@cache
def _instruments() -> dict[str, dict[str, Spread]]:
    table: dict[str, dict[str, Spread]] = {}
    for row in read_table("trade/instruments.csv", _InstrumentRow):
        spread = Spread(row.sd_absolute, row.sd_relative, row.source, row.confidence)
        table.setdefault(row.quantity, {})[row.instrument] = spread
    return table
