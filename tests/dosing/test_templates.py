"""Templates: each of their branches is rendered, and answers stay short."""

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dosing import Tub, demo_recipe, make_plan
from dosing.effects.gallery import effects_instead
from dosing.plan.answer import preview, with_more_colour
from dosing.plan.case import case
from dosing.plan.cautions import Verdict, caution_of
from dosing.plan.households import six_homes
from dosing.plan.levels import LEVELS
from dosing.plan.odds import possible_labs
from dosing.plan.records import FirstPortion, MoreColour, OtherDose, Wish
from dosing.recipe import demo_text, parse_recipe
from dosing.soak.records import Manner
from dosing.soak.steps import make_soak
from dosing.words import filters
from dosing.words.filters import home_verdict, level, of_ten, ph_at_least, ph_at_most, verdict
from dosing.words.marks import paragraphs, plain
from dosing.words.plans import PlanDocument, PlanWish
from dosing.words.templates import render
from indicator import notes
from indicator.notes import CATALOGUE, say
from indicator.tables import DataError, read_toml
from indicator.words import colour_family, colour_word, published_name

Missed = Callable[..., list[str]]
PLAN_LINES = 14
WALKS = Path(__file__).parent / "walks"


@pytest.mark.slow
@pytest.mark.parametrize("demo", ["1", "2", "3", "4", "4-green", "5"])
def test_a_plan_is_said_in_a_few_lines(demo: str) -> None:
    plan = make_plan(demo_recipe(demo))
    text = plain(render("plan", plan=plan, instead=(), more=False, cautions=False, bare=False))
    assert text.count("\n") < PLAN_LINES, text
    wishes = (PlanWish(whose=f" --demo {demo}"), PlanWish(whose=f" --demo {demo}", dose="12 g"))
    printed = [plain(wish.text(wish.document(demo_recipe(demo)))) for wish in wishes]
    assert all(each.rstrip().count("\n") < PLAN_LINES for each in printed), printed
    assert max(len(line) for each in (text, *printed) for line in each.splitlines()) <= 80


@pytest.mark.slow
@pytest.mark.parametrize("walk", sorted(WALKS.glob("*.toml")), ids=lambda walk: walk.stem)
def test_a_walk_is_said_in_a_few_lines(walk: Path) -> None:
    plan = Tub.load(walk).plan().plan
    text = plain(PlanWish(whose=f" {walk.name}").text(PlanDocument(plan)))
    heavy = sum(caution.level in ("justify", "stop") for caution in plan.cautions)
    # Only what forbids makes it longer: that is printed whole.
    assert text.rstrip().count("\n") < PLAN_LINES + 2 * heavy, text


def test_the_first_portion_is_what_is_told_in_bold() -> None:
    plan = Tub.load(WALKS / "nothing-known.toml").with_(bathers="adult").plan().plan
    text = plain(render("plan", plan=plan, instead=(), more=False, cautions=False, bare=False))
    first, total = (f"{grams:.1f} g" for grams in (plan.portions[0].grams, plan.pour_g))
    (line,) = [line for line in text.splitlines() if line.startswith("POUR")]
    assert f"in portions: {first}" in line
    # The whole of it at once would be too sour: nobody shall read it as one dose.
    assert f"POUR {total}" not in text


def test_a_stop_is_not_called_by_the_colour_that_is_there_already() -> None:
    plan = Tub.demo("1").plan().plan
    blue = replace(plan.after.colour, phrase=plan.before.colour.phrase)
    sips = (replace(plan.pours[0], grams=6.0, total_g=6.0), plan.pours[0])
    alike = replace(plan, pours=sips, look_by="colour", after=replace(plan.after, colour=blue))
    text = render("plan", plan=alike, instead=(), more=False, cautions=False, bare=False)
    assert f"Stop when it is {plan.after.colour.name}" in text
    assert f"Stop when it is {plan.before.colour.phrase}" not in text


