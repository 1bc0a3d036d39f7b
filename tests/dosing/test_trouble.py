"""Causes of what went wrong: planted in simulated worlds, and told in few lines."""

from __future__ import annotations

import csv
import importlib.util
import sys
import tomllib
from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from dosing.plan.answer import make_plan
from dosing.recipe import demo_recipe
from dosing.words.marks import plain
from dosing.words.templates import render
from dosing.workshop.product_file import demo_product_text, product_from
from dosing.workshop.trouble import (
    Cause,
    TroubleAnswer,
    _expected,
    complaint_of,
    names_of_tests,
    tells_of_hurt,
    trouble,
)
from indicator.pigments import SHIPPED

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
COMPLAINTS = {
    "stayed-blue": "The tub just stayed blue",
    "no-tint": "there’s hardly any colour",
    "grey": "it looks muddy",
    "cloudy": "went all milky",
    "no-foam": "the bubbles vanished",
    "stung": "My skin was itching afterwards",
    "faded": "colour faded within the hour",
    "clumped": "sachet is one hard block",
    "turned-too-far": "went straight to pink",
}
GRAMS = 12.0


@cache
def asked(happened: str, **seen: str) -> TroubleAnswer:
    answers = {name.replace("_", "-"): answer for name, answer in seen.items()}
    return trouble(happened, demo_recipe(1), answers, GRAMS)


def first(answer: TroubleAnswer) -> str:
    return answer.causes[0].name


@pytest.mark.parametrize(("complaint", "words"), COMPLAINTS.items())
def test_makers_own_words_are_understood(complaint: str, words: str) -> None:
    assert complaint_of(words) == complaint
    assert complaint_of(complaint.replace("-", " ")) == complaint


@pytest.mark.parametrize(
    ("complaint", "words"),
    [
        ("swallowed", "he drank some of it"),
        ("swallowed", "swallowed a mouthful"),
        ("clumped", "sachet got wet"),
        ("clumped", "powder hard as a rock"),
        ("grey", "wrong colour"),
        ("grey", "the colour was all wrong"),
        ("grey", "went brown not orange"),
        ("grey", "the colour went grey"),
        ("turned-too-far", "turned pink"),
        ("stayed-blue", "didnt go violet"),
        ("stayed-blue", "did not go pink"),
        ("stayed-blue", "went violet not pink"),
        ("stayed-blue", "it doesnt turn"),
        ("stayed-blue", "it wont change"),
        ("no-foam", "it won't foam"),
        ("cloudy", "poured the bottle in and the water went cloudy"),
    ],
)
def test_short_words_and_words_without_apostrophes_are_understood(
    complaint: str, words: str
) -> None:
    assert complaint_of(words) == complaint


@pytest.mark.slow
def test_what_was_seen_moves_the_ranking() -> None:
    assert first(asked("stayed blue", strip="180 ppm", softener="no")) == "alkalinity-higher"
    assert first(asked("stayed blue", strip="180 ppm", softener="yes")) == "softened-water"
    assert first(asked("stayed blue", strip="80 ppm", litres="165 L")) == "larger-tub"
    assert first(asked("no tint", pale="yes", brown="no")) == "weak-brew"
    assert first(asked("cloudy", oil_used="yes")) == "oil"
    assert first(asked("too far", strip="40 ppm")) == "alkalinity-lower"


def test_the_test_named_tells_the_first_two_apart() -> None:
    answer = asked("stayed blue", strip="180 ppm")
    assert answer.test is not None
    assert answer.test.name == "softener"
    names = [cause.name for cause in answer.causes[:2]]
    said = {
        says: first(asked("stayed blue", strip="180 ppm", softener=says)) for says in ("yes", "no")
    }
    assert said[answer.test.first_says] == names[0]
    assert set(said.values()) == set(names)


@pytest.mark.slow
def test_shares_are_those_of_all_causes() -> None:
    for words in COMPLAINTS:
        shares = [cause.share for cause in asked(words).causes]
        assert shares == sorted(shares, reverse=True)
        assert 0.5 < sum(shares) <= 1.0 + 1e-9


