"""The desk at which designs are made: mixtures of the search become amounts and are poured.

What a mixture needs for this tub, and how it is poured so that every possible tub keeps what the
cautions let pass; what is then said of it is the business of `dosing.effects.designs`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting, assemble, sour_meq
from dosing.bath.inputs import ColourInputs, RecipeInputs
from dosing.bath.mixed import surfactant_pka
from dosing.bath.possible_tubs import possible_tubs
from dosing.bottle.keeping import soon_gone
from dosing.effects.designs import Design, Wishes, takes_up_meq
from dosing.effects.reach import Reach, reaches_of
from dosing.effects.search import Candidate, search
from dosing.effects.shelf import Shelf, Stock, measured_out, stocks
from dosing.effects.task import ASKED, PH_STEP, SOUR_STEP, End, Task, palette
from dosing.ingredients.own_acid import own_acid
from dosing.ingredients.trade_values import typical
from dosing.plan.case import MIND, OK
from dosing.plan.cautions import Caution, Moment, Situation, exit_code
from dosing.plan.levels import judged_bathers
from dosing.plan.pouring import pour_at_once
from dosing.plan.rules import judge
from indicator.colourants import Colourant

Array = NDArray[np.float64]

SAME_PIGMENTS = 2
"""Most designs of one list that share their pigments."""
MORE_TRIED = 3
"""Designs, beyond those asked for, that are worked out before the best are shown."""
BACK_STEPS = 12
"""Steps of the pH that a design may give way for the cautions, as its infusion thins the water."""
SOUR_BACK_STEP = 0.05
"""Size of such a step where the infusion is sour, which widens what the tubs may come to [pH]."""
MOST_SOUR = 2.0
"""Acid of infusions, over what the water takes up, to which starts are worked out."""
FURTHER_OFF = ASKED
"""Cost beyond the nearest design at which another near miss is not worth showing."""


BREW_DOES_NOT_KEEP = "unpreserved-given"


@dataclass(frozen=True)
class Desk:
    """One bath with one shelf, on which designs are made."""

    inputs: RecipeInputs
    wished: tuple[End, End]
    """The first and the last colour."""
    shelf: Shelf
    seed: int
    prices: Mapping[str, float]

    @cached_property
    def bare(self) -> Setting:
        """The tub without colours."""
        return assemble(replace(self.inputs, colours=()))

    @cached_property
    def reaches(self) -> tuple[Reach, ...]:
        """One activator for each side to which the shelf can lead the tub."""
        return reaches_of(self.inputs, self.shelf)

    @cached_property
    def wishes(self) -> Wishes:
        """Wishes, bottles and prices that a verdict on a mixture is asked by."""
        return Wishes(*self.wished, self.stocks, self.prices)

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
        return self._against((), self.ph_before)

    @cached_property
    def forbidden(self) -> Mapping[Colourant, Caution]:
        """Colours of the shelf that a rule keeps out of this bath, and the rule."""
        against = {
            which: self._against((_colour_inputs(stock, 1.0),), 7.0)
            for which, stock in self.stocks.items()
        }
        return {which: cautions[0] for which, cautions in against.items() if cautions}

    def _against(self, colours: tuple[ColourInputs, ...], ph: float) -> tuple[Caution, ...]:
        """Cautions that forbid a bath of these colours at a pH, before any activator."""
        before = Moment("before", ph, ph, 0.0)
        cautions = judge(Situation(replace(self.inputs, colours=colours), (before,)))
        return _forbidding(cautions)

    @cached_property
    def stocks(self) -> Mapping[Colourant, Stock]:
        """Infusion or solution that each colour of the shelf is poured from."""
        return stocks(self.shelf.colours, self.inputs.colours)

    @cached_property
    def short_lived(self) -> Mapping[Colourant, float]:
        """Colours that are half gone before anyone has looked, and their half-life there [min]."""
        temperature_c = float(self.bare.bath.temperature_c)
        return soon_gone(self.shelf.colours, [self.ph_before], temperature_c)

    @cached_property
    def usable(self) -> tuple[Colourant, ...]:
        """Colours of the shelf that may be and last; none where no pigment is among them."""
        kept_out = self.forbidden.keys() | self.short_lived.keys()
        left = tuple(which for which in self.shelf.colours if which not in kept_out)
        return left if _pigments(left) else ()

    @cached_property
    def _sour_starts(self) -> Array:
        """The tub before, as pH, along the acid of sour infusions; empty where none is sour."""
        if not any(own_acid(which).meq_per_g > 0 for which in self.usable):
            return np.zeros(0)
        shares = np.arange(0.0, MOST_SOUR + 0.5 * SOUR_STEP, SOUR_STEP)
        moles = shares * takes_up_meq(self.bare) / 1000.0
        return np.asarray(self.bare.bath.with_activator(moles, {"anion": 1.0}).solve().ph)

    def designs(self, count: int) -> tuple[Design, ...]:
        """The best designs of this desk, the best first."""
        if self.blocked:
            return ()
        tried = [
            design
            for reach, task in self.tasks
            for candidate in self._candidates(task, count + MORE_TRIED)
            if (design := self._poured(candidate, reach))
        ]
        designs: list[Design] = []
        for design in sorted(tried, key=lambda design: (not design.reached, design.cost)):
            missed = designs and not designs[0].reached
            if len(designs) == count or (missed and design.cost > FURTHER_OFF + designs[0].cost):
                # What is much further off than the nearest near miss says nothing more.
                break
            news = _news(design.colourants, [other.colourants for other in designs])
            if news and not _forbidding(design.cautions):
                designs.append(design)
        return tuple(designs)

    @cached_property
    def tasks(self) -> list[tuple[Reach, Task]]:
        """Tasks of the search, for each activator that turns the tub."""
        if not self.usable:
            return []
        pka = surfactant_pka(self.usable, self.bare.bath.surfactants_g_l)
        bottles = {which: self.stocks[which].per_cm_or_molar for which in self.usable}
        # Strength 1 is a litre of the bottle over its strength in every litre of the tub.
        takes_up = takes_up_meq(self.bare) / float(self.bare.bath.volume_l)
        acid = {
            which: self.stocks[which].acid_meq_l / strength / takes_up
            for which, strength in bottles.items()
        }
        fills = float(self.bare.bath.volume_l) / typical("usual_bottle").value
        tasks = []
        for reach in self.reaches:
            field = reach.field(self.bathers, self._sour_starts)
            if len(field.ph):
                inks = palette(self.usable, field, self.bare.view, bottles, acid, pka)
                task = Task(*self.wished, field, inks, self.bare.view, fills)
                tasks.append((reach, task))
        return tasks

    def _candidates(self, task: Task, most: int) -> list[Candidate]:
        """The best mixtures, no two of one kind."""
        kept: list[Candidate] = []
        for candidate in search(task, self.seed):
            colours = candidate.colourants
            others = [other.colourants for other in kept if set(other.colourants) != set(colours)]
            if _news(colours, others):
                kept.append(candidate)
        return kept[:most]

    def _filled(self, candidate: Candidate, reach: Reach) -> RecipeInputs:
        """The recipe of a mixture, its amounts as they are measured out."""
        base_l = float(self.bare.bath.volume_l)
        stock = [self.stocks[which] for which in candidate.colourants]
        shares = [
            s / liquid.per_cm_or_molar for s, liquid in zip(candidate.strengths, stock, strict=True)
        ]
        total_l = base_l / (1.0 - sum(shares))
        colours = tuple(
            _colour_inputs(liquid, measured_out(1000.0 * share * total_l, dye=liquid.is_dye))
            for liquid, share in zip(stock, shares, strict=True)
        )
        return replace(
            self.inputs,
            colours=colours,
            activator=replace(self.inputs.activator, parts=dict(reach.parts)),
            wish=replace(self.inputs.wish, target=f"{candidate.ph:.2f}"),
        )

    def _poured(self, candidate: Candidate, reach: Reach) -> Design | None:
        """The mixture in this tub, poured at once; None where no pH near its own passes."""
        inputs = self._filled(candidate, reach)
        setting, possible = assemble(inputs), possible_tubs(inputs)
        accepted = MIND if candidate.minded else OK
        for ph in self._backwards(candidate.ph, sour=self._sour(inputs)):
            grams = float(setting.bath.grams_for_ph(ph, setting.per_gram)[0])
            if np.isfinite(grams) and grams > 0:
                pouring = pour_at_once(possible, grams, self.bathers)
                if pouring.level <= accepted:
                    aimed = _aimed(inputs, ph)
                    return Design(self.wishes, aimed, setting, possible, pouring, candidate.cost)
        return None

    def _sour(self, inputs: RecipeInputs) -> bool:
        """Whether the infusions bring acid enough to widen what the tubs may come to."""
        share = sum(sour_meq(inputs).values()) / takes_up_meq(self.bare)
        return share >= typical("own_acid_to_mention").value

    def _backwards(self, ph: float, *, sour: bool) -> Iterator[float]:
        """A pH, and others a little nearer to the start."""
        step = (SOUR_BACK_STEP if sour else PH_STEP) * np.sign(self.ph_before - ph)
        for count in range(BACK_STEPS):
            yield round(float(ph + count * step), 2)


def _forbidding(cautions: Sequence[Caution]) -> tuple[Caution, ...]:
    """Cautions that no other form of the same colours would do away with.

    A brew that does not keep is not given away: its dried petals are, and its verdict says so.
    """
    heavy = (caution for caution in cautions if exit_code((caution,)) != 0)
    return tuple(caution for caution in heavy if caution.code != BREW_DOES_NOT_KEEP)


def _aimed(inputs: RecipeInputs, ph: float) -> RecipeInputs:
    """The recipe with a pH for its wish."""
    return replace(inputs, wish=replace(inputs.wish, target=f"{ph:.2f}"))


def _colour_inputs(stock: Stock, millilitres: float) -> ColourInputs:
    """A colour as the recipe that is written of it will read."""
    litres = millilitres / 1000.0
    return ColourInputs(
        stock.colourant,
        content=stock.per_cm_or_molar * litres,
        amount=millilitres,
        amount_unit="mL",
        volume_l=litres,
        bottle_strength=stock.per_cm_or_molar,
        preserved=stock.preserved,
        strength_measured=stock.measured,
    )


def _news(colours: Sequence[Colourant], others: Sequence[Sequence[Colourant]]) -> bool:
    """Whether a set of colours is no better one with more in it, and no third of one pigment."""
    if any(set(other) <= set(colours) for other in others):
        return False
    pigments = _pigments(colours)
    return sum(_pigments(other) == pigments for other in others) < SAME_PIGMENTS


def _pigments(colours: Sequence[Colourant]) -> frozenset[Colourant]:
    return frozenset(which for which in colours if which.kind == "pigment")
