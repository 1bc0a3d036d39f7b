"""Records of a plan: dose, colours, cautions and odds, as every face shows them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dosing.bath.chalk import Chalked
from dosing.bath.jugs import Jugs
from dosing.bath.mixing import taken
from dosing.bath.possible_tubs import ACID_SIDE, ALKALINE_SIDE, COVERAGE
from dosing.ingredients.powders import (
    LEAST_SPOON,
    Spoons,
    portions_on_scale_g,
    powders_on_scale_g,
    scale_floor_g,
    scale_step,
)
from dosing.plan.brewing import TintAmount
from dosing.plan.cautions import Caution, Verdicts, pour_forbidden
from dosing.plan.next_reading import NextStep
from indicator.appearance import SeenColour
from indicator.colourants import Colourant, Range
from indicator.notes import Note
from indicator.words import Wish as Wish

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Sight:
    """One moment of the bath as the eye has it."""

    moment: str
    """``"before"``, ``"after"``, ``"after-airing"`` (carbon dioxide gone) or ``"bottle"``."""
    ph: float
    colour: SeenColour
    """A single colour, batch shape ()."""


@dataclass(frozen=True)
class DoseRange:
    """Grams of activator, with what the readings leave open."""

    low: float
    best: float
    high: float
    coverage: float
    """Share of the possible tubs whose right dose lies between low and high, 0 to 1."""

    @classmethod
    def among(cls, needed: Array, best: float) -> DoseRange:
        """Range of the doses that the possible tubs need [g].

        Parameters
        ----------
        needed : numpy.ndarray
            Dose that each needs [g], shape (tubs,); NaN where none does.
        best : float
            Dose for the tub as read [g].

        Returns
        -------
        DoseRange
            Quantiles `ACID_SIDE` and `ALKALINE_SIDE`, never without the best.
        """
        if best <= 0 or not np.isfinite(needed).any():
            return cls(best, best, best, COVERAGE)
        low, high = np.nanquantile(needed, (ACID_SIDE, ALKALINE_SIDE))
        return cls(min(float(low), best), best, max(float(high), best), COVERAGE)


STIR_MIN = 1.0
"""Minutes for which a pour is stirred by hand."""
EARLY = 0.8
"""Share of the dose at which a tub shall not yet look as it does at its end."""
LEAST_DRIFT_PH = 0.3
"""A pH that moves less than this by itself is not worth a word."""
WORTH_MORE = 0.05
"""Share of the dose from which a further portion is worth pouring."""
NO_SPOONS = Spoons(0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Pour:
    """One portion of a plan."""

    grams: float
    total_g: float
    """All that is in the tub after this portion."""
    ph: float
    """Expected pH after it."""
    ph_acid_side: float
    """5 % quantile of the pH after it, among the tubs that still need it."""
    spoons: Spoons
    spare: bool = False
    """Whether it leads beyond the dose: only for a tub that has not turned by then."""


@dataclass(frozen=True)
class Later:
    """The two ends of what a tub may have become hours later, by pH."""

    hours: float
    """After the pour, of the slow end: the other is that of a tub whose gas is all gone."""
    low: Sight
    high: Sight


@dataclass(frozen=True)
class Ribbon:
    """Colour along the dose; all arrays have one entry per dose."""

    grams: Array
    ph: Array
    ph_acid_side: Array
    """5 % quantile of the pH at that dose poured at once."""
    colours: SeenColour
    change_delta_e: Array
    """CIEDE2000 against the tub before."""
    level: tuple[str, ...]
    """Caution level of each dose, poured as planned: ``ok``, ``mind``, ``justify``, ``stop``.

    Beyond the most of a plan in portions, that of the dose poured at once."""


@dataclass(frozen=True)
class OtherDose:
    """Surest dose of another caution level, where nothing but an obvious change is wished."""

    grams: float
    ph: float
    level: str
    """Caution level that it keeps."""
    reached_share: float
    """Share of the possible tubs whose change it makes obvious, 0 to 1."""
    gains: float
    """Share by which the stronger of this dose and the plan's is surer."""


@dataclass(frozen=True)
class FirstPortion:
    """Portion for water that nobody has tested, to see whether it turns."""

    grams: float
    """As a kitchen scale shows it; safe in the softest water that it may be [g]."""
    level: str
    """Caution level that it keeps."""
    ph_acid_side: float
    """5 % quantile of the pH after it."""
    turned_share: float
    """Share of the possible tubs whose change is then obvious, 0 to 1."""


