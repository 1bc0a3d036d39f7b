"""Telling a choice: colours, pH, portions, cautions and doubts of a dose, as one plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from dosing.bath.chalk import Chalked, chalk_note, chalk_of
from dosing.bath.jugs import Jugs, jugs_of_pours
from dosing.bath.mixed import Bath, SolvedBath, colour_at
from dosing.ingredients.powders import (
    Blend,
    per_gram,
    scale_floor_g,
    scale_step,
    spoons,
    undissolved,
)
from dosing.plan.case import MIND, Case
from dosing.plan.cautions import (
    GIVEN,
    Caution,
    Situation,
    bather_assumptions,
    exit_code,
    not_for_bathing,
    pour_forbidden,
)
from dosing.plan.choosing import Choice
from dosing.plan.households import elsewhere
from dosing.plan.later import later_of
from dosing.plan.next_reading import NextStep, next_steps
from dosing.plan.odds import WEIGHING, change_range, named_odds, variance_shares
from dosing.plan.pouring import Pouring, pour_at_once, with_chalk, with_later
from dosing.plan.records import (
    NO_SPOONS,
    DoseRange,
    FirstPortion,
    Later,
    Plan,
    Pour,
    Sight,
    Undone,
    VarianceShare,
    Wish,
)
from dosing.plan.ribbon import dose_ribbon
from dosing.plan.rules import judge, verdicts
from dosing.plan.strength import amounts_in, worth_it
from dosing.plan.what_would_help import (
    alkalinity_read,
    do_next,
    first_portion,
    kept_by_chalk,
    needed,
)
from indicator.appearance import SeenColour, delta_e
from indicator.deficiency import change_seen_by
from indicator.notes import Note
from indicator.pigments import trust, unsteady

Array = NDArray[np.float64]

SATURATION_TO_MENTION = 1.0
SODA = "sodium-bicarbonate"
"""What takes the acid of a bath up."""
LEAST_CHANGE_TOLD = 0.5
"""CIEDE2000 that is told as none."""


@dataclass(frozen=True)
class Weighed:
    """A choice with what becomes of its tub, and the cautions on it."""

    case: Case
    bath: Bath
    """The tub as read, after the dose."""
    all_poured: Bath
    """The same after all of its pours."""
    pouring: Pouring
    later: Later
    before: SeenColour
    """Colour of the tub before the dose."""
    chalk: tuple[Chalked, ...]
    kept: bool
    """Whether the wish holds with all of the excess chalk out, too."""
    why_not: tuple[Note, ...]
    first: FirstPortion | None
    """What may be poured where the wish is not met and nobody read the water."""
    strip_at_end: bool
    pours: tuple[Pour, ...]
    jugs: Jugs | None
    situation: Situation
    judged_g: float
    """What it is about [g]."""
    cautions: tuple[Caution, ...]
    met: bool
    """Whether the dose meets the wish, cautions aside."""
    most_g: float
    """What may be poured in all since the tub was filled, wish and cautions aside [g]."""
    limit_g: float
    """On the scale, what a pour at once may reach without a heavier caution than this has [g]."""

    @cached_property
    def undo_g(self) -> float:
        """Baking soda that takes the acid of all its pours up [g]."""
        return undo_soda_g(self.all_poured)

    @cached_property
    def undone(self) -> Bath | None:
        """With all of those and that in it; None where there is no acid to take up."""
        return self.all_poured.with_activator(self.undo_g, per_gram(SODA)) if self.undo_g else None

    @cached_property
    def sights(self) -> Mapping[str, Sight]:
        """By the names of their moments."""
        moments = _moments(self.bath, self.undone, self.pouring, self.case.setting.bath)
        return _sights(self.case, moments)

    @cached_property
    def everywhere(self) -> Situation:
        """The situation with the same grams in other homes, whatever it is meant for."""
        if self.situation.purpose in GIVEN:
            return self.situation
        others = elsewhere(self.case.inputs, self.judged_g, self.case.basis.homes)
        return replace(self.situation, elsewhere=others)

    @property
    def may_pour(self) -> bool:
        """Whether a dose is laid out: the wish is met, and no caution forbids pouring."""
        return self.met and not pour_forbidden(self.cautions)

    @property
    def maximum_g(self) -> float:
        """Never more than this; nothing where no dose is laid out [g]."""
        return self.most_g if self.may_pour else 0.0


def weighed(case: Case, wish: Wish, choice: Choice) -> Weighed:
    """Cautions and maximum of a choice, and what becomes of its tub.

    Parameters
    ----------
    case : Case
        The recipe worked out.
    wish : Wish
        What was asked for.
    choice : Choice
        The dose, and how it is poured.

    Returns
    -------
    Weighed
    """
    setting, grams = case.setting, choice.grams
    parts = Blend(case.inputs.activator.parts).parts
    bath = case.basis.after(grams)
    strip_at_end = case.basis.spreads.alkalinity_sd_above > case.basis.spreads.alkalinity_sd
    later = later_of(bath, setting)
    pouring = with_later(choice.pouring, later.low.ph, later.high.ph, case.bathers)
    most = grams if wish.kind == "dose" else _most(case, choice, pouring)
    # At the end of a strip nothing more is added before a new reading.
    all_g = grams if strip_at_end else max(grams, most, *pouring.totals_g)
    before = case.path.colours.at(0)
    chalk = chalk_of(bath.solve(), bath.at_rest(), setting.view, bath.air_co2_ppm)
    kept, why_not = kept_by_chalk(wish, chalk, before)
    pours = _pours(case, pouring, parts, grams)
    if strip_at_end:
        pours = tuple(pour for pour in pours if not pour.spare)
    jugs = _jugs(case, pours)
    met = choice.match.met and kept
    first = None if met or alkalinity_read(case.inputs) else first_portion(case)
    judged, judged_g = pouring, grams
    if first is not None:
        # The first portion is all that may be poured: the cautions are those of it.
        judged, judged_g = pour_at_once(case.possible, first.grams, case.bathers), first.grams
    situation = _situation(case, judged, judged_g, jugs, chalk=bool(chalk))
    dose = wish.kind == "dose"
    limit_g = scale_floor_g(_limit_g(case, pouring, grams) if dose else most, scale_step(grams))
    if met and judged.level >= MIND and len(pours) == 1 and limit_g > grams:
        situation = _and_at_most(situation, case, limit_g)
    cautions = judge(situation)
    return Weighed(
        case=case,
        bath=bath,
        all_poured=case.basis.after(all_g),
        pouring=pouring,
        later=later,
        before=before,
        chalk=chalk,
        kept=kept,
        why_not=tuple(why_not),
        first=first,
        strip_at_end=strip_at_end,
        pours=pours,
        jugs=jugs,
        situation=situation,
        judged_g=judged_g,
        cautions=cautions,
        met=met,
        most_g=most,
        limit_g=max(grams, limit_g),
    )


def told(case: Case, wish: Wish, choice: Choice) -> Plan:
    """All that a plan says of a dose that was chosen.

    Parameters
    ----------
    case : Case
        The recipe worked out.
    wish : Wish
        What was asked for.
    choice : Choice
        The dose, and how it is poured.

    Returns
    -------
    Plan
        Without portions where nothing may be poured or the wish fails.
    """
    setting, grams = case.setting, choice.grams
    what = weighed(case, wish, choice)
    parts = Blend(case.inputs.activator.parts).parts
    pouring, solved, undone = what.pouring, what.bath.solve(), what.undone
    sights = what.sights
    before, after = sights["before"], sights["after"]
    white = chalk_note(what.chalk, (float(solved.ph), float(what.bath.at_rest().ph)))
    low, high = change_range(case.inputs, setting, before.ph, after.ph)
    ok = choice.reached and what.kept and exit_code(what.cautions) == 0
    dose_g = DoseRange.among(case.possible.grams_for_ph(float(solved.ph)), grams)
    shares = variance_shares(case.possible, float(solved.ph)) if grams > 0 else ()
    readings = _next_steps(case, choice, dose_g, float(solved.ph), shares)
    enough, most_per_gram = worth_it(case.inputs, setting, before.ph, after.ph)
    word = str(after.colour.word)
    odds = choice.odds
    if wish.kind != "dose":
        odds = named_odds(odds, case.possible, word, choice.pouring)
    plan = Plan(
        title=case.inputs.title,
        wish=wish,
        reached=ok,
        wish_met=what.met,
        nearest=None if ok else after,
        nearest_delta_e=_distance(wish, after),
        needed=()
        if ok
        else (*what.why_not, *needed(case, wish, choice.match, choice.ideal, what.cautions)),
        amounts=case.basis.tints,
        colours=amounts_in(case.inputs),
        foam_bath_ml=0.0 if case.inputs.foam_bath is None else case.inputs.foam_bath.amount_ml,
        to_be_seen=case.basis.to_be_seen,
        enough=enough,
        most_per_gram=most_per_gram,
        dose_g=dose_g,
        offer=choice.offer,
        milder=choice.milder,
        first_portion=what.first,
        do_next=do_next(case, readings, strip_at_end=what.strip_at_end),
        strip_at_end=what.strip_at_end,
        spoons=spoons(parts, grams),
        maximum_g=what.maximum_g,
        limit_g=what.limit_g if what.may_pour else 0.0,
        weighed_with=case.inputs.activator.weighed_with,
        pours=what.pours,
        jugs=what.jugs,
        look_by=None if pouring.look is None else pouring.look.by,
        stop_ph=None if pouring.look is None else pouring.look.stop_ph,
        activator=tuple(parts.items()),
        before=before,
        after=after,
        after_airing=sights["after-airing"],
        later=what.later,
        chalk=what.chalk,
        bottle=case.basis.bottle,
        change_delta_e=float(delta_e(before.colour.lab, after.colour.lab)),
        change_delta_e_low=low,
        change_delta_e_high=high,
        change_seen_by=tuple(change_seen_by(str(before.colour.hex), str(after.colour.hex)).items()),
        ph_acid_side=pouring.final[0],
        ph_alkaline_side=pouring.final[1],
        odds=odds,
        variance_shares=shares,
        after_acid_side=sights["after-acid-side"],
        after_alkaline_side=sights["after-alkaline-side"],
        ph_acid_side_airing=pouring.aired[0],
        ph_alkaline_side_airing=pouring.aired[1],
        ribbon=dose_ribbon(case, grams, what.most_g, pouring),
        acid_reserve_meq_l=float(what.bath.acid_reserve_meq_l()),
        acid_reserve_high_meq_l=pouring.reserve_meq_l,
        undo_soda_g=what.undo_g,
        undo_soda_teaspoons=spoons(SODA, what.undo_g).teaspoons,
        undone=None
        if undone is None
        else Undone(sights["undone"], sights["undone-airing"], later_of(undone, setting)),
        volume_l=float(setting.bath.volume_l),
        depth_cm=setting.depth_cm,
        temperature_c=float(setting.bath.temperature_c),
        vessel=case.inputs.wish.view,
        light=case.inputs.wish.light,
        bathers=case.bathers,
        child_age_years=case.inputs.wish.child_age_years,
        next_steps=readings,
        accepted_reason=case.accept_ph,
        not_for_bathing=not_for_bathing(what.situation),
        verdicts=verdicts(what.everywhere),
        market=case.inputs.wish.market,
        cautions=what.cautions,
        assumptions=(
            *setting.assumptions,
            *_pigment_assumptions(case, low, high),
            *bather_assumptions(case.inputs.wish.bathers, case.inputs.wish.child_age_years),
        ),
        warnings=(
            *setting.warnings,
            *(() if white is None else (white,)),
            *_bath_warnings(case, grams, solved),
            *unsteady(
                (colour.colourant for colour in case.inputs.colours),
                min(pouring.final[0], before.ph),
            ),
        ),
    )
    return plan if what.may_pour else _nothing_to_pour(plan)


def _nothing_to_pour(plan: Plan) -> Plan:
    """The plan without portions: no dose is laid out where it may not be, or for another wish."""
    return replace(plan, spoons=NO_SPOONS, pours=(), jugs=None, look_by=None, stop_ph=None)


def _most(case: Case, choice: Choice, pouring: Pouring) -> float:
    """The printed maximum [g]."""
    allowed = case.basis.allowed
    return allowed.most_g(case.path, choice.match.step, pouring, choice.level)


def _moments(
    bath: Bath, undone: Bath | None, pouring: Pouring, before: Bath
) -> dict[str, Array | float]:
    """PH of each moment that is looked at, by its name."""
    moments: dict[str, Array | float] = {
        "before": before.ph,
        "after": bath.ph,
        "after-airing": bath.ph_at_rest,
        "after-acid-side": pouring.final[0],
        "after-alkaline-side": pouring.final[1],
    }
    if undone is not None:
        moments |= {"undone": undone.ph, "undone-airing": undone.ph_at_rest}
    return moments


def _sights(case: Case, moments: Mapping[str, Array | float]) -> dict[str, Sight]:
    """What the tub as read looks like at some pH values, by the names of its moments."""
    bath, ph = case.setting.bath, np.array([float(ph) for ph in moments.values()])
    colours = colour_at(bath.strengths, ph, case.setting.view, bath.surfactants_g_l)
    return {
        name: Sight(name, float(ph[place]), colours.at(place)) for place, name in enumerate(moments)
    }


def _distance(wish: Wish, after: Sight) -> float | None:
    if wish.hex is None:
        return None
    from indicator.appearance import lab_from_hex

    return float(delta_e(lab_from_hex(wish.hex), after.colour.lab))


def _next_steps(
    case: Case, choice: Choice, dose_g: DoseRange, ph: float, shares: tuple[VarianceShare, ...]
) -> tuple[NextStep, ...]:
    """Readings for a surer dose: of the plan, or of what was wished where that is out of reach."""
    ideal = choice.ideal
    if ideal.met and not choice.match.met:
        ph = float(case.path.ph[ideal.step])
        needed_g, grams = case.possible.grams_for_ph(ph), float(case.path.grams[ideal.step])
        dose_g, shares = DoseRange.among(needed_g, grams), variance_shares(case.possible, ph)
    if dose_g.best <= 0 or dose_g.high <= dose_g.low:
        return ()
    weighing = sum(part.share for part in shares if part.reading == WEIGHING)
    surer = case.basis.surer
    return next_steps(case.inputs, surer, ph, dose_g.low, dose_g.high, weighing)


def _pours(
    case: Case, pouring: Pouring, parts: Mapping[str, float], dose_g: float
) -> tuple[Pour, ...]:
    totals = np.asarray(pouring.totals_g)
    ph = [float(case.basis.after(total).ph) for total in pouring.totals_g]
    portions = np.diff(totals, prepend=0.0)
    return tuple(
        Pour(
            grams=float(portions[k]),
            total_g=float(totals[k]),
            ph=ph[k],
            ph_acid_side=pouring.acid_sides[k],
            spoons=spoons(parts, float(portions[k])),
            spare=float(totals[k]) > dose_g * 1.001,
        )
        for k in range(len(totals))
    )


def _jugs(case: Case, pours: tuple[Pour, ...]) -> Jugs | None:
    """What the largest portion on the way to the dose is dissolved in."""
    totals = [pour.total_g for pour in pours if not pour.spare]
    return jugs_of_pours(case.inputs.activator.parts, totals, case.setting.bath)


def _situation(
    case: Case, pouring: Pouring, grams: float, jugs: Jugs | None, *, chalk: bool
) -> Situation:
    return Situation(
        case.inputs,
        pouring.moments(float(case.path.ph[0])),
        accept_ph=case.accept_ph,
        accept_pouring=case.accept_pouring,
        elsewhere=elsewhere(case.inputs, grams, case.basis.homes)
        if case.inputs.wish.purpose in GIVEN
        else (),
        jugs=() if jugs is None else (jugs,),
        chalk=chalk,
    )


def _limit_g(case: Case, pouring: Pouring, grams: float) -> float:
    """The most that may be poured at once without a heavier caution than a dose has [g]."""
    if pouring.level > case.accepted:
        return grams
    return case.basis.allowed.most_at_once_g(pouring.level)


def _and_at_most(situation: Situation, case: Case, most_g: float) -> Situation:
    """The situation with the pH of all that may be poured beside it."""
    if case.path.acid:
        # As gas leaves a sour tub it only gets milder.
        low, high = case.basis.curves.closed_sides(np.array([most_g]))
        return replace(situation, most_g=most_g, at_most=(float(low[0]), float(high[0])))
    poured = with_chalk(pour_at_once(case.possible, most_g, case.bathers), case.bathers)
    return replace(situation, most_g=most_g, at_most=(*poured.final, *poured.aired))


def undo_soda_g(bath: Bath) -> float:
    """Baking soda that takes up the acid reserve once its gas has left the open tub [g]."""
    acid_reserve_meq_l, volume_l = float(bath.acid_reserve_meq_l()), float(bath.volume_l)
    alkalinity_mol_g = float(per_gram(SODA)["Na"])
    return max(acid_reserve_meq_l * volume_l / 1000.0, 0.0) / alkalinity_mol_g


def _pigment_assumptions(case: Case, low: float, high: float) -> list[Note]:
    """How far each pigment can be trusted, and what that leaves open of the change."""
    colourants = list(dict.fromkeys(colour.colourant for colour in case.inputs.colours))
    notes = [
        Note(f"assume.colour.{trust(which)}", {"colour": which.label}, "colour")
        for which in colourants
        if which.kind == "pigment" and trust(which) in ("estimated", "recalled", "reported")
    ]
    if high >= LEAST_CHANGE_TOLD and any(which.kind == "pigment" for which in colourants):
        notes.append(Note("assume.colour.range", {"low": low, "high": high}, "colour"))
    return notes


def _bath_warnings(case: Case, grams: float, solved: SolvedBath) -> tuple[Note, ...]:
    bath, equilibrium = solved.bath, solved.equilibrium
    parts = Blend(case.inputs.activator.parts).parts
    notes = list(undissolved(parts, grams, bath.water_kg, bath.temperature_c))
    for solid in ("calcium_citrate", "calcium_tartrate"):
        index = float(equilibrium.saturation[solid])
        if index > SATURATION_TO_MENTION:
            notes.append(
                Note("warn.bath.cloud", {"solid": solid.replace("_", " "), "index": index})
            )
    if float(equilibrium.saturation["potassium_bitartrate"]) > 0.0:
        notes.append(Note("warn.bath.bitartrate", {}, "activator.parts"))
    if not equilibrium.converged:
        notes.append(Note("warn.bath.not-converged", {}))
    if not equilibrium.in_range:
        notes.append(
            Note(
                "warn.bath.out-of-range",
                {
                    "ionic_strength": float(equilibrium.ionic_strength),
                    "temperature_c": float(bath.temperature_c),
                },
            )
        )
    if not case.setting.bath.strengths:
        notes.append(Note("warn.bath.no-colour", {}, "colour"))
    return tuple(notes)
