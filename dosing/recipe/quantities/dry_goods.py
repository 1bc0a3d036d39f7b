"""Petals and powders by the spoon, the cup, the pinch or the handful: what they weigh."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from dosing.ingredients.trade_values import NINE_IN_TEN
from indicator.tables import Sourced, read_table


@dataclass(frozen=True)
class DryGoods(Sourced):
    """Bulk density of dry goods: a row of ``data/trade/dry_goods.csv``."""

    name: str
    words: str
    """What people call it, separated by spaces."""
    bulk_low_g_ml: float
    bulk_g_ml: float
    """As it lies in a level spoon or cup [g/mL]."""
    bulk_high_g_ml: float

    @property
    def spread(self) -> float:
        """Relative standard deviation of the bulk density; low and high hold nine in ten."""
        return (self.bulk_high_g_ml - self.bulk_low_g_ml) / (NINE_IN_TEN * self.bulk_g_ml)


@cache
def dry_goods() -> dict[str, DryGoods]:
    """All dry goods by name, in the order in which their words count."""
    return {row.name: row for row in read_table("trade/dry_goods.csv", DryGoods)}


def goods_in(text: str) -> str:
    """Name of the dry goods that a text speaks of; empty if of none."""
    spoken = set(text.casefold().replace("_", " ").split())
    return next((name for name, row in dry_goods().items() if spoken & set(row.words.split())), "")


def without_goods(spelling: str) -> str:
    """Spelling of a unit without the words for what is measured: ``tbsp_dried_petals``."""
    known = {word for row in dry_goods().values() for word in row.words.split()}
    return "_".join(word for word in spelling.split("_") if word not in known)
