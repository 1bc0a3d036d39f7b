"""The dose without a wish, what may follow it, and what is told where a wish fails."""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from dosing import Tub
from dosing.bath.inputs import RecipeInputs
from dosing.ingredients.water import WaterReadings
from dosing.plan.answer import make_plan, preview
from dosing.plan.case import MIND, OK, case
from dosing.plan.choosing import knee
from dosing.plan.levels import LEVELS
from dosing.plan.odds import obvious_share
from dosing.plan.pouring import pour_at_once
from dosing.plan.records import Plan
from dosing.recipe import demo_recipe


def recipe(name: str = "1", **wish: Any) -> RecipeInputs:
    inputs = demo_recipe(name)
    return replace(inputs, wish=replace(inputs.wish, **{"target": None, **wish}))


def watered(inputs: RecipeInputs, **water: Any) -> RecipeInputs:
    return replace(inputs, water=WaterReadings(**water))


@cache
def surest(name: str = "1") -> Plan:
    return make_plan(recipe(name))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["1", "5"])
def test_no_wish_takes_the_surest_change_that_is_ok(name: str) -> None:
    """Every half gram is solved in every tub that fits the readings, at its level."""
    plan, asked = surest(name), case(recipe(name))
    doses = np.arange(0.5, 24.0, 1.0)
    levels = [pour_at_once(asked.possible, dose, asked.bathers).level for dose in doses]
    ok = doses[np.array(levels) == OK]
    ending = asked.possible.judged(ok[:, None]).ph[:, :-2].T
    shares = obvious_share(asked.possible, ending)
    assert pour_at_once(asked.possible, plan.dose_g.best, asked.bathers).level == OK
    assert plan.milder is None
    # Within two points, or two for each doubling of the powder, of the best; the grid is coarse.
    short = 0.02 * np.clip(np.log2(ok[np.argmax(shares)] / plan.dose_g.best), 1.0, 2.5)
    assert plan.odds.reached_share >= shares.max() - short - 0.01
    smaller = shares[ok < 0.9 * plan.dose_g.best]
    assert smaller.max() < shares.max() - 0.02


def test_a_stronger_dose_that_adds_little_is_offered_and_not_poured() -> None:
    plan = surest()
    assert plan.reached
    assert plan.offer is not None
    assert plan.offer.level == "mind"
    assert plan.offer.grams > plan.dose_g.best
    assert 0.02 <= plan.offer.gains < 0.10
    shown = preview(recipe(), plan.offer.grams)
    assert shown.odds.reached_share == pytest.approx(plan.offer.reached_share, abs=1e-9)
    assert plan.offer.gains == pytest.approx(plan.offer.reached_share - plan.odds.reached_share)
    assert shown.ph_acid_side < 5.5 <= plan.ph_acid_side


def test_a_stronger_dose_that_adds_much_is_chosen_and_says_so() -> None:
    plan = surest("3")
    assert plan.offer is None
    assert plan.milder is not None
    assert plan.milder.level == "ok"
    assert plan.milder.gains >= 0.10
    assert plan.odds.reached_share - plan.milder.reached_share == pytest.approx(plan.milder.gains)
    level = pour_at_once(case(recipe("3")).possible, plan.dose_g.best, "child").level
    assert level == MIND


@pytest.mark.slow
def test_a_reason_lets_no_default_go_further() -> None:
    reasoned = make_plan(recipe("5"), accept_ph="because I want to")
    assert reasoned.dose_g.best == surest("5").dose_g.best
    assert LEVELS.index("justify") not in [
        LEVELS.index(caution.level) for caution in reasoned.cautions
    ]


def test_where_more_powder_adds_next_to_nothing_less_is_poured() -> None:
    grams = np.array([2.0, 7.0, 14.0, 28.0, 74.0])
    assert knee(grams, np.array([0.2, 0.6, 0.825, 0.84, 0.86])) == 2
    assert knee(grams, np.array([0.2, 0.6, 0.78, 0.82, 0.86])) == 4
    assert knee(grams, np.array([0.9, 0.6, 0.5, 0.4, 0.3])) == 0


def test_a_failed_wish_lays_out_no_dose() -> None:
    plan = make_plan(recipe("1", target="purple"))
    assert not plan.wish_met
    assert plan.nearest is not None
    assert plan.pours == plan.portions == ()
    assert plan.maximum_g == plan.never_over_g == plan.pour_g == plan.may_need_g == 0.0
    assert plan.jugs is None
    assert plan.correcting == "nothing-poured"


