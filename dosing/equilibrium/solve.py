"""Solve: pH and every species of any number of solutions, and the inverses a planner needs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.equilibrium import newton
from dosing.equilibrium.activity import (
    DEFAULT_ACTIVITY_MODEL,
    ActivityModel,
    activity_model,
    ln_gamma_excess,
    ln_gamma_unit,
)
from dosing.equilibrium.constants import (
    LN10,
    Array,
    coefficients,
    constant,
    debye_huckel_size,
    debye_huckel_slope,
    published_function,
    temperature_basis,
)
from dosing.equilibrium.newton import Addition, Layout, Problem, State, layout_of
from dosing.equilibrium.search import solved_state, state_at_ph, state_with_amount
from dosing.equilibrium.species import (
    SolidRow,
    System,
    canonical,
    component_rows,
    solid_rows,
)
from indicator.accepted import numbers, of_kind

TEMPERATURES_C = (-10.0, 110.0)
"""Of water, and a little beyond for the spread of a reading; in range is another question."""
PHS = (-2.0, 16.0)
"""The same for pH."""
MOST_MOL_KG = 1000.0
CHUNK = 2048
"""Solutions worked on at a time: their arrays stay in the processor's cache."""


@dataclass(frozen=True)
class Equilibrium:
    """Solved solutions; every array has the batch shape, a single solution gives plain scalars."""

    ph: Array
    """-log10 of the hydrogen-ion activity (IUPAC scale)."""
    ionic_strength: Array
    """[mol/kg water]."""
    charge_error: Array
    """Sum of charges [mol/kg water]: rounding where pH was solved, the imbalance where given."""
    converged: NDArray[np.bool_]
    """Whether charge and every total are balanced to 1e-10, relatively."""
    in_range: NDArray[np.bool_]
    """Whether ionic strength and temperature are where the activity model holds."""
    temperature_c: Array
    """[°C]."""
    totals: Mapping[str, Array]
    """Totals of the components that are present [mol/kg water]."""
    system: System
    """The species these solutions can form."""
    species_molality: Array
    """Molalities of `system.species` [mol/kg water], species on the first axis."""
    ln_gamma: Array
    """ln of the activity coefficient of an ion of charge one; z² times this for others."""
    ln_gamma_excess: Mapping[str, Array]
    """What free metals with an equation of their own have beyond that."""

    @cached_property
    def molality(self) -> dict[str, Array]:
        """Molality of every species by name [mol/kg water]; inert ions included."""
        found = {s.name: self.species_molality[i] for i, s in enumerate(self.system.species)}
        for component in self.system.inert:
            found[component_rows()[component].base_species] = self.totals[component]
        return found

    @cached_property
    def saturation(self) -> dict[str, Array]:
        """Saturation index of every solid: log10(ion product / solubility product).

        -inf where a constituent is absent; above zero the solid can form, though calcium citrate
        and tartrate stay in solution for hours at an index below about one.
        """
        return {row.solid: self._saturation_index(row) for row in solid_rows()}

    def saturation_of(self, solid: str) -> Array:
        """Saturation index of one solid, as `saturation` has it; KeyError if it is unknown."""
        return self._saturation_index({row.solid: row for row in solid_rows()}[solid])

    def _saturation_index(self, row: SolidRow) -> Array:
        log_ksp = (
            coefficients(row.log_ksp, row.dh_kj_mol, None, row.function)
            @ temperature_basis(self.temperature_c).reshape(5, -1)
        ).reshape(np.shape(self.ph))
        metal = self._log_activity(row.metal, "", 0)
        ligand = self._log_activity("", row.ligand, row.protons)
        return np.asarray(row.metal_count * metal + row.ligand_count * ligand - log_ksp)[()]

    def _log_activity(self, metal: str, ligand: str, protons: int) -> Array:
        """log10 activity of a free metal or of a ligand with so many protons."""
        for place, species in enumerate(self.system.species):
            if (species.metal, species.ligand) == (metal, ligand) and (species.protons == protons):
                molality = self.species_molality[place]
                with np.errstate(divide="ignore"):
                    ln_activity = np.log(molality) + species.charge**2 * self.ln_gamma
                if not ligand:
                    ln_activity = ln_activity + self.ln_gamma_excess.get(metal, 0.0)
                return np.asarray(ln_activity / LN10)
        return np.full(np.shape(self.ph), -np.inf)


