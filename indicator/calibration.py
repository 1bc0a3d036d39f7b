"""Calibration: a pigment fitted to the maker's own jars.

The library's numbers with their spreads are where the fit starts and what it falls back to; the
jars move what they tell something about. A jar that contradicts all the others counts for little.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from indicator.appearance import delta_e
from indicator.colourants import BandRow, Colourant, FormRow, Strength
from indicator.jar_model import UNKNOWN_STRENGTH_SD, CalibrationJars, fitted_constants
from indicator.jar_model import Series as Series
from indicator.jar_model import Unread as Unread
from indicator.jar_model import reading_kinds as reading_kinds
from indicator.robust_fit import SET_ASIDE_WEIGHT
from indicator.spread import SPREADS
from indicator.tables import value_of
from indicator.words import threshold

Array = NDArray[np.float64]

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
ADDED = ("pka", "shift", "curve")
"""Numbers that move by a sum; the others by a factor."""
START_WIDTH = 64.0
"""The first round tolerates a misfit so many times larger, so that no jar is lost to the start."""


@dataclass(frozen=True)
class Fitted:
    """One number before and after."""

    what: str
    """``"strength"``, ``"pka"``, ``"height"``, ``"shift"``, ``"gain"`` (light beside the white),
    ``"curve"`` (of the camera's tones) or ``"amount"`` (path times thinning)."""
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
    def learnt(self) -> bool:
        """Whether the jars told more about it than was known before."""
        return self.sd < LEARNT * self.prior_sd


@dataclass(frozen=True)
class JarFit:
    """How well one jar agrees with the fitted pigment."""

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

    pigment: Colourant
    strength: Strength
    """Of the liquid that was calibrated: pH-1 absorbance per cm, or mol/L for a dye."""
    fitted: tuple[Fitted, ...]
    jars: tuple[JarFit, ...]
    residual: float
    """Root mean square over the jars that count, in the unit of `JarFit.residual`."""
    misfit: float
    """Noise over what the readings should have; 1 if they are as good as that."""
    surprise: float
    """Chance that a pigment of the library would have to be moved as far as this, 0 to 1."""
    cost: float
    """What the jars and the library together speak against it; less is better."""

    @property
    def furthest(self) -> float:
        """The largest move of a number away from the library, in its standard deviations."""
        moves = [
            abs(one.best - one.prior if one.what in ADDED else np.log(one.best / one.prior))
            / one.prior_sd
            for one in self.fitted
            if one.prior_sd < UNKNOWN_STRENGTH_SD
        ]
        return float(max(moves, default=0.0))

    @property
    def doubtful(self) -> bool:
        """Whether these jars hardly are of this pigment."""
        return self.surprise < LEAST_CHANCE or self.misfit > MOST_MISFIT


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
    strength = fit.fitted[:1]
    return replace(fit, fitted=strength, pigment=_moved(jars, strength, fit.strength))


def _check(series: Series, one_is_enough: bool) -> None:
    for name, numbers in (("ph", series.ph), ("values", series.values)):
        if not np.isfinite(numbers).all():
            raise ValueError(f"the series has a {name} that is no finite number")
    if not _telling(series):
        raise ValueError(
            "the jars are all clear, or all nearly black; accepted are jars whose colour shows: "
            "thin dark ones, take more of pale ones"
        )
    different = len(np.unique(np.round(series.ph, 2)))
    if not one_is_enough and different < LEAST_JARS:
        without = ", ".join(one.label for one in series.unread)
        left = f" without {without}, which cannot be read" if without else ""
        raise ValueError(
            f"the series has {different} different pH values{left}; accepted are {LEAST_JARS} or "
            "more, or one jar for the strength alone"
        )


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
    fitted = tuple(map(partial(_fitted, jars), range(len(jars.names)), numbers[0], _sd(covariance)))
    expected, series = jars.predicted(numbers)[0], jars.series
    residual = _residuals(series, expected)
    strength = Strength(fitted[0].best, fitted[0].low, fitted[0].high)
    return Calibration(
        pigment=_moved(jars, fitted, strength),
        strength=strength,
        fitted=fitted,
        jars=tuple(
            JarFit(
                label=series.labels[k],
                ph=float(series.ph[k]),
                residual=float(residual[k]),
                read=tuple(map(float, series.values[k])),
                fitted=tuple(map(float, expected[k])),
                weight=float(weights[0, k]),
            )
            for k in range(series.jars)
        ),
        residual=float(np.sqrt(np.average(residual**2, weights=weights[0]))),
        misfit=misfit,
        surprise=_surprise(jars, numbers[0]),
        cost=float(jars.cost(numbers)[0]),
    )


def _sd(covariance: Array) -> Array:
    return np.asarray(np.sqrt(np.diagonal(covariance[0])))


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


def _fitted(jars: CalibrationJars, column: int, number: float, spread: float) -> Fitted:
    """A number in its own unit; `number` and `spread` count in expected standard deviations."""
    what, place = jars.names[column]
    form = jars.which.forms[place].form if place >= 0 else ""
    prior_sd = float(jars.prior_sd[column])
    move, sd = float(number) * prior_sd, float(spread) * prior_sd
    reach = value_of(SPREADS, "ninety_percent") * sd
    if what in ADDED:
        expected = {"shift": jars.expected_shift, "curve": jars.expected_curve}
        prior = float(jars.which.pka[place]) if what == "pka" else expected[what]
        best = prior + move
        return Fitted(what, form, prior, prior_sd, best, sd, best - reach, best + reach)
    prior = jars.start_strength if what == "strength" else 1.0
    best = prior * float(np.exp(move))
    low, high = best * float(np.exp(-reach)), best * float(np.exp(reach))
    return Fitted(what, form, prior, prior_sd, best, sd, low, high)


def _whose(found: Fitted, row: FormRow | BandRow) -> dict[str, Any]:
    """Source and confidence of a number: the maker's own where the jars told something."""
    if found.learnt:
        return {"source": "own", "confidence": "OWN"}
    return {"source": row.source, "confidence": row.confidence}


def _moved(jars: CalibrationJars, fitted: tuple[Fitted, ...], strength: Strength) -> Colourant:
    """The pigment with what was fitted in place of what was expected."""
    which = jars.which
    constants = {one.form: one for one in fitted if one.what == "pka"}
    heights = {one.form: one for one in fitted if one.what == "height"}
    forms = tuple(
        replace(form, pka=found.best, pka_sd=found.sd, **_whose(found, form))
        if (found := constants.get(form.form)) is not None
        else form
        for form in which.forms
    )
    bands = tuple(
        replace(band, height=band.height * scale.best, **_whose(scale, band))
        if (scale := heights.get(band.form)) is not None
        else band
        for band in which.bands
    )
    spectra = tuple(
        replace(table, height=tuple(heights[table.form].best * one for one in table.height))
        if table.form in heights
        else table
        for table in which.spectra
    )
    per_percent, strength_sd = which.per_percent, which.strength_sd
    if jars.petals_percent is not None and which.per_percent is not None:
        share = jars.petals_percent
        per_percent = Strength(strength.best / share, strength.low / share, strength.high / share)
        repeat = value_of(SPREADS, "next_brew")
        strength_sd = float(np.hypot(fitted[0].sd, repeat))
    moved = [one for one in fitted if one.what == "shift"]
    shift = Strength(moved[0].best, moved[0].low, moved[0].high) if moved else which.micelle_shift
    own_heights = tuple((one.form, one.sd) for one in heights.values())
    return replace(
        which,
        forms=forms,
        bands=bands,
        spectra=spectra,
        height_sds=own_heights,
        per_percent=per_percent,
        strength_sd=strength_sd,
        micelle_shift=shift,
        source="own",
        confidence="OWN",
        based_on=which.family,
    )
