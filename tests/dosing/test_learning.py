"""Logged pours that teach the next plan, in worlds whose truth is PHREEQC's."""

from __future__ import annotations

import csv
import importlib.util
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import multivariate_normal

from dosing.bath.assembled import Truth, assemble
from dosing.bath.possible_tubs import possible_tubs
from dosing.page.card import dose_card
from dosing.plan.answer import make_plan, preview
from dosing.plan.records import Plan
from dosing.recipe import demo_tables, recipe_from
from dosing.recipe.quantities import InputError
from dosing.sachets.answer import sachet_answer
from dosing.sachets.populations import draw_homes
from dosing.workshop import assess, demo_product, learning
from dosing.workshop.learning import HomeLearnt, learn, together, write_water
from dosing.workshop.records import LoggedPour
from indicator.pigments import own_pigments

Array = NDArray[np.float64]
REFERENCE = Path(__file__).resolve().parents[1] / "reference"
TODAY = date(2026, 11, 30)
ADULT, CHILD = ({"target": "6", "bathers": who} for who in ("adult", "child"))
TRUE = Truth(alkalinity_meq_l=2.6, volume=1.08)


def tables(wish: dict[str, str] = ADULT, **more: Any) -> dict[str, Any]:
    soak = demo_tables(1)
    water = {"alkalinity": "95 ppm", "instrument": "strip"}
    return {**soak, "tub": {"volume": "120 L"}, "water": water, "wish": wish, **more}


def pours(
    days: Sequence[int],
    truth: Truth = TRUE,
    *,
    metered: bool = True,
    coloured: bool = False,
    today: date = TODAY,
) -> list[LoggedPour]:
    """Pours in a tub whose truth is known, read by a meter, an eye, or both."""
    recipe = tables()
    tub = assemble(recipe_from(recipe), truth)
    random, poured = np.random.default_rng(4), []
    for k, days_ago in enumerate(days):
        grams = 9.0 + k % 4
        bath = tub.bath.with_activator(grams, tub.per_gram)
        seen = str(bath.solve().seen(tub.view).hex)
        ph = float(bath.ph) + float(random.normal(0.0, 0.05))
        read: dict[str, Any] = {"ph": ph, "ph_read_with": "meter"} if metered else {}
        if coloured:
            read["colour_hex"] = seen
        on = today - timedelta(days=days_ago)
        poured.append(LoggedPour(on, "guesthouse", recipe, grams, **read))
    return poured


@cache
def taught() -> HomeLearnt:
    return learn(pours((20, 15, 10, 5)), TODAY)


def plan_of(folder: Path, wish: dict[str, str], **more: Any) -> Plan:
    own = tables(wish, water={"like": "guesthouse"}, **more)
    return make_plan(recipe_from(own, "soak", own_pigments(folder)))


def told(plan: Plan) -> list[str]:
    return [note.code.rpartition("-")[2] for note in plan.assumptions if "learnt-" in note.code]