@dataclass(frozen=True)
class MassForPh:
    """How much of an addition brings each solution to a wished pH."""

    mass: Array
    """Units of the addition per kg of water; NaN where no amount gets there."""
    reached: NDArray[np.bool_]
    """Whether an amount of zero or more within the limit gets there."""
    limiting_ph: Array
    """Where not reached: the nearest pH that an amount within the limit gives; else NaN."""
    equilibrium: Equilibrium
    """The solutions with that amount (without it where it is not reached)."""


@np.errstate(all="ignore")  # what cannot be computed is NaN and not converged
def solve(
    totals: Mapping[str, ArrayLike],
    temperature_c: ArrayLike = 25.0,
    *,
    ph: ArrayLike | None = None,
    pco2_ppm: ArrayLike | None = None,
    activity: str = DEFAULT_ACTIVITY_MODEL,
) -> Equilibrium:
    """PH and species of solutions from their totals.

    Parameters
    ----------
    totals : mapping of str to array_like
        Totals by component [mol/kg water]; absent components are zero. Shapes broadcast.
    temperature_c : array_like
        [°C].
    ph : array_like, optional
        Keep this pH and report the imbalance of charge, instead of solving for electroneutrality.
    pco2_ppm : array_like, optional
        Hold dissolved carbon dioxide in equilibrium with air of this content [ppm by volume at
        one atmosphere]; the total ``C`` is then ignored.
    activity : str
        Name in `dosing.equilibrium.ACTIVITY_MODELS`.

    Returns
    -------
    Equilibrium
        NaN in any input of a solution gives NaN and ``converged`` false for that solution.

    Raises
    ------
    ValueError
        If a component or activity model is unknown, a total is negative or infinite, or a
        temperature or pH is none of water.
    TypeError
        If something is no plain number: nothing, text, a date, a masked array.
    """
    batch = _Batch.make(totals, temperature_c, ph, pco2_ppm, activity)
    for rows in batch.chunks():
        batch.solve_rows(rows)
    return batch.equilibrium()


@np.errstate(all="ignore")
def mass_for_ph(
    totals: Mapping[str, ArrayLike],
    per_unit: Mapping[str, ArrayLike],
    ph: ArrayLike,
    temperature_c: ArrayLike = 25.0,
    *,
    pco2_ppm: ArrayLike | None = None,
    activity: str = DEFAULT_ACTIVITY_MODEL,
) -> MassForPh:
    """Amount of an addition that brings solutions to a pH, for all solutions at once.

    Parameters
    ----------
    totals : mapping of str to array_like
        Totals before the addition [mol/kg water].
    per_unit : mapping of str to array_like
        What one unit of the addition adds [mol per unit], for instance per gram of a powder.
    ph : array_like
        The wished pH.
    temperature_c, pco2_ppm, activity
        As in `solve`.

    Returns
    -------
    MassForPh
        The amount in units of ``per_unit`` per kg of water. Amounts are searched up to that which
        adds 0.5 mol/kg in all, the limit of the activity model.

    Raises
    ------
    ValueError
        As `solve`; also if the addition adds nothing.
    """
    for field, mapping in (("totals", totals), ("per_unit", per_unit)):
        of_kind(field, mapping, Mapping)
    numbers("ph", ph, *PHS)
    added = {
        name: numbers(f"per_unit[{name!r}]", value, -MOST_MOL_KG, MOST_MOL_KG)
        for name, value in per_unit.items()
    }
    names = set(totals) | set(added)
    start = {name: totals.get(name, 0.0) for name in names}
    shaped = {
        name: numbers(f"totals[{name!r}]", value, 0.0, MOST_MOL_KG)
        + 0.0 * added.get(name, np.zeros(()))
        for name, value in start.items()
    }
    batch = _Batch.make(shaped, temperature_c, ph, pco2_ppm, activity, keep=canonical(added))
    batch.set_addition(added)
    for rows in batch.chunks():
        batch.mass_rows(rows)
    return batch.mass_for_ph()


