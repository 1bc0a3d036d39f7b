"""Preserving: how much of a bottle's preservative is unionised at its pH, bound, or formaldehyde.

An acid preserves by its unionised part. The engine gives that at the ionic strength of the bottle;
what suppliers print is the same without the salts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from dosing.equilibrium import Array, Equilibrium, solve
from dosing.ingredients.molar_mass import molar_mass
from dosing.ingredients.sums import added
from dosing.workshop.composition import NUMBERS, Formula
from dosing.workshop.materials import WATER, Material, materials_by_name, substances
from indicator.tables import Sourced, number_of, read_table

ROOM_C = 25.0
DILUTE = 1e-9
"""Molality at which an acid is alone with its constant [mol/kg]."""
UNTESTED, OUTSIDE, NONE, PH_UNREAD = "untested", "outside", "none", "ph-unread"
TESTED = "tested"
"""Untested no more: a challenge test of this bottle was passed."""


@dataclass(frozen=True)
class _IonRow(Sourced):
    substance: str
    component: str
    moles: float
    formula: str


@dataclass(frozen=True)
class _ReleaserRow(Sourced):
    substance: str
    formula: str
    moles: float


@dataclass(frozen=True)
class AcidPreservative:
    """An acid that preserves, all its salts counted with it."""

    acid: str
    """Substance."""
    percent: float
    """In the product, as the acid [%]."""
    unionised_share: float
    """At the bottle's pH and ionic strength, 0 to 1; NaN where the pH is not known."""
    quoted_share: float
    """As the trade quotes it, from the constant alone, 0 to 1."""

    @property
    def unionised_percent(self) -> float:
        """Unionised acid in the product [%]."""
        return self.percent * self.unionised_share


@dataclass(frozen=True)
class Preservative:
    """A preservative of the formula, and the pH that its suppliers give it."""

    name: str
    label: str
    percent: float
    """As supplied [% of the product]."""
    works_low: float
    works_high: float

    def works_at(self, ph: float) -> bool:
        """Whether a pH is among those."""
        return self.works_low <= ph <= self.works_high


@dataclass(frozen=True)
class Preserving:
    """Whether a bottle is preserved: may be, before a challenge test of it was passed."""

    part: str
    """Of a product: ``"foam bath"``, or a brew by its name."""
    state: str
    """``"untested"``, ``"outside"`` (of the pH it works at), ``"ph-unread"``, ``"none"``, or
    ``"tested"``."""
    ph: float | None
    ionic_strength: float
    """Of the water in the bottle, without surfactant [mol/kg]."""
    in_range: bool
    """Whether the engine's activity coefficients hold there; beyond, they are those of the end."""
    preservatives: tuple[Preservative, ...]
    acids: tuple[AcidPreservative, ...]
    free_low: float
    """Share of a preservative that surfactant may leave free, by the strongest binding, 0 to 1."""
    free_high: float
    """By the weakest."""
    formaldehyde_percent: float
    """That may come out of its preservatives [% of the product]."""


def unionised_share(
    acid: str, ph: ArrayLike, salt_mol_kg: ArrayLike = 0.0, temperature_c: ArrayLike = ROOM_C
) -> Array:
    """Unionised share of an acid preservative at a pH, in water with some salt.

    Parameters
    ----------
    acid : str
        Component, for instance ``"benzoate"``.
    ph : array_like
        pH of the liquid.
    salt_mol_kg : array_like
        Salt of two single charges in it: its ionic strength [mol/kg]; broadcasts with the pH.
    temperature_c : array_like
        [°C].

    Returns
    -------
    numpy.ndarray
        0 to 1, the broadcast shape.

    Examples
    --------
    >>> round(float(unionised_share("benzoate", 4.2)), 2)
    0.5
    """
    salt = {"cation": salt_mol_kg, "anion": salt_mol_kg}
    return _unionised(solve({acid: DILUTE, **salt}, temperature_c, ph=ph), acid)


def _unionised(solved: Equilibrium, acid: str) -> Array:
    protonated = solved.system.place("", acid, 1)
    return np.asarray(solved.species_molality[protonated] / solved.totals[acid])


def acid_factor(salt: str, acid: str) -> float:
    """Grams of an acid that a gram of its salt counts as, by molar masses.

    Parameters
    ----------
    salt, acid : str
        Substances; the same substance counts as itself.

    Returns
    -------
    float
        [g/g].

    Examples
    --------
    >>> round(acid_factor("sodium-benzoate", "benzoic-acid"), 3)
    0.847
    """
    if salt == acid:
        return 1.0
    own, as_acid = _ions()[salt][0].formula, _ions()[acid][0].formula
    return molar_mass(as_acid) / molar_mass(own)


def free_share(binding_per_percent: ArrayLike, surfactant_percent: ArrayLike) -> Array:
    """Share of a preservative that surfactant leaves free: total over free is 1 + S C.

    Parameters
    ----------
    binding_per_percent : array_like
        Constant of the pair [1/%].
    surfactant_percent : array_like
        Active matter [%]; broadcasts with it.

    Returns
    -------
    numpy.ndarray
        0 to 1 (J. Soc. Cosmet. Chem. 23:714, 1972).
    """
    return np.asarray(1.0 / (1.0 + np.multiply(binding_per_percent, surfactant_percent)))


