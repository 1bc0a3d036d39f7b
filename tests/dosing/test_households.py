"""Six homes, backwards amounts and next steps: each equals what the single plan says."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosing.bath.assembled import assemble
from dosing.bath.inputs import FoamBathInputs
from dosing.bath.possible_tubs import possible_tubs
from dosing.pictures.tubs import draw_homes
from dosing.plan.answer import make_plan, preview
from dosing.plan.brewing import bottle_fill, bottle_looks, infusion_share, tint_amounts
from dosing.plan.case import case
from dosing.plan.households import TOO_SOUR, home_inputs, six_homes
from dosing.plan.next_reading import next_steps
from dosing.plan.records import Wish
from dosing.recipe import demo_names, demo_recipe
from dosing.words.filters import two_figures
from indicator.words import visibility_level

Run = Callable[..., tuple[int, str, str]]
SOAK = demo_recipe(demo_names()[0])


@pytest.mark.slow
@pytest.mark.parametrize("demo", demo_names())
def test_each_home_is_a_single_plan_at_the_same_dose(demo: str) -> None:
    inputs = demo_recipe(demo)
    plan = make_plan(inputs)
    homes = six_homes(inputs, plan.dose_g.best, plan.wish, "mind")
    assert len(homes) == 6
    assert homes[0].name == "own"
    assert homes[0].volume_l == pytest.approx(plan.volume_l)
    assert homes[0].after.ph == pytest.approx(preview(inputs, plan.dose_g.best).after.ph)
    for home in (homes[0], homes[2], homes[4]):
        single = preview(home_inputs(home.name, inputs), plan.dose_g.best)
        assert home.volume_l == pytest.approx(single.volume_l)
        assert home.before.ph == pytest.approx(single.before.ph)
        assert home.after.ph == pytest.approx(single.after.ph)
        assert home.after.colour.hex == single.after.colour.hex
        assert home.change_delta_e == pytest.approx(single.change_delta_e)


@pytest.mark.slow
def test_harder_water_and_more_of_it_turn_less() -> None:
    homes = six_homes(SOAK, 12.0, make_plan(SOAK).wish, "mind")
    ph = {home.name: home.after.ph for home in homes}
    assert ph["soft-small"] < ph["medium-small"] < ph["hard-large"] < ph["hardest-large"]
    assert ph["soft-small"] < ph["soft-large"] < ph["hard-large"]


def test_the_homes_reach_from_soft_water_to_three_hundred_ppm() -> None:
    # Large towns of England and Wales: calcium of 6 to 122 mg/L in nine of ten (Hand et al. 1994,
    # as in data/trade/populations.csv), 15 to 305 as calcium carbonate. Denmark: bicarbonate of 287
    # mg/L on average (BMJ Open 2014, PMC4420976), 235 as calcium carbonate: hard is more than that.
    homes = six_homes(SOAK, 12.0, Wish("none", ""), "mind")
    assert homes[0].name == "own"
    ppm = {home.name: 50.04 * home.alkalinity_meq_l for home in homes}
    assert min(ppm.values()) <= 30.0
    assert all(245.0 <= ppm[name] <= 305.0 for name in ("hard-large", "hardest-large"))
    assert ppm["hardest-large"] == pytest.approx(300.0, abs=1.0)


def test_a_gift_is_judged_in_water_where_its_maker_never_was() -> None:
    # Between 4.0 and 4.5 a grown-up needs a written reason, and nobody else has read the maker's.
    gift = demo_recipe("5")
    gift = replace(gift, wish=replace(gift.wish, purpose="gift"))
    soft = assemble(home_inputs("soft-small", gift))
    assert 4.0 < float(soft.bath.with_activator(8.0, soft.per_gram).ph) < 4.5
    given = preview(gift, 8.0)
    assert [c.level for c in given.cautions if c.code == "homes-too-sour"] == ["stop"]
    assert (given.verdicts.pour.allowed, given.verdicts.give.allowed) == (True, False)
    assert not given.reached
    assert preview(demo_recipe("5"), 8.0).reached


@pytest.mark.slow
def test_a_gift_that_is_too_sour_somewhere_is_no_success(huedose: Run, tmp_path: Path) -> None:
    path = tmp_path / "gift.toml"
    own = Path(__file__).resolve().parents[2] / "data" / "demo" / "1_evening_soak.toml"
    text = own.read_text(encoding="utf-8").replace("[activator]", "preserved = true\n[activator]")
    path.write_text(text + 'purpose = "gift"\n', encoding="utf-8")
    code, out, _ = huedose("plan", path, "--json")
    alone = json.loads(out)
    # The maker's own tub is fine; what is given away is judged in the other homes as well.
    assert (code, alone["verdicts"]) == (
        3,
        {
            **{"pour": "mind", "give": "stop", "sell": "stop"},
            "allowed": {"pour": True, "give": False, "sell": False},
        },
    )
    code, out, err = huedose("plan", path, "--homes", "--json")
    document = json.loads(out)
    assert (code, err) == (3, "")
    assert TOO_SOUR in {home["verdict"] for home in document["homes"]}
    assert {"name", "water", "volume_l", "before", "after", "ph", "verdict"} <= set(
        document["homes"][0]
    )
    code, out, _ = huedose("plan", path, "--homes", COLUMNS="60", encoding="cp1252")
    assert code == 3
    assert "Give or sell it: no, too sour in" in out
    # A path is not broken.
    assert max(len(line) for line in out.splitlines() if str(path) not in line) <= 60


@pytest.mark.slow
def test_the_picture_of_homes_says_what_is_not_for_bathing() -> None:
    plan = make_plan(demo_recipe("4"))
    homes = six_homes(demo_recipe("4"), plan.dose_g.best, plan.wish, "mind")
    figure = draw_homes(plan, homes)
    figure.canvas.draw()
    text = " ".join(" ".join(one.get_text() for one in figure.axes[0].texts).split())
    for part in ("not for bathing", "your water", "soft water", "hardest water"):
        assert part in text
    for one in figure.axes[0].texts:
        box = one.get_window_extent()
        assert figure.bbox.x0 <= box.x0
        assert box.x1 <= figure.bbox.x1


@pytest.mark.slow
@settings(max_examples=15)
@given(volume_l=st.floats(30.0, 300.0), content=st.floats(0.05, 5.0))
def test_the_amount_for_a_tint_gives_that_tint(volume_l: float, content: float) -> None:
    colour = replace(SOAK.colours[0], content=content)
    tub = replace(SOAK.tub, volume_l=volume_l, floor_area_cm2=None)
    inputs = replace(SOAK, tub=tub, colours=(colour,), foam_bath=None)
    setting = assemble(inputs)
    for one in tint_amounts(inputs, setting, possible_tubs(inputs)):
        dosed = replace(inputs, colours=(replace(colour, content=content * one.factor),))
        tinted = assemble(dosed)
        seen = tinted.bath.solve().seen(tinted.view)
        # The colour's own water moves the volume a little; the depth is a thousandth off at most.
        assert float(seen.visibility_delta_e) == pytest.approx(one.visibility_delta_e, rel=0.02)


def test_amounts_grow_with_the_tint_and_are_worth_their_name() -> None:
    amounts = tint_amounts(SOAK, assemble(SOAK), possible_tubs(SOAK))
    millilitres = [one.infusion_ml for one in amounts]
    assert millilitres == sorted(millilitres)
    assert str(visibility_level(amounts[0].visibility_delta_e)) == "visible"
    # 2 % is 20 g of petals to the litre.
    assert amounts[1].petals_g == pytest.approx(amounts[1].infusion_ml * 0.02)
    # A first estimate put a clear tint of 120 L at 180 to 250 mL of 2 %.
    assert 100 <= amounts[1].infusion_ml <= 300


def test_a_small_bottle_for_many_baths_cannot_be_brewed_and_looks_black() -> None:
    amounts = tint_amounts(SOAK, assemble(SOAK), possible_tubs(SOAK))
    looks = bottle_looks(SOAK, amounts, 100.0, 4)
    assert [look.brewable for look in looks] == [True, False, False]
    assert looks[-1].black
    assert not bottle_looks(SOAK, amounts[:1], 5000.0, 1)[0].black


def test_without_a_colour_the_usual_pigment_is_counted() -> None:
    bare = replace(SOAK, colours=())
    amounts = tint_amounts(bare, assemble(bare), possible_tubs(bare))
    coloured = tint_amounts(SOAK, assemble(SOAK), possible_tubs(SOAK))
    for one, other in zip(amounts, coloured, strict=True):
        # The same tub: 350 mL more or less of water in 120 L.
        assert one.petals_g == pytest.approx(other.petals_g, rel=0.02)


def test_next_steps_narrow_and_the_best_comes_first() -> None:
    by_eye = replace(SOAK, water=replace(SOAK.water, instrument="strip"))
    by_eye = replace(by_eye, tub=replace(SOAK.tub, volume_measured=False))
    plan = make_plan(by_eye)
    steps = next_steps(
        by_eye, case(by_eye).basis.surer, plan.after.ph, plan.dose_g.low, plan.dose_g.high
    )
    assert [step.code for step in steps][:1] == ["jar-test"]
    narrows = [step.narrows for step in steps]
    assert narrows == sorted(narrows, reverse=True)
    for step in steps:
        assert plan.dose_g.low - 1e-9 <= step.low_g <= step.high_g <= plan.dose_g.high + 1e-9


def test_two_figures_are_two_figures() -> None:
    cases = {187.0: "190", 3.74: "3.7", 0.0412: "0.041", 10.4: "10", 99.6: "100", 1234.0: "1200"}
    assert {value: two_figures(value) for value in cases} == cases
    assert math.isclose(float(two_figures(340.0)), 340.0)


def test_a_dose_with_little_infusion_in_it_colours_a_tub_far_less() -> None:
    # 60 mL of which 45 % is infusion of 2 % brings 27 mL of it: by hand, as petals per bath.
    in_foam = replace(
        SOAK,
        foam_bath=FoamBathInputs(60.0),
        colours=(replace(SOAK.colours[0], amount=27.0, held_in="foam bath", volume_l=0.0),),
    )
    setting = assemble(in_foam)
    assert infusion_share(in_foam) == pytest.approx(0.45)
    assert infusion_share(SOAK) == 1.0
    amounts = tint_amounts(in_foam, setting, possible_tubs(in_foam))
    percent = amounts[0].infusion_percent
    mixed, all_of_it = (
        bottle_fill(one, assemble(one), 60.0, percent)
        for one in (in_foam, replace(in_foam, foam_bath=FoamBathInputs(27.0)))
    )
    assert mixed.infusion_share * mixed.dose_ml == pytest.approx(27.0)
    assert mixed.visibility_delta_e < 0.7 * all_of_it.visibility_delta_e
    for amount, look in zip(amounts, bottle_looks(in_foam, amounts, 60.0, 1), strict=True):
        assert look.fits == (amount.infusion_ml <= 27.0)
        assert look.percent == pytest.approx(amount.petals_g / 27.0 * 100.0)


@pytest.mark.slow
def test_brew_on_the_command_line(huedose: Run) -> None:
    code, out, err = huedose("brew", "--bottle", "100 mL", "--baths", "4", "--json")
    document = json.loads(out)
    assert (code, err) == (0, "")
    assert [one["tint"] for one in document["amounts"]] == ["just-visible", "clear", "showy"]
    assert [one["fits"] for one in document["bottles"]] == [True, False, False]
    assert document["fill"]["infusion_share"] == 1.0
    _, out, _ = huedose("brew", "--bottle", "100 mL", "--baths", "4")
    assert len(out.splitlines()) <= 20
    assert "more than can be brewed" in " ".join(out.split())
