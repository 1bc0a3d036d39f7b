"""One pour or several after each other: a colour, another one, and the way back.

The recipe's activator leads on, and a powder of the other kind leads back. Each step is a plan of
its own in the tub that the steps before have left; its cautions look at every tub that the readings
allow, with the gas of all steps still in it and with all of it gone. A single pour is that of the
plan.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import Setting
from dosing.bath.chalk import chalk_note, chalk_of
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import fill_jugs
from dosing.bath.mixed import Bath, SolvedBath
from dosing.bath.mixing import taken
from dosing.ingredients.powders import LEAST_SPOON, Blend, per_gram, scale_step, spoons
from dosing.plan.answer import make_plan, preview
from dosing.plan.case import Basis, Case, case
from dosing.plan.cautions import (
    Caution,
    Moment,
    Situation,
    Verdict,
    Verdicts,
    bather_assumptions,
    exit_code,
    heaviest_first,
    not_for_bathing,
    pour_forbidden,
)
from dosing.plan.households import elsewhere
from dosing.plan.later import later_of
from dosing.plan.levels import LEVELS
from dosing.plan.path import Match, Path, colour_path, path_through, step_for, turns
from dosing.plan.pouring import Pouring, pour_at_once, with_chalk, worst_level
from dosing.plan.records import Plan, Sight, Wish
from dosing.plan.rules import judge, verdicts
from dosing.plan.telling import undo_soda_g
from dosing.plan.what_would_help import alkalinity_read, kept_by_chalk, needed
from dosing.soak.amounts import as_plan_prints, portions_ahead_g, with_printed
from dosing.soak.course import follow
from dosing.soak.gas import gas_caution, gas_left_l, gas_pressure_atm
from dosing.soak.records import BACK, Course, Manner, Portions, Soak, Step
from dosing.soak.way_back import SODA, soda_back
from indicator.appearance import delta_e
from indicator.notes import Note
from indicator.optics import View
from indicator.words import parse_target

Array = NDArray[np.float64]

BASE_BACK, ACID_BACK = SODA, "citric-acid-anhydrous"
"""What leads back from an acid, and from a base."""
MOST_STEPS = 8
_LITTLE_G = 1e-6


@dataclass(frozen=True)
class _Way:
    """Where a powder leads from a tub."""

    case: Case
    """With the tub, the possible tubs and the path of this powder."""
    onwards: bool
    """Whether it is the recipe's activator, not what leads back."""


@dataclass(frozen=True, kw_only=True)
class _Poured(Portions):
    """A step as it is poured from a tub."""

    way: _Way
    pouring: Pouring
    planned: bool = False
    """Whether it is judged as a plan has judged it."""

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
            try:
                parse_target(step)
            except ValueError as error:
                raise ValueError(f"steps: {error}, or back") from None
    return steps


def first_portion_g(inputs: RecipeInputs) -> float | None:
    """Portion that the plan pours first where nobody has read the water [g]; None elsewhere."""
    if alkalinity_read(inputs):
        return None
    portion = make_plan(inputs).first_portion
    return None if portion is None else portion.grams


def make_soak(
    inputs: RecipeInputs,
    steps: Sequence[str] | None = None,
    *,
    dose_g: float | None = None,
    manner: Manner | None = None,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
) -> Soak:
    """Masses, colours, times and cautions of one pour or of several.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    steps : sequence of str, optional
        Each a pH, a colour word, a hex colour or ``"back"``; the pour of the plan if not given.
    dose_g : float, optional
        In place of the plan's, poured at once [g].
    manner : Manner, optional
        How the first step is poured; course and way back are left out if not given.
    accept_ph, accept_pouring : str, optional
        As in `dosing.plan.answer.make_plan`.

    Returns
    -------
    Soak
        Its steps, course, cautions and verdicts.

    Raises
    ------
    ValueError
        If a step is none of these, or a name in the recipe is unknown.
    """
    walk = _Walk(inputs, {"accept_ph": accept_ph, "accept_pouring": accept_pouring})
    if steps is None:
        walk.planned_pour(dose_g)
    for name in steps or ():
        walk.go(name, walk.step(name))
    course = walk.course(manner)
    soak = walk.told(course)
    if course is None or soak.forbidden or soak.steps[-1].back:
        return soak
    walk.go(BACK, walk.step(BACK))
    return replace(soak, way_back=with_printed(walk.steps)[-1])


