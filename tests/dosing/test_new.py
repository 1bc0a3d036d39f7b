"""The questions of ``new``: what is accepted and what is proposed; nothing is half-written."""

from __future__ import annotations

import io
import re
import sys
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from dosing.bath.spreads import reading_spreads
from dosing.cli import asking
from dosing.cli.asking import QUESTIONS, interview
from dosing.effects.gallery import gallery
from dosing.effects.proposal import (
    EffectProposal,
    ProposedRecipe,
    Wish,
    propose,
    proposed_recipe,
    shelf_in_words,
    wish_in_words,
)
from dosing.effects.shelf import Shelf
from dosing.plan.answer import make_plan
from dosing.recipe import parse_recipe
from dosing.recipe.answers import Answers, take
from dosing.recipe.quantities import InputError
from dosing.recipe.writing import recipe_toml
from dosing.words.marks import plain
from dosing.words.templates import render
from indicator.notes import say
from indicator.pigments import SHIPPED
from indicator.tables import read_toml

Run = Callable[..., tuple[int, str, str]]
UNKNOWN = "don't know"
TABLES = ("tub", "water", "foam_bath", "wish")


def answered(question: str, text: str) -> str:
    answers = Answers()
    take(answers, question, text)
    return recipe_toml("", "A bath", {name: getattr(answers, name) for name in TABLES})


@pytest.mark.parametrize(
    ("question", "text", "parts"),
    [
        ("tub", "40 gal", ['volume = "40 gal"']),
        ("tub", "150 x 60 cm", ['length = "150 cm"', 'width = "60 cm"', "fill = "]),
        ("tub", "150 x 60 cm, 25 cm deep", ['length = "150 cm"', 'fill = "25 cm"']),
        ("tub", "59 in by 24 in", ['length = "59 in"', 'width = "24 in"']),
        ("tub", "Child's bath", ['volume = "40 L"']),
        ("tub", "child's bath, full", ['volume = "50 L"']),
        ("tub", "my tub is 5 feet long and 2 feet wide", ['length = "5 ft"', 'width = "2 ft"']),
        ("tub", "60 x 30 x 15 inches", ['length = "60 in"', 'width = "30 in"', 'fill = "15 in"']),
        ("tub", "6 inches deep", ['volume = "83.8 L"', 'floor_area = "5500 cm2"']),
        ("tub", "120 L, 25 cm deep", ['volume = "120 l"', 'floor_area = "4800 cm2"']),
        ("tub", "usual, low", ['volume = "75 L"']),
        ("tub", "500 mL jar", ['volume = "500 ml"']),
        ("water", "hardness 17 dH, carbonate hardness 11 dH", ['hardness = "17 dH"', "carb"]),
        ("water", "110 mg/L alkalinity, pH 7,4", ['alkalinity = "110 mg/l"', 'ph = "7.4"']),
        ("water", "120 ppm", ['alkalinity = "120 ppm"', 'instrument = "not named"']),
        ("water", "240 ppm by strip", ['alkalinity = "240 ppm"', 'instrument = "not named"']),
        ("water", "240", ['alkalinity = "240 ppm"', 'instrument = "not named"']),
        ("water", "0", ['alkalinity = "0 ppm"']),
        ("water", "I don't know, but it's hard", ['like = "hard"']),
        ("water", "alkalinity 146 mg/L HCO3", ['bicarbonate = "146 mg/l"']),
        ("water", "Soft water", ['like = "soft"']),
        ("water", "hardness 8 dH", ['hardness = "8 dH"']),
        (
            "water",
            "pH 7.8 and alkalinity 120 ppm, by drop kit",
            ['ph = "7.8"', 'alkalinity = "120 ppm"', 'instrument = "drop kit"'],
        ),
        ("foam", "two tablespoons", ['amount = "2 tablespoons"']),
        ("foam", "half a cup of bubble bath", ['amount = "half a cup"']),
        ("foam", "about a cup", ['amount = "a cup"']),
        ("foam", "1/2 cup", ['amount = "1/2 cup"']),
        ("foam", "20 drops", ['amount = "20 drops"']),
        ("foam", "0.04 L", ['amount = "0.04 l"']),
        ("people", "me and my 4 year old", ['bathers = "child"', 'child_age = "4 years"']),
        ("people", "a baby", ['bathers = "child"', 'child_age = "12 months"']),
        ("people", "adults, no kids", ['bathers = "adult"']),
        ("people", "my nephew, 18 months", ['bathers = "child"', 'child_age = "18 months"']),
        ("people", "two adults", ['bathers = "adult"']),
        ("people", "nobody, a display", ['bathers = "nobody"', 'purpose = "show"']),
        ("people", "my kids, 8 and 2", ['bathers = "child"', 'child_age = "2 years"']),
        ("people", "6 years, baby", ['child_age = "12 months"']),
        ("people", "i am 12", ['bathers = "child"', 'child_age = "12 years"']),
        ("people", "2 adults and 1 child", ['bathers = "child"']),
        ("people", "for sale in the EU", ['purpose = "sale"', 'market = "EU"']),
        ("people", "me, for sale in the US", ['bathers = "adult"', 'market = "US"']),
        ("people", "a class of 24, jars", ['purpose = "class"', '"nobody"', 'view = "jar"']),
        ("people", "my class of 30 children", ['purpose = "class"', 'bathers = "child"']),
    ],
)
def test_an_answer_becomes_the_recipe(question: str, text: str, parts: list[str]) -> None:
    recipe = answered(question, text)
    for part in parts:
        assert part in recipe
    parse_recipe(recipe)


