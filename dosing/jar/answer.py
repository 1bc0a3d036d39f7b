"""The jar test: a bench titration of the bath itself corrects the forecast.

A series of readings narrows what is not known of the water, the foam bath and the pigment; the
tubs that then remain are drawn, dosed and judged as a plan's are. What a jar cannot tell is how
much water the tub holds, so the dose per litre and the tub's dose are kept apart.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import Jugs, jugs_of_pours
from dosing.bath.possible_tubs import POSSIBLE_TUBS, Possible, possible_tubs
from dosing.ingredients.trade_values import reading_spread
from dosing.jar.design import Design, next_design
from dosing.jar.doubts import doubts_of
from dosing.jar.fit import Fit, draws, fit, normal_numbers
from dosing.jar.kit import finest_step
from dosing.jar.learnt import (
    SURE,
    Learnt,
    PigmentNumber,
    alkalinity,
    factor,
    first_shift,
    gas_lost,
    offset,
    pigment_numbers,
)
from dosing.jar.model import Array, JarModel, Readings, jar_value
from dosing.plan.case import JUSTIFY, MIND
from dosing.plan.cautions import (
    Caution,
    Verdicts,
    bather_assumptions,
    exit_code,
    judge,
    judged_bathers,
    not_for_bathing,
    pour_forbidden,
    verdicts,
)
from dosing.plan.households import elsewhere
from dosing.plan.path import Match, Path, colour_path, step_for, turns
from dosing.plan.pouring import Pouring, most_to_pour, pour_gently, with_chalk
from dosing.plan.records import DoseRange, Wish
from dosing.plan.situation import situation_of
from indicator.absorbance import mixture_absorbance
from indicator.appearance import delta_e, seen
from indicator.notes import Note, Value, say
from indicator.robust_fit import SET_ASIDE_WEIGHT

SEED = 45


@dataclass(frozen=True)
class StepFit:
    """One reading of the series."""

    number: int
    """From 1."""
    added: float
    """In the jar by then [unit of the titrant]."""
    read: Array
    """PH, shape (1,), or CIELAB, shape (3,)."""
    expected: Array
    """As fitted."""
    residual: float
    """Read less expected [pH], or CIEDE2000."""
    weight: float
    word: str = ""
    """The colour word that was noted, where its pH stands for one."""

    @property
    def set_aside(self) -> bool:
        """Whether it contradicts the others so far that it hardly counts."""
        return self.weight < SET_ASIDE_WEIGHT


@dataclass(frozen=True)
class JarAnswer:
    """What a jar test says."""

    title: str
    by: str
    unit: str
    target_ph: float
    target: str
    """As it was asked for; empty for the mildest obvious change."""
    reached: bool
    """Whether the dose leads to the target, no caution forbids it and nothing holds it back."""
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
    pka_shift: Learnt | None
    """Of the first constant of the first pigment [pH]."""
    pigment_numbers: tuple[PigmentNumber, ...]
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
    pouring: Pouring
    jugs: Jugs | None
    """What the largest portion is dissolved in; None where nothing is poured."""
    ph_before: float
    after: tuple[str, str]
    """Name and hex of the tub at the target, as the jar has its pigment."""
    steps: tuple[StepFit, ...]
    consistent: bool
    worst_step: int | None
    """Number of the reading that disagrees most, where the series is inconsistent."""
    check_first: tuple[Note, ...]
    """What to check before anything is poured; empty unless the dose is held back."""
    scatter: float
    """Of the readings over what their instrument should have."""
    cautions: tuple[Caution, ...]
    next_additions: Design | None
    not_for_bathing: bool
    verdicts: Verdicts
    """Whether the dose may be poured, given and sold."""
    market: str
    notes: tuple[Note, ...]
    warnings: tuple[Note, ...]

    @property
    def held_back(self) -> bool:
        """Whether the series is too doubtful for its dose to be poured."""
        return bool(self.check_first)

    @property
    def forbidden(self) -> bool:
        """Whether a caution forbids the dose."""
        return pour_forbidden(self.cautions)


@dataclass(frozen=True)
class _Dosed:
    """The dose that a series leaves, in this tub, and how it is judged."""

    dose_g: DoseRange
    per_litre_g: DoseRange
    maximum_g: float
    volume_share: float
    pouring: Pouring
    jugs: Jugs | None
    cautions: tuple[Caution, ...]
    verdicts: Verdicts
    not_for_bathing: bool


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

    Raises
    ------
    ValueError
        If there are too few readings, or the target is none.
    """
    check_readings(readings)
    found = fit(model, readings)
    path, match, wish = _aim(model, found.numbers[: len(model.names)], target)
    ph = float(path.ph[match.step])
    dosed = _dosed(model, found, by, path, match.step, accept_ph, accept_pouring)
    before = per_litre_before(model, ph)
    doubts = doubts_of(
        model,
        found,
        readings,
        target_ph=ph,
        per_litre=dosed.per_litre_g,
        per_litre_before=before,
    )
    step = finest_step(model.titrant, float(readings.added[-1]))
    further = next_design(model, by, ph, step, found, readings.added)
    answer = JarAnswer(
        title=model.tub.title,
        by=by,
        unit=model.titrant.unit,
        target_ph=ph,
        target=wish,
        reached=match.met and exit_code(dosed.cautions) == 0 and not doubts.check_first,
        target_met=match.met,
        alkalinity_meq_l=alkalinity(model, found),
        product_buffer=factor(model.product_sd, found, "product"),
        gas_lost=gas_lost(model, found),
        acid_scale=factor(model.scale_sd, found, "scale") or SURE,
        offset_ph=offset(model, found),
        pka_shift=first_shift(model, found),
        pigment_numbers=pigment_numbers(model, found),
        dose_g=dosed.dose_g,
        dose_before_g=DoseRange.among(
            possible_tubs(model.tub).grams_for_ph(ph), _grams_as_read(model, ph)
        ),
        per_litre_g=dosed.per_litre_g,
        per_litre_before_g=before,
        maximum_g=dosed.maximum_g,
        volume_l=_litres(model),
        volume_share=dosed.volume_share,
        pouring=dosed.pouring,
        jugs=dosed.jugs,
        ph_before=float(path.ph[0]),
        after=(str(path.colours.name[match.step]), str(path.colours.hex[match.step])),
        steps=_steps(readings, found),
        consistent=doubts.consistent,
        worst_step=doubts.worst_step,
        check_first=doubts.check_first,
        scatter=float(found.misfit),
        cautions=_standing(dosed.cautions, held=bool(doubts.check_first)),
        next_additions=further if _worthwhile(further) else None,
        not_for_bathing=dosed.not_for_bathing,
        verdicts=dosed.verdicts,
        market=model.tub.wish.market,
        notes=bather_assumptions(model.tub.wish.bathers, model.tub.wish.child_age_years),
        warnings=doubts.warnings,
    )
    return replace(answer, notes=(*_notes(model, answer), *answer.notes))


