"""The demo recipes keep the promises that the README makes for them; their numbers are invented."""

from __future__ import annotations

from functools import cache

import pytest

from dosing.plan.answer import make_plan
from dosing.plan.cautions import exit_code
from dosing.plan.records import Plan
from dosing.recipe import demo_names, demo_recipe
from indicator.notes import sentence
from indicator.tables import read_text


@cache
def planned(name: str) -> Plan:
    return make_plan(demo_recipe(name))


@pytest.mark.slow
@pytest.mark.parametrize("name", demo_names())
def test_every_sentence_of_a_demo_can_be_read(name: str) -> None:
    plan = planned(name)
    for note in (*plan.needed, *plan.assumptions, *plan.warnings):
        assert sentence(note)
    assert all(caution.message for caution in plan.cautions)


@pytest.mark.parametrize("name", demo_names())
def test_every_demo_says_that_its_numbers_are_invented(name: str) -> None:
    from dosing.recipe.reading import DEMOS

    comment = " ".join(read_text(f"demo/{DEMOS[name]}.toml").split("schema")[0].split("#"))
    assert "numbers are invented" in " ".join(comment.split())


@pytest.mark.slow
def test_the_evening_soak_turns_visibly_and_safely_for_a_child() -> None:
    inputs, plan = demo_recipe(1), planned("1")
    assert inputs.wish.bathers == "child"
    assert plan.reached
    assert exit_code(plan.cautions) == 0
    assert plan.ph_acid_side >= 5.0
    assert plan.change_delta_e >= 15.0
    assert plan.before.colour.visibility == "strong"
    # Light goes down to the floor and up again: strength times path is about 1 to 2.
    strength = inputs.colours[0].content / plan.volume_l
    assert 1.0 <= strength * 2.0 * plan.depth_cm <= 2.0


@pytest.mark.slow
def test_a_spoon_of_coloured_foam_bath_is_hardly_seen() -> None:
    inputs, plan = demo_recipe(2), planned("2")
    assert inputs.tub == demo_recipe(1).tub
    assert inputs.water == demo_recipe(1).water
    assert inputs.foam_bath is not None
    assert inputs.foam_bath.amount_ml == 60.0
    assert plan.before.colour.visibility == "hardly"
    assert not plan.reached
    assert {note.code for note in plan.needed} & {"needed.stronger", "needed.no-strength"}


@pytest.mark.slow
def test_blue_and_yellow_start_green() -> None:
    plan = planned("3")
    assert plan.reached
    assert exit_code(plan.cautions) == 0
    assert plan.before.colour.word == "green"
    assert plan.change_delta_e >= 10.0


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "before", "after"), [("4", "blue", "purple"), ("4-green", "green", "orange")]
)
def test_the_hall_basin_is_to_look_at(name: str, before: str, after: str) -> None:
    plan = planned(name)
    assert plan.reached
    assert plan.not_for_bathing
    assert (str(plan.before.colour.word), str(plan.after.colour.word)) == (before, after)
    # Published spectra put this flower's purple at pH 3 to 4, pink below (Marpaung 2012).
    assert plan.after.ph < 3.5
    assert not any(caution.level == "stop" for caution in plan.cautions)


def test_foam_cloud_and_floor_of_a_recipe_change_what_is_seen() -> None:
    from dosing.bath.assembled import assemble
    from dosing.recipe import demo_text, parse_recipe

    text = demo_text("1")
    seen = {}
    for key in ("", 'cloud = "milky"', 'floor = "beige"', 'foam_cover = "50 %"'):
        setting = assemble(parse_recipe(text.replace("[tub]", f"[tub]\n{key}")))
        seen[key] = str(setting.bath.solve().seen(setting.view).hex)
    assert len(set(seen.values())) == 4


def test_blue_turns_pink_within_the_limits_for_adults() -> None:
    plan = make_plan(demo_recipe(5))
    assert plan.reached
    assert (str(plan.before.colour.word), str(plan.after.colour.word)) == ("blue", "pink")
    assert plan.ph_acid_side >= 4.5
    assert plan.bathers == "adult"
    assert not plan.not_for_bathing