def test_we_is_not_a_country_and_a_sale_is_judged_as_for_a_child() -> None:
    assert "market" not in answered("people", "for us")
    assert "bathers" not in answered("people", "for sale in the US")


@pytest.mark.parametrize(
    ("said", "first", "others"),
    [
        ("sale in the US, EU and UK", "US", "EU and UK"),
        ("sale in the EU, UK and US", "EU", "UK and US"),
        ("sale in the EU", "EU", None),
    ],
)
def test_of_several_markets_the_first_is_taken_and_that_is_said(
    said: str, first: str, others: str | None
) -> None:
    answers = Answers()
    told = take(answers, "people", said)
    assert answers.wish["market"] == first
    assert f"in the {first}" in told
    assert (f"write another for the {others}" in told) is (others is not None)


def test_a_bare_reading_is_less_sure_than_a_named_one() -> None:
    bare, named = (
        reading_spreads(parse_recipe(answered("water", text)))
        for text in ("240 ppm", "alkalinity 240 ppm by strip")
    )
    assert bare.alkalinity_meq_l == named.alkalinity_meq_l
    assert bare.alkalinity_sd > 1.5 * named.alkalinity_sd


@pytest.mark.parametrize("unknown", ["", "?", "don't know", "Dont Know", "I don’t know", "idk"])
def test_not_knowing_is_an_answer_with_a_decision(unknown: str) -> None:
    answers = Answers()
    for question in ("people", "water", "tub", "foam"):
        assert take(answers, question, unknown).startswith("Not known: ")
    assert answers == Answers(foam_bath={"amount": "40 mL"})


def test_no_foam_is_an_answer_too() -> None:
    assert "foam_bath" not in answered("foam", "none")


