"""The plan: the wish, the tub, its possible twins and the cautions brought to one answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from dosing.bath.chalk import chalk_note, chalk_of
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import Jugs, jugs_of_pours
from dosing.bath.mixed import SolvedBath, colour_at
from dosing.bath.possible_tubs import ALKALINE_SIDE
from dosing.ingredients.powders import Blend, per_gram, spoons, undissolved
from dosing.ingredients.water import WaterReadings
from dosing.plan.case import Case, case
from dosing.plan.cautions import (
    Caution,
    Situation,
    bather_assumptions,
    exit_code,
    judge,
    not_for_bathing,
    verdicts,
)
from dosing.plan.change_range import change_range
from dosing.plan.households import elsewhere
from dosing.plan.later import laters
from dosing.plan.look import look_between
from dosing.plan.next_reading import NextStep, next_steps
from dosing.plan.odds import odds, variance_shares
from dosing.plan.path import Match, step_for, turns
from dosing.plan.pouring import (
    Pouring,
    grams_to_limit,
    most_to_pour,
    portions_pass,
    pour_at_once,
    pour_gently,
    safe_first,
    with_chalk,
    with_later,
)
from dosing.plan.records import DoseRange, Plan, Pour, Sight, Undone, Wish
from dosing.plan.ribbon import dose_ribbon, further_steps
from dosing.plan.situation import situation_of
from dosing.plan.what_would_help import kept_by_chalk, needed
from indicator.accepted import number, of_kind
from indicator.appearance import delta_e
from indicator.deficiency import change_seen_by
from indicator.notes import Note
from indicator.pigments import trust, unsteady

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

FINEST_SEARCH = 3
"""Steps of the path (0.03 pH) within which the last allowed one is found."""
SPREAD_SEARCH = 24
"""Steps along the path that are tried where the start may not stay as it is."""
SATURATION_TO_MENTION = 1.0
SODA = "sodium-bicarbonate"
"""What takes the acid of a bath up."""
LARGEST_DOSE_G = 20_000.0
"""Keeps a mistaken unit out."""
LEAST_CHANGE_TOLD = 0.5
"""CIEDE2000 that is told as none."""


def make_plan(
    inputs: RecipeInputs,
    *,
    target: str | None = None,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
) -> Plan:
    """Dose, colours and cautions for a recipe.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    target : str, optional
        A pH, a colour word or a hex colour; overrides the recipe's.
    accept_ph : str, optional
        Why a pH that needs a written reason is accepted.
    accept_pouring : str, optional
        Why dry powder is tipped in beside an adult.

    Returns
    -------
    Plan
        Dose [g], pH, colours, caution levels and verdicts; `ok` tells whether it may be poured and
        comes out as wished.

    Raises
    ------
    ValueError
        If the target is none of these, or a name in the recipe is unknown.
    """
    of_kind("inputs", inputs, RecipeInputs)
    wish = Wish.written(target if target is not None else inputs.wish.target)
    return answer(case(inputs), wish, accept_ph=accept_ph, accept_pouring=accept_pouring)


def without_activator(
    inputs: RecipeInputs, *, accept_ph: str | None = None, accept_pouring: str | None = None
) -> Plan:
    """The bath before any activator; whether it may be given and sold is that of its own plan.

    Parameters
    ----------
    inputs : RecipeInputs
        Recipe in core units.
    accept_ph, accept_pouring : str, optional
        Written reasons, as `make_plan` takes them.

    Returns
    -------
    Plan
        Of a dose of 0 g.
    """
    reasons = {"accept_ph": accept_ph, "accept_pouring": accept_pouring}
    bare, whole = preview(inputs, 0.0, **reasons), make_plan(inputs, **reasons)
    passed_on = {"give": whole.verdicts.give, "sell": whole.verdicts.sell}
    return replace(bare, verdicts=replace(bare.verdicts, **passed_on))


def preview(
    inputs: RecipeInputs,
    dose_g: float,
    *,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
) -> Plan:
    """Colours and cautions of a given dose, poured at once.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    dose_g : float
        Activator for the whole tub [g].
    accept_ph, accept_pouring : str, optional
        As in `make_plan`.

    Returns
    -------
    Plan
        As `make_plan`, with the given dose as its aim.

    Raises
    ------
    ValueError
        If the dose is negative or not finite, or a name in the recipe is unknown.
    """
    of_kind("inputs", inputs, RecipeInputs)
    number("dose_g", dose_g, 0.0, LARGEST_DOSE_G)
    return answer(case(inputs), dose_g, accept_ph=accept_ph, accept_pouring=accept_pouring)


def answer(
    case: Case,
    asked: Wish | float,
    *,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
) -> Plan:
    """Dose, colours and cautions for one wish, or for one dose, of a recipe worked out once.

    Parameters
    ----------
    case : Case
        Of `dosing.plan.case.case`; it may be asked again and again.
    asked : Wish or float
        What is wished, or the dose that is poured at once [g].
    accept_ph, accept_pouring : str, optional
        As in `make_plan`.

    Returns
    -------
    Plan
        The answer for this tub.
    """
    if not isinstance(asked, Wish):
        return _answer_dose(case.asked(None, accept_ph, accept_pouring), asked)
    wish, case = asked, case.asked(asked.ph, accept_ph, accept_pouring)
    blind = not case.setting.bath.strengths and wish.ph is None
    if blind or not turns(case.path):
        nothing = Match(0, False, float("nan"))
        return _answer(case, wish, nothing, _poured(case, 0), reached=False, ideal=nothing)
    everywhere = np.ones(len(case.path.ph), dtype=bool)
    ideal = step_for(case.path, wish, everywhere)
    if ideal.met and _passes(case, ideal.step):
        pouring = _poured(case, ideal.step)
        return _answer(case, wish, ideal, pouring, reached=True, ideal=ideal)
    match = step_for(case.path, wish, _allowed_steps(case))
    pouring = _poured(case, match.step)
    reached = match.met and pouring.level <= case.accepted
    return _answer(case, wish, match, pouring, reached=reached, ideal=ideal)


def _answer_dose(case: Case, dose_g: float) -> Plan:
    pouring = pour_at_once(case.possible, dose_g, case.bathers)
    ph = float(case.basis.after(dose_g).ph)
    match = Match(int(np.argmin(np.abs(case.path.ph - ph))), True, 0.0)
    wish, reached = Wish("dose", f"{dose_g:g} g"), pouring.level <= case.accepted
    return _answer(case, wish, match, pouring, reached=reached, ideal=match, given_g=dose_g)


def _poured(case: Case, step: int) -> Pouring:
    """The simplest way to pour this much that the cautions allow, or the gentlest there is."""
    return pour_gently(
        case.basis.curves,
        case.path,
        step,
        lambda: _maximum(case, step),
        case.bathers,
        case.accepted,
        instrument_of(case.inputs.water),
    )


def instrument_of(water: WaterReadings) -> str:
    """Instrument that the maker has at hand: the water was read with it, as far as it was read."""
    unread = water.alkalinity_meq_l is None and water.carbonate_hardness_meq_l is None
    return water.instrument or ("none" if unread else "strip")


def _maximum(case: Case, step: int) -> float:
    """Never more than this: what all but a few possible tubs need, within the tub's own limit."""
    aim = float(case.path.grams[step])
    if aim == 0.0:
        return 0.0
    needed = case.possible.grams_for_ph(float(case.path.ph[step]))
    high = float(np.nanquantile(needed, ALKALINE_SIDE)) if np.isfinite(needed).any() else aim
    to_limit = grams_to_limit(case.possible, case.bathers, case.accepted, acid=case.path.acid)
    # Half of the possible tubs would pass the limit with more than this.
    at_limit = float(np.median(to_limit)) if np.isfinite(to_limit).any() else high
    return max(aim, min(high, at_limit))