def test_who_was_hurt_is_helped_first_and_gets_no_dose() -> None:
    text = render("trouble", answer=asked("it stung"), typed="")
    assert text.lstrip().startswith("# First: everybody out of the water")
    assert "doctor" in " ".join(text.split())
    assert "15 minutes" in text
    told = [cause.now for cause in asked("it stung").causes]
    assert not any(" g " in line or "pour more" in line.casefold() for line in told)


@pytest.mark.parametrize("words", ["kid drank it", "She swallowed some", "licked the powder"])
def test_what_was_swallowed_gets_first_aid_and_no_causes(words: str) -> None:
    answer = asked(words)
    text = " ".join(render("trouble", answer=answer, typed="").split())
    assert answer.causes == ()
    # As safety data sheets of citric acid say it (common practice, no source).
    assert "rinse the mouth" in text
    assert "do not make anybody vomit" in text
    assert "poison centre" in text
    assert "Pour" not in text


@pytest.mark.parametrize(
    "words",
    [
        "got in her eyes", "in his eye", "eyes hurt", "allergic", "allergic reaction", "wheezing",
        "can't breathe", "can’t breathe", "cant breathe", "poured too much and her eyes burn",
    ],
)  # fmt: skip
def test_eyes_breath_and_allergy_get_first_aid_and_no_guess_at_shaved_skin(words: str) -> None:
    answer = asked(words)
    text = render("trouble", answer=answer, typed="")
    assert (answer.help_first, answer.causes) == (True, ())
    assert text.lstrip().startswith("# First: everybody out of the water")
    assert "ambulance" in text


@pytest.mark.parametrize("words", ["judged by eye, it stayed blue", "the tap smells of chlorine"])
def test_what_hurts_nobody_gets_no_first_aid(words: str) -> None:
    assert not tells_of_hurt(words)


@pytest.mark.parametrize(
    "words",
    [
        "I mixed it with chlorine cleaner and it smells", "a smell of gas", "acid and bleach",
        "there is a chlorine smell, I cleaned the tub with bleach", "mixed it with bleach",
        "bleach", "I bleached the tub before", "fumes, and my eyes burn", "it stinks of bleach",
        "it stayed blue so I put bleach in",
    ],
)  # fmt: skip
def test_bleach_or_gas_sends_everybody_out_of_the_room(words: str) -> None:
    # Acid sets chlorine free from hypochlorite: out, fresh air, rinse, medical advice, as safety
    # data sheets of bleach say it (common practice, no source).
    answer = asked(words)
    text = " ".join(render("trouble", answer=answer, typed="").split())
    assert text.startswith("# First: everybody out of the room, window open; do not breathe it in")
    for told in ("before it is aired", "ambulance", "poison centre", "Cough, short breath"):
        assert told in text
    assert (answer.complaint, answer.causes) == ("gas", ())
    assert tells_of_hurt(words)
    assert complaint_of("bleached in a day") == "faded"


@pytest.mark.parametrize(
    "words",
    [
        "we poured two sachets",
        "used two sachets by mistake",
        "poured 20 g by mistake",
        "by accident",
        "kid tipped it all in",
        "we used 30 g instead of 12 g",
        "put it in twice",
    ],
)
def test_a_mistake_is_too_much(words: str) -> None:
    assert asked(words).poured_too_much
    assert complaint_of("used bath oil by mistake, now it is cloudy") == "cloudy"
    assert complaint_of("drank it by accident") == "swallowed"
    # What is too strong may be the acid: no question of looks.
    assert complaint_of("it was too strong") == "turned-too-far"


@pytest.mark.parametrize("words", ["my toddler is two and sat in it", "baby was in the bath"])
def test_a_child_under_three_is_taken_out_and_watched(words: str) -> None:
    text = " ".join(render("trouble", answer=asked(words), typed="").split())
    assert "out of the bath, and rinse" in text
    assert "No foam bath under three years. Watch the skin" in text
    assert "doctor or a poison centre" in text
    assert complaint_of("baby oil made it cloudy") == "cloudy"


