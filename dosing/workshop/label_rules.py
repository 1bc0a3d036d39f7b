"""Rules for labels: which lines a market asks for, where that is written, and who read it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from indicator.tables import Sourced, read_table, row_named

LABELS = ("bottle", "sachet", "colour", "outer")


@dataclass(frozen=True)
class LabelRule(Sourced):
    """A rule for one line of the labels of a market."""

    line: str
    """What stands there: ``function``, ``content``, ``ingredients`` ..."""
    market: str
    on: str
    """Labels that it holds for; ``rules`` where it holds for all that is written."""
    rule: str
    """Where it is written, short enough to stand beside the line."""
    read: str
    """Day on which its text was read, ``YYYY-MM-DD``; empty where nobody did."""
    status: str
    """``read``, or ``check`` where nobody read it in full: then no wording is claimed."""
    wording: str
    """Text that the rule prescribes letter by letter; empty where it does not, or is not read."""
    least_letter_mm: float | None
    """Height that small letters must have [mm]."""

    @property
    def to_check(self) -> bool:
        """Whether the maker has to look it up."""
        return self.status != "read"


@dataclass(frozen=True)
class LabelSize(Sourced):
    """Size of a label."""

    name: str
    """One of `LABELS`."""
    width_mm: float
    height_mm: float
    least_letter_mm: float
    """Small letters are never lower than that [mm]."""


@cache
def label_rules(market: str) -> dict[str, LabelRule]:
    """Rules of a market by the line that they are about; empty where none are known."""
    rows = read_table("trade/label_rules.csv", LabelRule)
    return {row.line: row for row in rows if row.market == market}


def label_size(label: str) -> LabelSize:
    """Size of one of `LABELS`; raises ValueError if there is no such label."""
    return row_named("trade/label_sizes.csv", LabelSize, label, "label")


def least_letter_mm(label: str, market: str) -> float:
    """Height of the smallest small letters on a label.

    Parameters
    ----------
    label : str
        One of `LABELS`.
    market : str
        Whose rules count.

    Returns
    -------
    float
        [mm]
    """
    asked = (rule.least_letter_mm or 0.0 for rule in label_rules(market).values())
    return max(label_size(label).least_letter_mm, *asked, 0.0)