def test_what_no_kitchen_scale_shows_is_measured_in_a_solution() -> None:
    plan = Tub.demo("1").plan().plan
    dose = replace(plan.dose_g, best=0.36)
    tiny = replace(plan, dose_g=dose, maximum_g=0.4, pours=(replace(plan.pours[0], total_g=0.36),))
    text = render("plan", plan=tiny, instead=(), more=False, cautions=False, bare=False)
    # 5 g in a litre are 5 mg in a millilitre: 0.36 g are 72 mL.
    assert "(72 mL of 5 g in 1 L of water)" in text


def test_nothing_is_offered_beyond_the_most() -> None:
    plan = Tub.demo("1").plan().plan
    beyond = replace(plan, offer=OtherDose(plan.never_over_g + 1.0, 5.0, "mind", 0.9, 0.1))
    text = render("plan", plan=beyond, instead=(), more=False, cautions=False, bare=False)
    assert "Bolder" not in text


def test_every_verdict_is_a_few_words_with_nothing_left_to_fill_in() -> None:
    answers = dict(read_toml(CATALOGUE)["verdict"])
    reasons = answers.pop("because")
    assert len(reasons) > 5
    # The same row of the table with another sentence.
    rows = {
        "formaldehyde-advised": "formaldehyde-label",
        "lye-in-liquid": "bottle-ph-corrosive",
    }
    for because in reasons:
        # The caution that a verdict rests on is one of the table, and has a sentence.
        assert caution_of(rows.get(because, because)).level in LEVELS
        assert because in read_toml(CATALOGUE)["caution"]
        for answer in answers:
            allowed, level = answer.split("-")
            told = verdict(Verdict(level, allowed == "yes", because))
            assert told == say(f"verdict.{answer}") + reasons[because]
            assert not set(told) & set("{}!.:")


def test_a_sentence_is_never_shown_with_a_gap(monkeypatch: pytest.MonkeyPatch) -> None:
    gap = {"verdict": {"yes-mind": "yes", "because": {"chalk": ", of {colour}"}}}
    monkeypatch.setattr(filters, "read_toml", lambda _: gap)
    monkeypatch.setattr(notes, "read_toml", lambda _: gap)
    with pytest.raises(DataError, match="needs the value 'colour'"):
        verdict(Verdict("mind", True, "chalk"))


@pytest.mark.slow
def test_no_safe_dose_is_not_followed_by_a_right_one() -> None:
    plan = make_plan(demo_recipe("2"))
    text = plain(render("plan", plan=plan, instead=(), more=True, cautions=False, bare=False))
    assert "No safe dose makes a clear change" in text
    assert "right dose" not in text
    assert "Taking it back" not in text
    assert " becomes " not in text
    soak = make_soak(demo_recipe("2"))
    assert (soak.verdicts, soak.wish_met) == (plan.verdicts, False)


@pytest.mark.slow
def test_the_soda_is_for_all_that_may_be_poured() -> None:
    plan = Tub.load(WALKS / "nothing-known.toml").with_(bathers="adult").plan().plan
    (*_, last) = plan.portions
    assert last.spare
    text = " ".join(said(plan).split())
    assert "into the tub 2½ level teaspoons of baking soda" in text
    # A mole of soda is one equivalent (84.007 g, CIAAW 2021); a gram of citric acid brings three
    # to the mole of 192.123 g, of which the water has taken up its share at the best dose.
    beyond = (plan.pours[-1].total_g - plan.dose_g.best) / 192.123 * 3.0 * 84.007
    at_best = plan.acid_reserve_meq_l * plan.volume_l * 84.007e-3
    assert plan.undo_soda_g == pytest.approx(at_best + beyond, rel=0.02)


def test_homes_are_told_in_place_of_the_plan() -> None:
    recipe = demo_recipe("4")
    plan = make_plan(recipe)
    homes = six_homes(recipe, plan.dose_g.best, plan.wish, plan.accepted)
    lines = plain(PlanWish(homes=True).text(PlanDocument(plan, homes))).splitlines()
    assert lines[0].startswith(plan.title)
    # Whoever reads two lines has read that it is for no bather.
    assert lines[1] == "NOT FOR BATHING, only to look at."
    assert lines[2].startswith("Pour it: ")
    assert len(lines) == 11
    # On paper, and with all cautions, the plan stays.
    for whole in (
        PlanWish(homes=True, cautions=True).text(PlanDocument(plan, homes)),
        PlanWish(homes=True).text(PlanDocument(plan, homes), whole=True),
    ):
        assert "Cautions" in whole
        assert whole.count(plan.title) == 1
        assert "in six homes" in whole


