"""The jar test: a bench titration of the bath itself corrects the forecast.

A series of readings narrows what is not known of the water, the foam bath and the pigment; the
tubs that then remain are drawn, dosed and judged as a plan's are. What a jar cannot tell is how
much water the tub holds, so the dose per litre and the tub's dose are kept apart.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from dosing.bath.assembled import assemble
from dosing.bath.jugs import jugs_of_pours
from dosing.bath.possible_tubs import POSSIBLE_TUBS, Possible, possible_tubs
from dosing.ingredients.trade_values import reading_spread
from dosing.jar.design import Additions, next_additions
from dosing.jar.doubts import doubts_of
from dosing.jar.fit import Fit, antithetic_normals, draws, fit
from dosing.jar.kit import finest_step
from dosing.jar.learnt import Learnt, learnt_numbers, pigment_numbers
from dosing.jar.model import Array, JarModel, Readings, jar_value
from dosing.jar.records import Addition, JarAnswer, StepFit, TubDose
from dosing.plan.case import JUSTIFY, MIND
from dosing.plan.cautions import Situation, bather_assumptions, not_for_bathing
from dosing.plan.households import elsewhere
from dosing.plan.levels import judged_bathers
from dosing.plan.path import Match, Path, colour_path, path_through, step_for, turns
from dosing.plan.pouring import most_to_pour, pour_gently, with_chalk
from dosing.plan.records import DoseRange, Wish
from dosing.plan.rules import judge, verdicts
from indicator.absorbance import mixture_absorbance
from indicator.appearance import delta_e, hex_of_lab, seen
from indicator.notes import Note, Value, say
from indicator.robust_fit import SET_ASIDE_WEIGHT

SEED = 45


def jar_test(
    model: JarModel,
    readings: Readings,
    by: str,
    *,
    target: str | None = None,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
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

    Returns
    -------
    JarAnswer

    Raises
    ------
    ValueError
        If there are too few readings, or the target is none.
    """
    check_readings(readings)
    fitted = fit(model, readings)
    path, match, wish = _aim(model, fitted.of_model, target)
    ph = float(path.ph[match.step])
    tub = _dosed(model, fitted, by, path, match.step, (accept_ph, accept_pouring))
    before = per_litre_before(model, ph)
    doubts = doubts_of(
        model,
        fitted,
        readings,
        target_ph=ph,
        per_litre=tub.per_litre_g,
        per_litre_before=before,
    )
    step = finest_step(model.titrant, float(readings.added[-1]))
    further = next_additions(model, by, ph, step, fitted, readings.added)
    judged = dict(vars(tub))
    if doubts.check_first:
        # No pH is called harmless that rests on a doubtful series.
        judged["cautions"] = tuple(caution for caution in tub.cautions if caution.level != "ok")
    told = learnt_numbers(model, fitted)
    notes = _notes(model, by, told["gas"], tub.volume_share)
    return JarAnswer(
        **judged,
        **vars(doubts),
        title=model.tub.title,
        by=by,
        unit=model.titrant.unit,
        target_ph=ph,
        target=wish,
        target_met=match.met,
        alkalinity_meq_l=told["alkalinity"],
        product_buffer=told.get("product"),
        gas_lost=told["gas"],
        acid_scale=told["scale"],
        offset_ph=told.get("offset"),
        pigment_numbers=pigment_numbers(model, fitted),
        dose_before_g=DoseRange.among(
            possible_tubs(model.tub).grams_for_ph(ph), _grams_as_read(model, ph)
        ),
        per_litre_before_g=before,
        volume_l=model.litres,
        ph_before=float(path.ph[0]),
        after=path.colours.at(match.step),
        steps=_steps(model, readings, fitted),
        scatter=float(fitted.misfit),
        next_additions=_worthwhile(model, further, float(readings.added[-1])),
        next_share_of_width=further.share_of_width,
        market=model.tub.wish.market,
        notes=(*notes, *bather_assumptions(model.tub.wish.bathers, model.tub.wish.child_age_years)),
    )


