"""The jar test in words: every branch of its templates, and how long its answers are."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from dosing.bath.inputs import RecipeInputs, TubInputs, WishInputs
from dosing.bath.spreads import reading_spreads
from dosing.ingredients.trade_values import NINE_IN_TEN
from dosing.ingredients.water import WaterReadings
from dosing.jar.asked import JarRequest
from dosing.jar.bench import Bench
from dosing.jar.design import first_additions, units_to_ph
from dosing.jar.guide import Guide, IntoJar
from dosing.jar.learnt import Learnt, PigmentNumber
from dosing.jar.records import JarAnswer
from dosing.jar.series import LeftOut
from dosing.plan.answer import preview
from dosing.plan.look import Look
from dosing.plan.records import Plan
from dosing.recipe import demo_recipe, parse_recipe
from dosing.words.marks import plain
from dosing.words.templates import render
from indicator.notes import Note
from indicator.tables import read_text

SERIES = Path(__file__).parents[2] / "data" / "demo" / "evening_soak_jar.csv"
BLEND = {"citric-acid-anhydrous": 0.5, "epsom-salt": 0.35, "cream-of-tartar": 0.15}
Missed = Callable[..., list[str]]
FEW = 20
"""Lines of an answer at 80 columns, beside cautions that are printed whole."""


def unread(**more: object) -> RecipeInputs:
    """The demo's tub, in a water that nobody read."""
    return replace(demo_recipe("1"), water=WaterReadings(), **more)  # type: ignore[arg-type]


def told(answer: JarAnswer, *, more: bool = False, all_cautions: bool = False) -> str:
    return plain(render("jar", jar=answer, more=more, all_cautions=all_cautions))


def shown(guide: Guide, own: Plan, *, more: bool = False, all_cautions: bool = False) -> str:
    values = {"guide": guide, "plan": own, "command": "huedose jar"}
    return plain(render("jar-guide", more=more, all_cautions=all_cautions, **values))


@pytest.fixture(scope="module")
def soak() -> JarAnswer:
    asked = JarRequest(
        demo_recipe("1"), SERIES, by="meter", solution="1 %, 30 g, 50 g", jar="1000 g"
    )
    answer = asked.answer()
    assert isinstance(answer, JarAnswer)
    return answer


@pytest.fixture(scope="module")
def own() -> Plan:
    return preview(demo_recipe("1"), 0.0)


def test_the_corrected_dose_comes_first_and_is_short(soak: JarAnswer) -> None:
    lines = told(soak).splitlines()
    assert len(lines) <= FEW
    assert lines[0] == "Jar test: Evening soak, 120 L, for a child"
    assert lines[1].startswith("Pour it: yes")
    # As the plan of the same recipe says it.
    first = "First in: 420 mL butterfly pea brew (usually 20 g dried petals/L, 10 to 40), 25"
    assert lines[3:5] == [first, "  mL foam bath."]
    assert lines[5].startswith("POUR 14 g of citric acid (weigh it). Never more than")
    flat = " ".join(" ".join(lines).split())
    assert "stir 1 minute with a long spoon, then wait 3 minutes." in flat
    assert "Not turned? " in flat
    assert re.search(
        r"Stings, or too sour\? Out, and rinse; into the tub [\d½]+ level .* of baking soda", flat
    )
    assert max(map(len, lines)) <= 80
    whole = told(soak, more=True, all_cautions=True)
    assert "In 100 L" in whole
    assert "Cautions" in whole


def test_a_range_beyond_the_most_is_no_leave_to_pour_it(soak: JarAnswer) -> None:
    capped = replace(soak, maximum_g=soak.dose_g.high - 1.0)
    most = f"; still never pour more than {capped.never_over_g:.0f} g."
    assert most in " ".join(told(capped).split())
    free = replace(soak, maximum_g=soak.dose_g.high + 1.0)
    assert "still never pour" not in told(free)


def test_ends_of_the_ph_are_told_outwards(soak: JarAnswer) -> None:
    text = " ".join(told(replace(soak, pouring=replace(soak.pouring, final=(5.49, 6.11)))).split())
    assert "(pH 5.7, somewhere from 5.4 to 6.2)" in text


def held_back(soak: JarAnswer) -> JarAnswer:
    check = (Note("jar.first.series", {}, "series"), Note("jar.first.gas", {}, "series"))
    return replace(soak, check_first=check, maximum_g=0.0)


