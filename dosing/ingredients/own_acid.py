"""Acid of their own: what petals, roots and berries bring into a tub besides colour.

Every infusion brings some. Of the sour ones it is published; of the others it is a guess with a
wide range. All of it is held to be strong acid, so that a tub rather ends milder than it is said
to than sourer.
"""

from __future__ import annotations

from dataclasses import dataclass

from dosing.ingredients.trade_values import NINE_IN_TEN
from indicator.pigments import ColourantLike, colourant
from indicator.tables import read_table

ANY = "any"
"""Name of the row for pigments that have none."""
UNKNOWN = "unknown"
"""Name of the row for a maker's own pigment of which nobody says what it is based on."""


@dataclass(frozen=True)
class OwnAcid:
    """Acid of a dried pigment, as strong base to pH 8."""

    meq_per_g: float
    """[meq per g of dried petals]."""
    relative_sd: float
    """Relative standard deviation."""


@dataclass(frozen=True)
class _AcidRow:
    name: str
    meq_per_g: float
    low: float
    high: float
    source: str
    confidence: str


def own_acid(which: ColourantLike) -> OwnAcid:
    """Acid that a colourant brings; none of a dye.

    Parameters
    ----------
    which : Colourant or str
        A record, or the name of a shipped colourant.

    Raises
    ------
    ValueError
        If there is no such colourant.

    Examples
    --------
    >>> own_acid("roselle").meq_per_g
    2.3
    """
    known = colourant(which)
    if known.kind == "dye":
        return OwnAcid(0.0, 0.0)
    rows = {row.name: row for row in read_table("colour/own_acid.csv", _AcidRow)}
    row = rows[UNKNOWN] if known.unrelated else rows.get(known.family, rows[ANY])
    return OwnAcid(row.meq_per_g, (row.high - row.low) / NINE_IN_TEN / row.meq_per_g)
