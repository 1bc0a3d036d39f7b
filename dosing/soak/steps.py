"""Several pours after each other: a colour, another one, and the way back.

The recipe's activator leads on, and a powder of the other kind leads back. Each step is a plan of
its own in the tub that the steps before have left; its cautions look at every tub that the readings
allow, with the gas of all steps still in it and with all of it gone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.chalk import chalk_of
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import Jugs, fill_jugs
from dosing.bath.mixed import Bath, SolvedBath
from dosing.bath.mixing import taken
from dosing.bath.open_tub import gas_litres
from dosing.ingredients.powders import (
    LEAST_SPOON,
    Blend,
    Spoons,
    per_gram,
    powder,
    scale_step,
    spoons,
)
from dosing.ingredients.trade_values import typical
from dosing.plan.answer import make_plan
from dosing.plan.case import Basis, Case, case
from dosing.plan.cautions import (
    LEVELS,
    Caution,
    Moment,
    Situation,
    bather_assumptions,
    exit_code,
    judge,
    not_for_bathing,
    pour_forbidden,
    verdicts,
)
from dosing.plan.households import elsewhere
from dosing.plan.path import (
    Match,
    Path,
    colour_path,
    path_through,
    step_for,
    turns,
)
from dosing.plan.pouring import Pouring, pour_at_once, with_chalk, worst_level
from dosing.plan.records import Plan, Wish
from dosing.plan.situation import situation_of
from dosing.plan.what_would_help import kept_by_chalk, needed
from dosing.soak.records import heaviest_first
from dosing.soak.stages import Programme, Stage
from dosing.soak.way_back import SODA, Return, soda_back
from indicator.appearance import SeenColour, delta_e
from indicator.notes import Note, Value, say
from indicator.tables import citation
from indicator.words import parse_target

Array = NDArray[np.float64]

BACK = "back"
"""The step that leads to the colour of the start."""
BASE_BACK, ACID_BACK = SODA, "citric-acid-anhydrous"
"""What leads back from an acid, and from a base."""
MOST_STEPS = 8
_LITTLE_G = 1e-6


@dataclass(frozen=True)
class _Way:
    """Where a powder leads from a tub."""

    case: Case
    """With the tub, the possible tubs and the path of this powder."""
    parts: tuple[tuple[str, float], ...]
    onwards: bool


@dataclass(frozen=True)
class _Step:
    """What a step pours."""

    way: _Way
    grams: float
    portions_g: tuple[float, ...]
    pouring: Pouring
    wish_met: bool
    needed: tuple[Note, ...]
    look_by: str | None = None
    stop_ph: float | None = None
    comes_back: Return | None = None


def parse_steps(text: str) -> tuple[str, ...]:
    """The steps of a programme, as written with commas between.

    Raises
    ------
    ValueError
        If there is none, there are too many, or one is neither a pH, a colour word, a hex colour
        nor ``back``.
    """
    steps = tuple(step.strip() for step in text.replace(";", ",").split(",") if step.strip())
    if not 1 <= len(steps) <= MOST_STEPS:
        raise ValueError(f"steps has {len(steps)} steps; accepted are 1 to {MOST_STEPS}")
    for step in steps:
        if step.casefold() != BACK:
            parse_target(step)
    return steps


def make_programme(
    inputs: RecipeInputs,
    steps: Sequence[str],
    *,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
) -> Programme:
    """Masses, colours and cautions of several pours.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    steps : sequence of str
        Each a pH, a colour word, a hex colour or ``"back"``.
    accept_ph, accept_pouring : str, optional
        As in `dosing.plan.answer.make_plan`.

    Returns
    -------
    Programme
        Its steps, cautions and verdicts.

    Raises
    ------
    ValueError
        If a step is none of these, or a name in the recipe is unknown.
    """
    return _Programme(inputs, accept_ph, accept_pouring).run(steps)


class _Programme:
    """The tub on its way through the steps."""

    def __init__(
        self, inputs: RecipeInputs, accept_ph: str | None, accept_pouring: str | None
    ) -> None:
        self.inputs = inputs
        self.reasons = (accept_ph, accept_pouring)
        self.start = case(inputs).asked(None, accept_ph, accept_pouring)
        self.activator = tuple(Blend(inputs.activator.parts).parts.items())
        self.back_powder = BASE_BACK if self.start.path.acid else ACID_BACK
        self.poured: dict[bool, float] = {True: 0.0, False: 0.0}
        self.run_began: tuple[bool, float] = (True, 0.0)
        """Direction of the pours since the last turning, and what was poured of it before."""
        self.turning: Case = self.start
        """The tub at the last turning."""
        self.turned = False
        self.last: Pouring | None = None
        """How the step before was poured: what holds as long as nothing is added."""

    def run(self, steps: Sequence[str]) -> Programme:
        before = self.start.setting.bath.solve()
        seen = before.seen(self.start.setting.view)
        stages: list[Stage] = []
        pourings: list[Pouring] = []
        last, gas = seen, self._gas_litres()
        for name in steps:
            step = self._step(name)
            if step.grams <= _LITTLE_G and self.last is not None:
                step = replace(step, pouring=self.last)
            else:
                settled = with_chalk(step.pouring, step.way.case.bathers)
                step = replace(step, pouring=settled)
            self._pour(step)
            self.last = step.pouring
            stage, gas = self._stage(name, step, last, seen, gas)
            stages.append(stage)
            pourings.append(step.pouring)
            last = stage.colour
        situation = self._situation(stages, pourings)
        cautions = heaviest_first((*judge(situation), *_gas_caution(stages)))
        forbidden = pour_forbidden(cautions)
        bath = self.start.setting.bath
        aired = bath.at_rest()
        return Programme(
            title=self.inputs.title,
            before_ph=float(before.ph),
            before=seen,
            before_ph_airing=float(aired.ph),
            before_airing=aired.seen(self.start.setting.view),
            stages=tuple(map(_forbidden, stages) if forbidden else stages),
            wish_met=all(stage.wish_met for stage in stages),
            reached=all(stage.reached for stage in stages) and exit_code(cautions) == 0,
            forbidden=forbidden,
            volume_l=float(bath.volume_l),
            depth_cm=self.start.setting.depth_cm,
            before_temperature_c=float(bath.temperature_c),
            vessel=self.inputs.wish.view,
            light=self.inputs.wish.light,
            bathers=self.start.bathers,
            not_for_bathing=not_for_bathing(situation),
            verdicts=verdicts(situation),
            market=self.inputs.wish.market,
            co2_litres=sum(stage.co2_litres for stage in stages),
            assumptions=(
                *self.start.setting.assumptions,
                *bather_assumptions(self.inputs.wish.bathers, self.inputs.wish.child_age_years),
                Note("assume.programme.gas", {}),
            ),
            warnings=self.start.setting.warnings,
            cautions=cautions,
        )

    def _step(self, name: str) -> _Step:
        if name.casefold() == BACK:
            return self._back()
        wish = Wish.written(name)
        ways = self._ways(wish)
        matches = [(way, _matched(way.case.path, wish, self._from_here(way))) for way in ways]
        met = [pair for pair in matches if pair[1].met]
        way, match = met[0] if met else min(matches, key=lambda pair: _distance(pair[1]))
        return self._allowed(way, wish, match)

    def _ways(self, wish: Wish) -> list[_Way]:
        """Where the two powders lead, the activator's way first; for a pH only the right one."""
        ways = [self._way(onwards=onwards, through_ph=wish.ph) for onwards in (True, False)]
        if wish.ph is None:
            return ways
        here = float(self._bath().solve().ph)
        to_acid = wish.ph <= here
        return [way for way in ways if way.case.path.acid == to_acid] or ways

    def _way(self, *, onwards: bool, through_ph: float | None) -> _Way:
        """Where a powder leads: from the last turning if the pours since then were of it."""
        case = self.turning if onwards == self.run_began[0] else self._case_here()
        grams = self.start.setting.per_gram if onwards else per_gram(self.back_powder)
        setting = replace(case.setting, per_gram=grams)
        possible = replace(
            case.possible,
            read=setting,
            setting=replace(
                case.possible.setting,
                per_gram=self.start.possible.setting.per_gram if onwards else grams,
            ),
        )
        path = colour_path(setting.bath, grams, setting.view)
        basis = Basis(case.inputs, setting, possible, path)
        parts = self.activator if onwards else ((self.back_powder, 1.0),)
        return _Way(
            replace(case, basis=basis, path=path_through(path, through_ph, setting)), parts, onwards
        )

    def _bath(self) -> Bath:
        setting = self.start.setting
        return self._with(setting.bath, setting.per_gram, self.poured)

    def _with(
        self, bath: Bath, activator: Mapping[str, Array], poured: Mapping[bool, ArrayLike]
    ) -> Bath:
        """A bath with what was poured of both powders [g]."""
        on = bath.with_activator(poured[True], activator)
        return on.with_activator(poured[False], per_gram(self.back_powder))

    def _case_here(self) -> Case:
        """The tub, and the possible tubs, after all pours so far."""
        possible = self.start.possible
        tipped = {onwards: possible.tipped_g(grams) for onwards, grams in self.poured.items()}
        twins = self._with(possible.setting.bath, possible.setting.per_gram, tipped)
        here = replace(self.start.setting, bath=self._bath())
        twins_here = replace(possible.setting, bath=twins)
        twins_too = replace(possible, read=here, setting=twins_here)
        return replace(
            self.start, basis=replace(self.start.basis, setting=here, possible=twins_too)
        )

    def _since_turning(self, way: _Way) -> float:
        """What was poured of this powder since the tub that its path starts from [g]."""
        onwards, before = self.run_began
        return self.poured[onwards] - before if way.onwards == onwards else 0.0

    def _from_here(self, way: _Way) -> NDArray[np.bool_]:
        """Steps of a path that lie ahead."""
        ahead = way.case.path.grams >= self._since_turning(way) - _LITTLE_G
        # Where everything is poured already, the last step stands for the tub as it is.
        ahead[-1] = True
        return np.asarray(ahead)

    def _allowed(self, way: _Way, wish: Wish, ideal: Match) -> _Step:
        """The ideal step if the cautions allow it, else the last one that they do."""
        case, path, so_far = way.case, way.case.path, self._since_turning(way)
        total = max(float(path.grams[ideal.step]), so_far)
        pouring = pour_at_once(case.possible, total, case.bathers)
        if pouring.level <= case.accepted or total <= so_far:
            met = ideal.met
            reached = met and pouring.level <= case.accepted
            notes = () if reached else needed(case, wish, ideal, ideal, ())
            return _Step(way, total - so_far, (total - so_far,), pouring, met, notes)
        if way.onwards and not self.turned:
            return self._by_plan(way, wish, so_far)
        last = self._last_allowed(way, so_far)
        ahead = self._from_here(way) & (np.arange(len(path.ph)) <= last)
        ahead[last] = True
        nearest = _matched(path, wish, ahead)
        total = max(float(path.grams[min(nearest.step, last)]), so_far)
        pouring = pour_at_once(case.possible, total, case.bathers)
        met = nearest.met and nearest.step <= last
        notes = () if met else needed(case, wish, Match(last, met, 0.0), ideal, ())
        return _Step(way, total - so_far, (total - so_far,), pouring, met, notes)

    def _by_plan(self, way: _Way, wish: Wish, so_far: float) -> _Step:
        """A first step that needs portions, or is not allowed: as the single plan has it."""
        accept_ph, accept_pouring = self.reasons
        plan = make_plan(
            self.inputs, target=wish.text, accept_ph=accept_ph, accept_pouring=accept_pouring
        )
        total = max(plan.dose_g.best, so_far)
        at_once = pour_at_once(way.case.possible, total, way.case.bathers)
        if len(plan.pours) > 1 and total > so_far:
            at_once = _in_portions(plan, at_once, way.case)
        portions = _portions(plan, so_far, total)
        step = _Step(way, total - so_far, portions, at_once, plan.wish_met, plan.needed)
        return replace(step, look_by=plan.look_by, stop_ph=plan.stop_ph)

    def _last_allowed(self, way: _Way, so_far: float) -> int:
        """The furthest step whose pour, at once, the cautions allow."""
        case, path = way.case, way.case.path
        low, high = int(np.searchsorted(path.grams, so_far)), len(path.grams) - 1
        low = min(low, high)
        while high - low > 1:
            middle = (low + high) // 2
            grams = float(path.grams[middle])
            if pour_at_once(case.possible, grams, case.bathers).level <= case.accepted:
                low = middle
            else:
                high = middle
        return low

    def _back(self) -> _Step:
        """To the colour of the start: with soda while the gas leaves; at once, with acid."""
        start = self.start.setting.bath.solve().seen(self.start.setting.view)
        way = self._way(onwards=False, through_ph=None)
        if self.back_powder != BASE_BACK:
            wished = Wish("hex", BACK, hex=str(start.hex))
            onwards = self._from_here(way)
            here = int(np.argmax(onwards))
            away = float(delta_e(start.lab, way.case.path.colours.lab[here]))
            if away <= typical("same_colour_delta_e").value:
                return self._allowed(way, wished, Match(here, True, away))
            return self._allowed(way, wished, step_for(way.case.path, wished, onwards))
        so_far, case = self._since_turning(way), way.case

        def poured(grams: float) -> Pouring:
            return pour_at_once(case.possible, so_far + grams, case.bathers)

        def allowed(grams: float) -> bool:
            return poured(grams).level <= case.accepted

        back = soda_back(self._bath(), self.start.setting, start, case.bathers, allowed)
        if back is None:
            return _Step(way, 0.0, (0.0,), poured(0.0), False, (Note("needed.no-way-back", {}),))
        grams = back.grams
        return _Step(way, grams, (grams,), poured(grams), True, (), comes_back=back.returning)

    def _pour(self, step: _Step) -> None:
        """Take note of what was poured."""
        onwards = step.way.onwards
        if onwards != self.run_began[0] and step.grams > _LITTLE_G:
            self.turning = self._case_here()
            self.run_began = (onwards, self.poured[onwards])
            self.turned = True
        self.poured[onwards] += step.grams

    def _gas_litres(self) -> float:
        """Carbon dioxide that the tub, as it is, can still give off [L]."""
        bath = self._bath()
        kept = bath.at_rest().inorganic_carbon_mol_kg
        moles = (bath.totals.get("C", np.zeros(())) - kept) * bath.water_kg
        return float(gas_litres(moles, bath.temperature_c))

    def _stage(
        self, name: str, step: _Step, last: SeenColour, start: SeenColour, gas_before: float
    ) -> tuple[Stage, float]:
        bath, view = self._bath(), self.start.setting.view
        closed, aired = bath.solve(), bath.at_rest()
        seen, later = closed.seen(view), aired.seen(view)
        gas = self._gas_litres()
        pouring, parts = step.pouring, dict(step.way.parts)
        sides = (*pouring.final, *pouring.aired)
        onwards = step.way.onwards
        measured = spoons(parts, step.grams)
        chalk = chalk_of(closed, aired, view, bath.air_co2_ppm)
        # On the way back the first colour is passed while the gas leaves.
        back = name.casefold() == BACK
        kept, why_not = (True, ()) if back else kept_by_chalk(Wish.written(name), chalk, start)
        met = step.wish_met and kept
        told = {note.code for note in step.needed}
        stage = Stage(
            wish=name,
            powder=step.way.parts,
            onwards=onwards,
            grams=step.grams,
            portions_g=step.portions_g,
            jugs=self._jugs(step),
            spoons=measured,
            weigh=not self._spoons_keep(step, measured),
            to_spare=self._allows(step, 0.5 * scale_step(step.grams)),
            look_by=step.look_by,
            stop_ph=step.stop_ph,
            total_g=self.poured[onwards],
            ph=float(closed.ph),
            ph_airing=float(aired.ph),
            ph_acid_side=min(sides),
            ph_alkaline_side=max(sides),
            colour=seen,
            colour_airing=later,
            chalk=chalk,
            change_delta_e=float(delta_e(last.lab, seen.lab)),
            from_start_delta_e=float(delta_e(start.lab, later.lab)),
            level=LEVELS[pouring.level],
            co2_litres=max(gas - gas_before, 0.0),
            fizzes=_gas_pressure_atm(closed, aired) > taken("fizz_atm").value,
            comes_back=step.comes_back,
            wish_met=met,
            reached=met and pouring.level <= self.start.accepted,
            needed=(*(note for note in why_not if note.code not in told), *step.needed),
        )
        return stage, gas

    def _jugs(self, step: _Step) -> Jugs | None:
        """What the largest portion of a step is dissolved in: water as before the first step."""
        largest = max(step.portions_g)
        if largest <= _LITTLE_G:
            return None
        return fill_jugs(dict(step.way.parts), largest, self.start.setting.bath)

    def _allows(self, step: _Step, more_g: float) -> bool:
        """Whether the cautions allow so much more of a step, poured at once."""
        if len(step.portions_g) > 1:
            return False
        case = step.way.case
        total = self._since_turning(step.way) + more_g
        return pour_at_once(case.possible, total, case.bathers).level <= case.accepted

    def _spoons_keep(self, step: _Step, measured: Spoons) -> bool:
        """Whether half a level spoon more or less, packed densely, keeps the cautions."""
        if step.grams <= _LITTLE_G or measured.teaspoons < LEAST_SPOON:
            return False
        heaviest = round(2.0 * measured.teaspoons) / 2.0 * step.grams / measured.teaspoons_low
        return self._allows(step, max(heaviest - step.grams, 0.0))

    def _situation(self, stages: Sequence[Stage], pourings: Sequence[Pouring]) -> Situation:
        accept_ph, accept_pouring = self.reasons
        before = float(self.start.path.ph[0])
        acid = min((pouring.before_acid_side for pouring in pourings[:1]), default=before)
        moments = [Moment("before", acid, before, 0.0)]
        for number, pouring in enumerate(pourings, 1):
            reserve = pouring.reserve_meq_l
            moments.append(Moment(f"step-{number}", *pouring.final, reserve))
            moments.append(Moment(f"step-{number}-airing", *pouring.aired, reserve))
        situation = situation_of(
            self.inputs,
            tuple(moments),
            accept_ph=accept_ph,
            accept_pouring=accept_pouring,
            elsewhere=elsewhere(self.inputs, self.poured[True]),
            jugs=tuple(stage.jugs for stage in stages if stage.jugs is not None),
            chalk=any(stage.chalk for stage in stages),
        )
        poured = [name for stage in stages if stage.grams > 0 for name, _ in stage.powder]
        return replace(situation, also_poured=tuple(poured))


