"""Several pours after each other: a colour, another one, and the way back.

The recipe's activator leads on, and a powder of the other kind leads back. Each step is a plan of
its own in the tub that the steps before have left; its cautions look at every tub that the readings
allow, with the gas of all steps still in it and with all of it gone.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.chalk import chalk_of
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import fill_jugs
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
    Caution,
    Moment,
    Situation,
    bather_assumptions,
    exit_code,
    heaviest_first,
    not_for_bathing,
    pour_forbidden,
)
from dosing.plan.households import elsewhere
from dosing.plan.levels import LEVELS
from dosing.plan.path import Match, Path, colour_path, path_through, step_for, turns
from dosing.plan.pouring import Pouring, pour_at_once, with_chalk, worst_level
from dosing.plan.records import Plan, Wish
from dosing.plan.rules import judge, verdicts
from dosing.plan.what_would_help import kept_by_chalk, needed
from dosing.soak.stages import Programme, Stage, StepPoured
from dosing.soak.way_back import SODA, soda_back
from indicator.appearance import delta_e
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


@dataclass(frozen=True, kw_only=True)
class _Step(StepPoured):
    """A step as it is poured from a tub."""

    way: _Way
    pouring: Pouring

    @property
    def keeps(self) -> bool:
        """Whether the cautions allow it."""
        return self.pouring.level <= self.way.case.accepted


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
    reasons = {"accept_ph": accept_ph, "accept_pouring": accept_pouring}
    return _Programme(inputs, reasons).run(steps)


class _Programme:
    """The tub on its way through the steps."""

    def __init__(self, inputs: RecipeInputs, reasons: Mapping[str, str | None]) -> None:
        self.inputs, self.reasons = inputs, reasons
        self.start = case(inputs).asked(None, *reasons.values())
        self.activator = tuple(Blend(inputs.activator.parts).parts.items())
        self.back_powder = BASE_BACK if self.start.path.acid else ACID_BACK
        self.before = self.start.setting.bath.solve()
        self.first = self.before.seen(self.start.setting.view)
        """The colour of the start."""
        self.poured: dict[bool, float] = {True: 0.0, False: 0.0}
        self.run_began: tuple[bool, float] = (True, 0.0)
        """Direction of the pours since the last turning, and what was poured of it before."""
        self.turning: Case = self.start
        """The tub at the last turning."""
        self.turned = False
        self.stages: list[Stage] = []
        self.pourings: list[Pouring] = []

    def run(self, steps: Sequence[str]) -> Programme:
        setting, wish = self.start.setting, self.inputs.wish
        aired = setting.bath.at_rest()
        gas = _gas_litres(setting.bath)
        for name in steps:
            step = self._step(name)
            if step.grams <= _LITTLE_G and self.pourings:
                # Nothing is added, so what held after the step before holds.
                step = replace(step, pouring=self.pourings[-1])
            else:
                step = replace(step, pouring=with_chalk(step.pouring, step.way.case.bathers))
            self._pour(step)
            gas_before, gas = gas, _gas_litres(self._bath())
            self.stages.append(self._stage(name, step, max(gas - gas_before, 0.0)))
            self.pourings.append(step.pouring)
        stages = tuple(self.stages)
        situation = self._situation()
        cautions = heaviest_first((*judge(situation), *_gas_caution(stages)))
        forbidden = pour_forbidden(cautions)
        if forbidden:
            see = Note("needed.see-cautions")
            stages = tuple(
                replace(stage, reached=False, needed=(*stage.needed, see)) for stage in stages
            )
        return Programme(
            title=self.inputs.title,
            before_ph=float(self.before.ph),
            before=self.first,
            before_ph_airing=float(aired.ph),
            before_airing=aired.seen(setting.view),
            stages=stages,
            wish_met=all(stage.wish_met for stage in stages),
            reached=all(stage.reached for stage in stages) and exit_code(cautions) == 0,
            forbidden=forbidden,
            volume_l=float(setting.bath.volume_l),
            depth_cm=setting.depth_cm,
            before_temperature_c=float(setting.bath.temperature_c),
            vessel=wish.view,
            light=wish.light,
            bathers=self.start.bathers,
            not_for_bathing=not_for_bathing(situation),
            verdicts=verdicts(situation),
            market=wish.market,
            co2_litres=sum(stage.co2_litres for stage in stages),
            assumptions=(
                *setting.assumptions,
                *bather_assumptions(wish.bathers, wish.child_age_years),
                Note("assume.programme.gas"),
            ),
            warnings=setting.warnings,
            cautions=cautions,
        )

    def _step(self, name: str) -> _Step:
        if name.casefold() == BACK:
            return self._back()
        wish = Wish.written(name)
        matches = [
            (way, _matched(way.case.path, wish, self._from_here(way))) for way in self._ways(wish)
        ]
        met = [pair for pair in matches if pair[1].met]
        way, match = met[0] if met else min(matches, key=lambda pair: _distance(pair[1]))
        return self._allowed(way, match, wish)

    def _ways(self, wish: Wish) -> list[_Way]:
        """Where the two powders lead, the activator's way first; for a pH only the right one."""
        ways = [self._way(onwards=onwards, through_ph=wish.ph) for onwards in (True, False)]
        if wish.ph is None:
            return ways
        to_acid = wish.ph <= float(self._bath().solve().ph)
        return [way for way in ways if way.case.path.acid == to_acid] or ways

    def _way(self, *, onwards: bool, through_ph: float | None) -> _Way:
        """Where a powder leads: from the last turning if the pours since then were of it."""
        case = self.turning if onwards == self.run_began[0] else self._case_here()
        read, twins = self.start.setting.per_gram, self.start.possible.setting.per_gram
        parts = self.activator
        if not onwards:
            read = twins = per_gram(self.back_powder)
            parts = ((self.back_powder, 1.0),)
        setting = replace(case.setting, per_gram=read)
        of_twins = replace(case.possible.setting, per_gram=twins)
        possible = replace(case.possible, read=setting, setting=of_twins)
        path = colour_path(setting.bath, read, setting.view)
        basis = Basis(case.inputs, setting, possible, path)
        through = path_through(path, through_ph, setting)
        return _Way(replace(case, basis=basis, path=through), parts, onwards)

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
        possible = replace(possible, read=here, setting=replace(possible.setting, bath=twins))
        basis = replace(self.start.basis, setting=here, possible=possible)
        return replace(self.start, basis=basis)

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

    def _poured(self, way: _Way, grams: float, *, wish_met: bool) -> _Step:
        """So many grams more of a powder, at once."""
        total, case = self._since_turning(way) + grams, way.case
        pouring = pour_at_once(case.possible, total, case.bathers)
        return _Step(grams=grams, portions_g=(grams,), wish_met=wish_met, way=way, pouring=pouring)

    def _keeps(self, way: _Way, grams: float) -> bool:
        """Whether the cautions allow so many grams more of a powder, at once."""
        return self._poured(way, grams, wish_met=True).keeps

    def _allowed(self, way: _Way, ideal: Match, wish: Wish) -> _Step:
        """The ideal step if the cautions allow it, else the last one that they do."""
        case, path, so_far = way.case, way.case.path, self._since_turning(way)
        grams = max(float(path.grams[ideal.step]) - so_far, 0.0)
        step = self._poured(way, grams, wish_met=ideal.met)
        if step.keeps or grams <= 0:
            reached = step.wish_met and step.keeps
            return step if reached else replace(step, needed=needed(case, wish, ideal, ideal, ()))
        if way.onwards and not self.turned:
            return self._by_plan(way, wish, so_far)
        last = self._last_allowed(way, so_far)
        ahead = self._from_here(way) & (np.arange(len(path.ph)) <= last)
        ahead[last] = True
        nearest = _matched(path, wish, ahead)
        met = nearest.met and nearest.step <= last
        grams = max(float(path.grams[min(nearest.step, last)]) - so_far, 0.0)
        step = self._poured(way, grams, wish_met=met)
        furthest = Match(last, met, 0.0)
        return step if met else replace(step, needed=needed(case, wish, furthest, ideal, ()))

    def _by_plan(self, way: _Way, wish: Wish, so_far: float) -> _Step:
        """A first step that needs portions, or is not allowed: as the single plan has it."""
        plan = make_plan(self.inputs, target=wish.text, **self.reasons)
        total = max(plan.dose_g.best, so_far)
        step = self._poured(way, total - so_far, wish_met=plan.wish_met)
        if len(plan.pours) > 1 and total > so_far:
            step = replace(step, pouring=_in_portions(plan, step.pouring, way.case))
        return replace(
            step,
            portions_g=_portions(plan, so_far, total),
            needed=plan.needed,
            look_by=plan.look_by,
            stop_ph=plan.stop_ph,
        )

    def _last_allowed(self, way: _Way, so_far: float) -> int:
        """The furthest step whose pour, at once, the cautions allow."""
        grams, end = way.case.path.grams, len(way.case.path.grams) - 1
        here = min(int(np.searchsorted(grams, so_far)), end)
        between = range(here + 1, end)
        return here + bisect_left(
            between, True, key=lambda step: not self._keeps(way, float(grams[step]) - so_far)
        )

    def _back(self) -> _Step:
        """To the colour of the start: with soda while the gas leaves; at once, with acid."""
        way = self._way(onwards=False, through_ph=None)
        path, bathers = way.case.path, way.case.bathers
        if self.back_powder != BASE_BACK:
            wished, onwards = Wish("hex", BACK, hex=str(self.first.hex)), self._from_here(way)
            here = int(np.argmax(onwards))
            away = float(delta_e(self.first.lab, path.colours.lab[here]))
            near = away <= typical("same_colour_delta_e").value
            match = Match(here, True, away) if near else step_for(path, wished, onwards)
            return self._allowed(way, match, wished)
        back = soda_back(
            self._bath(), self.start.setting, self.first, bathers, partial(self._keeps, way)
        )
        if back is None:
            step = self._poured(way, 0.0, wish_met=False)
            return replace(step, needed=(Note("needed.no-way-back"),))
        grams, returning = back
        return replace(self._poured(way, grams, wish_met=True), comes_back=returning)

    def _pour(self, step: _Step) -> None:
        """Take note of what was poured."""
        onwards = step.way.onwards
        if onwards != self.run_began[0] and step.grams > _LITTLE_G:
            self.turning = self._case_here()
            self.run_began = (onwards, self.poured[onwards])
            self.turned = True
        self.poured[onwards] += step.grams

    def _stage(self, name: str, step: _Step, co2_litres: float) -> Stage:
        setting, way, pouring = self.start.setting, step.way, step.pouring
        bath, parts = self._bath(), dict(way.parts)
        closed, aired = bath.solve(), bath.at_rest()
        seen, later = closed.seen(setting.view), aired.seen(setting.view)
        last = self.stages[-1].colour if self.stages else self.first
        sides = (*pouring.final, *pouring.aired)
        largest = max(step.portions_g)
        measured = spoons(parts, step.grams)
        chalk = chalk_of(closed, aired, setting.view, bath.air_co2_ppm)
        # On the way back the first colour is passed while the gas leaves.
        back = name.casefold() == BACK
        kept, why_not = (True, ()) if back else kept_by_chalk(Wish.written(name), chalk, self.first)
        met = step.wish_met and kept
        told = {note.code for note in step.needed}
        return Stage(
            wish=name,
            powder=way.parts,
            onwards=way.onwards,
            grams=step.grams,
            portions_g=step.portions_g,
            # Of water as before the first step.
            jugs=fill_jugs(parts, largest, setting.bath) if largest > _LITTLE_G else None,
            spoons=measured,
            weigh=not self._spoons_keep(step, measured),
            to_spare=self._allows(step, 0.5 * scale_step(step.grams)),
            look_by=step.look_by,
            stop_ph=step.stop_ph,
            total_g=self.poured[way.onwards],
            ph=float(closed.ph),
            ph_airing=float(aired.ph),
            ph_acid_side=min(sides),
            ph_alkaline_side=max(sides),
            colour=seen,
            colour_airing=later,
            chalk=chalk,
            change_delta_e=float(delta_e(last.lab, seen.lab)),
            from_start_delta_e=float(delta_e(self.first.lab, later.lab)),
            level=LEVELS[pouring.level],
            co2_litres=co2_litres,
            fizzes=_gas_pressure_atm(closed, aired) > taken("fizz_atm").value,
            comes_back=step.comes_back,
            wish_met=met,
            reached=met and pouring.level <= self.start.accepted,
            needed=(*(note for note in why_not if note.code not in told), *step.needed),
        )

    def _allows(self, step: _Step, more_g: float) -> bool:
        """Whether the cautions allow so much more of a step, poured at once."""
        return len(step.portions_g) == 1 and self._keeps(step.way, more_g)

    def _spoons_keep(self, step: _Step, measured: Spoons) -> bool:
        """Whether half a level spoon more or less, packed densely, keeps the cautions."""
        if step.grams <= _LITTLE_G or measured.teaspoons < LEAST_SPOON:
            return False
        heaviest = round(2.0 * measured.teaspoons) / 2.0 * step.grams / measured.teaspoons_low
        return self._allows(step, max(heaviest - step.grams, 0.0))

    def _situation(self) -> Situation:
        before = float(self.start.path.ph[0])
        acid = self.pourings[0].before_acid_side if self.pourings else before
        moments = [Moment("before", acid, before, 0.0)]
        for number, pouring in enumerate(self.pourings, 1):
            reserve = pouring.reserve_meq_l
            moments.append(Moment(f"step-{number}", *pouring.final, reserve))
            moments.append(Moment(f"step-{number}-airing", *pouring.aired, reserve))
        situation = Situation(
            self.inputs,
            tuple(moments),
            accept_ph=self.reasons["accept_ph"],
            accept_pouring=self.reasons["accept_pouring"],
            elsewhere=elsewhere(self.inputs, self.poured[True]),
            jugs=tuple(stage.jugs for stage in self.stages if stage.jugs is not None),
            chalk=any(stage.chalk for stage in self.stages),
        )
        poured = [name for stage in self.stages if stage.grams > 0 for name, _ in stage.powder]
        return replace(situation, also_poured=tuple(poured))


def _gas_litres(bath: Bath) -> float:
    """Carbon dioxide that a tub can still give off [L]."""
    kept = bath.at_rest().inorganic_carbon_mol_kg
    moles = (bath.totals.get("C", np.zeros(())) - kept) * bath.water_kg
    return float(gas_litres(moles, bath.temperature_c))


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
    if plan.pours and so_far >= plan.pours[0].total_g:
        marks = [float(mark) for mark in np.linspace(so_far, total, len(marks) + 1)[1:]]
    return tuple(float(v) for v in np.diff([so_far, *marks]))
