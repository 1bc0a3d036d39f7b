"""Records of one pour or several: how it is poured, and the course of pH, gas and colour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dosing.bath.chalk import Chalked
from dosing.bath.jugs import Jugs
from dosing.plan.cautions import Caution, Verdicts
from dosing.soak.dissolving import GRAINS, POURED, STIRS
from indicator.accepted import one_of
from indicator.appearance import SeenColour
from indicator.notes import Note

Array = NDArray[np.float64]

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


@dataclass(frozen=True, kw_only=True)
class Soak:
    """A tub that is poured into and soaked in."""

    title: str
    bathers: str
    """``"adult"``, ``"child"`` or ``"nobody"`` as judged."""
    vessel: str
    """``"tub"``, ``"jar"`` or ``"bottle"``: how the water is looked at."""
    light: str
    depth_cm: float
    before_ph: float
    before: SeenColour
    assumptions: tuple[Note, ...]
    warnings: tuple[Note, ...]
    cautions: tuple[Caution, ...]
    """The heaviest first."""


@dataclass(frozen=True, kw_only=True)
class JudgedSoak(Soak):
    """A soak with all that is to be said of its dose as well."""

    volume_l: float
    before_temperature_c: float
    """Temperature of the water before it is poured into [°C]."""
    wish_met: bool
    """Whether every wish is met, cautions aside."""
    reached: bool
    """Whether every wish is met and no caution forbids it."""
    forbidden: bool
    """Whether a caution forbids it: then nothing of it is to be poured."""
    not_for_bathing: bool
    verdicts: Verdicts
    """Whether it may be poured, given and sold."""
    market: str


@dataclass(frozen=True)
class PourAt:
    """One pour."""

    at_s: float
    grams: float


@dataclass(frozen=True)
class LocalExtreme:
    """The most acid (or, with a base, most alkaline) water near the pour, powder grains aside."""

    ph: float
    low: float
    """Over the ways in which it may go."""
    high: float
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
class OtherWay:
    """Extreme of the pH near the pour if it were poured the other way."""

    poured: str
    """``"jug"`` or ``"dry"``."""
    lowest_local: LocalExtreme


@dataclass(frozen=True)
class Jug:
    """The jugs that the largest portion is dissolved in, as it is poured."""

    filled: Jugs
    dissolves_s: float
    """Stirring until all is dissolved [s]; infinite if it does not fit."""


@dataclass(frozen=True, kw_only=True)
class Timeline(Soak):
    """A pour and the soak after it; arrays have the shape (times,).

    The cautions are of the pour alone.
    """

    manner: Manner
    grain: Mapping[str, str]
    """Powder to the grain that was taken."""
    activator: tuple[tuple[str, float], ...]
    pours: tuple[PourAt, ...]
    jug: Jug | None
    acid: bool
    """Whether the activator lowers the pH."""
    times_s: Array
    """From the first pour: every second of the minute after each pour, then every minute, and the
    moment of `lowest_local` [s]."""
    ph: Array
    """Of the tub away from the pour."""
    ph_low: Array
    """Lowest over the ways in which it may go."""
    ph_high: Array
    ph_local: Array
    """Near the pour."""
    temperature_c: Array
    temperature_low_c: Array
    temperature_high_c: Array
    co2_share_left: Array
    """Share of the gas that can leave which has not yet left; NaN where there is none."""
    co2_share_low: Array
    co2_share_high: Array
    undissolved_g: Array
    colours: SeenColour
    """Of the tub away from the pour."""
    colours_local: SeenColour
    change_delta_e: Array
    """CIEDE2000 against the tub before."""
    closed_ph: float
    """All dissolved and mixed, no gas gone."""
    open_ph: float
    """At rest with the air."""
    chalk: tuple[Chalked, ...]
    """Both with all of their excess chalk out, where calcite is far above saturation."""
    lowest_local: LocalExtreme
    turned_after_s: float | None
    """When nine tenths of the change of colour are there, from the first pour on; None where no
    change is seen."""
    steady_after_s: float | None
    """When all is dissolved and mixed; None if not within the time looked at."""
    wait_s: float | None
    """When it is mixed and both zones are within what the bathers may have, at the latest over the
    ways; None if not within the time looked at."""

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

    @property
    def poured_g(self) -> float:
        """Activator of all pours [g]."""
        return float(sum(pour.grams for pour in self.pours))


@dataclass(frozen=True, kw_only=True)
class Course(JudgedSoak, Timeline):
    """A pour and the soak after it, judged with its plan; cautions are of pour and dose."""

    dose_g: float
    maximum_g: float
    """Never more than this in this tub."""
    level: tuple[str, ...]
    """Caution level of the tub at each time, as far to either side as the readings leave it."""
    level_local: tuple[str, ...]
    """The same where it is poured."""
    other_way: OtherWay

    def to_pour(self) -> Course:
        """The course as it may be poured: no pours and no most where it is forbidden."""
        return replace(self, pours=(), jug=None, maximum_g=0.0) if self.forbidden else self
