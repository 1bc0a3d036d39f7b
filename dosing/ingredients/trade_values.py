"""Usual values of the trade where nothing was measured, and errors of readings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache
from typing import Any, TypeVar, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.equilibrium import Array
from indicator.tables import NINE_IN_TEN_SD, Number, Sourced, number_of, read_table

Row = TypeVar("Row")

NINE_IN_TEN = 2.0 * NINE_IN_TEN_SD
"""Standard deviations between the ends of nine cases in ten."""
SAME_STEP = 0.02
"""Share by which two units of one step of a strip may differ."""


@dataclass(frozen=True)
class Instrument(Sourced):
    """Error of a reading: a row of ``data/trade/instruments.csv``."""

    quantity: str
    instrument: str
    unit: str
    """Of the quantity."""
    sd_absolute: float
    """Standard deviation that does not grow with the reading [unit of the quantity]."""
    sd_relative: float
    """Standard deviation as a share of the reading."""
    last_step: float = np.inf
    """The reading that means this or more [unit of the quantity]; infinite if there is none."""
    sd_past_last: float = 0.0
    """How far the true value may lie above it [unit of the quantity]."""
    sd_steps: float = 0.0
    """Standard deviation of what is counted in whole steps, in steps; 0 if nothing is counted."""

    def counted(self, step: float) -> Instrument:
        """The spread where a step of the count is worth so much [unit of the quantity]."""
        return replace(self, sd_absolute=self.sd_steps * step) if self.sd_steps else self

    def sd(self, reading: ArrayLike) -> Array:
        """Standard deviation of the true value at a reading [unit of the quantity]."""
        return np.hypot(self.sd_absolute, self.sd_relative * np.asarray(reading, dtype=float))

    def at_last_step(self, reading: ArrayLike) -> NDArray[np.bool_]:
        """Whether a reading means this or more."""
        shown = np.asarray(reading, dtype=float)
        return np.asarray(np.abs(shown / self.last_step - 1.0) <= SAME_STEP)

    def sides(self, reading: ArrayLike, thinned: float = 1.0) -> tuple[Array, Array]:
        """Standard deviations of a true value below and above its reading, shape of the reading.

        Parameters
        ----------
        reading : array_like
            As it stands for the water itself [unit of the quantity].
        thinned : float
            How many times the water was thinned for it, which multiplies its error.

        Returns
        -------
        tuple of numpy.ndarray
            Below and above [unit of the quantity], shape of the reading. Above is the larger one
            where the reading means this or more.
        """
        shown = np.asarray(reading, dtype=float) / thinned
        below = self.sd(shown) * thinned
        past = self.sd_past_last * thinned
        return below, np.where(self.at_last_step(shown), np.maximum(below, past), below)

    def around(self, reading: ArrayLike, normal: ArrayLike) -> Array:
        """True values that lie so many standard deviations from a reading.

        Parameters
        ----------
        reading : array_like
            As it was read [unit of the quantity].
        normal : array_like
            Standard deviations, negative below the reading; broadcasts with it.

        Returns
        -------
        numpy.ndarray
            [unit of the quantity], the broadcast shape.
        """
        below, above = self.sides(reading)
        moved = np.asarray(normal, dtype=float)
        return np.asarray(np.asarray(reading) + np.where(moved > 0, above, below) * moved)


def typical(name: str) -> Number:
    """Usual value of a number that nobody measured: a row of ``data/trade/typical.csv``.

    Raises
    ------
    DataError
        If there is no such row.

    Examples
    --------
    >>> typical("tap_ph").unit
    'pH'
    """
    return number_of("trade/typical.csv", name)


def reading_spread(quantity: str, instrument: str) -> Instrument:
    """Error of a reading of ``quantity`` by ``instrument``.

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
    Instrument

    Raises
    ------
    ValueError
        If the quantity is unknown, or is not read with such an instrument.
    """
    known = instruments(quantity)
    return known[nearest(instrument, known, f"instrument for {quantity}")]


def instruments(quantity: str) -> Mapping[str, Instrument]:
    """Instruments that read a quantity, by name."""
    table = _instruments()
    return table[nearest(quantity, table, "quantity")]


def nearest(name: str, known: Iterable[str], what: str) -> str:
    """A name checked against the known ones: ``name`` itself if it is among them.

    Parameters
    ----------
    name : str
        As it was typed.
    known : iterable of str
        Accepted names.
    what : str
        What they name, for the sentence.

    Returns
    -------
    str
        The same name.

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


def names_of(table: str, row_type: type[Row]) -> tuple[str, ...]:
    """Names of a table's rows, without aliases, in the order of the table.

    Parameters
    ----------
    table : str
        Path below ``data/``.
    row_type : type
        Of the rows, with ``name`` and ``aliases``.

    Returns
    -------
    tuple of str
        Each once.
    """
    return tuple(dict.fromkeys(row.name for row in _by_name(table, cast(Any, row_type)).values()))


def named(name: str, what: str, table: str, row_type: type[Row]) -> Row:
    """Row of a table by its name or alias.

    Parameters
    ----------
    name : str
        Name or alias.
    what : str
        What the rows are, for the sentence.
    table : str
        Path below ``data/``.
    row_type : type
        Of the rows, with ``name`` and ``aliases``.

    Returns
    -------
    row_type
        The row.

    Raises
    ------
    ValueError
        If there is none; the sentence names the nearest.
    """
    rows = _by_name(table, cast(Any, row_type))
    row: Row = rows[nearest(name, rows, what)]
    return row


@cache
def _by_name(table: str, row_type: Any) -> dict[str, Any]:
    rows = read_table(table, row_type)
    return {name: row for row in rows for name in (row.name, *row.aliases.split())}


def middle(values: ArrayLike) -> float:
    """Median of the finite values, the one number that a note quotes of a batch; else NaN."""
    array = np.asarray(values, dtype=float)
    finite = array[np.isfinite(array)]
    return float(np.median(finite)) if finite.size else float("nan")


@cache
def _instruments() -> dict[str, dict[str, Instrument]]:
    table: dict[str, dict[str, Instrument]] = {}
    for row in read_table("trade/instruments.csv", Instrument):
        counted = row.counted(typical("drop_step").value)
        table.setdefault(row.quantity, {})[row.instrument] = counted
    return table


def is_basin(volume_l: float) -> bool:
    """Whether so much water [L] is that of a foot basin rather than of a tub."""
    return volume_l < typical("least_tub").value
