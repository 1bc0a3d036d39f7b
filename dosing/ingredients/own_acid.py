"""Acid of their own: what petals, roots and berries bring into a tub besides colour.

Every infusion brings some. Of the sour ones it is published; of the others it is a guess with a
wide range. All of it is held to be strong acid, so that a tub rather ends milder than it is said
to than sourer.
"""

from __future__ import annotations

from dataclasses import dataclass

from dosing.ingredients.trade_values import NINE_IN_TEN
from indicator.pigments import ColourantLike, colourant
from indicator.tables import Sourced, read_table

ANY = "any"
"""Name of the row for pigments that have none."""
UNKNOWN = "unknown"
"""Name of the row for a maker's own pigment of which nobody says what it is based on."""


@dataclass(frozen=True)
class OwnAcid(Sourced):
    """Acid of a dried pigment, as strong base to pH 8: a row of ``data/colour/own_acid.csv``."""

    name: str
    """Family of pigments."""
    meq_per_g: float
    """[meq per g of dried petals]."""
    low: float
    """Lower end of nine in ten [meq per g]."""
    high: float
    """Upper end of nine in ten [meq per g]."""

    @property
    def relative_sd(self) -> float:
        """Relative standard deviation."""
        return (self.high - self.low) / NINE_IN_TEN / self.meq_per_g if self.meq_per_g else 0.0


NO_ACID = OwnAcid("dye", 0.0, 0.0, 0.0, source="", confidence="")


def own_acid(which: ColourantLike | None) -> OwnAcid:
    """Acid that a colourant brings; none of a dye.

    Parameters
    ----------
    which : Colourant or str, optional
        A record, or the name of a shipped colourant; None for a pigment like most.

    Raises
    ------
    ValueError
        If there is no such colourant.

    Examples
    --------
    >>> own_acid("roselle").meq_per_g
    2.3
    """
    rows = {row.name: row for row in read_table("colour/own_acid.csv", OwnAcid)}
    if which is None:
        return rows[ANY]
    known = colourant(which)
    if known.kind == "dye":
        return NO_ACID
    return rows[UNKNOWN] if known.unrelated else rows.get(known.family, rows[ANY])
