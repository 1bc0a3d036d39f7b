"""Records of a programme: its steps, with their amounts, pH and colours."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from dosing.bath.chalk import Chalked
from dosing.bath.jugs import Jugs
from dosing.ingredients.powders import Spoons
from dosing.plan.records import NO_SPOONS
from dosing.soak.records import JudgedSoak
from dosing.soak.way_back import Return
from indicator.appearance import SeenColour
from indicator.notes import Note


@dataclass(frozen=True, kw_only=True)
class StepPoured:
    """Portions of a step, and how far they lead."""

    grams: float
    portions_g: tuple[float, ...]
    """The pours of the step; several where the cautions ask for a look between."""
    look_by: str | None = None
    """What tells between portions that it is as wished: ``"colour"`` or ``"meter"``."""
    stop_ph: float | None = None
    """pH, as it is read, at which pouring stops."""
    comes_back: Return | None = None
    """When the first colour comes back; None of a step that does not wait for the gas to leave."""
    wish_met: bool
    needed: tuple[Note, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Stage(StepPoured):
    """One step of a programme."""

    wish: str
    """As it was written."""
    powder: tuple[tuple[str, float], ...]
    """What is poured (key of the powder table, mass share)."""
    onwards: bool
    """Whether that is the recipe's activator."""
    jugs: Jugs | None
    """What the largest portion is dissolved in; None where nothing is poured."""
    spoons: Spoons
    weigh: bool
    """Whether level spoons are too coarse to keep the cautions, or too large."""
    to_spare: bool
    """Whether the cautions allow the rounding up to the step of a scale as well."""
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
    chalk: tuple[Chalked, ...]
    """Both with all of their excess chalk out, where calcite is far above saturation."""
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
    reached: bool
    """Whether the wish is met within the cautions, and none forbids the programme."""


@dataclass(frozen=True, kw_only=True)
class Programme(JudgedSoak):
    """Several pours after each other."""

    before_ph_airing: float
    """Of the tub without any powder, once its gas has left."""
    before_airing: SeenColour
    stages: tuple[Stage, ...]
    co2_litres: float
    """Gas that all steps together can set free [L]."""

    def to_pour(self) -> Programme:
        """The programme as it may be poured: no portions and no spoons where it is forbidden."""
        if not self.forbidden:
            return self
        nothing: dict[str, Any] = {"portions_g": (), "jugs": None, "spoons": NO_SPOONS}
        stages = (replace(stage, **nothing, look_by=None, stop_ph=None) for stage in self.stages)
        return replace(self, stages=tuple(stages))
