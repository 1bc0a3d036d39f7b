"""The dose card as data: what its page and its paper show, and never work out themselves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

Grid = tuple[tuple[float, ...], ...]
"""A number by row of the readings and by litre node."""
ByBather = Mapping[str, Grid]


SACHET = "sachet"
"""Why a place has no dose: a whole sachet is more than a portion of its plan."""


@dataclass(frozen=True)
class CardReading:
    """One reading that a customer may pick."""

    row: int
    """Row of the tables that answers it."""
    label: str = ""
    """What a strip's pad shows [mg/L CaCO3]."""
    key: str = ""
    """``"soft"``, ``"middling"`` or ``"hard"`` where nobody read anything."""


@dataclass(frozen=True)
class Drops:
    """Rows by the drops of a titration kit."""

    unit_ppm: float
    """What one drop is worth [mg/L CaCO3]."""
    rows: tuple[int, ...]
    """Row of 0 drops, of 1 drop and so on."""


@dataclass(frozen=True)
class CardReadings:
    """All that a customer may have read."""

    strip: tuple[CardReading, ...]
    drops: Drops
    none: tuple[CardReading, ...]


@dataclass(frozen=True)
class PowderShare:
    """One powder of the activator."""

    label: str
    share: float
    """By mass, 0 to 1."""
    g_per_tsp: float | None
    """Of a level teaspoon, on its heavy side [g]."""


@dataclass(frozen=True)
class FillMark:
    """A fill that a drawing of the tub shows."""

    name: str
    litres: float
    share: float
    """Of the full tub, 0 to 1."""


@dataclass(frozen=True)
class PhTable:
    """PH of the tub by reading, litres and dose, with unread inputs at their usual values."""

    grams_per_litre: Grid
    """Dose nodes of each row, from 0 up [g/L]."""
    rows: tuple[tuple[tuple[float, ...], ...], ...]
    """pH by row, litre node and dose node."""


@dataclass(frozen=True)
class LevelBand:
    """A stretch of pH of one caution level."""

    ph_low: float
    ph_high: float
    code: str
    """``"ok"``, ``"mind"``, ``"justify"`` or ``"stop"``."""


@dataclass(frozen=True)
class ColourGrid:
    """Colour of the tub by pH and strength."""

    ph: tuple[float, ...]
    strength_depth: tuple[float, ...]
    """Strength of all colours times depth."""
    hex: tuple[tuple[str, ...], ...]
    """``#rrggbb`` by pH and strength times depth."""
    words: tuple[tuple[str, ...], ...]
    """Colour in words, in the card's language."""


@dataclass(frozen=True)
class CardCaution:
    """One caution, in the card's language."""

    level: str
    code: str
    text: str
    bathers: tuple[str, ...]


@dataclass(frozen=True)
class Card:
    """Everything on a dose card."""

    language: str
    units: str
    """``"metric"`` or ``"us"``."""
    title: str
    lot: str | None
    edition: str | None
    use_by: str | None
    """Last day of use, ``YYYY-MM-DD``."""
    accent: str
    """``#rrggbb``"""
    url: str | None
    directions: tuple[str, ...]
    sachet_g: float | None
    """Activator in one sachet [g]; None where the customer weighs or spoons."""
    powder: tuple[PowderShare, ...]
    first_in: tuple[str, ...]
    """Ready sentences on what goes in before the activator."""
    readings: CardReadings
    litres: tuple[float, ...]
    """Fill nodes, rising [L]."""
    marks: tuple[FillMark, ...]
    area_cm2: float
    """Of the water, which turns litres into depth [cm²]."""
    measured_share: float
    """Litres over length times width times depth at the waterline, 0 to 1."""
    bathers: tuple[str, ...]
    """Those that the card offers a dose to."""
    limit: ByBather
    """Never more than this, by bather, row and litre node [g]."""
    dose: ByBather
    """[g]; 0 where there is none."""
    why: Mapping[str, tuple[tuple[str, ...], ...]]
    """Why there is no dose: ``"needs-reading"``, ``"nothing-safe"``, ``"no-change"``,
    ``"forbidden"``; empty where there is one."""
    chance: ByBather
    """Share of such tubs in which the wish comes true, 0 to 1."""
    more: ByBather
    """One further portion within the limit [g]; 0 where none may follow."""
    portions: ByBather
    """Number of portions that the dose goes in."""
    first: ByBather
    """The first portion [g]."""
    ph_low: ByBather
    """5 % side of the pH of such tubs after the dose; 0 where there is none."""
    ph_high: ByBather
    """95 % side."""
    ph: PhTable
    level: Mapping[str, tuple[LevelBand, ...]]
    colour: ColourGrid
    strength_total: float
    """Strength of all colours times litres: over litres and times depth [cm] it is the column of
    the colour table."""
    undo_soda_g_per_g: float
    """Baking soda that takes a gram of activator back [g]."""
    undo_soda_g_per_tsp: float
    """Of a level teaspoon of baking soda, where it lies loosest [g]."""
    jug_l_per_g: float
    """Tub water in which a gram is dissolved first [L]."""
    stir_min: int
    wait_min: int
    cautions: tuple[CardCaution, ...]
    coverage: float
    """Share of the tubs between the two sides of the pH."""
    made: str
    """Day on which the card was made, ``YYYY-MM-DD``."""
