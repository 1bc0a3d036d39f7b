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

from dosing.jar.model import Array, JarModel, Readings, jar_value
from indicator.named_numbers import Name
from indicator.robust_fit import RobustFit

STEP = 1e-3
"""For slopes, in standard deviations."""
ENOUGH_TO_JUDGE = 5
"""Readings from which one can be told to be wrong rather than what was expected."""
STRAINED, STRAINED_WEIGHT = 2.0, 0.5
"""A number so many standard deviations from what was expected, or a reading that counts so little,
makes a series worth a second look."""
START_WIDTH = 16.0
"""The first round tolerates a misfit so many times larger, so that no reading is lost to it."""


@dataclass(frozen=True)
class Fit:
    """The numbers after the fit, in standard deviations of what was expected; jars lead."""

    names: tuple[Name, ...]
    shared: int
    """How many of them, from the first, are those of the model; each addition's own follow."""
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

    @property
    def of_model(self) -> Array:
        """Numbers of the model, shape (..., numbers of the model)."""
        return self.numbers[..., : self.shared]


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
    steps = readings.values.shape[-2]
    jars = _Jars(model, readings, readings.values.reshape(-1, *readings.values.shape[-2:]))
    start = np.zeros((len(jars.read), len(jars.names)))
    numbers, weights = jars.reweighted(start, np.ones((len(start), steps)), START_WIDTH)
    doubtful = jars.doubtful(numbers, weights)
    if len(doubtful) and steps >= ENOUGH_TO_JUDGE:
        numbers[doubtful], weights[doubtful] = jars.some(doubtful).without_each(
            numbers[doubtful], weights[doubtful]
        )
    numbers, covariance, misfit = jars.scattered(numbers, weights)
    return Fit(
        names=jars.names,
        shared=jars.shared,
        numbers=numbers.reshape(*leading, -1),
        covariance=covariance.reshape(*leading, *covariance.shape[-2:]),
        weights=weights.reshape(*leading, steps),
        expected=jars.predicted(numbers).reshape(readings.values.shape),
        off=jars.off(numbers).reshape(*leading, steps),
        misfit=misfit.reshape(leading),
    )