def test_a_dose_that_is_forbidden_says_where_the_right_one_is() -> None:
    wish = PlanWish(dose="20 g", whose=" --demo 1")
    text = plain(wish.text(wish.document(demo_recipe("1"))))
    assert "Do not pour 20 g." in text
    assert "How much is right here: huedose plan --demo 1" in text
    wish = replace(wish, dose="6 g")
    assert "right here" not in wish.text(wish.document(demo_recipe("1")))


@pytest.mark.slow
def test_a_dose_that_was_given_has_its_own_limit_and_a_way_back() -> None:
    def page(dose: str) -> tuple[Any, str]:
        wish = PlanWish(dose=dose, whose=" --demo 1")
        document = wish.document(demo_recipe("1"))
        return document.answer, " ".join(plain(wish.text(document)).split())

    for dose in ("12 g", "14 g"):
        plan, text = page(dose)
        assert "Never more than 14 g in all." in text
        assert plan.limit_g == 14.0
    # A gram beyond the limit has a heavier caution; of a gentle dose the plan's own most is told.
    plan, text = page("15 g")
    assert (plan.limit_g, plan.forbidden) == (0.0, True)
    assert "Already poured? Everyone out, and rinse; into the tub" in text
    assert "Never more" not in text
    plan, text = page("6 g")
    assert plan.limit_g < 12.0
    assert "Its plan pours 14 g at most." in text
    # What a jar would tell is of the dose of the plan.
    assert "g then)" not in text


@pytest.mark.slow
@pytest.mark.parametrize("demo", ["1", "5"])
def test_the_sour_side_is_told_for_all_that_may_be_poured(demo: str) -> None:
    plan = make_plan(demo_recipe(demo))
    most = preview(demo_recipe(demo), plan.never_over_g)
    (caution,) = (each for each in most.cautions if each.code in ("ph-mind", "ph-child-mind"))
    worst = f"{caution.values['ph']:.1f} at {plan.never_over_g:.0f} g"
    assert f"in 1 of 20 tubs, {worst}: " in said(plan)
    assert caution.values["ph"] == ph_down(most.ph_acid_side)
    # At the limit of its own level there is one number.
    assert ("in 1 of 20 tubs: " in said(most)) == (most.limit_g == plan.never_over_g)


def ph_down(ph: float) -> float:
    return math.floor(10.0 * ph) / 10.0


def test_the_most_is_the_only_large_number_where_nothing_may_follow() -> None:
    plan = make_plan(demo_recipe("3"))
    assert plan.may_need_g > plan.never_over_g
    text = said(plan)
    assert "Never more than 14 g in all. Not turned? Leave it, and do a jar test." in text
    # Neither what the water may need nor what a jar may show passes the most.
    step = plan.next_steps[0]
    assert step.high_g > plan.never_over_g
    assert f"a jar test ({step.low_g:.0f} to 14 g then)" in text
    assert f"{plan.may_need_g:.0f} g" not in text


@pytest.mark.slow
def test_what_is_only_to_look_at_says_so_first_and_how_to_rinse() -> None:
    for demo, most in (("4", "weigh 1 g more"), ("4-green", "Once only: 15 g more")):
        text = said(make_plan(demo_recipe(demo)))
        assert text.index("NOT FOR BATHING") < text.index("Pour it:")
        assert "Splash? Rinse skin and eyes well." in text
        # A gram is no spoon.
        assert most in text
        assert "Surer: a jar test" in text
    assert "(split over 3 jugs)" in text


@pytest.mark.slow
def test_less_colour_and_the_brew_are_told_where_the_colour_is() -> None:
    plan = make_plan(demo_recipe("1"))
    told = {"plan": plan, "instead": (), "more": False, "cautions": False, "bare": False}
    text = " ".join(plain(render("plan", whose=" --demo 1", **told)).split())
    assert "25 mL foam bath. Less would do: 230 mL. How: huedose brew --demo 1 POUR" in text
    assert "36 mL tartrazine (1 g in 1 L)" in said(make_plan(demo_recipe("3")))