def test_who_slipped_is_helped() -> None:
    text = render("trouble", answer=asked("she slipped"), typed="")
    assert text.lstrip().startswith("# Slipped: help first")
    assert "doctor" in text
    assert "non-slip mat" in text
    both = render("trouble", answer=asked("he fell and his back is red"), typed="")
    assert "rinse with plenty" in both
    assert "Slipped" in both


@pytest.mark.parametrize(
    "words",
    ["tastes sour, and my eyes burn", "drank some, cannot breathe", "ate it and has a rash"],
)
def test_swallowed_and_hurt_get_both_first_aids(words: str) -> None:
    answer = asked(words)
    text = render("trouble", answer=answer, typed="")
    assert answer.causes == ()
    assert "rinse the mouth" in text
    assert "Rinse eyes for 15 minutes" in text
    assert "everybody out of the water" in text


@pytest.mark.parametrize(
    "words",
    ["the foot water turned pink", "the water is pink", "foot bath is red", "hand soak went red"],
)
def test_pink_water_is_no_red_skin(words: str) -> None:
    assert not tells_of_hurt(words)
    assert complaint_of(words) == "turned-too-far"
    assert complaint_of("the foot water is not pink") == "stayed-blue"
    assert complaint_of("foot is red") == "reddened"


@pytest.mark.parametrize("words", ["too sour", "feels too acidic"])
def test_too_sour_says_first_how_to_make_it_mild(words: str) -> None:
    text = render("trouble", answer=asked(words), typed=" mine.toml")
    assert text.lstrip().splitlines()[0].rstrip() == (
        "Out, and rinse; how much baking soda makes it mild: huedose plan mine.toml --dose"
        ' "what you poured"'
    )
    assert "huedose plan my-bath.toml" in render("trouble", answer=asked(words), typed="")


@pytest.mark.parametrize(
    ("complaint", "words", "told"),
    [
        ("stayed-blue", "nothing turned", "did not turn"),
        ("too-dark", "it's too dark", "Less would do"),
        ("undissolved", "there was powder left at the bottom", "no grain is left"),
        ("undissolved", "it does not dissolve", "no grain is left"),
        ("turned-back", "it turned back to blue after an hour", "Pour nothing more"),
        ("leaked", "bottle arrived half empty", "wipe it up"),
    ],
)
def test_more_of_makers_words_are_understood(complaint: str, words: str, told: str) -> None:
    answer = asked(words)
    assert answer.complaint == complaint
    assert told in " ".join(render("trouble", answer=answer, typed="").split())


def test_the_words_of_the_five_hundred_worlds_are_understood() -> None:
    module("makers")
    for complaint, sayings in module("complaints").WORDS.items():
        assert [complaint_of(said) for said in sayings] == [complaint] * len(sayings)


def test_red_feet_may_be_a_stain_but_first_aid_stays_first() -> None:
    answer = asked("child got red feet")
    names = [cause.name for cause in answer.causes[:2]]
    assert sorted(names) == ["sensitive-skin", "stain"]
    assert answer.help_first
    assert first(asked("child got red feet", washes_off="yes")) == "stain"
    assert first(asked("child got red feet", washes_off="no")) == "sensitive-skin"
    assert tells_of_hurt("child got red feet")


@pytest.mark.parametrize(
    ("complaint", "words"),
    [
        *(
            ("spoilt", words)
            for words in (
                "the foam bath went cloudy in the bottle", "mould", "mold", "smells off",
                "it stinks", "fuzzy", "slimy", "separated", "it smelled odd",
            )
        ),
        *(("stained", words) for words in ("stained", "towel stained", "blue feet")),
        *(("leaked", words) for words in ("leaked", "bottle leaks")),
    ],
)  # fmt: skip
def test_a_product_that_changed_stained_or_leaked_gets_advice(complaint: str, words: str) -> None:
    answer = asked(words)
    text = " ".join(render("trouble", answer=answer, typed="").split())
    assert (answer.complaint, answer.causes) == (complaint, ())
    assert "harmless" not in text
    assert ("do not use" in text) == (complaint != "stained")
    if complaint == "spoilt":
        assert "keep one bottle" in text
        assert "huedose book list" in text
        assert "tested" in text


