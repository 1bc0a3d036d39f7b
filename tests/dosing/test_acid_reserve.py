"""Acid reserve and the tub as read: judged by every answer, and what is printed is what was judged.

That buffered water of one pH stings more is published (Ahmed and Chaudhuri, Int. J. Pharm. 44:97,
1988); from how much on a level begins is our own choice, data/trade/caution_limits.csv.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs, TubInputs, WishInputs
from dosing.effects.answer import design_effects, wished_end
from dosing.effects.shelf import read_shelf
from dosing.ingredients.water import WaterReadings
from dosing.plan.answer import make_plan, preview
from dosing.plan.cautions import Caution, exit_code, pour_forbidden
from dosing.plan.households import six_homes
from dosing.plan.levels import LEVELS, reserve_level
from dosing.plan.records import Wish
from dosing.recipe import demo_recipe
from dosing.sachets.answer import sachet_answer
from dosing.sachets.populations import draw_homes
from dosing.soak.steps import make_soak

PAIR = {"citric-acid-anhydrous": 0.4, "trisodium-citrate": 0.6}
"""Shares of a pair that holds the pH near 5 however much is poured (invented for the test)."""


def soak(
    alkalinity_meq_l: float, bathers: str, parts: dict[str, float] | None = None, **wish: object
) -> RecipeInputs:
    """The demo's soak, its tub measured, in water that a report tells of."""
    inputs = demo_recipe("1")
    activator = inputs.activator if parts is None else replace(inputs.activator, parts=parts)
    return replace(
        inputs,
        tub=TubInputs(volume_l=120.0, volume_measured=True),
        water=WaterReadings(
            alkalinity_meq_l=alkalinity_meq_l,
            hardness_mmol_l=0.5 * alkalinity_meq_l,
            instrument="water-report",
        ),
        activator=activator,
        wish=WishInputs(bathers=bathers, **wish),  # type: ignore[arg-type]  # free keywords
    )


def found(cautions: tuple[Caution, ...]) -> set[str]:
    return {one.code for one in cautions if one.code.startswith("reserve-")}


@pytest.mark.slow
def test_twenty_times_the_acid_is_not_as_easy_on_the_eyes() -> None:
    little = preview(soak(0.5, "adult"), 3.0)
    much = preview(soak(5.0, "adult", PAIR), 119.0)
    assert much.acid_reserve_meq_l > 8.0 * little.acid_reserve_meq_l
    assert found(little.cautions) == set()
    assert found(much.cautions) == {"reserve-mind"}
    assert much.verdicts.pour.level == "mind"


@pytest.mark.parametrize(
    ("bathers", "meq_l", "level"),
    [
        ("adult", 4.9, "ok"),
        ("adult", 5.1, "mind"),
        ("adult", 15.1, "justify"),
        ("child", 2.9, "ok"),
        ("child", 3.1, "stop"),
        ("nobody", 500.0, "ok"),
        ("adult", float("nan"), "stop"),
    ],
)
def test_levels_of_the_reserve(bathers: str, meq_l: float, level: str) -> None:
    assert LEVELS[int(reserve_level(meq_l, bathers))] == level


@pytest.mark.slow
def test_a_written_reason_covers_an_adults_reserve_and_no_childs() -> None:
    much = soak(5.0, "adult", PAIR)
    assert exit_code(preview(much, 300.0).cautions) == 3
    reasoned = preview(much, 300.0, accept_ph="a test of the citrate pair")
    assert exit_code(reasoned.cautions) == 0
    assert reasoned.verdicts.pour.level == "justify"
    for reason in (None, "a reason"):
        plan = preview(soak(5.0, "child", PAIR), 119.0, accept_ph=reason)
        assert found(plan.cautions) == {"reserve-stop"}
        assert exit_code(plan.cautions) == 3


@pytest.mark.slow
def test_a_plan_stops_where_the_reserve_does() -> None:
    plan = make_plan(soak(5.0, "child", PAIR, target="5.3"))
    assert not plan.reached
    assert plan.acid_reserve_high_meq_l <= 3.0 + 1e-6
    assert plan.maximum_g < 119.0
    assert "stop" in plan.ribbon.level


@pytest.mark.slow
def test_steps_homes_sachets_and_designs_look_at_the_reserve() -> None:
    hard = soak(5.0, "child", PAIR)
    programme = make_soak(hard, ("5.6",))
    assert not programme.reached
    homes = six_homes(hard, 119.0, Wish("none", ""), "mind")
    assert all(home.verdict == "too sour" for home in homes if home.volume_l < 130.0)
    answer = sachet_answer(
        replace(hard, wish=replace(hard.wish, target="5.6")),
        draw_homes("denmark", 300),
        sizes_g=(119.0,),
        powders=(),
    )
    assert answer.sizes[0].shares.past_limit_share > 0.95
    assert answer.sizes[0].ph.middle > 5.0
    designed = design_effects(
        soak(5.0, "child"),
        wished_end("blue", "start"),
        wished_end("pink", "end"),
        shelf=read_shelf("black carrot, tartrazine, citric acid"),
        count=3,
    )
    for design in designed.designs:
        assert make_plan(design.inputs).acid_reserve_high_meq_l <= 3.0 + 1e-6


