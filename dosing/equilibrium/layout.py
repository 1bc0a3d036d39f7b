"""Layout: the species of a system as the matrices whose products are a Newton step."""

from __future__ import annotations

from functools import cache

import numpy as np

from dosing.equilibrium.activity import ACTIVITY_MODELS, ActivityModel, ion_rows
from dosing.equilibrium.species import System, system_of
from indicator.accepted import one_of


class Layout:
    """Which sums over species a Newton step needs, as matrices; made once per system.

    A feature is a number per species: membership in each metal, protons n, half its squared charge,
    and the power k of the activity coefficient. Equations are (metals, n, z²/2), the exponents of
    the unknowns (metals, n, k).

    Attributes
    ----------
    system, model
        The species and their activity model.
    ions : tuple of numpy.ndarray
        Charge, size and linear term of metals with an equation of their own, each (ions, 1).
    ion_metals, ion_places : numpy.ndarray
        Which metals these are, and their free species.
    exponents : numpy.ndarray
        Shape (species, metals + 2).
    sums : numpy.ndarray
        Equations and the size of the charge, shape (metals + 3, species).
    products : numpy.ndarray
        Products of equation and exponent, shape ((metals + 2)², species).
    membership : numpy.ndarray
        One where a bound species belongs to the ligand, shape (ligands, bound species).
    means : numpy.ndarray
        Per ligand z²/2, the metals from its first one, n and k; shape (rows, bound species).
    mean_rows : list of tuple of int
        First row, row behind the last, and first metal of each ligand in `means`.
    levels : numpy.ndarray
        Sums the species of one ligand and one number of protons, shape (levels, species).
    level_protons : numpy.ndarray
        Shape (levels,).
    level_sums : numpy.ndarray
        Protons of the free levels, then of each ligand, then each ligand; (1 + 2 ligands, levels).
    """

    def __init__(self, system: System, model: ActivityModel) -> None:
        self.system, self.model = system, model
        protons, half_square = system.protons, 0.5 * system.charge**2
        core = np.vstack([system.in_metal.T, protons])
        equations = np.vstack([core, half_square])
        exponents = np.vstack([core, system.gamma_power])
        free = np.full(system.free_count, -1)
        group = np.concatenate([free, system.group_of])
        ligands = np.arange(len(system.ligands))[:, None]
        members = group == ligands
        bound = slice(system.free_count, None)
        self.exponents = np.ascontiguousarray(exponents.T)
        self.sums = np.vstack([equations, np.abs(system.charge)])
        self.products = (equations[:, None] * exponents[None]).reshape(-1, len(group))
        self.membership = np.ascontiguousarray(members[:, bound], dtype=np.float64)

        means = [np.zeros((0, len(group)))]
        self.mean_rows: list[tuple[int, int, int]] = []
        for member in members:
            first = int(np.argmax((core * member).any(axis=1)))
            start = sum(map(len, means))
            means.append(np.vstack([half_square, exponents[first:]]) * member)
            self.mean_rows.append((start, start + len(means[-1]), first))
        self.means = np.vstack(means)[:, bound].copy()

        levels, place = np.unique(np.stack([group, protons]), axis=1, return_inverse=True)
        of_level, self.level_protons = levels
        in_level = of_level == ligands
        each_level = np.arange(levels.shape[1])[:, None]
        self.levels = np.equal(place.ravel(), each_level).astype(np.float64)
        of_free = np.where(of_level < 0, self.level_protons, 0.0)
        self.level_sums = np.vstack([of_free, in_level * self.level_protons, in_level])

        rows = ion_rows(system.metals) if model.ion_specific else ()
        self.ion_metals = np.array([system.metals.index(row.metal) for row in rows], dtype=np.intp)
        places = [system.place(row.metal, "", 0) for row in rows]
        self.ion_places = np.array(places, dtype=np.intp)
        own = [(row.size_angstrom, row.linear) for row in rows]
        sizes, linears = np.array(own, dtype=np.float64).reshape(-1, 2).T[..., None]
        self.ions = system.metal_charge[self.ion_metals][:, None], sizes, linears


@cache
def layout_of(components: tuple[str, ...], gas: bool, activity: str) -> Layout:
    """Arrays that a system of components is solved with, made on first use.

    Parameters
    ----------
    components : tuple of str
        Names, in the order of the component table.
    gas : bool
        Whether inorganic carbon is held by the carbon dioxide of the air.
    activity : str
        Name in `ACTIVITY_MODELS`.

    Returns
    -------
    Layout
        Shared by every call; nothing may write to its arrays.

    Raises
    ------
    ValueError
        If there is no activity model of that name.
    """
    one_of("activity", activity, tuple(ACTIVITY_MODELS))
    return Layout(system_of(components, gas), ACTIVITY_MODELS[activity])
