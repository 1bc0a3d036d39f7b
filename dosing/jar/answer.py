"""The jar test: a bench titration of the bath itself corrects the forecast.

A series of readings narrows what is not known of the water, the foam bath and the pigment; the
tubs that then remain are drawn, dosed and judged as a plan's are. What a jar cannot tell is how
much water the tub holds, so the dose per litre and the tub's dose are kept apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import jugs_of_pours
from dosing.bath.possible_tubs import POSSIBLE_TUBS, QUANTITIES, Possible, possible_tubs
from dosing.bath.spreads import reading_spreads
from dosing.ingredients.hardness_units import alkalinity_in, alkalinity_meq_l
from dosing.ingredients.powders import Blend, spoons
from dosing.ingredients.trade_values import reading_spread
from dosing.jar.doubts import doubts_of
from dosing.jar.fit import Fit, antithetic_normals, draws, fit
from dosing.jar.learnt import Learnt, learnt_numbers, pigment_numbers
from dosing.jar.model import Array, JarModel, Readings, jar_value
from dosing.jar.records import AS_SURE_AS, JarAnswer, StepFit
from dosing.jar.series import LeftOut
from dosing.plan.answer import make_plan
from dosing.plan.case import JUSTIFY, MIND
from dosing.plan.cautions import Situation, bather_assumptions, not_for_bathing, pour_forbidden
from dosing.plan.households import elsewhere
from dosing.plan.levels import judged_bathers
from dosing.plan.path import (
    Match,
    Path,
    colour_path,
    path_through,
    step_for,
    step_for_ph,
    turns,
)
from dosing.plan.pouring import most_to_pour, pour_gently, with_chalk
from dosing.plan.records import DoseRange, Wish
from dosing.plan.rules import judge, verdicts
from dosing.plan.strength import amounts_in
from dosing.plan.telling import SODA, undo_soda_g
from indicator.absorbance import mixture_absorbance
from indicator.appearance import delta_e, hex_of_lab, seen
from indicator.notes import Note, Value, say
from indicator.robust_fit import SET_ASIDE_WEIGHT

SEED = 45
LEAST_SHARE, SHARE_STEP = 0.7, 0.04
"""Of an alkalinity that is kept lower than the jar found it."""


@dataclass(frozen=True)
class Aim:
    """Aim of a dose: a step of the path of one tub."""

    path: Path
    match: Match
    wish: Wish
    notes: tuple[Note, ...] = ()
    """Why it is not the plan's."""
    of_turn: bool = False
    """Whether it is the colour that the jar turned to, at whatever pH that is."""
    colour_first: bool = False
    """Whether no dose is seen to turn the tub before it has more colour in it."""

    @property
    def ph(self) -> float:
        """PH there."""
        return float(self.path.ph[self.match.step])


