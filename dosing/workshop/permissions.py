"""Permissions: how much of each substance a market allows in a product, and from which age."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from dosing.workshop.composition import NUMBERS
from dosing.workshop.preserving import acid_factor
from indicator.tables import Number, Sourced, citation, number_of, read_table

ANYWHERE = "any"
"""Rows that stand in where a market has no list."""
FORMALDEHYDE_RULES = ("EU", "UK")
"""Markets with a rule on labels of what sets formaldehyde free."""
WITHIN = 1e-9
"""Of a limit: what only rounding puts beyond it [%]."""


@dataclass(frozen=True)
class _LimitRow(Sourced):
    substance: str
    market: str
    as_substance: str
    limit_percent: float
    not_under_years: float
    entry: str


@dataclass(frozen=True)
class SubstanceLimit:
    """A substance of a product beside what a market allows of it."""

    market: str
    part: str
    """Of the product: ``"foam bath"``, or a brew by its name."""
    substance: str
    """That it is counted as: an acid for its salts too."""
    percent: float
    """In the product [%]."""
    limit_percent: float
    not_under_years: float
    """Youngest age that it may be used for; 0 where none is set [years]."""
    entry: str
    """Where in the market's list it stands."""
    source: str
    confidence: str

    @property
    def kept(self) -> bool:
        """Whether there is no more of it than is allowed."""
        return self.percent <= self.limit_percent + WITHIN


def substance_limits(
    part: str, shares: Mapping[str, float], market: str
) -> tuple[SubstanceLimit, ...]:
    """Limits of a market on the substances of a product.

    Parameters
    ----------
    part : str
        Of the product.
    shares : mapping of str to float
        Substance to its share of that part [%].
    market : str
        ``"US"``, ``"EU"``, ``"UK"`` or ``"other"``.

    Returns
    -------
    tuple of SubstanceLimit
        One for each substance, or acid with its salts, that is limited.
    """
    rows = read_table("trade/substance_limits.csv", _LimitRow)
    where = market if any(row.market == market for row in rows) else ANYWHERE
    found: dict[str, tuple[_LimitRow, float]] = {}
    for row in rows:
        if row.market == where and row.substance in shares:
            percent = shares[row.substance] * acid_factor(row.substance, row.as_substance)
            before = found[row.as_substance][1] if row.as_substance in found else 0.0
            found[row.as_substance] = row, before + percent
    return tuple(
        SubstanceLimit(
            market=market,
            part=part,
            substance=substance,
            percent=percent,
            limit_percent=row.limit_percent,
            not_under_years=row.not_under_years,
            entry=row.entry,
            source=citation(row.source),
            confidence=row.confidence,
        )
        for substance, (row, percent) in found.items()
    )


def formaldehyde_label_percent(market: str) -> Number:
    """Formaldehyde above which a label warns of it [% of the product]; our choice without a rule.

    Parameters
    ----------
    market : str
        As in `substance_limits`.
    """
    where = market if market in FORMALDEHYDE_RULES else ANYWHERE
    return number_of(NUMBERS, f"formaldehyde_label_{where}")
