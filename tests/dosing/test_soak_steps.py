"""Several pours: masses of single plans, the way back, gas by stoichiometry, every step judged."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.open_tub import gas_litres
from dosing.bath.possible_tubs import possible_tubs, sides
from dosing.equilibrium import strong_charge
from dosing.ingredients.powders import per_gram
from dosing.plan.answer import make_plan
from dosing.plan.cautions import exit_code
from dosing.plan.levels import LEVELS, gate_level
from dosing.plan.pouring import pour_at_once
from dosing.recipe import demo_names, demo_recipe
from dosing.soak.amounts import with_printed
from dosing.soak.records import Soak, Step
from dosing.soak.steps import MOST_STEPS, make_soak, parse_steps
from indicator.appearance import delta_e


def demo(name: str = "") -> RecipeInputs:
    return demo_recipe(name or demo_names()[0])


def for_adults(inputs: RecipeInputs) -> RecipeInputs:
    return replace(inputs, wish=replace(inputs.wish, bathers="adult", child_age_years=None))


@pytest.mark.slow
@pytest.mark.parametrize("target", ["6.3", "5.7"])
def test_a_single_step_is_the_single_plan(made: Callable[..., Soak], target: str) -> None:
    (stage,) = made(target).steps
    plan = make_plan(demo(), target=target)
    assert stage.grams == pytest.approx(plan.dose_g.best, rel=1e-9)
    assert stage.after.ph == pytest.approx(plan.after.ph, abs=1e-9)
    assert str(stage.after.colour.hex) == str(plan.after.colour.hex)
    assert stage.after_airing.ph == pytest.approx(plan.after_airing.ph, abs=1e-9)
    assert stage.spoons.teaspoons == pytest.approx(plan.spoons.teaspoons, rel=1e-9)
    assert stage.reached == plan.reached


@pytest.mark.slow
@pytest.mark.parametrize(("word", "name"), [("blue", "4"), ("purple", "4"), ("green", "3")])
def test_a_single_word_is_the_single_plan(made: Callable[..., Soak], word: str, name: str) -> None:
    (stage,) = made(word, name).steps
    plan = make_plan(demo(name), target=word)
    assert stage.grams == pytest.approx(plan.dose_g.best, rel=1e-9, abs=1e-9)
    assert stage.wish_met == plan.wish_met


@pytest.mark.slow
def test_steps_of_one_direction_add_up_to_single_plans(made: Callable[..., Soak]) -> None:
    programme = made("6.6, 6.2, 5.8")
    for stage in programme.steps:
        plan = make_plan(demo(), target=stage.wish)
        assert stage.total_g == pytest.approx(plan.dose_g.best, rel=1e-6)
    grams = [one.grams for one in programme.steps]
    assert np.sum(grams) == pytest.approx(programme.steps[-1].total_g, rel=1e-12)
    assert programme.reached
    assert exit_code(programme.cautions) == 0


@pytest.mark.slow
def test_words_along_one_path_add_up_as_well(made: Callable[..., Soak]) -> None:
    # Blue comes before purple on the way to acid (a basin that nobody bathes in).
    blue, purple = made("blue, purple", "4").steps
    assert (str(blue.after.colour.word), str(purple.after.colour.word)) == ("blue", "purple")
    single = make_plan(demo("4"), target="purple").dose_g.best
    assert blue.grams + purple.grams == pytest.approx(single, rel=1e-9)


@pytest.mark.slow
def test_cautions_look_at_every_possible_tub_with_all_that_was_poured(
    made: Callable[..., Soak],
) -> None:
    inputs = for_adults(demo())
    programme = made("6, 5.4, 6.2", bathers="adult")
    possible = possible_tubs(inputs)
    acid = soda = 0.0
    for stage in programme.steps:
        acid, soda = (stage.total_g, soda) if stage.onwards else (acid, stage.total_g)
        tipped = possible.tipped_g(acid)
        bath = possible.setting.bath.with_activator(tipped, possible.setting.per_gram)
        bath = bath.with_activator(possible.tipped_g(soda), per_gram("sodium-bicarbonate"))
        closed, aired = (sides(np.asarray(one.ph)) for one in (bath.solve(), bath.at_rest()))
        # The tub as read counts too, in the emptiest air that a bathroom may have.
        read = assemble(inputs).bath.with_activator(acid, possible.read.per_gram)
        read = read.with_activator(soda, per_gram("sodium-bicarbonate"))
        own = [float(read.solve().ph), float(read.solve(pco2_ppm=600.0).ph)]
        ends = [*(float(v) for v in (*closed, *aired)), *own]
        assert stage.ph_acid_side == pytest.approx(min(ends), abs=1e-6)
        assert stage.ph_alkaline_side == pytest.approx(max(ends), abs=1e-6)
        assert stage.level == LEVELS[int(gate_level(np.array(ends), "adult").max())]


@pytest.mark.slow
def test_the_way_back_shows_the_first_colour_once_the_gas_has_left(
    made: Callable[..., Soak],
) -> None:
    programme = made("5.7, back")
    back = programme.steps[-1]
    assert [name for name, _ in back.powder] == ["sodium-bicarbonate"]
    assert not back.onwards
    bath = assemble(demo()).bath
    whole = bath.with_activator(programme.steps[0].grams, per_gram("citric-acid-anhydrous"))
    whole = whole.with_activator(back.grams, per_gram("sodium-bicarbonate"))
    view = assemble(demo()).view
    later = whole.at_rest().seen(view)
    assert float(delta_e(programme.before.colour.lab, later.lab)) <= 5.0
    assert back.after_airing.ph == pytest.approx(float(whole.at_rest().ph), abs=1e-9)
    assert back.reached
    # Worked by hand: what the acid took of the alkalinity, to pH 7, is 1 mol of soda a mole.
    plan = make_plan(demo(), target="5.7")
    reserve_mol = plan.acid_reserve_meq_l * plan.volume_l / 1000.0
    assert back.grams == pytest.approx(84.007 * reserve_mol, rel=0.02)


@pytest.mark.slow
def test_soda_gives_the_alkalinity_back(made: Callable[..., Soak]) -> None:
    # Alkalinity to pH 4.5 by charges (Stumm and Morgan 1996): citric acid that lost two protons
    # at pH 4.5 counts -2, sodium +1; soda adds a mole of it a mole.
    programme = made("5.7, back")
    bath = assemble(demo()).bath
    acid, soda = programme.steps
    with_acid = bath.with_activator(acid.grams, per_gram("citric-acid-anhydrous"))
    with_soda = with_acid.with_activator(soda.grams, per_gram("sodium-bicarbonate"))
    gained = float(strong_charge(with_soda.totals)) - float(strong_charge(with_acid.totals))
    moles = soda.grams / 84.007
    assert gained * float(bath.water_kg) == pytest.approx(moles, rel=1e-3)


@pytest.mark.slow
def test_gas_is_that_of_the_bicarbonate(made: Callable[..., Soak]) -> None:
    # A bath far below the pK of carbonic acid keeps none: all its carbon can leave. 95 ppm as
    # CaCO3 is 1.9 mmol/L; 120 L hold 0.228 mol: 5.8 L at 38 °C (ideal gas), of which the tap
    # water would have given off a little by itself.
    nobody = replace(demo(), wish=replace(demo().wish, bathers="nobody", child_age_years=None))
    (stage,) = make_soak(nobody, ["4.6"]).steps
    by_hand = 95.0 / 100.0869 * 2.0 * 1e-3 * 120.0 * 0.0820574 * 311.15
    assert 0.92 * by_hand < stage.co2_litres < by_hand
    assert float(gas_litres(1.0, 38.0)) == pytest.approx(0.0820574 * 311.15, rel=1e-4)


@pytest.mark.slow
def test_soda_into_acid_frees_its_own_gas(made: Callable[..., Soak]) -> None:
    # 0.29 L a gram of baking soda at 25 °C (stoichiometry), 0.304 L at 38 °C, for what the acid
    # takes up; the tub keeps the rest as bicarbonate.
    blue, sour, back = made("blue, 2.2, back", "4").steps
    assert back.grams > 50.0
    most = back.grams / 84.007 * 0.0820574 * 293.15
    # More than water holds under one atmosphere (some 0.9 L a litre at 20 °C) foams at once.
    assert back.fizzes
    assert not blue.fizzes
    assert 0.8 * most < back.co2_litres + blue.co2_litres + sour.co2_litres < 1.05 * most


def test_gas_of_all_steps_is_told_and_both_powders_are_cautioned(
    made: Callable[..., Soak],
) -> None:
    programme = made("5.7, back")
    assert programme.co2_litres == pytest.approx(sum(one.co2_litres for one in programme.steps))
    (both,) = [one for one in programme.cautions if one.code == "programme-both"]
    assert "closed" in both.message
    assert not any(one.code == "programme-both" for one in made("5.7").cautions)


def test_a_step_that_shows_already_pours_nothing(made: Callable[..., Soak]) -> None:
    first, second = made("teal, 5.8").steps
    assert first.grams == 0.0
    assert first.reached
    assert second.grams > 0.0


def beside(pouring: str, bathers: str = "child") -> RecipeInputs:
    inputs = demo() if bathers == "child" else for_adults(demo())
    activator = replace(inputs.activator, pouring=pouring, poured="beside")
    return replace(inputs, activator=activator)


@pytest.mark.slow
def test_a_forbidden_programme_says_nothing_about_how_to_pour(told: Callable[..., str]) -> None:
    programme = make_soak(beside("dry"), ["6.3", "back"])
    assert programme.forbidden
    assert not programme.reached
    assert not any(one.reached for one in programme.steps)
    text = told(programme)
    lines = text.split("\n")
    assert lines[1].startswith("Pour it: no.")
    assert lines[2].startswith("Do not pour it: nobody should get in.")
    assert "Never tip dry powder into a tub with a child in it" in lines[3]
    for words in ("dissolve it,", "POUR", "open a window", "teaspoon", "Nobody gets in for"):
        assert words not in text
    assert "would do it" in text


@pytest.mark.slow
def test_a_written_reason_lifts_the_ban_on_pouring(told: Callable[..., str]) -> None:
    without = make_soak(beside("dry", "adult"), ["6.3"])
    asked = make_soak(beside("dry", "adult"), ["6.3"], accept_pouring="a sealed grate")
    assert (without.forbidden, asked.forbidden) == (True, False)
    assert asked.reached
    assert "dissolve it in" in told(asked)


@pytest.mark.slow
@pytest.mark.parametrize("steps", ["6.6, 6.1, 5.8, back", "6.2, 5.4, back", "6.9, 6.8, 6.7"])
def test_masses_of_one_page_add_up_as_printed(
    made: Callable[..., Soak], told: Callable[..., str], steps: str
) -> None:
    programme = made(steps)
    poured = {True: 0.0, False: 0.0}
    lines = told(programme).split("\n")
    for number, stage in enumerate(programme.steps, 1):
        (line,) = [one for one in lines if one.startswith(f"{number}. {stage.wish}:")]
        mass = sum(float(one) for one in re.findall(r"([0-9.]+) g\b", line))
        assert mass == pytest.approx(stage.printed_g, abs=1e-9)
        poured[stage.onwards] += mass
        assert poured[stage.onwards] == pytest.approx(
            stage.total_g, abs=0.5 if stage.to_spare else 1
        )


@pytest.mark.slow
@pytest.mark.parametrize("name", demo_names())
def test_a_plan_and_its_soak_print_the_same_pour(name: str) -> None:
    plan, (stage,) = make_plan(demo(name)), make_soak(demo(name)).steps
    poured_g = plan.pour_g if plan.wish_met else 0.0
    assert stage.printed_g == poured_g
    assert sum(stage.printed_portions_g) == pytest.approx(poured_g)
    if plan.wish_met:
        assert stage.printed_g <= plan.maximum_g
        assert stage.weigh == (not plan.spoons_keep_limit)


@pytest.mark.slow
def test_a_mass_with_nothing_to_spare_is_never_rounded_up(made: Callable[..., Soak]) -> None:
    (tight,) = made("5.4").steps
    assert not tight.to_spare
    assert tight.printed_g <= tight.total_g + 1e-9
    # And with half a step more the same tubs are judged by the plan's own measure.
    easy = made("6.3").steps[0]
    assert easy.to_spare
    level = pour_at_once(possible_tubs(demo()), easy.total_g + 0.5, "child").level
    assert LEVELS[level] in ("ok", "mind")


@pytest.mark.slow
@pytest.mark.parametrize("grams", [0.237, 3.46, 12.34, 47.9])
def test_a_mass_with_nothing_to_spare_is_printed_rounded_down(
    made: Callable[..., Soak], grams: float
) -> None:
    stage = made("6.2, 5.7, back").steps[0]
    poured = replace(stage, grams=grams, portions_g=(grams,), total_g=grams)
    (tight,) = with_printed([replace(poured, to_spare=False)])
    assert grams - tight.scale_g < tight.printed_g <= grams


@pytest.mark.slow
def test_portions_that_are_left_are_even_and_told_once(
    made: Callable[..., Soak], told: Callable[..., str]
) -> None:
    programme = made("6.2, 5.4")
    stage = programme.steps[1]
    assert len(stage.portions_g) > 1
    assert np.ptp(stage.portions_g) < 1e-9
    plan = make_plan(demo(), target="5.4")
    assert max(stage.portions_g) <= max(one.grams for one in plan.pours) + 1e-9
    assert (stage.look_by, stage.stop_ph) == (plan.look_by, plan.stop_ph)
    assert told(programme).count("; stop as soon as it is") == 1


@pytest.mark.slow
def test_spoons_that_could_pass_a_limit_are_not_offered(
    made: Callable[..., Soak], told: Callable[..., str]
) -> None:
    def heaviest(stage: Step) -> float:
        halves = round(2.0 * stage.spoons.teaspoons) / 2.0
        return halves * stage.grams / stage.spoons.teaspoons_low

    possible = possible_tubs(demo())
    for steps in ("6.3", "5.7", "5.6"):
        (stage,) = made(steps).steps
        passes = LEVELS[pour_at_once(possible, heaviest(stage), "child").level] in ("ok", "mind")
        assert stage.weigh == (not passes)
        text = told(made(steps))
        assert ("weigh it" in text) == stage.weigh
        assert ("teaspoon" in text) == passes
    assert made("5.6").steps[0].weigh
    assert not made("6.3").steps[0].weigh


@pytest.mark.slow
def test_a_jug_beside_a_bather_asks_everybody_out() -> None:
    assert make_soak(beside("jug"), ["6.3"]).forbidden
    assert make_soak(beside("jug", "adult"), ["6.3"]).forbidden
    programme = make_soak(beside("jug", "adult"), ["6.3"], accept_pouring="feet only")
    assert not programme.forbidden


@pytest.mark.slow
def test_to_and_fro_takes_more_acid_each_time(made: Callable[..., Soak]) -> None:
    down, up, again = made("5.4, 6.2, 5.4", bathers="adult").steps
    assert (down.onwards, up.onwards, again.onwards) == (True, False, True)
    assert again.total_g == pytest.approx(down.grams + again.grams, rel=1e-12)
    for stage, ph in ((down, 5.4), (up, 6.2), (again, 5.4)):
        assert stage.after.ph == pytest.approx(ph, abs=0.01)
    # The soda's own bicarbonate has to be taken up as well.
    assert again.grams > down.grams - 5.0


@pytest.mark.slow
def test_a_colour_beyond_the_cautions_pours_nothing_and_says_what_is_needed(
    made: Callable[..., Soak],
) -> None:
    programme = made("pink, back")
    pink, back = programme.steps
    plan = make_plan(demo(), target="pink")
    assert not programme.reached
    assert not pink.reached
    assert [note.code for note in pink.needed] == [note.code for note in plan.needed]
    assert (pink.grams, back.grams) == (0.0, 0.0)
    # Of later steps as well: too sour for a child, so the tub stays as the step before left it.
    blue, sour = made("6.2, 4.6").steps
    assert (blue.wish_met, sour.wish_met, sour.grams) == (True, False, 0.0)
    assert sour.after.ph == pytest.approx(blue.after.ph)
    assert sour.needed


@pytest.mark.slow
def test_a_colour_that_the_tub_never_shows_says_so(
    made: Callable[..., Soak], told: Callable[..., str]
) -> None:
    programme = made("6, orange")
    orange = programme.steps[-1]
    assert not orange.wish_met
    assert orange.needed
    assert "2. orange: not to be had" in told(programme)


@pytest.mark.slow
def test_a_written_reason_reaches_further() -> None:
    inputs = for_adults(demo())
    without = make_soak(inputs, ["4.6", "4.3"])
    with_reason = make_soak(inputs, ["4.6", "4.3"], accept_ph="a short show in shallow water")
    assert not without.reached
    assert with_reason.steps[-1].total_g >= without.steps[-1].total_g


@pytest.mark.slow
def test_an_alkaline_activator_comes_back_with_acid() -> None:
    inputs = demo()
    activator = replace(inputs.activator, parts={"sodium-carbonate": 1.0})
    programme = make_soak(replace(inputs, activator=activator), ["8.6", "back"])
    up, back = programme.steps
    assert up.after.ph == pytest.approx(8.6, abs=0.01)
    assert [name for name, _ in back.powder] == ["citric-acid-anhydrous"]
    assert back.after.ph < 8.6
    assert float(delta_e(programme.before.colour.lab, back.after.colour.lab)) <= 5.0


def test_nothing_is_poured_back_where_nothing_has_turned() -> None:
    inputs = demo()
    soda = replace(inputs.activator, parts={"sodium-bicarbonate": 1.0})
    (back,) = make_soak(replace(inputs, activator=soda), ["back"]).steps
    assert back.grams == 0.0
    assert back.reached


def test_sold_both_ways_is_still_judged_by_its_own_rules() -> None:
    inputs = demo()
    inputs = replace(inputs, wish=replace(inputs.wish, purpose="sale", market="US"))
    programme = make_soak(inputs, ["6.4"])
    assert exit_code(programme.cautions) == 3
    assert not programme.reached


@pytest.mark.parametrize(
    ("text", "steps"),
    [
        ("violet, pink, back", ("violet", "pink", "back")),
        (" 5.2;BACK ", ("5.2", "BACK")),
        ("#8060C0", ("#8060C0",)),
    ],
)
def test_steps_are_read(text: str, steps: tuple[str, ...]) -> None:
    assert parse_steps(text) == steps


@pytest.mark.parametrize("text", ["", " , ", "frobnicate", "5.2, 15", "#12", ",".join("5" * 9)])
def test_steps_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"steps has|steps: target is"):
        parse_steps(text)
    assert len("5" * MOST_STEPS) == 8


@pytest.mark.slow
@pytest.mark.parametrize("steps", ["6.3, 5.7, back", "pink, back"])
def test_every_step_can_be_said(
    made: Callable[..., Soak], steps: str, told: Callable[..., str]
) -> None:
    programme = made(steps)
    text = told(programme, more=True)
    assert "{" not in text
    for stage in programme.steps:
        assert f"pH {stage.after.ph:.1f}" in text or stage.back
    for one in programme.cautions:
        assert "{" not in one.message


def test_acid_that_leads_back_has_its_cautions_and_the_base_its_name() -> None:
    inputs = demo()
    inputs = replace(inputs, activator=replace(inputs.activator, parts={"soda-ash": 1.0}))
    programme = make_soak(inputs, ["8.6", "back"])
    assert programme.steps[1].grams > 0
    found = {one.code: one for one in programme.cautions}
    assert {"chlorine", "acid-dust", "programme-both"} <= set(found)
    assert "washing soda" in found["programme-both"].message
    assert "baking soda" not in found["programme-both"].message
    # Two packs, kept apart: none of them bursts.
    assert not {"bicarbonate-sold", "bicarbonate-sealed"} & set(found)