def formaldehyde_percent(shares: Mapping[str, float]) -> float:
    """Formaldehyde that may come out of the preservatives of a product [% of it].

    Parameters
    ----------
    shares : mapping of str to float
        Substance to its share [%].
    """
    rows = read_table("trade/formaldehyde_releasers.csv", _ReleaserRow)
    each = molar_mass("CH2O")
    return sum(
        shares.get(row.substance, 0.0) * row.moles * each / molar_mass(row.formula) for row in rows
    )


def preserving(part: str, formula: Formula, ph: float | None) -> Preserving:
    """Preservatives of a bottle at its pH.

    Parameters
    ----------
    part : str
        Of the product.
    formula : Formula
        Of what is in that bottle.
    ph : float or None
        Of the bottle, as read.

    Returns
    -------
    Preserving
    """
    shares = formula.substances_percent()
    solved = _bottle(shares, ph)
    active = sum(formula.surfactants_percent().values())
    binding = number_of(NUMBERS, "bound_per_percent")
    free = [float(free_share(each, active)) for each in binding.ends]
    held = _preservatives(formula)
    return Preserving(
        part=part,
        state=_state(held, ph),
        ph=ph,
        ionic_strength=float(solved.ionic_strength),
        in_range=bool(solved.in_range),
        preservatives=held,
        acids=tuple(_acids(shares, solved, ph)),
        free_low=min(free),
        free_high=max(free),
        formaldehyde_percent=formaldehyde_percent(shares),
    )


def salts_ph(shares: Mapping[str, float]) -> float:
    """Acids, bases and salts of a bottle give this pH alone, without its surfactants.

    Parameters
    ----------
    shares : mapping of str to float
        Substance to its share [%].

    Returns
    -------
    float
        At 25 °C.
    """
    return float(_bottle(shares, None).ph)


def preservatives_at(ph: float) -> tuple[Material, ...]:
    """Preservatives whose suppliers say that they work at a pH, those without a warning first."""
    rows = dict.fromkeys(materials_by_name().values())
    releasing = {
        row.substance for row in read_table("trade/formaldehyde_releasers.csv", _ReleaserRow)
    }
    return tuple(
        row
        for row in rows
        if row.kind == "preservative"
        and row.name not in releasing
        and (row.works_low or 0.0) <= ph <= (row.works_high or 0.0)
    )


def _state(held: tuple[Preservative, ...], ph: float | None) -> str:
    if not held:
        return NONE
    if ph is None:
        return PH_UNREAD
    return UNTESTED if any(each.works_at(ph) for each in held) else OUTSIDE


def _preservatives(formula: Formula) -> tuple[Preservative, ...]:
    known = materials_by_name()
    return tuple(
        Preservative(name, row.label, percent, row.works_low or 0.0, row.works_high or 0.0)
        for name, percent in formula.materials_percent().items()
        if (row := known.get(name)) is not None and row.kind == "preservative"
    )


def _acids(
    shares: Mapping[str, float], solved: Equilibrium, ph: float | None
) -> Iterator[AcidPreservative]:
    """Acids that preserve, with their salts, at the pH of the solved bottle."""
    by_component: dict[str, float] = {}
    for name, percent in shares.items():
        rows = _ions().get(name, ())
        if rows and substances()[name].function in ("preservative", "booster"):
            acid = _acid_of(rows[0].component)
            percent = percent * acid_factor(name, acid)
            by_component[rows[0].component] = by_component.get(rows[0].component, 0.0) + percent
    for component, percent in by_component.items():
        unknown = float("nan")
        yield AcidPreservative(
            acid=_acid_of(component),
            percent=percent,
            unionised_share=unknown if ph is None else float(_unionised(solved, component)),
            quoted_share=unknown if ph is None else float(unionised_share(component, ph)),
        )


def _acid_of(component: str) -> str:
    """Acid of a component: the first of its substances, which the table has before the salts."""
    return next(name for name, rows in _ions().items() if rows[0].component == component)


def _bottle(shares: Mapping[str, float], ph: float | None) -> Equilibrium:
    """The water of a bottle with its salts and acids; what else holds its pH is an inert ion."""
    water = max(shares.get(WATER, 0.0), 1.0)
    totals: dict[str, Array] = added(
        {row.component: percent / water * 1000.0 / molar_mass(row.formula) * row.moles}
        for name, percent in shares.items()
        for row in _ions().get(name, ())
    )
    if ph is None:
        return solve(totals or {"cation": 0.0}, ROOM_C)
    for _ in range(2):
        # The ions that close the charge are part of the ionic strength.
        missing = float(solve(totals or {"cation": 0.0}, ROOM_C, ph=ph).charge_error)
        ion = "cation" if missing < 0 else "anion"
        totals = added((totals, {ion: abs(missing)}))
    return solve(totals, ROOM_C, ph=ph)


@cache
def _ions() -> Mapping[str, tuple[_IonRow, ...]]:
    """Rows of each substance, that of its acid or base first."""
    table: dict[str, tuple[_IonRow, ...]] = {}
    for row in read_table("trade/substance_ions.csv", _IonRow):
        table[row.substance] = (*table.get(row.substance, ()), row)
    return table