@pytest.mark.parametrize(
    ("question", "text"),
    [
        ("tub", "blue"),
        ("tub", "a small corner tub"),  # anything from 40 to 120 L
        ("tub", "small"),
        ("tub", "4000000 L"),
        ("tub", "almost full"),
        ("tub", "half of 120 L"),
        ("tub", "1 x 1 x 1 x 1 m"),
        ("tub", "1 200 L"),
        ("tub", "120 in"),  # deep: more water than any tub
        ("tub", "3 x 2 x 1 m"),
        ("tub", "100-150 L"),
        ("tub", "-120 L"),
        ("tub", "not large"),
        ("tub", "x" * 300),
        ("water", "wet"),
        ("water", "12"),  # ppm or degrees
        ("water", "45"),
        ("water", "alkalinity lots"),
        ("water", "quite hard, 300 something"),
        ("water", "total alkalinity 110"),
        ("water", "alkalinity 1/2 meq/l"),
        ("water", "alkalinity 80-120 ppm"),
        ("water", "alkalinity 120 ppm hardness 8 dH"),
        ("water", "hard, not soft"),
        ("water", "hardness 140 ppm as Ca"),
        ("foam", "a squirt"),
        ("foam", "a handful"),
        ("foam", "no more than 40 mL"),
        ("foam", "2 x 20 mL"),
        ("people", "the cat"),
        ("people", "nobody but me"),
        ("people", "no adults"),
        ("people", "child -5"),
    ],
)
def test_nonsense_gets_one_sentence_and_changes_nothing(question: str, text: str) -> None:
    answers = Answers()
    with pytest.raises(InputError) as refused:
        take(answers, question, text)
    assert str(refused.value).count("\n") == 0
    assert str(refused.value).endswith(".")
    assert answers == Answers()


@pytest.mark.parametrize(
    ("text", "start", "end"),
    [
        ("blue to violet", "blue", "violet"),
        ("from green into orange", "green", "orange"),
        ("blue -> #8060c0", "blue", None),
        ("teal, pink", "teal", "pink"),
        ("pink", "", "pink"),
        ("blue to pink for adults", "blue", "pink"),
        ("violet for my 6 year old", "", "violet"),
    ],
)
def test_a_wish_is_two_colours_or_the_last(text: str, start: str, end: str | None) -> None:
    first, last = wish_in_words(text)[0]
    assert (first.word if first else "", last.word) == (start, end)


@pytest.mark.parametrize("text", ["blue to soup", "#8060c0", "blue to violet to pink", "pretty"])
def test_a_wish_that_is_no_colour_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        wish_in_words(text)


@pytest.mark.parametrize(("text", "near"), [("blue to pinck", "pink"), ("gren to orange", "green")])
def test_a_wish_that_is_nearly_a_colour_gets_its_name(text: str, near: str) -> None:
    with pytest.raises(InputError, match=f"did you mean '{near}'"):
        wish_in_words(text)


@pytest.mark.parametrize("text", ["7 dH", "pH 7.4, 12 fH", "8 gpg"])
def test_a_bare_degree_is_asked_which_reading_it_is(text: str) -> None:
    with pytest.raises(InputError, match=r"of what\? Write hardness .* or alkalinity "):
        take(Answers(), "water", text)


def shelf(text: str) -> Shelf:
    found = shelf_in_words(text, SHIPPED)[0]
    assert found is not None
    return found


def wish(text: str) -> Wish:
    return wish_in_words(text)[0]


BEST = gallery(bathers="adult")[0]
PAIR = f"{BEST.start} to {BEST.end}"


def test_what_can_be_done_as_wished_is_proposed() -> None:
    proposal = propose(wish(PAIR), {"bathers": "adult"}, None)
    assert proposal.effect == BEST
    assert proposal.as_wished
    assert (proposal.wished, proposal.to_buy, proposal.forbidden) == (None, (), ())


def test_another_acid_of_the_shelf_serves_too() -> None:
    names = ", ".join(which.name for which in BEST.colourants)
    proposal = propose(wish(PAIR), {"bathers": "adult"}, shelf(f"{names}, cream of tartar"))
    assert proposal.as_wished
    assert proposal.effect == replace(BEST, powder="cream-of-tartar")


def test_acids_alone_say_nothing_of_colours() -> None:
    proposal = propose(wish(PAIR), {"bathers": "adult"}, shelf("citric acid and cream of tartar"))
    assert proposal.as_wished


def test_what_people_call_it_is_on_the_shelf() -> None:
    found = shelf("petals, acid and soda")
    assert [which.name for which in found.colours] == ["butterfly-pea"]
    assert found.powders == ("citric-acid-anhydrous", "sodium-bicarbonate")


