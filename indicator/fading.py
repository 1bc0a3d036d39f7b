"""Fading: how much of a colour is left after some time, in a bottle, an infusion or a tub.

Published rates for one pigment differ a hundredfold between a clean bottle and a raw infusion, and
several-fold between laboratories: every set of measurements is kept apart, a forecast follows one
and tells how far the others differ. Many were measured near boiling: the further a rate is carried
from its own temperatures, the wider the range. Loss in light is quoted beside it and never mixed
in, as lamps differ more than pigments do. A maker's own pigment fades as the one it is based on.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.colourants import weakest
from indicator.pigments import ColourantLike, colourant
from indicator.tables import Sourced, citation, read_table, value_of

Array = NDArray[np.float64]

CONDITIONS = ("clean", "raw", "foam")
"""With few germs; as an infusion without preservative; held by a foam bath's surfactant."""
PLACES = {
    "infusion": (("raw", "clean"), ("clean", "raw")),
    "bottle": (("raw", "foam", "clean"), ("foam", "clean", "raw")),
    "tub": (("clean", "raw"), ("clean", "raw")),
}
"""Where a colour is (in water; in the foam bath; in the bath, for minutes to hours) to the
conditions that count there, the fitting one first: without preservative, and with it."""
MEDIA = ("liquid", "paper", "isolate")
"""Dissolved; dried on paper; one of the colourant's pigments alone, dissolved."""
CONSTANTS = "equilibrium/constants.csv"
"""Constants of nature stand in one table, whichever room needs them."""
RATES = "colour/fading.csv"
LIGHT = "colour/light_fading.csv"
LIMITS = "colour/fading_limits.csv"
_APART = 1e6
"""Puts every set of a less fitting condition behind all of a better one."""


@dataclass(frozen=True)
class RateRow:
    """One published rate."""

    colourant: str
    condition: str
    series: str
    """Set of measurements; the first one of a condition stands where nothing speaks for another."""
    ph: float
    temperature_c: float
    rate: float
    """[1/day] at `temperature_c`."""
    ea: float
    """Activation energy [kJ/mol]."""
    measured_low_c: float
    measured_high_c: float
    """Temperatures between which it was measured [°C]."""
    medium: str
    """One of `MEDIA`."""
    source: str
    ea_source: str
    confidence: str
    """Of the rate at its pH."""
    ea_confidence: str


@dataclass(frozen=True)
class LightFading(Sourced):
    """A published loss in light: what lamp, and how fast. Never part of a forecast."""

    colourant: str
    light: str
    """In the paper's words, as they follow "half is gone in ..."."""
    ph_low: float | None
    ph_high: float | None
    rate_low_per_day: float
    """[1/day]."""
    rate_high_per_day: float
    """[1/day]."""

    @property
    def citation(self) -> str:
        """Where the loss was published, in words."""
        return citation(self.source)

    @property
    def shortest_half_life_days(self) -> float:
        """By the fastest rate reported [day]."""
        return float(np.log(2.0) / self.rate_high_per_day)

    @property
    def longest_half_life_days(self) -> float:
        """By the slowest rate reported [day]."""
        return float(np.log(2.0) / self.rate_low_per_day)


@dataclass(frozen=True)
class Fading:
    """Rates of loss, in the shape of the inputs."""

    rate: Array
    """First-order rate in the dark [1/day]."""
    in_range: NDArray[np.bool_]
    """Whether the pH lies within the published ones; beyond, the nearest is taken."""
    carried: NDArray[np.bool_]
    """Whether the temperature lies far from those of the measurements."""

    def share_left(self, days: ArrayLike) -> Array:
        """Share of the colour that is left after some days."""
        return np.asarray(np.exp(-self.rate * np.asarray(days, dtype=np.float64)))

    @property
    def half_life_days(self) -> Array:
        """Time in which half of the colour goes [day]."""
        return np.asarray(np.log(2.0) / self.rate)


@dataclass(frozen=True)
class PlaceFading:
    """Rates of loss in one place, with what other measurements say; in the shape of the inputs."""

    best: Fading
    """By the measurements that fit the place best."""
    slowest: Fading
    """Of all measurements near this pH, with what carrying them to this temperature may hide."""
    fastest: Fading
    condition: NDArray[np.str_]
    """One of `CONDITIONS`: what the best value was measured on."""
    series: NDArray[np.str_]
    """Which set of measurements it follows."""
    studies: NDArray[np.int_]
    """How many sets of measurements count at this pH; 0 if none, and the rates are of another."""
    ph_published: tuple[float, float]
    """Lowest and highest pH with a rate that counts in this place."""
    measured_low_c: Array
    measured_high_c: Array
    """Temperatures of the measurements that the best value follows [°C]."""
    medium: NDArray[np.str_]
    """One of `MEDIA`: in what they were made."""

    @property
    def near(self) -> NDArray[np.bool_]:
        """Whether any rate is published near this pH."""
        return np.asarray(self.studies > 0)