def jar_test(
    model: JarModel,
    readings: Readings,
    by: str,
    *,
    target: str | None = None,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
    left_out: Sequence[LeftOut] = (),
) -> JarAnswer:
    """Corrected dose of a tub from a series of readings in a jar of its water.

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    readings : Readings
        A single series.
    by : str
        What was read, of `dosing.jar.kit.BY`.
    target : str, optional
        A pH, a colour word or a hex colour; overrides the recipe's.
    accept_ph, accept_pouring : str, optional
        As in `dosing.plan.answer.make_plan`.
    left_out : sequence of LeftOut
        Photographs that are not among the readings.

    Returns
    -------
    JarAnswer

    Raises
    ------
    ValueError
        If there are too few readings, or the target is none.
    """
    check_readings(readings, by)
    fitted = fit(model, readings)
    aim = _aim(model, fitted, readings, by, target, accept_ph)
    accept = (accept_ph, accept_pouring)
    tub = _dosed(model, fitted, readings, by, aim, accept)
    if aim.of_turn and pour_forbidden(tub["cautions"]):
        milder = aim_as_read(model, target, fitted.of_model, accept_ph)
        its_tub = _dosed(model, fitted, readings, by, milder, accept)
        if not pour_forbidden(its_tub["cautions"]):
            ends: dict[str, Value] = {"planned": milder.ph, "ph": aim.ph}
            aim = replace(milder, notes=(Note("jar.note.aim-milder", ends),))
            tub = its_tub
    before = per_litre_before(model, aim.ph)
    doubts = doubts_of(
        model,
        fitted,
        readings,
        by=by,
        target_ph=aim.ph,
        per_litre=tub["per_litre_g"],
        per_litre_before=before,
    )
    if doubts.check_first:
        # No pH is called harmless that rests on a doubtful series.
        tub["cautions"] = tuple(caution for caution in tub["cautions"] if caution.level != "ok")
    told = learnt_numbers(model, fitted)
    wish = model.tub.wish
    answer = JarAnswer(
        **tub,
        **vars(doubts),
        title=model.tub.title,
        by=by,
        unit=model.titrant.unit,
        activator=tuple(Blend(model.tub.activator.parts).parts.items()),
        target_ph=aim.ph,
        target=aim.wish.text,
        target_met=aim.match.met,
        alkalinity_meq_l=told["alkalinity"],
        careful_share=1.0,
        product_buffer=told.get("product"),
        gas_lost=told["gas"],
        acid_scale=told["scale"],
        offset_ph=told.get("offset"),
        pigment_numbers=pigment_numbers(model, fitted),
        dose_before_g=DoseRange.among(
            possible_tubs(model.tub).grams_for_ph(aim.ph), _grams_as_read(model, aim.ph)
        ),
        per_litre_before_g=before,
        volume_l=model.litres,
        colours=amounts_in(model.tub),
        foam_bath_ml=0.0 if model.tub.foam_bath is None else model.tub.foam_bath.amount_ml,
        ph_before=float(aim.path.ph[0]),
        before=aim.path.colours.at(0),
        after=aim.path.colours.at(aim.match.step),
        steps=_steps(model, readings, fitted),
        left_out=tuple(left_out),
        scatter=float(fitted.misfit),
        market=wish.market,
        notes=(
            *aim.notes,
            *_notes(model, by, told["gas"]),
            *bather_assumptions(wish.bathers, wish.child_age_years),
        ),
    )
    return replace(answer, careful_share=_careful_share(model.tub, answer))


def _as_written(meq_l: float) -> float:
    """An alkalinity to the whole ppm of a recipe, by which a plan may begin to pour in portions."""
    return float(alkalinity_meq_l(round(float(alkalinity_in(meq_l, "ppm"))), "ppm"))


def _careful_share(inputs: RecipeInputs, answer: JarAnswer) -> float | None:
    """Share of the alkalinity that a recipe keeps, so that its plan allows no more than the jar.

    A plan knows nothing else of what the jar told, and would pour more in some waters.
    """
    level = answer.alkalinity_meq_l
    if not answer.poured:
        return 1.0
    for share in np.arange(1.0, LEAST_SHARE, -SHARE_STEP).tolist():
        water = replace(
            inputs.without_jar.water,
            alkalinity_meq_l=_as_written(share * level.best),
            alkalinity_low_meq_l=_as_written(share * level.low),
            alkalinity_high_meq_l=_as_written(share * level.high),
            carbonate_hardness_meq_l=None,
            instrument=AS_SURE_AS[-1],
            drop_step_meq_l=None,
            thinned=1.0,
            typical=False,
        )
        if make_plan(replace(inputs, water=water)).never_over_g <= answer.never_over_g:
            return float(share)
    return None


