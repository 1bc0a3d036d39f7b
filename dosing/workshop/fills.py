"""Fill limits of packs: the least by weights-and-measures law, the most by the plan."""

from __future__ import annotations

import math
from dataclasses import dataclass

from dosing.ingredients.powders import scale_floor_g
from indicator.tables import Sourced, read_table

TWICE = 2.0
"""No pack may lack this many times the tolerable underfill."""


@dataclass(frozen=True)
class _UnderfillRow(Sourced):
    """A row of ``data/trade/underfill.csv``."""

    above: float
    to: float
    percent: float | None
    amount: float | None


@dataclass(frozen=True)
class PackFill:
    """Limits of the contents of one kind of pack, as a balance without the pack shows them."""

    pack: str
    """``"bottle"``, ``"sachet"`` or ``"colour"``."""
    of: str
    """Plant or dye of a colour; empty for the others."""
    count: int
    nominal: float
    """On the label [mL or g]."""
    unit: str
    nominal_g: float
    """On average at least this [g]."""
    least_g: float
    """Few below this [g]; NaN where no rule is known."""
    never_under_g: float
    """None below this [g]; NaN where no rule is known."""
    most_g: float
    """None above this [g]; NaN where nothing limits it."""
    law_known: bool
    """Whether the rule is that of all markets of the product."""

    @property
    def most_shown_g(self) -> float:
        """None above this, as a balance for such packs shows it, never rounded up [g]."""
        if math.isnan(self.most_g):
            return math.nan
        return scale_floor_g(self.most_g, 0.1 if self.most_g >= 1.0 else 0.01)

    def room_g(self, step_g: float) -> float:
        """Largest content of which a balance tells mean and most apart; NaN where none limits it.

        Parameters
        ----------
        step_g : float
            Of the balance [g].

        Returns
        -------
        float
            One step below the most, on its step [g].
        """
        return scale_floor_g(self.most_g, step_g) - step_g if self.most_g > 0 else math.nan

    @property
    def fits(self) -> bool:
        """Whether what is on the label may be in it at all."""
        return not self.most_g < self.nominal_g


def underfill(nominal: float) -> float:
    """Tolerable negative error of a pack by its nominal content, EU and UK.

    Parameters
    ----------
    nominal : float
        [g or mL].

    Returns
    -------
    float
        In the same unit; NaN where the table has no row.

    Examples
    --------
    >>> underfill(240.0), round(underfill(20.0), 9)
    (9.0, 1.8)
    """
    for row in read_table("trade/underfill.csv", _UnderfillRow):
        # The first row holds its lower end too.
        if row.above < nominal <= row.to or nominal == row.above == first_nominal():
            return row.amount if row.amount is not None else nominal * (row.percent or 0.0) / 100.0
    return math.nan


def first_nominal() -> float:
    """Smallest nominal content that the table of underfill holds [g or mL]."""
    return min(row.above for row in read_table("trade/underfill.csv", _UnderfillRow))


def pack_fill(
    pack: str,
    count: int,
    nominal: float,
    unit: str,
    *,
    of: str = "",
    density_g_ml: float = 1.0,
    most_g: float = math.nan,
    law_known: bool = True,
) -> PackFill:
    """Limits of one kind of pack.

    Parameters
    ----------
    pack : {"bottle", "sachet", "colour"}
        Its kind.
    count : int
        Packs.
    nominal : float
        Content on the label.
    unit : {"mL", "g"}
        Its unit.
    of : str
        Plant or dye of a colour.
    density_g_ml : float
        Of what is in it [g/mL]; 1 where the label has grams.
    most_g : float
        None above this [g].
    law_known : bool
        Whether the underfill rule is that of all markets.

    Returns
    -------
    PackFill
    """
    lacks = underfill(nominal)
    return PackFill(
        pack=pack,
        of=of,
        count=count,
        nominal=nominal,
        unit=unit,
        nominal_g=nominal * density_g_ml,
        least_g=(nominal - lacks) * density_g_ml,
        never_under_g=(nominal - TWICE * lacks) * density_g_ml,
        most_g=most_g,
        law_known=law_known,
    )
