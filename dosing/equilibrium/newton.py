"""Newton's method on many solutions at once: the arithmetic behind `dosing.equilibrium.solve`.

Unknowns per solution: x = ln a(H+) (or, at a given pH, the amount of an addition), y = ln of each
free metal, and the ionic strength I. Ligands are not unknowns: at given x, y and I the share of
every form is explicit, so each ligand's total is kept exactly. Arrays are (rows of the system,
solutions), so that the work is a few matrix products and one exponential per step.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from dosing.equilibrium.activity import (
    ActivityModel,
    IonRow,
    ion_rows,
    ln_gamma_excess,
    ln_gamma_unit,
)
from dosing.equilibrium.constants import Array
from dosing.equilibrium.species import System, system_of

Mask = NDArray[np.bool_]

LOWEST_X, HIGHEST_X = -40.0, 6.0
"""ln a(H+) between pH 17 and pH -2.6: no solution within the limits of the totals is outside."""
TOTAL_FLOOR = 1e-200
"""Stands for a metal that is absent, so that its logarithm stays finite."""
BALANCE_TOLERANCE = 2e-11
"""Relative; five times closer than the balances that are promised."""
START_HALVINGS = 6
NEWTON_STEPS = 30


@dataclass(frozen=True)
class Problem:
    """Totals and constants of a batch of solutions; the last axis counts solutions."""

    ln_k: Array
    """ln of each species' constant, shape (species, solutions)."""
    slope: Array
    """Debye–Hückel slope, shape (solutions,)."""
    size: Array
    """Debye–Hückel size factor [per angstrom], shape (solutions,)."""
    ligand: Array
    """Totals of the ligands [mol/kg], shape (ligands, solutions)."""
    metal: Array
    """Totals of the metals [mol/kg], shape (metals, solutions)."""
    strong_charge: Array
    """Charge of all metals and inert ions [mol/kg], shape (solutions,)."""
    inert_strength: Array
    """Ionic strength of the inert ions [mol/kg], shape (solutions,)."""

    def take(self, rows: NDArray[np.intp] | Mask) -> Problem:
        """The problem of some of the solutions."""
        return replace(self, **{f.name: getattr(self, f.name)[..., rows] for f in fields(self)})


@dataclass(frozen=True)
class Addition:
    """What one unit of an addition adds to each solution; the last axis counts solutions."""

    ligand: Array
    metal: Array
    strong_charge: Array
    inert_strength: Array

    def take(self, rows: NDArray[np.intp] | Mask) -> Addition:
        """The addition to some of the solutions."""
        return replace(self, **{f.name: getattr(self, f.name)[..., rows] for f in fields(self)})

    def added_to(self, problem: Problem, amount: Array) -> Problem:
        """The problem after ``amount`` units of the addition."""
        return replace(
            problem,
            ligand=problem.ligand + amount * self.ligand,
            metal=problem.metal + amount * self.metal,
            strong_charge=problem.strong_charge + amount * self.strong_charge,
            inert_strength=problem.inert_strength + amount * self.inert_strength,
        )


@dataclass
class State:
    """Unknowns of a batch of solutions."""

    x: Array
    """ln a(H+), shape (solutions,)."""
    y: Array
    """ln of the free metals' molalities, plus their ln γ beyond z² f, shape (metals, solutions)."""
    strength: Array
    """Ionic strength [mol/kg], shape (solutions,)."""
    amount: Array
    """Units of the addition, shape (solutions,); zero where there is none."""

    def take(self, rows: NDArray[np.intp] | Mask) -> State:
        """The unknowns of some of the solutions."""
        return State(self.x[rows], self.y[:, rows], self.strength[rows], self.amount[rows])

    def put(self, rows: NDArray[np.intp], other: State) -> None:
        """Write the unknowns of some of the solutions back."""
        self.x[rows], self.y[:, rows] = other.x, other.y
        self.strength[rows], self.amount[rows] = other.strength, other.amount


@dataclass(frozen=True)
class Layout:
    """Which sums over species a Newton step needs, as matrices; made once per system.

    A feature is a number per species: protons n, membership in each metal, z²/2, and the power of
    the activity coefficient k. Equations use (n, metals, z²/2), variables use (n, metals, k).
    """

    system: System
    features: Array
    """Shape (features, species): n, metals..., z²/2, k."""
    variables: Array
    """Columns n, metals, k: exponents of the unknowns in each species, shape (species, vars)."""
    places: NDArray[np.intp]
    """Row of `pair_weights` for each (equation, variable), shape (equations, variables)."""
    pairs: tuple[tuple[int, int], ...]
    """Pairs (equation feature, variable feature) whose second moment is needed."""
    pair_weights: Array
    """Products of the two features, shape (pairs, species)."""
    mean_rows: tuple[tuple[int, int], ...]
    """(ligand, feature) for which the ligand's mean is not identically zero."""
    mean_weights: Array
    """Shape (mean_rows, bound species)."""
    membership: Array
    """One where a bound species belongs to the ligand, shape (ligands, bound species)."""
    ions: tuple[tuple[int, int, IonRow], ...]
    """(metal, its free species, its own activity equation) where a metal has one."""
    corrections: tuple[tuple[int, int, int, int], ...]
    """(pair, ligand, mean row a, mean row b): products of means to take off the second moments."""