@pytest.mark.parametrize(
    "text",
    [
        "butterfly pea tea",
        "butterflypea",
        "butterfly pee",
        "butterfly pea flower tea",
        "some dried butterfly pea flowers",
    ],
)
def test_a_pigment_is_known_by_what_it_is_sold_as_and_nearly_spelled(text: str) -> None:
    found, told = shelf_in_words(f"{text}, citric acid", SHIPPED)
    assert found is not None
    assert [which.name for which in found.colours] == ["butterfly-pea"]
    assert told == "Taken as: butterfly pea and citric acid."


@pytest.mark.parametrize(
    "text", ["tea", "elder flower tea", "a yellow dye", "yellow 7", "blue dye"]
)
def test_between_two_names_nothing_is_guessed(text: str) -> None:
    with pytest.raises(ValueError, match="huedose colours lists the colours") as refused:
        shelf_in_words(f"red cabbage, {text}", SHIPPED)
    assert "sunset-yellow" not in str(refused.value)


@pytest.mark.slow
def test_a_dye_on_the_shelf_is_kept_for_a_wish_that_needs_it() -> None:
    own, asked_for = shelf("red cabbage, tartrazine, citric acid"), wish("green to orange")
    water = {"alkalinity": "120 ppm", "instrument": "strip"}
    tables = {"tub": {"volume": "120 L"}, "water": water, "wish": {"bathers": "adult"}}
    proposal = propose(asked_for, tables["wish"], own)
    made = parse_recipe(proposed_recipe(tables, asked_for, proposal, own, SHIPPED).text)
    assert [colour.name for colour in made.colours] == ["red-cabbage", "tartrazine"]
    assert str(make_plan(made).before.colour.word) == "green"


def test_what_the_shelf_lacks_is_named() -> None:
    proposal = propose(wish("blue to pink"), {"bathers": "adult"}, shelf("butterfly pea, citric"))
    assert not proposal.as_wished
    assert proposal.effect is not None
    assert proposal.colours == ["butterfly pea"]
    assert proposal.to_buy
    assert not proposal.searched


def test_a_market_that_forbids_a_wish_is_named_at_once() -> None:
    barred = next(effect for effect in gallery(bathers="child") if effect.markets["US"] == "no")
    asked = wish(f"{barred.start} to {barred.end}")
    for effect in gallery(bathers="child", market="US"):
        if (effect.start, effect.end) == (barred.start, barred.end):
            pytest.skip("the pair can be had with colours that are listed")
    for purpose, forbidden in (("sale", True), ("own", False)):
        proposal = propose(asked, {"purpose": purpose, "market": "US"}, None)
        assert bool(proposal.forbidden) is forbidden
        text = render("new", proposal=proposal, wish=asked, purpose=purpose)
        assert ("may not colour a cosmetic" in text) is forbidden
        assert proposal.as_wished is not forbidden


def test_a_colour_of_ones_own_and_a_display_are_searched_for() -> None:
    assert propose(wish("blue to #8060c0"), {"bathers": "adult"}, None).searched
    pea = shelf("butterfly pea, citric acid")
    assert propose(wish("blue to pink"), {"bathers": "nobody"}, pea).searched


def every_branch() -> list[tuple[EffectProposal, Wish | None, str]]:
    done = propose(None, {"bathers": "adult"}, None)
    lacking = propose(wish("blue to pink"), {}, shelf("butterfly pea"))
    sold = replace(done, market="EU", unclear=("elderberry",))
    barred = replace(lacking, market="US", forbidden=("red cabbage",))
    nothing = propose(wish(PAIR), {}, shelf("turmeric, epsom salt"))
    searched = propose(wish("blue to #8060c0"), {}, None)
    acids = propose(wish("blue to purple"), {}, shelf("red cabbage, citric acid, cream of tartar"))
    pink = wish("blue to pink")
    assert pink is not None
    return [
        (lacking, (None, pink[1]), "own"),
        (lacking, None, "own"),
        (done, None, "own"),
        (lacking, wish("blue to pink"), "own"),
        (sold, wish(PAIR), "sale"),
        (barred, wish("blue to pink"), "gift"),
        (replace(done, market=None), wish(PAIR), "sale"),
        (nothing, wish(PAIR), "own"),
        (replace(lacking, searched=True), wish("blue to pink"), "own"),
        (searched, wish("blue to #8060c0"), "own"),
        (acids, wish("blue to purple"), "own"),
        (replace(nothing, market="US", forbidden=("red cabbage",)), wish(PAIR), "sale"),
    ]


