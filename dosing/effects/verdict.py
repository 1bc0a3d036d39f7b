"""The verdict on a mixture that is poured in its tub: what is said of it as a design."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from dosing.bath.assembled import Setting, sour_meq
from dosing.bath.chalk import Chalked, chalk_note, chalk_of
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import jugs_of_pours
from dosing.bath.mixed import colour_at
from dosing.bath.possible_tubs import Possible
from dosing.effects.designs import Design, DesignedColour, WordSight
from dosing.effects.shelf import Stock
from dosing.effects.task import ASKED, End, meets
from dosing.ingredients.powders import Blend, powder
from dosing.ingredients.trade_values import typical
from dosing.plan.case import MIND
from dosing.plan.cautions import Situation, exit_code
from dosing.plan.households import elsewhere
from dosing.plan.levels import LEVELS, bath_level, judged_bathers
from dosing.plan.pouring import Pouring, with_chalk
from dosing.plan.records import Sight
from dosing.plan.rules import judge, permissions, verdicts
from indicator.appearance import delta_e
from indicator.notes import Note, Value
from indicator.pigments import Colourant, trust
from indicator.spread import drawn_labs
from indicator.srgb import lab_from_hex
from indicator.words import (
    both_certainties,
    certainties,
    colour_words,
    makers_word,
    threshold,
    word_certainty,
)

LEAST_ALKALINITY_MEQ_L = 0.1


@dataclass(frozen=True)
class Wishes:
    """Wishes of a design, and the bottles and prices that its verdict is asked by."""

    start: End
    end: End
    stocks: Mapping[Colourant, Stock]
    prices: Mapping[str, float]


@dataclass(frozen=True)
class Poured:
    """A mixture in its tub, poured at once: what is seen, how surely, and how it ranks."""

    wishes: Wishes
    inputs: RecipeInputs
    setting: Setting
    possible: Possible
    pouring: Pouring
    mixture_cost: float = 0.0
    """Penalty of the mixture by itself, as `dosing.effects.task.Task.cost`."""

    @property
    def dose_g(self) -> float:
        """Activator in the tub [g]."""
        return self.pouring.totals_g[-1]

    @cached_property
    def before(self) -> Sight:
        """The tub before the activator."""
        return self._sight("before", 0.0)

    @cached_property
    def after(self) -> Sight:
        """The tub after it."""
        return self._sight("after", self.dose_g)

    def _sight(self, moment: str, grams: float) -> Sight:
        setting = self.setting
        solved = setting.bath.with_activator(grams, setting.per_gram).solve()
        return Sight(moment, float(solved.ph), solved.seen(setting.view))

    @cached_property
    def chalk(self) -> tuple[Chalked, ...]:
        """The tub with the chalk out, where it may fall."""
        bath = self.setting.bath.with_activator(self.dose_g, self.setting.per_gram)
        return chalk_of(bath.solve(), bath.at_rest(), self.setting.view, bath.air_co2_ppm)

    @cached_property
    def met(self) -> tuple[bool, bool]:
        """Whether start and end are as wished; the end with all the chalk out too."""
        end, after = self.wishes.end, self.after
        # A written recipe wishes for the pH: that must hold as well.
        kept = all(
            _met(end, Sight(chalked.moment, chalked.ph, chalked.colour))
            and abs(chalked.ph - after.ph) <= typical("wished_ph_within").value
            for chalked in self.chalk
            if chalked.moment == "after"
        )
        return _met(self.wishes.start, self.before), _met(end, after) and kept

    @cached_property
    def shares(self) -> tuple[float, float]:
        """In how many draws of the pigments both wishes hold, and in how many tubs the end does."""
        twins = self.possible.setting
        both_ph = np.array([self.before.ph, self.after.ph])
        draws = drawn_labs(self.setting.bath.strengths, both_ph, self.setting.view)
        sure = meets(self.wishes.start, draws[:, 0]) & meets(self.wishes.end, draws[:, 1])
        ending = colour_at(
            twins.bath.strengths, self.pouring.ending_ph, twins.view, twins.bath.surfactants_g_l
        )
        return float(np.mean(sure)), float(np.mean(meets(self.wishes.end, ending.lab)))

    @property
    def cost(self) -> float:
        """Penalty with the doubt: a wish that holds for no other petals or tub is not met."""
        return self.mixture_cost + ASKED * sum(1.0 - share for share in self.shares)

    @property
    def rank(self) -> tuple[bool, float]:
        """What designs are sorted by: those that reach both ends first, then the cost."""
        return not all(self.met), self.cost


def design_of(poured: Poured) -> Design | None:
    """The design with everything that is said of it; None where a caution forbids it."""
    inputs, setting, wishes = poured.inputs, poured.setting, poured.wishes
    pouring = poured.pouring
    bathers = judged_bathers(inputs.wish.bathers)
    before, after, chalk = poured.before, poured.after, poured.chalk
    if chalk:
        pouring = with_chalk(pouring, bathers)
    jugs = jugs_of_pours(inputs.activator.parts, pouring.totals_g, setting.bath)
    situation = Situation(
        inputs,
        pouring.moments(before.ph),
        jugs=() if jugs is None else (jugs,),
        chalk=bool(chalk),
    )
    cautions = judge(situation)
    if exit_code(cautions) != 0:
        return None
    # What other homes say of the same grams forbids no mixture, but giving it away.
    passed_on = replace(situation, elsewhere=elsewhere(inputs, poured.dose_g))
    past = bath_level(pouring.ending_ph, pouring.ending_reserve, bathers) > MIND
    price, unpriced = _price(inputs, poured.dose_g, wishes)
    chalked = chalk_note(chalk, (after.ph,))
    return Design(
        inputs=inputs,
        colours=tuple(
            DesignedColour(
                colour.colourant,
                colour.amount,
                wishes.stocks[colour.colourant],
                float(setting.bath.strengths[colour.colourant]),
            )
            for colour in inputs.colours
        ),
        activator=tuple(Blend(inputs.activator.parts).parts.items()),
        dose_g=poured.dose_g,
        before=before,
        after=after,
        ph_acid_side=pouring.final[0],
        ph_alkaline_side=pouring.final[1],
        past_limit_share=float(np.mean(past)),
        change_delta_e=float(delta_e(before.colour.lab, after.colour.lab)),
        start_met=poured.met[0],
        end_met=poured.met[1],
        start_words=_words(wishes.start, before),
        end_words=_words(wishes.end, after),
        start_delta_e=_distance(wishes.start, before),
        end_delta_e=_distance(wishes.end, after),
        sure_share=poured.shares[0],
        tubs_share=poured.shares[1],
        level=LEVELS[pouring.level],
        cautions=cautions,
        verdicts=verdicts(passed_on),
        cost=poured.cost,
        notes=(
            *(() if chalked is None else (chalked,)),
            *_acid_notes(inputs, setting),
            *_design_notes(inputs),
        ),
        price=price,
        unpriced=unpriced,
    )


def takes_up_meq(setting: Setting) -> float:
    """Acid that the water of a tub takes up [meq]."""
    alkalinity = max(float(setting.water.alkalinity_meq_l), LEAST_ALKALINITY_MEQ_L)
    return alkalinity * float(setting.bath.volume_l)


def _met(end: End, sight: Sight) -> bool:
    """Whether a moment is as wished, is seen without looking for it, and mostly called so."""
    seen = end.faint or float(sight.colour.visibility_delta_e) >= threshold("visible")
    mostly = end.word is None or _certainty(end, sight) >= typical("least_word_share").value
    return bool(meets(end, sight.colour.patch)) and seen and mostly


def _distance(end: End, sight: Sight) -> float | None:
    return None if end.hex is None else float(delta_e(lab_from_hex(end.hex), sight.colour.patch))


def _certainty(end: End, sight: Sight) -> float:
    away = _distance(end, sight)
    if away is None:
        return float(word_certainty(sight.colour.patch, str(end.word)))
    return float(np.exp(-away / typical("same_colour_delta_e").value))


def _words(end: End, sight: Sight) -> WordSight:
    """How surely a moment has its word, and which other words it might have."""
    lab = sight.colour.patch
    called = None if end.word is None else float(both_certainties(lab, end.word)[1])
    votes = sorted(
        zip(colour_words(), (float(vote) for vote in certainties(lab)[0]), strict=True),
        key=lambda pair: -pair[1],
    )
    word = end.word if str(sight.colour.word) == end.word else None
    return WordSight(_certainty(end, sight), called, tuple(votes), makers_word(lab), word)


def _price(
    inputs: RecipeInputs, grams: float, wishes: Wishes
) -> tuple[float | None, tuple[str, ...]]:
    """What the priced parts cost together, and the parts without a price."""
    prices = wishes.prices
    if not prices:
        return None, ()
    masses: dict[str, float | None] = {
        name: share * grams for name, share in Blend(inputs.activator.parts).parts.items()
    }
    labels = {name: powder(name).label for name in masses}
    for colour in inputs.colours:
        per_l = wishes.stocks[colour.colourant].grams_per_l
        masses[colour.name] = None if per_l is None else per_l * colour.amount / 1000.0
        labels[colour.name] = colour.colourant.label
    known = {name: mass for name, mass in masses.items() if name in prices and mass is not None}
    price = sum(prices[name] * mass for name, mass in known.items())
    without = tuple(label for name, label in labels.items() if name not in known)
    return (price if known else None), without


def _acid_notes(inputs: RecipeInputs, setting: Setting) -> tuple[Note, ...]:
    """What the infusions bring of acid themselves, where it is much beside the water's."""
    brought = sour_meq(inputs)
    share = sum(brought.values()) / takes_up_meq(setting)
    if share < typical("own_acid_to_mention").value:
        return ()
    sourest = max(brought, key=lambda which: brought[which]).label
    return (Note("design.note.own-acid", {"colour": sourest, "share": share}, "colour"),)


def _design_notes(inputs: RecipeInputs) -> tuple[Note, ...]:
    """What to know of the colours of a design: market, stains, how far they are known."""
    notes = []
    litres = sum(colour.volume_l for colour in inputs.colours)
    if litres > typical("usual_bottle").value:
        many: dict[str, Value] = {"litres": litres, "bottle": typical("usual_bottle").value}
        notes.append(Note("design.note.bottle", many, "colour"))
    for colour in inputs.colours:
        which = colour.colourant
        values: dict[str, Value] = {"colour": which.label}
        if which.stains == "strongly":
            notes.append(Note("design.note.stains", values, "colour"))
        if trust(which) == "reported":
            notes.append(Note("assume.colour.reported", values, "colour"))
        for market, listed, remark, _ in permissions(which):
            if market == inputs.wish.market and listed != "yes":
                told = {**values, "market": market, "remark": remark}
                notes.append(Note(f"design.note.listed-{listed}", told, "wish.market"))
    return tuple(notes)
