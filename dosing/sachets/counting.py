"""Counting homes: what any grams, or any grams for each, do to a population.

Every home is an interval of grams: from the least that turns it to the most that keeps it within
the caution limit. A size serves the homes whose interval it lies in, so any number of sizes and
rules is counted, not solved again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.ingredients.powders import scale_step
from dosing.sachets.home_doses import HomeDoses
from indicator.tables import value_of

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

GRID = 120
"""Sizes that are tried, in round grams."""
COARSE = 48
"""Sizes that are tried together with others."""
SIDES = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class Shares:
    """Shares of homes, 0 to 1, that add up to 1."""

    turns_share: float
    """Turned, and within the caution limit."""
    does_not_turn_share: float
    past_limit_share: float
    """Past the caution limit, turned or not."""


@dataclass(frozen=True)
class Ends:
    """Of a quantity in many homes."""

    low: float
    """5 % of the homes have less."""
    middle: float
    high: float
    """5 % have more."""


def ends_of(quantity: Array) -> Ends:
    """Quantiles of a quantity over homes: 5 %, half and 95 %.

    Parameters
    ----------
    quantity : numpy.ndarray
        Shape (homes,); infinite where nothing is enough.

    Returns
    -------
    Ends
    """
    return Ends(*np.quantile(quantity, SIDES, method="nearest").tolist())


@dataclass(frozen=True)
class Size:
    """One sachet, the same in every home."""

    grams: float
    shares: Shares
    ph: Ends
    """Just poured."""
    cost: float | None
    """In the money of the prices; None if one is not known."""


def size_shares(doses: HomeDoses, grams: ArrayLike) -> Shares:
    """Shares of homes for grams: one number, or one for each home.

    Parameters
    ----------
    doses : HomeDoses
        What each home needs.
    grams : array_like
        One number, or shape (homes,) [g].

    Returns
    -------
    Shares
        They add up to 1.
    """
    return shares_of(*doses.turned_and_past(grams))


def shares_of(turned: Mask, past: Mask) -> Shares:
    """Shares of homes that turned within the limit, did not, and are past it.

    Parameters
    ----------
    turned, past : numpy.ndarray
        Which homes, shape (homes,); no home is both.

    Returns
    -------
    Shares
    """
    served, over = float(np.mean(turned)), float(np.mean(past))
    return Shares(served, max(1.0 - served - over, 0.0), over)


def sachet_value(name: str) -> float:
    """Value of one row of ``data/trade/sachets.csv``."""
    return value_of("trade/sachets.csv", name)


class Counted:
    """Counts of homes along the grams, from their intervals."""

    def __init__(self, doses: HomeDoses, most_past_share: float) -> None:
        self.doses = doses
        self.most_past_share = most_past_share
        self.most_g = np.minimum(doses.passed_g, doses.limit_g)
        self.served = np.isfinite(doses.turns_g) & (doses.turns_g <= self.most_g)
        self.least = sachet_value("least_sachet")
        self.grid = _round_sizes(doses, GRID, self.least)
        self.coarse = _round_sizes(doses, COARSE, self.least)

    def best(self) -> float | None:
        """The size that serves most homes, if any within the limit serves one."""
        turns = self.within(*self.along(self.grid))
        best = int(np.argmax(turns))
        return float(self.grid[best]) if turns[best] > 0.0 else None

    def usual(self) -> float:
        """The size that serves most homes; a small one where none does."""
        best = self.best()
        return float(self.grid[len(self.grid) // 3]) if best is None else best

    def within(self, turns: ArrayLike, past: ArrayLike) -> Array:
        """Shares that are served, -1 where too many homes end past the limit.

        Parameters
        ----------
        turns, past : array_like
            As `along` gives them, of any one shape.

        Returns
        -------
        numpy.ndarray
            The same shape.
        """
        return np.where(np.asarray(past) <= self.most_past_share, turns, -1.0)

    def reaching(self, share: float) -> float | None:
        """The smallest size that turns a share, limits aside [g]; None if none does."""
        turning = np.searchsorted(np.sort(self.doses.turns_g), self.grid, side="right")
        enough = self.grid[turning >= share * len(self.served)]
        return float(enough[0]) if len(enough) else None

    def along(self, grams: Array, among: Mask | None = None) -> tuple[Array, Array]:
        """Shares of all homes that are served, and past the limit, if those `among` pour this.

        Parameters
        ----------
        grams : numpy.ndarray
            Sizes, shape (sizes,) [g].
        among : numpy.ndarray, optional
            Whether a home pours this, shape (homes,); all do if not given.

        Returns
        -------
        tuple of numpy.ndarray
            Both of shape (sizes,), 0 to 1.
        """
        chosen = np.ones(len(self.served), dtype=bool) if among is None else among
        served = self.served & chosen
        begun = np.searchsorted(np.sort(self.doses.turns_g[served]), grams, side="right")
        ended = np.searchsorted(np.sort(self.most_g[served]), grams, side="left")
        past = np.searchsorted(np.sort(self.doses.limit_g[chosen]), grams, side="left")
        return (begun - ended) / len(chosen), past / len(chosen)


def _round_sizes(doses: HomeDoses, count: int, least: float) -> Array:
    """Round grams from what the easiest homes need to what the hardest do, none below `least`."""
    needs = doses.turns_g[np.isfinite(doses.turns_g)]
    if not len(needs):
        needs = doses.limit_g[np.isfinite(doses.limit_g)]
    if not len(needs):
        raise ValueError("no amount of this activator turns a home; another wish or powder might")
    low, high = np.quantile(needs, (0.005, 0.995))
    low, high = max(low, least, 0.01), max(high, least, 0.02)
    return round_grams(np.geomspace(low, high, count))


def round_grams(grams: Array) -> Array:
    """Grams that a scale shows, each once: whole ones, tenths below five, hundredths below half."""
    steps = np.array([scale_step(float(mass)) for mass in grams])
    return np.unique(np.maximum(np.round(grams / steps) * steps, 0.01).round(2))
