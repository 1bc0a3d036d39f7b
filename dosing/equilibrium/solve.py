"""Solve: pH and every species of any number of solutions, and the inverses a planner needs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.equilibrium.activity import DEFAULT_ACTIVITY_MODEL
from dosing.equilibrium.constants import (
    LN10,
    Array,
    coefficients,
    constant,
    debye_huckel,
    temperature_basis,
)
from dosing.equilibrium.layout import layout_of
from dosing.equilibrium.newton import (
    AMOUNT,
    STRENGTH,
    TOTAL_FLOOR,
    Amounts,
    Problem,
    X,
    speciate,
)
from dosing.equilibrium.search import solved_state, state_at_ph, state_with_amount
from dosing.equilibrium.species import System, canonical, component_rows, solid_rows
from indicator.accepted import numbers, of_kind
from indicator.threads import one_thread

TEMPERATURES_C = (-10.0, 110.0)
"""Of water, and a little beyond for the spread of a reading; in range is another question."""
PHS = (-2.0, 16.0)
"""The same for pH."""
MOST_MOL_KG = 1000.0
Rows = NDArray[np.intp] | slice
CHUNK = 4096
"""Solutions worked on at a time: fewer, and the steps between the sums outweigh them."""


@dataclass(frozen=True)
class Equilibrium:
    """Solved solutions; every array has the batch shape, a single solution gives plain scalars."""

    ph: Array
    """-log10 of the hydrogen-ion activity (IUPAC scale)."""
    ionic_strength: Array
    """[mol/kg water]."""
    converged: NDArray[np.bool_]
    """Whether charge and every total are balanced to 1e-10, relatively."""
    in_range: NDArray[np.bool_]
    """Whether ionic strength and temperature are where the model and every constant hold."""
    temperature_c: Array
    """[°C]."""
    totals: Mapping[str, Array]
    """Totals of the components that are present [mol/kg water]."""
    batch: _Batch = field(repr=False)
    """The solver's own state, from which the species come when they are asked for."""

    @property
    def system(self) -> System:
        """The species these solutions can form."""
        return self.batch.layout.system

    @cached_property
    @one_thread()
    @np.errstate(all="ignore")
    def _speciated(self) -> Array:
        """Molality and ln γ of every species, shape (2, species, ...)."""
        batch, charge = self.batch, self.system.charge
        found = np.empty((2, len(charge), len(batch.temperature_c)))
        for start in range(0, len(batch.temperature_c), CHUNK):
            rows = slice(start, start + CHUNK)
            molality, activity = speciate(batch.problem(rows), batch.u[:, rows])
            # Nothing but the floor under the totals of absent components.
            molality[molality < 1e-150] = 0.0
            found[:, :, rows] = molality, np.multiply.outer(charge**2, activity.unit)
            found[1, batch.layout.ion_places, rows] += activity.excess
        return found.reshape(2, -1, *np.shape(self.ph))

    @property
    def species_molality(self) -> Array:
        """Molalities of `system.species` [mol/kg water], species on the first axis."""
        return np.asarray(self._speciated[0])

    @property
    def ln_gamma(self) -> Array:
        """Ln of the activity coefficients of `system.species`, species on the first axis."""
        return np.asarray(self._speciated[1])

    @cached_property
    def charge_error(self) -> Array:
        """Sum of charges [mol/kg water]: rounding where pH was solved, else the imbalance."""
        inert = zip(self.system.inert_charge, self.system.inert, strict=True)
        species = np.tensordot(self.system.charge, self.species_molality, axes=1)
        return np.asarray(species + sum(z * self.totals[name] for z, name in inert))[()]

    @cached_property
    def molality(self) -> dict[str, Array]:
        """Molality of every species by name [mol/kg water]; inert ions included."""
        molality = {s.name: self.species_molality[i] for i, s in enumerate(self.system.species)}
        for component in self.system.inert:
            molality[component_rows()[component].base_species] = self.totals[component]
        return molality

    @cached_property
    def saturation(self) -> dict[str, Array]:
        """Saturation index of every solid: log10(ion product / solubility product).

        -inf where a constituent is absent; above zero the solid can form, though calcium citrate
        and tartrate stay in solution for hours at an index below about one.
        """
        return {row.solid: self.saturation_of(row.solid) for row in solid_rows()}

    def saturation_of(self, solid: str) -> Array:
        """Saturation index of one solid, as `saturation` has it; KeyError if it is unknown."""
        row = {row.solid: row for row in solid_rows()}[solid]
        constants = coefficients(row.log_ksp, row.dh_kj_mol, None, row.function)
        log_ksp = np.tensordot(constants, temperature_basis(self.temperature_c), axes=1)
        metal = self._log_activity(row.metal, "", 0)
        ligand = self._log_activity("", row.ligand, row.protons)
        return np.asarray(row.metal_count * metal + row.ligand_count * ligand - log_ksp)[()]

    def _log_activity(self, metal: str, ligand: str, protons: int) -> Array:
        """log10 activity of a free metal or of a ligand with so many protons."""
        place = self.system.place(metal, ligand, protons)
        if place < 0:
            return np.full(np.shape(self.ph), -np.inf)
        with np.errstate(divide="ignore"):
            ln_activity = np.log(self.species_molality[place]) + self.ln_gamma[place]
        return np.asarray(ln_activity / LN10)