def test_a_stopped_plan_has_no_pour() -> None:
    plan = preview(recipe(), 60.0)
    assert plan.verdicts.pour.level == "stop"
    assert plan.pours == ()
    assert plan.pour_g == plan.maximum_g == plan.once_more_g == 0.0


def test_one_further_portion_never_passes_the_most() -> None:
    plan = make_plan(recipe(target="5.7"))
    assert plan.correcting == "once-more"
    assert plan.once_more_g > 0.0
    assert plan.pour_g + plan.once_more_g == pytest.approx(plan.never_over_g)
    assert plan.never_over_g <= plan.maximum_g
    assert preview(recipe(), plan.maximum_g).verdicts.pour.allowed


def test_what_is_printed_is_rounded_by_hand() -> None:
    plan = make_plan(recipe(target="5.7"))
    pour = replace(plan.pours[0], spoons=replace(plan.spoons, teaspoons=3.0))
    ten = replace(plan, dose_g=replace(plan.dose_g, best=9.6, high=18.0), pours=(pour,))
    # Whole grams from five up: the dose to the nearest, the most down, and what is between them.
    some = replace(ten, maximum_g=14.9)
    assert (some.pour_g, some.never_over_g, some.once_more_g) == (10.0, 14.0, 4.0)
    # The most lies below the dose's own next gram.
    assert replace(ten, maximum_g=9.7).pour_g == replace(ten, maximum_g=9.7).never_over_g == 9.0
    # Three spoons that lie densest, 2.4 to the 9.6 g, hold 12 g.
    dense = replace(some, spoons=replace(plan.spoons, teaspoons=3.0, teaspoons_low=2.4))
    assert replace(dense, maximum_g=12.1).spoons_keep_limit
    assert not replace(dense, maximum_g=11.9).spoons_keep_limit


def test_nothing_is_added_at_the_most() -> None:
    assert surest().nothing_to_spare
    assert surest().correcting == "at-most"
    assert surest().once_more_g == 0.0


def test_a_tub_that_was_never_tinted_is_not_corrected() -> None:
    inputs = recipe(target="5.7")
    thin = tuple(replace(colour, content=1e-3 * colour.content) for colour in inputs.colours)
    plan = make_plan(replace(inputs, colours=thin))
    assert str(plan.before.colour.visibility) in ("invisible", "hardly")
    assert plan.correcting == "not-tinted"


def test_a_strip_at_its_last_step_is_read_again_before_more() -> None:
    # The last pad of the usual alkalinity strip reads 240 ppm (see data/trade/instruments.csv).
    inputs = recipe(bathers="adult", child_age_years=None, target="6.4")
    last = make_plan(watered(inputs, alkalinity_meq_l=4.796, instrument="strip"))
    assert last.strip_at_end
    assert last.correcting == "read-again"
    assert last.once_more_g == 0.0
    assert not any(pour.spare for pour in last.pours)
    assert last.do_next == "thin-strip"
    below = make_plan(watered(inputs, alkalinity_meq_l=3.6, instrument="strip"))
    assert not below.strip_at_end
    assert below.correcting != "read-again"


def test_unknown_water_gets_a_first_portion_that_the_softest_takes() -> None:
    inputs = watered(recipe(bathers="child", child_age_years=8.0))
    plan = make_plan(inputs)
    assert not plan.wish_met
    assert plan.do_next == "pinch-test"
    assert plan.first_portion is not None
    first = plan.first_portion
    seen = preview(inputs, first.grams)
    assert seen.ph_acid_side == pytest.approx(first.ph_acid_side)
    gate = {"ok": 5.5, "mind": 5.0}[first.level]
    assert first.ph_acid_side >= gate
    assert first.turned_share == pytest.approx(seen.odds.reached_share)
    # A third more would no longer keep that level in the softest of these waters.
    assert preview(inputs, 1.34 * first.grams).ph_acid_side < gate


def test_what_to_do_next_goes_by_what_is_known() -> None:
    known = surest()
    assert known.first_portion is None
    assert known.do_next == known.next_steps[0].code
    inputs = recipe()
    assert make_plan(watered(inputs, hardness_mmol_l=1.2)).do_next == "ask-supplier"
    without = replace(inputs, colours=(), wish=replace(inputs.wish, target="6.5"))
    assert make_plan(watered(without)).do_next == "strip"