@dataclass(frozen=True)
class ColourAmount:
    """Amount of a colour."""

    colourant: Colourant
    """What it is."""
    factor: float
    """Times what the recipe has."""
    amount: float
    unit: str
    """Unit of the amount, as the recipe gives it: ``"mL"`` or ``"g"``."""
    g_per_l: float | None = None
    """Dried petals or dye powder in its own bottle; None where it holds no liquid or nobody knows
    [g/L]."""
    usual_g_per_l: Range | None = None
    """Dried petals that usually give a brew as strong as one that was measured [g/L]."""

    @property
    def name(self) -> str:
        """Key of the colourant."""
        return self.colourant.name


@dataclass(frozen=True)
class MoreColour:
    """Colours of a recipe, in amounts with which a plan may be poured."""

    colours: tuple[ColourAmount, ...]
    clear_share: float
    """Share of the possible tubs whose change is obvious then, 0 to 1."""
    level: str
    """Caution level of that pour."""
    moved: tuple[bool, ...] = ()
    """Whether each goes in beside the foam bath then, where nothing preserves it."""


@dataclass(frozen=True)
class Odds:
    """Shares of the possible tubs, 0 to 1."""

    reached_share: float
    """Where the wish comes true; without a wish, where the change is obvious."""
    past_limit_share: float
    """Where the pH, when pouring ends, is beyond what the plan may have."""
    clear_share: float
    """Where the change is obvious, whatever was wished, each tub with a pigment of its own."""
    named_share: float | None = None
    """Where the end has the colour word of the plan's, or people would count it to that: magenta
    is a pink; each tub with a pigment of its own. None of a given dose, and without colour."""
    commonest_word: str | None = None
    """Colour word that most of them end in, where hardly any has the plan's; else None."""


@dataclass(frozen=True)
class VarianceShare:
    """One reading's part in the spread of the dose."""

    reading: str
    """``alkalinity``, ``volume``, ``hardness``, ``tap_ph``, ``gas_lost``, ``purity``,
    ``constants`` or ``weighing``."""
    share: float


@dataclass(frozen=True)
class Undone:
    """A tub with the baking soda in it that takes its acid up."""

    right_after: Sight
    """Stirred in, the gas still in the water."""
    airing: Sight
    """Once the gas has left, in the usual air."""
    later: Later


def correcting(before: SeenColour, poured_g: float, most_g: float) -> str:
    """Whether more may follow where a tub has not turned.

    Parameters
    ----------
    before : SeenColour
        The tub before anything is poured.
    poured_g, most_g : float
        The dose and the most, as a scale shows them [g].

    Returns
    -------
    str
        ``"once-more"``, ``"at-most"``, or ``"not-tinted"`` where nothing shows whether it turned.
    """
    if before.visibility not in ("visible", "strong"):
        return "not-tinted"
    return "once-more" if most_g - poured_g >= WORTH_MORE * poured_g else "at-most"


def wait_min() -> int:
    """Whole minutes from a pour until a tub stirred by hand is surely one water [min]."""
    slowest_s = taken("mixed_s", "hand").ends[1]
    return math.ceil((60.0 * STIR_MIN + slowest_s) / 60.0)


