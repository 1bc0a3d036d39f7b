"""The search for a state: Newton for all rows at once, and a slow, sure way for what is left."""

from __future__ import annotations

import numpy as np

from dosing.equilibrium import newton
from dosing.equilibrium.activity import ActivityModel
from dosing.equilibrium.constants import Array
from dosing.equilibrium.newton import Addition, Layout, Problem, State


def solved_state(
    layout: Layout, problem: Problem, model: ActivityModel
) -> tuple[State, newton.Mask]:
    """The state of each row that is electroneutral, and whether it was found."""
    state = newton.first_guess(layout, problem, model, None)
    state, done = newton.iterate(layout, problem, None, state, model, fixed_x=False)
    stuck = np.flatnonzero(~done)
    if len(stuck):
        part, found = _bracketed(layout, problem.take(stuck), model)
        state.put(stuck, part)
        done[stuck] = found
    return state, done


def state_at_ph(
    layout: Layout, problem: Problem, model: ActivityModel, x: Array
) -> tuple[State, newton.Mask]:
    """The state of each row at a given ln a(H+), and whether its balances hold."""
    state = newton.first_guess(layout, problem, model, x)
    return newton.iterate(layout, problem, None, state, model, fixed_x=True, steps=60)


def _charge(layout: Layout, problem: Problem, state: State, model: ActivityModel) -> Array:
    spec = newton.speciate(layout, problem, state, model)
    system = layout.system
    inert = problem.strong_charge - system.metal_charge @ problem.metal
    return np.asarray(system.charge @ spec.molality + inert)


def _bracketed(
    layout: Layout, problem: Problem, model: ActivityModel, halvings: int = 48
) -> tuple[State, newton.Mask]:
    """The slow, sure way: halve the pH interval, balancing the metals at each trial pH."""
    low = np.full(len(problem.slope), newton.LOWEST_X)
    high = np.full(len(problem.slope), newton.HIGHEST_X)
    for _ in range(halvings):
        middle = 0.5 * (low + high)
        state, _ = state_at_ph(layout, problem, model, middle)
        too_acid = _charge(layout, problem, state, model) > 0
        high = np.where(too_acid, middle, high)
        low = np.where(too_acid, low, middle)
    return newton.iterate(layout, problem, None, state, model, fixed_x=False)


def state_with_amount(
    layout: Layout,
    problem: Problem,
    addition: Addition,
    model: ActivityModel,
    x: Array,
    most: Array,
) -> tuple[State, newton.Mask]:
    """The state of each row at ln a(H+) with the amount of the addition that leads there.

    Reached is false where no amount up to `most` does.
    """
    state = newton.first_guess(layout, problem, model, x)
    bare, _ = newton.iterate(layout, problem, None, state, model, fixed_x=True)
    state = State(bare.x, bare.y.copy(), bare.strength.copy(), bare.amount.copy())
    state.amount += 1e-3 * most
    # The metals of a component that only the addition brings start from what it brings.
    brought = addition.added_to(problem, state.amount)
    state.y = np.maximum(state.y, np.log(np.maximum(brought.metal, newton.TOTAL_FLOOR)) - 3.0)
    state, done = newton.iterate(layout, problem, addition, state, model, fixed_x=True)
    reached = done & (state.amount <= most)
    unsure = np.flatnonzero(~reached | (state.amount <= 0))
    if len(unsure):
        part, found = _bracketed_amount(
            layout, problem.take(unsure), addition.take(unsure), model, x[unsure], most[unsure]
        )
        state.put(unsure, part)
        reached[unsure] = found
    return state, reached


def _bracketed_amount(
    layout: Layout,
    problem: Problem,
    addition: Addition,
    model: ActivityModel,
    x: Array,
    most: Array,
) -> tuple[State, newton.Mask]:
    """Halve the interval of amounts; reached only if its two ends lie on either side."""

    def imbalance(amount: Array) -> tuple[Array, State]:
        mixed = addition.added_to(problem, amount)
        state, _ = state_at_ph(layout, mixed, model, x)
        state.amount = amount
        return _charge(layout, mixed, state, model), state

    at_none, state = imbalance(np.zeros_like(most))
    at_most, _ = imbalance(most)
    low, high = np.zeros_like(most), most.copy()
    reached = (at_none == 0) | (np.sign(at_none) != np.sign(at_most))
    for _ in range(50):
        middle = 0.5 * (low + high)
        here, state = imbalance(middle)
        beyond = np.sign(here) != np.sign(at_none)
        high = np.where(beyond, middle, high)
        low = np.where(beyond, low, middle)
    state, done = newton.iterate(layout, problem, addition, state, model, fixed_x=True)
    return state, reached & done & (state.amount <= most)
