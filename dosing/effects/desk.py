"""The desk at which designs are made: mixtures of the search become amounts, are poured and judged.

What a mixture needs for this tub, where it ends in every possible tub, and what the same cautions
as for any plan say to it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from dosing.assembly import Setting, assemble
from dosing.bath import colour_at, surfactant_pka
from dosing.case import MIND, OK, case_for
from dosing.cautions import (
    LEVELS,
    Caution,
    Moment,
    exit_code,
    gate_level,
    judge,
    judged_bathers,
    permissions,
)
from dosing.effects.designs import Design, DesignedColour
from dosing.effects.reach import ACID, ALKALINE, Reach
from dosing.effects.search import (
    PH_STEP,
    Candidate,
    End,
    Field,
    Task,
    meets,
    palette,
    search,
)
from dosing.effects.shelf import Shelf, Stock, stocks
from dosing.inputs import ColourInputs, RecipeInputs
from dosing.judging import situation_of
from dosing.looking import look_between
from dosing.plan import make_plan
from dosing.pouring import pour_at_once
from dosing.powders import Blend, per_gram
from dosing.records import Plan, Sight
from dosing.trade_values import typical
from dosing.uncertainty import Possible, possible_tubs
from indicator.appearance import delta_e
from indicator.notes import Note, Value
from indicator.pigments import colourant, trust
from indicator.spread import drawn_labs
from indicator.words import threshold, word_certainty

Array = NDArray[np.float64]

SAME_PIGMENTS = 2
"""Most designs of one list that share their pigments."""
TRIED, LEAST_TRIED = 3, 10
"""Times the designs asked for that are worked out before the best are shown, and at least."""
BACK_STEPS = 12
"""Steps of the pH that a design may give way for the cautions, as its infusion thins the water."""
GAP_WORTH_PORTIONS = 0.12
"""pH between the gate and the furthest single pour from which portions are tried."""
PORTIONED = 2
"""Designs that are tried in portions."""
FURTHER_OFF = 0.7
"""Cost beyond the nearest design at which another near miss is not worth showing."""
OWN_ACID_TO_MENTION = 0.05
"""Acid of the infusions, over what the water takes up, from which a design speaks of it."""
LEAST_ALKALINITY_MEQ_L = 0.1
DOUBT = {"tubs": 0.4, "pigment": 0.6}
"""What a design costs that holds in no other tub, or in no draw of its pigments."""


@dataclass(frozen=True)
class Desk:
    """One bath with one shelf, on which designs are made."""

    inputs: RecipeInputs
    start: End
    end: End
    shelf: Shelf
    seed: int
    prices: Mapping[str, float]
    bare: Setting
    """The tub without colours."""
    reaches: tuple[Reach, ...]
    """One activator for each side to which the shelf can lead the tub."""

    @property
    def bathers(self) -> str:
        """Who the bath is judged for."""
        return judged_bathers(self.inputs.wish.bathers)

    @cached_property
    def ph_before(self) -> float:
        """Of the tub without activator."""
        return float(self.bare.bath.solve().ph)

    @cached_property
    def blocked(self) -> tuple[Caution, ...]:
        """Cautions that forbid the bath before any colour is in it."""
        start = Moment("before", self.ph_before, self.ph_before)
        cautions = judge(situation_of(replace(self.inputs, colours=()), (start,)))
        return tuple(one for one in cautions if exit_code((one,)) != 0)

    @cached_property
    def forbidden(self) -> Mapping[str, Caution]:
        """Colours of the shelf that a rule keeps out of this bath, and the rule."""
        neutral = (Moment("before", 7.0, 7.0),)
        found = {}
        for name in self.shelf.colours:
            coloured = replace(self.inputs, colours=(_colour_inputs(self.stocks[name], 1.0),))
            cautions = judge(situation_of(coloured, neutral))
            against = [one for one in cautions if exit_code((one,)) != 0]
            if against:
                found[name] = against[0]
        return found

    @cached_property
    def stocks(self) -> Mapping[str, Stock]:
        """What each colour of the shelf is poured from."""
        return stocks(self.shelf.colours, self.inputs.colours)

    @cached_property
    def usable(self) -> tuple[str, ...]:
        """Colours of the shelf that no rule keeps out; none where no pigment is among them."""
        left = tuple(name for name in self.shelf.colours if name not in self.forbidden)
        return left if _pigments(left) else ()

    def field(self, *, at_once: bool = True) -> Field | None:
        """Where designs may end; None where the tub does not turn."""
        parts = [one.field(self.bathers, at_once=at_once) for one in self.reaches]
        ph = np.concatenate([part.ph for part in parts]) if parts else np.zeros(0)
        if not len(ph):
            return None
        order = np.argsort(ph)
        acid, alkaline, minded = (
            np.concatenate([getattr(part, name) for part in parts])[order]
            for name in ("acid_side", "alkaline_side", "minded")
        )
        return Field(self.ph_before, ph[order], acid, alkaline, minded)

    def designs(self, count: int) -> tuple[Design, ...]:
        """The best designs of this desk, the best first."""
        if self.blocked or not self.usable:
            return ()
        found = self._poured_at_once(count)
        if not any(one.reached for one in found) and self._portions_lead_further():
            found = [*found, *self._poured_in_portions()]
        order = sorted(found, key=lambda one: (not one.reached, one.cost))
        if order and not order[0].reached:
            # What is much further off tells nothing more.
            order = [one for one in order if one.cost < order[0].cost + FURTHER_OFF]
        return tuple(_distinct(order)[:count])

    def _poured_at_once(self, count: int) -> list[Design]:
        found = []
        for candidate in self._candidates(at_once=True, most=max(TRIED * count, LEAST_TRIED)):
            design = self._design(candidate)
            if design is not None:
                found.append(design)
        return found

    def _poured_in_portions(self) -> list[Design]:
        """Designs that need a look between portions; each has passed as a plan of its own."""
        found = []
        for candidate in self._candidates(at_once=False, most=PORTIONED):
            design = self._portioned(candidate)
            if design is not None:
                found.append(design)
        return found

    def _portions_lead_further(self) -> bool:
        """Whether the gate lies a good way beyond the furthest single pour."""
        near, far = self.field(), self.field(at_once=False)
        if far is None:
            return False
        if near is None:
            return True
        gaps = (near.ph[0] - far.ph[0], far.ph[-1] - near.ph[-1])
        return bool(max(gaps) > GAP_WORTH_PORTIONS)

    def _candidates(self, *, at_once: bool, most: int) -> list[Candidate]:
        """The best mixtures, no two of one kind."""
        field = self.field(at_once=at_once)
        if field is None:
            return []
        pka = surfactant_pka(self.usable, self.bare.bath.surfactants_g_l)
        bottles = {name: self.stocks[name].per_cm_or_molar for name in self.usable}
        takes_up = max(float(self.bare.water.alkalinity_meq_l), LEAST_ALKALINITY_MEQ_L)
        own_acid = {
            name: self.stocks[name].acid_meq_l / bottles[name] / takes_up for name in self.usable
        }
        inks = palette(self.usable, field, self.bare.view, bottles, own_acid, pka)
        task = Task(self.start, self.end, field, inks, self.bare.view)
        kept: list[Candidate] = []
        for one in search(task, self.seed):
            others = [other.names for other in kept if set(other.names) != set(one.names)]
            if _pigments(one.names) and _news(one.names, others):
                kept.append(one)
        return kept[:most]

    def _filled(self, candidate: Candidate) -> RecipeInputs:
        """The recipe of a mixture, its amounts to three figures."""
        base_l = float(self.bare.bath.volume_l)
        stock = [self.stocks[name] for name in candidate.names]
        shares = [
            s / one.per_cm_or_molar for s, one in zip(candidate.strengths, stock, strict=True)
        ]
        total_l = base_l / (1.0 - sum(shares))
        colours = tuple(
            _colour_inputs(one, three_figures(1000.0 * share * total_l))
            for one, share in zip(stock, shares, strict=True)
        )
        side = ACID if candidate.ph < self.ph_before else ALKALINE
        reach = next(one for one in self.reaches if one.side == side)
        return replace(
            self.inputs,
            colours=colours,
            activator=replace(self.inputs.activator, parts=dict(reach.parts)),
            wish=replace(self.inputs.wish, target=f"{candidate.ph:.2f}"),
        )

    def _design(self, candidate: Candidate) -> Design | None:
        """The mixture in this tub, poured at once; None where no pH near its own passes."""
        ph, step = candidate.ph, PH_STEP * np.sign(self.ph_before - candidate.ph)
        inputs = self._filled(candidate)
        setting, possible = assemble(inputs), possible_tubs(inputs)
        field = self.field()
        minded = field is not None and bool(field.minded[np.argmin(np.abs(field.ph - ph))])
        for _ in range(BACK_STEPS):
            grams = float(setting.bath.grams_for_ph(ph, setting.per_gram)[0])
            if np.isfinite(grams) and grams > 0:
                pouring = pour_at_once(possible, grams, self.bathers)
                if pouring.level <= (MIND if minded else OK):
                    aimed = replace(inputs, wish=replace(inputs.wish, target=f"{ph:.2f}"))
                    ends = _Ends(grams, 1, pouring.final, pouring.aired, possible.final_ph(grams))
                    return self._judged(candidate, aimed, setting, possible, ends)
            ph = round(float(ph + step), 2)
        return None

    def _portioned(self, candidate: Candidate) -> Design | None:
        """The mixture as a plan with looks between portions, if its wishes still hold there."""
        passed = self._passed_in_portions(candidate)
        if passed is None:
            return None
        inputs, plan = passed
        setting = assemble(inputs)
        aim = float(str(inputs.wish.target))
        possible = possible_tubs(inputs)
        totals = np.array([one.total_g for one in plan.pours])
        case = case_for(inputs, None, None, aim)
        step = int(np.argmin(np.abs(case.path.ph - aim)))
        look = look_between(case.path, step, inputs.water.instrument or "strip")
        ph = possible.final_ph(totals[:, None])
        if look is not None:
            read = ph + look.sd_ph * possible.look_error
            turned = read <= look.stop_ph if case.path.acid else read >= look.stop_ph
            turned[-1] = True
            ph = ph[np.argmax(turned, axis=0), np.arange(ph.shape[1])]
        final = (plan.ph_acid_side, plan.ph_alkaline_side)
        aired = (plan.ph_acid_side_airing, plan.ph_alkaline_side_airing)
        ends = _Ends(plan.dose_g.best, len(plan.pours), final, aired, np.ravel(ph))
        return self._judged(candidate, inputs, setting, possible, ends)

    def _passed_in_portions(self, candidate: Candidate) -> tuple[RecipeInputs, Plan] | None:
        """The recipe and its plan; at the mixture's own pH, or as near as the plan may go."""
        inputs = self._filled(candidate)
        setting, ph = assemble(inputs), candidate.ph
        for _ in range(2):
            both = np.array([self.ph_before, ph])
            lab = colour_at(setting.bath.strengths, both, setting.view).lab
            if not (meets(self.start, lab[0]) and meets(self.end, lab[1])):
                # Not worth the pouring of it.
                return None
            aimed = replace(inputs, wish=replace(inputs.wish, target=f"{ph:.2f}"))
            plan = make_plan(aimed)
            if plan.reached:
                return (aimed, plan) if len(plan.pours) > 1 else None
            side = 1.0 if ph < self.ph_before else -1.0
            ph = round(plan.after.ph + side * PH_STEP, 2)
        return None

    def _judged(
        self,
        candidate: Candidate,
        inputs: RecipeInputs,
        setting: Setting,
        possible: Possible,
        ends: _Ends,
    ) -> Design | None:
        """The design with everything that is told of it; None where a caution forbids it."""
        solved = (
            setting.bath.solve(),
            setting.bath.with_activator(ends.grams, setting.per_gram).solve(),
        )
        before, after = (
            Sight(name, float(one.ph), one.seen(setting.view))
            for name, one in zip(("before", "after"), solved, strict=True)
        )
        moments = (
            Moment("before", before.ph, before.ph),
            Moment("after", *ends.final),
            Moment("after-airing", *ends.aired),
        )
        if exit_code(judge(situation_of(inputs, moments))) != 0:
            return None
        strengths = setting.bath.strengths
        draws = drawn_labs(strengths, np.array([before.ph, after.ph]), setting.view)
        sure = meets(self.start, draws[:, 0]) & meets(self.end, draws[:, 1])
        twins = possible.setting.bath
        in_tubs = colour_at(twins.strengths, ends.in_tubs, setting.view, twins.surfactants_g_l)
        holds = meets(self.end, in_tubs.lab)
        sure_share, tubs_share = float(np.mean(sure)), float(np.mean(holds))
        doubt = DOUBT["pigment"] * (1.0 - sure_share) + DOUBT["tubs"] * (1.0 - tubs_share)
        values = [v for side in (ends.final, ends.aired) for v in side]
        level = int(np.max(gate_level(np.array(values), self.bathers)))
        price, unpriced = self._price(inputs, ends.grams)
        colours = tuple(
            DesignedColour(one.name, one.amount, self.stocks[one.name], float(strengths[one.name]))
            for one in inputs.colours
        )
        return Design(
            inputs=inputs,
            colours=colours,
            activator=tuple(Blend(inputs.activator.parts).parts.items()),
            dose_g=ends.grams,
            portions=ends.portions,
            before=before,
            after=after,
            ph_acid_side=ends.final[0],
            ph_alkaline_side=ends.final[1],
            change_delta_e=float(delta_e(before.colour.lab, after.colour.lab)),
            start_met=_met(self.start, before),
            end_met=_met(self.end, after),
            start_certainty=_certainty(self.start, before),
            end_certainty=_certainty(self.end, after),
            start_delta_e=_distance(self.start, before),
            end_delta_e=_distance(self.end, after),
            sure_share=sure_share,
            tubs_share=tubs_share,
            level=LEVELS[level],
            not_for_bathing=self.bathers == "nobody",
            cost=candidate.cost + doubt,
            notes=(*self._own_acid(inputs), *_design_notes(inputs, ends.portions)),
            price=price,
            unpriced=unpriced,
        )

    def _own_acid(self, inputs: RecipeInputs) -> tuple[Note, ...]:
        """What the infusions bring of acid that no plan counts, and the soda that takes it up."""
        brought = {
            one.name: self.stocks[one.name].acid_meq_l * one.amount / 1000.0
            for one in inputs.colours
        }
        sour = max(brought, key=lambda name: brought[name])
        meq = sum(brought.values())
        bath = self.bare.bath
        takes_up = float(self.bare.water.alkalinity_meq_l) * float(bath.volume_l)
        share = meq / max(takes_up, LEAST_ALKALINITY_MEQ_L * float(bath.volume_l))
        if share < OWN_ACID_TO_MENTION:
            return ()
        soda_g = meq / 1000.0 / float(per_gram("sodium-bicarbonate")["Na"])
        values: dict[str, Value] = {
            "colour": colourant(sour).label,
            "share": share,
            "soda": soda_g,
        }
        return (Note("design.note.own-acid", values, "colour"),)

    def _price(self, inputs: RecipeInputs, grams: float) -> tuple[float | None, tuple[str, ...]]:
        """What the priced parts cost together, and the parts without a price."""
        if not self.prices:
            return None, ()
        parts = {name: share * grams for name, share in Blend(inputs.activator.parts).parts.items()}
        masses: dict[str, float | None] = {**parts}
        for one in inputs.colours:
            per_l = self.stocks[one.name].grams_per_l
            masses[one.name] = None if per_l is None else per_l * one.amount / 1000.0
        known = {n: m for n, m in masses.items() if n in self.prices and m is not None}
        price = sum(self.prices[name] * mass for name, mass in known.items())
        return (price if known else None), tuple(n for n in masses if n not in known)


