"""The gallery: its rows are what a plan of the same recipe shows, and what the search finds."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.effects.answer import design_effects, wished_end
from dosing.effects.gallery import (
    DEMO,
    GALLERY_SEED,
    GalleryEffect,
    every_effect,
    gallery,
    gallery_tub,
    instead_of,
)
from dosing.effects.shelf import read_shelf
from dosing.effects.task import End
from dosing.effects.written import recipe_with
from dosing.plan.answer import make_plan
from dosing.plan.cautions import exit_code
from dosing.plan.levels import LEVELS
from dosing.recipe import demo_tables, recipe_from
from dosing.words import templates
from indicator.appearance import delta_e
from indicator.srgb import lab_from_hex
from indicator.words import colour_words


def recipe_of(effect: GalleryEffect) -> RecipeInputs:
    child = {"child_age": "8 years"} if effect.bathers == "child" else {}
    wish = {"bathers": effect.bathers, **child}
    return recipe_from(recipe_with({**demo_tables(DEMO), "wish": wish}, effect))


def planned(effect: GalleryEffect) -> Any:
    return make_plan(recipe_of(effect))


def check_row(effect: GalleryEffect) -> None:
    """A plan of the same recipe, which knows nothing of the search, shows the same."""
    plan = planned(effect)
    assert plan.reached
    assert exit_code(plan.cautions) == 0
    assert plan.dose_g.best == pytest.approx(effect.dose_g, abs=0.002)
    assert plan.before.ph == pytest.approx(effect.ph_before, abs=0.001)
    assert plan.after.ph == pytest.approx(effect.ph_after, abs=0.001)
    for sight, hex_colour, word in (
        (plan.before, effect.before_hex, effect.start),
        (plan.after, effect.after_hex, effect.end),
    ):
        assert delta_e(sight.colour.patch, lab_from_hex(hex_colour)) < 0.5
        assert str(sight.colour.word) == word
    assert plan.change_delta_e == pytest.approx(effect.change_delta_e, abs=0.01)


def test_rows_are_what_a_plan_shows() -> None:
    for start, end, bathers in (("blue", "pink", "adult"), ("teal", "purple", "child")):
        rows = gallery(bathers=bathers)
        check_row(next(one for one in rows if (one.start, one.end) == (start, end)))


@pytest.mark.slow
def test_one_row_in_four_is_what_a_plan_shows() -> None:
    """All of them take a minute or two; any row may be asked for, by its place."""
    for effect in every_effect()[::4]:
        check_row(effect)


@pytest.mark.slow
def test_the_search_finds_the_best_of_the_gallery_again() -> None:
    for bathers in ("adult", "child"):
        for effect in gallery(bathers=bathers)[:4]:
            names = [which.name for which in effect.colourants]
            found = design_effects(
                gallery_tub(bathers),
                wished_end(effect.start, "start"),
                wished_end(effect.end, "end"),
                shelf=read_shelf(", ".join([*names, effect.powder])),
                seed=GALLERY_SEED,
            )
            assert found.reached
            assert found.designs[0].cost <= effect.cost + 0.05


def test_every_dose_leads_to_the_ph_beside_it() -> None:
    for effect in every_effect():
        tub = assemble(recipe_of(effect))
        ends = tub.bath.with_activator([0.0, effect.dose_g], tub.per_gram).ph
        np.testing.assert_allclose(ends, (effect.ph_before, effect.ph_after), atol=0.01)
        # A grown-up needs a reason from pH 4.5 on, a child's bath ends at 5.0.
        assert effect.ph_acid_side >= {"adult": 4.5, "child": 5.0}[effect.bathers]


def test_what_is_poured_is_rounded_down_to_the_scale() -> None:
    effect = every_effect()[0]
    for exact, shown in ((12.96, 12.0), (3.27, 3.2), (0.487, 0.48)):
        assert replace(effect, dose_g=exact).pour_g == shown


def test_rows_are_safe_seen_and_named_in_plain_words() -> None:
    for effect in every_effect():
        assert effect.start != effect.end
        assert {effect.start, effect.end} <= set(colour_words())
        assert effect.level in LEVELS[:2]
        assert effect.change_delta_e >= 10.0
        assert min(effect.start_votes, effect.end_votes) >= 0.5
        assert effect.ph_acid_side <= effect.ph_after <= effect.ph_alkaline_side
        assert 0 < effect.chance <= 1
        assert any(which.kind == "pigment" for which in effect.colourants)


def test_each_pair_has_its_best_and_bathers_are_heard() -> None:
    adult, child = gallery(bathers="adult"), gallery(bathers="child")
    assert gallery() == child
    assert gallery(bathers="nobody") == adult
    for rows in (adult, child):
        pairs = [(one.start, one.end) for one in rows]
        assert len(set(pairs)) == len(pairs)
        assert [one.rank for one in rows] == sorted(one.rank for one in rows)
        assert {("blue", "pink"), ("blue", "violet"), ("green", "orange")} <= set(pairs)


def test_a_shelf_and_a_market_leave_out_what_they_do_not_have() -> None:
    shelf = read_shelf("red cabbage, tartrazine, citric acid")
    rows = gallery(bathers="adult", shelf=shelf)
    assert rows
    assert {c.name for one in rows for c in one.colours} == {"red-cabbage", "tartrazine"}
    assert gallery(shelf=read_shelf("red cabbage, washing soda")) == ()
    # No plant pigment is listed for cosmetics in the United States (21 CFR 73 subpart C).
    assert gallery(bathers="adult", market="US") == ()
    assert gallery(bathers="adult", market="EU") == gallery(bathers="adult")
    assert gallery(bathers="adult", market="other") == gallery(bathers="adult")


def test_what_works_instead_is_nearest_first() -> None:
    first, *others = instead_of(End("blue", word="blue"), End("pink", word="pink"), "adult")
    assert (first.start, first.end) == ("blue", "pink")
    assert all(one.start == "blue" or one.end == "pink" for one in others)
    assert len(others) in (1, 2)
    assert instead_of(End("#102030", hex="#102030"), End("pink", word="pink"), "child")


def test_amounts_say_when_they_fit_no_bottle_that_is_sold() -> None:
    rows = gallery(bathers="adult")
    for one in rows:
        # A quarter of a litre: common practice, no source.
        assert one.sellable == (sum(colour.amount_ml for colour in one.colours) <= 250.0)
    assert any(one.sellable for one in rows)
    assert not all(one.sellable for one in rows)


def test_an_effect_is_named_without_the_grams_of_another_tub() -> None:
    words: Any = templates._templates().get_template("effects-shared").module
    effect = every_effect()[0]
    named = words.named_only(effect)
    assert all(which.label in named for which in effect.colourants)
    assert " g" not in named
