"""Numbers of a fit by their names, each counted in standard deviations of what is expected."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.colourants import Colourant
from indicator.spread import height_sd

Array = NDArray[np.float64]
Name = tuple[str, str, int]
"""What a number is, of which colourant or of none, and of which of its forms."""


def plain(what: str) -> Name:
    """Name of a number that belongs to no form of a colourant."""
    return what, "", -1


def felt_constants(which: Colourant, low: float, high: float) -> list[int]:
    """Places of the forms whose constants lie between two pH values.

    Parameters
    ----------
    which : Colourant
        Whose.
    low, high : float
        Ends [pH].

    Returns
    -------
    list of int
        Indices on the axis of forms.
    """
    forms = enumerate(which.forms)
    return [
        k for k, form in forms if form.pka is not None and form.pka_sd and low <= form.pka <= high
    ]


def pigment_numbers(which: Colourant, constants: list[int], least: ArrayLike) -> dict[Name, float]:
    """Constants and heights of a colourant that a fit may move, with their spreads.

    Parameters
    ----------
    which : Colourant
        Whose.
    constants : list of int
        Places of the forms whose constants are felt.
    least : array_like
        Whether the height of each form is felt, shape (forms,).

    Returns
    -------
    dict of Name to float
        Standard deviations: of a constant [pH], of the logarithm of a height.
    """
    heights = height_sd(which)
    told = np.flatnonzero((heights > 0) & np.asarray(least, dtype=bool))
    numbers = {("pka", which.name, k): which.forms[k].pka_sd or 0.0 for k in constants}
    return numbers | {("height", which.name, int(k)): float(heights[k]) for k in told}


class NamedNumbers:
    """Numbers that count in standard deviations, the last axis of an array."""

    def __init__(self, spreads: Mapping[Name, float]) -> None:
        self.names, self.prior_sd = tuple(spreads), np.array(list(spreads.values()))
        self.index = {name: column for column, name in enumerate(self.names)}

    def move(self, numbers: Array, what: str, whose: str = "", place: int = -1) -> Array:
        """By how much a number differs from the expected one, in its own unit.

        Parameters
        ----------
        numbers : numpy.ndarray
            Shape (..., numbers).
        what, whose : str
            Of its name.
        place : int
            Of the form.

        Returns
        -------
        numpy.ndarray
            Shape (...); 0 where there is no such number.
        """
        column = self.index.get((what, whose, place))
        if column is None:
            return np.zeros(numbers.shape[:-1])
        return np.asarray(self.prior_sd[column] * numbers[..., column])

    def pigment(
        self, which: Colourant, numbers: Array, expected: ArrayLike | None = None
    ) -> tuple[Array, Array]:
        """Constants of a colourant, and factors on the spectra of its forms.

        Parameters
        ----------
        which : Colourant
            Whose.
        numbers : numpy.ndarray
            Shape (..., numbers).
        expected : array_like, optional
            Apparent constants that the numbers move, shape (forms,); its own if not given.

        Returns
        -------
        tuple of numpy.ndarray
            Both of shape (..., forms).
        """
        moves = {
            what: np.stack(
                [self.move(numbers, what, which.name, k) for k in range(len(which.forms))], axis=-1
            )
            for what in ("pka", "height")
        }
        base = which.pka if expected is None else np.asarray(expected)
        return base + moves["pka"], np.exp(moves["height"])
