"""Numbers that a jar test taught: each of its model before and after, with its interval."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from operator import mul

import numpy as np

from dosing.jar.fit import Fit
from dosing.jar.model import JarModel, expit
from indicator.tables import NINE_IN_TEN_SD


@dataclass(frozen=True)
class Learnt:
    """A number before and after the test; ends hold the truth in nine cases of ten."""

    low: float
    best: float
    high: float
    prior_low: float
    prior_best: float
    prior_high: float

    def shifted(self, by: float) -> Learnt:
        """The number so much higher."""
        return Learnt(**{end: value + by for end, value in vars(self).items()})


@dataclass(frozen=True)
class PigmentNumber:
    """A constant of a pigment before and after."""

    pigment: str
    form: str
    pka: Learnt


def learnt_numbers(model: JarModel, fitted: Fit) -> dict[str, Learnt]:
    """Numbers of the water, the acid, the foam bath and the instrument that a series told.

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    fitted : Fit
        What its series told.

    Returns
    -------
    dict of str to Learnt
        ``alkalinity`` [meq/L]; ``gas``, share of the free carbon dioxide that left; ``scale``,
        acid in the jar over what was written; where the jar has them ``product``, buffer of the
        foam bath over the expected one, and ``offset``, by which all readings are off [pH].
    """
    units: dict[str, Callable[[float], float]] = {
        "alkalinity": lambda number: model.alkalinity + model.alkalinity_sd * number,
        "gas": lambda number: float(expit(model.gas + model.gas_sd * number)),
        "scale": lambda number: float(np.exp(model.scale_sd * number)),
        "product": lambda number: float(np.exp(model.product_sd * number)),
        "offset": lambda number: model.shared_sd * number,
    }
    numbers = {
        what: _learnt(fitted, place, units[what])
        for place, (what, *_) in enumerate(fitted.names)
        if what in units
    }
    level = numbers["alkalinity"]
    # Folded at nothing, as the fit has it: the mirror of a water counts as the water.
    if level.best < 0:
        level = replace(level, low=-level.high, best=-level.best, high=-level.low)
    ends = {"low": max(level.low, 0.0), "prior_low": max(level.prior_low, 0.0)}
    return numbers | {"alkalinity": replace(level, **ends)}


def pigment_numbers(model: JarModel, fitted: Fit) -> tuple[PigmentNumber, ...]:
    """Constants of the pigments that the fit may move.

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    fitted : Fit
        What its series told.

    Returns
    -------
    tuple of PigmentNumber
    """
    pigments, numbers = {which.name: which for which in model.pigments}, []
    for place, (what, name, form) in enumerate(fitted.names):
        if what == "pka":
            row = pigments[name].forms[form]
            moved = _learnt(fitted, place, partial(mul, row.pka_sd or 0.0))
            numbers.append(PigmentNumber(name, row.form, moved.shifted(row.pka or 0.0)))
    return tuple(numbers)


def _learnt(fitted: Fit, place: int, unit: Callable[[float], float]) -> Learnt:
    """A number in its own unit, told by its standard deviations from what was expected."""
    prior, best = NINE_IN_TEN_SD, float(fitted.numbers[place])
    reach = prior * float(np.sqrt(fitted.covariance[place, place]))
    return Learnt(*map(unit, (best - reach, best, best + reach, -prior, 0.0, prior)))
