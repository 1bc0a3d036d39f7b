"""What a jar test taught: every number of its model before and after, with its interval."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dosing.jar.fit import Fit
from dosing.jar.model import JarModel, ninety_percent


@dataclass(frozen=True)
class Learnt:
    """A number before and after the test; ends hold the truth in nine cases of ten."""

    low: float
    best: float
    high: float
    prior_low: float
    prior_best: float
    prior_high: float

    @property
    def width(self) -> float:
        """Width of its interval."""
        return self.high - self.low


@dataclass(frozen=True)
class PigmentNumber:
    """A constant of a pigment before and after."""

    pigment: str
    form: str
    pka: Learnt


def ends_of(found: Fit, what: str) -> tuple[float, float, float] | None:
    """Low end, best and high end of a number, in standard deviations of what was expected."""
    place = found.place(what)
    return None if place is None else _ends_at(found, place)


def _ends_at(found: Fit, place: int) -> tuple[float, float, float]:
    reach = ninety_percent() * float(np.sqrt(found.covariance[place, place]))
    best = float(found.numbers[place])
    return best - reach, best, best + reach


SURE = Learnt(1.0, 1.0, 1.0, 1.0, 1.0, 1.0)


def factor(sd: float, found: Fit, what: str) -> Learnt | None:
    """A factor whose logarithm has this standard deviation before the test."""
    ends = ends_of(found, what)
    if ends is None:
        return None
    low, best, high = np.exp(sd * np.array(ends))
    reach = np.exp(ninety_percent() * sd)
    return Learnt(float(low), float(best), float(high), float(1 / reach), 1.0, float(reach))


def alkalinity(model: JarModel, found: Fit) -> Learnt:
    """Of the water [meq/L]."""
    ends = ends_of(found, "alkalinity")
    assert ends is not None
    level, sd = model.alkalinity, model.alkalinity_sd
    # Folded at nothing, as the fit has it: the mirror of a water counts as the water.
    if level + sd * ends[1] < 0:
        level, sd = -level, -sd
        ends = (ends[2], ends[1], ends[0])
    low, best, high = (level + sd * one for one in ends)
    reach = ninety_percent() * model.alkalinity_sd
    read = model.alkalinity
    return Learnt(max(low, 0.0), best, high, max(read - reach, 0.0), read, read + reach)


def gas_lost(model: JarModel, found: Fit) -> Learnt:
    """Share of the free carbon dioxide that left the jar."""

    def share(number: float) -> float:
        return 1.0 / (1.0 + float(np.exp(-(model.gas + model.gas_sd * number))))

    reach = ninety_percent()
    low, best, high = ends_of(found, "gas") or (-reach, 0.0, reach)
    return Learnt(share(low), share(best), share(high), share(-reach), share(0.0), share(reach))


def offset(model: JarModel, found: Fit) -> Learnt | None:
    """By which the instrument is off at all readings [pH]; None where colours were read."""
    ends = ends_of(found, "offset")
    return None if ends is None else _shifted(model.shared_sd, ends, 0.0)


def _shifted(sd: float, ends: tuple[float, float, float], centre: float) -> Learnt:
    """A number with this centre and standard deviation before the test."""
    low, best, high = (centre + sd * one for one in ends)
    reach = ninety_percent() * sd
    return Learnt(low, best, high, centre - reach, centre, centre + reach)


def pigment_numbers(model: JarModel, found: Fit) -> tuple[PigmentNumber, ...]:
    """Constants of the pigments that the fit moved."""
    pigments, numbers = {which.name: which for which in model.pigments}, []
    for place, (what, name, form) in enumerate(found.names):
        if what == "pka":
            row = pigments[name].forms[form]
            pka = _shifted(row.pka_sd or 0.0, _ends_at(found, place), row.pka or 0.0)
            numbers.append(PigmentNumber(name, row.form, pka))
    return tuple(numbers)


def first_shift(model: JarModel, found: Fit) -> Learnt | None:
    """Of the constant by which the first pigment leaves its acid form."""
    pigments = {which.name: which for which in model.pigments}
    for place, (what, name, form) in enumerate(found.names):
        if what == "pka":
            sd = pigments[name].forms[form].pka_sd or 0.0
            return _shifted(sd, _ends_at(found, place), 0.0)
    return None