def strong_charge(totals: Mapping[str, ArrayLike]) -> Array:
    """Charge that a titration to pH 4.5 would find as alkalinity [eq/kg].

    The sum of the charges of all components in the form they have at the end point of the
    titration (carbonate as carbon dioxide, citrate as H Cit 2-, and so on). In an electroneutral
    water it equals the alkalinity.
    """
    rows = component_rows()
    total = np.zeros(())
    for name in canonical(totals):
        row = rows[name]
        charge = row.base_charge + row.titrated_protons
        total = total + charge * np.asarray(totals[name], dtype=np.float64)
    return np.asarray(total)


def carbon_from_alkalinity(
    alkalinity_eq_kg: ArrayLike,
    ph: ArrayLike,
    totals: Mapping[str, ArrayLike],
    temperature_c: ArrayLike = 25.0,
    *,
    activity: str = DEFAULT_ACTIVITY_MODEL,
) -> Array:
    """Total inorganic carbon of a water of known alkalinity and pH [mol/kg].

    Parameters
    ----------
    alkalinity_eq_kg : array_like
        Alkalinity titrated to pH 4.5 [eq/kg].
    ph : array_like
        pH of the water at ``temperature_c``.
    totals : mapping of str to array_like
        All other components [mol/kg]; their imbalance is taken up by inert ions, so that the
        charges agree with the alkalinity.

    Returns
    -------
    numpy.ndarray
        NaN where no amount of carbon gives that alkalinity at that pH.
    """
    others = {name: np.asarray(v, dtype=np.float64) for name, v in totals.items() if name != "C"}
    missing = np.asarray(alkalinity_eq_kg, dtype=np.float64) - strong_charge(others)
    closed = dict(others)
    closed["cation"] = closed.get("cation", np.zeros(())) + np.maximum(missing, 0.0)
    closed["anion"] = closed.get("anion", np.zeros(())) + np.maximum(-missing, 0.0)
    found = mass_for_ph(closed, {"C": 1.0}, ph, temperature_c, activity=activity)
    return found.mass


def _shaped(values: NDArray[Any], shape: tuple[int, ...]) -> Any:
    """``values`` in the batch shape; a plain scalar where the shape is ()."""
    return values.reshape(shape)[()]


