"""`huedose plan` and `preview`: what they promise to other programs and what they print."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., tuple[int, str, str]]
RunJson = Callable[..., tuple[int, dict[str, Any]]]

DEMOS = ("1", "2", "3", "4", "4-green", "5")
WORDS = set(
    "pink red orange yellow green teal blue violet purple brown grey colourless".split()  # noqa: SIM905
)
LEVELS = {"ok", "mind", "justify", "stop"}
CHILD = 'bathers = "child"\nchild_age = "8 years"'
ESCAPE = "\x1b["


@pytest.fixture(scope="session")
def recipe(huedose: Run, tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """The evening soak with other bathers, as a file."""
    folder = tmp_path_factory.mktemp("recipes")
    _, text, _ = huedose("recipe", "--demo", "1")
    assert text.count(CHILD) == 1

    def written(bathers: str) -> Path:
        path = folder / f"{len(list(folder.iterdir()))}.toml"
        path.write_text(text.replace(CHILD, bathers), encoding="utf-8")
        return path

    return written


@pytest.fixture(scope="session")
def adult(recipe: Callable[[str], Path]) -> Path:
    return recipe('bathers = "adult"')


@pytest.fixture(scope="session")
def toddler(recipe: Callable[[str], Path]) -> Path:
    return recipe('bathers = "child"\nchild_age = "2 years"')


def levels(document: dict[str, Any]) -> set[str]:
    return {caution["level"] for caution in document["cautions"]}


def check_colour(colour: dict[str, Any]) -> None:
    assert re.fullmatch(r"#[0-9A-F]{6}", colour["hex"])
    lightness, a, b = colour["lab"]
    assert 0.0 <= lightness <= 100.0
    assert all(abs(axis) <= 150.0 for axis in (a, b))
    assert 0.0 <= colour["hue_deg"] < 360.0
    assert colour["word"] in WORDS
    assert isinstance(colour["in_gamut"], bool)
    assert colour["visibility_delta_e"] >= 0.0


# ---------------------------------------------------------------- the document


@pytest.mark.slow
@pytest.mark.parametrize("demo", DEMOS)
def test_the_document_has_every_published_key(demo: str, huedose_json: RunJson) -> None:
    _, plan = huedose_json("plan", "--demo", demo)
    dose = plan["dose_g"]
    assert dose["coverage"] == 0.9
    assert 0.0 <= dose["low"] <= dose["best"] <= dose["high"]
    assert dose["low"] < dose["high"]
    assert plan["spoons"]["teaspoons"] == pytest.approx(3.0 * plan["spoons"]["tablespoons"])
    for moment in ("before", "after", "bottle"):
        assert 0.0 <= plan[moment]["ph"] <= 14.0
        check_colour(plan[moment])
    assert isinstance(plan["change_delta_e"], float)
    assert plan["ph_acid_side"] <= plan["after"]["ph"] <= plan["ph_alkaline_side"]
    assert isinstance(plan["reached"], bool)
    assert isinstance(plan["needed"], list)
    assert bool(plan["pours"]) == plan["wish_met"]
    for note in (*plan["assumptions"], *plan["warnings"], *plan["needed"]):
        assert set(note) == {"code", "message", "field"}
        assert all(isinstance(value, str) for value in note.values())
        assert note["message"].endswith(".")


@pytest.mark.slow
@pytest.mark.parametrize("demo", DEMOS)
def test_cautions_have_level_code_message_and_source(demo: str, huedose_json: RunJson) -> None:
    _, plan = huedose_json("plan", "--demo", demo)
    assert plan["cautions"]
    for caution in plan["cautions"]:
        assert caution["level"] in LEVELS
        assert re.fullmatch(r"[a-z][a-z0-9-]*", caution["code"])
        assert caution["message"].endswith(".")
        assert caution["source"]


@pytest.mark.parametrize("demo", DEMOS)
def test_pours_add_up(demo: str, huedose_json: RunJson) -> None:
    _, plan = huedose_json("plan", "--demo", demo)
    total = 0.0
    for pour in plan["pours"]:
        total += pour["grams"]
        assert pour["total_g"] == pytest.approx(total)
    # No dose is laid out where the wish fails.
    assert bool(plan["pours"]) == plan["wish_met"]
    assert total >= plan["dose_g"]["best"] * (1 - 1e-9) or not plan["wish_met"]
    assert total <= plan["maximum_g"] * (1 + 1e-9)


def test_without_a_recipe_the_evening_soak_is_planned(huedose_json: RunJson) -> None:
    assert huedose_json("plan") == huedose_json("plan", "--demo", "1")


@pytest.mark.slow
@pytest.mark.parametrize("demo", DEMOS)
def test_a_demo_written_to_a_file_gives_the_same_plan(
    demo: str, huedose: Run, huedose_json: RunJson, tmp_path: Path
) -> None:
    code, text, err = huedose("recipe", "--demo", demo)
    assert (code, err) == (0, "")
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    assert huedose_json("plan", path) == huedose_json("plan", "--demo", demo)


def test_the_evening_soak_turns_safely(huedose_json: RunJson) -> None:
    code, plan = huedose_json("plan", "--demo", "1")
    assert code == 0
    assert plan["reached"] is True
    assert plan["nearest"] is None
    assert plan["needed"] == []
    assert levels(plan) <= {"ok", "mind"}
    assert plan["change_delta_e"] >= 15.0
    assert plan["ph_acid_side"] >= 5.0
    assert plan["after"]["ph"] == pytest.approx(5.7, abs=0.01)
    assert plan["not_for_bathing"] is False


def test_a_foam_bath_alone_is_hardly_seen(huedose_json: RunJson) -> None:
    code, plan = huedose_json("plan", "--demo", "2")
    assert code == 3
    assert plan["reached"] is False
    assert plan["before"]["visibility"] == "hardly"
    # Below about 5 units of CIEDE2000 a large plain surface passes for clear water
    # (common practice, no source).
    assert plan["before"]["visibility_delta_e"] < 5.0
    assert plan["bottle"]["visibility_delta_e"] > 10 * plan["before"]["visibility_delta_e"]


def test_the_basin_turns_purple_and_is_not_for_bathing(huedose_json: RunJson) -> None:
    code, plan = huedose_json("plan", "--demo", "4")
    assert code == 0
    assert plan["not_for_bathing"] is True
    assert plan["before"]["word"] == "blue"
    assert plan["after"]["word"] == "purple"


def test_the_green_basin_turns_orange_or_brown(huedose_json: RunJson) -> None:
    code, plan = huedose_json("plan", "--demo", "4-green")
    assert code == 0
    assert plan["not_for_bathing"] is True
    assert plan["before"]["word"] == "green"
    assert plan["after"]["word"] in {"orange", "brown"}


# ---------------------------------------------------------------- exit codes


@pytest.mark.slow
def test_pink_is_out_of_reach_for_the_evening_soak(huedose_json: RunJson) -> None:
    code, plan = huedose_json("plan", "--demo", "1", "--target", "pink")
    _, met = huedose_json("plan", "--demo", "1")
    assert code == 3
    assert plan["reached"] is False
    assert set(plan) == set(met)
    assert plan["wish"]["word"] == "pink"
    check_colour(plan["nearest"])
    assert plan["nearest"]["word"] != "pink"
    assert plan["needed"]
    assert "stop" not in levels(plan)
    assert plan["ph_acid_side"] >= 5.0


@pytest.mark.slow
def test_a_colour_out_of_reach_tells_how_far_the_nearest_is(huedose_json: RunJson) -> None:
    code, plan = huedose_json("plan", "--demo", "1", "--target", "#FF0000")
    assert code == 3
    assert plan["wish"]["hex"] == "#FF0000"
    assert plan["nearest_delta_e"] > 10.0
    assert plan["needed"]


def test_a_ph_in_reach_is_met(huedose_json: RunJson) -> None:
    code, plan = huedose_json("plan", "--demo", "1", "--target", "6.2")
    assert code == 0
    assert plan["after"]["ph"] == pytest.approx(6.2, abs=0.01)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("dose", "expected"), [("0 g", 0), ("6 g", 0), ("14 g", 0), ("30 g", 3), ("60 g", 3)]
)
def test_preview_of_a_childs_bath(dose: str, expected: int, huedose_json: RunJson) -> None:
    code, plan = huedose_json("plan", "--demo", "1", "--dose", dose)
    assert code == expected
    assert plan["dose_g"]["best"] == pytest.approx(float(dose.split()[0]))
    assert plan["reached"] is (expected == 0)
    assert ("stop" in levels(plan)) is (expected == 3)
    assert bool(plan["needed"]) is (expected == 3)


@pytest.mark.slow
def test_a_dose_is_the_same_in_any_unit(huedose_json: RunJson) -> None:
    # 1 oz = 28.349523125 g (NIST Handbook 44, appendix C).
    _, ounces = huedose_json("plan", "--demo", "4", "--dose", "1 oz")
    _, grams = huedose_json("plan", "--demo", "4", "--dose", "28.349523125 g")
    assert ounces["after"] == grams["after"]
    assert ounces["dose_g"]["best"] == pytest.approx(28.349523125)


def test_an_adults_reason_lets_a_low_ph_pass(adult: Path, huedose_json: RunJson) -> None:
    plain, refused = huedose_json("plan", adult, "--dose", "25 g")
    reasoned, accepted = huedose_json(
        "plan", adult, "--dose", "25 g", "--accept-ph", "own bath, patch tested"
    )
    assert (plain, reasoned) == (3, 0)
    assert refused["after"] == accepted["after"]
    assert {"justify"} <= levels(refused)
    (recorded,) = [one for one in accepted["cautions"] if one["level"] == "justify"]
    assert "own bath, patch tested" in recorded["message"]


@pytest.mark.slow
def test_an_adults_reason_takes_a_plan_further(adult: Path, huedose_json: RunJson) -> None:
    _, cautious = huedose_json("plan", adult, "--target", "pink")
    _, bold = huedose_json("plan", adult, "--target", "pink", "--accept-ph", "own bath")
    assert bold["after"]["ph"] < cautious["after"]["ph"]
    assert "stop" not in levels(cautious) | levels(bold)


@pytest.mark.parametrize("dose", ["100 g", "400 g"])
def test_no_reason_lifts_a_stop(dose: str, adult: Path, huedose_json: RunJson) -> None:
    code, plan = huedose_json("plan", adult, "--dose", dose, "--accept-ph", "I know")
    assert code == 3
    assert "stop" in levels(plan)
    assert plan["reached"] is False


def test_a_childs_bath_takes_no_reason(huedose_json: RunJson) -> None:
    code, plan = huedose_json("plan", "--demo", "1", "--dose", "30 g", "--accept-ph", "I know")
    assert code == 3
    assert "stop" in levels(plan)


@pytest.mark.parametrize("reason", [[], ["--accept-ph", "I know"]])
@pytest.mark.parametrize("what", [["plan"], ["plan", "--dose", "1 g"]])
def test_no_plan_for_a_child_under_three(
    what: list[str], reason: list[str], toddler: Path, huedose_json: RunJson
) -> None:
    code, plan = huedose_json(*what, toddler, *reason)
    assert code == 3
    assert "child-under-three" in {c["code"] for c in plan["cautions"] if c["level"] == "stop"}
    assert plan["reached"] is False
    assert plan["needed"]


def test_bathers_not_stated_are_judged_as_a_child(
    recipe: Callable[[str], Path], huedose_json: RunJson
) -> None:
    code, unsaid = huedose_json("plan", recipe(""), "--dose", "30 g")
    assert code == 3
    assert unsaid["bathers"] == "child"
    assert any("child" in note["message"] for note in unsaid["assumptions"])


@pytest.mark.slow
@pytest.mark.parametrize(
    ("who", "target"),
    [("1", "3"), ("1", "9.5"), ("adult", "4.6"), ("4", "grey"), ("4", "2.6"), ("toddler", "6")],
)
def test_success_never_hides_a_stop(
    who: str, target: str, adult: Path, toddler: Path, huedose_json: RunJson
) -> None:
    files = {"adult": adult, "toddler": toddler}
    which = [files[who]] if who in files else ["--demo", who]
    code, plan = huedose_json("plan", *which, "--target", target)
    assert code in {0, 3}
    assert (code == 0) is plan["reached"]
    assert (plan["nearest"] is None) is plan["reached"]
    assert bool(plan["needed"]) is not plan["reached"]
    if code == 0:
        assert levels(plan) <= {"ok", "mind"}


@pytest.mark.parametrize("demo", ["1", "3", "4", "4-green"])
def test_the_most_that_may_be_poured_at_once_breaks_no_caution(
    demo: str, huedose_json: RunJson
) -> None:
    # A single pour with "never more than" beside it: a reader pours up to that amount.
    _, plan = huedose_json("plan", "--demo", demo)
    assert len(plan["pours"]) == 1
    code, most = huedose_json("plan", "--demo", demo, "--dose", f"{plan['maximum_g']!r} g")
    assert code == 0, [c["message"] for c in most["cautions"] if c["level"] in {"justify", "stop"}]


# ---------------------------------------------------------------- the text


@pytest.mark.slow
def test_the_text_gives_the_aim_and_the_limit(huedose: Run, huedose_json: RunJson) -> None:
    code, out, err = huedose("plan", "--demo", "1")
    _, plan = huedose_json("plan", "--demo", "1")
    assert (code, err) == (0, "")
    text = " ".join(out.split())
    aim, most = plan["dose_g"]["best"], plan["maximum_g"]
    assert f"POUR {aim:.0f} g of" in text
    assert f"Never more than {most:.0f} g" in text
    assert "NOT FOR BATHING" not in text
    _, out, _ = huedose("plan", "--demo", "1", "--cautions")
    text = " ".join(out.split())
    for caution in plan["cautions"]:
        assert caution["message"] in text


def blank_bath(tmp_path: Path, huedose: Run) -> Path:
    """The recipe to fill in, for a grown-up in water that nobody read."""
    path = tmp_path / "blank.toml"
    blank = huedose("recipe", "--blank")[1]
    grown_up = blank.replace("[wish]\n", '[wish]\nbathers = "adult"\n')
    path.write_text(grown_up, encoding="utf-8")
    return path


@pytest.mark.slow
def test_spoons_are_not_offered_where_they_would_pass_the_most(
    huedose: Run, huedose_json: RunJson, tmp_path: Path
) -> None:
    path = blank_bath(tmp_path, huedose)
    for wish, spooned in (("#2A5A90", False), ("6.8", True)):
        _, plan = huedose_json("plan", path, "--target", wish)
        text = " ".join(huedose("plan", path, "--target", wish)[1].split())
        pours = [one for one in plan["pours"] if one["total_g"] <= 1.001 * plan["dose_g"]["best"]]
        halves = max(
            sum(round(2 * one["spoons"]["teaspoons"]) / 2 for one in pours),
            round(2 * plan["spoons"]["teaspoons"]) / 2,
        )
        spoon_g = plan["dose_g"]["best"] / plan["spoons"]["teaspoons_low"]
        assert (halves * spoon_g <= plan["maximum_g"]) is spooned
        single = len(plan["portions"]) == 1
        assert ("(weigh it)" in text) is (single and not spooned)
        assert ("teaspoon" in text[: text.index("Stings")]) is (single and spooned)


@pytest.mark.slow
def test_where_the_name_of_the_end_comes_early_its_colour_is_given(
    huedose: Run, huedose_json: RunJson, tmp_path: Path
) -> None:
    path = blank_bath(tmp_path, huedose)
    _, plan = huedose_json("plan", path, "--target", "#2A5A90")
    early = {
        one["name"] for one in plan["ribbon"] if 0 < one["grams"] < 0.8 * plan["dose_g"]["best"]
    }
    assert plan["after"]["name"] in early
    text = " ".join(huedose("plan", path, "--target", "#2A5A90")[1].split())
    assert "(see --picture)" in text


@pytest.mark.slow
def test_a_dose_that_misses_the_wish_is_not_aimed_for(huedose: Run) -> None:
    code, out, _ = huedose("plan", "--demo", "2")
    assert code == 3
    assert "POUR" not in out


@pytest.mark.parametrize("demo", ["4", "4-green"])
def test_a_basin_says_that_it_is_not_for_bathing(demo: str, huedose: Run) -> None:
    _, out, _ = huedose("plan", "--demo", demo)
    assert any(line.startswith("NOT FOR BATHING") for line in out.splitlines()[:4])


@pytest.mark.slow
def test_a_refusal_says_what_is_missing(huedose: Run, huedose_json: RunJson) -> None:
    code, out, err = huedose("plan", "--demo", "1", "--target", "pink", COLUMNS="60")
    _, plan = huedose_json("plan", "--demo", "1", "--target", "pink")
    assert (code, err) == (3, "")
    text = " ".join(out.split())
    assert "cannot safely be pink" in text
    assert max(len(line) for line in out.splitlines()) <= 60
    for note in plan["needed"]:
        assert note["message"] in text


def test_a_stop_stands_in_the_text(toddler: Path, huedose: Run, huedose_json: RunJson) -> None:
    code, out, _ = huedose("plan", toddler)
    _, plan = huedose_json("plan", toddler)
    assert code == 3
    (stop,) = [one["message"] for one in plan["cautions"] if one["level"] == "stop"]
    assert f"stop: {stop}" in " ".join(out.split())


@pytest.mark.slow
@pytest.mark.parametrize("demo", DEMOS)
def test_ph_has_one_decimal(demo: str, huedose: Run) -> None:
    _, out, _ = huedose("plan", "--demo", demo)
    shown = re.findall(r"pH\s+(\d[\d.]*\d|\d)", out)
    # Where nothing is poured and nothing is near, no pH is told.
    assert shown or "Pour nothing." in out
    assert [one for one in shown if not re.fullmatch(r"\d{1,2}\.\d", one)] == []


@pytest.mark.slow
@pytest.mark.parametrize("environment", [{}, {"NO_COLOR": "1"}, {"COLORTERM": "truecolor"}])
def test_no_escape_codes_without_a_terminal(environment: dict[str, str], huedose: Run) -> None:
    _, out, _ = huedose("plan", "--demo", "1", **environment)
    assert ESCAPE not in out


@pytest.mark.slow
def test_colour_is_shown_where_it_can_be_and_not_where_it_is_unwanted(huedose: Run) -> None:
    terminal = {"FORCE_COLOR": "1", "COLORTERM": "truecolor", "TERM": "xterm-256color"}
    _, coloured, _ = huedose("plan", "--demo", "1", **terminal)
    _, plain, _ = huedose("plan", "--demo", "1", **terminal, NO_COLOR="1")
    assert "\x1b[48;2;" in coloured
    assert not re.search(r"\x1b\[[\d;]*[34][0-8]", plain)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("what", "width"),
    [
        *((["--demo", demo], 60) for demo in DEMOS),
        (["--demo", "1"], 80),
        (["--demo", "5", "--more", "--cautions"], 40),
        (["--demo", "1", "--target", "pink"], 40),
    ],
    ids=str,
)
def test_no_line_is_wider_than_the_window(what: list[str], width: int, huedose: Run) -> None:
    _, out, _ = huedose("plan", *what, COLUMNS=str(width))
    assert [line for line in out.splitlines() if len(line) > width] == []
    assert max(len(line) for line in out.splitlines()) > width - 20


def test_no_line_is_wider_where_a_reason_is_needed(adult: Path, huedose: Run) -> None:
    _, out, _ = huedose("plan", adult, "--dose", "25 g", COLUMNS="60")
    assert [line for line in out.splitlines() if len(line) > 60] == []


@pytest.mark.slow
@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "cp437"])
@pytest.mark.parametrize("what", [["plan", "--demo", "1"], ["colours", "tartrazine"]], ids=str)
def test_any_encoding_can_be_written(encoding: str, what: list[str], huedose: Run) -> None:
    code, expected, _ = huedose(*what)
    same, out, err = huedose(*what, encoding=encoding)
    assert (same, err) == (code, "")
    assert "�" not in out
    assert out.count("?") == expected.count("?")
    if expected.isascii():
        assert out == expected
    else:
        assert re.findall(r"[a-z]{4,}", out) == re.findall(r"[a-z]{4,}", expected)


@pytest.mark.slow
@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_a_process_of_its_own_writes_its_encoding(encoding: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from dosing.cli import main; main()", "plan", "--demo", "4"],
        env={**os.environ, "PYTHONIOENCODING": encoding},
        capture_output=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == b""
    text = done.stdout.decode(encoding)
    assert "NOT FOR BATHING" in text
    assert "POUR" in text
    assert ("°" in text) is (encoding == "cp1252")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("ending", "opening"), [("png", b"\x89PNG\r\n"), ("svg", b"<?xml"), ("pdf", b"%PDF")]
)
def test_a_picture_is_written(ending: str, opening: bytes, huedose: Run, tmp_path: Path) -> None:
    path = tmp_path / f"plan.{ending}"
    code, out, err = huedose("plan", "--demo", "1", "--picture", path)
    assert (code, err) == (0, "")
    assert path.read_bytes().startswith(opening)
    assert path.name in out
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.slow
@pytest.mark.parametrize(
    "command",
    [["plan", "--dose", "20 g"], ["soak", "--minutes", "5"], ["soak", "--steps", "6"]],
    ids=lambda command: command[1],
)
def test_nothing_of_a_stopped_plan_can_be_followed(
    command: list[str], recipe: Callable[[str], Path], huedose_json: RunJson
) -> None:
    toddler = recipe('bathers = "child"\nchild_age = "2 years"')
    code, found = huedose_json(command[0], toddler, *command[1:])
    assert (code, found["verdicts"]["pour"]) == (3, "stop")
    if command[0] == "soak":
        (step,) = found["steps"]
        assert (step["portions_g"], step["jugs"]) == ([], None)
        assert set(step["spoons"].values()) == {0.0}
        assert found["course"] is None or found["course"]["pours"] == []
    else:
        assert found["pours"] == []
        assert (found["maximum_g"], found["look_by"], found["stop_ph"]) == (0.0, None, None)
        assert set(found["spoons"].values()) == {0.0}


SALE = """
schema = 1
[tub]
volume = "120 L"
[water]
alkalinity = "120 ppm"
instrument = "strip"
[[colour]]
pigment = "butterfly pea"
amount = "400 mL"
strength = "2 %"
preserved = true
[wish]
purpose = "sale"
market = "US"
bathers = "adult"
"""


@pytest.mark.slow
def test_every_door_gives_a_sale_the_same_verdicts(tmp_path: Path, huedose_json: RunJson) -> None:
    """Butterfly pea is not listed for baths in the United States (21 CFR 73 and 74)."""
    recipe = tmp_path / "sale.toml"
    recipe.write_text(SALE, encoding="utf-8")
    judged = []
    for words in (["plan"], ["brew"], ["jar", "--instructions"]):
        code, found = huedose_json(words[0], str(recipe), *words[1:])
        assert code == 3
        judged.append((found["verdicts"]["give"], found["verdicts"]["sell"]))
    assert len(set(judged)) == 1
    assert judged[0][1] == "stop"