def _dosed(
    model: JarModel, fitted: Fit, by: str, path: Path, step: int, accept: tuple[str | None, ...]
) -> TubDose:
    """The dose at a step of the path, among the tubs that readings and jar allow."""
    possible = _possible(model, fitted)
    ph, grams = float(path.ph[step]), float(path.grams[step])
    dose = DoseRange.among(possible.grams_for_ph(ph), grams)
    needed = model.grams_for_ph(draws(fitted, POSSIBLE_TUBS, SEED), ph)
    bathers = judged_bathers(model.tub.wish.bathers)
    accepted = JUSTIFY if accept[0] else MIND
    # What can be read in the tub between portions.
    instrument = by if by == "meter" else model.tub.water.instrument or "none"
    gentle = pour_gently(possible, path, step, lambda: dose.high, bathers, accepted, instrument)
    pouring = with_chalk(gentle, bathers)
    jugs = jugs_of_pours(model.tub.activator.parts, pouring.totals_g, assemble(model.tub).bath)
    situation = Situation(
        model.tub,
        pouring.moments(float(path.ph[0])),
        accept_ph=accept[0],
        accept_pouring=accept[1],
        elsewhere=elsewhere(model.tub, grams),
        jugs=() if jugs is None else (jugs,),
    )
    return TubDose(
        dose_g=dose,
        per_litre_g=_per_litre(model, needed, grams),
        maximum_g=most_to_pour(possible, pouring, grams, dose.high, bathers, accepted),
        volume_share=_volume_share(possible, needed),
        pouring=pouring,
        jugs=jugs,
        cautions=judge(situation),
        not_for_bathing=not_for_bathing(situation),
        verdicts=verdicts(situation),
    )


def check_readings(readings: Readings) -> None:
    """Refuse a series that no answer can rest on.

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
    if different < least or count > most:
        raise ValueError(say("jar.count", {"count": different, "least": least, "most": most}))


def target_ph(model: JarModel, target: str | None) -> float:
    """PH that the recipe as read leads to; the middle of a test is laid there.

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    target : str or None
        A pH, a colour word or a hex colour; None for the recipe's.

    Returns
    -------
    float
        pH of the tub.

    Raises
    ------
    ValueError
        If the target is none, or nothing was asked for.
    """
    path, match, _ = _aim(model, model.as_read, target)
    return float(path.ph[match.step])


def _aim(model: JarModel, numbers: Array, target: str | None) -> tuple[Path, Match, str]:
    """The path of the tub with these numbers, where on it the target is, and the target."""
    wish = Wish.written(model.tub.wish.target if target is None else target)
    setting = model.tubs(numbers)
    path = colour_path(setting.bath, setting.per_gram, setting.view)
    path = path_through(path, wish.ph, setting)
    if not turns(path):
        values: dict[str, Value] = {"ph": float(path.ph[0]), "end": float(path.ph[-1])}
        raise ValueError(say("jar.no-turn", values))
    if wish.ph is None:
        if not setting.bath.strengths:
            raise ValueError(say("jar.no-target"))
        # In the colours of the pigment as the jar has it.
        pka = {which: model.pigment(which, numbers)[0] for which in model.pigments}
        if pka:
            colours = seen(mixture_absorbance(setting.bath.strengths, path.ph, pka), setting.view)
            change = delta_e(colours.lab[0], colours.lab)
            path = replace(path, colours=colours, change_delta_e=change)
    return path, step_for(path, wish, np.ones(len(path.ph), dtype=bool)), wish.text


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
    numbers = antithetic_normals(POSSIBLE_TUBS, len(model.names), SEED)
    return _per_litre(model, model.grams_for_ph(numbers, ph), _grams_as_read(model, ph))


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
            added=float(readings.added[k]),
            ml=model.titrant.ml(float(readings.added[k])),
            read=_shown(readings.values[k]),
            expected=_shown(fitted.expected[k]),
            word=readings.words[k] if readings.words else None,
            residual=float(away[k]),
            set_aside=bool(fitted.weights[k] < SET_ASIDE_WEIGHT),
        )
        for k in range(len(readings.added))
    )


def _shown(reading: Array) -> float | str:
    """A pH, or a colour as # and six digits."""
    return float(reading[0]) if len(reading) == 1 else str(hex_of_lab(reading, "D65", 2))


def _worthwhile(model: JarModel, further: Additions, done: float) -> tuple[Addition, ...]:
    """Further additions, where they narrow the dose enough."""
    if 1.0 - further.share_of_width < jar_value("worthwhile_reading"):
        return ()
    adds = np.diff(further.totals, prepend=done).tolist()
    both = zip(adds, further.totals.tolist(), strict=True)
    return tuple(Addition(add, total, model.titrant.ml(add)) for add, total in both)


def _notes(model: JarModel, by: str, gas: Learnt, volume_share: float) -> list[Note]:
    """What the answer rests on."""
    notes = [Note("jar.note.gas", {"low": gas.prior_low, "high": gas.prior_high})]
    if model.tub.foam_bath is not None and model.jar.inputs.foam_bath is None:
        notes.append(Note("jar.note.plain"))
    notes.append(Note("jar.note.solution", {"off": model.scale_sd}))
    if by == "strip":
        notes.append(Note("jar.note.strip", {"off": reading_spread("ph", by).sd_absolute}))
    if volume_share > 0.5:
        notes.append(Note("jar.note.volume", {"share": volume_share}))
    return notes