class _Batch:
    """Flattened inputs of one call, and the arrays its chunks write their results into."""

    def __init__(
        self,
        layout: Layout,
        shape: tuple[int, ...],
        totals: dict[str, Array],
        temperature_c: Array,
        ph: Array | None,
        pco2_ppm: Array | None,
        model: ActivityModel,
    ) -> None:
        self.layout, self.shape, self.totals = layout, shape, totals
        self.temperature_c, self.pco2_ppm, self.model = temperature_c, pco2_ppm, model
        self.x = None if ph is None else -LN10 * ph
        count = len(temperature_c)
        system = layout.system
        self.solved = State(
            x=np.full(count, np.nan),
            y=np.full((len(system.metals), count), np.nan),
            strength=np.full(count, np.nan),
            amount=np.zeros(count),
        )
        self.molality = np.full((len(system.species), count), np.nan)
        self.converged = np.zeros(count, dtype=bool)
        self.limiting_ph = np.full(count, np.nan)
        self.addition: dict[str, Array] = {}
        self.most = np.zeros(count)
        self.reached = np.zeros(count, dtype=bool)
        inputs = [temperature_c, *totals.values()]
        inputs += [given for given in (ph, pco2_ppm) if given is not None]
        self.valid = np.all([np.isfinite(values) for values in inputs], axis=0)

    @classmethod
    def make(
        cls,
        totals: Mapping[str, ArrayLike],
        temperature_c: ArrayLike,
        ph: ArrayLike | None,
        pco2_ppm: ArrayLike | None,
        activity: str,
        keep: tuple[str, ...] = (),
    ) -> _Batch:
        """Check, broadcast and flatten the inputs; leave out components that are nowhere."""
        of_kind("totals", totals, Mapping)
        given = {
            name: numbers(f"totals[{name!r}]", totals[name], 0.0, MOST_MOL_KG)
            for name in canonical(totals)
        }
        gas = pco2_ppm is not None
        if gas:
            given["C"] = np.zeros(())
        extra = [numbers("temperature_c", temperature_c, *TEMPERATURES_C)]
        if ph is not None:
            extra.append(numbers("ph", ph, *PHS))
        if pco2_ppm is not None:
            extra.append(numbers("pco2_ppm", pco2_ppm, 0.0, 1e6))
        shape = np.broadcast_shapes(*(v.shape for v in [*given.values(), *extra]))
        flat = {name: np.broadcast_to(v, shape).ravel() for name, v in given.items()}
        present = tuple(
            name
            for name in canonical(flat)
            if name in keep or np.any(flat[name] != 0) or (gas and name == "C")
        )

        def flattened(values: ArrayLike | None) -> Array | None:
            if values is None:
                return None
            array = np.asarray(values, dtype=np.float64)
            return np.broadcast_to(array, shape).ravel()

        temperature = flattened(temperature_c)
        assert temperature is not None
        return cls(
            layout_of(present, gas),
            shape,
            {name: flat[name] for name in present},
            temperature,
            flattened(ph),
            flattened(pco2_ppm),
            activity_model(activity),
        )

    def chunks(self) -> Iterator[NDArray[np.intp]]:
        """Index arrays of the solutions without NaN, a cache's worth at a time."""
        rows = np.flatnonzero(self.valid)
        for start in range(0, len(rows), CHUNK):
            yield rows[start : start + CHUNK]

    def problem(self, rows: NDArray[np.intp]) -> Problem:
        """Totals and constants of some solutions."""
        system = self.layout.system
        basis = temperature_basis(self.temperature_c[rows])
        ln_k = (LN10 * system.log_k) @ basis
        if self.pco2_ppm is not None:
            henry = np.asarray(published_function("carbon-dioxide-solubility")) @ basis
            # Floor: air without carbon dioxide is as good as a trace of it.
            pressure = np.log(np.maximum(self.pco2_ppm[rows], 1e-30) * 1e-6)
            dissolved = LN10 * henry + pressure
            under_gas = [i for i, s in enumerate(system.species) if s.ligand == "C"]
            ln_k[under_gas] += dissolved
        ligand, metal, charge, strength = self._sums(self.totals, rows)
        temperature = self.temperature_c[rows]
        return Problem(
            ln_k=ln_k,
            slope=debye_huckel_slope(temperature),
            size=debye_huckel_size(temperature),
            ligand=ligand,
            metal=metal,
            strong_charge=charge,
            inert_strength=strength,
        )

    def _sums(
        self, amounts: Mapping[str, Array], rows: NDArray[np.intp]
    ) -> tuple[Array, Array, Array, Array]:
        system = self.layout.system

        def stacked(names: tuple[str, ...]) -> Array:
            zero = np.zeros(len(rows))
            parts = [amounts[name][rows] if name in amounts else zero for name in names]
            return np.array(parts).reshape(len(names), len(rows))

        metal, inert = stacked(system.metals), stacked(system.inert)
        charge = system.metal_charge @ metal + system.inert_charge @ inert
        strength = 0.5 * system.inert_charge**2 @ inert
        return stacked(system.ligands), metal, charge, strength

    def solve_rows(self, rows: NDArray[np.intp]) -> None:
        """Solve some solutions and keep their state and species."""
        problem = self.problem(rows)
        if self.x is None:
            state, done = solved_state(self.layout, problem, self.model)
        else:
            state, done = state_at_ph(self.layout, problem, self.model, self.x[rows])
        self._keep(rows, problem, state, done)

    def _keep(
        self, rows: NDArray[np.intp], problem: Problem, state: State, done: newton.Mask
    ) -> None:
        self.solved.put(rows, state)
        spec = newton.speciate(self.layout, problem, state, self.model)
        self.molality[:, rows] = np.where(spec.molality < 1e-150, 0.0, spec.molality)
        self.converged[rows] = done

    def equilibrium(self) -> Equilibrium:
        """The results in the shape of the inputs."""
        system, shape = self.layout.system, self.shape
        inert = np.array([self.totals[name] for name in system.inert])
        charge_error = system.charge @ self.molality
        if len(system.inert):
            charge_error = charge_error + system.inert_charge @ inert
        strength = np.where(self.valid, self.solved.strength, np.nan)
        ph = np.where(self.valid, -self.solved.x / LN10, np.nan)
        low, high = constant("temperature_low"), constant("temperature_high")
        with np.errstate(invalid="ignore"):
            in_range = (
                (strength <= constant("ionic_strength_limit"))
                & (self.temperature_c >= low)
                & (self.temperature_c <= high)
            )
            slope = debye_huckel_slope(self.temperature_c)
            size = debye_huckel_size(self.temperature_c)
            unit = ln_gamma_unit(self.model, strength, slope)
            excess = {
                system.metals[metal]: ln_gamma_excess(
                    row, float(system.metal_charge[metal]), unit, strength, slope, size
                )[0]
                for metal, _, row in (self.layout.ions if self.model.ion_specific else ())
            }
        return Equilibrium(
            ph=_shaped(ph, shape),
            ionic_strength=_shaped(strength, shape),
            charge_error=_shaped(charge_error, shape),
            converged=_shaped(self.converged, shape),
            in_range=_shaped(in_range, shape),
            temperature_c=_shaped(self.temperature_c, shape),
            totals={name: _shaped(values, shape) for name, values in self.totals.items()},
            system=system,
            species_molality=self.molality.reshape(len(system.species), *shape),
            ln_gamma=_shaped(unit[0], shape),
            ln_gamma_excess={name: _shaped(values, shape) for name, values in excess.items()},
        )

    def set_addition(self, per_unit: Mapping[str, ArrayLike]) -> None:
        """What one unit of the addition adds to each solution."""
        count = len(self.temperature_c)
        for name in canonical(per_unit):
            values = np.asarray(per_unit[name], dtype=np.float64)
            if np.any(values < 0) or np.any(np.isinf(values)):
                raise ValueError(
                    f"per_unit[{name!r}] is {values.min():g}; accepted are finite amounts >= 0"
                )
            self.addition[name] = np.broadcast_to(values, self.shape).ravel()
            self.valid &= np.isfinite(self.addition[name])
        per_kg = np.sum(list(self.addition.values()), axis=0) if self.addition else np.zeros(count)
        if np.any(self.valid & ~(per_kg > 0)):
            raise ValueError("per_unit is empty or zero; accepted is at least one amount > 0")
        self.most = constant("ionic_strength_limit") / np.where(per_kg > 0, per_kg, 1.0)

    def mass_rows(self, rows: NDArray[np.intp]) -> None:
        """Find the amount for some solutions and keep the state with it."""
        assert self.x is not None
        problem = self.problem(rows)
        addition = Addition(*self._sums(self.addition, rows))
        state, reached = state_with_amount(
            self.layout, problem, addition, self.model, self.x[rows], self.most[rows]
        )
        done = reached.copy()
        missed = np.flatnonzero(~reached)
        if len(missed):
            state.amount[missed] = 0.0
            bare, done[missed] = solved_state(self.layout, problem.take(missed), self.model)
            full_problem = addition.added_to(problem, np.where(reached, 0.0, self.most[rows])).take(
                missed
            )
            full, _ = solved_state(self.layout, full_problem, self.model)
            wished = self.x[rows][missed]
            nearer = np.abs(bare.x - wished) <= np.abs(full.x - wished)
            self.limiting_ph[rows[missed]] = -np.where(nearer, bare.x, full.x) / LN10
            state.put(missed, bare)
        final = addition.added_to(problem, state.amount)
        self._keep(rows, final, state, done)
        self.reached[rows] = reached

    def mass_for_ph(self) -> MassForPh:
        """The results in the shape of the inputs."""
        reached = self.reached
        amount = np.where(reached, self.solved.amount, np.nan)
        for name, values in self.addition.items():
            self.totals[name] = self.totals[name] + values * self.solved.amount
        return MassForPh(
            mass=_shaped(amount, self.shape),
            reached=_shaped(reached, self.shape),
            limiting_ph=_shaped(self.limiting_ph, self.shape),
            equilibrium=self.equilibrium(),
        )
