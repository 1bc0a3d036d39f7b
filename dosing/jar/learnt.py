"""What a jar test taught: every number of its model before and after, with its interval."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from dosing.jar.fit import Fit
from dosing.jar.model import JarModel, expit, ninety_percent


@dataclass(frozen=True)
class Learnt:
    """A number before and after the test; ends hold the truth in nine cases of ten."""

    low: float
    best: float
    high: float
    prior_low: float
    prior_best: float
    prior_high: float


@dataclass(frozen=True)
class PigmentNumber:
    """A constant of a pigment before and after."""

    pigment: str
    form: str
    pka: Learnt


def learnt(fitted: Fit, place: int, scale: Callable[[float], float]) -> Learnt:
    """A number of the fit in its own unit.

    Parameters
    ----------
    fitted : Fit
        Of a single series.
    place : int
        Index of the number.
    scale : callable
        From standard deviations of what was expected to the unit; it must rise.

    Returns
    -------
    Learnt
    """
    prior, best = ninety_percent(), float(fitted.numbers[place])
    reach = prior * float(np.sqrt(fitted.covariance[place, place]))
    ends = (best - reach, best, best + reach, -prior, 0.0, prior)
    return Learnt(*(float(scale(end)) for end in ends))


def factor(fitted: Fit, what: str, sd: float) -> Learnt | None:
    """A factor whose logarithm has the standard deviation `sd` before the test.

    Parameters
    ----------
    fitted : Fit
        Of a single series.
    what : str
        Name of the number.
    sd : float
        Of its natural logarithm.

    Returns
    -------
    Learnt or None
        None where the jar has no such number.
    """
    place = fitted.place(what)
    return None if place is None else learnt(fitted, place, lambda number: np.exp(sd * number))


def acid_scale(model: JarModel, fitted: Fit) -> Learnt:
    """Acid in the jar over what was written.

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    fitted : Fit
        What its series told.

    Returns
    -------
    Learnt
    """
    scale = factor(fitted, "scale", model.scale_sd)
    assert scale is not None
    return scale


def alkalinity(model: JarModel, fitted: Fit) -> Learnt:
    """Alkalinity of the water [meq/L].

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    fitted : Fit
        What its series told.

    Returns
    -------
    Learnt
    """
    place = fitted.place("alkalinity")
    assert place is not None
    level = learnt(fitted, place, lambda number: model.alkalinity + model.alkalinity_sd * number)
    low, best, high = level.low, level.best, level.high
    # Folded at nothing, as the fit has it: the mirror of a water counts as the water.
    if best < 0:
        low, best, high = -high, -best, -low
    return replace(
        level, low=max(low, 0.0), best=best, high=high, prior_low=max(level.prior_low, 0.0)
    )


def gas_lost(model: JarModel, fitted: Fit) -> Learnt:
    """Share of the free carbon dioxide that left the jar, 0 to 1.

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    fitted : Fit
        What its series told.

    Returns
    -------
    Learnt
    """
    place = fitted.place("gas")
    assert place is not None
    return learnt(fitted, place, lambda number: float(expit(model.gas + model.gas_sd * number)))


def offset(model: JarModel, fitted: Fit) -> Learnt | None:
    """By which the instrument is off at all readings [pH]; None where colours were read.

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    fitted : Fit
        What its series told.

    Returns
    -------
    Learnt or None
    """
    place = fitted.place("offset")
    return None if place is None else learnt(fitted, place, lambda number: model.shared_sd * number)


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
            centre, sd = row.pka or 0.0, row.pka_sd or 0.0
            pka = learnt(fitted, place, lambda number, c=centre, s=sd: c + s * number)  # type: ignore[misc]
            numbers.append(PigmentNumber(name, row.form, pka))
    return tuple(numbers)


def first_shift(numbers: tuple[PigmentNumber, ...]) -> Learnt | None:
    """Move of the constant by which the first pigment leaves its acid form [pH]."""
    if not numbers:
        return None
    pka = numbers[0].pka
    return Learnt(**{end: value - pka.prior_best for end, value in vars(pka).items()})