@pytest.mark.slow
def test_less_colour_that_shows_nearly_the_same_is_told() -> None:
    plan = surest()
    (less,) = plan.enough
    assert less.factor < 2.0 / 3.0
    inputs = recipe()
    fewer = tuple(
        replace(colour, content=colour.content * less.factor) for colour in inputs.colours
    )
    shown = preview(replace(inputs, colours=fewer), plan.dose_g.best)
    # The acid of the infusion goes with it, so the pH is not quite the same.
    assert shown.change_delta_e >= 0.88 * plan.change_delta_e
    assert less.amount == pytest.approx(less.factor * inputs.colours[0].amount)
    assert surest("3").enough == ()
    (worth,) = plan.most_per_gram
    assert worth.factor < less.factor

    def change(factor: float) -> float:
        made = tuple(replace(colour, content=colour.content * factor) for colour in inputs.colours)
        return preview(replace(inputs, colours=made), plan.dose_g.best).change_delta_e

    # By plans of their own: nothing else that is clear changes more for each gram.
    best = change(worth.factor) / worth.factor
    tried = [factor for factor in np.geomspace(0.03, 1.0, 6) if change(factor) >= 10.0]
    assert all(change(factor) / factor <= 1.1 * best for factor in tried)


def test_every_wish_says_in_how_many_tubs_the_change_is_clear() -> None:
    for target in ("5.9", "blue"):
        plan = make_plan(recipe(target=target))
        shown = preview(recipe(), plan.dose_g.best)
        assert plan.odds.clear_share == pytest.approx(shown.odds.reached_share, abs=0.02)
        assert plan.odds.clear_share != plan.odds.reached_share
    assert surest().odds.clear_share == surest().odds.reached_share


def test_a_range_beyond_the_most_is_told_once() -> None:
    plan = surest()
    assert plan.may_need_g == plan.dose_g.high > plan.never_over_g
    assert make_plan(recipe(target="6.5")).may_need_g == 0.0


def test_a_spare_portion_is_the_one_that_may_follow() -> None:
    unread = {"alkalinity": "120 ppm", "instrument": "strip", "hardness": None, "ph": None}
    plan = Tub.demo().with_(water=unread).plan().plan
    assert any(pour.spare for pour in plan.pours)
    assert plan.correcting == "at-most"
    assert plan.portions[-1].total_g + plan.once_more_g <= plan.never_over_g


def test_no_eye_decides_for_a_child_whose_water_nobody_read() -> None:
    unread = {"alkalinity": None, "hardness": None, "instrument": None, "ph": None}
    cabbage = [{"pigment": "red-cabbage", "amount": "460 mL", "strength": "2 %"}]
    tub = Tub.demo().with_(water=unread, colour=cabbage)
    grown_up = tub.with_(bathers="adult", child_age=None).plan().plan
    assert len(grown_up.portions) > 1
    child = tub.plan().plan
    assert len(child.portions) <= 1
    # Poured at once, what is offered keeps the limit that a dose by itself is judged by.
    offered = child.first_portion.grams if child.first_portion else child.pour_g
    assert tub.pour(offered).plan.reached
    assert tub.pour(child.never_over_g).plan.verdicts.pour.allowed


def test_a_first_portion_has_its_own_cautions() -> None:
    unread = {"alkalinity": None, "hardness": None, "instrument": None, "ph": None}
    tub = Tub.demo().with_(water=unread)
    plan = tub.plan().plan
    assert plan.first_portion is not None
    poured = tub.pour(plan.first_portion.grams).plan
    lowest = {caution.code: caution.message for caution in poured.cautions}
    said = {caution.code: caution.message for caution in plan.cautions}
    assert "ph-child-mind" in said
    assert said["ph-child-mind"] == lowest["ph-child-mind"]


def test_a_water_that_was_only_named_counts_as_unread() -> None:
    named = {"like": "hard", "alkalinity": None, "hardness": None, "instrument": None, "ph": None}
    cabbage = [{"pigment": "red-cabbage", "amount": "600 mL", "strength": "2 %"}]
    child = Tub.demo().with_(water=named, colour=cabbage).plan().plan
    assert len(child.portions) <= 1
    assert child.do_next in ("pinch-test", "strip", "ask-supplier")
    read = Tub.demo().with_(water=named | {"alkalinity": "180 ppm"}, colour=cabbage)
    assert read.inputs.water.typical is False


def test_grams_that_were_asked_for_are_told_in_no_spoons() -> None:
    tub = Tub.demo()
    assert not tub.pour("14 g").plan.spoons_keep_limit
    assert tub.pour("2 tsp").plan.spoons_keep_limit


def test_dried_petals_may_be_passed_on() -> None:
    sold = Tub.demo().with_(wish={"purpose": "gift"})
    dry = sold.with_(colour=[{"pigment": "butterfly-pea", "amount": "9 g"}])
    assert "unpreserved-given" in {caution.code for caution in sold.plan().plan.cautions}
    assert "unpreserved-given" not in {caution.code for caution in dry.plan().plan.cautions}
