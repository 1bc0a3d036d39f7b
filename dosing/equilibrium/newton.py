"""Newton's method on many solutions at once: the arithmetic behind `dosing.equilibrium.solve`.

The unknowns of a batch are one array ``u``, a column per solution. Its rows are y = ln of each free
metal's molality (plus its ln γ beyond z² f), x = ln a(H+), the ionic strength I [mol/kg] and the
amount of an addition. Ligands are not unknowns: at given x, y and I the share of every form is
explicit, so each ligand's total is kept exactly. At a given pH the amount is sought in place of x.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from threading import local
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from dosing.equilibrium.activity import Activity, activity_coefficients
from dosing.equilibrium.constants import Array
from dosing.equilibrium.layout import Layout

Mask = NDArray[np.bool_]
Rows = NDArray[np.intp] | Mask

LOWEST_X, HIGHEST_X = -40.0, 6.0
"""ln a(H+) between pH 17 and pH -2.6: no solution within the limits of the totals is outside."""
TOTAL_FLOOR = 1e-200
"""Stands for a component that is absent, so that its logarithm and its shares stay finite."""
BALANCE_TOLERANCE = 3e-13
"""Relative; three hundred times closer than the balances that are promised."""
STRENGTH_TOLERANCE = 1e-10
START_HALVINGS = 6
NEWTON_STEPS = 30
WORTH_SETTING_ASIDE = 0.3
"""Share of a batch that is balanced before its arrays are copied without these solutions."""
X, STRENGTH, AMOUNT = -3, -2, -1
"""Rows of the unknowns behind the metals."""


_own = local()


def _scratch(name: str, *shape: int) -> Array:
    """Memory that each thread uses again and again; fresh memory costs more than the sums."""
    kept = vars(_own).get(name)
    size = math.prod(shape)
    if kept is None or kept.size < size:
        kept = np.empty(size)
        setattr(_own, name, kept)
    return np.asarray(kept[:size].reshape(shape))


@dataclass(frozen=True)
class Amounts:
    """Totals and charges of solutions, or of a unit of an addition; last axis: solutions."""

    ligand: Array
    """Totals of the ligands [mol/kg], shape (ligands, solutions)."""
    metal: Array
    """Totals of the metals [mol/kg], shape (metals, solutions)."""
    strong_charge: Array
    """Charge of all metals, inert ions and base forms of ligands [mol/kg], shape (solutions,)."""
    inert_size: Array
    """Charge of the inert ions without regard to sign [mol/kg], shape (solutions,)."""
    inert_strength: Array
    """Ionic strength of the inert ions [mol/kg], shape (solutions,)."""


@dataclass(frozen=True)
class Problem:
    """A batch of solutions: their system, its constants and their totals."""

    layout: Layout
    ln_k: Array
    """ln of each species' constant, shape (species, solutions)."""
    slope: Array
    """Debye–Hückel slope, shape (solutions,)."""
    size: Array
    """Debye–Hückel size factor [per angstrom], shape (solutions,)."""
    held: Amounts
    """Absent components at `TOTAL_FLOOR`."""


@dataclass(frozen=True)
class Trial:
    """The balances of a batch at one guess of its unknowns."""

    molality: Array
    """[mol/kg], shape (species, solutions)."""
    activity: Activity
    metal: Array
    """Sum over the species of each metal [mol/kg], shape (metals, solutions)."""
    log_ratio: Array
    """ln of `metal` over the wanted totals."""
    charge: Array
    """[mol/kg], shape (solutions,)."""
    strength: Array
    """Ionic strength of the species less the one assumed [mol/kg], shape (solutions,)."""
    size: Array
    """Sum of charges without regard to sign [mol/kg], shape (solutions,)."""


Batch = TypeVar("Batch", bound=Amounts | Problem | Trial | Activity)


