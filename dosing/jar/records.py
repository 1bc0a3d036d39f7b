"""Records of a jar test: the dose in this tub, what the jar told, and its readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from dosing.bath.jugs import Jugs
from dosing.ingredients.hardness_units import alkalinity_in
from dosing.ingredients.powders import (
    kitchen_round_g,
    portions_on_scale_g,
    powders_on_scale_g,
    scale_floor_g,
    scale_step,
)
from dosing.ingredients.trade_values import NINE_IN_TEN, reading_spread
from dosing.jar.doubts import Doubts
from dosing.jar.learnt import Learnt, PigmentNumber
from dosing.jar.series import LeftOut
from dosing.plan.cautions import Caution, Verdicts, exit_code, pour_forbidden
from dosing.plan.pouring import Pouring
from dosing.plan.records import ColourAmount, DoseRange, Plan, correcting
from indicator.appearance import SeenColour
from indicator.notes import Note

AS_SURE_AS = ("jar-test", "rough-jar-test", "very-rough-jar-test")
"""Instruments that a recipe may name, from sure to rough."""
MOSTLY = 0.5
"""Share of the dose's spread from which the volume is what is worth reading next."""


@dataclass(frozen=True)
class StepFit:
    """One reading of the series."""

    number: int
    """From 1."""
    added: float
    """In the jar by then [unit of the titrant]."""
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
class JarAnswer(Doubts):
    """Answer of a jar test: the dose in this tub, and how its numbers moved."""

    title: str
    by: str
    """What the jar was read with."""
    unit: str
    """Of the additions."""
    activator: tuple[tuple[str, float], ...]
    """Powders of the blend (key of the powder table, mass share)."""
    target_ph: float
    target: str
    """As it was asked for; empty for the surest change that is mild."""
    target_met: bool
    """Whether the activator leads to the target, cautions aside."""
    dose_g: DoseRange
    dose_before_g: DoseRange
    per_litre_g: DoseRange
    """Without what is not known of the tub's volume."""
    per_litre_before_g: DoseRange
    maximum_g: float
    """Never more than this in this tub."""
    volume_l: float
    volume_share: float
    """Share of what is left open of the dose (variance of its logarithm) that is the volume."""
    colours: tuple[ColourAmount, ...]
    """What goes into the tub before the activator."""
    foam_bath_ml: float
    pouring: Pouring
    jugs: Jugs | None
    """What the largest portion is dissolved in; null where nothing is poured."""
    ph_before: float
    before: SeenColour
    """The tub before, as the jar has its pigment."""
    after: SeenColour
    """The tub at the target, as the jar has its pigment."""
    alkalinity_meq_l: Learnt
    careful_share: float | None
    """Share of that alkalinity that a recipe keeps, 0 to 1, so that its plan allows no more than
    this answer does; None where a plan would allow more all the same."""
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
    steps: tuple[StepFit, ...]
    left_out: tuple[LeftOut, ...]
    """Photographs that told no colour."""
    scatter: float
    """Of the readings over what their instrument should have."""
    undo_soda_g: float
    """Baking soda that takes the acid of all portions back, spare ones too [g]."""
    undo_soda_teaspoons: float
    bathers: str
    """``"adult"``, ``"child"`` or ``"nobody"`` as judged."""
    cautions: tuple[Caution, ...]
    not_for_bathing: bool
    verdicts: Verdicts
    """Whether the dose may be poured, given and sold."""
    market: str
    notes: tuple[Note, ...]
    """What it rests on."""

    wait_min = Plan.wait_min

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
    def poured(self) -> bool:
        """Whether something is poured: for a wish that cannot be met nothing is."""
        return not self.stopped and self.target_met and self.dose_g.best > 0

    @property
    def pours_g(self) -> tuple[float, ...]:
        """Portions that are poured, one after the other [g]."""
        totals = self.pouring.totals_g if self.poured else ()
        return tuple(float(grams) for grams in np.diff(totals, prepend=0.0))

    @property
    def scale_step_g(self) -> float:
        """Step of the kitchen scale to which the dose is weighed [g]."""
        return scale_step(self.dose_g.best)

    @property
    def never_over_g(self) -> float:
        """Never more than this: the maximum, rounded down to the scale's step [g]."""
        return scale_floor_g(self.maximum_g, self.scale_step_g)

    @property
    def pour_g(self) -> float:
        """Dose to the step of a kitchen scale, never above the most [g]."""
        rounded_g = float(kitchen_round_g(self.dose_g.best, self.scale_step_g))
        return rounded_g if self.stopped else min(rounded_g, self.never_over_g)

    @property
    def powder_g(self) -> tuple[tuple[str, float], ...]:
        """Grams of each powder of the blend; they add up to the dose on the scale [g]."""
        return powders_on_scale_g(dict(self.activator), self.pour_g)

    @property
    def portions_g(self) -> tuple[float, ...]:
        """`pours_g` as a kitchen scale shows them, none above the most [g]."""
        totals = np.cumsum(self.pours_g).tolist()
        return tuple(portions_on_scale_g(totals, self.maximum_g, self.scale_step_g)[1])

    @property
    def spare_portions(self) -> tuple[bool, ...]:
        """Which of `portions_g` are poured only where the tub has not turned."""
        dose_g = self.dose_g.best * 1.001
        return tuple(total > dose_g for total in np.cumsum(self.pours_g).tolist())

    @property
    def correcting(self) -> str:
        """As `dosing.plan.records.correcting`; ``"nothing-poured"`` where nothing is."""
        if not self.poured:
            return "nothing-poured"
        most_g = self.pour_g if any(self.spare_portions) else self.never_over_g
        return correcting(self.before, self.pour_g, most_g)

    @property
    def once_more_g(self) -> float:
        """The one further portion for a tub that has not turned [g]; 0 where none may follow."""
        return round(self.never_over_g - self.pour_g, 6) if self.correcting == "once-more" else 0.0

    @property
    def recipe_instrument(self) -> str | None:
        """Instrument that a recipe may name for the alkalinity: no surer than what the jar found.

        None where a plan of it would allow more than the jar does.
        """
        level = self.alkalinity_meq_l
        sd = (level.high - level.low) / NINE_IN_TEN
        sds = {tool: reading_spread("alkalinity", tool).sd(level.best) for tool in AS_SURE_AS}
        rougher = (tool for tool, its_sd in sds.items() if float(its_sd) >= sd)
        untold = self.dose_held_back or self.careful_share is None
        return None if untold else next(rougher, AS_SURE_AS[-1])

    @property
    def recipe_reading(self) -> dict[str, str]:
        """Keys for the water of a recipe, as they are written; empty where too little was found."""
        if self.recipe_instrument is None or self.careful_share is None:
            return {}
        level = self.alkalinity_meq_l
        best, low, high = (
            f"{float(alkalinity_in(self.careful_share * meq_l, 'ppm')):.0f} ppm"
            for meq_l in (level.best, level.low, level.high)
        )
        instrument = self.recipe_instrument.replace("-", " ")
        ends = {"alkalinity_low": low, "alkalinity_high": high}
        return {"alkalinity": best, "instrument": instrument, **ends}

    @property
    def why_moved(self) -> tuple[Note, ...]:
        """Why the aim is not the plan's; empty where it is."""
        return tuple(note for note in self.notes if note.code.startswith("jar.note.aim-"))

    @property
    def volume_by_far(self) -> bool:
        """Whether what is open of the dose is mostly the tub's volume."""
        return self.volume_share > MOSTLY

    @property
    def ph_acid_side(self) -> float:
        """5 % quantile of the pH over the possible tubs when pouring ends."""
        return self.pouring.final[0]

    @property
    def ph_alkaline_side(self) -> float:
        """95 % quantile of the same."""
        return self.pouring.final[1]