@cache
def too_sour() -> JarAnswer:
    asked = JarRequest(
        demo_recipe("1"), SERIES, by="meter", solution="1 %, 30 g", jar="1000 g", target="3.5"
    )
    answer = asked.answer()
    assert isinstance(answer, JarAnswer)
    return answer


def test_every_branch_of_the_answer_is_rendered(soak: JarAnswer, branches_missed: Missed) -> None:
    step = replace(soak.steps[0], word="violet", read=5.0, expected=5.1, set_aside=True)
    hexed = replace(soak.steps[1], read="#112233", expected="#223344")
    look = Look("colour", 5.7, 0.2, acid=True)
    portions = replace(soak.pouring, totals_g=(5.0, 10.0, 13.0), look=look)
    meter = replace(portions, look=replace(look, by="meter"))
    changed = {
        "Left out": replace(soak, left_out=(LeftOut(5, "jar9.png", "it is uneven."),)),
        "portions of 5 g, 5 g, 3 g": replace(soak, pouring=portions),
        "when the meter shows 5.7": replace(soak, pouring=meter),
        "colour of your jug": replace(soak, pouring=portions, by="turn"),
        "15 % of": replace(soak, activator=tuple(BLEND.items())),
        "Surer: count buckets": replace(soak, volume_share=0.7),
        "does not bring this bath to pink": replace(soak, target_met=False, target="pink"),
        "NOT FOR BATHING": replace(soak, not_for_bathing=True),
        "fits least": replace(soak, worst_step=3),
        "contradicts the others": replace(soak, steps=(step, hexed)),
        "tells little more": replace(soak, warnings=(Note("jar.warn.little-told", {}, "series"),)),
        "the aim is now": replace(
            soak, notes=(Note("jar.note.aim-moved", {"planned": 5.0, "ph": 5.5}),)
        ),
        "0.3 g is 60 mL of that, 0.4 g is 80 mL.": replace(
            soak,
            dose_g=replace(soak.dose_g, low=0.6, best=0.7, high=0.8),
            pouring=replace(soak.pouring, totals_g=(0.3, 0.7)),
        ),
        "It never turned: pour nothing.": replace(
            soak,
            steps=(replace(step, word="not turned"),),
            check_first=(Note("jar.first.never", {}, "series"),),
        ),
        "Follow this answer, not the plan": replace(soak, careful_share=None),
        "The recipe keeps a little less": replace(soak, careful_share=0.88),
        "First in: 25 mL foam bath.": replace(soak, colours=()),
        "First in: 420 mL butterfly pea brew (usually 20 g dried petals/L, 10 to 40).": replace(
            soak, foam_bath_ml=0.0
        ),
        "Add nothing: this is the most": replace(soak, maximum_g=soak.dose_g.best),
        "already": replace(soak, dose_g=replace(soak.dose_g, low=0.0, best=0.0, high=0.0)),
    }
    expected = {"Left out": "Reading 5 is left out. jar9.png", "15 % of": "citric acid 7 g, Epsom"}
    for part, answer in changed.items():
        text = " ".join(told(answer, more=True, all_cautions=True).split())
        assert expected.get(part, part) in text, part
    turned = Learnt(2.4, 2.9, 3.1, 2.3, 2.6, 2.9)
    number = PigmentNumber("butterfly-pea", "red", turned)
    # 2.9 where 2.6 was expected.
    learnt = replace(soak, pigment_numbers=(number,))
    text = told(learnt, more=True)
    assert "The pigment turns +0.3 pH from where it was expected" in " ".join(text.split())
    bare = replace(soak, product_buffer=None, offset_ph=None)
    answers = (*changed.values(), bare, learnt, held_back(soak), too_sour())
    cases: list[dict[str, object]] = [
        {"jar": answer, "more": whole, "all_cautions": whole}
        for answer in answers
        for whole in (False, True)
    ]
    for saved in (None, ([2, 3], []), ([2, 3], [4]), ([2, 3], [4, 9])):
        for answer in (soak, changed["the aim is now"]):
            cases.append({**cases[0], "jar": answer, "recipe": "bath.toml", "saved": saved})
    assert branches_missed("jar", cases, ["shared"]) == []