@pytest.mark.slow
def test_a_home_turns_only_to_the_colour_of_the_plan() -> None:
    recipe = demo_recipe("5")
    plan = make_plan(recipe)
    homes = six_homes(recipe, plan.dose_g.best, plan.wish, plan.accepted)
    told = plain(PlanWish(homes=True).text(PlanDocument(plan, homes))).splitlines()[-7:-1]
    for line, home in zip(told, homes, strict=True):
        assert ("turns pink" in line) == (home.verdict == "turns")
        # A tub that asks for care never has the tick of one that does not.
        assert line.endswith("✓ turns pink") == (home.verdict == "turns" and home.level == "ok")
        assert line.endswith("! turns pink, sour: face out") == (
            home.verdict == "turns" and home.level == "mind"
        )
        assert f"({50.0 * home.alkalinity_meq_l:.0f} ppm)" in line
    assert {home.level for home in homes if home.verdict == "turns"} == {"ok", "mind"}

    def ends(name: str, word: str) -> str:
        seen = replace(homes[0].after.colour, name=np.array(name), word=np.array(word))
        return home_verdict(
            replace(homes[0], after=replace(homes[0].after, colour=seen)), plan.after.colour
        )

    # Magenta is a reddish purple, which people count to the pinks; lilac is not.
    assert ends("vivid reddish purple", "purple") == "✓ turns pink"
    assert ends("light violet", "purple") == "– changes, not pink"
    # From blue to a deeper blue needs no name.
    assert home_verdict(homes[0], homes[0].before.colour) == "✓ turns"


def test_marks() -> None:
    title, line, command = paragraphs("# Tub\n  [#204060/#804060] blue to pink\n\n$ huedose plan")
    assert (title.text, title.bold) == ("Tub", True)
    assert line.swatches == [["#204060", "#804060"]]
    assert line.lines(80) == ["  blue to pink"]
    assert line.lines(80, block=4) == ["  " + "\N{NO-BREAK SPACE}" * 4 + " blue to pink"]
    assert command.lines(5) == ["  huedose plan"]


def plans() -> Iterator[Any]:
    """Plans that differ in whatever a sentence depends on."""
    soak, basin = Tub.demo("1"), Tub.demo("4").plan().plan
    plan = soak.plan().plan
    pale = replace(plan.before, colour=replace(plan.before.colour, visibility=np.asarray("hardly")))
    stronger = OtherDose(13.0, 5.6, "mind", 0.9, 0.2)
    jugs, pour = plan.jugs, plan.pours[0]
    assert jugs is not None
    failed = replace(plan, wish_met=False, reached=False, pours=(), wish=Wish("none", ""))
    yield from (plan, basin, *(Tub.demo(demo).plan().plan for demo in ("2", "3", "5")))
    yield soak.with_(parts={"citric-acid": 2, "epsom-salt": 1}).plan().plan
    yield from (soak.pour("6 g").plan, soak.pour("60 g").plan, soak.pour("0 g").plan)
    yield from (soak.plan(target="pink").plan, soak.plan(target="5.9").plan)
    yield from (replace(plan, offer=stronger), replace(plan, milder=stronger))
    yield replace(plan, undo_soda_g=0.0)
    halves = tuple(replace(pour, total_g=total) for total in (0.5, 0.9))
    yield replace(plan, dose_g=replace(plan.dose_g, best=0.9), pours=halves)
    yield replace(plan, wish=Wish("none", ""), pours=(), warnings=plan.assumptions)
    bottled = replace(plan.verdicts, give=plan.verdicts.pour)
    yield replace(
        plan, verdicts=bottled, after=replace(plan.after, colour=plan.ribbon.colours.at(5))
    )
    yield from (replace(plan, strip_at_end=True), replace(failed, do_next="strip"))
    yield replace(failed, first_portion=FirstPortion(2.0, "ok", 5.5, 0.3))
    yield replace(plan, before=pale, wish=Wish("none", ""), to_be_seen=plan.enough)
    yield replace(plan, jugs=None, market="EU", undone=None)
    yield replace(plan, jugs=replace(jugs, count=2, undissolved_g=10.0))
    sips = (replace(pour, total_g=6.0), pour, replace(pour, total_g=13.0, spare=True))
    yield replace(plan, pours=sips, look_by="meter", stop_ph=5.8)
    yield replace(plan, pours=sips, look_by="colour")
    mix = (("citric-acid-anhydrous", 0.5), ("cream-of-tartar", 0.5))
    yield replace(plan, pours=sips, look_by="colour", activator=mix)
    yield replace(plan, dose_g=replace(plan.dose_g, best=0.4), pours=(replace(pour, total_g=0.4),))
    yield replace(plan, after=replace(plan.after, colour=plan.before.colour))
    sour = replace(plan.amounts[0], level="stop")
    yield replace(plan, amounts=(sour, replace(plan.amounts[1], in_step=True)))


