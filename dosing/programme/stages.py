"""What a programme says: the frozen records of its steps."""

from __future__ import annotations

from dataclasses import dataclass

from dosing.cautions import Caution
from dosing.records import Spoons
from indicator.appearance import SeenColour
from indicator.notes import Note


@dataclass(frozen=True)
class Stage:
    """One step of a programme."""

    name: str
    """The wish as it was written."""
    powder: tuple[tuple[str, float], ...]
    """What is poured (key of the powder table, mass share)."""
    onwards: bool
    """Whether that is the recipe's activator."""
    grams: float
    portions_g: tuple[float, ...]
    """The pours of the step; several where the cautions ask for a look between."""
    spoons: Spoons
    total_g: float
    """All of this powder that is in the tub after the step."""
    ph: float
    """Right after it, the gas still in the water."""
    ph_airing: float
    """Once the gas has left."""
    ph_acid_side: float
    """5 % quantile over the possible tubs, with the gas or without it, whichever is lower."""
    ph_alkaline_side: float
    """95 % quantile, whichever is higher."""
    colour: SeenColour
    colour_airing: SeenColour
    change_delta_e: float
    """CIEDE2000 against the step before."""
    from_start_delta_e: float
    """CIEDE2000 between the tub at the start and the tub once the gas has left."""
    level: str
    """Caution level of the pH over the possible tubs."""
    co2_litres: float
    """Gas that this step can set free, at the tub's temperature [L]."""
    fizzes: bool
    """Whether more gas comes free than water holds under air: it foams at once."""
    wish_met: bool
    reached: bool
    """Whether the wish is met within the cautions."""
    needed: tuple[Note, ...]


@dataclass(frozen=True)
class Programme:
    """Several pours after each other."""

    title: str
    before_ph: float
    before: SeenColour
    stages: tuple[Stage, ...]
    reached: bool
    """Whether every step is reached and no caution forbids one."""
    volume_l: float
    depth_cm: float
    temperature_c: float
    vessel: str
    light: str
    bathers: str
    not_for_bathing: bool
    co2_litres: float
    """Gas that all steps together can set free [L]."""
    assumptions: tuple[Note, ...]
    warnings: tuple[Note, ...]
    cautions: tuple[Caution, ...]