@pytest.mark.parametrize("words", ["I poured too much", "we tipped in the whole pack"])
def test_too_much_sends_to_the_soda_that_makes_it_mild(words: str) -> None:
    text = render("trouble", answer=asked(words), typed=" mine.toml")
    assert text.lstrip().startswith("# First: nobody in the tub")
    assert 'huedose plan mine.toml --dose "what you poured"' in text
    dosed = render("trouble", answer=asked(words), typed=' mine.toml --dose "20 g"')
    assert 'huedose plan mine.toml --dose "20 g"\n' in dosed
    assert dosed.count("--dose") == 1


@pytest.mark.slow
def test_no_change_that_the_plan_expects_is_no_fault() -> None:
    grams = make_plan(demo_recipe(5)).pour_g
    turns, hardly = (trouble("stayed blue", demo_recipe(5), None, g) for g in (grams, 0.02 * grams))
    assert (turns.hardly_turns, hardly.hardly_turns) == (False, True)
    text = render("trouble", answer=hardly, typed="")
    assert text.lstrip().startswith("# Nothing is wrong")
    assert "foresees it" in text
    assert len(hardly.causes) <= 2 < len(turns.causes)
    assert not trouble("no foam", demo_recipe(5), None, 0.02 * grams).hardly_turns


@pytest.mark.slow
def test_grey_that_the_plan_expects_is_no_fault() -> None:
    plan = make_plan(demo_recipe(1))
    expected = bool({"grey", "brown"} & {plan.odds.commonest_word, plan.after.colour.word})
    assert asked("it went grey").foreseen == expected
    # Whatever its maker calls it, the plan's own end is no fault; another colour than that is one.
    content = demo_product_text("soak").replace("red-cabbage", "purple-sweet-potato")
    content = content.replace('amount = "10 g"', 'amount = "12 g"')
    soak = product_from(tomllib.loads(content), SHIPPED).recipe
    end = make_plan(soak).odds.commonest_word
    for words in ("it went grey", "went brown not orange", "muddy"):
        answer = trouble(words, soak)
        assert answer.expected == end
        text = render("trouble", answer=answer, typed="").lstrip()
        assert text.startswith("# Nothing is wrong with this bath")
        assert f"{end} is its likeliest end" in text
        assert 1 <= len(answer.causes) <= 2


def test_a_colour_is_foreseen_by_what_came_and_not_by_what_was_meant() -> None:
    assert _expected("grey", "it is olive", ("green",)) == "green"
    assert _expected("grey", "went rust", ("orange", "brown")) == "brown"
    assert _expected("grey", "went yellow not orange", ("orange",)) == ""
    assert _expected("stayed-blue", "stayed blue", ("blue",)) == ""
    assert _expected("grey", "it went grey", (None, "")) == ""


def test_a_number_is_told_by_the_border_that_speaks_for_the_first() -> None:
    answer = asked("stayed blue", strip="180 ppm", softener="no")
    assert (answer.test and answer.test.name, first(answer)) == ("litres", "alkalinity-higher")
    assert "A reading below 138 L speaks for 1." in render("trouble", answer=answer, typed="")
    said = {"strip": "180 ppm", "softener": "no"}
    assert first(asked("stayed blue", **said, litres="120 L")) == "alkalinity-higher"
    assert first(asked("stayed blue", **said, litres="170 L")) == "larger-tub"