def _most(case: Case, step: int, pouring: Pouring) -> float:
    """The printed maximum [g]."""
    aim, most = float(case.path.grams[step]), _maximum(case, step)
    # The most has the level that the plan says, so that its cautions hold for it too.
    level = min(pouring.level, case.accepted)
    return most_to_pour(case.basis.curves, pouring, aim, most, case.bathers, level)


def _allowed_steps(case: Case) -> Mask:
    """Steps of the path that can be poured within the accepted level: one stretch of it.

    Most tubs may stay as they are. One that is too alkaline, as filled or once its gas has left,
    may not; the stretch then begins where enough is poured. Where nothing may be, it is the start.
    """
    steps = np.arange(len(case.path.ph))
    within = np.flatnonzero(case.path_level <= case.accepted)
    end = int(within[-1]) if len(within) else 0
    inside = 0 if _passes(case, 0) else _some_passing(case, end)
    if inside is None:
        return np.asarray(steps == 0)
    first = 0 if inside == 0 else _edge(case, inside, 0)
    last = end if _passes(case, end) else _edge(case, inside, end)
    return np.asarray((steps >= first) & (steps <= last))


def _passes(case: Case, step: int) -> bool:
    """Whether there is a way to pour this much within the accepted level."""
    grams, path = float(case.path.grams[step]), case.path
    bathers, accepted = case.bathers, case.accepted
    curves = case.basis.curves
    if curves.decide(lambda tubs: pour_at_once(tubs, grams, bathers).level <= accepted):
        return True
    look = look_between(path, step, instrument_of(case.inputs.water))
    if grams <= 0 or look is None:
        return False
    first_g = safe_first(grams_to_limit(case.possible, bathers, accepted, acid=path.acid))
    return portions_pass(curves, look, grams, first_g, bathers, accepted)


