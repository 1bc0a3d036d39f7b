"""Records of a soak: its steps, and the course of pH, gas and colour after the first pour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from dosing.bath.chalk import Chalked
from dosing.bath.jugs import Jugs
from dosing.ingredients.powders import Spoons, scale_floor_g
from dosing.plan.cautions import Caution, Verdicts
from dosing.plan.records import NO_SPOONS, Later, Sight
from dosing.soak.dissolving import GRAINS, POURED, STIRS
from dosing.soak.way_back import Return
from indicator.accepted import one_of
from indicator.appearance import SeenColour
from indicator.colourants import Range
from indicator.notes import Note

Array = NDArray[np.float64]

BACK = "back"
"""The step that leads to the colour of the start."""
MOST_MINUTES = 600


@dataclass(frozen=True)
class Manner:
    """Manner of pouring: jug or dry, and stirred how."""

    poured: str = "jug"
    """``"jug"`` (dissolved first) or ``"dry"``."""
    stir: str = "hand"
    """``"still"``, ``"hand"`` or ``"tap"`` (a running tap)."""
    grain: str | None = None
    """``"fine"``, ``"granular"`` or ``"coarse"``; None: as each powder is mostly sold."""
    minutes: int = 60
    """How long to look after the last pour."""

    def __post_init__(self) -> None:
        one_of("poured", self.poured, POURED)
        one_of("stir", self.stir, STIRS)
        if self.grain is not None:
            one_of("grain", self.grain, GRAINS)
        if not 1 <= self.minutes <= MOST_MINUTES:
            raise ValueError(f"minutes is {self.minutes}; accepted are 1 to {MOST_MINUTES}")


@dataclass(frozen=True)
class PourAt:
    """One pour."""

    at_s: float
    grams: float


@dataclass(frozen=True)
class LocalExtreme:
    """The most acid (or, with a base, most alkaline) water near the pour, powder grains aside."""

    ph: Range
    """The likely one, and both ends over the ways in which the pour may go."""
    at_s: float
    level: str
    """Caution level of the worst of these for these bathers."""
    gate_ph: float | None
    """The outermost pH that needs no written reason; None where nobody bathes."""
    seconds_below_gate: float | None
    """How long the water near the pour is beyond it [s]; None where nobody bathes."""
    seconds_below_gate_long: float | None
    """The longest over the ways."""


@dataclass(frozen=True)
class Ways:
    """A quantity along the time, over the ways in which a pour may go; shapes (times,)."""

    low: Array
    best: Array
    """As is thought likely."""
    high: Array


@dataclass(frozen=True, kw_only=True)
class Course:
    """A pour in time: how it spreads, airs and shows; arrays have the shape (times,)."""

    manner: Manner
    grain: Mapping[str, str]
    """Powder to the grain that was taken."""
    acid: bool
    """Whether the powder lowers the pH."""
    pours: tuple[PourAt, ...]
    jug_stirred_s: float | None
    """How long a jug is stirred until all is dissolved [s]; infinite if it does not fit, None
    where it is poured dry."""
    times_s: Array
    """From the first pour: closely after each pour, then wider apart, and the moment of
    `lowest_local` [s]."""
    ph: Ways
    """Of the tub away from the pour."""
    ph_local: Array
    """Near the pour."""
    temperature_c: Ways
    co2_share_left: Ways
    """Share of the gas that can leave which has not yet left; NaN where there is none."""
    undissolved_g: Array
    colours: SeenColour
    """Of the tub away from the pour."""
    colours_local: SeenColour
    lowest_local: LocalExtreme
    turned_local_s: float | None
    """When nine tenths of the change of colour are there where it is poured, from the first pour
    on; None where no change is seen."""
    turned_after_s: float | None
    """The same of the tub away from the pour."""
    steady_after_s: float | None
    """When all is dissolved and mixed; None if not within the time looked at."""
    wait_s: float | None
    """When it is mixed and both zones are within what the bathers may have, at the latest over the
    ways; None if not within the time looked at."""
    assumptions: tuple[Note, ...]
    warnings: tuple[Note, ...]
    cautions: tuple[Caution, ...]
    """Of the pour alone."""

    def pour_at(self, seconds: float) -> int:
        """Place of the pour that a moment belongs to: the latest that has begun by then."""
        return int(np.searchsorted([pour.at_s for pour in self.pours], seconds, side="right")) - 1

    def since_pour(self, seconds: float) -> float:
        """Time since that pour [s]."""
        return seconds - self.pours[self.pour_at(seconds)].at_s

    @property
    def last_pour_s(self) -> float:
        """When the last pour begins [s]."""
        return max((pour.at_s for pour in self.pours), default=0.0)


@dataclass(frozen=True, kw_only=True)
class Portions:
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
class Step(Portions):
    """One step of a soak: what is poured, and the tub after it."""

    wish: str
    """As it was written; empty for the pour of the plan."""
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
    printed_g: float = 0.0
    """`grams` as printed: to the step of a scale, as the plan prints its pour; of several steps
    down where the cautions leave nothing to spare, so that they add up to their totals."""
    printed_portions_g: tuple[float, ...] = ()
    """`portions_g` likewise; they add up to `printed_g`."""
    scale_g: float = 1.0
    """The step of the scale to which all of these are rounded."""
    after: Sight
    """Right after it, the gas still in the water."""
    after_airing: Sight
    """Once the gas has left."""
    later: Later
    """Hours after it, at both ends of what the tub may come to by itself."""
    ph_acid_side: float
    """5 % quantile over the possible tubs, with the gas or without it, whichever is lower."""
    ph_alkaline_side: float
    """95 % quantile, whichever is higher."""
    chalk: tuple[Chalked, ...]
    """`after` and `after_airing` with all of their excess chalk out, where calcite is far above
    saturation."""
    change_delta_e: float
    """CIEDE2000 against the step before."""
    level: str
    """Caution level of the pH over the possible tubs."""
    co2_litres: float
    """Gas that this step can set free, at the tub's temperature [L]."""
    fizzes: bool
    """Whether more gas comes free than water holds under air: it foams at once."""
    reached: bool
    """Whether the wish is met within the cautions, and none forbids the soak."""

    @property
    def back(self) -> bool:
        """Whether it leads to the colour of the start."""
        return self.wish.casefold() == BACK