@cache
def layout_of(components: tuple[str, ...], gas: bool) -> Layout:
    """The layout of a system, made on first use."""
    return _make_layout(system_of(components, gas))


def _make_layout(system: System) -> Layout:
    metals = len(system.metals)
    half_square, power = 1 + metals, 2 + metals
    features = np.vstack(
        [system.protons, system.in_metal.T, 0.5 * system.charge**2, system.gamma_power]
    )
    equations = list(range(half_square + 1))
    variable_features = [*range(1 + metals), power]
    # The second moment of two features is the same whichever comes first.
    ordered = [[(min(a, b), max(a, b)) for b in variable_features] for a in equations]
    pairs = tuple(dict.fromkeys(pair for row in ordered for pair in row))
    mean_rows, mean_weights = [], []
    bound = features[:, system.free_count :]
    for ligand in range(len(system.ligands)):
        members = system.group_of == ligand
        for feature in range(len(features)):
            if np.any(bound[feature, members]):
                mean_rows.append((ligand, feature))
                mean_weights.append(np.where(members, bound[feature], 0.0))
    place = {key: row for row, key in enumerate(mean_rows)}
    corrections = tuple(
        (pair, ligand, place[ligand, a], place[ligand, b])
        for pair, (a, b) in enumerate(pairs)
        for ligand in range(len(system.ligands))
        if (ligand, a) in place and (ligand, b) in place
    )
    return Layout(
        system=system,
        features=features,
        variables=np.ascontiguousarray(features[variable_features].T),
        places=np.array([[pairs.index(pair) for pair in row] for row in ordered]),
        pairs=pairs,
        pair_weights=np.array([features[a] * features[b] for a, b in pairs]),
        mean_rows=tuple(mean_rows),
        mean_weights=np.array(mean_weights).reshape(len(mean_rows), bound.shape[1]),
        membership=np.array(
            [system.group_of == ligand for ligand in range(len(system.ligands))], dtype=np.float64
        ).reshape(len(system.ligands), bound.shape[1]),
        ions=tuple(
            (metal, _free_species(system, metal), row)
            for metal, row in enumerate(ion_rows(system.metals))
            if row is not None
        ),
        corrections=corrections,
    )


def _free_species(system: System, metal: int) -> int:
    """Place of the free metal among the species."""
    name = system.metals[metal]
    return next(
        place
        for place, species in enumerate(system.species)
        if species.metal == name and not species.ligand and species.protons == 0
    )


@dataclass(frozen=True)
class Speciation:
    """Molalities at one guess of the unknowns."""

    molality: Array
    """Shape (species, solutions) [mol/kg]."""
    shares: Array
    """Share of each bound species in its ligand, shape (bound, solutions)."""
    strength_derivative: Array
    """d ln γ₁ / dI, shape (solutions,)."""
    excess_derivative: list[tuple[int, int, Array]]
    """(metal, its free species, d ln γ beyond z² f / dI)."""


def speciate(layout: Layout, problem: Problem, state: State, model: ActivityModel) -> Speciation:
    """Molality of every species at the given unknowns, each ligand's total kept exactly."""
    system = layout.system
    ln_gamma, derivative = ln_gamma_unit(model, state.strength, problem.slope)
    unknowns = np.vstack([state.x[None], state.y, ln_gamma[None]])
    exponent = layout.variables @ unknowns
    exponent += problem.ln_k
    excess_derivative = []
    if model.ion_specific:
        for metal, place, row in layout.ions:
            excess, change = ln_gamma_excess(
                row,
                float(system.metal_charge[metal]),
                (ln_gamma, derivative),
                state.strength,
                problem.slope,
                problem.size,
            )
            exponent[place] -= excess
            excess_derivative.append((metal, place, change))
    molality = np.exp(exponent, out=exponent)
    free = system.free_count
    shares = molality[free:]
    if len(system.ligands):
        sums = layout.membership @ shares
        np.divide(shares, sums[system.group_of], out=shares)
        shares = shares.copy()
        molality[free:] *= problem.ligand[system.group_of]
    return Speciation(molality, shares, derivative, excess_derivative)


