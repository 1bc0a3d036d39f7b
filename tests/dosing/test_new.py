"""Six questions: what is accepted, what is refused, and that nothing is left half-written."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest

from dosing.recipe import parse_recipe
from dosing.recipe.answers import QUESTIONS, Answers, take
from dosing.recipe.interview import recipe_text
from dosing.recipe.quantities import InputError

Run = Callable[..., tuple[int, str, str]]
UNKNOWN = "don't know"


def answered(**given: str) -> str:
    answers = Answers()
    for question in QUESTIONS:
        take(answers, question, given.get(question, UNKNOWN))
    return recipe_text(answers, "A bath")


@pytest.mark.parametrize(
    ("question", "text", "parts"),
    [
        ("tub", "40 gal", ['volume = "40 gal"']),
        ("tub", "150 x 60 cm", ['length = "150 cm"', 'width = "60 cm"', "fill = "]),
        ("tub", "59 in by 24 in", ['length = "59 in"', 'width = "24 in"']),
        ("tub", "Child's bath", ['volume = "40 L"']),
        ("tub", "my tub is 5 feet long and 2 feet wide", ['length = "5 ft"', 'width = "2 ft"']),
        ("tub", "60 x 30 x 15 inches", ['length = "60 in"', 'width = "30 in"', 'fill = "15 in"']),
        ("fill", "6 inches deep", ['volume = "84 L"']),
        ("fill", "20 gallons", ['volume = "20 gallons"']),
        ("water", "hardness 17 dH, carbonate hardness 11 dH", ['hardness = "17 dH"', "carb"]),
        ("water", "110 mg/L alkalinity, pH 7,4", ['alkalinity = "110 mg/l"', 'ph = "7.4"']),
        ("water", "I don't know, but it's hard", ['like = "hard"']),
        ("water", "alkalinity 146 mg/L HCO3", ['bicarbonate = "146 mg/l"']),
        ("foam", "two tablespoons", ['amount = "2 tablespoons"']),
        ("colour", "10 g of flowers in 500 mL", ['amount = "10 g"', 'strength = "2 %"']),
        ("bathers", "me and my 4 year old", ['bathers = "child"', 'child_age = "4 years"']),
        ("bathers", "a baby", ['bathers = "child"', 'child_age = "1 year"']),
        ("bathers", "adults, no kids", ['bathers = "adult"']),
        ("bathers", "my nephew, 18 months", ['bathers = "child"', 'child_age = "18 months"']),
        ("water", "Soft water", ['like = "soft"']),
        ("water", "hardness 8 dH", ['hardness = "8 dH"']),
        (
            "water",
            "pH 7.8 and alkalinity 120 ppm, by drop kit",
            ['ph = "7.8"', 'alkalinity = "120 ppm"', 'instrument = "drop kit"'],
        ),
        ("foam", "2 tbsp", ['amount = "2 tbsp"']),
        ("colour", "6 g dried petals", ['amount = "6 g"']),
        ("colour", "250 mL of 3 % tea", ['amount = "250 ml"', 'strength = "3 %"']),
        ("bathers", "my son, 18 months", ['bathers = "child"', 'child_age = "18 months"']),
        ("bathers", "two adults", ['bathers = "adult"']),
        ("bathers", "nobody, a display", ['bathers = "nobody"']),
        ("bathers", "my kids, 8 and 2", ['bathers = "child"', 'child_age = "2 years"']),
        ("bathers", "6 years, baby", ['child_age = "1 year"']),
        ("bathers", "i am 12", ['bathers = "child"', 'child_age = "12 years"']),
        ("bathers", "2 adults and 1 child", ['bathers = "child"']),
        ("foam", "0.04 L", ['amount = "0.04 l"']),
        ("colour", "0.5 g", ['amount = "0.5 g"']),
    ],
)
def test_an_answer_becomes_the_recipe(question: str, text: str, parts: list[str]) -> None:
    recipe = answered(**{question: text})
    for part in parts:
        assert part in recipe
    parse_recipe(recipe)


@pytest.mark.parametrize("unknown", ["", "?", "don't know", "Dont Know", "I don’t know", "idk"])
def test_not_knowing_is_an_answer_to_everything(unknown: str) -> None:
    recipe = answered(**dict.fromkeys(QUESTIONS, unknown))
    inputs = parse_recipe(recipe)
    assert inputs.water.alkalinity_meq_l is None
    assert inputs.wish.bathers is None
    assert inputs.colours, "a clear tint's worth of colour is taken"


def test_no_foam_and_no_colour_are_answers_too() -> None:
    inputs = parse_recipe(answered(foam="none", colour="none"))
    assert inputs.foam_bath is None
    assert not inputs.colours


@pytest.mark.parametrize(
    ("question", "text"),
    [
        ("tub", "blue"),
        ("tub", "a small corner tub"),  # anything from 40 to 120 L
        ("tub", "small"),
        ("tub", "4000000 L"),
        ("fill", "deepish"),
        ("water", "wet"),
        ("water", "120 ppm"),
        ("water", "alkalinity lots"),
        ("foam", "a squirt"),
        ("colour", "plenty"),
        ("bathers", "the cat"),
        ("tub", "x" * 300),
        ("fill", "almost full"),
        ("fill", "5 inches below full"),
        ("water", "quite hard, 300 something"),
        ("water", "total alkalinity 110"),
        ("colour", "2 tbsp powder"),
        ("colour", "hibiscus 10 g"),
        ("tub", "1 200 L"),
        ("tub", "100-150 L"),
        ("tub", "-120 L"),
        ("tub", "not large"),
        ("fill", "1/2 m"),
        ("fill", "quarter full"),
        ("fill", "half of 120 L"),
        ("water", "alkalinity 1/2 meq/l"),
        ("water", "alkalinity 80-120 ppm"),
        ("water", "alkalinity 120 ppm hardness 8 dH"),
        ("water", "hard, not soft"),
        ("water", "hardness 140 ppm as Ca"),
        ("foam", "1/2 cup"),
        ("foam", "no more than 40 mL"),
        ("foam", "2 x 20 mL"),
        ("colour", "6 g in 300 mL, use 150 mL"),
        ("colour", "6 g curcuma"),
        ("bathers", "nobody but me"),
        ("bathers", "no adults"),
        ("bathers", "child -5"),
    ],
)
def test_nonsense_gets_one_sentence_and_changes_nothing(question: str, text: str) -> None:
    answers = Answers()
    with pytest.raises(InputError) as refused:
        take(answers, question, text)
    assert str(refused.value).count("\n") == 0
    assert str(refused.value).endswith(".")
    assert answers == Answers()


def asked(monkeypatch: pytest.MonkeyPatch, huedose: Run, path: Path, text: str) -> tuple[int, str]:
    monkeypatch.setattr(sys, "stdin", io.StringIO(text))
    code, _, err = huedose("new", path)
    return code, err


def test_nonsense_five_times_writes_nothing(
    monkeypatch: pytest.MonkeyPatch, huedose: Run, tmp_path: Path
) -> None:
    path = tmp_path / "bath.toml"
    code, err = asked(monkeypatch, huedose, path, "blue\n" * 5 + "120 L\n" * 6)
    assert code == 2
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_answers_that_end_early_write_nothing(
    monkeypatch: pytest.MonkeyPatch, huedose: Run, tmp_path: Path
) -> None:
    path = tmp_path / "bath.toml"
    code, err = asked(monkeypatch, huedose, path, "120 L\n25 cm\n")
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
    assert path.read_text(encoding="utf-8").startswith("# Written from six answers")


@pytest.mark.slow
@pytest.mark.parametrize("encoding", ["cp1252", "ascii", "cp437"])
def test_questions_are_asked_in_any_console(
    monkeypatch: pytest.MonkeyPatch, huedose: Run, tmp_path: Path, encoding: str
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO("\n" * 6))
    code, out, err = huedose("new", tmp_path / "bath.toml", encoding=encoding, COLUMNS="60")
    assert (code, err) == (3, "")
    assert "6 of 6" in out
    # The path of the recipe is not broken, however narrow the window.
    assert max(len(line) for line in out.splitlines() if "bath.toml" not in line) <= 60


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