@pytest.mark.slow
@pytest.mark.parametrize("bathers", ["adult", "child"])
@pytest.mark.parametrize("instrument", ["strip", "meter"])
def test_a_tub_read_as_without_alkalinity_is_judged_as_it_is_read(
    bathers: str, instrument: str
) -> None:
    inputs = replace(
        soak(0.0, bathers),
        water=WaterReadings(alkalinity_meq_l=0.0, ph=7.0, instrument=instrument),
    )
    limit = {"adult": 4.5, "child": 5.0}[bathers]
    plan = make_plan(inputs)
    as_read = float(
        preview(inputs, plan.dose_g.best).after.ph if plan.dose_g.best > 0 else plan.before.ph
    )
    assert plan.ph_acid_side <= as_read + 1e-9
    assert as_read >= limit or exit_code(plan.cautions) == 3
    steps = make_soak(inputs, ("5.8",))
    assert steps.steps[-1].after.ph >= limit or exit_code(steps.cautions) == 3
    sour = preview(inputs, 3.0)
    assert sour.after.ph < limit
    assert pour_forbidden(sour.cautions)
    assert not np.isnan(sour.ph_acid_side_airing)


@pytest.mark.slow
def test_a_colour_that_is_not_listed_forbids_the_sale_and_not_the_pouring() -> None:
    inputs = demo_recipe("1")
    sold = replace(
        inputs,
        colours=tuple(replace(one, preserved=True) for one in inputs.colours),
        wish=WishInputs(bathers="adult", purpose="sale", market="US"),
    )
    plan = make_plan(sold)
    assert plan.verdicts.pour.allowed
    assert not plan.verdicts.sell.allowed
    assert not pour_forbidden(plan.cautions)
    assert exit_code(plan.cautions) == 3
    own = make_plan(replace(sold, wish=replace(sold.wish, purpose="own")))
    assert exit_code(own.cautions) == 0
    assert own.verdicts.sell.level == "stop"


@pytest.mark.slow
def test_a_reason_of_the_maker_opens_neither_gift_nor_sale() -> None:
    inputs = soak(0.8, "adult")
    sour = preview(inputs, 12.0, accept_ph="my own skin, a short soak")
    assert sour.verdicts.pour.level == "justify"
    assert sour.verdicts.pour.allowed
    assert not sour.verdicts.give.allowed
    assert not sour.verdicts.sell.allowed
    gift = replace(inputs, wish=replace(inputs.wish, purpose="gift"))
    assert exit_code(preview(gift, 12.0, accept_ph="my own skin, a short soak").cautions) == 3


@pytest.mark.slow
def test_too_alkaline_homes_are_called_so_with_their_worst_ph() -> None:
    soda = soak(3.0, "adult", {"sodium-carbonate": 1.0})
    plan = preview(replace(soda, wish=replace(soda.wish, purpose="gift")), 40.0)
    (elsewhere,) = [one for one in plan.cautions if one.code.startswith("homes-")]
    assert elsewhere.code == "homes-too-alkaline"
    homes = six_homes(soda, 40.0, Wish("none", ""), "mind")[1:]
    assert float(elsewhere.values["ph"]) >= max(home.after.ph for home in homes)
    assert "too alkaline" in {home.verdict for home in homes}


@pytest.mark.slow
@pytest.mark.parametrize("air_ppm", [600.0, 2000.0])
def test_the_tub_as_read_is_judged_in_full_and_in_empty_air(air_ppm: float) -> None:
    """Without alkalinity fuller air is the sour end; with much, emptier air the alkaline one."""
    for alkalinity in (0.0, 8.0):
        plan = preview(soak(alkalinity, "child"), 0.05)
        bath = assemble(soak(alkalinity, "child")).bath
        setting = assemble(soak(alkalinity, "child"))
        aired = float(bath.with_activator(0.05, setting.per_gram).solve(pco2_ppm=air_ppm).ph)
        assert plan.ph_acid_side_airing - 1e-9 <= aired <= plan.ph_alkaline_side_airing + 1e-9


@pytest.mark.slow
def test_the_most_keeps_the_level_that_the_plan_says() -> None:
    plan = make_plan(soak(2.0, "adult", target="5.9"))
    most = preview(soak(2.0, "adult"), plan.maximum_g)
    assert most.verdicts.pour.level == plan.verdicts.pour.level
    assert {one.code for one in most.cautions} == {one.code for one in plan.cautions}