def _residuals(
    layout: Layout, problem: Problem, state: State, spec: Speciation, means: Array
) -> tuple[Array, Array, Array, Array]:
    """Charge [mol/kg], ln of metal totals over wanted, strength [mol/kg]; and metal totals."""
    system = layout.system
    free, metals = system.free_count, len(system.metals)
    sums = layout.features[: metals + 2] @ spec.molality
    charge = problem.strong_charge + system.protons[:free] @ spec.molality[:free]
    for row, (ligand, feature) in enumerate(layout.mean_rows):
        if feature == 0:
            charge = charge + problem.ligand[ligand] * means[row]
    charge = charge + system.ligand_charge @ problem.ligand
    totals = sums[1 : 1 + metals]
    log_ratio = np.log(totals / np.maximum(problem.metal, TOTAL_FLOOR))
    strength = sums[1 + metals] + problem.inert_strength - state.strength
    return charge, log_ratio, strength, totals


def _jacobian(layout: Layout, problem: Problem, spec: Speciation, means: Array) -> Array:
    """Derivatives of (charge, metals, strength) by (x, metals, ln γ₁), shape (eq, var, rows)."""
    moments = layout.pair_weights @ spec.molality
    for pair, ligand, a, b in layout.corrections:
        moments[pair] -= problem.ligand[ligand] * (means[a] * means[b])
    return np.asarray(moments[layout.places])


def _eliminate(matrix: Array, right: Array) -> Array:
    """Solve small dense systems, one per column; matrix (n, n, rows), right (n, rows).

    No pivoting: the leading block is a covariance matrix plus free species, so it is positive.
    """
    size = len(right)
    for i in range(size - 1):
        factor = matrix[i + 1 :, i] / matrix[i, i]
        matrix[i + 1 :, i + 1 :] -= factor[:, None] * matrix[i, i + 1 :][None]
        right[i + 1 :] -= factor * right[i]
    for i in range(size - 1, -1, -1):
        for j in range(i + 1, size):
            right[i] -= matrix[i, j] * right[j]
        right[i] /= matrix[i, i]
    return right


def newton_step(
    layout: Layout,
    problem: Problem,
    addition: Addition | None,
    state: State,
    model: ActivityModel,
    *,
    fixed_x: bool,
) -> tuple[State, Mask]:
    """One step for every solution, and which of them were already balanced before it.

    With ``fixed_x`` the pH stays; then the amount of the addition closes the charge, or, without
    an addition, the charge stays open.
    """
    system = layout.system
    metals = len(system.metals)
    wanted = problem if addition is None else addition.added_to(problem, state.amount)
    spec = speciate(layout, wanted, state, model)
    means = layout.mean_weights @ spec.shares
    charge, log_ratio, strength, totals = _residuals(layout, wanted, state, spec, means)
    jacobian = _jacobian(layout, wanted, spec, means)
    strength_column = jacobian[:, -1] * spec.strength_derivative
    strength_column[-1] -= 1.0
    for metal, place, change in spec.excess_derivative:
        lost = spec.molality[place] * change
        strength_column[1 + metal] -= lost
        strength_column[-1] -= 0.5 * system.metal_charge[metal] ** 2 * lost

    order = [*range(1, 1 + metals)] + ([] if fixed_x and addition is None else [0]) + [metals + 1]
    matrix = np.empty((len(order), len(order), len(charge)))
    for column, variable in enumerate(order[:-1]):
        matrix[:, column] = jacobian[order, variable]
    if addition is not None:
        matrix[:, -2] = _addition_column(layout, addition, means, totals, wanted)[order]
    matrix[:, -1] = strength_column[order]
    rows = np.vstack([charge[None], log_ratio * totals, strength[None]])
    step = _eliminate(matrix, -rows[order])

    charge_scale = np.abs(system.charge) @ spec.molality + np.abs(wanted.strong_charge)
    balanced = np.abs(strength) <= 1e-9 * np.maximum(state.strength, 1e-9)
    if metals:
        balanced &= np.all(np.abs(log_ratio) <= BALANCE_TOLERANCE, axis=0)
    if not (fixed_x and addition is None):
        balanced &= np.abs(charge) <= BALANCE_TOLERANCE * charge_scale
    return _moved(state, step, metals, fixed_x, addition is not None), balanced


def _addition_column(
    layout: Layout, addition: Addition, means: Array, totals: Array, wanted: Problem
) -> Array:
    """Derivative of the residuals by the amount added, rows (charge, metals, strength)."""
    system = layout.system
    metals = len(system.metals)
    column = np.zeros((metals + 2, totals.shape[1] if metals else len(addition.strong_charge)))
    column[0] = addition.strong_charge + system.ligand_charge @ addition.ligand
    column[-1] = addition.inert_strength
    for row, (ligand, feature) in enumerate(layout.mean_rows):
        if feature < metals + 2:
            column[feature] += addition.ligand[ligand] * means[row]
    if metals:
        # The wanted total moves too; in the logarithmic residual it counts as a share.
        column[1 : 1 + metals] -= addition.metal * totals / np.maximum(wanted.metal, TOTAL_FLOOR)
    return column