@dataclass(frozen=True)
class MassForPh:
    """Amount of an addition that brings each solution to a wished pH."""

    mass: Array
    """Units of the addition per kg of water; NaN where no amount gets there."""
    reached: NDArray[np.bool_]
    """Whether an amount of zero or more within the limit gets there."""
    limiting_ph: Array
    """Where not reached: the nearest pH that an amount within the limit gives; else NaN."""
    equilibrium: Equilibrium
    """The solutions with that amount (without it where it is not reached)."""


@one_thread()
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
    batch = _Batch(totals, temperature_c, ph, pco2_ppm, activity)
    for rows in _chunks(batch.valid):
        problem = batch.problem(rows)
        if batch.x is None:
            batch.u[:, rows], batch.converged[rows] = solved_state(problem)
        else:
            batch.u[:, rows], batch.converged[rows] = state_at_ph(problem, batch.x[rows])
    return batch.equilibrium()


@one_thread()
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
    batch = _Batch(totals, temperature_c, ph, pco2_ppm, activity, per_unit)
    count = len(batch.valid)
    per_kg = np.sum([*batch.addition.values(), np.zeros(count)], axis=0)
    if np.any(batch.valid & ~(per_kg > 0)):
        raise ValueError("per_unit is empty or zero; accepted is at least one amount > 0")
    most = constant("ionic_strength_limit") / np.where(per_kg > 0, per_kg, 1.0)
    reached, limiting = np.zeros(count, dtype=bool), np.full(count, np.nan)
    assert batch.x is not None
    for rows in _chunks(batch.valid):
        problem, addition = batch.problem(rows), batch.amounts(batch.addition, rows)
        found = state_with_amount(problem, addition, batch.x[rows], most[rows])
        batch.u[:, rows], batch.converged[rows], reached[rows], limiting[rows] = found
    amount = batch.u[AMOUNT]
    for name, brought in batch.addition.items():
        batch.totals[name] = batch.totals[name] + brought * amount
    return MassForPh(
        mass=batch.shaped(np.where(reached, amount, np.nan)),
        reached=batch.shaped(reached),
        limiting_ph=batch.shaped(limiting),
        equilibrium=batch.equilibrium(),
    )


def strong_charge(totals: Mapping[str, ArrayLike]) -> Array:
    """Charge that a titration to pH 4.5 would find as alkalinity [eq/kg].

    The sum of the charges of all components in the form they have at the end point of the
    titration (carbonate as carbon dioxide, citrate as H Cit 2-, and so on). In an electroneutral
    water it equals the alkalinity.
    """
    total = np.zeros(())
    for name in canonical(totals):
        row = component_rows()[name]
        total = total + (row.base_charge + row.titrated_protons) * np.asarray(totals[name])
    return np.asarray(total, dtype=np.float64)