def test_every_answer_is_short_and_every_branch_is_told(
    branches_missed: Callable[..., list[str]],
) -> None:
    answers = [asked(words) for words in COMPLAINTS]
    answers += [
        asked("too far", scale_off="no"),
        asked("stayed blue", scale_off="yes", litres="160 L"),
    ]
    answers += [
        replace(answers[0], test=None),
        asked("he swallowed some"),
        asked("poured too much"),
    ]
    answers += [asked(words) for words in ("red feet", "in her eye", "mould", "leaked", "stained")]
    answers += [asked(words) for words in ("it does not dissolve", "went back to blue", "too dark")]
    answers += [asked("baby in it"), asked("bleach, she slipped and drank some, her eyes burn")]
    answers += [asked("my baby slipped, drank some, and has a rash")]
    answers += [replace(asked("it went grey"), expected="grey")]
    answers += [replace(asked("the tub just stayed blue"), hardly_turns=True)]
    cases: list[dict[str, Any]] = [{"answer": answer, "typed": ""} for answer in answers]
    missed = branches_missed("trouble", cases)
    assert [branch for branch in missed if "higher" not in branch and "lower" not in branch] == []
    for case in cases:
        assert len(plain(render("trouble", **case), 80).splitlines()) <= 20


@pytest.mark.slow
def test_the_command_and_its_refusals(
    huedose: Callable[..., tuple[int, str, str]],
    huedose_json: Callable[..., tuple[int, dict[str, Any]]],
) -> None:
    code, document = huedose_json("trouble", "no foam", "--saw", "oil used=yes", "--dose", "12 g")
    assert code == 0
    assert document["causes"][0]["name"] == "oil"
    for arguments, named in (
        (("the cat came in",), "stayed blue"),
        (("stayed blue " * 500,), "is 6000 characters long; write it in at most 300"),
        (("grey", "--saw", "daylight"), "--saw is 'daylight'"),
        (("grey", "--saw", "moon=yes"), "accepted are strip"),
        (("grey", "--saw", "daylight=perhaps"), "write yes or no"),
        (("stayed blue", "--saw", "strip=blue"), "strip is 'blue'"),
    ):
        code, _, error = huedose("trouble", *arguments)
        assert code == 2
        assert named in error


def test_every_cause_and_test_of_the_table_has_its_words() -> None:
    lines = (REFERENCE.parents[1] / "data/trade/troubles.csv").read_text("utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert {row["what"] for row in rows if row["row"] == "says"} <= set(names_of_tests())
    for name in (row["cause"] for row in rows if row["row"] == "common"):
        cause = Cause(name, 0.5)
        assert cause.told
        assert cause.now


@cache
def complaints() -> list[dict[str, str]]:
    lines = (REFERENCE / "trouble.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def shares_named(rows: list[dict[str, str]], when: str) -> tuple[float, float]:
    """Shares of complaints whose planted cause is named first, and among the first two."""
    named = [row["cause"] == row[f"first_{when}"] for row in rows]
    second = [row["cause"] in (row[f"first_{when}"], row[f"second_{when}"]) for row in rows]
    return sum(named) / len(rows), sum(second) / len(rows)


def commonest(rows: list[dict[str, str]]) -> float:
    """Share that always naming the commonest planted cause of each complaint would get."""
    planted: dict[str, Counter[str]] = defaultdict(Counter)
    for row in rows:
        planted[row["complaint"]][row["cause"]] += 1
    return sum(max(causes.values()) for causes in planted.values()) / len(rows)


def test_planted_causes_are_named_in_five_hundred_worlds() -> None:
    rows = complaints()
    assert len(rows) == 500
    # Two observations, and then the answer to the one test that is named after them.
    early, _ = shares_named(rows, "two")
    named, among_two = shares_named(rows, "three")
    assert min(early, named) >= 0.70
    assert among_two >= 0.90
    assert min(early, named) >= commonest(rows) + 0.30


@pytest.mark.slow
def test_a_sample_of_the_complaints_is_ranked_live_as_the_file_says() -> None:
    module("makers")
    worlds = module("complaints")
    for number, row in list(enumerate(complaints()))[::25]:
        told = worlds.complaint(number)
        assert (told.complaint, told.cause) == (row["complaint"], row["cause"])
        assert first(told.rankings()[-1]) == row["first_three"]


def module(name: str) -> ModuleType:
    """A module of the build scripts, which find each other by name."""
    spec = importlib.util.spec_from_file_location(name, REFERENCE / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    loaded = importlib.util.module_from_spec(spec)
    sys.modules[name] = loaded
    spec.loader.exec_module(loaded)
    return loaded