def rows_of(batch: Batch, rows: Rows) -> Batch:
    """Some of the solutions of a batch.

    Parameters
    ----------
    batch : Amounts, Problem, Trial or Activity
        Arrays whose last axis counts solutions.
    rows : numpy.ndarray
        Places or a mask.

    Returns
    -------
    Amounts, Problem, Trial or Activity
        Copies of the arrays at these solutions.
    """
    parts: dict[str, Any] = dict(vars(batch))
    for name, part in parts.items():
        if isinstance(part, np.ndarray):
            parts[name] = part[..., rows]
        elif isinstance(part, Amounts | Activity):
            parts[name] = rows_of(part, rows)
    return replace(batch, **parts)


def with_amount(problem: Problem, addition: Amounts, amount: Array) -> Problem:
    """Totals and constants of solutions after an addition to each.

    Parameters
    ----------
    problem : Problem
        Solutions before it.
    addition : Amounts
        What a unit of it brings [mol/kg water per unit].
    amount : numpy.ndarray
        Units added, shape (solutions,).

    Returns
    -------
    Problem
        With the same constants and more in it.
    """
    held = {
        f.name: getattr(problem.held, f.name) + amount * getattr(addition, f.name)
        for f in fields(Amounts)
    }
    return replace(problem, held=Amounts(**held))


def speciate(problem: Problem, u: Array) -> tuple[Array, Activity]:
    """Molality of every species at the given unknowns, and the activity coefficients.

    Parameters
    ----------
    problem : Problem
        System, constants and totals.
    u : numpy.ndarray
        Unknowns, shape (metals + 3, solutions).

    Returns
    -------
    tuple of numpy.ndarray and Activity
        Molalities [mol/kg], shape (species, solutions), good until the next call of this thread;
        each ligand's total is kept exactly.
    """
    layout = problem.layout
    activity = activity_coefficients(
        layout.model, layout.ions, u[STRENGTH], problem.slope, problem.size
    )
    molality = _scratch("molality", *problem.ln_k.shape)
    np.matmul(layout.exponents, np.vstack([u[:STRENGTH], activity.unit]), out=molality)
    molality += problem.ln_k
    molality[layout.ion_places] -= activity.excess
    np.exp(molality, out=molality)
    bound = molality[layout.system.free_count :]
    bound *= (problem.held.ligand / (layout.membership @ bound))[layout.system.group_of]
    return molality, activity


def evaluate(problem: Problem, u: Array) -> Trial:
    """Mass and charge balances at the given unknowns, as `speciate` takes them.

    Parameters
    ----------
    problem : Problem
        System, constants and totals.
    u : numpy.ndarray
        Unknowns as in `speciate`, shape (metals + 3, solutions).

    Returns
    -------
    Trial
        Sums over the species and how far they are from what is held.
    """
    held, metals = problem.held, len(problem.held.metal)
    molality, activity = speciate(problem, u)
    sums = problem.layout.sums @ molality
    return Trial(
        molality=molality,
        activity=activity,
        metal=sums[:metals],
        log_ratio=np.log(sums[:metals] / held.metal),
        charge=sums[metals] + held.strong_charge,
        strength=sums[metals + 1] + held.inert_strength - u[STRENGTH],
        size=sums[metals + 2] + held.inert_size,
    )


def _jacobian(problem: Problem, trial: Trial) -> tuple[Array, Array]:
    """Derivatives of (metals, charge, strength) by (metals, x, I), and the ligands' means.

    The means are √total times the mean of each feature over the ligand's forms.
    """
    layout = problem.layout
    metals, count = trial.metal.shape
    matrix = _scratch("matrix", len(layout.products), count)
    means = _scratch("means", len(layout.means), count)
    np.matmul(layout.products, trial.molality, out=matrix)
    np.matmul(layout.means, trial.molality[layout.system.free_count :], out=means)
    matrix = matrix.reshape(metals + 2, metals + 2, count)
    for (start, stop, first), total in zip(layout.mean_rows, problem.held.ligand, strict=True):
        mean = means[start:stop]
        mean /= np.sqrt(total)
        square = _scratch("square", len(mean) - 2, len(mean) - 1, count)
        matrix[first:-1, first:] -= np.multiply(mean[1:-1, None], mean[None, 1:], out=square)
        matrix[-1, first:] -= mean[0] * mean[1:]
    column = matrix[:, -1]
    column *= trial.activity.slope
    column[-1] -= 1.0
    lost = trial.molality[layout.ion_places] * trial.activity.excess_slope
    column[layout.ion_metals] -= lost
    column[-1] -= np.sum(0.5 * layout.ions[0] ** 2 * lost, axis=0)
    return matrix, means