def _some_passing(case: Case, end: int) -> int | None:
    """A step that may be poured where the start may not; None where none is found."""
    tried = np.unique(np.linspace(0, end, SPREAD_SEARCH).round().astype(int))[:0:-1]
    return next((int(step) for step in tried if _passes(case, int(step))), None)


def _edge(case: Case, inside: int, outside: int) -> int:
    """The last step that may be poured on the way to one that may not."""
    while abs(outside - inside) > FINEST_SEARCH:
        middle = (inside + outside) // 2
        if _passes(case, middle):
            inside = middle
        else:
            outside = middle
    return inside


def _answer(
    case: Case,
    wish: Wish,
    match: Match,
    pouring: Pouring,
    *,
    reached: bool,
    ideal: Match,
    given_g: float | None = None,
) -> Plan:
    setting, path = case.setting, case.path
    pouring = with_chalk(pouring, case.bathers)
    parts = Blend(case.inputs.activator.parts).parts
    grams = float(path.grams[match.step]) if given_g is None else given_g
    bath = case.basis.after(grams)
    solved, aired = bath.solve(), bath.at_rest()
    reserve = float(bath.acid_reserve_meq_l())
    undo_g = _undo_soda(reserve, float(setting.bath.volume_l))
    undone = bath.with_activator(undo_g, per_gram(SODA))
    later, *undone_later = laters((bath, undone) if undo_g > 0 else (bath,), setting)
    pouring = with_later(pouring, later.low.ph, later.high.ph, case.bathers)
    moments: dict[str, Array | float] = {
        "before": setting.bath.ph,
        "after": bath.ph,
        "after-airing": bath.ph_at_rest,
        "after-acid-side": pouring.final[0],
        "after-alkaline-side": pouring.final[1],
    }
    if undo_g > 0:
        moments |= {"undone": undone.ph, "undone-airing": undone.ph_at_rest}
    sights = _sights(case, moments)
    before, after = sights["before"], sights["after"]
    chalk = chalk_of(solved, aired, setting.view, bath.air_co2_ppm)
    kept, why_not = kept_by_chalk(wish, chalk, before.colour)
    white = chalk_note(chalk, (float(solved.ph), float(aired.ph)))
    change = float(delta_e(before.colour.lab, after.colour.lab))
    low, high = change_range(case.inputs, setting, before.ph, after.ph)
    pours = _pours(case, pouring, parts, grams)
    jugs = _jugs(case, pours)
    situation = _situation(case, pouring, grams, jugs, chalk=bool(chalk))
    cautions = judge(situation)
    ok = reached and kept and exit_code(cautions) == 0
    dose_g = DoseRange.among(case.possible.grams_for_ph(float(solved.ph)), grams)
    most = _most(case, match.step, pouring) if given_g is None else grams
    return Plan(
        title=case.inputs.title,
        wish=wish,
        reached=ok,
        wish_met=match.met and kept,
        nearest=None if ok else after,
        nearest_delta_e=_distance(wish, after),
        needed=() if ok else (*why_not, *needed(case, wish, match, ideal, cautions)),
        amounts=case.basis.tints,
        to_be_seen=case.basis.to_be_seen,
        dose_g=dose_g,
        spoons=spoons(parts, grams),
        maximum_g=most,
        pours=pours,
        jugs=jugs,
        look_by=None if pouring.look is None else pouring.look.by,
        stop_ph=None if pouring.look is None else pouring.look.stop_ph,
        activator=tuple(parts.items()),
        before=before,
        after=after,
        after_airing=sights["after-airing"],
        later=later,
        chalk=chalk,
        bottle=case.basis.bottle,
        change_delta_e=change,
        change_delta_e_low=low,
        change_delta_e_high=high,
        change_seen_by=tuple(change_seen_by(str(before.colour.hex), str(after.colour.hex)).items()),
        ph_acid_side=pouring.final[0],
        ph_alkaline_side=pouring.final[1],
        odds=odds(case, wish, pouring),
        variance_shares=variance_shares(case.possible, float(solved.ph)) if grams > 0 else (),
        after_acid_side=sights["after-acid-side"],
        after_alkaline_side=sights["after-alkaline-side"],
        ph_acid_side_airing=pouring.aired[0],
        ph_alkaline_side_airing=pouring.aired[1],
        ribbon=dose_ribbon(case, grams, most, pouring),
        further=further_steps(case, match.step),
        acid_reserve_meq_l=reserve,
        acid_reserve_high_meq_l=pouring.reserve_meq_l,
        undo_soda_g=undo_g,
        undo_soda_teaspoons=spoons(SODA, undo_g).teaspoons,
        undone=Undone(sights["undone"], sights["undone-airing"], *undone_later)
        if undo_g > 0
        else None,
        volume_l=float(setting.bath.volume_l),
        depth_cm=setting.depth_cm,
        temperature_c=float(setting.bath.temperature_c),
        vessel=case.inputs.wish.view,
        light=case.inputs.wish.light,
        bathers=case.bathers,
        next_steps=_next_steps(case, dose_g, float(solved.ph)),
        accepted_reason=case.accept_ph,
        not_for_bathing=not_for_bathing(situation),
        verdicts=verdicts(situation),
        market=case.inputs.wish.market,
        cautions=cautions,
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


def _next_steps(case: Case, dose_g: DoseRange, ph: float) -> tuple[NextStep, ...]:
    if dose_g.best <= 0 or dose_g.high <= dose_g.low:
        return ()
    return next_steps(case.inputs, case.basis.surer, ph, dose_g.low, dose_g.high)


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
    return situation_of(
        case.inputs,
        pouring.moments(float(case.path.ph[0])),
        accept_ph=case.accept_ph,
        accept_pouring=case.accept_pouring,
        elsewhere=elsewhere(case.inputs, grams, case.basis.homes),
        jugs=() if jugs is None else (jugs,),
        chalk=chalk,
    )


def _undo_soda(acid_reserve_meq_l: float, volume_l: float) -> float:
    """Baking soda that takes up the acid reserve once its gas has left the open tub [g]."""
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


__all__ = ["Caution", "make_plan", "preview"]