def _dosed(
    model: JarModel,
    fitted: Fit,
    readings: Readings,
    by: str,
    aim: Aim,
    accept: tuple[str | None, ...],
) -> dict[str, Any]:
    """The dose at the aim among the tubs that readings and jar allow, and how it is judged."""
    possible, numbers = _possible(model, fitted), draws(fitted, POSSIBLE_TUBS, SEED)
    ph: ArrayLike = _turned_ph(model, readings, numbers) if aim.of_turn else aim.ph
    grams = float(aim.path.grams[aim.match.step])
    dose = DoseRange.among(_needed(possible, ph), grams)
    needed = model.grams_for_ph(numbers, ph)
    bathers = judged_bathers(model.tub.wish.bathers)
    accepted = JUSTIFY if accept[0] else MIND
    # What can be read in the tub between portions.
    instrument = by if by == "meter" else model.tub.water.instrument or "none"
    gentle = pour_gently(
        possible, aim.path, aim.match.step, lambda: dose.high, bathers, accepted, instrument
    )
    pouring = with_chalk(gentle, bathers)
    jugs = jugs_of_pours(model.tub.activator.parts, pouring.totals_g, assemble(model.tub).bath)
    here = model.tubs(fitted.of_model)
    most_g = max((grams, *pouring.totals_g))
    soda_g = undo_soda_g(here.bath.with_activator(most_g, here.per_gram))
    situation = Situation(
        model.tub,
        pouring.moments(float(aim.path.ph[0])),
        accept_ph=accept[0],
        accept_pouring=accept[1],
        elsewhere=elsewhere(model.tub, grams),
        jugs=() if jugs is None else (jugs,),
    )
    return {
        "dose_g": dose,
        "per_litre_g": _per_litre(model, needed, grams),
        "maximum_g": most_to_pour(possible, pouring, grams, dose.high, bathers, accepted),
        "volume_share": _volume_share(possible, needed),
        "pouring": pouring,
        "jugs": jugs,
        "undo_soda_g": soda_g,
        "undo_soda_teaspoons": spoons(SODA, soda_g).teaspoons,
        "bathers": bathers,
        "cautions": judge(situation),
        "not_for_bathing": not_for_bathing(situation),
        "verdicts": verdicts(situation),
    }


def check_readings(readings: Readings, by: str) -> None:
    """Refuse a series that no answer can rest on.

    Parameters
    ----------
    readings : Readings
        A single series.
    by : str
        What was read, of `dosing.jar.kit.BY`: a turn is a series by itself.

    Raises
    ------
    ValueError
        If a number is not finite, totals do not rise, or there are too few or too many.
    """
    if not (np.isfinite(readings.added).all() and np.isfinite(readings.values).all()):
        raise ValueError(say("jar.not-finite"))
    if np.any(readings.added < 0) or np.any(np.diff(readings.added) < 0):
        raise ValueError(say("jar.order"))
    count = len(readings.added)
    least, most = (int(jar_value(key)) for key in ("least_readings", "most_readings"))
    different = len(np.unique(readings.added))
    if different < (1 if by == "turn" else least) or count > most:
        raise ValueError(say("jar.count", {"count": different, "least": least, "most": most}))