def said(plan: Any) -> str:
    text = plain(render("plan", plan=plan, instead=(), more=False, cautions=False, bare=False))
    return " ".join(text.split())


def test_a_forbidden_plan_tells_nothing_to_pour() -> None:
    soak = Tub.demo("1")
    unread = {"alkalinity": None, "hardness": None, "instrument": None, "water": {"ph": None}}
    toddler = soak.with_(child_age="2 years", **unread).plan(target="pink").plan
    # Foam bath is for nobody under three, however little acid any tap water takes.
    assert toddler.first_portion is not None
    for plan in (soak.pour("60 g").plan, toddler):
        (stop, *_) = (caution for caution in plan.cautions if caution.level == "stop")
        text = said(plan)
        assert "POUR" not in text
        assert "Pour it: no" in text
        assert f"X stop: {stop.message}" in text


def test_a_plan_tells_its_most_and_who_is_in_the_tub() -> None:
    plan = Tub.demo("1").plan(target="5.7").plan
    plan = replace(plan, maximum_g=14.9, dose_g=replace(plan.dose_g, best=9.2, high=21.0))
    text = said(plan)
    assert "POUR 9 g of citric acid" in text
    assert "Never more than 14 g in all." in text
    assert "Once only, with nobody in the tub: weigh 5 g more" in text
    needs_reason = replace(plan.cautions[0], level="justify")
    assert f"!! {level('justify')}: {needs_reason.message}" in said(
        replace(plan, cautions=(needs_reason,))
    )


def test_a_forbidden_soak_tells_nothing_to_pour() -> None:
    soak = make_soak(demo_recipe("1"), dose_g=40.0, manner=Manner(minutes=5))
    text = plain(render("soak", soak=soak, more=False, cautions=False, on_paper=False))
    assert soak.course is not None
    assert soak.steps[0].printed_g == 40.0
    assert "POUR" not in text
    assert "Nobody gets in for" not in text


def test_shares_in_words_never_promise_all() -> None:
    assert [of_ten(share) for share in (0.949, 0.951, 0.44, 0.02)] == [
        "9 of 10", "10 of 10", "4 of 10", "hardly any",
    ]  # fmt: skip
    assert (ph_at_least(5.49), ph_at_most(5.41)) == ("5.4", "5.5")


@pytest.mark.slow
def test_every_branch_of_a_plan_is_rendered(branches_missed: Missed) -> None:
    shown = [(True, False, False), (False, True, False), (False, False, False)]
    contexts = [
        {"plan": plan, "instead": effects_instead(plan), "more_colour": more}
        | dict(zip(("more", "cautions", "bare"), how, strict=True))
        for plan in plans()
        for how in shown
        for more in (
            None,
            MoreColour(2 * plan.colours, 0.8, "mind", (True, False, True, False)),
        )
    ]
    contexts += [told | {"of_product": True} for told in contexts if told["more_colour"]]
    contexts += [told | {"advised_g": grams} for told in contexts[:90] for grams in (0.5, 99.0)]
    contexts += [told | {"sachets": many} for told in contexts[:90] for many in (1, 2)]
    contexts += [told | {"sachets": 1, "advised_g": 0.5} for told in contexts[:90]]
    # For a tub in Python nobody has tried what more colour does.
    contexts += [{key: told[key] for key in told if key != "more_colour"} for told in contexts]
    assert branches_missed("plan", contexts, ["effects-shared"]) == []


