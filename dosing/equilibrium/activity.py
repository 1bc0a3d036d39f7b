"""Activity coefficients of ions: the shipped default and its rivals, kept for comparison.

Every model here has the form ln γ = z² f(I, T); uncharged species have γ = 1. Above the
published limit of ionic strength f is held, so that pH stays monotone in added acid.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np

from dosing.equilibrium.constants import LN10, Array, constant

ActivityModel = Callable[[Array], tuple[Array, Array]]
"""Takes the ionic strength [mol/kg]; returns the shape s with log10 γ = -A z² s, and ds/dI."""


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
        "davies_0.3": davies_0_3,
        "davies_0.2": davies_0_2,
        "bates_guggenheim": bates_guggenheim,
        "guntelberg": guntelberg,
        "limiting_law": limiting_law,
    }
)
DEFAULT_ACTIVITY_MODEL = "davies_0.3"


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
    limit = constant("ionic_strength_limit")
    # A floor far below any real water keeps the square root's derivative finite.
    held = np.clip(ionic_strength, 1e-14, limit)
    shape, derivative = model(held)
    scale = -LN10 * slope
    return scale * shape, np.where(ionic_strength < limit, scale * derivative, 0.0)
