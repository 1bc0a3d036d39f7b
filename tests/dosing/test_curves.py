"""Curves over the dose: how near they come, and that nothing told is taken from them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dosing import demo_recipe
from dosing.bath.possible_tubs import READ_ROWS, both_sides
from dosing.plan.answer import answer, make_plan, preview
from dosing.plan.case import Case, case
from dosing.plan.curves import NEAR, Curve, Curves
from dosing.plan.pouring import most_to_pour, pour_at_once
from dosing.plan.records import Wish
from dosing.recipe import demo_names

WITHIN_PH = 0.01


@pytest.fixture(scope="module")
def soak() -> Case:
    return case(demo_recipe("1"))


@pytest.mark.parametrize("demo", demo_names())
def test_curves_are_within_a_hundredth_of_a_ph(demo: str) -> None:
    # Compared with the solver between the doses that the curves were solved at, gas in and gas out.
    here = case(demo_recipe(demo))
    curves = here.basis.curves
    end = float(here.path.grams[-1])
    doses = np.geomspace(end / 2000.0, end, 60)[:, None]
    solved, near = here.possible.judged(doses), curves.judged(doses)
    np.testing.assert_allclose(near.ph, solved.ph, rtol=0, atol=WITHIN_PH)
    np.testing.assert_allclose(near.ph_at_rest, solved.ph_at_rest, rtol=0, atol=WITHIN_PH)
    reserve = solved.acid_reserve_meq_l()
    np.testing.assert_allclose(near.acid_reserve_meq_l(), reserve, rtol=5e-4, atol=0.002)


def test_sides_are_solved_not_interpolated(soak: Case) -> None:
    doses = np.linspace(0.0, 60.0, 9)
    solved = soak.possible.judged(doses[:, None])
    curves = soak.basis.curves
    sides = both_sides(solved.ph)
    np.testing.assert_allclose(curves.closed_sides(doses), sides, rtol=0, atol=1e-9)
    high = both_sides(solved.acid_reserve_meq_l())[1]
    np.testing.assert_allclose(curves.high_reserve(doses), high, rtol=0, atol=1e-9)


def test_sides_are_solved_of_every_tub_where_the_curves_are_off(soak: Case) -> None:
    doses = np.linspace(5.0, 60.0, 4)
    coarse = Curves(soak.possible, np.ones(soak.possible.rows), np.array([0.0, 80.0]))
    off = np.abs(coarse.judged(doses[:, None]).ph - soak.possible.judged(doses[:, None]).ph)
    assert off.max() > 10 * NEAR
    expected = both_sides(soak.possible.judged(doses[:, None]).ph)
    np.testing.assert_allclose(coarse.closed_sides(doses), expected, rtol=0, atol=1e-9)


def test_a_curve_keeps_a_rise_a_rise() -> None:
    grams = np.array([0.0, 1.0, 4.0, 5.0])
    curve = Curve(grams, np.array([[0.0], [0.1], [5.0], [5.05]]))
    between = curve.at(np.linspace(0.0, 5.0, 200)[:, None])[:, 0]
    assert np.all(np.diff(between) >= 0.0)
    np.testing.assert_allclose(curve.at(grams[:, None])[:, 0], [0.0, 0.1, 5.0, 5.05], atol=1e-12)


def test_the_most_is_the_same_by_curves_and_by_solving_everything(soak: Case) -> None:
    dose, most = 12.0, 90.0
    pouring = pour_at_once(soak.possible, dose, "child")
    exact = most_to_pour(soak.possible, pouring, dose, most, "child", soak.accepted)
    assert most_to_pour(soak.basis.curves, pouring, dose, most, "child", soak.accepted) == exact
    assert dose < exact < most


@pytest.mark.slow
def test_an_answer_is_the_same_from_a_case_and_from_the_recipe() -> None:
    recipe = demo_recipe("1")
    asked = case(recipe)
    answer(asked, 31.0)
    plan, anew = answer(asked, Wish.written("5.9")), make_plan(replace(recipe), target="5.9")
    assert plan.dose_g == anew.dose_g
    assert plan.maximum_g == anew.maximum_g
    np.testing.assert_array_equal(plan.ribbon.ph_acid_side, anew.ribbon.ph_acid_side)
    assert answer(asked, 20.0).ph_acid_side == preview(replace(recipe), 20.0).ph_acid_side


def test_a_wished_ph_is_a_step_of_the_path(soak: Case) -> None:
    through = soak.asked(5.4321, None, None).path
    step = int(np.argmin(np.abs(through.ph - 5.4321)))
    assert through.ph[step] == 5.4321
    bath = soak.setting.bath.with_activator(through.grams[step], soak.setting.per_gram)
    assert float(bath.ph) == pytest.approx(5.4321, abs=1e-8)
    assert np.all(np.diff(through.ph) < 0)
    assert len(soak.path.ph) == len(through.ph) - 1 == len(through.colours.hex) - 1


def test_a_bath_is_solved_once() -> None:
    tubs = case(demo_recipe("1")).possible.judged(10.0)
    assert tubs.solve() is tubs.solve()
    assert tubs.at_rest() is tubs.at_rest()
    assert len(tubs.ph) == 512 + READ_ROWS