@pytest.mark.slow
def test_an_end_that_is_rarer_than_the_change_is_told_with_its_own_share() -> None:
    inputs = demo_recipe("5")
    plan = make_plan(inputs)
    text = said(plan)
    assert "Clear change in 9 of 10 such tubs, pink in 7 of 10." in text
    # Counted again, in the tub as read: words and names of its possible pigments.
    setting = case(inputs).setting
    ends = possible_labs(inputs, setting, np.array([plan.after.ph]))[:, 0]
    words = colour_word(ends)
    pink = colour_family(words, published_name(ends, words)) == "pink"
    assert plan.odds.named_share == pytest.approx(np.mean(pink | (words == "pink")), abs=0.1)
    # Where nearly all that turn have the word, one share says it.
    assert "Clear change in 8 of 10 such tubs. First in" in said(make_plan(demo_recipe("1")))


@pytest.mark.slow
def test_a_brew_of_measured_strength_is_told_in_petals() -> None:
    # 6 per cm is what 2 g of petals in 100 mL usually give, 1 to 4 g where they are strong or weak.
    assert "420 mL butterfly pea brew (usually 20 g dried petals/L, 10 to 40)" in said(
        make_plan(demo_recipe("1"))
    )
    assert "900 mL black carrot brew (20 g/L)" in said(make_plan(demo_recipe("5")))


@pytest.mark.slow
def test_too_little_colour_ends_in_a_decision_that_holds() -> None:
    inputs = demo_recipe("2")
    plan = make_plan(inputs)
    more = with_more_colour(inputs, plan)
    assert more is not None
    text = plain(PlanWish().text(PlanDocument(plan, more_colour=more)))
    assert "Pour nothing." in text
    assert "nearly\n  like clear water" in text
    amount = more.colours[0].amount
    assert "pigment would" not in text
    printed = [line.strip() for line in text.splitlines() if " = " in line]
    assert printed[0] == f'amount = "{amount:g} mL"'
    written = demo_text("2")
    for line in printed:
        # Each stands once in the recipe, and is replaced exactly as it is printed.
        key = line.split(" = ")[0]
        (_, colour), had = written.split("[[colour]]"), len(written.splitlines())
        (old,) = [each for each in colour.splitlines() if each.startswith(f"{key} = ")]
        written = written.replace(f"[[colour]]{colour}", f"[[colour]]{colour.replace(old, line)}")
        assert len(written.splitlines()) == had
    again = make_plan(parse_recipe(written))
    assert again.pours
    assert again.verdicts.pour.allowed
    assert again.odds.clear_share == more.clear_share
    page = plain(PlanWish().text(PlanDocument(again)))
    assert "This brew (butterfly pea) is not preserved" in page
    assert page.rstrip().count("\n") < PLAN_LINES
    # Nothing of it where more does not help, or is not what is missing.
    assert "More of this colour does not help" in plain(PlanWish().text(PlanDocument(plan)))
    assert with_more_colour(demo_recipe("1"), make_plan(demo_recipe("1"))) is None


def test_commands_that_a_plan_offers_name_its_recipe() -> None:
    plan = Tub.demo("1").plan().plan
    told = {"plan": plan, "instead": (), "more": False, "cautions": False, "bare": False}
    assert "huedose jar soak.toml --instructions" in plain(
        render("plan", whose=" soak.toml", **told)
    )


def test_too_much_of_a_base_is_not_called_sour() -> None:
    strip = {"alkalinity": "120 ppm", "instrument": "strip"}
    soda = Tub.demo().with_(parts={"washing-soda": 1}, bathers="adult", child_age=None, water=strip)
    plan = replace(soda.pour("3 g").plan, wish=Wish("none", ""))
    wide = replace(plan, dose_g=replace(plan.dose_g, high=300.0))
    told = {"instead": (), "more": True, "cautions": False, "bare": False}
    text = " ".join(plain(render("plan", plan=wide, **told)).split())
    assert "may get too soapy" in text
    assert "may get too sour" not in text