def test_what_forbids_pouring_is_said_before_the_dose(soak: JarAnswer) -> None:
    held = told(held_back(soak)).splitlines()
    assert not any(line.startswith("Pour it") for line in held)
    assert held[1].startswith("Do not pour yet. Check this first: Repeat the series")
    assert "Right in" not in "".join(held)
    forbidden = told(too_sour()).splitlines()
    assert forbidden[2] == "Do not pour this: a caution forbids it, see below."
    assert forbidden[3].startswith("X stop:")
    for text in ("\n".join(held), "\n".join(forbidden)):
        assert "POUR" not in text


def test_the_cautions_of_the_plan_stand_with_the_dose(soak: JarAnswer) -> None:
    mind = [told for told in soak.cautions if told.level == "mind"]
    special = [told for told in mind if told.special]
    usual = [told for told in mind if not told.special]
    third = replace(special[0], code=usual[-1].code, values=usual[-1].values)
    unsold = replace(usual[0], level="stop", about="sell", special=True)
    shown = told(replace(soak, cautions=(*usual[1:-1], *special[:2], third, unsold)))
    flat = " ".join(shown.split())
    places = [flat.index(" ".join(told.message.split())) for told in (unsold, *special[:2])]
    assert places == sorted(places)
    assert places[0] < flat.index("POUR") < places[1]
    # At most two of the lighter ones, and none that every bath has.
    assert sum(line.startswith("! ") for line in shown.splitlines()) == 2


def test_a_recipe_reads_the_instrument_that_the_answer_says(soak: JarAnswer) -> None:
    level, offered = soak.alkalinity_meq_l, read_text("text/recipe_blank.toml")
    said = set()
    for off in (0.2, 0.4, 0.8):
        low, high = level.best - off, level.best + off
        answer = replace(soak, alkalinity_meq_l=replace(level, low=low, high=high))
        flat = " ".join(told(answer).split())
        words = re.search(r'(alkalinity = "\d+ ppm"), (instrument = "([a-z ]+)")', flat)
        assert words is not None
        said.add(words[3])
        assert f", {words[3]}" in offered
        inputs = parse_recipe(
            f'schema = 1\n[tub]\nvolume = "120 L"\n[water]\n{words[1]}\n{words[2]}\n', "mine"
        )
        # No surer than what the jar told.
        assert reading_spreads(inputs).alkalinity_sd >= (high - low) / NINE_IN_TEN
    assert said == {"jar test", "rough jar test", "very rough jar test"}
    # Whatever the jar leaves open is written with its ends, but never what a plan would pass.
    unsure = replace(soak, alkalinity_meq_l=replace(level, low=0.0, high=level.best + 3.0))
    assert unsure.recipe_reading["alkalinity_low"] == "0 ppm"
    assert replace(unsure, careful_share=None).recipe_reading == {}
    less = float(replace(soak, careful_share=0.9).recipe_reading["alkalinity"].removesuffix(" ppm"))
    assert less == pytest.approx(0.9 * level.best * 50.04, abs=1.0)


def test_a_spare_portion_is_poured_only_where_the_tub_has_not_turned(soak: JarAnswer) -> None:
    best = soak.dose_g.best
    pouring = replace(soak.pouring, totals_g=(0.6 * best, best, best + 2.0))
    spared = replace(soak, pouring=pouring, maximum_g=best + 2.0)
    flat = " ".join(told(spared).split())
    assert re.search(r"portions of \d+ g, \d+ g, only if it has not turned \d g", flat)
    assert "Not turned? Add nothing: this is the most." in flat