def _gas_caution(stages: Sequence[Stage]) -> list[Caution]:
    """What acid and soda in one programme set free."""
    if not any(not stage.onwards and stage.grams > 0 for stage in stages):
        return []
    poured = [powder(name) for stage in stages if stage.grams > 0 for name, _ in stage.powder]
    values: dict[str, Value] = {
        "litres": sum(stage.co2_litres for stage in stages),
        "bases": say("plan.and").join(
            dict.fromkeys(moment.label for moment in poured if moment.reaction == "base")
        ),
    }
    source = citation("carbon-dioxide")
    return [Caution("mind", "programme-both", source, "DERIVED", values)]


def _matched(path: Path, wish: Wish, ahead: NDArray[np.bool_]) -> Match:
    """Where ahead on a path a wish is met or comes nearest."""
    if not turns(path):
        return Match(int(np.flatnonzero(ahead)[0]), False, float("nan"))
    return step_for(path, wish, ahead)


def _gas_pressure_atm(closed: SolvedBath, aired: SolvedBath) -> float:
    """Pressure of the gas in a closed bath, by what it holds at rest with the air."""
    held, at_rest = (
        float(np.asarray(bath.equilibrium.molality["CO2"])) for bath in (closed, aired)
    )
    return held / at_rest * float(np.asarray(closed.bath.air_co2_ppm)) * 1e-6


