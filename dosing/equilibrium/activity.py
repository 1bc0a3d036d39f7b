"""Activity coefficients of ions: the shipped default and its rivals, kept for comparison.

Every model here has the form ln γ = z² f(I, T); uncharged species have γ = 1. The default adds, for
free calcium and magnesium, the individual-ion equation fitted to their salts. Above the published
limit of ionic strength everything is held, so that pH stays monotone in added acid.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from dosing.equilibrium.constants import LN10, Array, constant
from indicator.tables import read_table

Shape = Callable[[Array], tuple[Array, Array]]
"""Takes the ionic strength [mol/kg]; returns the shape s with log10 γ = -A z² s, and ds/dI."""


@dataclass(frozen=True)
class ActivityModel:
    """How activity coefficients follow the ionic strength."""

    shape: Shape
    """For all ions."""
    ion_specific: bool = False
    """Whether ions in ``data/equilibrium/activity_ions.csv`` follow their own equation."""


@dataclass(frozen=True)
class IonRow:
    """One row of ``data/equilibrium/activity_ions.csv``."""

    metal: str
    size_angstrom: float
    linear: float
    source: str
    confidence: str


def limiting_law(ionic_strength: Array) -> tuple[Array, Array]:
    """Debye–Hückel limiting law, s = √I."""
    root = np.sqrt(ionic_strength)
    return root, 0.5 / root


def _denominator_model(ionic_strength: Array, size: float, linear: float) -> tuple[Array, Array]:
    root = np.sqrt(ionic_strength)
    below = 1.0 + size * root
    return root / below - linear * ionic_strength, 0.5 / (root * below * below) - linear


def guntelberg(ionic_strength: Array) -> tuple[Array, Array]:
    """Güntelberg 1926, s = √I/(1 + √I)."""
    return _denominator_model(ionic_strength, 1.0, 0.0)


def davies_0_2(ionic_strength: Array) -> tuple[Array, Array]:
    """Davies 1938, s = √I/(1 + √I) - 0.2 I."""
    return _denominator_model(ionic_strength, 1.0, 0.2)


def davies_0_3(ionic_strength: Array) -> tuple[Array, Array]:
    """Davies 1962 (Ion Association), s = √I/(1 + √I) - 0.3 I."""
    return _denominator_model(ionic_strength, 1.0, 0.3)


def bates_guggenheim(ionic_strength: Array) -> tuple[Array, Array]:
    """Bates and Guggenheim 1960, s = √I/(1 + 1.5 √I): the convention behind the pH standards."""
    return _denominator_model(ionic_strength, 1.5, 0.0)


ACTIVITY_MODELS: Mapping[str, ActivityModel] = MappingProxyType(
    {
        "davies_truesdell_jones": ActivityModel(davies_0_3, ion_specific=True),
        "davies_0.3": ActivityModel(davies_0_3),
        "davies_0.2": ActivityModel(davies_0_2),
        "bates_guggenheim": ActivityModel(bates_guggenheim),
        "guntelberg": ActivityModel(guntelberg),
        "limiting_law": ActivityModel(limiting_law),
    }
)
DEFAULT_ACTIVITY_MODEL = "davies_truesdell_jones"


def activity_model(name: str) -> ActivityModel:
    """Model called ``name``.

    Raises
    ------
    ValueError
        If there is none of that name.
    """
    try:
        return ACTIVITY_MODELS[name]
    except KeyError:
        accepted = ", ".join(ACTIVITY_MODELS)
        raise ValueError(f"activity is {name!r}; accepted are {accepted}") from None


def ln_gamma_unit(model: ActivityModel, ionic_strength: Array, slope: Array) -> tuple[Array, Array]:
    """Ln γ of an ion of charge one, and its derivative by the ionic strength.

    Parameters
    ----------
    model : callable
        One of `ACTIVITY_MODELS`.
    ionic_strength : numpy.ndarray
        [mol/kg]; above the limit of validity the value at the limit is returned.
    slope : numpy.ndarray
        Debye–Hückel slope A at the temperature [kg^0.5 mol^-0.5].
    """
    held, inside = _held(ionic_strength)
    shape, derivative = model.shape(held)
    scale = -LN10 * slope
    return scale * shape, inside * scale * derivative


def ion_rows(metals: tuple[str, ...]) -> tuple[IonRow | None, ...]:
    """The individual equation of each metal, None where it has none."""
    rows = {row.metal: row for row in read_table("equilibrium/activity_ions.csv", IonRow)}
    return tuple(rows.get(metal) for metal in metals)


def ln_gamma_excess(
    row: IonRow,
    charge: float,
    unit: tuple[Array, Array],
    ionic_strength: Array,
    slope: Array,
    size: Array,
) -> tuple[Array, Array]:
    """Ln γ of a free metal beyond z² f, and its derivative by the ionic strength.

    Parameters
    ----------
    row : IonRow
        The metal's own equation.
    charge : float
        Of the free metal.
    unit : tuple of numpy.ndarray
        f and its derivative, from `ln_gamma_unit` at the same ionic strength.
    ionic_strength, slope : numpy.ndarray
        As in `ln_gamma_unit`.
    size : numpy.ndarray
        Debye–Hückel size factor B at the temperature [kg^0.5 mol^-0.5 per angstrom].
    """
    held, inside = _held(ionic_strength)
    square, linear = charge**2, LN10 * row.linear
    root = np.sqrt(held)
    below = 1.0 + row.size_angstrom * size * root
    own = -LN10 * square * slope * root / below
    excess = own + linear * held - square * unit[0]
    change = inside * (0.5 * own / (held * below) + linear) - square * unit[1]
    return excess, change


def _held(ionic_strength: Array) -> tuple[Array, Array]:
    """Ionic strength kept where the models hold, and 1 inside their range, 0 above."""
    limit = constant("ionic_strength_limit")
    # A floor far below any real water keeps the square root's derivative finite.
    return np.clip(ionic_strength, 1e-14, limit), np.where(ionic_strength < limit, 1.0, 0.0)
