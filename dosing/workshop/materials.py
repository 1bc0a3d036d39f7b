"""Raw materials and the substances in them: surfactants, preservatives and the rest."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from indicator.tables import Sourced, read_table

PERCENT = 100.0
WATER = "water"


@dataclass(frozen=True)
class Substance(Sourced):
    """A substance as a label and a safety sheet name it."""

    name: str
    inci: str
    """Its name on a label."""
    cas: str
    """Registry number; empty where none is usual."""
    function: str
    surfactant: str
    """Charge class of an active surfactant: anionic, amphoteric, non-ionic or cationic; else
    empty."""
    inci_us: str = ""
    """Its name on a label in the US, where that is another."""


@dataclass(frozen=True)
class Material(Sourced):
    """A raw material as a maker buys it."""

    name: str
    label: str
    kind: str
    """``surfactant``, ``preservative``, ``humectant``, ``thickener``, ``chelator``,
    ``adjuster``, ``perfume`` or ``water``."""
    ph_low: float | None
    """pH as supplied, of a powder in water."""
    ph_high: float | None
    use_low: float | None
    """Usual level in a foam bath [% as supplied]."""
    use_high: float | None
    works_low: float | None
    """pH of a product from which its suppliers say that it preserves."""
    works_high: float | None
    aliases: str


@dataclass(frozen=True)
class Part(Sourced):
    """A substance in a material."""

    material: str
    substance: str
    percent: float
    """By weight, as supplied [%]."""
    low: float | None
    high: float | None


def name_key(written: str) -> str:
    """A name as people write it, in the spelling of the tables; brackets only explain."""
    return re.sub(r"[\s_]+", "-", re.sub(r"\(.*?\)", "", written).strip().casefold())


@cache
def materials_by_name() -> dict[str, Material]:
    """Materials by their names, aliases and labels."""
    rows = read_table("trade/materials.csv", Material)
    labels = {name_key(row.label): row for row in rows}
    return labels | {name: row for row in rows for name in (row.name, *row.aliases.split())}


@dataclass(frozen=True)
class KnownNames:
    """Names that a product file may use for what is in its bottle."""

    preservatives: tuple[str, ...]
    surfactants: tuple[str, ...]
    others: tuple[str, ...]


def known_names() -> KnownNames:
    """Names of all materials, in the words of a maker."""
    rows = read_table("trade/materials.csv", Material)
    of_kind: dict[str, list[str]] = {"preservative": [], "surfactant": [], "other": []}
    for row in rows:
        kind = row.kind if row.kind in of_kind else "other"
        of_kind[kind].append(re.sub(r" \(.*?\)", "", row.label))
    preservatives, surfactants, others = map(tuple, of_kind.values())
    return KnownNames(preservatives, surfactants, others)


@cache
def substances() -> dict[str, Substance]:
    """Substances by their names."""
    return {row.name: row for row in read_table("trade/substances.csv", Substance)}


@cache
def parts_of(name: str) -> dict[str, float]:
    """Substances in a material as supplied, its water too.

    Parameters
    ----------
    name : str
        Of a material, without alias.

    Returns
    -------
    dict
        Substance to its share [%]; they come to 100. Empty for what is no material.
    """
    parts = {
        row.substance: row.percent
        for row in read_table("trade/material_parts.csv", Part)
        if row.material == name
    }
    rest = PERCENT - sum(parts.values())
    return parts | ({WATER: rest} if parts and rest > 1e-9 else {})
