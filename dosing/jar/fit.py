"""A jar of the bath titrated at home: the water, foam bath and pigment that its readings tell.

What the recipe's readings allow is where the fit starts and what it falls back to. The water's
alkalinity and pH, the powder, the foam bath, the gas that leaves while stirring, the scale of the
additions, each single addition, the instrument's own offset and, where colours are noted, the
pigment are all uncertain at once; a reading that contradicts the others counts for little. Many
jars are fitted as one batch, so that the test of the method is the method itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.assembly import Setting, Truth, assemble
from dosing.bath import surfactant_pka
from dosing.equilibrium import default_air_co2_ppm, solve, water_density_kg_l
from dosing.inputs import RecipeInputs
from dosing.product import foam_bath_totals
from dosing.trade_values import reading_spread, typical
from dosing.uncertainty import reading_spreads
from indicator.absorbance import form_spectra
from indicator.appearance import lab_of
from indicator.colourants import Colourant
from indicator.optics import View
from indicator.pigments import colourant
from indicator.speciation import form_fractions
from indicator.spread import SPREADS, height_sd
from indicator.tables import DataError, read_table, value_of

Array = NDArray[np.float64]
Name = tuple[str, str, int]
"""What a number is, which colourant or nothing, which of its forms or which addition."""

TABLE = "trade/jar_test.csv"
SOURCE_OF_COLOUR_ERRORS = "colour/readings.csv"
FELT_PH = (2.5, 9.7)
"""Constants of a pigment outside are not felt in a jar test."""
LEAST_ALKALINITY = 1e-3
"""Of a water in the fit [meq/L]; nothing at all has no logarithm of a dose."""
STEP = 1e-3
"""For slopes, in standard deviations."""
ROUNDS, TURNS, HALVINGS = 14, 6, 5
SETTLED = 5e-3
OUTLYING = 0.99
"""Share of sound readings whose misfit lies below the one at which a reading counts half."""
ENOUGH_TO_JUDGE = 5
"""Readings from which one can be told to be wrong rather than what was expected."""
STRAINED, STRAINED_WEIGHT = 2.0, 0.5
"""A number so many standard deviations from what was expected, or a reading that counts so little,
makes a series worth a second look."""
START_WIDTH = 16.0
"""The first round tolerates a misfit so many times larger, so that no reading is lost to it."""
SET_ASIDE_WEIGHT = 0.3
"""Readings that count less are named."""


@dataclass(frozen=True)
class _Row:
    name: str
    value: float
    low: float | None
    high: float | None
    unit: str
    source: str
    confidence: str


@dataclass(frozen=True)
class _ColourErrorRow:
    name: str
    absolute: float
    relative: float
    gain_sd: float
    source: str
    confidence: str


@cache
def jar_row(name: str) -> _Row:
    """One row of ``data/trade/jar_test.csv``.

    Raises
    ------
    DataError
        If there is none of that name.
    """
    for row in read_table(TABLE, _Row):
        if row.name == name:
            return row
    raise DataError(f"data/{TABLE} has no row {name!r}")


def jar_value(name: str) -> float:
    """Value of that row."""
    return jar_row(name).value


@dataclass(frozen=True)
class Jar:
    """The sample: a part of the bath, or of its tap water alone."""

    inputs: RecipeInputs
    """The recipe with only what is in the jar."""
    litres: float
    """Sample before any addition [L]."""
    sd: float
    """Relative standard deviation of `litres`."""
    temperature_c: float
    """[°C]."""


@dataclass(frozen=True)
class Titrant:
    """What is added, by its unit: a mL of solution, a drop, a pinch or a gram of powder."""

    unit: str
    """``"mL"``, ``"drops"``, ``"pinches"`` or ``"g"``."""
    grams_per_unit: float
    """Powder in one unit [g]; 0 for a titrant that is no powder of the shelf."""
    mol_per_unit: Mapping[str, float]
    """Component to amount in one unit [mol]."""
    water_kg_per_unit: float
    """Water that one unit brings [kg]."""
    scale_sd: float
    """Relative standard deviation that all additions share."""
    each_sd: tuple[float, float]
    """Standard deviation of a single addition: absolute [unit], relative."""
    same_powder: bool = True
    """Whether it is the powder that the tub gets, so that its purity is the same."""


@dataclass(frozen=True)
class Readings:
    """A series: what was added in all, and what was read then."""

    added: Array
    """Total in the jar at each reading, rising, shape (steps,) [unit of the titrant]."""
    values: Array
    """Shape (..., steps, 1) of pH, or (..., steps, 3) of CIELAB; leading axes are other jars."""
    kind: str
    """``"ph"`` or ``"lab"``."""
    noise: Array
    """Standard deviation of each pH, shape (steps,); not used for colours."""
    shared_sd: float
    """Standard deviation of the pH by which all readings are off together."""
    view: View | None = None
    """How the colours were seen."""
    words: tuple[str, ...] = ()
    """Colour words that the pH values stand for; empty where pH was read."""


@dataclass(frozen=True)
class Fit:
    """The numbers after the fit, in standard deviations of what was expected; jars lead."""

    names: tuple[Name, ...]
    numbers: Array
    """Shape (..., numbers)."""
    covariance: Array
    """Shape (..., numbers, numbers)."""
    weights: Array
    """1 for a reading that agrees, towards 0 for one that contradicts, shape (..., steps)."""
    expected: Array
    """Readings as fitted, as `Readings.values`."""
    off: Array
    """Squared misfit of each reading over its expected one, shape (..., steps)."""
    misfit: Array
    """Scatter over the stated one, shape (...)."""

    def place(self, what: str) -> int | None:
        """Index of a number without colourant; None if it was not fitted."""
        return next((k for k, name in enumerate(self.names) if name[0] == what), None)


def ninety_percent() -> float:
    """Standard deviations on either side of nine cases in ten."""
    return value_of(SPREADS, "ninety_percent")


def ph_noise(by: str, ph: ArrayLike) -> tuple[Array, float]:
    """Standard deviations of pH readings: of each, and by which all are off together.

    Parameters
    ----------
    by : str
        ``"meter"``, ``"drop-kit"`` or ``"strip"``.
    ph : array_like
        The readings.
    """
    spread = reading_spread("ph", by).sd(ph)
    shared = jar_value(f"shared_{by}")
    own = np.hypot(np.sqrt(1.0 - shared) * spread, jar_value("model_ph"))
    return np.asarray(own), float(np.sqrt(shared) * np.max(spread))


class JarModel:
    """What is expected of a jar, and of the tub that it stands for.

    Numbers are counted in standard deviations from what the recipe's readings say, so that 0 is
    the recipe itself and every number is expected within about ±1.
    """

    def __init__(
        self,
        tub: RecipeInputs,
        jar: Jar,
        titrant: Titrant,
        kind: str,
        shared_sd: float,
        view: View | None = None,
    ) -> None:
        self.tub, self.jar, self.titrant, self.kind, self.view = tub, jar, titrant, kind, view
        spreads = reading_spreads(tub)
        self.alkalinity, self.alkalinity_sd = spreads.alkalinity_meq_l, spreads.alkalinity_sd
        self.ph_sd = spreads.tap_ph
        self.purity_sd, self.strength_sd = spreads.purity, spreads.pigment
        self.scale_sd = float(np.hypot(titrant.scale_sd, jar.sd))
        self.product_sd = _product_sd(tub)
        self.shared_sd = shared_sd
        gas = jar_row("gas_lost")
        low, best, high = (_logit(x) for x in (gas.low or 0.0, gas.value, gas.high or 1.0))
        self.gas, self.gas_sd = best, (high - low) / (2 * ninety_percent())
        self.pigments = _pigments(jar.inputs) if kind == "lab" else ()
        self.colour_error = _colour_error() if kind == "lab" else None
        self.names = tuple(self._names())
        self.index = {name: place for place, name in enumerate(self.names)}
        self._air = _carbon_dioxide_of_air(jar.temperature_c)

    def _names(self) -> list[Name]:
        names: list[Name] = [(what, "", -1) for what in ("alkalinity", "ph", "scale", "purity")]
        if self.tub.foam_bath is not None:
            names.append(("product", "", -1))
        names.append(("gas", "", -1))
        if self.kind != "lab":
            return [*names, ("offset", "", -1)]
        names += [("strength", "", -1), ("gain", "", -1)]
        for which in self.pigments:
            names += [("pka", which.name, place) for place in _felt(which)]
            told = np.flatnonzero(height_sd(which) > 0)
            names += [("height", which.name, int(place)) for place in told]
        return names

    def _of(self, numbers: Array, what: str) -> Array:
        place = self.index.get((what, "", -1))
        return np.zeros(numbers.shape[:-1]) if place is None else numbers[..., place]

    def alkalinity_meq_l(self, numbers: Array) -> Array:
        """Alkalinity of the water [meq/L]; folded at nothing, as in `possible_tubs`."""
        level = self.alkalinity + self.alkalinity_sd * self._of(numbers, "alkalinity")
        return np.maximum(np.abs(level), LEAST_ALKALINITY)

    def product_factor(self, numbers: Array) -> Array:
        """Buffer of the foam bath over the expected one."""
        return np.asarray(np.exp(self.product_sd * self._of(numbers, "product")))

    def _setting(self, inputs: RecipeInputs, numbers: Array, volume: ArrayLike = 1.0) -> Setting:
        """A tub of these numbers; batch shape that of the numbers without their last axis."""
        truth = Truth(
            alkalinity_meq_l=self.alkalinity_meq_l(numbers),
            volume=volume,
            purity=np.exp(self.purity_sd * self._of(numbers, "purity")),
            tap_ph=self.ph_sd * self._of(numbers, "ph"),
        )
        setting = assemble(inputs, truth)
        if inputs.foam_bath is None:
            return setting
        totals = dict(setting.bath.totals)
        more = self.product_factor(numbers) - 1.0
        for name, moles in _foam_moles(inputs).items():
            totals[name] = np.maximum(totals[name] + more * moles / setting.bath.water_kg, 0.0)
        return replace(setting, bath=replace(setting.bath, totals=totals))

    def tubs(self, numbers: Array, volume: ArrayLike = 1.0) -> Setting:
        """The tub itself, for `volume` times the water of its reading."""
        return self._setting(self.tub, numbers, volume)

    def jar_ph(self, numbers: Array, added: Array) -> Array:
        """PH in the jar, shape (..., steps), for numbers (..., n) and totals added (..., steps)."""
        inputs = replace(self.jar.inputs, water_temperature_c=self.jar.temperature_c)
        setting = self._setting(inputs, numbers)
        titrant = self.titrant
        scale = np.exp(self.scale_sd * self._of(numbers, "scale"))
        if titrant.same_powder:
            scale = scale * np.exp(self.purity_sd * self._of(numbers, "purity"))
        units = np.maximum(added, 0.0)
        sample_kg = self.jar.litres * water_density_kg_l(self.jar.temperature_c)
        water_kg = sample_kg + units * titrant.water_kg_per_unit
        totals = {
            name: np.asarray(total)[..., None] * sample_kg / water_kg
            for name, total in setting.bath.totals.items()
        }
        for name, moles in titrant.mol_per_unit.items():
            acid = moles * units * scale[..., None] / water_kg
            totals[name] = totals.get(name, np.zeros(())) + acid
        closed = solve(totals, self.jar.temperature_c)
        # Gas leaves a stirred jar within minutes: the same series with a share of it gone.
        free = np.maximum(closed.molality["CO2"] - self._air, 0.0) * (units > 0)
        lost = _expit(self.gas + self.gas_sd * self._of(numbers, "gas"))
        totals["C"] = np.maximum(totals["C"] - lost[..., None] * free, 0.0)
        return np.asarray(solve(totals, self.jar.temperature_c).ph)

    def predicted(self, numbers: Array, added: Array) -> Array:
        """Readings, shape (..., steps, values)."""
        ph = self.jar_ph(numbers, added)
        if self.kind != "lab":
            return np.asarray(
                (ph + self.shared_sd * self._of(numbers, "offset")[..., None])[..., None]
            )
        assert self.view is not None
        gain_sd = self.colour_error.gain_sd if self.colour_error is not None else 0.0
        gain = gain_sd * self._of(numbers, "gain") / np.log(10.0) / self.view.path_cm
        absorbance = self._absorbance(numbers, ph, added) - gain[..., None, None]
        return lab_of(absorbance, self.view)

    def _absorbance(self, numbers: Array, ph: Array, added: Array) -> Array:
        """Per cm, shape (..., steps, wavelengths)."""
        bath = assemble(self.jar.inputs).bath
        moved = surfactant_pka(tuple(bath.strengths), bath.surfactants_g_l)
        factor = np.exp(self.strength_sd * self._of(numbers, "strength"))[..., None]
        sample_kg = self.jar.litres * water_density_kg_l(self.jar.temperature_c)
        thinned = sample_kg / (sample_kg + added * self.titrant.water_kg_per_unit)
        total: Array = np.zeros(())
        for name, strength in bath.strengths.items():
            which = colourant(name)
            pka = self.constants(which, numbers, moved.get(name))
            fractions = form_fractions(which, ph, pka[..., None, :])
            spectrum = (fractions * self._heights(which, numbers)[..., None, :]) @ form_spectra(
                which
            )
            amount = np.asarray(strength) * thinned * (factor if which.kind == "pigment" else 1.0)
            total = total + amount[..., None] * spectrum
        return total

    def constants(
        self, which: Colourant, numbers: Array, expected: ArrayLike | None = None
    ) -> Array:
        """Apparent pKa's of a colourant, shape (..., forms)."""
        base = which.pka if expected is None else np.asarray(expected)
        pka = np.broadcast_to(base, (*numbers.shape[:-1], len(which.forms))).copy()
        for (what, name, place), column in self.index.items():
            if what == "pka" and name == which.name:
                pka[..., place] += (which.forms[place].pka_sd or 0.0) * numbers[..., column]
        return pka

    def _heights(self, which: Colourant, numbers: Array) -> Array:
        deviation = height_sd(which)
        factors = np.ones((*numbers.shape[:-1], len(which.forms)))
        for (what, name, place), column in self.index.items():
            if what == "height" and name == which.name:
                factors[..., place] = np.exp(deviation[place] * numbers[..., column])
        return factors

    def whitening(self, expected: Array, noise: Array) -> Array:
        """One over the standard deviation of each value, shape as `expected`."""
        if self.kind != "lab" or self.colour_error is None:
            return np.broadcast_to(1.0 / noise[:, None], expected.shape)
        chroma = np.hypot(expected[..., 1], expected[..., 2])[..., None]
        row = self.colour_error
        return np.broadcast_to(1.0 / np.hypot(row.absolute, row.relative * chroma), expected.shape)


