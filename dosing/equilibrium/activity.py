"""Activity coefficients of ions: the shipped default and its rivals, kept for comparison.

Every model here has the form ln γ = z² f(I, T); uncharged species have γ = 1. The default adds, for
free calcium and magnesium, the individual-ion equation fitted to their salts. Above the published
limit of ionic strength everything is held, so that pH stays monotone in added acid.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from dosing.equilibrium.constants import LN10, Array, constant
from indicator.tables import Sourced, read_table


@dataclass(frozen=True)
class ActivityModel:
    """Activity coefficients by ionic strength I: log10 γ = -A z² (√I/(1 + size √I) - linear I)."""

    size: float
    """[kg^0.5 mol^-0.5]."""
    linear: float
    """[kg/mol]."""
    ion_specific: bool = False
    """Whether ions in ``data/equilibrium/activity_ions.csv`` follow their own equation."""


@dataclass(frozen=True)
class IonRow(Sourced):
    """One row of ``data/equilibrium/activity_ions.csv``."""

    metal: str
    size_angstrom: float
    linear: float


@dataclass(frozen=True)
class Activity:
    """Activity coefficients of a batch of solutions; the last axis counts solutions."""

    unit: Array
    """ln γ of an ion of charge one, shape (solutions,)."""
    slope: Array
    """Its derivative by the ionic strength [kg/mol]."""
    excess: Array
    """ln γ beyond z² `unit` of free metals with an equation of their own, (metals, solutions)."""
    excess_slope: Array
    """Its derivative by the ionic strength [kg/mol]."""


ACTIVITY_MODELS: Mapping[str, ActivityModel] = MappingProxyType(
    {
        "davies_truesdell_jones": ActivityModel(1.0, 0.3, ion_specific=True),
        # Davies 1962 (Ion Association), and 1938.
        "davies_0.3": ActivityModel(1.0, 0.3),
        "davies_0.2": ActivityModel(1.0, 0.2),
        # Bates and Guggenheim 1960: the convention behind the pH standards.
        "bates_guggenheim": ActivityModel(1.5, 0.0),
        # Güntelberg 1926.
        "guntelberg": ActivityModel(1.0, 0.0),
        "limiting_law": ActivityModel(0.0, 0.0),
    }
)
DEFAULT_ACTIVITY_MODEL = "davies_truesdell_jones"


def ion_rows(metals: tuple[str, ...]) -> tuple[IonRow, ...]:
    """The individual equations of those metals that have one, in the order of ``metals``."""
    rows = {row.metal: row for row in read_table("equilibrium/activity_ions.csv", IonRow)}
    return tuple(rows[metal] for metal in metals if metal in rows)


def activity_coefficients(
    model: ActivityModel,
    ions: tuple[Array, Array, Array],
    ionic_strength: Array,
    slope: Array,
    size: Array,
) -> Activity:
    """Ln γ of an ion of charge one, what some free metals have beyond it, and the derivatives.

    Parameters
    ----------
    model : ActivityModel
        One of `ACTIVITY_MODELS`.
    ions : tuple of numpy.ndarray
        Charge, size [angstrom] and linear term [kg/mol] of the metals with an equation of their
        own, log10 γ = -A z² √I/(1 + B a √I) + b I; shapes (metals, 1).
    ionic_strength : numpy.ndarray
        [mol/kg], shape (solutions,); above the limit of validity the values at it are returned.
    slope, size : numpy.ndarray
        Debye–Hückel A [kg^0.5 mol^-0.5] and B [kg^0.5 mol^-0.5 per angstrom], shape (solutions,).

    Returns
    -------
    Activity
        Source of the metals' equation: Truesdell and Jones 1974.
    """
    limit = constant("ionic_strength_limit")
    inside = ionic_strength < limit
    # A floor far below any real water keeps the square root's derivative finite.
    held = np.clip(ionic_strength, 1e-14, limit)
    root = np.sqrt(held)
    scale, below = -LN10 * slope, 1.0 + model.size * root
    unit = scale * (root / below - model.linear * held)
    unit_slope = inside * (scale * (0.5 / (root * below * below) - model.linear))
    charge, size_angstrom, linear = ions
    square, steady = charge**2, LN10 * linear
    below = 1.0 + size_angstrom * (size * root)
    own = square * (scale * root) / below
    excess = own + steady * held - square * unit
    excess_slope = inside * (0.5 * own / (held * below) + steady) - square * unit_slope
    return Activity(unit, unit_slope, excess, excess_slope)
