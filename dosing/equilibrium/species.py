"""Species: which ions and complexes a set of components can form, as the solver's arrays."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

import numpy as np

from dosing.equilibrium.constants import (
    HENRY,
    Array,
    coefficients,
    known_between_c,
    published_function,
)
from indicator.tables import Sourced, read_table


@dataclass(frozen=True)
class ComponentRow(Sourced):
    """One row of ``data/equilibrium/components.csv``."""

    component: str
    role: str
    base_species: str
    base_charge: int
    titrated_protons: int
    label: str


@dataclass(frozen=True)
class AcidRow(Sourced):
    """One row of ``data/equilibrium/acids.csv``: one proton lost by an acid."""

    ligand: str
    step: int
    acid_species: str
    pk: float
    dh_kj_mol: float | None
    dcp_j_mol_k: float | None
    function: str
    thermal_confidence: str


@dataclass(frozen=True)
class ComplexRow(Sourced):
    """One row of ``data/equilibrium/complexes.csv``."""

    species: str
    metal: str
    ligand: str
    protons: int
    from_protons: int
    log_k: float
    dh_kj_mol: float | None
    function: str


@dataclass(frozen=True)
class SolidRow(Sourced):
    """One row of ``data/equilibrium/solids.csv``."""

    solid: str
    label: str
    metal: str
    metal_count: int
    ligand: str
    ligand_count: int
    protons: int
    log_ksp: float
    dh_kj_mol: float | None
    function: str


@dataclass(frozen=True)
class Species:
    """One dissolved species as a product of free ions: K · aH^protons · [metal] · [ligand]."""

    name: str
    charge: int
    protons: int
    metal: str
    ligand: str
    log_k: Array
    """Five temperature coefficients of the overall constant from free metal and base ligand."""
    functions: tuple[str, ...] = ()
    """Published functions of temperature behind it."""


@cache
def component_rows() -> dict[str, ComponentRow]:
    """Components by name, in the order of the table."""
    return {row.component: row for row in read_table("equilibrium/components.csv", ComponentRow)}


def solid_rows() -> tuple[SolidRow, ...]:
    """Solids whose saturation is reported."""
    return read_table("equilibrium/solids.csv", SolidRow)


@cache
def _acid_steps(ligand: str) -> tuple[AcidRow, ...]:
    rows = read_table("equilibrium/acids.csv", AcidRow)
    return tuple(sorted((row for row in rows if row.ligand == ligand), key=lambda row: row.step))


@cache
def protonation(ligand: str, protons: int) -> Array:
    """Five coefficients of log K of base ligand + ``protons`` H+, all steps together.

    Parameters
    ----------
    ligand : str
        Name of an acid in its base form.
    protons : int
        How many it takes up.

    Returns
    -------
    numpy.ndarray
        What `dosing.equilibrium.constants.temperature_basis` is multiplied with, shape (5,). Each
        step has its source in ``data/equilibrium/acids.csv``.
    """
    steps = _acid_steps(ligand)
    total = np.zeros(5)
    for row in steps[len(steps) - protons :]:
        # A published function is of log K, the table's pk is its negative.
        total -= coefficients(-row.pk, row.dh_kj_mol, row.dcp_j_mol_k, row.function)
    return total


def _acid_species(ligand: ComponentRow) -> list[Species]:
    name, charge = ligand.component, ligand.base_charge
    steps = _acid_steps(name)
    forms = [ligand.base_species, *(row.acid_species for row in reversed(steps))]
    known = tuple(row.function for row in steps)
    return [
        Species(form, charge + protons, protons, "", name, protonation(name, protons), known)
        for protons, form in enumerate(forms)
    ]


def _complex_species(row: ComplexRow) -> Species:
    rows = component_rows()
    charge = rows[row.metal].base_charge + row.protons
    log_k = coefficients(row.log_k, row.dh_kj_mol, None, row.function)
    if row.ligand:
        charge += rows[row.ligand].base_charge
        log_k = log_k + protonation(row.ligand, row.from_protons)
    made_of = row.protons, row.metal, row.ligand
    return Species(row.species, charge, *made_of, log_k, (row.function,))


@cache
def all_species() -> tuple[Species, ...]:
    """Species that the tables know, inert ions included."""
    known = [
        Species("H+", 1, 1, "", "", np.zeros(5)),
        Species("OH-", -1, -1, "", "", published_function("water"), ("water",)),
    ]
    for row in component_rows().values():
        if row.role == "ligand":
            known.extend(_acid_species(row))
        else:
            metal = row.component if row.role == "metal" else ""
            known.append(Species(row.base_species, row.base_charge, 0, metal, "", np.zeros(5)))
    complexes = read_table("equilibrium/complexes.csv", ComplexRow)
    known.extend(_complex_species(row) for row in complexes)
    return tuple(known)


def species_names() -> tuple[str, ...]:
    """Names of every species that a solution can report."""
    return tuple(species.name for species in all_species())


class System:
    """The species of one set of components, laid out for the solver.

    Free species (H+, OH-, free metals, hydroxides and, under a gas, all carbonate species) are
    fixed by the activities alone; bound species share the total of their ligand.

    Attributes
    ----------
    metals, ligands, inert : tuple of str
        Components by their role.
    species : list of Species
        Free species first, then those of each ligand in the order of `ligands`.
    free_count : int
        Number of free species.
    group_of : numpy.ndarray
        Index of the ligand of each bound species, shape (bound,).
    log_k : numpy.ndarray
        Temperature coefficients of the overall constants, shape (species, 5).
    protons : numpy.ndarray
        Protons per species, shape (species,); minus one for OH-, relative to CO2 under a gas.
    gamma_power : numpy.ndarray
        Exponent k with [species] = K aH^n [M] [L] γ₁^k, shape (species,).
    in_metal : numpy.ndarray
        One where a species holds the metal, shape (species, metals).
    charge : numpy.ndarray
        Charge of each species, shape (species,).
    metal_charge, ligand_charge, inert_charge : numpy.ndarray
        Charges of the components in their base form, shapes (metals,), (ligands,), (inert,).
    temperatures_c : tuple of float
        Between which the activity model and every constant of these species is known [°C].
    """

    def __init__(self, components: tuple[str, ...], gas: bool) -> None:
        rows = component_rows()
        self.metals, ligands, self.inert = (
            tuple(name for name in components if rows[name].role == role)
            for role in ("metal", "ligand", "inert")
        )
        self.ligands = tuple(name for name in ligands if not (gas and name == "C"))
        ions = {row.base_species for row in rows.values() if row.role == "inert"}
        formed = [
            species
            for species in all_species()
            if species.metal in (*self.metals, "")
            and species.ligand in (*self.ligands, "", *("C" if gas else ""))
            and species.name not in ions
        ]
        groups = [[s for s in formed if s.ligand not in self.ligands]]
        groups += [[s for s in formed if s.ligand == ligand] for ligand in self.ligands]
        self.species = [species for group in groups for species in group]
        self.free_count = len(groups[0])
        self.group_of = np.repeat(np.arange(len(self.ligands)), [len(one) for one in groups[1:]])
        log_k, protons, power = zip(*(_laid_out(each, gas) for each in self.species), strict=True)
        self.log_k, self.protons = np.array(log_k), np.array(protons, dtype=np.float64)
        self.gamma_power = np.array(power, dtype=np.float64)
        held = [[float(each.metal == metal) for metal in self.metals] for each in self.species]
        self.in_metal = np.array(held)
        self.charge = np.array([each.charge for each in self.species], dtype=np.float64)
        self.metal_charge, self.ligand_charge, self.inert_charge = (
            np.array([rows[name].base_charge for name in names], dtype=np.float64)
            for names in (self.metals, self.ligands, self.inert)
        )
        functions = {name for each in self.species for name in each.functions}
        self.temperatures_c = known_between_c(functions | ({HENRY} if gas else set()))

    def place(self, metal: str, ligand: str, protons: int) -> int:
        """Place among the species of the one that these make up; -1 if there is none.

        Parameters
        ----------
        metal : str
            Name of the metal; empty for none.
        ligand : str
            Name of the base ligand; empty for none.
        protons : int
            Hydrogen ions in it; negative for hydroxide.

        Returns
        -------
        int
            Index on the axis of species.
        """
        made = [(species.metal, species.ligand, species.protons) for species in self.species]
        wanted = (metal, ligand, protons)
        return made.index(wanted) if wanted in made else -1


@cache
def system_of(components: tuple[str, ...], gas: bool) -> System:
    """Ions and complexes that the given components form, with their constants as arrays.

    Parameters
    ----------
    components : tuple of str
        Names, in the order of the component table.
    gas : bool
        Whether inorganic carbon is held by the carbon dioxide of the air.

    Returns
    -------
    System
        Shared by every call; nothing may write to its arrays.
    """
    return System(components, gas)


def _laid_out(species: Species, gas: bool) -> tuple[Array, int, int]:
    """Constant, protons and power of the activity coefficient; from the gas where there is one."""
    metal, ligand = (
        component_rows()[name].base_charge if name else 0
        for name in (species.metal, species.ligand)
    )
    log_k, protons = species.log_k, species.protons
    if gas and species.ligand == "C":
        log_k = log_k - protonation("C", 2) + published_function(HENRY)
        protons, ligand = protons - 2, 0
    return log_k, protons, metal**2 + ligand**2 - species.charge**2


def canonical(names: Iterable[str]) -> tuple[str, ...]:
    """The given components in the order of the table.

    Raises
    ------
    ValueError
        If one is unknown.
    """
    wanted = set(names)
    if unknown := wanted.difference(component_rows()):
        accepted = ", ".join(component_rows())
        raise ValueError(
            f"totals has the unknown component {sorted(unknown)[0]!r}; accepted are {accepted}"
        )
    return tuple(name for name in component_rows() if name in wanted)