def fit(model: JarModel, readings: Readings) -> Fit:
    """The numbers that agree best with the readings and with what was expected of them.

    Parameters
    ----------
    model : JarModel
        The jar.
    readings : Readings
        One series, or many of the same additions along the leading axes of its values.

    Returns
    -------
    Fit
        Maximum a posteriori by Gauss-Newton steps, its covariance by Laplace's approximation,
        widened where the readings scatter more than their instruments should.
    """
    leading = readings.values.shape[:-2]
    steps, width_of_value = readings.values.shape[-2:]
    series = readings.values.reshape(-1, steps, width_of_value)
    problem = _Problem(model, readings, series)
    start = np.zeros((len(series), len(problem.names)))
    numbers, weights = problem.reweighted(start, np.ones((len(series), steps)), START_WIDTH)
    doubtful = problem.doubtful(numbers, weights)
    if len(doubtful) and steps >= ENOUGH_TO_JUDGE:
        part = problem.some(doubtful)
        numbers[doubtful], weights[doubtful] = part.without_each(
            numbers[doubtful], weights[doubtful]
        )
    covariance, misfit = problem.spread(numbers, weights)
    return Fit(
        names=problem.names,
        numbers=numbers.reshape(*leading, -1),
        covariance=covariance.reshape(*leading, *covariance.shape[-2:]),
        weights=weights.reshape(*leading, steps),
        expected=problem.predicted(numbers).reshape(readings.values.shape),
        off=problem.off(numbers).reshape(*leading, steps),
        misfit=misfit.reshape(leading),
    )