def fading_conditions(which: ColourantLike) -> tuple[str, ...]:
    """Conditions for which a colourant has a published rate; empty if there is none.

    Raises
    ------
    ValueError
        If there is no such colourant.
    """
    key = colourant(which).family
    return tuple(condition for condition in CONDITIONS if _series(key, condition))


def fading_names() -> tuple[str, ...]:
    """Colourants that have a published rate in the dark."""
    return tuple(dict.fromkeys(row.colourant for row in read_table(RATES, RateRow)))


def fading_trust(which: ColourantLike, condition: str, series: str) -> str:
    """Trust in a set of rates, by the weakest of its numbers.

    Parameters
    ----------
    which : Colourant or str
        A record, or the name of a shipped colourant.
    condition, series : str
        One of `CONDITIONS`, and one of its sets in ``data/colour/fading.csv``.

    Returns
    -------
    str
        ``"published"``, ``"recalled"`` or ``"estimated"``, as `indicator.pigments.trust`.

    Raises
    ------
    ValueError
        If there is no such colourant or set.
    """
    rows = _named(colourant(which).family, condition, series)
    confidences = {confidence for row in rows for confidence in (row.confidence, row.ea_confidence)}
    return weakest(confidences)


def fading(
    which: ColourantLike,
    ph: ArrayLike,
    temperature_c: ArrayLike,
    condition: str,
    series: str | None = None,
) -> Fading:
    """First-order rate of loss by the Arrhenius equation, between published pH values.

    Parameters
    ----------
    which : Colourant or str
        A record, or the name of a shipped colourant.
    ph, temperature_c : array_like
        pH and temperature of the liquid, broadcast against each other.
    condition : {"clean", "raw", "foam"}
        With few germs, as a raw infusion, or in a foam bath.
    series : str, optional
        Set of measurements in ``data/colour/fading.csv``; the first if not given.

    Returns
    -------
    Fading
        In the shape of pH and temperature.

    Raises
    ------
    ValueError
        If there is no such colourant or set, or no published rate for it in that condition.

    Examples
    --------
    >>> round(float(fading("beet", 5.0, 20.0, "clean").half_life_days), 1)
    5.1
    """
    rows = _named(colourant(which).family, condition, series)
    acidity, celsius = _broadcast(ph, temperature_c)
    ln_rate, _ = _interpolated(rows, acidity, celsius)
    inside = (acidity >= rows[0].ph) & (acidity <= rows[-1].ph)
    carried = _carried(*_measured(rows), celsius)
    return Fading(np.asarray(np.exp(ln_rate)), np.asarray(inside), carried)


def fading_in(
    place: str,
    which: ColourantLike,
    ph: ArrayLike,
    temperature_c: ArrayLike,
    *,
    preserved: bool = False,
) -> PlaceFading:
    """Rate of loss in an infusion, in a bottle of foam bath, or in the tub.

    A preserved liquid is clean, another raw; in the tub the time is too short for germs. Where the
    fitting condition has no rate near the pH, another one stands in. Of several sets that fit, the
    one that was measured nearest to the temperature is followed. Slowest and fastest take in,
    beside the other measurements, that an activation energy may be off by ``ea_spread`` wherever a
    rate is carried beyond its own temperatures.

    Parameters
    ----------
    place : {"infusion", "bottle", "tub"}
        Where the colour is; ``"bottle"`` is the foam bath.
    which : Colourant or str
        A record, or the name of a shipped colourant.
    ph, temperature_c : array_like
        pH and temperature of the liquid, broadcast against each other.
    preserved : bool
        Whether infusion or foam bath has a preservative.

    Returns
    -------
    PlaceFading
        In the shape of pH and temperature.

    Raises
    ------
    ValueError
        If there is no such place or colourant, or no rate of it is published.
    """
    known = colourant(which)
    if place not in PLACES:
        raise ValueError(f"place is {place!r}; accepted are {', '.join(PLACES)}")
    ranked = [
        (rank, rows)
        for rank, condition in enumerate(PLACES[place][int(preserved)])
        for rows in _series(known.family, condition)
    ]
    if not ranked:
        names = ", ".join(fading_names())
        raise ValueError(f"colourant is {known.name!r}; with a rate of fading are {names}")
    ranks, sets = np.array([rank for rank, _ in ranked]), [rows for _, rows in ranked]
    acidity, celsius = _broadcast(ph, temperature_c)
    pairs = [_interpolated(rows, acidity, celsius) for rows in sets]
    ln_rates, ln_spreads = (np.stack(each, axis=-1) for each in zip(*pairs, strict=True))
    low, high = (np.array([rows[end].ph for rows in sets]) for end in (0, -1))
    cold, hot = np.array([_measured(rows) for rows in sets]).T
    reach, at = value_of(LIMITS, "ph_reach"), acidity[..., None]
    counts = (at >= low - reach) & (at <= high + reach)
    studies = counts.sum(axis=-1)
    # Where nothing is published near, the fitting set stands alone, with the rate of its own pH.
    counts[..., 0] |= studies == 0
    chosen = np.where(counts, ranks * _APART + ln_spreads, np.inf).argmin(axis=-1)

    def of_chosen(each: NDArray[Any]) -> NDArray[Any]:
        return np.take_along_axis(each, chosen[..., None], axis=-1)[..., 0]

    within = of_chosen((at >= low) & (at <= high))
    carried = _carried(cold[chosen], hot[chosen], celsius)
    ln_best, ln_slowest, ln_fastest = (
        of_chosen(ln_rates),
        np.where(counts, ln_rates - ln_spreads, np.inf).min(axis=-1),
        np.where(counts, ln_rates + ln_spreads, -np.inf).max(axis=-1),
    )
    texts = {
        what: np.array([getattr(rows[0], what) for rows in sets])[chosen]
        for what in ("condition", "series", "medium")
    }
    return PlaceFading(
        best=Fading(np.exp(ln_best), within, carried),
        slowest=Fading(np.exp(ln_slowest), within, carried),
        fastest=Fading(np.exp(ln_fastest), within, carried),
        studies=np.asarray(studies),
        ph_published=(float(low.min()), float(high.max())),
        measured_low_c=np.asarray(cold[chosen]),
        measured_high_c=np.asarray(hot[chosen]),
        **texts,
    )