def test_every_branch_of_the_proposal_is_said_in_few_lines(
    branches_missed: Callable[..., list[str]],
) -> None:
    cases = [{"proposal": p, "wish": w, "purpose": u} for p, w, u in every_branch()]
    assert branches_missed("new", cases) == []
    texts = [plain(render("new", proposal=p, wish=w, purpose=u)) for p, w, u in every_branch()]
    assert len(set(texts)) == len(texts)
    assert max(text.count("\n") + 1 for text in texts) <= 11
    assert not [text for text in texts if "{" in text or "None" in text]


def test_an_acid_that_is_left_over_or_lacking_is_told() -> None:
    acids = propose(wish("blue to purple"), {}, shelf("red cabbage, citric acid, cream of tartar"))
    assert acids.other_acids == ("cream of tartar",)
    assert not acids.powder_lacks
    bare = propose(wish("blue to purple"), {}, shelf("red cabbage"))
    assert bare.powder_lacks
    said = render("new", proposal=bare, wish=wish("blue to purple"), purpose="own")
    assert "citric acid (to buy)" in " ".join(said.split())
    assert not propose(wish("blue to purple"), {}, None).powder_lacks


@pytest.mark.parametrize("people", ["0", "my child of 0"])
def test_nobody_is_no_years_old(people: str) -> None:
    with pytest.raises(InputError, match="who bathes"):
        take(Answers(), "people", people)


def test_a_sale_hears_both_reasons_and_the_way_out() -> None:
    proposal = propose(wish(PAIR), {"purpose": "sale", "market": "EU"}, None)
    assert proposal.unclear
    said = " ".join(render("new", proposal=proposal, wish=wish(PAIR), purpose="sale").split())
    for part in ("ask a safety assessor", "The brew keeps for a few days", "preserved = true"):
        assert part in said
    own = render("new", proposal=proposal, wish=wish(PAIR), purpose="own")
    assert "preserved = true" not in own


def test_a_share_of_tubs_says_what_it_counts() -> None:
    proposal = propose(wish(PAIR), {"bathers": "adult"}, None)
    said = render("new", proposal=proposal, wish=wish(PAIR), purpose="own")
    assert "with untested petals both colours come in" in said


@pytest.mark.slow
def test_what_a_plan_shows_in_place_of_a_wish_is_known() -> None:
    water = {"alkalinity": "120 ppm", "instrument": "drop kit"}
    tables = {"tub": {"volume": "120 L"}, "water": water, "foam_bath": {}, "wish": {}}
    pea = shelf("butterfly pea, citric acid")
    for wished in (None, wish("green to orange"), wish("teal to blue"), wish("blue")):
        proposal = propose(wished, {}, pea)
        written = proposed_recipe(tables, wished, proposal, pea, SHIPPED)
        plan = make_plan(parse_recipe(written.text))
        words = [str(sight.colour.word) for sight in (plan.before, plan.after)]
        ends = [
            end.word if end else shown
            for end, shown in zip(wished or (None, None), words, strict=True)
        ]
        assert plan.wish_met
        assert bool(written.instead) == (words != ends)
        phrases = (str(plan.before.colour.phrase), str(plan.after.colour.phrase))
        assert phrases[0] == phrases[1] or written.instead in ((), phrases)


def test_questions_are_one_line_each() -> None:
    asked = read_toml("text/en.toml")["new"]["ask"]
    assert tuple(asked) == QUESTIONS
    for line in asked.values():
        assert len(line.format(number=1, count=6)) <= 80


def test_what_the_first_question_offers_is_understood() -> None:
    offered = re.findall(r"\w+ to \w+|\w+$", read_toml("text/en.toml")["new"]["ask"]["effect"])
    assert len(offered) >= 3
    for text in offered:
        assert wish_in_words(text)[0][1].word in text


