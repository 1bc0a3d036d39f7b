"""Acids and bases that adjust a batch, as powders, liquids or solutions of them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

from dosing.equilibrium import Array
from dosing.ingredients.molar_mass import molar_mass
from dosing.ingredients.powders import powder
from dosing.recipe.quantities import InputError, share
from indicator.notes import say
from indicator.tables import Sourced, read_table

ALIKE = 0.8
"""How alike a name must be to that of a caustic base before it is offered instead, 0 to 1."""
_WRITTEN = re.compile(r"(?:(?P<share>[\d.,]+\s*%)\s*)?(?P<name>.+?)(?:\s+solution)?", re.IGNORECASE)


@dataclass(frozen=True)
class Adjuster:
    """An acid or base that is weighed into a batch to move its pH."""

    name: str
    label: str
    """For people, with its strength."""
    reaction: str
    """``"acid"`` or ``"base"``."""
    mol_per_g: Mapping[str, float]
    """Component to moles in a gram as weighed."""
    caustic: bool = False
    """Whether it burns skin and eyes."""

    def moles(self, grams: Array) -> dict[str, Array]:
        """Moles of each component in so many grams, shape of the grams."""
        return {name: moles * grams for name, moles in self.mol_per_g.items()}


@dataclass(frozen=True)
class _BaseRow(Sourced):
    """A row of ``data/trade/adjusters.csv``."""

    name: str
    label: str
    component: str
    moles: float
    formula: str
    mass_share: float
    aliases: str

    @property
    def mol_per_g(self) -> dict[str, float]:
        return {self.component: self.mass_share * self.moles / molar_mass(self.formula)}


def adjuster_of(written: str, field: str = "with") -> Adjuster:
    """An acid or base as a person writes it.

    Parameters
    ----------
    written : str
        For instance ``"citric acid"`` or ``"20 % citric solution"``: by weight, in water.
    field : str
        Where it was written.

    Returns
    -------
    Adjuster

    Raises
    ------
    InputError
        If it is not known, or neither acid nor base.

    Examples
    --------
    >>> adjuster_of("20 % citric solution").label
    'citric acid solution 20 %'
    """
    match = _WRITTEN.fullmatch(written.strip())
    if match is None:
        raise InputError(say("adjust.error.stock", {"field": field, "value": written}), field)
    strength = 1.0 if match["share"] is None else share(match["share"], field)
    name = re.sub(r"\s+", "-", match["name"].strip().casefold())
    pure = _pure(name, field)
    if pure.reaction == "neutral" or not strength > 0:
        raise InputError(say("adjust.error.neutral", {"field": field, "value": written}), field)
    if match["share"] is None:
        return pure
    label = say("adjust.solution", {"stock": pure.label, "percent": 100.0 * strength})
    thinned = {component: strength * moles for component, moles in pure.mol_per_g.items()}
    return Adjuster(pure.name, label, pure.reaction, thinned, pure.caustic)


def _pure(name: str, field: str) -> Adjuster:
    row = _adjusters().get(name)
    if row is not None:
        return Adjuster(row.name, row.label, "base", row.mol_per_g, caustic=True)
    try:
        known = powder(name)
    except ValueError as error:
        lye = get_close_matches(name, list(_adjusters()), n=1, cutoff=ALIKE)
        told = {"field": field, "value": name}
        text = say("adjust.error.base", told | {"name": lye[0]}) if lye else str(error)
        raise InputError(text, field, name) from None
    return Adjuster(known.name, known.label, known.reaction, known.mol_per_g)


@cache
def _adjusters() -> dict[str, _BaseRow]:
    rows = read_table("trade/adjusters.csv", _BaseRow)
    return {name: row for row in rows for name in (row.name, *row.aliases.split())}