class _Problem:
    """Many series of the same additions, with the error of every single addition as a number."""

    def __init__(self, model: JarModel, readings: Readings, series: Array) -> None:
        self.model, self.readings, self.series = model, readings, series
        self.common = len(model.names)
        single = np.diff(readings.added, prepend=0.0)
        absolute, relative = model.titrant.each_sd
        self.added_sd = np.where(single > 0, np.hypot(absolute, relative * single), 0.0)
        self.poured = np.flatnonzero(single > 0)
        self.names: tuple[Name, ...] = (
            *model.names,
            *(("addition", "", int(step)) for step in self.poured),
        )

    def some(self, which: NDArray[np.intp]) -> _Problem:
        """The same for some of the series."""
        return _Problem(self.model, self.readings, self.series[which])

    def _added(self, numbers: Array) -> Array:
        """Totals in the jar with the errors of all additions so far, shape (..., steps)."""
        errors = np.zeros((*numbers.shape[:-1], len(self.readings.added)))
        errors[..., self.poured] = numbers[..., self.common :] * self.added_sd[self.poured]
        return np.asarray(self.readings.added + np.cumsum(errors, axis=-1))

    def predicted(self, numbers: Array) -> Array:
        """Shape (..., steps, values)."""
        return self.model.predicted(numbers[..., : self.common], self._added(numbers))

    def _white(self, expected: Array) -> Array:
        return self.model.whitening(expected, self.readings.noise)

    def off(self, numbers: Array) -> Array:
        """Squared misfit of every reading, shape (series, steps)."""
        expected = self.predicted(numbers)
        white = self._white(expected)
        return np.asarray((((expected - self.series) * white) ** 2).sum(axis=-1))

    def slopes(self, numbers: Array) -> tuple[Array, Array]:
        """Readings, (series, steps, values), and their slopes, (series, numbers, steps, values)."""
        count, added = self.common, self._added(numbers)
        nudge = STEP * max(float(self.added_sd.max()), 1e-9)
        moves = np.concatenate([np.zeros((2, count)), STEP * np.eye(count)])
        totals = np.repeat(added[:, None, :], count + 2, axis=1)
        totals[:, 1] += nudge
        found = self.model.predicted(numbers[:, None, :count] + moves, totals)
        here = found[:, 0]
        slopes = (found[:, 2:] - here[:, None]) / STEP
        # The error of an addition stays in the jar: it moves this reading and all that follow.
        along = (found[:, 1] - here) / nudge
        after = np.arange(len(self.readings.added)) >= self.poured[:, None]
        kept = (after * self.added_sd[self.poured, None])[..., None] * along[:, None]
        return here, np.concatenate([slopes, kept], axis=1)

    def reweighted(self, numbers: Array, weights: Array, width: float) -> tuple[Array, Array]:
        """Numbers and weights that go with each other, tolerance narrowing from a width to 1."""
        from scipy.special import chdtri

        numbers, weights = numbers.copy(), weights.copy()
        half, middle = self._half(), float(chdtri(self.series.shape[-1], 0.5))
        moving = np.arange(len(self.series))
        for _ in range(ROUNDS):
            part, before = self.some(moving), numbers[moving]
            found = part.settled(before, weights[moving])
            off = part.off(found)
            # A common excess is the readings' own scatter; one is out of line against the others.
            common = np.maximum(1.0, np.median(off, axis=-1) / middle)[:, None]
            numbers[moving] = found
            weights[moving] = 1.0 / (1.0 + (off / (half * common * width)) ** 2)
            if width == 1.0:
                moving = moving[np.abs(found - before).max(axis=-1) >= SETTLED]
            if not len(moving):
                break
            width = max(1.0, width / 4.0)
        return numbers, weights

    def _half(self) -> float:
        """Squared misfit at which a reading counts half."""
        from scipy.special import chdtri

        return float(chdtri(self.series.shape[-1], 1.0 - OUTLYING))

    def doubtful(self, numbers: Array, weights: Array) -> NDArray[np.intp]:
        """Series that strain what was expected, or their own readings: places in the batch."""
        strained = np.abs(numbers[:, : self.common]).max(axis=-1) > STRAINED
        apart = weights.min(axis=-1) < STRAINED_WEIGHT
        return np.flatnonzero(strained | apart)

    def without_each(self, numbers: Array, weights: Array) -> tuple[Array, Array]:
        """The best of these numbers and of those found when each reading in turn is left out.

        A wrong reading can drag the fit to a place from which it looks right.
        """
        steps = self.series.shape[1]
        where = np.repeat(np.arange(len(self.series)), steps)
        left_out = np.tile(1.0 - np.eye(steps), (len(self.series), 1))
        copies = self.some(where)
        start = np.zeros((len(where), numbers.shape[-1]))
        others, their_weights = copies.reweighted(start, left_out, 1.0)
        cost = np.concatenate(
            [self.cost(numbers)[:, None], copies.cost(others).reshape(-1, steps)], axis=1
        )
        # The first is kept unless another is clearly better.
        cost[:, 0] -= 1e-3
        best = cost.argmin(axis=1)
        numbers, weights = numbers.copy(), weights.copy()
        changed = np.flatnonzero(best)
        chosen = changed * steps + best[changed] - 1
        numbers[changed], weights[changed] = others[chosen], their_weights[chosen]
        return numbers, weights

    def cost(self, numbers: Array) -> Array:
        """What the weights minimise, shape (series,)."""
        half = self._half()
        data = half * np.arctan(self.off(numbers) / half)
        return np.asarray(data.sum(axis=-1) + (numbers**2).sum(axis=-1))

    def settled(self, numbers: Array, weights: Array) -> Array:
        """The best numbers for fixed weights of the readings, shape (series, numbers)."""
        numbers, moving = numbers.copy(), np.arange(len(numbers))
        for _ in range(TURNS):
            step = self.some(moving)._improved(numbers[moving], weights[moving])
            numbers[moving] += step
            moving = moving[np.abs(step).max(axis=-1) >= SETTLED]
            if not len(moving):
                break
        return numbers

    def _improved(self, numbers: Array, weights: Array) -> Array:
        """A Gauss-Newton step of every series, none of its numbers by more than one."""
        expected, slopes = self.slopes(numbers)
        white = np.asarray(self._white(expected) * np.sqrt(weights)[..., None])
        residual = ((expected - self.series) * white).reshape(len(numbers), -1)
        design = (slopes * white[:, None]).reshape(len(numbers), numbers.shape[-1], -1)
        normal = design @ design.swapaxes(-1, -2) + np.eye(numbers.shape[-1])
        gradient = (design @ residual[..., None])[..., 0] + numbers
        full = -np.linalg.solve(normal, gradient[..., None])[..., 0]
        reach = np.abs(full).max(axis=-1, keepdims=True)
        step = np.asarray(full / np.maximum(1.0, reach), dtype=np.float64)
        start = (residual**2).sum(axis=-1) + (numbers**2).sum(axis=-1)
        return self._shortened(numbers, step, white, start)

    def _shortened(self, numbers: Array, step: Array, white: Array, start: Array) -> Array:
        """The step, halved for each series until it does not get worse."""
        size = np.ones((len(numbers), 1))
        for _ in range(HALVINGS):
            there = numbers + size * step
            residual = (self.predicted(there) - self.series) * white
            cost = (residual**2).sum(axis=(-1, -2)) + (there**2).sum(axis=-1)
            worse = cost > start + 1e-9
            if not worse.any():
                break
            size[worse] *= 0.5
        return size * step

    def spread(self, numbers: Array, weights: Array) -> tuple[Array, Array]:
        """Covariance of the numbers, and by how much the readings scatter more than stated."""
        expected, slopes = self.slopes(numbers)
        white = self._white(expected) * np.sqrt(weights)[..., None]
        design = (slopes * white[:, None]).reshape(len(numbers), numbers.shape[-1], -1)
        information = design @ design.swapaxes(-1, -2)
        prior = np.eye(numbers.shape[-1])
        covariance = np.linalg.inv(information + prior)
        used = np.trace(covariance @ information, axis1=-2, axis2=-1)
        chi2 = (((expected - self.series) * white) ** 2).sum(axis=(-1, -2))
        free = np.maximum(weights.sum(axis=-1) * self.series.shape[-1] - used, 0.0)
        # A handful of readings says little of its scatter beside what instruments are known for.
        known = jar_value("sureness_of_scatter") * self.series.shape[-1]
        misfit2 = np.maximum(1.0, (chi2 + known) / (free + known))
        wider = np.linalg.inv(information / misfit2[:, None, None] + prior)
        return wider, np.sqrt(misfit2)