def _dosed(
    model: JarModel,
    found: Fit,
    by: str,
    path: Path,
    step: int,
    accept_ph: str | None,
    accept_pouring: str | None,
) -> _Dosed:
    """The dose at a step of the path, among the tubs that readings and jar allow."""
    possible = _possible(model, found)
    ph, grams = float(path.ph[step]), float(path.grams[step])
    dose = DoseRange.among(possible.grams_for_ph(ph), grams)
    needed = _needed(model, draws(found, len(model.names), POSSIBLE_TUBS, SEED), ph)
    bathers = judged_bathers(model.tub.wish.bathers)
    accepted = JUSTIFY if accept_ph else MIND
    clear = pour_gently(
        possible, path, step, lambda: dose.high, bathers, accepted, _instrument(model.tub, by)
    )
    pouring = with_chalk(possible, clear, bathers)
    tub = assemble(model.tub).bath
    jugs = jugs_of_pours(model.tub.activator.parts, pouring.totals_g, tub)
    situation = situation_of(
        model.tub,
        pouring.moments(float(path.ph[0])),
        accept_ph=accept_ph,
        accept_pouring=accept_pouring,
        elsewhere=elsewhere(model.tub, grams),
        jugs=() if jugs is None else (jugs,),
    )
    return _Dosed(
        dose_g=dose,
        per_litre_g=_per_litre(model, needed, grams),
        maximum_g=most_to_pour(possible, pouring, grams, dose.high, bathers, accepted),
        volume_share=_volume_share(possible, needed),
        pouring=pouring,
        jugs=jugs,
        cautions=judge(situation),
        verdicts=verdicts(situation),
        not_for_bathing=not_for_bathing(situation),
    )