@pytest.fixture
def recent(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pours of these tests are a few days old, whatever day it is."""

    class Day(date):
        @classmethod
        def today(cls) -> Day:
            return cls(TODAY.year, TODAY.month, TODAY.day)

    monkeypatch.setattr("dosing.recipe.core.date", Day)


def test_pours_that_share_an_error_weigh_as_the_multivariate_normal_says() -> None:
    random = np.random.default_rng(2)
    off, own = random.normal(0, 1, (3, 5)), random.uniform(0.5, 2.0, (3, 5))
    shared, nothing = 0.7, np.full((5, 3), np.inf)
    agreed = [
        learning._Agreement(
            np.column_stack([off[k], np.zeros((5, 3))]),
            np.column_stack([own[k], nothing]),
            np.array([shared, 0, 0, 0]),
            np.zeros(5),
        )
        for k in range(3)
    ]
    likelihood, scatter, _ = together(agreed)
    expected = [
        multivariate_normal(np.zeros(3), np.diag(own[:, tub]) + shared).logpdf(off[:, tub])
        for tub in range(5)
    ]
    constant = 1.5 * np.log(2 * np.pi)
    assert scatter < 1
    np.testing.assert_allclose(likelihood, np.array(expected) + constant, rtol=1e-9)


@pytest.mark.slow
def test_metered_pours_find_the_water_and_narrow_the_dose() -> None:
    home, inputs = taught(), recipe_from(tables())
    level = home.alkalinity
    assert level.low < 2.6 < level.high
    assert level.high - level.low < 0.75 * (level.prior_high - level.prior_low)
    tub = assemble(inputs, TRUE)
    true_g = float(tub.bath.grams_for_ph(6.0, tub.per_gram)[0])
    before, after = (
        np.quantile(possible_tubs(which).grams_for_ph(6.0), (0.05, 0.95))
        for which in (inputs, replace(inputs, learnt=home.learnt))
    )
    assert after[0] < true_g < after[1]
    assert after[1] - after[0] < 0.7 * (before[1] - before[0])
    # The aim of a plan moves with what was learnt.
    assert before[0] < true_g
    assert make_plan(replace(inputs, learnt=home.learnt)).dose_g.best == pytest.approx(
        true_g, rel=0.1
    )


def test_raising_takes_three_metered_days() -> None:
    assert taught().raises_maximum
    assert not learn(pours((9, 9, 5)), TODAY).raises_maximum
    by_eye = learn(pours((9, 7, 5, 3), metered=False, coloured=True), TODAY)
    assert by_eye.metered_days == 0
    assert not by_eye.raises_maximum


@pytest.mark.slow
@pytest.mark.usefixtures("recent")
def test_a_learnt_water_is_found_by_its_name_and_says_so(tmp_path: Path) -> None:
    write_water(taught(), "guesthouse", tmp_path)
    without, plan = make_plan(recipe_from(tables())), plan_of(tmp_path, ADULT)
    assert told(plan) == ["used"]
    assert plan.maximum_g > without.maximum_g
    (note,) = (note for note in plan.assumptions if "learnt-" in note.code)
    assert note.values == {"place": "guesthouse", "date": "2026-11-25", "pours": 4}
    # It holds for that tub; a reading taken since goes first.
    other = plan_of(tmp_path, ADULT, tub={"volume": "150 L"})
    assert told(other) == ["tub"]
    fresh = tables(water={"like": "Guesthouse", "alkalinity": "100 ppm"})
    inputs = recipe_from(fresh, "soak", own_pigments(tmp_path))
    assert inputs.learnt is None
    assert inputs.water.alkalinity_meq_l == pytest.approx(100 / 50.04, rel=1e-3)
    file = tmp_path / "waters" / "guesthouse.toml"
    # A maximum rises by days with a meter, not by a word that somebody writes into the file.
    days = [
        ("pours = 4", "pours = 3"),
        ("2026-11-25", "2026-11-17"),
        ("pours", "raises = true\npours"),
    ]
    form = [("scores = [", "scores = [2.0, "), ("volume = ", "litres = "), ("[water]", "")]
    for spoilt in form + days:
        file.write_text(file.read_text("utf-8").replace(*spoilt), "utf-8")
        with pytest.raises(InputError, match="no water that the book wrote"):
            plan_of(tmp_path, ADULT)
        write_water(taught(), "guesthouse", tmp_path)
    with pytest.raises(InputError, match=r"softened, guesthouse \(did you mean 'guesthouse'\?\)"):
        recipe_from(tables(water={"like": "guesthous"}), "soak", own_pigments(tmp_path))


@pytest.mark.slow
@pytest.mark.usefixtures("recent")
def test_neither_a_child_nor_a_gift_nor_colours_get_a_higher_maximum(tmp_path: Path) -> None:
    write_water(taught(), "guesthouse", tmp_path)
    for wish in (CHILD, {**ADULT, "purpose": "gift"}):
        without, plan = make_plan(recipe_from(tables(wish))), plan_of(tmp_path, wish)
        assert told(plan) == ["held"]
        assert plan.maximum_g <= without.maximum_g
    by_eye = replace(taught(), learnt=replace(taught().learnt, metered=()))
    write_water(by_eye, "guesthouse", tmp_path)
    plan = plan_of(tmp_path, ADULT)
    assert told(plan) == ["held"]
    assert plan.maximum_g == make_plan(recipe_from(tables())).maximum_g


@pytest.mark.slow
@pytest.mark.usefixtures("recent")
def test_a_softer_water_than_read_lowers_the_dose_for_everybody(tmp_path: Path) -> None:
    soft = Truth(alkalinity_meq_l=1.2)
    home = learn(pours((20, 15, 10, 5), soft, metered=False, coloured=True), TODAY)
    assert not home.contradicts
    # By a meter the water is clearly softer; colours alone would do as well if they tell it.
    metered = learn(pours((20, 15), soft), TODAY)
    assert not metered.raises_maximum
    write_water(metered, "guesthouse", tmp_path)
    for wish in (ADULT, CHILD):
        without, plan = make_plan(recipe_from(tables(wish))), plan_of(tmp_path, wish)
        assert told(plan) == ["lower"]
        assert plan.maximum_g < without.maximum_g
        assert plan.dose_g.best < without.dose_g.best
    inputs = recipe_from(tables(water={"like": "guesthouse"}), "soak", own_pigments(tmp_path))
    heavy = preview(inputs, 25.0)
    assert heavy.verdicts.pour.level == preview(recipe_from(tables()), 25.0).verdicts.pour.level


@pytest.mark.usefixtures("recent")
def test_cards_and_sachets_refuse_a_learnt_water(tmp_path: Path) -> None:
    write_water(taught(), "guesthouse", tmp_path)
    own = tables(water={"like": "guesthouse"})
    inputs = recipe_from(own, "soak", own_pigments(tmp_path))
    with pytest.raises(ValueError, match="cards, sachets and products go to other homes"):
        dose_card(inputs)
    with pytest.raises(ValueError, match="cards, sachets and products go to other homes"):
        sachet_answer(inputs, draw_homes("denmark", 50))
    product = replace(demo_product("soak"), recipe=inputs)
    with pytest.raises(ValueError, match="cards, sachets and products go to other homes"):
        assess(product)
    assert assess(replace(product, purpose="own")).dose_ml > 0


@pytest.mark.slow
def test_a_learnt_water_is_asked_about_again_after_three_months(tmp_path: Path) -> None:
    long_ago = date(2020, 6, 1)
    home = learn(pours((20, 15, 10), today=long_ago), long_ago)
    write_water(home, "guesthouse", tmp_path)
    plan = plan_of(tmp_path, ADULT)
    assert told(plan) == ["old"]
    assert plan.maximum_g == make_plan(recipe_from(tables())).maximum_g
    with pytest.raises(ValueError, match="No pour of the last 92 days"):
        learn(pours((200, 150)), TODAY)


def test_pours_that_contradict_the_reading_or_each_other_are_not_saved(tmp_path: Path) -> None:
    far = learn(pours((9, 7, 5), Truth(alkalinity_meq_l=8.0)), TODAY)
    assert far.contradicts
    assert far.check[0].code == "learning.check-alkalinity"
    with pytest.raises(ValueError, match="contradict"):
        write_water(far, "guesthouse", tmp_path)
    sound = pours((9, 7, 5, 4))
    odd = learn([*sound[:3], replace(sound[3], ph=8.4)], TODAY)
    assert odd.contradicts
    assert odd.check[0].values["date"] == "2026-11-26"
    # One pour, or several that are all alike, has none that stands out among them.
    for count in (1, 3):
        alike = learn([replace(each, grams=20.0, ph=9.5) for each in sound[:count]], TODAY)
        assert alike.contradicts
        assert alike.check[0].code == "learning.check-alkalinity"
    with pytest.raises(ValueError, match="several homes"):
        learn([sound[0], replace(sound[1], home="annexe")], TODAY)
    with pytest.raises(ValueError, match="small letters"):
        write_water(taught(), "hard", tmp_path)


@pytest.mark.slow
def test_the_learnt_water_keeps_the_spread_from_day_to_day() -> None:
    many = learn(pours(tuple(range(40, 0, -1))), TODAY)
    inputs = replace(recipe_from(tables()), learnt=many.learnt)
    grams = possible_tubs(inputs).grams_for_ph(6.0)
    assert np.std(grams) / np.mean(grams) > 0.05


@cache
def rows() -> list[dict[str, str]]:
    lines = (REFERENCE / "learning_phreeqc.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def ends(found: Sequence[dict[str, str]], name: str) -> tuple[Array, NDArray[np.bool_]]:
    """Width of an interval per litre [g/L], and whether it holds the truth."""
    low, high, true, litres = (
        np.array([float(row[key]) for row in found])
        for key in (f"{name}_low_g", f"{name}_high_g", "true_g", "volume_l")
    )
    return (high - low) / litres, (low <= true) & (true <= high)


def test_ten_metered_pours_halve_the_dose_range_of_a_strip_and_cover_the_truth() -> None:
    metered = [row for row in rows() if row["kind"] == "meter"]
    assert len(metered) >= 200
    before, _ = ends(metered, "strip")
    after, holds = ends(metered, "learnt")
    assert np.mean(after) <= 0.5 * np.mean(before)
    assert 0.85 <= np.mean(holds) <= 0.95


@pytest.mark.slow
def test_a_sample_of_the_makers_learns_live_as_the_file_says() -> None:
    spec = importlib.util.spec_from_file_location("makers", REFERENCE / "makers.py")
    assert spec is not None
    assert spec.loader is not None
    makers = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(makers)
    for row in rows()[:24]:
        found = makers.learnt(row)
        assert found["contradicts"] == (row["contradicts"] == "yes")
        assert found["learnt_low_g"] == pytest.approx(float(row["learnt_low_g"]), rel=0.01)
        assert found["learnt_high_g"] == pytest.approx(float(row["learnt_high_g"]), rel=0.01)


@pytest.mark.slow
def test_twice_the_tubs_learn_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    few, inputs = taught(), recipe_from(tables())
    monkeypatch.setattr(learning, "TUBS", 2 * learning.TUBS)
    many = learn(pours((20, 15, 10, 5)), TODAY)
    low, high = (
        np.quantile(
            possible_tubs(replace(inputs, learnt=each.learnt)).grams_for_ph(6.0), (0.05, 0.95)
        )
        for each in (few, many)
    )
    np.testing.assert_allclose(low, high, rtol=0.02)
