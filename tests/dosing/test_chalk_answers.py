"""Chalk in the answers: both ends of the pH, the cloud, what is said; plan, programme and time."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dosing.bath.assembled import assemble
from dosing.bath.chalk import chalk_note, cloud_of, clouded, may_fall, settled_ph
from dosing.bath.inputs import ActivatorInputs, ColourInputs, RecipeInputs, TubInputs, WishInputs
from dosing.bath.mixed import Bath
from dosing.bath.possible_tubs import possible_tubs
from dosing.effects.answer import wished_end
from dosing.effects.designs import Design, Wishes
from dosing.effects.shelf import stocks
from dosing.equilibrium import solve
from dosing.ingredients.trade_values import typical
from dosing.ingredients.water import WaterReadings
from dosing.plan.answer import make_plan, preview
from dosing.plan.households import DOES_NOT_TURN, TURNS, six_homes, verdict
from dosing.plan.odds import variance_shares
from dosing.plan.pouring import pour_at_once
from dosing.plan.records import Plan, Wish
from dosing.plan.what_would_help import kept_by_chalk
from dosing.soak.steps import make_soak
from indicator.appearance import delta_e
from indicator.notes import sentence
from indicator.optics import cloud_names, jar_view, tub_view
from indicator.pigments import colourant

HARD = WaterReadings(alkalinity_meq_l=4.5, calcium_mmol_l=2.7, magnesium_mmol_l=0.0)
SOFT = WaterReadings(alkalinity_meq_l=0.5, hardness_mmol_l=0.1)
SODA_G = 16.0


def recipe(water: WaterReadings) -> RecipeInputs:
    """A soak of 120 L at 38 C with washing soda."""
    return RecipeInputs(
        title="soda soak",
        tub=TubInputs(volume_l=120.0, volume_measured=True, floor_area_cm2=4800.0),
        water=water,
        water_temperature_c=38.0,
        foam_bath=None,
        colours=(ColourInputs(colourant("butterfly-pea"), 2.0, 500.0, "mL", 0.5, preserved=True),),
        activator=ActivatorInputs({"sodium-carbonate": 1.0}),
        wish=WishInputs(bathers="adult"),
    )


@cache
def poured(grams: float = SODA_G, *, soft: bool = False) -> Plan:
    return preview(recipe(SOFT if soft else HARD), grams)


@pytest.mark.slow
def test_washing_soda_in_hard_water_has_two_ends() -> None:
    # 16 g in 120 L of 4.5 meq/L and 2.7 mmol/L calcium at 38 C; phreeqc.dat gives 8.99 without
    # solids and 7.19 with calcite (chemistry_phreeqc_soda.csv, tap of pH 7.6).
    plan = poured()
    after, airing = plan.chalk
    assert (after.moment, airing.moment) == ("after", "after-airing")
    assert plan.after.ph == pytest.approx(8.99, abs=0.1)
    assert after.ph == pytest.approx(7.19, abs=0.1)
    assert after.grams == pytest.approx(1.56e-3 * 120.0 * 100.09, rel=0.05)
    assert airing.ph < plan.after_airing.ph - 0.3


def test_cautions_look_at_both_ends() -> None:
    plan = poured()
    assert plan.ph_acid_side < 7.3
    assert plan.ph_alkaline_side > 8.9
    assert plan.ph_acid_side_airing < plan.chalk[1].ph
    (caution,) = [one for one in plan.cautions if one.code.startswith("ph-")]
    low, high = float(caution.values["low"]), float(caution.values["high"])
    assert low < 7.3
    assert high > 8.9


def test_milky_water_is_told_and_seen() -> None:
    plan = poured()
    (note,) = [one for one in plan.warnings if one.code == "warn.bath.chalk"]
    said = sentence(note)
    assert "milky" in said
    assert f"{plan.chalk[0].ph:.1f}" in said
    assert plan.chalk[0].cloud == "milky"
    # Lighter over the dark tub than clear water of the same pH would be.
    setting = assemble(recipe(HARD))
    clear = solve_at(setting.bath, plan.chalk[0].ph).seen(setting.view)
    assert float(plan.chalk[0].colour.lab[0]) > float(clear.lab[0]) + 2.0
    assert float(delta_e(plan.chalk[0].colour.lab, clear.lab)) > 2.0


def solve_at(bath: Bath, ph: float) -> Any:
    solution = solve(bath.totals, bath.temperature_c, ph=ph)
    return replace(bath.solve(), equilibrium=solution)


@pytest.mark.parametrize("soft_grams", [0.0, 1.0])
def test_soft_water_stays_as_it_was(soft_grams: float) -> None:
    plan = poured(soft_grams, soft=True)
    assert plan.chalk == ()
    assert not [one for one in plan.warnings if one.code == "warn.bath.chalk"]


def test_no_calcium_at_all_is_no_chalk() -> None:
    bath = Bath(
        {"Na": np.array(8e-3), "C": np.array(4e-3)},
        np.array(100.0),
        np.array(99.0),
        np.array(38.0),
        {},
    )
    assert not may_fall(bath.solve())
    assert settled_ph(bath.solve()) == bath.solve().ph


def test_very_hard_water_with_much_soda_and_one_tub_unknown() -> None:
    calcium = np.array([5e-3, 5e-3, np.nan, 1e-5])
    soda = np.array([0.0, 0.05, 0.01, 0.01])
    totals = {"Ca": calcium, "C": 8e-3 + soda, "Na": 2.0 * soda, "Cl": np.full(4, 2e-3)}
    ones = np.ones(4)
    bath = Bath(totals, 120.0 * ones, 119.0 * ones, 38.0 * ones, {})
    for air in (None, 420.0):
        solved = bath.solve(pco2_ppm=air)
        settled = settled_ph(solved, air)
        known = np.isfinite(calcium)
        assert np.all(np.isfinite(settled[known]))
        assert np.isnan(settled[2])
        assert np.all(settled[known] <= np.asarray(solved.ph)[known] + 1e-9)
        assert settled[1] < solved.ph[1] - 1e-3
        # Where calcite is not far above saturation nothing is taken out.
        below = known & ~may_fall(solved)
        np.testing.assert_array_equal(settled[below], np.asarray(solved.ph)[below])


def test_the_view_takes_the_thicker_cloud() -> None:
    hazy, milky = typical("chalk_hazy").value, typical("chalk_milky").value
    grams = (0.0, 0.99 * hazy, hazy, 0.99 * milky, milky)
    assert [cloud_of(one) for one in grams] == ["clear", "clear", "hazy", "hazy", "milky"]
    assert {cloud_of(one) for one in grams} <= set(cloud_names())
    clear, cloudy = tub_view(25.0), tub_view(25.0, cloud="milky")
    assert clouded(clear, milky) == cloudy
    assert clouded(clear, 0.0) == clear
    assert clouded(cloudy, hazy) == cloudy
    assert clouded(jar_view(), milky) == jar_view()


def test_a_trace_of_chalk_is_not_told() -> None:
    chalk = poured().chalk
    assert chalk_note([replace(one, cloud="clear") for one in chalk], (9.0,)) is None
    assert chalk_note((), (9.0,)) is None


@pytest.mark.slow
def test_a_programme_gives_both_ends_of_an_alkaline_step_and_of_the_way_back() -> None:
    acid = replace(recipe(HARD), activator=ActivatorInputs({"citric-acid-anhydrous": 1.0}))
    stages = make_soak(acid, ("6.4", "back")).steps
    (back,) = [one for one in stages if not one.onwards]
    (airing,) = [one for one in back.chalk if one.moment == "after-airing"]
    assert airing.ph < back.after_airing.ph - 0.2
    assert back.ph_acid_side <= airing.ph
    (soda,) = make_soak(recipe(HARD), ("8.8",)).steps
    assert soda.chalk[0].ph < 7.5
    assert soda.ph_acid_side < 7.4


@pytest.mark.slow
def test_the_end_of_time_is_a_range(told: Callable[..., str]) -> None:
    inputs = recipe(HARD)
    soak = make_soak(inputs, dose_g=SODA_G)
    (step,) = soak.steps
    assert step.chalk[-1].ph < step.after_airing.ph - 0.3
    assert step.later.low.ph <= step.chalk[-1].ph + 0.1
    assert f"(pH {step.later.low.ph:.1f} to {step.later.high.ph:.1f})" in told(soak)


def test_chalk_is_one_end_of_hours_later() -> None:
    plan = poured()
    assert plan.later.low.ph <= min(one.ph for one in plan.chalk) + 0.1
    assert plan.later.high.ph >= plan.after_airing.ph
    assert plan.ph_acid_side_airing <= plan.later.low.ph


def codes(plan: Plan) -> set[str]:
    return {one.code for one in plan.cautions}


@pytest.mark.slow
def test_milky_water_is_a_caution_to_mind() -> None:
    (chalk,) = [one for one in poured().cautions if one.code == "chalk"]
    assert (chalk.level, chalk.about) == ("mind", "pour")
    assert "milky" in chalk.message
    assert "chalk" not in codes(poured(1.0, soft=True))
    programme = make_soak(recipe(HARD), ("8.8",))
    assert "chalk" in {one.code for one in programme.cautions}


SCALING = replace(recipe(HARD), wish=WishInputs(target="8.8", bathers="adult"))


@pytest.mark.slow
def test_an_alkaline_wish_that_chalk_undoes_is_no_success() -> None:
    plan = make_plan(SCALING)
    assert plan.after.ph == pytest.approx(8.8, abs=0.02)
    assert plan.chalk[0].ph < 8.5
    assert not plan.reached
    assert not plan.wish_met
    assert "needed.chalk" in [one.code for one in plan.needed]
    assert plan.odds.reached_share < 0.2


@pytest.mark.slow
def test_nor_is_a_step_of_a_soak() -> None:
    (stage,) = make_soak(SCALING, ("8.8",)).steps
    assert not stage.reached
    assert [one.code for one in stage.needed] == ["needed.chalk"]


@pytest.mark.slow
def test_a_soft_tub_keeps_its_alkaline_wish() -> None:
    inputs = replace(recipe(SOFT), wish=WishInputs(target="8.6", bathers="adult"))
    plan = make_plan(inputs)
    assert "needed.chalk" not in [one.code for one in plan.needed]
    assert plan.wish_met


def test_each_kind_of_wish_is_asked_at_the_other_end() -> None:
    plan = poured()
    start, settled = plan.before.colour, plan.chalk[0]
    for text, kept in (
        (f"{settled.ph + 0.2:.2f}", True),
        (f"{settled.ph + 0.4:.2f}", False),
        (str(settled.colour.hex), True),
        ("#ff0000", False),
        ("red", False),
    ):
        found, notes = kept_by_chalk(Wish.written(text), plan.chalk, start)
        assert found == kept, text
        assert (not notes) == kept
    assert kept_by_chalk(Wish("dose", "16 g"), plan.chalk, start) == (True, ())


@pytest.mark.slow
def test_a_given_dose_is_judged_by_its_cautions_alone() -> None:
    assert preview(recipe(HARD), SODA_G).wish_met


def test_a_home_turns_only_where_its_chalk_lets_it() -> None:
    wish = Wish.written(str(poured().after.colour.word))
    own = six_homes(recipe(HARD), SODA_G, wish, "justify")[0]
    assert str(poured().chalk[0].colour.word) != wish.word
    assert verdict(own.after, own.change_delta_e, own.level, wish, "justify") == TURNS
    assert own.verdict == DOES_NOT_TURN


def test_a_design_is_judged_at_both_ends() -> None:
    inputs = replace(recipe(HARD), wish=WishInputs(target="8.8", bathers="adult"))
    setting, possible = assemble(inputs), possible_tubs(inputs)
    grams = float(setting.bath.grams_for_ph(8.8, setting.per_gram)[0])
    pouring = pour_at_once(possible, grams, "adult")
    after = setting.bath.with_activator(grams, setting.per_gram).solve().seen(setting.view)
    end = wished_end(str(after.word), "end")
    before = wished_end(str(setting.bath.solve().seen(setting.view).hex), "start")
    stock = stocks((colourant("butterfly-pea"),), inputs.colours)
    wishes = Wishes(before, end, stock, {})
    design = Design(wishes, inputs, setting, possible, pouring)
    assert str(design.after.colour.word) == end.word
    assert not design.end.met
    assert "chalk" in {one.code for one in design.cautions}
    assert "warn.bath.chalk" in {one.code for one in design.notes}
    assert design.ph_acid_side < 7.3


def test_the_gas_lost_spreads_the_dose_of_soda() -> None:
    shares = {one.reading: one.share for one in variance_shares(possible_tubs(recipe(HARD)), 8.6)}
    assert sum(shares.values()) == pytest.approx(1.0)
    assert 0.02 < shares["gas_lost"] < 0.2


@pytest.mark.slow
def test_json_holds_the_other_end(
    huedose_json: Callable[..., tuple[int, dict[str, Any]]], tmp_path: Path
) -> None:
    file = tmp_path / "soda.toml"
    file.write_text(
        """schema = 1
[tub]
volume = "120 L"
[water]
alkalinity = "4.5 meq/L"
calcium = "2.7 mmol/L"
temperature = "38 C"
[[colour]]
pigment = "butterfly-pea"
amount = "500 mL"
strength = "2 %"
[activator]
parts = { sodium-carbonate = 1 }
[wish]
bathers = "adult"
""",
        encoding="utf-8",
    )
    _, plan = huedose_json("plan", file, "--dose", "16 g")
    _, several = huedose_json("soak", file, "--steps", "8.8")
    _, once = huedose_json("soak", file, "--dose", "16 g", "--minutes", "10")
    for found in (plan["chalk"], several["steps"][0]["chalk"], once["steps"][0]["chalk"]):
        assert [one["moment"] for one in found] == ["after", "after-airing"]
        assert found[0]["ph"] < 7.5
        assert found[0]["cloud"] == "milky"
        assert {"hex", "word", "grams"} <= set(found[0])
    assert "warn.bath.chalk" in [one["code"] for one in plan["warnings"]]
