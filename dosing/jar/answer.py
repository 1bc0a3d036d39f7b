"""The jar test: a bench titration of the bath itself corrects the forecast.

A series of readings narrows what is not known of the water, the foam bath and the pigment; the
tubs that then remain are drawn, dosed and judged as a plan's are. What a jar cannot tell is how
much water the tub holds, so the dose per litre and the tub's dose are kept apart.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from dosing.case import JUSTIFY, MIND
from dosing.cautions import (
    Caution,
    Colourant,
    Moment,
    Situation,
    bather_assumptions,
    exit_code,
    judge,
    judged_bathers,
    not_for_bathing,
)
from dosing.inputs import RecipeInputs
from dosing.jar.design import Design, next_design
from dosing.jar.fit import (
    SET_ASIDE_WEIGHT,
    Array,
    Fit,
    JarModel,
    Readings,
    draws,
    fit,
    jar_value,
    ninety_percent,
    normal_numbers,
)
from dosing.jar.kit import finest_step
from dosing.looking import look_between
from dosing.planner import (
    Match,
    Path,
    colour_path,
    step_for_hex,
    step_for_ph,
    step_for_show,
    step_for_word,
    turns,
)
from dosing.pouring import Pouring, pour_at_once, pour_in_portions
from dosing.powders import Blend
from dosing.records import DoseRange
from dosing.trade_values import reading_spread
from dosing.uncertainty import (
    ACID_SIDE,
    ALKALINE_SIDE,
    COVERAGE,
    POSSIBLE_TUBS,
    Possible,
    possible_tubs,
)
from indicator.absorbance import mixture_absorbance
from indicator.appearance import delta_e, seen
from indicator.notes import Note, Value, say
from indicator.pigments import colourant
from indicator.words import parse_target

SEED = 45
HALVINGS = 6
"""Of the reach between aim and most, to find the last dose that passes."""


@dataclass(frozen=True)
class Learnt:
    """A number before and after the test; ends hold the truth in nine cases of ten."""

    low: float
    best: float
    high: float
    prior_low: float
    prior_best: float
    prior_high: float

    @property
    def width(self) -> float:
        """Width of its interval."""
        return self.high - self.low


@dataclass(frozen=True)
class PigmentNumber:
    """A constant of a pigment before and after."""

    pigment: str
    form: str
    pka: Learnt


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
    """Whether the dose leads to the target and no caution forbids it."""
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
    ph_before: float
    steps: tuple[StepFit, ...]
    consistent: bool
    worst_step: int | None
    """Number of the reading that disagrees most, where the series is inconsistent."""
    scatter: float
    """Of the readings over what their instrument should have."""
    cautions: tuple[Caution, ...]
    next_additions: Design | None
    not_for_bathing: bool
    notes: tuple[Note, ...]
    warnings: tuple[Note, ...]


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
        ``"meter"``, ``"drop-kit"``, ``"strip"`` or ``"colour"``.
    target : str, optional
        A pH, a colour word or a hex colour; overrides the recipe's.
    accept_ph, accept_pouring : str, optional
        As in `dosing.plan.make_plan`.

    Raises
    ------
    ValueError
        If there are too few readings, or the target is none.
    """
    check_readings(readings)
    found = fit(model, readings)
    best = found.numbers[: len(model.names)]
    path, match, wish = _aim(model, best, target)
    ph = float(path.ph[match.step])
    before, possible = possible_tubs(model.tub), _possible(model, found)
    grams = float(path.grams[match.step])
    dose = _range(possible.grams_for_ph(ph), grams)
    per_litre, spread = _per_litre(model, found, ph, grams)
    bathers = judged_bathers(model.tub.wish.bathers)
    accepted = JUSTIFY if accept_ph else MIND
    pouring = _poured(model, possible, path, match.step, dose, bathers, accepted, by)
    cautions = judge(_situation(model.tub, path, pouring, accept_ph, accept_pouring))
    steps = _steps(readings, found)
    consistent, worst = _consistency(found, readings)
    further = next_design(
        model, by, ph, finest_step(model.titrant, float(readings.added[-1])), found, readings.added
    )
    answer = JarAnswer(
        title=model.tub.title,
        by=by,
        unit=model.titrant.unit,
        target_ph=ph,
        target=wish,
        reached=match.met and exit_code(cautions) == 0,
        target_met=match.met,
        alkalinity_meq_l=_alkalinity(model, found),
        product_buffer=_scaled(model.product_sd, found, "product"),
        gas_lost=_gas(model, found),
        acid_scale=_scaled(model.scale_sd, found, "scale") or _SURE,
        offset_ph=_offset(model, found),
        pka_shift=_first_shift(found),
        pigment_numbers=_pigment_numbers(found),
        dose_g=dose,
        dose_before_g=_range(before.grams_for_ph(ph), _grams_as_read(model, ph)),
        per_litre_g=per_litre,
        per_litre_before_g=per_litre_before(model, ph),
        maximum_g=_most(possible, pouring, grams, dose.high, bathers, accepted),
        volume_l=float(model.tubs(best).bath.volume_l),
        volume_share=_volume_share(possible, spread),
        pouring=pouring,
        ph_before=float(path.ph[0]),
        steps=steps,
        consistent=consistent,
        worst_step=worst,
        scatter=float(found.misfit),
        cautions=cautions,
        next_additions=further if _worthwhile(further) else None,
        not_for_bathing=not_for_bathing(_situation(model.tub, path, pouring, None, None)),
        notes=(*bather_assumptions(model.tub.wish.bathers, model.tub.wish.child_age_years),),
        warnings=(),
    )
    return replace(
        answer,
        notes=(*_notes(model, answer), *answer.notes),
        warnings=_warnings(model, answer, found, readings),
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

    Raises
    ------
    ValueError
        If the target is none, or nothing was asked for.
    """
    path, match, _ = _aim(model, np.zeros(len(model.names)), target)
    return float(path.ph[match.step])


def _aim(model: JarModel, numbers: Array, target: str | None) -> tuple[Path, Match, str]:
    """The path of the tub with these numbers, where on it the target is, and the target."""
    text = model.tub.wish.target if target is None else target
    wish = None if text is None else parse_target(text)
    setting = model.tubs(numbers)
    through = None if wish is None else wish.ph
    path = colour_path(setting.bath, setting.per_gram, setting.view, through_ph=through)
    if not turns(path):
        values: dict[str, Value] = {"ph": float(path.ph[0]), "end": float(path.ph[-1])}
        raise ValueError(say("jar.no-turn", values))
    if wish is not None and wish.ph is not None:
        return path, step_for_ph(path, wish.ph), text or ""
    if not setting.bath.strengths:
        raise ValueError(say("jar.no-target"))
    path = _seen_as_fitted(model, numbers, path)
    anywhere = np.ones(len(path.ph), dtype=bool)
    if wish is None:
        return path, step_for_show(path, anywhere), ""
    if wish.word is not None:
        return path, step_for_word(path, wish.word, anywhere), text or ""
    return path, step_for_hex(path, wish.hex or "", anywhere), text or ""


def _seen_as_fitted(model: JarModel, numbers: Array, path: Path) -> Path:
    """The path in the colours of the pigment as the jar has it."""
    if not model.pigments:
        return path
    setting = model.tubs(numbers)
    pka = {which.name: model.constants(which, numbers) for which in model.pigments}
    colours = seen(mixture_absorbance(setting.bath.strengths, path.ph, pka), setting.view)
    return replace(path, colours=colours, change_delta_e=delta_e(colours.lab[0], colours.lab))


def _possible(model: JarModel, found: Fit) -> Possible:
    """The tubs that readings and jar allow; volume, scale and look vary as in a plan."""
    read = possible_tubs(model.tub)
    count = len(read.look_error)
    nominal = float(model.tubs(np.zeros(len(model.names))).bath.volume_l)
    volume = np.asarray(read.setting.bath.volume_l) / nominal
    setting = model.tubs(draws(found, len(model.names), count, SEED), volume)
    warmth = read.setting.bath.temperature_c
    return replace(read, setting=replace(setting, bath=replace(setting.bath, temperature_c=warmth)))


def _range(grams: Array, best: float) -> DoseRange:
    if best <= 0 or not np.isfinite(grams).any():
        return DoseRange(best, best, best, COVERAGE)
    low, high = np.nanquantile(grams, (ACID_SIDE, ALKALINE_SIDE))
    return DoseRange(min(float(low), best), best, max(float(high), best), COVERAGE)


def _per_litre(model: JarModel, found: Fit, ph: float, grams: float) -> tuple[DoseRange, float]:
    """Dose per litre of the tub as read, and the standard deviation of its logarithm."""
    count = len(model.names)
    setting = model.tubs(draws(found, count, POSSIBLE_TUBS, SEED))
    each, _, _ = setting.bath.grams_for_ph(ph, setting.per_gram)
    litres = float(model.tubs(np.zeros(count)).bath.volume_l)
    return _range(each / litres, grams / litres), _log_sd(each)


def per_litre_before(model: JarModel, ph: float) -> DoseRange:
    """Dose per litre by the recipe's readings alone.

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    ph : float
        pH that the dose leads to.
    """
    count = len(model.names)
    numbers = normal_numbers(POSSIBLE_TUBS, count, SEED)
    setting = model.tubs(numbers)
    each, _, _ = setting.bath.grams_for_ph(ph, setting.per_gram)
    litres = float(model.tubs(np.zeros(count)).bath.volume_l)
    return _range(each / litres, _grams_as_read(model, ph) / litres)


def _grams_as_read(model: JarModel, ph: float) -> float:
    setting = model.tubs(np.zeros(len(model.names)))
    grams, _, _ = setting.bath.grams_for_ph(ph, setting.per_gram)
    return float(np.nan_to_num(grams))


def _log_sd(grams: Array) -> float:
    with np.errstate(invalid="ignore", divide="ignore"):
        logs = np.log(grams)
    good = logs[np.isfinite(logs)]
    return float(np.std(good)) if len(good) > 1 else 0.0


def _volume_share(possible: Possible, spread: float) -> float:
    volume = _log_sd(np.asarray(possible.setting.bath.volume_l))
    total = volume**2 + spread**2
    return volume**2 / total if total > 0 else 0.0


def _poured(
    model: JarModel,
    possible: Possible,
    path: Path,
    step: int,
    dose: DoseRange,
    bathers: str,
    accepted: int,
    by: str,
) -> Pouring:
    """At once where every remaining tub allows it, else in portions, as a plan does."""
    at_once = pour_at_once(possible, dose.best, bathers)
    if at_once.level <= accepted or dose.best <= 0:
        return at_once
    look = look_between(path, step, by if by == "meter" else model.tub.water.instrument or "none")
    if look is None:
        return at_once
    portions = pour_in_portions(
        possible, look, dose.best, dose.high, bathers, accepted, acid=path.acid
    )
    return portions if portions.level < at_once.level else at_once


def _most(
    possible: Possible, pouring: Pouring, grams: float, high: float, bathers: str, accepted: int
) -> float:
    """The printed maximum: the last portion, or the last dose at once that still passes."""
    if len(pouring.totals_g) > 1:
        return pouring.totals_g[-1]
    if pour_at_once(possible, high, bathers).level <= accepted:
        return high
    low = grams
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        passes = pour_at_once(possible, middle, bathers).level <= accepted
        low, high = (middle, high) if passes else (low, middle)
    return low


def _situation(
    inputs: RecipeInputs,
    path: Path,
    pouring: Pouring,
    accept_ph: str | None,
    accept_pouring: str | None,
) -> Situation:
    before = float(path.ph[0])
    moments = [Moment("before", before, before)]
    if len(pouring.totals_g) > 1:
        moments.append(Moment("first-pour", pouring.acid_sides[0], before))
    moments += [Moment("after", *pouring.final), Moment("after-airing", *pouring.aired)]
    return Situation(
        bathers=inputs.wish.bathers,
        child_age_years=inputs.wish.child_age_years,
        foam_bath_present=inputs.foam_bath is not None,
        moments=tuple(moments),
        pouring=inputs.activator.pouring,
        poured=inputs.activator.poured,
        purpose=inputs.wish.purpose,
        market=inputs.wish.market,
        colourants=tuple(Colourant(one.name, one.preserved) for one in inputs.colours),
        water_temperature_c=inputs.water_temperature_c,
        powders=tuple(Blend(inputs.activator.parts).parts),
        accept_ph_reason=accept_ph,
        accept_pouring_reason=accept_pouring,
    )


def _ends(found: Fit, what: str) -> tuple[float, float, float] | None:
    """Low end, best and high end of a number, in standard deviations of what was expected."""
    place = found.place(what)
    return None if place is None else _ends_at(found, place)


def _ends_at(found: Fit, place: int) -> tuple[float, float, float]:
    reach = ninety_percent() * float(np.sqrt(found.covariance[place, place]))
    best = float(found.numbers[place])
    return best - reach, best, best + reach


_SURE = Learnt(1.0, 1.0, 1.0, 1.0, 1.0, 1.0)


def _scaled(sd: float, found: Fit, what: str) -> Learnt | None:
    """A factor whose logarithm has this standard deviation before the test."""
    ends = _ends(found, what)
    if ends is None:
        return None
    low, best, high = np.exp(sd * np.array(ends))
    reach = np.exp(ninety_percent() * sd)
    return Learnt(float(low), float(best), float(high), float(1 / reach), 1.0, float(reach))


def _alkalinity(model: JarModel, found: Fit) -> Learnt:
    ends = _ends(found, "alkalinity")
    assert ends is not None
    level, sd = model.alkalinity, model.alkalinity_sd
    # Folded at nothing, as the fit has it: the mirror of a water counts as the water.
    if level + sd * ends[1] < 0:
        level, sd = -level, -sd
        ends = (ends[2], ends[1], ends[0])
    low, best, high = (level + sd * one for one in ends)
    reach = ninety_percent() * model.alkalinity_sd
    read = model.alkalinity
    return Learnt(max(low, 0.0), best, high, max(read - reach, 0.0), read, read + reach)


def _gas(model: JarModel, found: Fit) -> Learnt:
    def share(number: float) -> float:
        return 1.0 / (1.0 + float(np.exp(-(model.gas + model.gas_sd * number))))

    reach = ninety_percent()
    low, best, high = _ends(found, "gas") or (-reach, 0.0, reach)
    return Learnt(share(low), share(best), share(high), share(-reach), share(0.0), share(reach))


def _offset(model: JarModel, found: Fit) -> Learnt | None:
    ends = _ends(found, "offset")
    return None if ends is None else _shifted(model.shared_sd, ends, 0.0)


def _shifted(sd: float, ends: tuple[float, float, float], centre: float) -> Learnt:
    """A number with this centre and standard deviation before the test."""
    low, best, high = (centre + sd * one for one in ends)
    reach = ninety_percent() * sd
    return Learnt(low, best, high, centre - reach, centre, centre + reach)


def _pigment_numbers(found: Fit) -> tuple[PigmentNumber, ...]:
    numbers = []
    for place, (what, name, form) in enumerate(found.names):
        if what == "pka":
            row = colourant(name).forms[form]
            pka = _shifted(row.pka_sd or 0.0, _ends_at(found, place), row.pka or 0.0)
            numbers.append(PigmentNumber(name, row.form, pka))
    return tuple(numbers)


def _first_shift(found: Fit) -> Learnt | None:
    """Of the constant by which the first pigment leaves its acid form."""
    for place, (what, name, form) in enumerate(found.names):
        if what == "pka":
            sd = colourant(name).forms[form].pka_sd or 0.0
            return _shifted(sd, _ends_at(found, place), 0.0)
    return None


def _steps(readings: Readings, found: Fit) -> tuple[StepFit, ...]:
    if readings.kind == "lab":
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


def _consistency(found: Fit, readings: Readings) -> tuple[bool, int | None]:
    """Whether the readings agree with one another, and the one that agrees least."""
    aside = bool((found.weights < SET_ASIDE_WEIGHT).any())
    if aside or float(found.misfit) > jar_value("most_scatter"):
        return False, int(np.argmax(found.off)) + 1
    tap = _ends(found, "ph")
    # The tap's own pH is felt by the reading without acid alone.
    if tap is not None and abs(tap[1]) > jar_value("contradicts") and readings.added[0] == 0:
        return False, 1
    return True, None


def _worthwhile(design: Design) -> bool:
    gain = 1.0 - design.width_after / max(design.width_before, 1e-12)
    return len(design.totals) > 0 and gain >= jar_value("worthwhile_reading")


def _notes(model: JarModel, answer: JarAnswer) -> tuple[Note, ...]:
    """What the answer rests on."""
    gas = answer.gas_lost
    notes = [Note("jar.note.gas", {"low": gas.prior_low, "high": gas.prior_high})]
    if (
        not model.jar.inputs.colours
        and model.tub.foam_bath is not None
        and (model.jar.inputs.foam_bath is None)
    ):
        notes.append(Note("jar.note.plain"))
    notes.append(Note("jar.note.solution", {"off": model.scale_sd}))
    if answer.by == "strip":
        notes.append(Note("jar.note.strip", {"off": reading_spread("ph", answer.by).sd_absolute}))
    if answer.volume_share > 0.5:
        notes.append(Note("jar.note.volume", {"share": answer.volume_share}))
    return tuple(notes)


def _warnings(
    model: JarModel, answer: JarAnswer, found: Fit, readings: Readings
) -> tuple[Note, ...]:
    """What in the series is doubtful."""
    warnings = []
    if answer.worst_step is not None:
        values: dict[str, Value] = {"step": answer.worst_step, "times": answer.scatter}
        warnings.append(Note("jar.warn.inconsistent", values, "series"))
    far = jar_value("contradicts")
    for what in ("alkalinity", "ph", "scale", "offset", "gas"):
        ends = _ends(found, what)
        if ends is not None and abs(ends[1]) > far:
            values = {
                "best": answer.alkalinity_meq_l.best,
                "read": answer.alkalinity_meq_l.prior_best,
                "factor": answer.acid_scale.best,
            }
            warnings.append(Note(f"jar.warn.contradicts-{what}", values, "series"))
    ph = model.jar_ph(found.numbers[: len(model.names)], readings.added)
    if not float(ph.min()) - 0.2 <= answer.target_ph <= float(ph.max()) + 0.2:
        values = {"target": answer.target_ph, "low": float(ph.min()), "high": float(ph.max())}
        warnings.append(Note("jar.warn.target-not-passed", values, "series"))
    if answer.per_litre_g.high - answer.per_litre_g.low > 0.8 * (
        answer.per_litre_before_g.high - answer.per_litre_before_g.low
    ):
        warnings.append(Note("jar.warn.little-told", {}, "series"))
    return tuple(warnings)
