"""Robust least squares with expected values, for many series of readings at once.

Iteratively reweighted nonlinear least squares [1]_: Gauss-Newton steps towards the most probable
numbers, while a reading that contradicts all the others counts for little. The weights minimise
the sum of ``c * arctan(chi2 / c)`` over the readings beside the squares of the moves. The interval
is that of the linear model at the best numbers, widened by the scatter of the readings over the
stated one (the Birge ratio [2]_).

References
----------
.. [1] P. W. Holland, R. E. Welsch: Robust regression using iteratively reweighted least-squares.
   Communications in Statistics A6 (1977) 813-827
.. [2] R. T. Birge: The calculation of errors by the method of least squares.
   Physical Review 40 (1932) 207-227
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import Self

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

OUTLYING = 0.99
"""Share of sound readings whose misfit lies below the one at which a reading counts half."""
SET_ASIDE_WEIGHT = 0.3
"""Readings that count less are named."""
HALVINGS = 5
"""Of a step that makes the fit worse."""
NARROWING = 4.0
"""By which the tolerated misfit is divided from one round to the next."""


class RobustFit(ABC):
    """Series of readings, and the numbers that explain them.

    Numbers are counted in standard deviations of what is expected, so that every one is expected
    within about -1 to 1. Series are the first axis of all arrays.
    """

    read: Array
    """Readings, shape (series, readings, values)."""
    rounds: int
    """Most changes of the weights."""
    turns: int
    """Most steps of the numbers for given weights."""
    settled: float
    """Move at which the numbers stand still [standard deviations]."""
    known_scatter: float
    """Readings that what is known of the instrument's scatter is worth."""

    @abstractmethod
    def some(self, which: NDArray[np.intp]) -> Self:
        """Fit of some of the series."""

    @abstractmethod
    def predicted(self, numbers: Array) -> Array:
        """Readings of numbers (series, numbers), shape (series, readings, values)."""

    @abstractmethod
    def slopes(self, numbers: Array) -> tuple[Array, Array]:
        """Readings, and their derivatives, shape (series, numbers, readings, values)."""

    @abstractmethod
    def whitening(self, numbers: Array, expected: Array) -> Array:
        """Matrices that make the errors of a reading independent and of size 1.

        Parameters
        ----------
        numbers : numpy.ndarray
            Shape (series, numbers).
        expected : numpy.ndarray
            Readings by them, shape (series, readings, values).

        Returns
        -------
        numpy.ndarray
            Shape (series, readings, values, values).
        """

    def off(self, numbers: Array) -> Array:
        """Squared misfit of every reading, shape (series, readings)."""
        expected = self.predicted(numbers)
        white = self.whitening(numbers, expected)
        return np.asarray((_applied(white, expected - self.read) ** 2).sum(axis=-1))

    def cost(self, numbers: Array) -> Array:
        """Sum that the weights minimise: misfits, those of outlying readings bounded, and moves.

        Shape (series,).
        """
        half = self._half()
        bounded = half * np.arctan(self.off(numbers) / half)
        return np.asarray(bounded.sum(axis=-1) + (numbers**2).sum(axis=-1))

    def reweighted(self, numbers: Array, weights: Array, width: float) -> tuple[Array, Array]:
        """Numbers and weights that go with each other.

        Parameters
        ----------
        numbers : numpy.ndarray
            Where to start, shape (series, numbers).
        weights : numpy.ndarray
            Of the readings, 0 to 1, shape (series, readings).
        width : float
            How many times larger a misfit the first round tolerates; it narrows to 1.

        Returns
        -------
        tuple of numpy.ndarray
            The numbers and the weights, shapes as given.
        """
        from scipy.special import chdtri

        numbers, weights = numbers.copy(), weights.copy()
        half, middle = self._half(), float(chdtri(self.read.shape[-1], 0.5))
        moving = np.arange(len(self.read))
        for _ in range(self.rounds):
            part, before = self.some(moving), numbers[moving]
            best = part.best(before, weights[moving])
            off = part.off(best)
            # A common excess is the readings' own scatter; one is out of line against the others.
            common = np.maximum(1.0, np.median(off, axis=-1) / middle)[:, None]
            numbers[moving] = best
            weights[moving] = 1.0 / (1.0 + (off / (half * common * width)) ** 2)
            if width == 1.0:
                moving = moving[np.abs(best - before).max(axis=-1) >= self.settled]
            if not len(moving):
                break
            width = max(1.0, width / NARROWING)
        return numbers, weights

    def _half(self) -> float:
        """Squared misfit at which a reading counts half."""
        from scipy.special import chdtri

        return float(chdtri(self.read.shape[-1], 1.0 - OUTLYING))

    def best(self, numbers: Array, weights: Array) -> Array:
        """The most probable numbers for fixed weights.

        Parameters
        ----------
        numbers : numpy.ndarray
            Where to start, shape (series, numbers).
        weights : numpy.ndarray
            Shape (series, readings).

        Returns
        -------
        numpy.ndarray
            Shape (series, numbers).
        """
        numbers, moving = numbers.copy(), np.arange(len(numbers))
        for _ in range(self.turns):
            step = self.some(moving)._step(numbers[moving], weights[moving])
            numbers[moving] += step
            moving = moving[np.abs(step).max(axis=-1) >= self.settled]
            if not len(moving):
                break
        return numbers

    def _step(self, numbers: Array, weights: Array) -> Array:
        """A Gauss-Newton step of every series, none of its numbers by more than one."""
        expected, white, design = self._linear(numbers, weights)
        residual = _applied(white, expected - self.read).reshape(len(numbers), -1)
        normal = design @ design.swapaxes(-1, -2) + np.eye(numbers.shape[-1])
        gradient = (design @ residual[..., None])[..., 0] + numbers
        full = -np.linalg.solve(normal, gradient[..., None])[..., 0]
        step = np.asarray(full / np.maximum(1.0, np.abs(full).max(axis=-1, keepdims=True)))
        start = (residual**2).sum(axis=-1) + (numbers**2).sum(axis=-1)
        size = np.ones((len(numbers), 1))
        for _ in range(HALVINGS):
            there = numbers + size * step
            residual = _applied(white, self.predicted(there) - self.read)
            worse = (residual**2).sum(axis=(-1, -2)) + (there**2).sum(axis=-1) > start + 1e-9
            if not worse.any():
                break
            size[worse] *= 0.5
        return np.asarray(size * step)

    def _linear(self, numbers: Array, weights: Array) -> tuple[Array, Array, Array]:
        """Readings, weighted whitening, whitened slopes (series, numbers, readings x values)."""
        expected, slopes = self.slopes(numbers)
        white = self.whitening(numbers, expected) * np.sqrt(weights)[..., None, None]
        return expected, white, _applied(white[:, None], slopes).reshape(*numbers.shape, -1)

    def widened(
        self, numbers: Array, weights: Array, misfit: Array | None = None
    ) -> tuple[Array, Array]:
        """Covariance of the numbers, and by how much the readings scatter more than stated.

        Parameters
        ----------
        numbers : numpy.ndarray
            Shape (series, numbers).
        weights : numpy.ndarray
            Shape (series, readings).
        misfit : numpy.ndarray, optional
            Scatter over the stated one, shape (series,), where it is known already.

        Returns
        -------
        tuple of numpy.ndarray
            The covariance, shape (series, numbers, numbers), and the misfit, at least 1.
        """
        expected, white, design = self._linear(numbers, weights)
        information = design @ design.swapaxes(-1, -2)
        prior = np.eye(numbers.shape[-1])
        if misfit is None:
            covariance = np.linalg.inv(information + prior)
            used = np.trace(covariance @ information, axis1=-2, axis2=-1)
            chi2 = (_applied(white, expected - self.read) ** 2).sum(axis=(-1, -2))
            free = np.maximum(weights.sum(axis=-1) * self.read.shape[-1] - used, 0.0)
            free = free + self.known_scatter
            ratio = (chi2 + self.known_scatter) / np.maximum(free, 1.0)
            misfit = np.asarray(np.sqrt(np.where(free > 1.0, np.maximum(1.0, ratio), 1.0)))
        wider = np.linalg.inv(information / misfit[:, None, None] ** 2 + prior)
        return np.asarray(wider, dtype=np.float64), misfit


def _applied(white: Array, residual: Array) -> Array:
    """Errors made independent and of unit size, shape (..., values)."""
    return np.asarray((white @ residual[..., None])[..., 0])