def test_a_proposal_is_for_a_usual_tub_and_asks_for_no_reading_that_was_given() -> None:
    proposal = propose(wish(PAIR), {"bathers": "adult"}, None)
    assert "usual tub" in render("new", proposal=proposal, wish=wish(PAIR), purpose="own")
    values = {"wish": PAIR, "start": "blue", "end": "purple"}
    assert "in your own tub" in say("new.instead", values)
    assert "reading" not in say("new.left-open")


@pytest.mark.slow
def test_the_recipe_is_of_the_makers_own_tub() -> None:
    water = {"alkalinity": "95 ppm", "hardness": "6 dH", "instrument": "drop kit"}
    tables = {
        "tub": {"volume": "60 L"},
        "water": water,
        "foam_bath": {},
        "wish": {"bathers": "adult"},
    }
    proposal = propose(wish(PAIR), {"bathers": "adult"}, None)
    written = proposed_recipe(tables, wish(PAIR), proposal, None, SHIPPED)
    made = parse_recipe(written.text)
    assert made.tub.volume_l == 60.0
    assert {colour.colourant for colour in made.colours} <= set(BEST.colourants)
    assert written.found
    assert made.wish.target is not None


@pytest.mark.slow
def test_no_ph_is_promised_where_nobody_read_the_water() -> None:
    tables = {"tub": {"volume": "120 L"}, "water": {}, "foam_bath": {}, "wish": {}}
    proposal = propose(None, {}, None)
    written = proposed_recipe(tables, None, proposal, None, SHIPPED)
    inputs = parse_recipe(written.text)
    assert written.left_open is (inputs.wish.target is None)
    # Whether a pH is written or not, the plan of what was written holds.
    assert make_plan(inputs).reached


def test_what_does_not_turn_gets_a_clear_tint() -> None:
    tables = {"tub": {"volume": "120 L"}, "water": {}, "foam_bath": {}, "wish": {}}
    turmeric = shelf("turmeric, epsom salt")
    proposal = propose(None, {}, turmeric)
    assert proposal.effect is None
    made = parse_recipe(proposed_recipe(tables, None, proposal, turmeric, SHIPPED).text)
    assert [colour.name for colour in made.colours] == ["turmeric"]
    assert made.activator.parts == {"epsom-salt": 1.0}
    assert made.wish.target is None


def asked(monkeypatch: pytest.MonkeyPatch, huedose: Run, path: Path, text: str) -> tuple[int, str]:
    monkeypatch.setattr(sys, "stdin", io.StringIO(text))
    code, _, err = huedose("new", path)
    return code, err


@pytest.mark.parametrize("question", QUESTIONS)
def test_nonsense_five_times_counts_as_not_known_and_keeps_the_other_answers(
    monkeypatch: pytest.MonkeyPatch, question: str
) -> None:
    lines = ["blue to violet", "me", "butterfly pea", "soft", "usual", "none"]
    lines[QUESTIONS.index(question)] = "\n".join(["soup"] * 5)
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n".join(lines) + "\n"))
    said = io.StringIO()

    def as_told(tables: dict[str, Any], *_: object) -> ProposedRecipe:
        return ProposedRecipe(recipe_toml("", "A bath", tables), found=True, left_open=False)

    # What is looked for in the tub takes seconds and is not asked here.
    monkeypatch.setattr(asking, "proposed_recipe", as_told)
    tables = tomllib.loads(interview(Path("bath.toml"), said))
    assert "After 5 tries it is taken as don't know" in " ".join(said.getvalue().split())
    assert said.getvalue().count("Not known: ") == 1
    kept = {"people": tables.get("wish", {}).get("bathers"), "water": tables.get("water")}
    unknown = {"people": None, "water": None}
    expected = {"people": "adult", "water": {"like": "soft"}}
    for key, value in kept.items():
        assert value == (unknown if key == question else expected)[key]


