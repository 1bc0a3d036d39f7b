"""Units in which people are told the hardness and the alkalinity of their water.

A unit is a mass of calcium carbonate or of lime in a volume of water; the factors follow from
the definitions of the units and from molar masses, and none is written down twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from dosing.equilibrium import Array
from dosing.ingredients.molar_mass import molar_mass
from dosing.ingredients.trade_values import nearest
from indicator.tables import Sourced, read_table

Quantity = Literal["hardness", "alkalinity"]


@dataclass(frozen=True)
class Ion(Sourced):
    """An ion of a water report."""

    ion: str
    formula: str
    """What its mass is given for."""
    charge: float
    """Without its sign."""


@dataclass(frozen=True)
class _UnitRow(Sourced):
    unit: str
    quantity: str
    mass_mg: float | None
    formula: str
    volume_l: float
    meq_per_mmol: float
    aliases: str

    @property
    def meq_l(self) -> float:
        """Charge equivalents in one unit [meq/L]."""
        mmol = 1.0 if self.mass_mg is None else self.mass_mg / molar_mass(self.formula)
        return mmol * self.meq_per_mmol / self.volume_l


@dataclass(frozen=True)
class _ClassRow(Sourced):
    name: str
    unit: str
    upper: float = np.inf


def hardness_mmol_l(value: ArrayLike, unit: str) -> Array:
    """Hardness given in ``unit`` as calcium plus magnesium.

    Parameters
    ----------
    value : array_like
        Hardness [unit].
    unit : str
        ``"mg_l_caco3"`` (ppm), ``"meq_l"``, ``"mmol_l"``, ``"dH"``, ``"fH"``, ``"e"`` or ``"gpg"``.

    Returns
    -------
    ndarray
        Ca + Mg [mmol/L], shape of ``value``.

    Raises
    ------
    ValueError
        If the unit is unknown.
    """
    return np.asarray(value, dtype=float) * unit_meq_l("hardness", unit) / 2


def hardness_in(mmol_l: ArrayLike, unit: str) -> Array:
    """Hardness in a unit of people; the inverse of `hardness_mmol_l`.

    Parameters
    ----------
    mmol_l : array_like
        Calcium and magnesium together [mmol/L].
    unit : str
        A unit of hardness, for instance ``"dH"``.

    Returns
    -------
    numpy.ndarray
        Hardness [unit], shape of `mmol_l`.
    """
    return np.asarray(mmol_l, dtype=float) * 2 / unit_meq_l("hardness", unit)


def alkalinity_meq_l(value: ArrayLike, unit: str) -> Array:
    """Alkalinity given in ``unit`` as charge equivalents of acid that it takes up.

    Parameters
    ----------
    value : array_like
        Alkalinity [unit].
    unit : str
        As for `hardness_mmol_l`; also ``"mg_l_hco3"``. Here ``"mmol_l"`` is the acid capacity
        to pH 4.3 (1 mmol/L = 1 meq/L).

    Returns
    -------
    ndarray
        Alkalinity [meq/L], shape of ``value``.

    Raises
    ------
    ValueError
        If the unit is unknown.
    """
    return np.asarray(value, dtype=float) * unit_meq_l("alkalinity", unit)


def alkalinity_in(meq_l: ArrayLike, unit: str) -> Array:
    """Alkalinity in a unit of people; the inverse of `alkalinity_meq_l`.

    Parameters
    ----------
    meq_l : array_like
        Alkalinity [meq/L].
    unit : str
        A unit of alkalinity, for instance ``"ppm"``.

    Returns
    -------
    numpy.ndarray
        Alkalinity [unit], shape of `meq_l`.
    """
    return np.asarray(meq_l, dtype=float) / unit_meq_l("alkalinity", unit)


def ion_mmol_l(mg_l: ArrayLike, ion: str) -> Array:
    """Concentration of an ion that a water report gives by mass.

    Parameters
    ----------
    mg_l : array_like
        Mass concentration of the ion itself [mg/L] (nitrate as NO3, not as N).
    ion : str
        A key of `ions`.

    Returns
    -------
    ndarray
        Concentration [mmol/L], shape of ``mg_l``.

    Raises
    ------
    ValueError
        If the ion is unknown.
    """
    return np.asarray(mg_l, dtype=float) / molar_mass(ions()[nearest(ion, ions(), "ion")].formula)


def hardness_class(mmol_l: float) -> str:
    """Class of a hardness [mmol/L] for people: soft, medium, hard, very-hard; empty for NaN.

    The bounds of the US Geological Survey are 60, 120 and 180 mg/L CaCO3.
    """
    rows = read_table("trade/hardness_classes.csv", _ClassRow)
    classes = (row.name for row in rows if mmol_l <= hardness_mmol_l(row.upper, row.unit))
    return next(classes, "")


def hardness_classes() -> list[tuple[float, float]]:
    """Lower and upper end of each class of hardness, the softest first [mmol/L]."""
    rows = read_table("trade/hardness_classes.csv", _ClassRow)
    uppers = [float(hardness_mmol_l(row.upper, row.unit)) for row in rows]
    return list(zip([0.0, *uppers], uppers, strict=False))


@cache
def ions() -> dict[str, Ion]:
    """Ions of a water report by their names."""
    return {row.ion: row for row in read_table("trade/ions.csv", Ion)}


def unit_meq_l(quantity: Quantity, unit: str) -> float:
    """Charge equivalents in one unit of hardness or alkalinity [meq/L].

    Parameters
    ----------
    quantity : {"hardness", "alkalinity"}
        What is measured in it.
    unit : str
        Name of the unit.

    Returns
    -------
    float
        What a reading is multiplied with [meq/L per unit], from ``data/trade/water_units.csv``,
        each with its source.

    Raises
    ------
    ValueError
        If the unit is not one of this quantity.
    """
    units = water_units(quantity)
    return units[nearest(unit, units, f"unit of {quantity}")]


@cache
def water_units(quantity: Quantity) -> dict[str, float]:
    """Charge equivalents in one unit of ``quantity`` [meq/L] by every spelling of the unit."""
    rows = read_table("trade/water_units.csv", _UnitRow)
    return {
        name: row.meq_l
        for row in rows
        if row.quantity in (quantity, "both")
        for name in (row.unit, *row.aliases.split())
    }
