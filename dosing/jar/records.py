"""Records of a jar test: the dose in this tub, what the jar told, and its readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dosing.bath.jugs import Jugs
from dosing.jar.doubts import Doubts
from dosing.jar.learnt import Learnt, PigmentNumber
from dosing.plan.cautions import Caution, Verdicts, exit_code, pour_forbidden
from dosing.plan.pouring import Pouring
from dosing.plan.records import DoseRange
from indicator.appearance import SeenColour
from indicator.notes import Note


@dataclass(frozen=True)
class StepFit:
    """One reading of the series."""

    number: int
    """From 1."""
    added: float
    """In the jar by then [unit of the titrant]."""
    ml: float | None
    """The same [mL]; null where powder is added dry."""
    read: float | str
    """pH, or a colour as # and six digits."""
    expected: float | str
    """As fitted."""
    word: str | None
    """The colour word that was noted, where its pH stands for one."""
    residual: float
    """Read less expected [pH], or CIEDE2000."""
    set_aside: bool
    """Whether it contradicts the others so far that it hardly counts."""


@dataclass(frozen=True)
class Addition:
    """A further addition to the same jar."""

    add: float
    """Beyond what is in the jar [unit of the titrant]."""
    total: float
    """In the jar then [unit of the titrant]."""
    ml: float | None
    """The addition [mL]; null where powder is added dry."""


@dataclass(frozen=True)
class TubDose:
    """The dose that a series leaves, in this tub, and how it is judged."""

    dose_g: DoseRange
    per_litre_g: DoseRange
    """Without what is not known of the tub's volume."""
    maximum_g: float
    """Never more than this in this tub."""
    volume_share: float
    """Share of what is left open of the dose (variance of its logarithm) that is the volume."""
    pouring: Pouring
    jugs: Jugs | None
    """What the largest portion is dissolved in; null where nothing is poured."""
    cautions: tuple[Caution, ...]
    not_for_bathing: bool
    verdicts: Verdicts
    """Whether the dose may be poured, given and sold."""


@dataclass(frozen=True)
class JarAnswer(TubDose, Doubts):
    """Answer of a jar test: the dose in this tub, and how its numbers moved."""

    title: str
    by: str
    """What the jar was read with."""
    unit: str
    """Of the additions."""
    target_ph: float
    target: str
    """As it was asked for; empty for the mildest obvious change."""
    target_met: bool
    """Whether the activator leads to the target, cautions aside."""
    alkalinity_meq_l: Learnt
    product_buffer: Learnt | None
    """Buffer of the foam bath over the expected one."""
    gas_lost: Learnt
    """Share of the free carbon dioxide that left the jar."""
    acid_scale: Learnt
    """Acid in the jar over what was written."""
    offset_ph: Learnt | None
    """By which the instrument is off at all readings."""
    pigment_numbers: tuple[PigmentNumber, ...]
    """Constants of the pigments."""
    dose_before_g: DoseRange
    per_litre_before_g: DoseRange
    volume_l: float
    ph_before: float
    after: SeenColour
    """The tub at the target, as the jar has its pigment."""
    steps: tuple[StepFit, ...]
    scatter: float
    """Of the readings over what their instrument should have."""
    next_additions: tuple[Addition, ...]
    """Further additions to the same jar; empty where they would tell little."""
    next_share_of_width: float
    """Expected width of the dose's interval with them over that without."""
    market: str
    notes: tuple[Note, ...]

    @property
    def pka_shift(self) -> Learnt | None:
        """Of the first constant of the first pigment [pH]."""
        if not self.pigment_numbers:
            return None
        pka = self.pigment_numbers[0].pka
        return pka.shifted(-pka.prior_best)

    @property
    def consistent(self) -> bool:
        """Whether the readings agree with one another and with the tap's own pH."""
        return self.worst_step is None

    @property
    def dose_held_back(self) -> bool:
        """Whether the series is too doubtful for its dose to be poured."""
        return bool(self.check_first)

    @property
    def forbidden(self) -> bool:
        """Whether a caution forbids the dose."""
        return pour_forbidden(self.cautions)

    @property
    def reached(self) -> bool:
        """Whether the dose leads to the target, no caution forbids it, nothing holds it back."""
        return self.target_met and exit_code(self.cautions) == 0 and not self.dose_held_back

    @property
    def stopped(self) -> bool:
        """Whether nothing is poured: the series contradicts itself, or the tub forbids it."""
        return self.dose_held_back or not self.verdicts.pour.allowed

    @property
    def pours_g(self) -> tuple[float, ...]:
        """Portions that are poured, one after the other [g]."""
        totals = () if self.stopped else self.pouring.totals_g
        return tuple(float(grams) for grams in np.diff(totals, prepend=0.0))

    @property
    def ph_acid_side(self) -> float:
        """5 % quantile of the pH over the possible tubs when pouring ends."""
        return self.pouring.final[0]

    @property
    def ph_alkaline_side(self) -> float:
        """95 % quantile of the same."""
        return self.pouring.final[1]

    @property
    def ph_acid_side_airing(self) -> float:
        """5 % quantile of the pH when the carbon dioxide has left."""
        return self.pouring.aired[0]

    @property
    def ph_alkaline_side_airing(self) -> float:
        """95 % quantile of the same."""
        return self.pouring.aired[1]