class _Walk:
    """The tub on its way through the steps."""

    def __init__(self, inputs: RecipeInputs, reasons: Mapping[str, str | None]) -> None:
        self.inputs, self.reasons = inputs, reasons
        self.start = case(inputs).asked(None, *reasons.values())
        self.back_powder = BASE_BACK if self.start.path.acid else ACID_BACK
        self.parts = {True: Blend(inputs.activator.parts).parts, False: {self.back_powder: 1.0}}
        """Powders of the activator, and what leads back, with their shares."""
        self.before = _sight("before", self.start.setting.bath.solve(), self.start.setting.view)
        self.poured: dict[bool, float] = {True: 0.0, False: 0.0}
        """So far, of the activator and of the powder that leads back [g]."""
        self.steps: list[Step] = []
        self.pourings: list[Pouring] = []
        self.plan: Plan | None = None
        """Of a single pour."""

    def planned_pour(self, dose_g: float | None) -> None:
        """Pour what the plan pours, or another dose at once [g]."""
        if dose_g is None:
            self.plan = make_plan(self.inputs, **self.reasons)
        else:
            self.plan = preview(self.inputs, dose_g, **self.reasons)
        self.go("", self._planned(self.plan))

    def go(self, name: str, step: _Poured) -> None:
        """Pour a step, and take note of the tub after it.

        Parameters
        ----------
        name : str
            The wish as it was written.
        step : _Poured
            How it is poured.
        """
        if step.grams <= _LITTLE_G and self.pourings:
            # Nothing is added, so what held after the step before holds.
            step = replace(step, pouring=self.pourings[-1])
        elif not step.planned:
            # A plan has told both ends of its chalk already.
            step = replace(step, pouring=with_chalk(step.pouring, step.way.case.bathers))
        gas = gas_left_l(self._bath())
        self.poured[step.way.onwards] += step.grams
        freed = max(gas_left_l(self._bath()) - gas, 0.0)
        self.steps.append(self._after(name, step, freed))
        self.pourings.append(step.pouring)

    def course(self, manner: Manner | None) -> Course | None:
        """The first pour in time; None where nothing is poured or no manner is given."""
        first = next((step for step in self.steps if step.grams > _LITTLE_G), None)
        if manner is None or first is None:
            return None
        activator = replace(self.inputs.activator, parts=dict(first.powder))
        setting = self.start.setting
        if not first.onwards:
            setting = replace(setting, per_gram=per_gram(self.back_powder))
        inputs, totals_g = replace(self.inputs, activator=activator), np.cumsum(first.portions_g)
        return follow(inputs, setting, totals_g.tolist(), manner, **self.reasons)

    def told(self, course: Course | None) -> Soak:
        """The whole soak, judged, with the course of its first step."""
        setting, wish = self.start.setting, self.inputs.wish
        situation = self._situation()
        own = course.cautions if course else ()
        cautions = heaviest_first((*own, *judge(situation), *gas_caution(self.steps)))
        forbidden = pour_forbidden(cautions)
        steps = with_printed(self.steps)
        if self.plan is not None and self.plan.pours and self.plan.wish_met:
            steps = (as_plan_prints(self.steps[0], self.plan),)
        if forbidden:
            steps = tuple(replace(step, reached=False) for step in steps)
        return Soak(
            title=self.inputs.title,
            bathers=self.start.bathers,
            market=wish.market,
            volume_l=float(setting.bath.volume_l),
            depth_cm=setting.depth_cm,
            temperature_c=float(setting.bath.temperature_c),
            before=self.before,
            before_airing=_sight("before-airing", setting.bath.at_rest(), setting.view),
            steps=steps,
            course=course,
            way_back=None,
            maximum_g=self.plan.maximum_g if self.plan else None,
            wish_met=all(step.wish_met for step in steps),
            reached=all(step.reached for step in steps) and exit_code(cautions) == 0,
            forbidden=forbidden,
            not_for_bathing=not_for_bathing(situation),
            verdicts=_none_beyond(self.plan.verdicts if self.plan else verdicts(situation), own),
            assumptions=(
                *setting.assumptions,
                *bather_assumptions(wish.bathers, wish.child_age_years),
                *((Note("assume.programme.gas"),) if len(self.steps) > 1 else ()),
                *(course.assumptions if course else ()),
            ),
            warnings=(
                *(course.warnings if course else ()),
                *(self.plan.warnings if self.plan else (*setting.warnings, *_chalk_notes(steps))),
            ),
            cautions=cautions,
        )

    def step(self, name: str) -> _Poured:
        """What a step pours: a pH, a colour or ``"back"``."""
        if name.casefold() == BACK:
            return self._back()
        wish = Wish.written(name)
        matches = [
            (way, _matched(way.case.path, wish, self._from_here(way))) for way in self._ways(wish)
        ]
        met = [pair for pair in matches if pair[1].met]
        way, match = (met or matches)[0]
        return self._allowed(way, match, wish)

    def _ways(self, wish: Wish) -> list[_Way]:
        """Where the two powders lead, the activator's way first; for a pH only the right one."""
        ways = [self._way(onwards=onwards, through_ph=wish.ph) for onwards in (True, False)]
        if wish.ph is None:
            return ways
        to_acid = wish.ph <= float(self._bath().solve().ph)
        return [way for way in ways if way.case.path.acid == to_acid] or ways

    def _way(self, *, onwards: bool, through_ph: float | None) -> _Way:
        """Where a powder leads from the tub with all that was poured of the other one in it."""
        start, back = self.start, per_gram(self.back_powder)
        other, grams = (back, self.poured[False]) if onwards else (None, self.poured[True])

        def without(setting: Setting, tipped_g: ArrayLike) -> Setting:
            poured = setting.bath.with_activator(tipped_g, other or setting.per_gram)
            return replace(setting, bath=poured, per_gram=setting.per_gram if onwards else back)

        read = without(start.setting, grams)
        twins = without(start.possible.setting, start.possible.tipped_g(grams))
        possible = replace(start.possible, read=read, setting=twins)
        path = colour_path(read.bath, read.per_gram, read.view)
        basis = Basis(start.inputs, read, possible, path)
        return _Way(replace(start, basis=basis, path=path_through(path, through_ph, read)), onwards)

    def _bath(self) -> Bath:
        """The tub as read with all that was poured."""
        setting = self.start.setting
        on = setting.bath.with_activator(self.poured[True], setting.per_gram)
        return on.with_activator(self.poured[False], per_gram(self.back_powder))

    def _from_here(self, way: _Way) -> NDArray[np.bool_]:
        """Steps of a path that lie ahead."""
        ahead = way.case.path.grams >= self.poured[way.onwards] - _LITTLE_G
        # Where everything is poured already, the last step stands for the tub as it is.
        ahead[-1] = True
        return np.asarray(ahead)

    def _poured(self, way: _Way, grams: float, *, wish_met: bool) -> _Poured:
        """So many grams more of a powder, at once."""
        total, case = self.poured[way.onwards] + grams, way.case
        pouring = pour_at_once(case.possible, total, case.bathers)
        return _Poured(
            grams=grams, portions_g=(grams,), wish_met=wish_met, way=way, pouring=pouring
        )

    def _keeps(self, way: _Way, grams: float) -> bool:
        """Whether the cautions allow so many grams more of a powder, at once."""
        return self._poured(way, grams, wish_met=True).keeps

    def _allowed(self, way: _Way, ideal: Match, wish: Wish) -> _Poured:
        """The ideal step where it meets the wish within the cautions; else nothing, and why."""
        case, so_far = way.case, self.poured[way.onwards]
        grams = max(float(case.path.grams[ideal.step]) - so_far, 0.0)
        step = self._poured(way, grams, wish_met=ideal.met)
        if ideal.met and (step.keeps or grams <= 0):
            return step
        if way.onwards and self.poured[False] <= _LITTLE_G:
            return self._planned(make_plan(self.inputs, target=wish.text, **self.reasons))
        why_not = needed(case, wish, Match(0, False, np.nan), ideal, ())
        return replace(self._poured(way, 0.0, wish_met=False), needed=why_not)

    def _planned(self, plan: Plan) -> _Poured:
        """What a plan for the tub at the start still pours of the activator, in its portions."""
        way, so_far = self._way(onwards=True, through_ph=plan.wish.ph), self.poured[True]
        # Where a wish fails no dose is laid out for another.
        total = max(plan.dose_g.best, so_far) if plan.wish_met else so_far
        step = self._poured(way, total - so_far, wish_met=plan.wish_met)
        if total > so_far:
            pouring = _as_planned(plan, step.pouring, way.case)
            step = replace(step, pouring=pouring, planned=True)
        return replace(
            step,
            portions_g=portions_ahead_g(plan, so_far, total),
            needed=plan.needed,
            look_by=plan.look_by,
            stop_ph=plan.stop_ph,
        )

    def _back(self) -> _Poured:
        """To the colour of the start: with soda while the gas leaves; at once, with acid."""
        way = self._way(onwards=False, through_ph=None)
        if self.back_powder != BASE_BACK:
            wished = Wish("hex", BACK, hex=str(self.before.colour.hex))
            return self._allowed(way, step_for(way.case.path, wished, self._from_here(way)), wished)
        led_back = partial(
            soda_back,
            self._bath(),
            self.start.setting,
            self.before.colour,
            way.case.bathers,
            least_g=self.plan.undo_soda_g if self.plan else undo_soda_g(self._bath()),
        )
        back = None
        if self.plan:
            # One number: that of the plan, which is for its spare portion too.
            most_g = 1.001 * self.plan.undo_soda_g
            back = led_back(allowed=lambda grams: grams <= most_g and self._keeps(way, grams))
        back = back or led_back(allowed=partial(self._keeps, way))
        if back is None:
            step = self._poured(way, 0.0, wish_met=False)
            return replace(step, needed=(Note("needed.no-way-back"),))
        grams, returning = back
        return replace(self._poured(way, grams, wish_met=True), comes_back=returning)

    def _after(self, name: str, step: _Poured, co2_litres: float) -> Step:
        setting, way, pouring = self.start.setting, step.way, step.pouring
        bath, parts = self._bath(), self.parts[way.onwards]
        closed, aired = bath.solve(), bath.at_rest()
        after = _sight("after", closed, setting.view)
        airing = _sight("after-airing", aired, setting.view)
        last = self.steps[-1].after if self.steps else self.before
        sides = (*pouring.final, *pouring.aired)
        largest = max(step.portions_g)
        chalk = chalk_of(closed, aired, setting.view, bath.air_co2_ppm)
        # On the way back the first colour is passed while the gas leaves; a plan has looked itself.
        asked = name and name.casefold() != BACK
        kept, why_not = (
            kept_by_chalk(Wish.written(name), chalk, self.before.colour) if asked else (True, ())
        )
        met = step.wish_met and kept
        poured = {part.name: getattr(step, part.name) for part in fields(Portions)}
        poured |= {"wish_met": met, "needed": _once((*why_not, *step.needed))}
        return Step(
            **poured,
            wish=name,
            powder=tuple(parts.items()),
            onwards=way.onwards,
            # Of water as before the first step.
            jugs=fill_jugs(parts, largest, setting.bath) if largest > _LITTLE_G else None,
            spoons=spoons(parts, step.grams),
            weigh=not self._spoons_keep(step),
            to_spare=self._allows(step, 0.5 * scale_step(step.grams)),
            total_g=self.poured[way.onwards],
            after=after,
            after_airing=airing,
            later=later_of(bath, setting),
            ph_acid_side=min(sides),
            ph_alkaline_side=max(sides),
            chalk=chalk,
            change_delta_e=float(delta_e(last.colour.lab, after.colour.lab)),
            level=LEVELS[pouring.level],
            co2_litres=co2_litres,
            fizzes=gas_pressure_atm(closed, aired) > taken("fizz_atm").value,
            reached=met and pouring.level <= self.start.accepted,
        )

    def _allows(self, step: _Poured, more_g: float) -> bool:
        """Whether the cautions allow so much more of a step, poured at once."""
        return len(step.portions_g) == 1 and self._keeps(step.way, more_g)

    def _spoons_keep(self, step: _Poured) -> bool:
        """Whether half a level spoon more or less, packed densely, keeps the cautions."""
        measured = spoons(self.parts[step.way.onwards], step.grams)
        if step.grams <= _LITTLE_G or measured.teaspoons < LEAST_SPOON:
            return False
        heaviest = round(2.0 * measured.teaspoons) / 2.0 * step.grams / measured.teaspoons_low
        return self._allows(step, max(heaviest - step.grams, 0.0))

    def _situation(self) -> Situation:
        first, before = self.pourings[0], float(self.start.path.ph[0])
        moments = list(first.moments(before))
        if len(self.pourings) > 1:
            moments = [Moment("before", first.before_acid_side, before, 0.0)]
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
            jugs=tuple(step.jugs for step in self.steps if step.jugs is not None),
            chalk=any(step.chalk for step in self.steps),
        )
        back = any(not step.onwards and step.grams > 0 for step in self.steps)
        return replace(situation, also_poured=(self.back_powder,) if back else ())