def _distance(match: Match) -> float:
    return match.distance if np.isfinite(match.distance) else np.inf


def _in_portions(plan: Plan, at_once: Pouring, case: Case) -> Pouring:
    """The pouring of a plan in portions, as far as a programme judges it."""
    final = (plan.ph_acid_side, plan.ph_alkaline_side)
    aired = (plan.ph_acid_side_airing, plan.ph_alkaline_side_airing)
    firsts = [pour.ph_acid_side for pour in plan.pours if np.isfinite(pour.ph_acid_side)]
    reserve = plan.acid_reserve_high_meq_l
    level = worst_level([*final, *aired, *firsts], reserve, case.bathers)
    return replace(at_once, final=final, aired=aired, reserve_meq_l=reserve, level=level)


def _portions(plan: Plan, so_far: float, total: float) -> tuple[float, ...]:
    """The pours of a plan that are still ahead and lead no further than its aim [g].

    Behind its first pour a plan goes on in equal steps; what is left of them is shared out evenly,
    so that no step is larger than the plan's and none is a mere pinch.
    """
    marks = [pour.total_g for pour in plan.pours if so_far < pour.total_g <= total * 1.001]
    if not marks or marks[-1] < total * 0.999:
        marks.append(total)
    if so_far >= plan.pours[0].total_g:
        marks = [float(mark) for mark in np.linspace(so_far, total, len(marks) + 1)[1:]]
    return tuple(float(v) for v in np.diff([so_far, *marks]))


def _forbidden(stage: Stage) -> Stage:
    """A step of a programme that a caution forbids."""
    return replace(stage, reached=False, needed=(*stage.needed, Note("needed.see-cautions", {})))