def aim_as_read(
    model: JarModel, target: str | None, numbers: Array | None = None, accept_ph: str | None = None
) -> Aim:
    """The plan's own aim on the path of a tub, or the nearest where its pigment gives it elsewhere.

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    target : str or None
        A pH, a colour word or a hex colour; None for the recipe's.
    numbers : numpy.ndarray, optional
        Of the tub, shape (numbers,); as the recipe has it if not given.
    accept_ph : str, optional
        As in `dosing.plan.answer.make_plan`.

    Returns
    -------
    Aim

    Raises
    ------
    ValueError
        If the target is none, or nothing was asked for.
    """
    wish = Wish.written(model.tub.wish.target if target is None else target)
    setting = model.tubs(model.as_read if numbers is None else numbers)
    ph, colour_first = wish.ph, False
    if ph is None:
        if not setting.bath.strengths:
            raise ValueError(say("jar.no-target"))
        plan = make_plan(model.tub, target=target, accept_ph=accept_ph)
        ph = plan.after.ph if plan.wish_met else None
        weak = any(note.code == "needed.stronger" for note in plan.needed)
        colour_first = weak and not plan.wish_met and plan.first_portion is None
    path = path_through(colour_path(setting.bath, setting.per_gram, setting.view), ph, setting)
    if not turns(path):
        values: dict[str, Value] = {"ph": float(path.ph[0]), "end": float(path.ph[-1])}
        raise ValueError(say("jar.no-turn", values))
    if wish.ph is None and numbers is not None and model.pigments:
        # In the colours of the pigment as the jar has it.
        pka = {which: model.pigment(which, numbers)[0] for which in model.pigments}
        colours = seen(mixture_absorbance(setting.bath.strengths, path.ph, pka), setting.view)
        change = delta_e(colours.lab[0], colours.lab)
        path = replace(path, colours=colours, change_delta_e=change)
    everywhere = np.ones(len(path.ph), dtype=bool)
    if ph is None:
        return Aim(path, step_for(path, wish, everywhere), wish, colour_first=colour_first)
    planned = step_for_ph(path, ph)
    there = np.arange(len(path.ph)) == planned.step
    if wish.ph is not None or not model.pigments or step_for(path, wish, there).met:
        return Aim(path, planned, wish)
    moved = step_for(path, wish, everywhere)
    ends: dict[str, Value] = {"planned": ph, "ph": float(path.ph[moved.step])}
    return Aim(path, moved, wish, (Note("jar.note.aim-moved", ends),))


def _aim(
    model: JarModel,
    fitted: Fit,
    readings: Readings,
    by: str,
    target: str | None,
    accept_ph: str | None,
) -> Aim:
    """The plan's aim by what the jar found; where a jar turned by eye, its turn is the aim."""
    numbers = fitted.of_model
    aim = aim_as_read(model, target, numbers, accept_ph)
    if by != "turn" or aim.wish.ph is not None:
        return aim
    setting, ph = model.tubs(numbers), float(_turned_ph(model, readings, numbers))
    path = path_through(aim.path, ph, setting)
    ends: dict[str, Value] = {"planned": aim.ph, "ph": ph}
    return Aim(
        path, step_for_ph(path, ph), aim.wish, (Note("jar.note.aim-turn", ends),), of_turn=True
    )


def _turned_ph(model: JarModel, readings: Readings, numbers: Array) -> Array:
    """PH at which the jar turned, for numbers of shape (..., numbers)."""
    return np.asarray(readings.values[0, 0] - model.move(numbers, "offset"))


def _possible(model: JarModel, fitted: Fit) -> Possible:
    """The tubs that readings and jar allow; volume, scale and look vary as in a plan."""
    read = possible_tubs(model.tub)
    count = len(read.look_error)
    volume = np.asarray(read.setting.bath.volume_l) / model.litres
    here = model.tubs(fitted.of_model)
    setting = model.tubs(draws(fitted, count, SEED), volume)
    warmth = read.setting.bath.temperature_c
    warm = replace(setting, bath=replace(setting.bath, temperature_c=warmth))
    return replace(read, read=here, setting=warm)


def _needed(possible: Possible, ph: ArrayLike) -> Array:
    """Grams that bring each possible tub to a pH, one for all or its own [g]; NaN where none do."""
    setting, off = possible.setting, possible.drawn[:, QUANTITIES.index("constants")]
    grams, _, _ = setting.bath.grams_for_ph(ph, setting.per_gram)
    return np.asarray(grams * np.exp(possible.constants * off))