def carbon_from_alkalinity(
    alkalinity_eq_kg: ArrayLike,
    ph: ArrayLike,
    totals: Mapping[str, ArrayLike],
    temperature_c: ArrayLike = 25.0,
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
    temperature_c : array_like
        Temperature of the water [°C].

    Returns
    -------
    numpy.ndarray
        Inorganic carbon in all its forms [mol/kg], the broadcast shape; NaN where no
        amount of carbon gives that alkalinity at that pH.
    """
    closed = {name: np.asarray(given, dtype=np.float64) for name, given in totals.items()}
    closed.pop("C", None)
    missing = np.asarray(alkalinity_eq_kg, dtype=np.float64) - strong_charge(closed)
    for name, sign in (("cation", 1.0), ("anion", -1.0)):
        closed[name] = closed.get(name, np.zeros(())) + np.maximum(sign * missing, 0.0)
    return mass_for_ph(closed, {"C": 1.0}, ph, temperature_c).mass


def _chunks(chosen: NDArray[np.bool_]) -> Iterator[NDArray[np.intp]]:
    """Places of the chosen solutions, a cache's worth at a time."""
    rows = np.flatnonzero(chosen)
    for start in range(0, len(rows), CHUNK):
        yield rows[start : start + CHUNK]


class _Batch:
    """One call: its inputs on one axis, and the state its chunks write their results into."""

    def __init__(
        self,
        totals: Mapping[str, ArrayLike],
        temperature_c: ArrayLike,
        ph: ArrayLike | None,
        pco2_ppm: ArrayLike | None,
        activity: str,
        per_unit: Mapping[str, ArrayLike] = MappingProxyType({}),
    ) -> None:
        """Check, broadcast and flatten the inputs; leave out components that are nowhere."""
        given, added = _moles("totals", totals), _moles("per_unit", per_unit)
        given = dict.fromkeys(added, np.zeros(())) | given
        gas = pco2_ppm is not None
        if gas:
            given["C"] = np.zeros(())
        extra = {"temperature_c": numbers("temperature_c", temperature_c, *TEMPERATURES_C)}
        for name, value, ends in (("ph", ph, PHS), ("pco2_ppm", pco2_ppm, (0.0, 1e6))):
            if value is not None:
                extra[name] = numbers(name, value, *ends)
        inputs = [*given.values(), *added.values(), *extra.values()]
        self.shape = np.broadcast_shapes(*(array.shape for array in inputs))

        def flat(array: Array) -> Array:
            return np.broadcast_to(array, self.shape).ravel()

        present = tuple(
            name
            for name in canonical(given)
            if name in added or np.any(given[name] != 0) or (gas and name == "C")
        )
        self.layout = layout_of(present, gas, activity)
        self.totals = {name: flat(given[name]) for name in present}
        # What a unit of the addition brings.
        self.addition = {name: flat(moles) for name, moles in added.items()}
        self.temperature_c = flat(extra["temperature_c"])
        self.pco2_ppm = flat(extra["pco2_ppm"]) if gas else None
        # ln a(H+), where the pH is given.
        self.x = -LN10 * flat(extra["ph"]) if ph is not None else None
        # Where no input is NaN; elsewhere the unknowns stay it.
        self.valid = np.isfinite(np.sum([flat(array) for array in inputs], axis=0))
        self.u = np.full((len(self.layout.system.metals) + 3, len(self.valid)), np.nan)
        self.converged = np.zeros(len(self.valid), dtype=bool)

    def problem(self, rows: Rows) -> Problem:
        """Totals and constants of some solutions."""
        system = self.layout.system
        ln_k = (LN10 * system.log_k) @ temperature_basis(self.temperature_c[rows])
        if self.pco2_ppm is not None:
            # Floor: air without carbon dioxide is as good as a trace of it.
            under_gas = [species.ligand == "C" for species in system.species]
            ln_k[under_gas] += np.log(np.maximum(self.pco2_ppm[rows], 1e-30) * 1e-6)
        held = self.amounts(self.totals, rows)
        floored = replace(
            held,
            ligand=np.maximum(held.ligand, TOTAL_FLOOR),
            metal=np.maximum(held.metal, TOTAL_FLOOR),
        )
        return Problem(self.layout, ln_k, *debye_huckel(self.temperature_c[rows]), floored)

    def amounts(self, moles: Mapping[str, Array], rows: Rows) -> Amounts:
        """Totals, or what a unit of an addition brings, as the solver takes them."""
        system, zero = self.layout.system, np.zeros(len(self.temperature_c))[rows]

        def stacked(names: tuple[str, ...]) -> Array:
            parts = [moles[name][rows] if name in moles else zero for name in names]
            return np.array(parts).reshape(len(names), len(zero))

        ligand, metal, inert = (
            stacked(names) for names in (system.ligands, system.metals, system.inert)
        )
        charge = system.metal_charge @ metal + system.ligand_charge @ ligand
        return Amounts(
            ligand=ligand,
            metal=metal,
            strong_charge=charge + system.inert_charge @ inert,
            inert_size=np.abs(system.inert_charge) @ inert,
            inert_strength=0.5 * system.inert_charge**2 @ inert,
        )

    def equilibrium(self) -> Equilibrium:
        """The results in the shape of the inputs."""
        low, high = self.layout.system.temperatures_c
        temperature, strength = self.temperature_c, self.u[STRENGTH]
        in_range = (
            (strength <= constant("ionic_strength_limit"))
            & (temperature >= low)
            & (temperature <= high)
        )
        return Equilibrium(
            ph=self.shaped(-self.u[X] / LN10),
            ionic_strength=self.shaped(strength),
            converged=self.shaped(self.converged),
            in_range=self.shaped(in_range),
            temperature_c=self.shaped(temperature),
            totals={name: self.shaped(total) for name, total in self.totals.items()},
            batch=self,
        )

    def shaped(self, flat: NDArray[Any]) -> Any:
        """In the shape of the inputs; a plain scalar where that is ()."""
        return flat.reshape(self.shape)[()]


def _moles(field: str, moles: Mapping[str, ArrayLike]) -> dict[str, Array]:
    of_kind(field, moles, Mapping)
    return {
        name: numbers(f"{field}[{name!r}]", moles[name], 0.0, MOST_MOL_KG)
        for name in canonical(moles)
    }
