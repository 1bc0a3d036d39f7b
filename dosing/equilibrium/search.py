"""The search for a state: Newton for all rows at once, and a slow, sure way for what is left."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from dosing.equilibrium import newton
from dosing.equilibrium.constants import LN10, Array
from dosing.equilibrium.newton import AMOUNT, Amounts, Mask, Problem, X, rows_of, with_amount

Rows = NDArray[np.intp]
HALVINGS = 50


def solved_state(problem: Problem) -> tuple[Array, Mask]:
    """Unknowns of each row that is electroneutral, and whether they were found.

    Parameters
    ----------
    problem : Problem
        System, constants and totals.

    Returns
    -------
    tuple of numpy.ndarray
        Unknowns as in `dosing.equilibrium.newton`, and a mask of shape (solutions,).
    """
    u, done = newton.iterate(problem, None, newton.first_guess(problem, None), fixed_x=False)

    def charge(rows: Rows, x: Array) -> tuple[Array, Array]:
        return _imbalance(rows_of(problem, rows), x)

    ends = (np.full(len(done), end) for end in (newton.LOWEST_X, newton.HIGHEST_X))
    rows, near = _halved(charge, np.flatnonzero(~done), *ends)
    if len(rows):
        part = rows_of(problem, rows)
        u[:, rows], done[rows] = newton.iterate(part, None, near, fixed_x=False)
    return u, done


def state_at_ph(problem: Problem, x: Array) -> tuple[Array, Mask]:
    """Unknowns of each row at a given ln a(H+), and whether its balances hold.

    Parameters
    ----------
    problem : Problem
        System, constants and totals.
    x : numpy.ndarray
        ln a(H+), shape (solutions,).

    Returns
    -------
    tuple of numpy.ndarray
        Unknowns, shape (metals + 3, solutions), and a mask of shape (solutions,).
    """
    guess = newton.first_guess(problem, x)
    return newton.iterate(problem, None, guess, fixed_x=True, steps=60)


def _imbalance(problem: Problem, x: Array) -> tuple[Array, Array]:
    """Charge [mol/kg] of each row at ln a(H+), and the unknowns there."""
    u, _ = state_at_ph(problem, x)
    return newton.evaluate(problem, u).charge, u


def _halved(
    charge: Callable[[Rows, Array], tuple[Array, Array]], rows: Rows, low: Array, high: Array
) -> tuple[Rows, Array]:
    """Those rows whose charge changes sign between two ends, and their unknowns by the root.

    Rows without a root between the ends leave at once.
    """
    if not len(rows):
        return rows, np.empty((0, 0))
    low, high = low[rows], high[rows]
    side, other = np.sign(charge(rows, low)[0]), np.sign(charge(rows, high)[0])
    has_root = side != other
    rows, low, high, side = rows[has_root], low[has_root], high[has_root], side[has_root]
    u = np.empty((0, 0))
    for _ in range(HALVINGS if len(rows) else 0):
        middle = 0.5 * (low + high)
        here, u = charge(rows, middle)
        beyond = np.sign(here) != side
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    return rows, u


def state_with_amount(
    problem: Problem, addition: Amounts, x: Array, most: Array
) -> tuple[Array, Mask, Mask, Array]:
    """Unknowns of each row at ln a(H+) with the amount of the addition that leads there.

    Where no amount up to the greatest leads there, the unknowns are those without any.

    Parameters
    ----------
    problem : Problem
        System, constants and totals without the addition.
    addition : Amounts
        What a unit of the addition brings.
    x, most : numpy.ndarray
        ln a(H+), and the greatest amount, shape (solutions,).

    Returns
    -------
    tuple of numpy.ndarray
        Unknowns, shape (metals + 3, solutions); and of shape (solutions,): whether they are
        balanced, whether an amount leads there, and else the nearest pH that an amount gives.
    """
    u, _ = newton.iterate(problem, None, newton.first_guess(problem, x), fixed_x=True)
    u[AMOUNT] += 1e-3 * most
    # The metals of a component that only the addition brings start from what it brings.
    brought = with_amount(problem, addition, u[AMOUNT]).held.metal
    u[: len(brought)] = np.maximum(u[: len(brought)], np.log(brought) - 3.0)
    u, done = newton.iterate(problem, addition, u, fixed_x=True)
    reached = done & (u[AMOUNT] <= most)
    unsure = ~reached | (u[AMOUNT] <= 0)

    def charge(rows: Rows, amount: Array) -> tuple[Array, Array]:
        mixed = with_amount(rows_of(problem, rows), rows_of(addition, rows), amount)
        here, state = _imbalance(mixed, x[rows])
        state[AMOUNT] = amount
        return here, state

    reached[unsure] = False
    rows, near = _halved(charge, np.flatnonzero(unsure), np.zeros_like(most), most)
    if len(rows):
        part, brings = rows_of(problem, rows), rows_of(addition, rows)
        u[:, rows], done = newton.iterate(part, brings, near, fixed_x=True)
        reached[rows] = done & (u[AMOUNT, rows] <= most[rows])
    done, limiting = reached.copy(), np.full(len(most), np.nan)
    missed = np.flatnonzero(~reached)
    if len(missed):
        part, wished = rows_of(problem, missed), x[missed]
        u[:, missed], done[missed] = solved_state(part)
        most_of_it = with_amount(part, rows_of(addition, missed), most[missed])
        bare, full = u[X, missed], solved_state(most_of_it)[0][X]
        nearer = np.where(np.abs(bare - wished) <= np.abs(full - wished), bare, full)
        limiting[missed] = -nearer / LN10
    return u, done, reached, limiting
