"""The fit of a jar test: the water, foam bath and pigment that its readings tell.

Beside the numbers of the model every single addition may be off, and a reading that contradicts
the others counts for little. Many jars are fitted as one batch, so that the test of the method is
the method itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from dosing.jar.model import Array, JarModel, Name, Readings, jar_value

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
    numbers, covariance, misfit = problem.scattered(numbers, weights)
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

    def scattered(self, numbers: Array, weights: Array) -> tuple[Array, Array, Array]:
        """Numbers and covariance that go with the scatter of the readings, and that scatter.

        What scatters more than its instrument should counts for less beside what was expected.
        """
        misfit = self.spread(numbers, weights)[1]
        more = np.flatnonzero(misfit > 1.0)
        if len(more):
            numbers = numbers.copy()
            less = weights[more] / misfit[more, None] ** 2
            numbers[more] = self.some(more).settled(numbers[more], less)
        return numbers, self.spread(numbers, weights, misfit)[0], misfit

    def spread(
        self, numbers: Array, weights: Array, misfit: Array | None = None
    ) -> tuple[Array, Array]:
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
        # A handful of readings says little of its scatter beside what instruments are known for:
        # a stated scatter that is unsure by so much counts as so many readings.
        known = 1.0 / (2.0 * jar_value("scatter_unsure") ** 2)
        misfit2 = np.maximum(1.0, (chi2 + known) / (free + known))
        if misfit is not None:
            misfit2 = misfit**2
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