def test_answers_that_end_early_write_nothing(
    monkeypatch: pytest.MonkeyPatch, huedose: Run, tmp_path: Path
) -> None:
    path = tmp_path / "bath.toml"
    code, err = asked(monkeypatch, huedose, path, "blue to pink\nme\n")
    assert (code, list(tmp_path.iterdir())) == (2, [])
    assert "question 3 of 6" in err


def test_an_interruption_writes_nothing(
    monkeypatch: pytest.MonkeyPatch, huedose: Run, tmp_path: Path
) -> None:
    def interrupted() -> str:
        raise KeyboardInterrupt

    monkeypatch.setattr(sys, "stdin", SimpleNamespace(readline=interrupted))
    code, _, err = huedose("new", tmp_path / "bath.toml")
    assert (code, err) == (130, "")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_a_recipe_that_is_there_is_kept(
    monkeypatch: pytest.MonkeyPatch, huedose: Run, tmp_path: Path
) -> None:
    path = tmp_path / "bath.toml"
    path.write_text("mine", encoding="utf-8")
    code, err = asked(monkeypatch, huedose, path, "\n" * 6)
    assert (code, path.read_text(encoding="utf-8")) == (2, "mine")
    assert "--overwrite" in err
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n" * 6))
    assert huedose("new", path, "--overwrite")[0] in (0, 3)
    assert path.read_text(encoding="utf-8").startswith("# Written from your answers")


@pytest.mark.slow
@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "cp437"])
def test_questions_are_asked_in_any_console(
    monkeypatch: pytest.MonkeyPatch, huedose: Run, tmp_path: Path, encoding: str
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n" * 6))
    code, out, err = huedose("new", tmp_path / "bath.toml", encoding=encoding, COLUMNS="60")
    # Whoever knows nothing gets a safe plan all the same.
    assert (code, err) == (0, "")
    assert "6/6" in out
    # The path of the recipe is not broken, however narrow the window.
    assert max(len(line) for line in out.splitlines() if "bath.toml" not in line) <= 60


@pytest.mark.slow
def test_a_class_gets_what_no_bather_may_have(
    monkeypatch: pytest.MonkeyPatch, huedose: Run, tmp_path: Path
) -> None:
    lines = "blue to pink\na class, jars\nbutterfly pea, citric acid\n120 ppm\n1 L\nnone\n"
    monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
    code, out, _ = huedose("new", tmp_path / "class.toml", COLUMNS="100")
    made = parse_recipe((tmp_path / "class.toml").read_text(encoding="utf-8"))
    assert (code, made.wish.bathers, made.wish.view) == (0, "nobody", "jar")
    assert "NOT FOR BATHING" in out


@pytest.mark.slow
def test_a_file_that_comes_while_questions_are_answered_is_kept(
    monkeypatch: pytest.MonkeyPatch, huedose: Run, tmp_path: Path
) -> None:
    path = tmp_path / "bath.toml"
    lines = iter(["\n"] * 6)

    def answer() -> str:
        path.write_text("mine", encoding="utf-8")
        return next(lines)

    monkeypatch.setattr(sys, "stdin", SimpleNamespace(readline=answer))
    code, _, err = huedose("new", path)
    assert (code, path.read_text(encoding="utf-8")) == (2, "mine")
    assert "--overwrite" in err


@pytest.mark.parametrize(
    ("said", "asks"),
    [
        ("me, pregnant", True),
        ("pregnant", True),
        ("grandmother with heart trouble", True),
        ("child, 6 years, eczema", True),
        ("me", False),
        ("child, 6 years", False),
    ],
)
def test_who_is_ill_or_pregnant_is_sent_to_a_doctor(said: str, asks: bool) -> None:
    # In pregnancy or illness ask a doctor first: common practice, no source.
    assert ("Ask a doctor" in take(Answers(), "people", said)) is asks


@pytest.mark.parametrize(
    "said", ["fresh red cabbage", "a head of red cabbage", "red cabbage leaves"]
)
def test_a_plant_is_known_however_it_lies_in_the_kitchen(said: str) -> None:
    assert [which.name for which in shelf(f"{said}, citric acid").colours] == ["red-cabbage"]