def light_fading(which: ColourantLike) -> tuple[LightFading, ...]:
    """Published losses of a colourant in light; empty if there is none.

    Raises
    ------
    ValueError
        If there is no such colourant.
    """
    key = colourant(which).family
    return tuple(row for row in read_table(LIGHT, LightFading) if row.colourant == key)


def _broadcast(ph: ArrayLike, temperature_c: ArrayLike) -> tuple[Array, Array]:
    acidity, celsius = np.broadcast_arrays(
        np.asarray(ph, dtype=np.float64), np.asarray(temperature_c, dtype=np.float64)
    )
    return acidity, celsius


def _interpolated(rows: tuple[RateRow, ...], acidity: Array, celsius: Array) -> tuple[Array, Array]:
    """Natural logarithm of the rate and how far it may be off by being carried.

    Both linear in pH between the rows and level beyond them.
    """
    at = np.array([row.ph for row in rows])

    def between(lines: list[Array]) -> Array:
        flat = np.stack(lines, axis=-1).reshape(-1, len(rows))
        return np.array(
            [np.interp(value, at, line) for value, line in zip(acidity.ravel(), flat, strict=True)]
        ).reshape(acidity.shape)

    return (
        between([_ln_rate(row, celsius) for row in rows]),
        between([_ln_spread(row, celsius) for row in rows]),
    )


def _ln_rate(row: RateRow, celsius: Array) -> Array:
    """Natural logarithm of a row's rate at another temperature."""
    return np.asarray(np.log(row.rate) + row.ea * _per_energy(row.temperature_c, celsius))


def _ln_spread(row: RateRow, celsius: Array) -> Array:
    """What an energy that is off by its spread does beyond the measured temperatures, from 0 up."""
    nearest = np.clip(celsius, row.measured_low_c, row.measured_high_c)
    return value_of(LIMITS, "ea_spread") * np.abs(_per_energy(nearest, celsius))


def _per_energy(from_c: ArrayLike, to_c: Array) -> Array:
    """By how much ln(rate) grows from one temperature to another per kJ/mol [mol/kJ]."""
    zero, gas = (value_of(CONSTANTS, name) for name in ("zero_celsius", "gas_constant"))
    start = np.asarray(from_c, dtype=np.float64)
    return np.asarray(1000.0 / gas * (1.0 / (start + zero) - 1.0 / (to_c + zero)))


def _measured(rows: tuple[RateRow, ...]) -> tuple[float, float]:
    """Coldest and hottest temperature of a set of measurements [°C]."""
    return min(row.measured_low_c for row in rows), max(row.measured_high_c for row in rows)


def _carried(cold: ArrayLike, hot: ArrayLike, celsius: Array) -> NDArray[np.bool_]:
    """Whether a temperature is further from the measured ones than goes without saying."""
    away = np.maximum(np.asarray(cold) - celsius, celsius - np.asarray(hot))
    return np.asarray(away > value_of(LIMITS, "temperature_reach"))


def _named(key: str, condition: str, series: str | None) -> tuple[RateRow, ...]:
    """One set of measurements; the first of the condition if it is not named."""
    every = _series(key, condition)
    if not every:
        known = ", ".join(other for other in CONDITIONS if _series(key, other)) or "none"
        raise ValueError(f"condition is {condition!r}; published for {key} are {known}")
    named = {rows[0].series: rows for rows in every}
    if series is not None and series not in named:
        raise ValueError(f"series is {series!r}; published for {key} are {', '.join(named)}")
    return every[0] if series is None else named[series]


@cache
def _series(key: str, condition: str) -> tuple[tuple[RateRow, ...], ...]:
    """Sets of measurements in the order of the table, each by rising pH."""
    sets: dict[str, list[RateRow]] = {}
    for row in read_table(RATES, RateRow):
        if row.colourant == key and row.condition == condition:
            sets.setdefault(row.series, []).append(row)
    return tuple(tuple(sorted(rows, key=lambda row: row.ph)) for rows in sets.values())
