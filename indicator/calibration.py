"""Calibration: a pigment fitted to the maker's own jars.

The library's numbers with their spreads are where the fit starts and what it falls back to; the
jars move what they tell something about. A jar that contradicts all the others counts for little.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from indicator.appearance import delta_e
from indicator.colourants import BandRow, Colourant, FormRow, Range
from indicator.jar_model import UNKNOWN_STRENGTH_SD, CalibrationJars, fitted_constants
from indicator.jar_model import Series as Series
from indicator.jar_model import Unread as Unread
from indicator.notes import Value, say
from indicator.robust_fit import SET_ASIDE_WEIGHT
from indicator.spread import SPREADS
from indicator.tables import NINE_IN_TEN_SD, value_of
from indicator.words import threshold

Array = NDArray[np.float64]
Row = TypeVar("Row", FormRow, BandRow)
Move = Callable[[Row, "FittedNumber"], dict[str, Any]]
"""What a fitted number changes in a row."""

LEAST_JARS = 3
"""Of different pH, below which no constant is fitted."""
BLACK_CHROMA = 10.0
"""Of CIELAB, below which a nearly black jar tells nothing."""
LEAST_ABSORBANCE = 0.02
"""Per cm, below which no absorbance of a series tells anything."""
LEARNT = 0.8
"""A number is called learnt if the jars took its spread below this share of what it was."""
COVERAGE = 0.90
LEAST_CHANCE = 0.01
MOST_MISFIT = 1.8
"""Jars that fit worse, or that only a most unusual pigment fits, are told to be of another one."""
ADDED = ("pka", "shift", "curve", "shape", "veil", "picture")
"""Numbers that move by a sum; the others by a factor."""
ASIDE = ("strength", "gain", "curve", "amount", "saturation", "shape", "veil", "picture")
"""Numbers that are no part of a pigment."""
FAR = 2.5
"""Standard deviations of a move from which it is told what may be wrong."""
SCATTERED = 1.5
"""Scatter over the stated one from which it is told."""
ODD, MUCH = 2.0, 6.0
"""Standard deviations of a move from which other pigments are tried; how much better one fits."""
START_WIDTH = 64.0
"""The first round tolerates a misfit so many times larger, so that no jar is lost to the start."""


@dataclass(frozen=True)
class FittedNumber:
    """One number before and after."""

    what: str
    """``"strength"``, ``"pka"``, ``"height"``, ``"shift"``, ``"gain"`` (light beside the white),
    ``"curve"`` and ``"shape"`` (of the camera's tones), ``"amount"`` (path times thinning), or on
    the photo mat ``"picture"`` (ways in which cameras and lights differ), ``"veil"`` (stray light)
    and ``"saturation"``."""
    form: str
    """Form that it belongs to; empty for the others."""
    prior: float
    prior_sd: float
    """Of the number itself for those in `ADDED`, relative for the others."""
    best: float
    sd: float
    low: float
    """End of the interval that holds the truth in nine cases of ten."""
    high: float

    @property
    def moved(self) -> float:
        """Move away from the library, in its standard deviations."""
        added = self.what in ADDED
        move = self.best - self.prior if added else float(np.log(self.best / self.prior))
        return move / self.prior_sd

    def far(self) -> bool:
        """Whether it is so far from the library that something may be wrong."""
        return abs(self.moved) > FAR

    @property
    def learnt(self) -> bool:
        """Whether the jars told more about it than was known before."""
        return self.sd < LEARNT * self.prior_sd


@dataclass(frozen=True)
class JarFit:
    """Agreement of one jar with the fitted pigment."""

    label: str
    ph: float
    residual: float
    """CIEDE2000, or the root mean square of the absorbances per cm."""
    read: tuple[float, ...]
    """What was read of it: CIELAB, or absorbances per cm."""
    fitted: tuple[float, ...]
    """The same by the fitted pigment."""
    weight: float
    """1 for a jar that agrees, towards 0 for one that contradicts the others."""

    @property
    def set_aside(self) -> bool:
        """Whether it counts so little that it should be looked at again."""
        return self.weight < SET_ASIDE_WEIGHT


@dataclass(frozen=True)
class Calibration:
    """A pigment after the fit."""

    start: Colourant
    """As it was before."""
    pigment: Colourant
    """As the jars have it."""
    series: Series
    strength: Range
    """Of the liquid that was calibrated: pH-1 absorbance per cm, or mol/L for a dye."""
    strength_per_percent: Range | None
    """The same for each per cent of dried petals, where it is known how many were brewed."""
    numbers: tuple[FittedNumber, ...]
    jars: tuple[JarFit, ...]
    residual: float
    """Root mean square over the jars that count, in the unit of `JarFit.residual`."""
    misfit: float
    """Noise over what the readings should have; 1 if they are as good as that."""
    surprise: float
    """Chance that a pigment of the library would have to be moved as far as this, 0 to 1."""
    cost: float
    """What the jars and the library together speak against it; less is better."""
    nearer: str | None = None
    """Label of another pigment that the jars fit much better, where one was found."""

    @property
    def furthest(self) -> float:
        """The largest move of a number away from the library, in its standard deviations."""
        known = (number for number in self.numbers if number.prior_sd < UNKNOWN_STRENGTH_SD)
        return max((abs(number.moved) for number in known), default=0.0)

    def told(self) -> tuple[FittedNumber, ...]:
        """Numbers of the pigment itself that the jars told something about."""
        return tuple(n for n in self.numbers if n.what not in ASIDE and n.learnt)

    def light_times(self) -> float | None:
        """Light on the jars over that on the white, where it is oddly far from 1."""
        return next((n.best for n in self.numbers if n.what == "gain" and n.far()), None)

    def strength_times(self) -> float | None:
        """Strength over the one such petals have, where it is oddly far from 1."""
        strength = self.numbers[0]
        known = self.strength_per_percent is not None and strength.far()
        return strength.best / strength.prior if known else None

    def milligrams_l(self) -> Range | None:
        """Strength of a dye in pure dye [mg/L]."""
        grams = self.start.molar_mass
        if grams is None:
            return None
        return Range(*(1000.0 * grams * end for end in vars(self.strength).values()))

    def scattered(self) -> bool:
        """Whether the jars scatter clearly more than such readings should."""
        return self.misfit > SCATTERED

    @property
    def doubtful(self) -> bool:
        """Whether these jars hardly are of this pigment."""
        unlikely = self.surprise < LEAST_CHANCE or self.misfit > MOST_MISFIT
        return unlikely or self.nearer is not None

    def provenance(self) -> dict[str, object]:
        """Provenance of the pigment, for its file."""
        return {
            "from_pigment": self.start.name,
            "on": date.today().isoformat(),
            "jars": len(self.jars),
            "set_aside": [jar.label for jar in self.jars if jar.set_aside],
            "residual": self.residual,
            "misfit": self.misfit,
            "learnt": [f"{n.what} {n.form}".strip() for n in self.numbers if n.learnt],
        }


def calibrate(
    which: Colourant,
    series: Series,
    *,
    petals_percent: float | None = None,
    only_strength: bool = False,
    surfactants_g_l: Mapping[str, float] | None = None,
) -> Calibration:
    """Fit strength, constants and heights of a pigment to a series of jars.

    Parameters
    ----------
    which : Colourant
        Where the fit starts from.
    series : Series
        The jars.
    petals_percent : float, optional
        Dried petals in the liquid that is calibrated [% w/v]; its strength is then expected within
        the range of the library, and the result tells the strength per per cent.
    only_strength : bool
        Whether everything but the strength is kept; one jar is then enough. What is not known of
        the rest widens the strength's range.
    surfactants_g_l : mapping of str to float, optional
        Kind of surfactant to its concentration in the liquid that is calibrated [g/L]; what they
        do far above the critical concentration is then fitted.

    Returns
    -------
    Calibration

    Raises
    ------
    ValueError
        If there are too few jars of different pH, or a reading is not finite.
    """
    only_strength = only_strength or not fitted_constants(which, series)
    _check(series, only_strength)
    jars = CalibrationJars(which, series, petals_percent, surfactants_g_l)
    numbers, weights = jars.reweighted(jars.first_guess, np.ones((1, series.jars)), START_WIDTH)
    covariance, misfit = jars.widened(numbers, weights)
    fit = _answer(jars, numbers, covariance, weights, float(misfit[0]))
    if not only_strength:
        return fit
    # The pigment is taken as known, but how far it is known counts in the strength's range.
    strength = fit.numbers[:1]
    return replace(fit, numbers=strength, pigment=_moved(jars, strength, fit.strength))


def with_nearer(
    fit: Calibration, others: Iterable[Colourant], calibrated: Callable[[Colourant], Calibration]
) -> Calibration:
    """The same, with the name of a pigment of another family that the jars fit much better.

    Parameters
    ----------
    fit : Calibration
        Others are tried only where it is odd.
    others : iterable of Colourant
        Those that are tried.
    calibrated : callable
        Fits one of them to the same jars.

    Returns
    -------
    Calibration
    """
    if fit.start.kind == "dye" or not (fit.doubtful or fit.furthest > ODD):
        return fit
    rivals = (
        other for other in others if other.kind == "pigment" and other.family != fit.start.family
    )
    best = min(map(calibrated, rivals), key=lambda rival: rival.cost)
    much_better = not best.doubtful and best.cost + MUCH < fit.cost
    return replace(fit, nearer=best.start.label) if much_better else fit


def _check(series: Series, one_is_enough: bool) -> None:
    """Refuse jars that no fit can rest on."""
    for name, numbers in (("ph", series.ph), ("values", series.values)):
        if not np.isfinite(numbers).all():
            raise ValueError(say("calibrate.not-finite", {"name": name}))
    if not _telling(series):
        raise ValueError(say("calibrate.telling-nothing"))
    different = len(np.unique(np.round(series.ph, 2)))
    if not one_is_enough and different < LEAST_JARS:
        left = say("plan.comma").join(jar.label for jar in series.unread)
        values: dict[str, Value] = {"count": different, "least": LEAST_JARS, "left": left}
        raise ValueError(say(f"calibrate.few-jars{'-left' if left else ''}", values))


def _telling(series: Series) -> bool:
    """Whether any jar has a colour that tells something."""
    if series.view is None:
        return bool(series.values.max() >= LEAST_ABSORBANCE)
    clear = np.array([100.0, 0.0, 0.0])
    seen = delta_e(clear, series.values) >= threshold("visible")
    chroma = np.hypot(series.values[:, 1], series.values[:, 2])
    dark = series.values[:, 0] < threshold("black_lightness")
    return bool(np.any(seen & ~(dark & (chroma < BLACK_CHROMA))))


def _answer(
    jars: CalibrationJars, numbers: Array, covariance: Array, weights: Array, misfit: float
) -> Calibration:
    spreads = np.sqrt(np.diagonal(covariance[0]))
    fitted = tuple(map(partial(_fitted, jars), range(len(spreads)), numbers[0], spreads))
    expected, series = jars.predicted(numbers)[0], jars.series
    residual = _residuals(series, expected)
    strength = Range(fitted[0].best, fitted[0].low, fitted[0].high)
    pigment = _moved(jars, fitted, strength)
    columns = (series.ph, residual, series.values, expected, weights[0])
    rows = zip(series.labels, *(column.tolist() for column in columns), strict=True)
    return Calibration(
        start=jars.which,
        pigment=pigment,
        series=series,
        strength=strength,
        strength_per_percent=None if jars.petals_percent is None else pigment.per_percent,
        numbers=fitted,
        jars=tuple(
            JarFit(label, ph, off, tuple(read), tuple(predicted), weight)
            for label, ph, off, read, predicted, weight in rows
        ),
        residual=float(np.sqrt(np.average(residual**2, weights=weights[0]))),
        misfit=misfit,
        surprise=_surprise(jars, numbers[0]),
        cost=float(jars.cost(numbers)[0]),
    )


def _surprise(jars: CalibrationJars, numbers: Array) -> float:
    """How likely a pigment of the library is to be as far from it as the fitted one."""
    from scipy.special import chdtrc

    known = jars.prior_sd < UNKNOWN_STRENGTH_SD
    return (
        float(chdtrc(int(known.sum()), float((numbers[known] ** 2).sum()))) if known.any() else 1.0
    )


def _residuals(series: Series, expected: Array) -> Array:
    """CIEDE2000, or root mean square of the absorbances per cm, shape (jars,)."""
    if series.view is None:
        return np.asarray(np.sqrt(np.mean((expected - series.values) ** 2, axis=1)))
    return np.asarray(delta_e(expected, series.values))


def _fitted(jars: CalibrationJars, column: int, number: float, spread: float) -> FittedNumber:
    """A number in its own unit; `number` and `spread` count in expected standard deviations."""
    what, _, place = jars.names[column]
    form = jars.which.forms[place].form if what in ("pka", "height") else ""
    prior_sd = float(jars.prior_sd[column])
    move, sd = float(number) * prior_sd, float(spread) * prior_sd
    reach = NINE_IN_TEN_SD * sd
    added = what in ADDED
    expected = {"shift": jars.expected_shift, "curve": jars.expected_curve,
                "strength": jars.start_strength}  # fmt: skip
    if what == "pka":
        expected[what] = float(jars.which.pka[place])
    prior = expected.get(what, 0.0 if added else 1.0)
    moves = np.array([move, move - reach, move + reach])
    best, low, high = map(float, prior + moves if added else prior * np.exp(moves))
    return FittedNumber(what, form, prior, prior_sd, best, sd, low, high)


def _refitted(
    row: Row,
    fitted: Mapping[str, FittedNumber],
    moved: Callable[[Row, FittedNumber], dict[str, Any]],
) -> Row:
    """A row with what was fitted for its form: the maker's own where the jars told something."""
    number = fitted.get(row.form)
    if number is None:
        return row
    own: dict[str, Any] = {"source": "own", "confidence": "OWN"} if number.learnt else {}
    return replace(row, **own, **moved(row, number))


def _moved(jars: CalibrationJars, fitted: tuple[FittedNumber, ...], strength: Range) -> Colourant:
    """The pigment with what was fitted in place of what was expected."""
    which = jars.which
    constants, heights = (
        {number.form: number for number in fitted if number.what == what}
        for what in ("pka", "height")
    )
    changed: dict[str, Any] = {}
    if jars.petals_percent is not None and which.per_percent is not None:
        ends = {end: level / jars.petals_percent for end, level in vars(strength).items()}
        changed["per_percent"] = Range(**ends)
        changed["strength_sd"] = float(np.hypot(fitted[0].sd, value_of(SPREADS, "next_brew")))
    for number in fitted:
        if number.what == "shift":
            changed["micelle_shift"] = Range(number.best, number.low, number.high)
    return replace(
        which,
        forms=tuple(
            _refitted(form, constants, lambda _, n: {"pka": n.best, "pka_sd": n.sd})
            for form in which.forms
        ),
        bands=tuple(
            _refitted(band, heights, lambda row, n: {"height": row.height * n.best})
            for band in which.bands
        ),
        spectra=tuple(
            replace(table, height=tuple(heights[table.form].best * each for each in table.height))
            if table.form in heights
            else table
            for table in which.spectra
        ),
        height_sds=tuple((number.form, number.sd) for number in heights.values()),
        source="own",
        confidence="OWN",
        based_on=which.family,
        **changed,
    )