def per_litre_before(model: JarModel, ph: float) -> DoseRange:
    """Dose per litre by the recipe's readings alone.

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    ph : float
        pH that the dose leads to.

    Returns
    -------
    DoseRange
        [g/L].
    """
    spread = reading_spreads(model.tub)
    sd = max(spread.alkalinity_sd, spread.alkalinity_sd_above)
    # A kit that counts no drop leaves nothing open, to neither of the two.
    usual = sd / model.alkalinity_sd if model.alkalinity_sd > 0 else 1.0
    widths = np.where([what == "alkalinity" for what, *_ in model.names], usual, 1.0)
    numbers = widths * antithetic_normals(POSSIBLE_TUBS, len(model.names), SEED)
    return _per_litre(model, model.grams_for_ph(numbers, ph), _grams_as_read(model, ph))


def per_litre_by_turn(model: JarModel, jars: Readings, ph: float | None = None) -> DoseRange:
    """Dose per litre that brings the tub to a pH, or to the colour that a jar turned to.

    Parameters
    ----------
    model : JarModel
        The jars and the tub.
    jars : Readings
        Of `dosing.jar.bench.Bench.turns`.
    ph : float, optional
        The wished pH; that of the turn, whichever it is, if not given.

    Returns
    -------
    DoseRange
        [g/L].
    """
    fitted = fit(model, jars)
    best, needed = (
        model.grams_for_ph(numbers, _turned_ph(model, jars, numbers) if ph is None else ph)
        for numbers in (fitted.of_model, draws(fitted, POSSIBLE_TUBS, SEED))
    )
    return _per_litre(model, needed, float(np.nan_to_num(best)))


def _per_litre(model: JarModel, needed: Array, grams: float) -> DoseRange:
    """Dose per litre where the tub's volume is as read [g/L]."""
    return DoseRange.among(needed / model.litres, grams / model.litres)


def _grams_as_read(model: JarModel, ph: float) -> float:
    """Grams to a pH by the recipe's readings; 0 where none do [g]."""
    return float(np.nan_to_num(model.grams_for_ph(model.as_read, ph)))


def _log_sd(grams: Array) -> float:
    with np.errstate(invalid="ignore", divide="ignore"):
        logs = np.log(grams)
    good = logs[np.isfinite(logs)]
    return float(np.std(good)) if len(good) > 1 else 0.0


def _volume_share(possible: Possible, needed: Array) -> float:
    """Share of the volume in the variance of the logarithm of the dose."""
    volume, spread = _log_sd(np.asarray(possible.setting.bath.volume_l)), _log_sd(needed)
    total = volume**2 + spread**2
    return volume**2 / total if total > 0 else 0.0


def _steps(model: JarModel, readings: Readings, fitted: Fit) -> tuple[StepFit, ...]:
    """The readings beside what the fit expects of them."""
    if readings.kind == "ph":
        away = (readings.values - fitted.expected)[:, 0]
    else:
        away = np.atleast_1d(delta_e(fitted.expected, readings.values))
    return tuple(
        StepFit(
            number=k + 1,
            added=float(added),
            read=_shown(readings.values[k]),
            expected=_shown(fitted.expected[k]),
            word=readings.words[k] if readings.words else None,
            residual=float(away[k]),
            set_aside=bool(fitted.weights[k] < SET_ASIDE_WEIGHT),
        )
        for k, added in enumerate(readings.added)
    )


def _shown(reading: Array) -> float | str:
    """A pH, or a colour as # and six digits."""
    return float(reading[0]) if len(reading) == 1 else str(hex_of_lab(reading, "D65", 2))


def _notes(model: JarModel, by: str, gas: Learnt) -> list[Note]:
    """What the answer rests on."""
    notes = [Note("jar.note.gas", {"low": gas.prior_low, "high": gas.prior_high})]
    if model.tub.foam_bath is not None and model.jar.inputs.foam_bath is None:
        notes.append(Note("jar.note.plain"))
    notes.append(Note("jar.note.solution", {"off": model.scale_sd}))
    if by == "strip":
        notes.append(Note("jar.note.strip", {"off": reading_spread("ph", by).sd_absolute}))
    return notes
