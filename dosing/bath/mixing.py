"""Usual values of pouring, mixing and the gas that leaves: ``data/trade/mixing.csv``."""

from __future__ import annotations

from indicator.tables import Number, number_of


def taken(name: str, way: str = "") -> Number:
    """Usual value and range of a quantity of pouring and mixing.

    Parameters
    ----------
    name : str
        Quantity, as ``data/trade/mixing.csv`` has it.
    way : str
        When the row holds, for instance ``"hand"`` or ``"jug"``; empty if always.

    Returns
    -------
    Number
        Value and its ends [unit of the row], source and confidence.

    Raises
    ------
    DataError
        If the table has no such row.
    """
    return number_of("trade/mixing.csv", f"{name}:{way}" if way else name)
