"""The robust fit against certified values, and against another library's robust loss."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.stats import chi2

from indicator.robust_fit import OUTLYING, RobustFit

Array = NDArray[np.float64]

# NIST StRD, linear least squares, data set "Norris" (ozone monitors), x and y:
# https://www.itl.nist.gov/div898/strd/lls/data/Norris.shtml
NORRIS = np.array([
    (0.2, 0.1), (337.4, 338.8), (118.2, 118.1), (884.6, 888.0), (10.1, 9.2), (226.5, 228.1),
    (666.3, 668.5), (996.3, 998.5), (448.6, 449.1), (777.0, 778.9), (558.2, 559.2), (0.4, 0.3),
    (0.6, 0.1), (775.5, 778.1), (666.9, 668.8), (338.0, 339.3), (447.5, 448.9), (11.6, 10.8),
    (556.0, 557.7), (228.1, 228.3), (995.8, 998.0), (887.6, 888.8), (120.2, 119.6), (0.3, 0.3),
    (0.3, 0.6), (556.8, 557.6), (339.1, 339.3), (887.2, 888.0), (999.0, 998.5), (779.0, 778.9),
    (11.1, 10.2), (118.3, 117.6), (229.2, 228.9), (669.1, 668.4), (448.9, 449.2), (0.5, 0.2),
])  # fmt: skip
CERTIFIED = np.array([-0.262323073774029, 1.00211681802045])
CERTIFIED_SD = np.array([0.232818234301152, 0.429796848199937e-3])
CERTIFIED_RESIDUAL_SD = 0.884796396144373
VAGUE = 1e4
"""Standard deviation of what is expected: it tells nothing."""


class Line(RobustFit):
    """Straight lines through the same x."""

    rounds, turns, settled, known_scatter = 60, 20, 1e-12, 0.0

    def __init__(self, read: Array, noise: float) -> None:
        self.read, self.noise = read, noise
        self.design = VAGUE * np.stack([np.ones(len(NORRIS)), NORRIS[:, 0]])

    def some(self, which: NDArray[np.intp]) -> Line:
        return Line(self.read[which], self.noise)

    def predicted(self, numbers: Array) -> Array:
        return np.asarray((numbers @ self.design)[..., None])

    def slopes(self, numbers: Array) -> tuple[Array, Array]:
        slopes = np.broadcast_to(self.design[..., None], (len(numbers), *self.design.shape, 1))
        return self.predicted(numbers), slopes

    def whitening(self, numbers: Array, expected: Array) -> Array:
        return np.full((*expected.shape, 1), 1.0 / self.noise)


def test_numbers_intervals_and_scatter_are_the_certified_ones() -> None:
    # Stated a third as large as it is, the scatter of the readings widens the intervals.
    noise = CERTIFIED_RESIDUAL_SD / 3.0
    line, sound = Line(NORRIS[None, :, 1:], noise), np.ones((1, len(NORRIS)))
    best = line.best(np.zeros((1, 2)), sound)
    covariance, misfit = line.widened(best, sound)
    assert VAGUE * best[0] == pytest.approx(CERTIFIED, rel=1e-7)
    assert VAGUE * np.sqrt(np.diagonal(covariance[0])) == pytest.approx(CERTIFIED_SD, rel=1e-7)
    assert misfit[0] == pytest.approx(3.0, rel=1e-7)


def test_weights_minimise_another_librarys_bounded_loss() -> None:
    # scipy.optimize.least_squares, loss "arctan", from the same readings with three gross errors.
    read = np.repeat(NORRIS[None, :, 1:], 2, axis=0)
    read[1, [3, 7, 20], 0] += [40.0, -25.0, 8.0]
    # Not less than the readings scatter, so that no common excess is found.
    noise = 1.5 * CERTIFIED_RESIDUAL_SD
    lines = Line(read, noise)
    numbers, weights = lines.reweighted(np.zeros((2, 2)), np.ones(read.shape[:2]), 16.0)
    for series, fitted in zip(read[..., 0], numbers, strict=True):
        scale = np.sqrt(chi2.ppf(OUTLYING, 1))

        def off(line: Array, series: Array = series) -> Array:
            return np.asarray((line[0] + line[1] * NORRIS[:, 0] - series) / noise)

        other = least_squares(off, CERTIFIED, loss="arctan", f_scale=scale, x_scale=CERTIFIED_SD,
                              xtol=1e-14, ftol=1e-14, gtol=1e-14)  # fmt: skip
        assert VAGUE * fitted == pytest.approx(other.x, rel=1e-5)
    # The large errors hardly count, and the sound readings do.
    assert weights[1, [3, 7]].max() < 1e-3
    assert np.delete(weights[1], [3, 7, 20]).min() > 0.2