@dataclass(frozen=True, kw_only=True)
class Soak:
    """A tub that is poured into, once or several times, and soaked in."""

    title: str
    bathers: str
    """``"adult"``, ``"child"`` or ``"nobody"`` as judged."""
    market: str
    volume_l: float
    depth_cm: float
    temperature_c: float
    """Temperature of the water before it is poured into [°C]."""
    before: Sight
    before_airing: Sight
    """The tub without any powder, once its gas has left."""
    steps: tuple[Step, ...]
    """One for the pour of a plan, or one for each that was asked for."""
    course: Course | None
    """The first pour in time; None where nothing is poured, or time was not asked for."""
    way_back: Step | None
    """What would lead back to the first colour from here; None where that is the last step already,
    where it is not to be poured, or where time was not asked for."""
    maximum_g: float | None
    """Never more than this of the activator in this tub; None of several steps."""
    wish_met: bool
    """Whether every wish is met, cautions aside."""
    reached: bool
    """Whether every wish is met and no caution forbids it."""
    forbidden: bool
    """Whether a caution forbids it: then nothing of it is to be poured."""
    not_for_bathing: bool
    verdicts: Verdicts
    """Whether it may be poured, given and sold."""
    assumptions: tuple[Note, ...]
    warnings: tuple[Note, ...]
    cautions: tuple[Caution, ...]
    """The heaviest first."""

    def first_poured(self) -> Step:
        """The first step that pours something; the first one where none does."""
        return next((step for step in self.steps if step.grams > 0), self.steps[0])

    @property
    def never_over_g(self) -> float:
        """The most, rounded down to the step of the pour's scale [g]; 0 where none is known."""
        return scale_floor_g(self.maximum_g or 0.0, self.first_poured().scale_g)

    @property
    def co2_litres(self) -> float:
        """Gas that all steps together can set free [L]."""
        return sum(step.co2_litres for step in self.steps)

    def to_pour(self) -> Soak:
        """The soak as it may be poured: no pours, no spoons and no most where it is forbidden."""
        if not self.forbidden:
            return self
        nothing: dict[str, Any] = {"portions_g": (), "printed_portions_g": (), "jugs": None}
        steps = tuple(
            replace(step, **nothing, spoons=NO_SPOONS, look_by=None, stop_ph=None)
            for step in self.steps
        )
        course = None if self.course is None else replace(self.course, pours=())
        most = None if self.maximum_g is None else 0.0
        return replace(self, steps=steps, course=course, way_back=None, maximum_g=most)