def _standing(cautions: tuple[Caution, ...], *, held: bool) -> tuple[Caution, ...]:
    """The cautions without those that call a pH harmless, where it rests on a doubtful series."""
    return tuple(one for one in cautions if not (held and one.level == "ok"))


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

    Raises
    ------
    ValueError
        If the target is none, or nothing was asked for.
    """
    path, match, _ = _aim(model, np.zeros(len(model.names)), target)
    return float(path.ph[match.step])


def _aim(model: JarModel, numbers: Array, target: str | None) -> tuple[Path, Match, str]:
    """The path of the tub with these numbers, where on it the target is, and the target."""
    wish = Wish.written(model.tub.wish.target if target is None else target)
    setting = model.tubs(numbers)
    path = colour_path(setting.bath, setting.per_gram, setting.view, through_ph=wish.ph)
    if not turns(path):
        values: dict[str, Value] = {"ph": float(path.ph[0]), "end": float(path.ph[-1])}
        raise ValueError(say("jar.no-turn", values))
    anywhere = np.ones(len(path.ph), dtype=bool)
    if wish.ph is not None:
        return path, step_for(path, wish, anywhere), wish.text
    if not setting.bath.strengths:
        raise ValueError(say("jar.no-target"))
    path = _seen_as_fitted(model, numbers, path)
    return path, step_for(path, wish, anywhere), wish.text


def _seen_as_fitted(model: JarModel, numbers: Array, path: Path) -> Path:
    """The path in the colours of the pigment as the jar has it."""
    if not model.pigments:
        return path
    setting = model.tubs(numbers)
    pka = {which: model.constants(which, numbers) for which in model.pigments}
    colours = seen(mixture_absorbance(setting.bath.strengths, path.ph, pka), setting.view)
    return replace(path, colours=colours, change_delta_e=delta_e(colours.lab[0], colours.lab))


def _possible(model: JarModel, found: Fit) -> Possible:
    """The tubs that readings and jar allow; volume, scale and look vary as in a plan."""
    read = possible_tubs(model.tub)
    count = len(read.look_error)
    volume = np.asarray(read.setting.bath.volume_l) / _litres(model)
    here = model.tubs(found.numbers[: len(model.names)])
    setting = model.tubs(draws(found, len(model.names), count, SEED), volume)
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
    """
    numbers = normal_numbers(POSSIBLE_TUBS, len(model.names), SEED)
    return _per_litre(model, _needed(model, numbers, ph), _grams_as_read(model, ph))


def _per_litre(model: JarModel, needed: Array, grams: float) -> DoseRange:
    """Dose per litre where the tub's volume is as read [g/L]."""
    litres = _litres(model)
    return DoseRange.among(needed / litres, grams / litres)


def _litres(model: JarModel) -> float:
    """Water of the tub as read [L]."""
    return float(model.tubs(np.zeros(len(model.names))).bath.volume_l)


def _needed(model: JarModel, numbers: Array, ph: float) -> Array:
    """Grams that bring tubs of these numbers to a pH; NaN where none do."""
    setting = model.tubs(numbers)
    grams, _, _ = setting.bath.grams_for_ph(ph, setting.per_gram)
    return np.asarray(grams)


def _grams_as_read(model: JarModel, ph: float) -> float:
    return float(np.nan_to_num(_needed(model, np.zeros(len(model.names)), ph)))


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


def _instrument(inputs: RecipeInputs, by: str) -> str:
    """What can be read in the tub between portions."""
    return by if by == "meter" else inputs.water.instrument or "none"


def _steps(readings: Readings, found: Fit) -> tuple[StepFit, ...]:
    if readings.kind != "ph":
        away = np.atleast_1d(delta_e(found.expected, readings.values))
    else:
        away = (readings.values - found.expected)[:, 0]
    return tuple(
        StepFit(
            number=k + 1,
            added=float(readings.added[k]),
            read=readings.values[k],
            expected=found.expected[k],
            residual=float(away[k]),
            weight=float(found.weights[k]),
            word=readings.words[k] if readings.words else "",
        )
        for k in range(len(readings.added))
    )


def _worthwhile(design: Design) -> bool:
    gain = 1.0 - design.width_after / max(design.width_before, 1e-12)
    return len(design.totals) > 0 and gain >= jar_value("worthwhile_reading")


def _notes(model: JarModel, answer: JarAnswer) -> tuple[Note, ...]:
    """What the answer rests on."""
    gas = answer.gas_lost
    notes = [Note("jar.note.gas", {"low": gas.prior_low, "high": gas.prior_high})]
    if model.tub.foam_bath is not None and model.jar.inputs.foam_bath is None:
        notes.append(Note("jar.note.plain"))
    notes.append(Note("jar.note.solution", {"off": model.scale_sd}))
    if answer.by == "strip":
        notes.append(Note("jar.note.strip", {"off": reading_spread("ph", answer.by).sd_absolute}))
    if answer.volume_share > 0.5:
        notes.append(Note("jar.note.volume", {"share": answer.volume_share}))
    return tuple(notes)