def draws(found: Fit, common: int, count: int, seed: int) -> Array:
    """Numbers of one series drawn from what the fit leaves open, shape (count, common).

    Parameters
    ----------
    found : Fit
        Of a single series.
    common : int
        How many of its numbers, from the first, are wanted: those of the `JarModel`.
    count, seed : int
        Of the draws.
    """
    root = np.linalg.cholesky(found.covariance[:common, :common])
    return np.asarray(found.numbers[:common] + normal_numbers(count, common, seed) @ root.T)


@cache
def normal_numbers(count: int, dimensions: int, seed: int) -> Array:
    """Seeded normal numbers whose mean is 0 and whose covariance is 1, both exactly.

    Shape (count, dimensions); an even count of more than twice the dimensions.
    """
    half = np.random.default_rng(seed).standard_normal((count // 2, dimensions))
    root = np.linalg.cholesky(half.T @ half / len(half))
    even = np.linalg.solve(root, half.T).T
    return np.concatenate([even, -even])


def _product_sd(inputs: RecipeInputs) -> float:
    """Of the logarithm of the foam bath's buffer."""
    foam = inputs.foam_bath
    if foam is not None and foam.titratable_meq_kg is not None:
        return jar_value("product_measured")
    usual = typical("foam_bath_titratable")
    low, high = usual.low or usual.value, usual.high or usual.value
    return float(np.log(high / low)) / (2 * ninety_percent())


def _foam_moles(inputs: RecipeInputs) -> dict[str, Array]:
    """What the foam bath of a tub brings [mol]."""
    foam = inputs.foam_bath
    assert foam is not None
    return _foam_bath_moles(foam.amount_ml, foam.ph, foam.titratable_meq_kg)


@cache
def _foam_bath_moles(
    amount_ml: float, ph: float | None, titratable: float | None
) -> dict[str, Array]:
    grams = amount_ml * typical("foam_bath_density").value
    return dict(foam_bath_totals(grams, ph, titratable).totals)


@cache
def _carbon_dioxide_of_air(temperature_c: float) -> float:
    """Free carbon dioxide of water at rest with the air [mol/kg]."""
    at_rest = solve({"Na": 1e-3, "Cl": 1e-3}, temperature_c, pco2_ppm=default_air_co2_ppm())
    return float(at_rest.molality["CO2"])


def _pigments(inputs: RecipeInputs) -> tuple[Colourant, ...]:
    """The colourants that follow the pH, each once."""
    found = {one.name: colourant(one.name) for one in inputs.colours}
    return tuple(which for which in found.values() if _felt(which))


def _felt(which: Colourant) -> list[int]:
    low, high = FELT_PH
    return [
        place
        for place, form in enumerate(which.forms)
        if form.pka is not None and form.pka_sd and low <= form.pka <= high
    ]


def _colour_error() -> _ColourErrorRow:
    for row in read_table(SOURCE_OF_COLOUR_ERRORS, _ColourErrorRow):
        if row.name == "hex":
            return row
    raise DataError(f"data/{SOURCE_OF_COLOUR_ERRORS} has no row 'hex'")


def _logit(share: float) -> float:
    return float(np.log(share / (1.0 - share)))


def _expit(value: Array) -> Array:
    return np.asarray(1.0 / (1.0 + np.exp(-value)))