@dataclass(frozen=True)
class _Ends:
    """Where a dose ends."""

    grams: float
    portions: int
    final: tuple[float, float]
    """Acid and alkaline side of the pH."""
    aired: tuple[float, float]
    in_tubs: Array
    """pH of every possible tub, shape (tubs,)."""


def _colour_inputs(stock: Stock, millilitres: float) -> ColourInputs:
    """A colour as the recipe that is written of it will read."""
    litres = millilitres / 1000.0
    return ColourInputs(
        stock.name,
        content=stock.per_cm_or_molar * litres,
        amount=millilitres,
        amount_unit="mL",
        volume_l=litres,
        bottle_strength=stock.per_cm_or_molar,
        preserved=stock.preserved,
        strength_measured=stock.measured,
    )


def three_figures(value: float) -> float:
    """A number to three figures, as an amount is measured out."""
    return float(f"{value:.3g}")


def _met(end: End, sight: Sight) -> bool:
    """Whether a moment is as wished, and is seen without looking for it."""
    seen = end.faint or float(sight.colour.visibility_delta_e) >= threshold("visible")
    return bool(meets(end, sight.colour.lab)) and seen


def _distance(end: End, sight: Sight) -> float | None:
    from indicator.words import lab_from_hex

    return None if end.hex is None else float(delta_e(lab_from_hex(end.hex), sight.colour.lab))