WAYS: tuple[tuple[dict[str, str], str], ...] = (
    ({}, "Dip a fresh pH strip"),
    ({"by": "photograph"}, "From photographs you learn hardly more"),
    ({"by": "photograph"}, "A pH meter tells it to about"),
    ({"by": "strip"}, "With a pH meter about"),
    ({"by": "meter"}, "Read with the meter"),
    ({"by": "drop-kit"}, "Read with the pH drop kit"),
    ({"by": "strip"}, "No colour, no foam bath"),
    ({"by": "strip"}, "You need: a kitchen scale, a syringe, a thermometer, pH strips."),
    ({"by": "strip"}, "mL (the tub's grams come after)."),
    ({"by": "strip"}, "g in 100 L (your tub: 120 L)"),
    ({"by": "strip"}, "between two fields of the chart? Write the number in the middle."),
    ({"by": "colour"}, "ml,hex"),
    ({"by": "meter", "unit": "g"}, "a fine scale"),
    ({"by": "meter", "unit": "pinches"}, "Bucket: "),
    ({"by": "meter", "unit": "pinches", "jar": "1 L"}, "too little for this tool"),
    ({"by": "meter", "unit": "tsp", "solution": "1 tsp in 1 L"}, "1 teaspoon (level) of citric"),
    ({"by": "turn"}, "until both look the same"),
    ({"by": "turn"}, "under the brightest white lamp"),
    ({"by": "turn"}, "(each jug is 7.07 times as deep)"),
    ({"by": "turn"}, 'tsp: not turned" in place of the counts'),
    ({"by": "turn", "unit": "pinches"}, "by the pinch"),
    ({"by": "meter", "target": "3.5"}, "this bath may not"),
)


@pytest.mark.slow
@pytest.mark.parametrize(("asked", "part"), WAYS)
def test_every_way_to_do_the_test_fits_a_page(asked: dict[str, str], part: str, own: Plan) -> None:
    guide = JarRequest(demo_recipe("1"), **asked).guide()  # type: ignore[arg-type]
    text = shown(guide, own)
    assert part in " ".join(text.split())
    # A command is never broken.
    assert len(text.splitlines()) <= FEW
    assert shown(guide, own, more=True, all_cautions=True)


@pytest.mark.slow
def test_every_branch_of_a_jar_without_an_answer_yet_is_rendered(
    own: Plan, branches_missed: Missed
) -> None:
    guides = [JarRequest(demo_recipe("1"), **asked).guide() for asked, _ in WAYS]  # type: ignore[arg-type]
    cases = [
        {"guide": guide, "plan": plan, "command": "huedose jar", "more": whole}
        | {"all_cautions": whole}
        for guide, plan in (*((guide, own) for guide in guides), (no_room(), closed(own)))
        for whole in (False, True)
    ]
    cases += [{**cases[0], "guide": no_room()}]
    cases += [{**cases[0], "guide": replace(guides[0], colour_first=True), "whose": ""}]
    assert branches_missed("jar-guide", cases, ["shared"]) == []


def no_room() -> Guide:
    return JarRequest(
        demo_recipe("1"), by="meter", solution="0.05 %", jar="100 g", target="3"
    ).guide()


def closed(own: Plan) -> Plan:
    pour = replace(own.verdicts.pour, level="stop", allowed=False)
    return replace(own, verdicts=replace(own.verdicts, pour=pour))


@pytest.mark.slow
def test_a_jar_without_room_and_a_bath_that_is_forbidden_say_so(own: Plan) -> None:
    guide = no_room()
    assert not guide.fits
    assert "It cannot be done this way" in shown(guide, own)
    assert shown(guide, closed(own)).startswith("This bath is not to be used as it stands.")


@pytest.mark.slow
def test_a_kitchen_can_measure_what_it_is_told() -> None:
    # Of petals the strained brew, in half teaspoons; a blend by its powders; no stock of what
    # does not dissolve in it: 15 % cream of tartar of 10 % is 15 g/L, and 6 g/L dissolve at 20 °C.
    soak = unread()
    petals = replace(soak.colours[0], amount=8.4, amount_unit="g")
    by_eye = JarRequest(replace(soak, colours=(petals,))).guide()
    assert by_eye.by == "turn"
    foam, brew = by_eye.into_jar
    assert foam.drops is not None
    assert brew.teaspoons is not None
    assert brew.ml == pytest.approx(4.92892 * brew.teaspoons, rel=0.01)
    blend = replace(soak, activator=replace(soak.activator, parts=BLEND))
    weighed = JarRequest(blend, by="meter").guide()
    assert weighed.thinned is None
    assert dict(weighed.solution) == {
        "citric-acid-anhydrous": 10.0, "epsom-salt": 7.0, "cream-of-tartar": 3.0,
    }  # fmt: skip
    assert weighed.solution_water_g == pytest.approx(1980.0)
    assert JarRequest(soak, by="meter").guide().thinned == (50.0, 450.0)


