"""The search for a state: Newton for all rows at once, and a slow, sure way for what is left."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from dosing.equilibrium import newton
from dosing.equilibrium.constants import Array
from dosing.equilibrium.newton import AMOUNT, Amounts, Layout, Problem, rows_of

Rows = NDArray[np.intp]
HALVINGS = 50


def solved_state(layout: Layout, problem: Problem) -> tuple[Array, newton.Mask]:
    """Unknowns of each row that is electroneutral, and whether they were found.

    Parameters
    ----------
    layout, problem : Layout, Problem
        The system and its totals.

    Returns
    -------
    tuple of numpy.ndarray
        Unknowns as in `dosing.equilibrium.newton`, and a mask of shape (solutions,).
    """
    guess = newton.first_guess(layout, problem, None)
    u, done = newton.iterate(layout, problem, None, guess, fixed_x=False)
    stuck = np.flatnonzero(~done)
    if len(stuck):

        def charge(rows: Rows, x: Array) -> tuple[Array, Array]:
            return _imbalance(layout, rows_of(problem, stuck[rows]), x)

        ends = (np.full(len(stuck), end) for end in (newton.LOWEST_X, newton.HIGHEST_X))
        rows, near = _halved(charge, *ends)
        part = rows_of(problem, stuck[rows])
        u[:, stuck[rows]], done[stuck[rows]] = newton.iterate(
            layout, part, None, near, fixed_x=False
        )
    return u, done


def state_at_ph(layout: Layout, problem: Problem, x: Array) -> tuple[Array, newton.Mask]:
    """Unknowns of each row at a given ln a(H+), and whether its balances hold.

    Parameters
    ----------
    layout, problem : Layout, Problem
        The system and its totals.
    x : numpy.ndarray
        ln a(H+), shape (solutions,).

    Returns
    -------
    tuple of numpy.ndarray
        Unknowns, shape (metals + 3, solutions), and a mask of shape (solutions,).
    """
    guess = newton.first_guess(layout, problem, x)
    return newton.iterate(layout, problem, None, guess, fixed_x=True, steps=60)


def _imbalance(layout: Layout, problem: Problem, x: Array) -> tuple[Array, Array]:
    """Charge [mol/kg] of each row at ln a(H+), and the unknowns there."""
    u, _ = state_at_ph(layout, problem, x)
    return newton.evaluate(layout, problem, u).charge, u


def _halved(
    charge: Callable[[Rows, Array], tuple[Array, Array]], low: Array, high: Array
) -> tuple[Rows, Array]:
    """Rows whose charge changes sign between two ends, and their unknowns next to the root.

    Rows without a root between the ends leave at once.
    """
    every = np.arange(len(low))
    at_low, at_high = np.sign(charge(every, low)[0]), np.sign(charge(every, high)[0])
    rows = np.flatnonzero(at_low != at_high)
    low, high, side = low[rows], high[rows], at_low[rows]
    u = np.empty((0, 0))
    for _ in range(HALVINGS if len(rows) else 0):
        middle = 0.5 * (low + high)
        here, u = charge(rows, middle)
        beyond = np.sign(here) != side
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    return rows, u


def state_with_amount(
    layout: Layout, problem: Problem, addition: Amounts, x: Array, most: Array
) -> tuple[Array, newton.Mask]:
    """Unknowns of each row at ln a(H+) with the amount of the addition that leads there.

    Parameters
    ----------
    layout, problem : Layout, Problem
        The system and its totals.
    addition : Amounts
        What a unit of the addition brings.
    x, most : numpy.ndarray
        ln a(H+), and the greatest amount, shape (solutions,).

    Returns
    -------
    tuple of numpy.ndarray
        Unknowns, shape (metals + 3, solutions), and a mask of shape (solutions,); false where no
        amount up to ``most`` leads there.
    """
    u, _ = newton.iterate(
        layout, problem, None, newton.first_guess(layout, problem, x), fixed_x=True
    )
    u[AMOUNT] += 1e-3 * most
    # The metals of a component that only the addition brings start from what it brings.
    metals = len(layout.system.metals)
    brought = newton.with_amount(problem, addition, u[AMOUNT])
    u[:metals] = np.maximum(u[:metals], np.log(brought.held.metal) - 3.0)
    u, done = newton.iterate(layout, problem, addition, u, fixed_x=True)
    reached = done & (u[AMOUNT] <= most)
    unsure = np.flatnonzero(~reached | (u[AMOUNT] <= 0))
    if not len(unsure):
        return u, reached

    def charge(rows: Rows, amount: Array) -> tuple[Array, Array]:
        of = unsure[rows]
        mixed = newton.with_amount(rows_of(problem, of), rows_of(addition, of), amount)
        here, found = _imbalance(layout, mixed, x[of])
        found[AMOUNT] = amount
        return here, found

    reached[unsure] = False
    rows, near = _halved(charge, np.zeros(len(unsure)), most[unsure])
    if len(rows):
        of = unsure[rows]
        u[:, of], done = newton.iterate(
            layout, rows_of(problem, of), rows_of(addition, of), near, fixed_x=True
        )
        reached[of] = done & (u[AMOUNT, of] <= most[of])
    return u, reached