@dataclass(frozen=True)
class Plan:
    """The answer for one tub."""

    title: str
    """Name of the recipe."""
    wish: Wish
    reached: bool
    """Whether the dose meets the wish and no caution forbids it."""
    wish_met: bool
    """Whether the dose meets the wish, cautions aside."""
    nearest: Sight | None
    """Where the wish is not reached: the nearest colour that is allowed."""
    nearest_delta_e: float | None
    """CIEDE2000 of `nearest` (or of `after`) from the wished colour, where one was wished."""
    needed: tuple[Note, ...]
    """What would have to change to reach the wish."""
    amounts: tuple[TintAmount, ...]
    """Colour for each tint of this tub."""
    colours: tuple[ColourAmount, ...]
    """Colours that go in, as the recipe has them."""
    foam_bath_ml: float
    """Foam bath that goes in [mL]; 0 without."""
    to_be_seen: tuple[ColourAmount, ...]
    """Colour that would tint the tub visibly, where that of the recipe does not."""
    enough: tuple[ColourAmount, ...]
    """Less colour that shows nearly the change of the recipe's, where much of it is wasted."""
    most_per_gram: tuple[ColourAmount, ...]
    """Colour with the largest obvious change per gram of it, where that is much less."""
    dose_g: DoseRange
    offer: OtherDose | None
    """A stronger dose that makes the change surer; never chosen by itself."""
    milder: OtherDose | None
    """The milder dose, where the stronger was chosen because it makes the change much surer."""
    first_portion: FirstPortion | None
    """Where the water is unknown and the wish fails: what may be poured all the same."""
    do_next: str | None
    """The one thing to do next that a kitchen allows: ``"pinch-test"`` (tap water, tea and measured
    pinches), ``"strip"``, ``"thin-strip"`` (read again, thinned), ``"ask-supplier"`` (of the
    water), else the first of `next_steps`."""
    strip_at_end: bool
    """Whether the alkalinity was read at the last step of a strip: the water may hold far more."""
    spoons: Spoons
    maximum_g: float
    """Never more than this in this tub, all in all since it was filled; nothing where nothing may
    be poured, or where the wish fails."""
    limit_g: float
    """Of a dose that was given: what may be poured at once without a heavier caution than it has,
    rounded down to the scale's step. Of a plan it is as `maximum_g` [g]."""
    weighed_with: str
    """``"kitchen-scale"``, ``"fine-scale"`` or ``"spoon"``."""
    pours: tuple[Pour, ...]
    """One portion, or several with a look after each; none where `maximum_g` is nothing."""
    jugs: Jugs | None
    """What the largest portion is dissolved in; None where nothing is poured."""
    look_by: str | None
    """What tells between portions that the tub has turned: ``"colour"`` or ``"meter"``; None
    for a single pour."""
    stop_ph: float | None
    """pH, as it is read, at which pouring stops."""
    activator: tuple[tuple[str, float], ...]
    """Powders of the blend (key of the powder table, mass share)."""
    before: Sight
    after: Sight
    after_airing: Sight
    """Once the gas has left, in the usual air."""
    later: Later
    """From a tub that has hardly lost gas to one that has lost it all, and all its chalk."""
    chalk: tuple[Chalked, ...]
    """The same two with all of their excess chalk out, where calcite is far above saturation."""
    bottle: Sight | None
    """The product that carries the colour; None where nothing coloured stands in a bottle."""
    change_delta_e: float
    change_delta_e_low: float
    """5 % quantile of the change, by what is not known of the pigments and their strength."""
    change_delta_e_high: float
    """95 % quantile."""
    change_seen_by: tuple[tuple[str, float], ...]
    """CIEDE2000 of the change to those with a colour-vision deficiency: (kind, difference)."""
    ph_acid_side: float
    """5 % quantile of the final pH at the best dose, poured as planned."""
    ph_alkaline_side: float
    """95 % quantile."""
    odds: Odds
    """In how many of the possible tubs the plan comes true."""
    variance_shares: tuple[VarianceShare, ...]
    """What the range of the dose comes from, the largest part first."""
    after_acid_side: Sight
    """Colour at the acid side of the final pH."""
    after_alkaline_side: Sight
    ph_acid_side_airing: float
    ph_alkaline_side_airing: float
    ribbon: Ribbon
    acid_reserve_meq_l: float
    """Base that brings the bath back to pH 7 [meq/L]."""
    acid_reserve_high_meq_l: float
    """95 % quantile of the acid reserve, or that of the tub as read, whichever is more: what the
    cautions look at [meq/L]."""
    undo_soda_g: float
    """Baking soda that takes up the acid reserve of all that the plan pours, spare portions too,
    once its gas has left the open tub [g]."""
    undo_soda_teaspoons: float
    undone: Undone | None
    """What that gives; None where there is no acid to take up."""
    volume_l: float
    depth_cm: float
    temperature_c: float
    vessel: str
    """``"tub"``, ``"jar"`` or ``"bottle"``: how the water is looked at."""
    light: str
    bathers: str
    """``"adult"``, ``"child"`` or ``"nobody"`` as judged."""
    child_age_years: float | None
    """Of the youngest child, where it was said [years]."""
    next_steps: tuple[NextStep, ...]
    """Readings that would make the dose surer, the one that buys most first."""
    accepted_reason: str | None
    """Why a pH that needs a reason is accepted, as it was written."""
    not_for_bathing: bool
    verdicts: Verdicts
    """Whether it may be poured, given and sold."""
    market: str
    cautions: tuple[Caution, ...]
    assumptions: tuple[Note, ...]
    warnings: tuple[Note, ...]

    @property
    def accepted(self) -> str:
        """The heaviest caution level that a pH may have: a written reason accepts more."""
        return "justify" if self.accepted_reason else "mind"

    @property
    def forbidden(self) -> bool:
        """Whether a caution forbids pouring."""
        return pour_forbidden(self.cautions)

    @property
    def scale_step_g(self) -> float:
        """Step of the kitchen scale to which the dose is weighed [g]."""
        return scale_step(self.dose_g.best)

    @property
    def never_over_g(self) -> float:
        """Never more than this in this tub: the maximum, rounded down to the scale's step [g]."""
        return scale_floor_g(self.maximum_g, self.scale_step_g)

    @property
    def pour_g(self) -> float:
        """Dose to the step of a kitchen scale, never above the most [g]."""
        (total,), _ = portions_on_scale_g((self.dose_g.best,), self.maximum_g, self.scale_step_g)
        return total

    @property
    def powder_g(self) -> tuple[tuple[str, float], ...]:
        """Grams of each powder of the blend; they add up to the dose on the scale [g]."""
        return powders_on_scale_g(dict(self.activator), self.pour_g)

    @property
    def mix_g(self) -> tuple[tuple[str, float], ...]:
        """Grams of each powder for all portions, that for a tub that has not turned counted in."""
        whole = sum(portion.grams for portion in self.portions)
        return powders_on_scale_g(dict(self.activator), whole)

    @property
    def most_by_need(self) -> bool:
        """Whether the most is what nearly all such tubs need, rather than a caution's limit."""
        return self.maximum_g >= 0.999 * self.dose_g.high

    @property
    def nothing_to_spare(self) -> bool:
        """Whether a kitchen scale tells no difference between the dose and the most."""
        return self.never_over_g == self.pour_g

    @property
    def may_need_g(self) -> float:
        """High end of the dose where that lies beyond the most [g]; 0 where it does not."""
        beyond = self.dose_g.high >= self.never_over_g + self.scale_step_g
        return self.dose_g.high if beyond and self.pours else 0.0

    @property
    def wait_min(self) -> int:
        """Whole minutes from the pour until the stirred tub is surely one water [min]."""
        return wait_min()

    @property
    def correcting(self) -> str:
        """Whether more may follow where the tub has not turned, or why not.

        ``"once-more"`` (tub empty of people, `once_more_g` in one portion), ``"read-again"`` (the
        strip was at its last step), ``"not-tinted"`` (nothing shows whether it turned),
        ``"at-most"`` or ``"nothing-poured"``.
        """
        if not self.pours or self.dose_g.best <= 0:
            return "nothing-poured"
        if self.strip_at_end:
            return "read-again"
        # A spare portion of the plan is the one further portion already.
        planned = any(pour.spare for pour in self.pours)
        most_g = self.pour_g if planned else self.never_over_g
        return correcting(self.before.colour, self.pour_g, most_g)

    @property
    def once_more_g(self) -> float:
        """The one further portion for a tub that has not turned [g]; 0 where none may follow."""
        if self.correcting != "once-more":
            return 0.0
        return round(self.never_over_g - self.pour_g, 6)

    @property
    def portions(self) -> tuple[Pour, ...]:
        """Pours with grams and totals as a kitchen scale shows them, none above the most."""
        exact = [pour.total_g for pour in self.pours]
        shown = portions_on_scale_g(exact, self.maximum_g, self.scale_step_g)
        return tuple(
            replace(pour, total_g=total, grams=grams)
            for pour, total, grams in zip(self.pours, *shown, strict=True)
        )

    @property
    def spoons_keep_limit(self) -> bool:
        """Whether level spoons, each pour to the half, cannot pass the most."""
        if self.wish.kind == "dose":
            # Spoons that were typed are judged as such; of grams they would be a guess.
            return self.weighed_with == "spoon"
        poured = [pour.spoons.teaspoons for pour in self.pours if not pour.spare]
        in_all = round(2.0 * self.spoons.teaspoons) / 2.0
        halves = max(sum(round(2.0 * spoonfuls) / 2.0 for spoonfuls in poured), in_all)
        heaviest_g = halves * self.dose_g.best / max(self.spoons.teaspoons_low, 1e-9)
        return heaviest_g <= self.maximum_g and all(
            spoonfuls >= LEAST_SPOON for spoonfuls in poured
        )

    @property
    def named_early(self) -> bool:
        """Whether the tub has the name of its end long before, so that the name tells nothing."""
        early = (self.ribbon.grams > 0) & (self.ribbon.grams < EARLY * self.dose_g.best)
        return bool((self.ribbon.colours.name[early] == self.after.colour.name).any())

    @property
    def drifts(self) -> bool:
        """Whether the tub may move by itself so far that it is worth a word."""
        ends = (self.later.low.ph, self.later.high.ph)
        return max(abs(end - self.after.ph) for end in ends) > LEAST_DRIFT_PH

    @property
    def has_ribbon(self) -> bool:
        """Whether there are doses along which to show colours."""
        return self.dose_g.best > 0 or float(np.ptp(self.ribbon.ph)) > LEAST_DRIFT_PH