def _moved(state: State, step: Array, metals: int, fixed_x: bool, amount: bool) -> State:
    """The state after a step, kept within what one linearisation can be trusted for."""
    y = state.y + np.clip(step[:metals], -4.0, 4.0)
    strength = np.clip(state.strength + step[-1], 0.2 * state.strength, 5.0 * state.strength)
    x, added = state.x, state.amount
    if amount:
        added = np.maximum(added + step[metals], 0.0)
    elif not fixed_x:
        x = np.clip(x + np.clip(step[metals], -2.3, 2.3), LOWEST_X, HIGHEST_X)
    return State(x, y, strength, added)


def first_guess(layout: Layout, problem: Problem, model: ActivityModel, x: Array | None) -> State:
    """A state within about a quarter of a pH unit, by halving with fixed activity coefficients.

    Parameters
    ----------
    x : numpy.ndarray or None
        ln a(H+) if it is given; then only the metals and the ionic strength are guessed.
    """
    system = layout.system
    metals = len(system.metals)
    y = np.log(np.maximum(problem.metal, TOTAL_FLOOR))
    strength = (
        problem.inert_strength
        + 0.5 * system.metal_charge**2 @ problem.metal
        + 0.5 * problem.ligand.sum(axis=0)
        + 1e-7
    )
    if x is not None:
        # At a given pH the acid or base itself can be most of the ionic strength.
        water = problem.ln_k[system.species_index["OH-"]]
        strength = strength + 0.5 * (np.exp(x) + np.exp(water - x))
    ln_gamma, _ = ln_gamma_unit(model, strength, problem.slope)
    unknowns = np.vstack([y, ln_gamma[None]])
    base = np.exp(problem.ln_k + layout.variables[:, 1:] @ unknowns)
    if x is None:
        x = _halved(layout, problem, base)
    if metals:
        y = _metal_sweep(layout, problem, State(x, y, strength, np.zeros_like(x)), model)
    return State(x.copy(), y, strength, np.zeros_like(x))


def _halved(layout: Layout, problem: Problem, base: Array) -> Array:
    system = layout.system
    free = system.free_count
    protons = system.protons.astype(int)
    lowest = protons.min()
    powers = np.arange(lowest, protons.max() + 1)
    place = protons - lowest
    holding = layout.membership * system.protons[free:]
    fixed = problem.strong_charge + system.ligand_charge @ problem.ligand
    low = np.full(len(fixed), LOWEST_X)
    high = np.full(len(fixed), HIGHEST_X)
    for _ in range(START_HALVINGS):
        middle = 0.5 * (low + high)
        activity = np.exp(powers[:, None] * middle)
        terms = base * activity[place]
        charge = fixed + system.protons[:free] @ terms[:free]
        if len(system.ligands):
            mean = (holding @ terms[free:]) / (layout.membership @ terms[free:])
            charge += np.sum(problem.ligand * mean, axis=0)
        too_acid = charge > 0
        high = np.where(too_acid, middle, high)
        low = np.where(too_acid, low, middle)
    return np.asarray(0.5 * (low + high))


def _metal_sweep(layout: Layout, problem: Problem, state: State, model: ActivityModel) -> Array:
    """Free metals from the complexes at the present guess; halfway in the logarithm."""
    spec = speciate(layout, problem, state, model)
    totals = layout.system.in_metal.T @ spec.molality
    correction = np.log(np.maximum(problem.metal, TOTAL_FLOOR) / totals)
    return np.asarray(state.y + np.clip(correction, -3.0, 3.0))


def iterate(
    layout: Layout,
    problem: Problem,
    addition: Addition | None,
    state: State,
    model: ActivityModel,
    *,
    fixed_x: bool,
    steps: int = NEWTON_STEPS,
) -> tuple[State, Mask]:
    """Newton steps until every solution is balanced or the steps run out.

    Balanced solutions are set aside so that a few slow ones do not hold up the batch.
    """
    count = len(state.x)
    done = np.zeros(count, dtype=bool)
    rows = np.arange(count)
    now, part, extra = state, problem, addition
    for _ in range(steps):
        moved, balanced = newton_step(layout, part, extra, now, model, fixed_x=fixed_x)
        if balanced.any():
            finished = rows[balanced]
            # One more step was computed anyway and only sharpens the balances.
            state.put(finished, moved.take(balanced))
            done[finished] = True
            keep = np.flatnonzero(~balanced)
            if not len(keep):
                return state, done
            if len(keep) < 0.7 * len(rows) or balanced.all():
                rows, moved, part = rows[keep], moved.take(keep), part.take(keep)
                extra = None if extra is None else extra.take(keep)
        now = moved
    unfinished = ~done[rows]
    state.put(rows[unfinished], now.take(unfinished))
    return state, done