def _addition_column(problem: Problem, addition: Amounts, trial: Trial, means: Array) -> Array:
    """Derivative of (metals, charge, strength) by the amount added."""
    held = problem.held
    column = np.zeros((len(trial.metal) + 2, len(trial.charge)))
    column[-2], column[-1] = addition.strong_charge, addition.inert_strength
    # The wanted total moves too; in the logarithmic residual it counts as a share.
    column[:-2] = -addition.metal * trial.metal / held.metal
    share = addition.ligand / np.sqrt(held.ligand)
    for (start, stop, first), brought in zip(problem.layout.mean_rows, share, strict=True):
        column[first:-1] += brought * means[start + 1 : stop - 1]
        column[-1] += brought * means[start]
    return column


def _eliminate(matrix: Array, right: Array) -> Array:
    """Solve small dense systems, one per column; matrix (n, n, rows), right (n, rows).

    No pivoting: the leading block is a covariance matrix plus free species, so it is positive.
    """
    size = len(right)
    for i in range(size - 1):
        factor = matrix[i + 1 :, i] / matrix[i, i]
        square = _scratch("square", size - 1 - i, size - 1 - i, right.shape[1])
        np.multiply(factor[:, None], matrix[i, i + 1 :][None], out=square)
        matrix[i + 1 :, i + 1 :] -= square
        right[i + 1 :] -= factor * right[i]
    for i in range(size - 1, -1, -1):
        right[i] -= np.sum(matrix[i, i + 1 :] * right[i + 1 :], axis=0)
        right[i] /= matrix[i, i]
    return right


def _moved(
    problem: Problem, addition: Amounts | None, u: Array, trial: Trial, *, fixed_x: bool
) -> Array:
    """The unknowns after a step, kept within what one linearisation can be trusted for."""
    metals = len(trial.metal)
    matrix, means = _jacobian(problem, trial)
    right = np.vstack([-trial.log_ratio * trial.metal, -trial.charge[None], -trial.strength[None]])
    if addition is not None:
        matrix[:, metals] = _addition_column(problem, addition, trial, means)
    elif fixed_x:
        rest = [*range(metals), metals + 1]
        matrix, right = matrix[np.ix_(rest, rest)], right[rest]
    step = _eliminate(matrix, right)
    moved = u.copy()
    moved[:metals] += np.clip(step[:metals], -4.0, 4.0)
    moved[STRENGTH] = np.clip(u[STRENGTH] + step[-1], 0.2 * u[STRENGTH], 5.0 * u[STRENGTH])
    if addition is not None:
        moved[AMOUNT] = np.maximum(u[AMOUNT] + step[metals], 0.0)
    elif not fixed_x:
        moved[X] = np.clip(u[X] + np.clip(step[metals], -2.3, 2.3), LOWEST_X, HIGHEST_X)
    return moved