def _certainty(end: End, sight: Sight) -> float:
    away = _distance(end, sight)
    if away is None:
        return float(word_certainty(sight.colour.lab, str(end.word)))
    return float(np.exp(-away / typical("same_colour_delta_e").value))


def _news(names: Sequence[str], others: Sequence[Sequence[str]]) -> bool:
    """Whether a set of colours is no better one with more in it, and no third of one pigment."""
    if any(set(other) <= set(names) for other in others):
        return False
    pigments = _pigments(names)
    return sum(_pigments(other) == pigments for other in others) < SAME_PIGMENTS


def _pigments(names: Sequence[str]) -> frozenset[str]:
    return frozenset(name for name in names if colourant(name).kind == "pigment")


def _distinct(designs: Sequence[Design]) -> list[Design]:
    kept: list[Design] = []
    for one in designs:
        names = [colour.name for colour in one.colours]
        if _news(names, [[colour.name for colour in other.colours] for other in kept]):
            kept.append(one)
    return kept


def _design_notes(inputs: RecipeInputs, portions: int) -> tuple[Note, ...]:
    """What to know of the colours of a design: market, stains, how far they are known."""
    notes = []
    if portions > 1:
        notes.append(Note("design.note.portions", {"count": portions}))
    for one in inputs.colours:
        which = colourant(one.name)
        values: dict[str, Value] = {"colour": which.label}
        if which.stains == "strongly":
            notes.append(Note("design.note.stains", values, "colour"))
        if trust(which) == "reported":
            notes.append(Note("assume.colour.reported", values, "colour"))
        for market, listed, remark, _ in permissions(which.family):
            if market == inputs.wish.market and listed != "yes":
                told = {**values, "market": market, "remark": remark}
                notes.append(Note(f"design.note.listed-{listed}", told, "wish.market"))
    return tuple(notes)