@pytest.mark.slow
def test_coloured_foam_bath_brings_its_own_colour_along() -> None:
    soak = demo_recipe("1")
    held = replace(soak.colours[0], held_in="foam bath")
    both = replace(soak, colours=(held,))
    guide = JarRequest(both, by="colour", jar="1000 g, 4 x colour").guide()
    (only,) = guide.into_jar
    assert only.name == ""
    assert soak.foam_bath is not None
    share = 1000.0 / float(guide.jar_g) * guide.jar_l / guide.model.litres
    assert only.ml == pytest.approx(4.0 * share * soak.foam_bath.amount_ml, rel=1e-6)


def test_a_test_is_short_stays_near_the_aim_and_passes_it() -> None:
    for number, by in (("1", "photograph"), ("5", "strip"), ("2", "colour"), ("4", "meter")):
        bench = Bench(demo_recipe(number), by=by, plain=by == "strip")
        model = bench.laid_out(5.5).model()
        aim = units_to_ph(model, 5.5)
        totals = first_additions(model, by, 5.5).totals
        assert len(totals) <= 8
        assert aim < totals[-1] <= 1.6 * aim


def test_a_reading_that_tells_little_says_first_which_would(own: Plan) -> None:
    guide = JarRequest(demo_recipe("1"), by="meter").guide()
    for share, meter_g, part in (
        (0.9, 0.5, "hardly more than you know already. A pH meter tells it to about 0.5 g"),
        (0.5, 0.5, "With a pH meter about 0.5 g (--by meter)."),
    ):
        poor = replace(guide, by="strip", expected_share_of_width=share, by_meter_g=meter_g)
        flat = " ".join(shown(poor, own).split())
        assert part in flat
        assert ("hardly more" in flat.split(" It tells how much ")[0]) == (share > 0.8)
    for none in (None, 5.0):
        assert "pH meter" not in shown(replace(guide, by="strip", by_meter_g=none), own)


def test_a_dye_is_a_solution_and_petals_are_a_brew(own: Plan) -> None:
    guide = JarRequest(demo_recipe("1"), by="meter").guide()
    dyed = replace(guide, into_jar=(
        IntoJar("allura red", "dye", 0.7, None), IntoJar("black carrot", "pigment", 7.4, None),
    ))  # fmt: skip
    flat = " ".join(shown(dyed, own).split())
    assert "14 drops of your allura red solution" in flat
    assert "of your strained black carrot brew" in flat
    assert {thing.kind for thing in guide.into_jar} == {"foam bath", "pigment"}


@pytest.mark.slow
def test_the_plans_aim_is_kept() -> None:
    # No wish: whatever the plan chooses is what the jar doses.
    from dosing.plan.answer import make_plan

    soak = demo_recipe("1")
    free = replace(soak, wish=WishInputs(None, "adult"), tub=TubInputs(volume_l=120.0))
    plan = make_plan(free)
    assert plan.wish_met
    asked = JarRequest(free, SERIES, by="meter", solution="1 %, 30 g, 50 g", jar="1000 g")
    answer = asked.answer()
    assert isinstance(answer, JarAnswer)
    assert answer.target_ph == pytest.approx(plan.after.ph, abs=0.006)
    assert answer.why_moved == ()


@pytest.mark.slow
def test_a_turn_by_eye_doses_the_colour_of_the_jug() -> None:
    steps = ("5 tsp: turned", "12 tsp: matched")
    soak = unread(wish=WishInputs(None, "adult"))
    asked = JarRequest(soak, steps=steps, solution="1 tsp in 1 L", jar="1 L, 5 x colour")
    answer = asked.answer()
    assert isinstance(answer, JarAnswer)
    assert [note.code for note in answer.why_moved] == ["jar.note.aim-turn"]
    # 4.5 of 5 mL from a litre with 4.19 g of citric acid to a litre.
    grams = 1.0 / 1.0 * 4.92892 * 0.85
    jug = 4.5 * 4.92892 / 1000.0 * grams
    assert answer.per_litre_g.best == pytest.approx(jug, rel=0.12)
    assert answer.per_litre_g.low < jug < answer.per_litre_g.high
    lone = replace(asked, steps=steps[:1]).answer()
    assert isinstance(lone, JarAnswer)

    def width(one: JarAnswer) -> float:
        return float(np.log(one.alkalinity_meq_l.high / max(one.alkalinity_meq_l.low, 0.05)))

    # The twin tells what a spoonful of acid is worth in this water.
    assert width(answer) < 0.7 * width(lone)