def iterate(
    problem: Problem,
    addition: Amounts | None,
    u: Array,
    *,
    fixed_x: bool,
    steps: int = NEWTON_STEPS,
) -> tuple[Array, Mask]:
    """Newton steps until every solution is balanced or the steps run out.

    Balanced solutions are set aside so that a few slow ones do not hold up the batch.

    Parameters
    ----------
    problem : Problem
        System, constants and totals.
    addition : Amounts or None
        What a unit of the addition brings, where its amount is sought.
    u : numpy.ndarray
        First guess of the unknowns, shape (metals + 3, solutions).
    fixed_x : bool
        Keep the pH; then the amount of the addition closes the charge, or, without an addition,
        the charge stays open.
    steps : int
        Most steps taken.

    Returns
    -------
    tuple of numpy.ndarray
        The unknowns, and whether each solution is balanced, shape (solutions,).
    """
    result, done = u.copy(), np.zeros(u.shape[1], dtype=bool)
    rows = np.arange(u.shape[1])
    for _ in range(steps):
        wanted = problem if addition is None else with_amount(problem, addition, u[AMOUNT])
        trial = evaluate(wanted, u)
        balanced = np.abs(trial.strength) <= STRENGTH_TOLERANCE * np.maximum(u[STRENGTH], 1e-9)
        balanced &= np.abs(trial.log_ratio).max(axis=0, initial=0.0) <= BALANCE_TOLERANCE
        if addition is not None or not fixed_x:
            balanced &= np.abs(trial.charge) <= BALANCE_TOLERANCE * trial.size
        # A step from a balanced state only sharpens it, or shakes it by a last digit.
        balanced |= done[rows]
        done[rows] = balanced
        if balanced.all():
            break
        if np.mean(balanced) > WORTH_SETTING_ASIDE:
            result[:, rows[balanced]] = u[:, balanced]
            left = np.flatnonzero(~balanced)
            rows, u = rows[left], u[:, left]
            problem, wanted = rows_of(problem, left), rows_of(wanted, left)
            trial = rows_of(trial, left)
            addition = None if addition is None else rows_of(addition, left)
        u = _moved(wanted, addition, u, trial, fixed_x=fixed_x)
    result[:, rows] = u
    return result, done


def first_guess(problem: Problem, x: Array | None) -> Array:
    """Unknowns to start from, by halving with fixed activity coefficients.

    Parameters
    ----------
    problem : Problem
        System, constants and totals.
    x : numpy.ndarray or None
        ln a(H+) if it is given; then only the metals and the ionic strength are guessed.

    Returns
    -------
    numpy.ndarray
        Shape (metals + 3, solutions).
    """
    system, held = problem.layout.system, problem.held
    y = np.log(held.metal)
    strength = (
        held.inert_strength
        + 0.5 * system.metal_charge**2 @ held.metal
        + 0.5 * held.ligand.sum(axis=0)
        + 1e-7
    )
    if x is None:
        x = _electroneutral(problem, y, strength)
    else:
        # At a given pH the acid or base itself can be most of the ionic strength.
        water = problem.ln_k[system.place("", "", -1)]
        strength = strength + 0.5 * (np.exp(x) + np.exp(water - x))
    u = np.vstack([y, x, strength, np.zeros_like(x)])
    # The free metals by the complexes at this guess.
    trial = evaluate(problem, u)
    u[:X] -= np.clip(trial.log_ratio, -3.0, 3.0)
    u[STRENGTH] += trial.strength
    return u


def _electroneutral(problem: Problem, y: Array, strength: Array) -> Array:
    """X at which the charge is balanced with all metal free, near enough to start from."""
    layout, ligands = problem.layout, len(problem.held.ligand)
    activity = activity_coefficients(
        layout.model, layout.ions, strength, problem.slope, problem.size
    )
    base = _scratch("molality", *problem.ln_k.shape)
    still = layout.exponents[:, [*range(len(y)), -1]]
    np.matmul(still, np.vstack([y, activity.unit]), out=base)
    base += problem.ln_k
    terms = layout.levels @ np.exp(base, out=base)

    def charge(x: Array) -> Array:
        level = np.multiply(layout.level_protons[:, None], x, out=_scratch("level", *terms.shape))
        np.exp(level, out=level)
        level *= terms
        sums = layout.level_sums @ level
        held = (problem.held.ligand * sums[1 : 1 + ligands] / sums[1 + ligands :]).sum(axis=0)
        return np.asarray(problem.held.strong_charge + sums[0] + held)

    count = len(strength)
    low, high = np.full(count, LOWEST_X), np.full(count, HIGHEST_X)
    at_low, at_high = np.full(count, -1.0), np.ones(count)
    middle = 0.5 * (low + high)
    for _ in range(START_HALVINGS):
        here = charge(middle)
        acid = here > 0
        low, at_low = np.where(acid, low, middle), np.where(acid, at_low, here)
        high, at_high = np.where(acid, middle, high), np.where(acid, here, at_high)
        middle = 0.5 * (low + high)
    # A straight line between the ends; halfway where there is none.
    share = at_low / (at_low - at_high)
    return np.asarray(np.where(np.isfinite(share), low + share * (high - low), middle))
