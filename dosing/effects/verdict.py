"""The verdict on a mixture that is poured in its tub: what is told of it as a design."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting, sour_meq
from dosing.bath.chalk import Chalked, chalk_note, chalk_of
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import jugs_of_pours
from dosing.bath.mixed import colour_at
from dosing.bath.possible_tubs import Possible
from dosing.effects.designs import Design, DesignedColour, WordSight
from dosing.effects.shelf import Stock
from dosing.effects.task import ASKED, End, meets
from dosing.ingredients.powders import Blend
from dosing.ingredients.trade_values import typical
from dosing.plan.case import MIND
from dosing.plan.cautions import (
    LEVELS,
    bath_level,
    exit_code,
    judge,
    judged_bathers,
    permissions,
    verdicts,
)
from dosing.plan.households import elsewhere
from dosing.plan.pouring import Pouring, with_chalk
from dosing.plan.records import Sight
from dosing.plan.situation import situation_of
from indicator.appearance import delta_e
from indicator.notes import Note, Value
from indicator.pigments import Colourant, trust
from indicator.spread import drawn_labs
from indicator.srgb import lab_from_hex
from indicator.words import (
    called_certainty,
    colour_words,
    makers_word,
    threshold,
    word_certainty,
    word_votes,
)

Array = NDArray[np.float64]

LEAST_ALKALINITY_MEQ_L = 0.1


@dataclass(frozen=True)
class Poured:
    """A mixture in its tub, and how it is poured."""

    inputs: RecipeInputs
    setting: Setting
    possible: Possible
    pouring: Pouring


@dataclass(frozen=True)
class Wishes:
    """Wishes of a design, and the bottles and prices that its verdict is asked by."""

    start: End
    end: End
    stocks: Mapping[Colourant, Stock]
    prices: Mapping[str, float]


def design_of(poured: Poured, wishes: Wishes, cost: float) -> Design | None:
    """The design with everything that is told of it; None where a caution forbids it.

    Parameters
    ----------
    poured : Poured
        The mixture in its tub.
    wishes : Wishes
        The two colours, what is poured from, and prices.
    cost : float
        Penalty of the mixture by itself, as `dosing.effects.task.Task.cost`.

    Returns
    -------
    Design or None
        As it is told.
    """
    inputs, setting, pouring = poured.inputs, poured.setting, poured.pouring
    bathers = judged_bathers(inputs.wish.bathers)
    before, after = _sights(setting, pouring.totals_g[-1])
    chalk = _chalk(setting, pouring.totals_g[-1])
    if chalk:
        pouring = with_chalk(pouring, bathers)
    jugs = jugs_of_pours(inputs.activator.parts, pouring.totals_g, setting.bath)
    jugs_told = () if jugs is None else (jugs,)
    situation = situation_of(inputs, pouring.moments(before.ph), jugs=jugs_told, chalk=bool(chalk))
    cautions = judge(situation)
    # What other homes say of the same grams forbids no mixture, but giving it away.
    passed_on = replace(situation, elsewhere=elsewhere(inputs, pouring.totals_g[-1]))
    if exit_code(cautions) != 0:
        return None
    sure_share, tubs_share = _shares(poured, wishes, before.ph, after.ph)
    # A wish that holds in no other tub, or for no other batch of petals, is not met.
    doubt = ASKED * ((1.0 - sure_share) + (1.0 - tubs_share))
    price, unpriced = _price(inputs, pouring.totals_g[-1], wishes)
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
        dose_g=pouring.totals_g[-1],
        before=before,
        after=after,
        ph_acid_side=pouring.final[0],
        ph_alkaline_side=pouring.final[1],
        past_limit_share=float(
            np.mean(bath_level(pouring.ending_ph, pouring.ending_reserve, bathers) > MIND)
        ),
        change_delta_e=float(delta_e(before.colour.lab, after.colour.lab)),
        start_met=_met(wishes.start, before),
        end_met=_met(wishes.end, after) and _kept(wishes.end, after, chalk),
        start_words=_words(wishes.start, before),
        end_words=_words(wishes.end, after),
        start_delta_e=_distance(wishes.start, before),
        end_delta_e=_distance(wishes.end, after),
        sure_share=sure_share,
        tubs_share=tubs_share,
        level=LEVELS[pouring.level],
        cautions=cautions,
        not_for_bathing=bathers == "nobody",
        verdicts=verdicts(passed_on),
        cost=cost + doubt,
        notes=(
            *_chalk_notes(chalk, after),
            *_acid_notes(inputs, setting),
            *_design_notes(inputs),
        ),
        price=price,
        unpriced=unpriced,
    )


def _chalk(setting: Setting, grams: float) -> tuple[Chalked, ...]:
    bath = setting.bath.with_activator(grams, setting.per_gram)
    return chalk_of(bath.solve(), bath.at_rest(), setting.view, bath.air_co2_ppm)


def _kept(end: End, after: Sight, chalk: Sequence[Chalked]) -> bool:
    """Whether end and pH, which a written recipe wishes for, hold with all the chalk out."""
    return all(
        _met(end, Sight(chalked.moment, chalked.ph, chalked.colour))
        and abs(chalked.ph - after.ph) <= typical("wished_ph_within").value
        for chalked in chalk
        if chalked.moment == "after"
    )


def _chalk_notes(chalk: Sequence[Chalked], after: Sight) -> tuple[Note, ...]:
    note = chalk_note(chalk, (after.ph,))
    return () if note is None else (note,)


def takes_up_meq(setting: Setting) -> float:
    """Acid that the water of a tub takes up [meq]."""
    alkalinity = max(float(setting.water.alkalinity_meq_l), LEAST_ALKALINITY_MEQ_L)
    return alkalinity * float(setting.bath.volume_l)


def _sights(setting: Setting, grams: float) -> tuple[Sight, Sight]:
    """The tub before, and after so much activator."""
    before = setting.bath.solve()
    after = setting.bath.with_activator(grams, setting.per_gram).solve()
    return (
        Sight("before", float(before.ph), before.seen(setting.view)),
        Sight("after", float(after.ph), after.seen(setting.view)),
    )


def _shares(
    poured: Poured, wishes: Wishes, before_ph: float, after_ph: float
) -> tuple[float, float]:
    """In how many draws of the pigments both wishes hold, and in how many tubs the end does."""
    setting, twins = poured.setting, poured.possible.setting
    draws = drawn_labs(setting.bath.strengths, np.array([before_ph, after_ph]), setting.view)
    sure = meets(wishes.start, draws[:, 0]) & meets(wishes.end, draws[:, 1])
    ending = colour_at(
        twins.bath.strengths, poured.pouring.ending_ph, twins.view, twins.bath.surfactants_g_l
    )
    return float(np.mean(sure)), float(np.mean(meets(wishes.end, ending.lab)))


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
    called = None if end.word is None else float(called_certainty(lab, end.word))
    votes = sorted(
        zip(colour_words(), (float(vote) for vote in word_votes(lab)), strict=True),
        key=lambda pair: -pair[1],
    )
    return WordSight(_certainty(end, sight), called, tuple(votes), makers_word(lab))


def _price(
    inputs: RecipeInputs, grams: float, wishes: Wishes
) -> tuple[float | None, tuple[str, ...]]:
    """What the priced parts cost together, and the parts without a price."""
    prices = wishes.prices
    if not prices:
        return None, ()
    parts = {name: share * grams for name, share in Blend(inputs.activator.parts).parts.items()}
    masses: dict[str, float | None] = {**parts}
    for colour in inputs.colours:
        per_l = wishes.stocks[colour.colourant].grams_per_l
        masses[colour.name] = None if per_l is None else per_l * colour.amount / 1000.0
    known = {n: m for n, m in masses.items() if n in prices and m is not None}
    price = sum(prices[name] * mass for name, mass in known.items())
    return (price if known else None), tuple(n for n in masses if n not in known)


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