def _chalk_notes(steps: Sequence[Step]) -> list[Note]:
    """What chalk does where much of it may fall out."""
    ends = ((step.chalk, (step.after.ph, step.after_airing.ph)) for step in steps)
    return [note for note in (chalk_note(*each) for each in ends) if note is not None]


def _none_beyond(own: Verdicts, cautions: Sequence[Caution]) -> Verdicts:
    """Verdicts of which none allows what a caution of the pour forbids."""
    worst = next((caution for caution in cautions if pour_forbidden((caution,))), None)
    if worst is None:
        return own
    no = Verdict(worst.level, allowed=False, because=worst.code)
    three = (own.pour, own.give, own.sell)
    return Verdicts(*(no if verdict.allowed else verdict for verdict in three))


def _once(notes: Sequence[Note]) -> tuple[Note, ...]:
    """Each of some notes once, by code."""
    return tuple({note.code: note for note in notes}.values())


def _matched(path: Path, wish: Wish, ahead: NDArray[np.bool_]) -> Match:
    """Where ahead on a path a wish is met or comes nearest."""
    if not turns(path):
        return Match(int(np.flatnonzero(ahead)[0]), False, float("nan"))
    return step_for(path, wish, ahead)


def _sight(moment: str, solved: SolvedBath, view: View) -> Sight:
    return Sight(moment, float(solved.ph), solved.seen(view))


def _as_planned(plan: Plan, at_once: Pouring, case: Case) -> Pouring:
    """The pouring of a plan, as far as a soak judges it."""
    final = (plan.ph_acid_side, plan.ph_alkaline_side)
    aired = (plan.ph_acid_side_airing, plan.ph_alkaline_side_airing)
    firsts = [pour.ph_acid_side for pour in plan.pours if np.isfinite(pour.ph_acid_side)]
    reserve = plan.acid_reserve_high_meq_l
    return replace(
        at_once,
        totals_g=tuple(pour.total_g for pour in plan.pours),
        acid_sides=tuple(pour.ph_acid_side for pour in plan.pours),
        final=final,
        aired=aired,
        reserve_meq_l=reserve,
        level=worst_level([*final, *aired, *firsts], reserve, case.bathers),
    )