class _Jars(RobustFit):
    """Many series of the same additions, with the error of every single addition as a number."""

    rounds, turns, settled = 14, 6, 5e-3

    def __init__(self, model: JarModel, readings: Readings, read: Array) -> None:
        self.model, self.readings, self.read = model, readings, read
        self.shared = len(model.names)
        # A handful of readings says little of its scatter beside what instruments are known for:
        # a stated scatter that is unsure by so much counts as so many readings.
        self.known_scatter = 1.0 / (2.0 * jar_value("scatter_unsure") ** 2)
        self.one_jar = not readings.soda
        single = np.diff(readings.added, prepend=0.0) if self.one_jar else readings.added
        absolute, relative = model.titrant.each_sd
        self.added_sd = np.where(single > 0, np.hypot(absolute, relative * single), 0.0)
        self.poured = np.flatnonzero(single > 0)
        self.names: tuple[Name, ...] = (
            *model.names,
            *(("addition", "", int(step)) for step in self.poured),
        )

    def some(self, which: NDArray[np.intp]) -> _Jars:
        """Fit of some of the series."""
        return _Jars(self.model, self.readings, self.read[which])

    def _added(self, numbers: Array) -> Array:
        """Totals in the jar with the errors of all additions so far, shape (..., steps)."""
        errors = np.zeros((*numbers.shape[:-1], len(self.readings.added)))
        errors[..., self.poured] = numbers[..., self.shared :] * self.added_sd[self.poured]
        return np.asarray(
            self.readings.added + (np.cumsum(errors, axis=-1) if self.one_jar else errors)
        )

    def predicted(self, numbers: Array) -> Array:
        """Readings of numbers (series, numbers), shape (series, steps, values)."""
        return self.model.predicted(numbers[..., : self.shared], self._added(numbers))

    def whitening(self, numbers: Array, expected: Array) -> Array:
        """Diagonal, shape (series, steps, values, values)."""
        white = self.model.whitening(expected, self.readings.noise)
        return np.asarray(white[..., None] * np.eye(white.shape[-1]))

    def slopes(self, numbers: Array) -> tuple[Array, Array]:
        """Readings, (series, steps, values), and their slopes, (series, numbers, steps, values)."""
        count, added = self.shared, self._added(numbers)
        nudge = STEP * max(float(self.added_sd.max()), 1e-9)
        moves = np.concatenate([np.zeros((2, count)), STEP * np.eye(count)])
        totals = np.repeat(added[:, None, :], count + 2, axis=1)
        totals[:, 1] += nudge
        moved = self.model.predicted(numbers[:, None, :count] + moves, totals)
        here = moved[:, 0]
        slopes = (moved[:, 2:] - here[:, None]) / STEP
        # The error of an addition stays in its jar: it moves this reading and all that follow.
        along = (moved[:, 1] - here) / nudge
        steps = np.arange(len(self.readings.added))
        after = steps >= self.poured[:, None] if self.one_jar else steps == self.poured[:, None]
        kept = (after * self.added_sd[self.poured, None])[..., None] * along[:, None]
        return here, np.concatenate([slopes, kept], axis=1)

    def doubtful(self, numbers: Array, weights: Array) -> NDArray[np.intp]:
        """Series that strain what was expected, or their own readings: places in the batch."""
        strained = np.abs(numbers[:, : self.shared]).max(axis=-1) > STRAINED
        apart = weights.min(axis=-1) < STRAINED_WEIGHT
        return np.flatnonzero(strained | apart)

    def without_each(self, numbers: Array, weights: Array) -> tuple[Array, Array]:
        """The best of these numbers and of those found when each reading in turn is left out.

        A wrong reading can drag the fit to a place from which it looks right.
        """
        steps = self.read.shape[1]
        where = np.repeat(np.arange(len(self.read)), steps)
        left_out = np.tile(1.0 - np.eye(steps), (len(self.read), 1))
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

    def scattered(self, numbers: Array, weights: Array) -> tuple[Array, Array, Array]:
        """Numbers and covariance that go with the scatter of the readings, and that scatter.

        What scatters more than its instrument should counts for less beside what was expected.
        """
        misfit = self.widened(numbers, weights)[1]
        more = np.flatnonzero(misfit > 1.0)
        if len(more):
            numbers = numbers.copy()
            less = weights[more] / misfit[more, None] ** 2
            numbers[more] = self.some(more).best(numbers[more], less)
        return numbers, self.widened(numbers, weights, misfit)[0], misfit


def draws(fitted: Fit, count: int, seed: int) -> Array:
    """Numbers of the model drawn from what the fit of one series leaves open.

    Parameters
    ----------
    fitted : Fit
        Of a single series.
    count, seed : int
        Of the draws.

    Returns
    -------
    numpy.ndarray
        Shape (count, numbers of the model).
    """
    shared = fitted.shared
    root = np.linalg.cholesky(fitted.covariance[:shared, :shared])
    return np.asarray(fitted.of_model + antithetic_normals(count, shared, seed) @ root.T)


@cache
def antithetic_normals(count: int, dimensions: int, seed: int) -> Array:
    """Seeded normal numbers in pairs of opposite sign: mean 0 and covariance 1, both exactly.

    Parameters
    ----------
    count : int
        Even, and more than twice the dimensions.
    dimensions, seed : int
        Of the numbers.

    Returns
    -------
    numpy.ndarray
        Shape (count, dimensions).
    """
    half = np.random.default_rng(seed).standard_normal((count // 2, dimensions))
    root = np.linalg.cholesky(half.T @ half / len(half))
    even = np.linalg.solve(root, half.T).T
    return np.concatenate([even, -even])
