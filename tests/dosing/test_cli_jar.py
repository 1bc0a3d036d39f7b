"""``jar`` from the outside: a series in, a corrected dose out; a page to print; refusals."""

from __future__ import annotations

import json
import re
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from dosing.jar.series import series_of
from indicator.notes import say

Run = Callable[..., tuple[int, str, str]]
RunJson = Callable[..., tuple[int, dict[str, Any]]]

DEMO = Path(__file__).parents[2] / "data" / "demo" / "evening_soak_jar.csv"
ACID = "1 %, 30 g, 50 g"
MADE = ("--solution", ACID, "--jar", "1000 g")
PLAIN_JAR = ("--solution", ACID, "--jar", "1000 g, plain")
STEPS = ("--step", "0: 8.3", "--step", "8: 6.4", "--step", "12: 5.8")


@pytest.mark.slow
def test_a_series_becomes_one_document(huedose_json: RunJson) -> None:
    code, found = huedose_json("jar", DEMO, "--by", "meter", *MADE)
    assert code == 0
    for name in ("alkalinity_meq_l", "product_buffer"):
        assert set(found[name]) == {
            "low", "best", "high", "prior_low", "prior_best", "prior_high",
        }  # fmt: skip
    for name in ("dose_g", "dose_before_g", "per_litre_g"):
        assert found[name]["low"] < found[name]["best"] < found[name]["high"]
        assert found[name]["coverage"] == 0.9
    assert found["dose_g"]["best"] > found["dose_before_g"]["best"]
    assert found["dose_g"]["best"] <= found["maximum_g"]
    assert sum(found["pours_g"]) == pytest.approx(found["dose_g"]["best"])
    assert [step["added"] for step in found["steps"]] == [0, 4, 7, 9, 10, 11, 12, 14]
    assert set(found["steps"][0]) == {
        "number", "added", "read", "expected", "word", "residual", "set_aside",
    }  # fmt: skip
    assert found["dose_held_back"] is False
    assert found["check_first"] == []
    assert found["consistent"] is True
    assert found["worst_step"] is None
    assert found["pka_shift"] is None
    assert 0 < found["volume_share"] < 1
    assert found["cautions"]


def test_words_fit_a_narrow_window_and_say_what_is_surer(huedose: Run) -> None:
    code, out, err = huedose("jar", DEMO, "--by", "meter", *MADE, COLUMNS="60")
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 60
    told = " ".join(out.split())
    for part in (
        "POUR 14 g of citric acid (weigh it)",
        "Never more than",
        "(before the test 1",
        "Your water:",
    ):
        assert part in told


@pytest.mark.slow
def test_a_strip_is_taken_in_a_plain_jar_with_its_spread(huedose: Run) -> None:
    widths = {}
    for by in ("strip", "meter"):
        code, out, _ = huedose("jar", *STEPS, "--by", by, *PLAIN_JAR, "--json")
        assert code == 0
        found = json.loads(out)
        widths[by] = found["per_litre_g"]["high"] - found["per_litre_g"]["low"]
        codes = {note["code"] for note in found["notes"]}
        assert "jar.note.plain" in codes
        assert ("jar.note.strip" in codes) == (by == "strip")
    assert widths["strip"] > 1.3 * widths["meter"]


@pytest.mark.slow
def test_colours_are_read_as_the_jars_own(huedose: Run, tmp_path: Path) -> None:
    table = tmp_path / "jar.csv"
    table.write_text("ml,hex\n0,#00A0C1\n6,#3E97D3\n10,#5590D4\n13,#6089D1\n40,#7F86D0\n")
    made = ("--solution", ACID, "--jar")
    code, out, _ = huedose("jar", table, *made, "1000 g, 4 x colour", "--json")
    found = json.loads(out)
    assert code == 0
    assert found["by"] == "colour"
    assert set(found["pka_shift"]) >= {"low", "best", "high"}
    assert found["steps"][0]["read"] == "#00A0C1"
    assert found["steps"][0]["expected"].startswith("#")


def test_a_forbidden_dose_ends_with_three(huedose: Run) -> None:
    code, out, _ = huedose("jar", *STEPS, "--by", "meter", *MADE, "--target", "3.5")
    assert code == 3
    assert "Do not pour this: a caution forbids it" in out
    assert "POUR" not in out


# By these the acid was 0.73 times as strong as written and the water twice as hard as taken.
MEDIUM = """schema = 1
[tub]
volume = "120 L"
[water]
like = "medium"
[[colour]]
pigment = "butterfly-pea"
amount = "400 mL"
strength = "2 %"
"""
CONTRADICTING = (
    *("--step", "0: 7.8", "--step", "5: 7.2", "--step", "10: 6.8"),
    *("--step", "20: 6.3", "--step", "30: 5.8", "--step", "40: 5.0", "--solution", "1 %"),
)


@pytest.fixture
def medium(tmp_path: Path) -> Path:
    recipe = tmp_path / "medium.toml"
    recipe.write_text(MEDIUM)
    return recipe


@pytest.mark.slow
def test_a_series_that_contradicts_the_recipe_holds_the_dose_back(
    huedose: Run, medium: Path
) -> None:
    code, out, err = huedose("jar", medium, "--by", "meter", *CONTRADICTING)
    assert (code, err) == (3, "")
    lines = out.splitlines()
    assert lines[1].startswith("Do not pour yet. Check this first: Check the strength of")
    assert "Read the tap water's alkalinity" in " ".join(out.split())
    assert re.search(r"It would be \d+ g of citric acid", out)
    for never in ("POUR", "Never more than", "tir it into", "in portions", "ok:"):
        assert never not in out, never
    assert "which nobody" in out
    code, out, _ = huedose("jar", medium, "--by", "meter", *CONTRADICTING, "--json")
    found = json.loads(out)
    assert code == 3
    assert found["reached"] is False
    assert found["target_met"] is True
    assert found["dose_held_back"] is True
    assert found["pours_g"] == []
    checks = [one["code"] for one in found["check_first"]]
    # Acid of half the strength would explain it as well, and is quicker to check.
    assert checks == ["jar.first.strength", "jar.first.alkalinity"]
    assert "jar.warn.contradicts-alkalinity" in {note["code"] for note in found["warnings"]}
    assert all(one["level"] != "ok" for one in found["cautions"])


@pytest.mark.slow
def test_a_second_reading_of_the_water_sets_the_dose_free(huedose: Run, medium: Path) -> None:
    # What the answer asks for: the acid right, and the alkalinity read by a drop kit.
    steps = ("--step", "0: 7.7", "--step", "8: 6.75", "--step", "16: 6.2", "--step", "24: 5.5")
    known = medium.with_name("known.toml")
    known.write_text(
        MEDIUM.replace("[[", 'alkalinity = "3.3 meq/L"\ninstrument = "drop kit"\n[[', 1)
    )
    codes = []
    for recipe in (medium, known):
        code, out, _ = huedose("jar", recipe, "--by", "meter", *steps, *MADE, "--json")
        codes.append((code, json.loads(out)["dose_held_back"]))
    assert codes == [(3, True), (0, False)]


SOUND = [8.27, 6.86, 6.49, 6.24, 6.09, 5.95, 5.81, 5.47]
TOTALS = [0, 4, 7, 9, 10, 11, 12, 14]


def steps_of(read: list[float]) -> list[str]:
    pairs = zip(TOTALS, read, strict=True)
    return [word for total, ph in pairs for word in ("--step", f"{total}: {ph}")]


@pytest.mark.slow
def test_one_misread_step_is_set_aside_and_two_hold_the_dose_back(huedose: Run) -> None:
    answers = []
    for wrong in ({}, {3: 7.9}, {3: 7.9, 5: 4.3, 6: 7.9}):
        read = [wrong.get(place, ph) for place, ph in enumerate(SOUND)]
        code, out, _ = huedose("jar", *steps_of(read), "--by", "meter", *MADE, "--json")
        answers.append((code, json.loads(out)))
    (sound_code, sound), (one_code, one), (many_code, many) = answers
    assert (sound_code, one_code, many_code) == (0, 0, 3)
    assert one["reached"] is True
    assert [step["number"] for step in one["steps"] if step["set_aside"]] == [4]
    assert one["dose_g"]["best"] == pytest.approx(sound["dose_g"]["best"], rel=0.05)
    assert [check["code"] for check in many["check_first"]] == ["jar.first.series"]
    assert "jar.warn.apart" in {note["code"] for note in many["warnings"]}
    code, out, _ = huedose("jar", *steps_of([8.27, 6.86, 6.49, 7.9, *SOUND[4:]]), "--by", "meter",
                           *MADE)  # fmt: skip
    assert "agrees least with the others" in out


@pytest.mark.slow
def test_three_readings_cannot_tell_which_of_them_is_wrong(huedose: Run) -> None:
    steps = ("--step", "0: 8.3", "--step", "8: 3.2", "--step", "12: 5.8")
    code, out, _ = huedose("jar", *steps, "--by", "meter", *MADE, "--json")
    found = json.loads(out)
    assert code == 3
    assert found["dose_held_back"] is True


@pytest.mark.slow
def test_the_acid_that_is_left_never_goes_into_the_bath(huedose: Run, medium: Path) -> None:
    for more in ((), ("--solution", "1 %, 5 g"), ("--unit", "g")):
        _, out, _ = huedose("jar", medium, "--instructions", "--by", "meter", *more)
        told = " ".join(out.split())
        assert "What is left goes down the sink, never into the bath" in told


@pytest.mark.slow
def test_dry_powder_is_weighed_nowhere(huedose: Run, medium: Path) -> None:
    ask = ("jar", medium, "--instructions", "--unit", "pinches", "--by", "photograph")
    code, out, _ = huedose(*ask)
    assert code == 0
    assert "--solution" not in out
    assert "1 pinches" not in out
    _, out, _ = huedose(*ask, "--jar", "1000 g")
    told = " ".join(out.split())
    assert "too little for this tool" in told
    assert "hardly more than you know" in told
    found = json.loads(huedose(*ask, "--jar", "1000 g", "--json")[1])
    assert found["solution_water_g"] is None
    assert found["expected_share_of_width"] > 0.8


@pytest.mark.slow
def test_the_printed_command_carries_what_was_asked_and_runs(
    huedose: Run, medium: Path, tmp_path: Path
) -> None:
    asked = ("--solution", "2 %, 30 g, 50 g, malic-acid", "--jar", "1000 g, 30 C",
             "--target", "6.2")  # fmt: skip
    code, out, _ = huedose("jar", medium, "--instructions", "--by", "meter", *asked, "--json")
    assert code == 0
    found = json.loads(out)
    words = shlex.split(found["command"])[2:]
    for word in asked:
        assert word in words
    assert found["solution"] == {"malic-acid": 30}
    table = tmp_path / "jar.csv"
    rows = [f"{one['total']},{one['expected_ph']:.2f}" for one in found["readings"]]
    table.write_text("\n".join(["ml,meter", *rows]))
    # The table names what has read it.
    assert "--by" not in words
    words[words.index("jar.csv")] = str(table)
    code, out, err = huedose("jar", *words, "--json")
    assert err == ""
    assert json.loads(out)["dose_held_back"] is False


@pytest.mark.slow
def test_a_reading_of_the_other_drop_kit_is_sent_to_the_recipe(huedose: Run) -> None:
    for read, by in (("100 ppm", "drop-kit"), ("100", "pH drop kit"), ("8 dH", "meter")):
        steps = ("--step", f"0: {read}", "--step", "4: 7")
        code, out, err = huedose("jar", *steps, "--by", by, "--jar", "1 L, plain")
        assert (code, out) == (2, "")
        assert "means a pH drop kit" in err
        assert "[water] alkalinity" in err


@pytest.mark.slow
def test_a_recipe_read_with_an_alkalinity_kit_is_not_taken_for_a_ph_kit(
    huedose: Run, medium: Path
) -> None:
    known = medium.with_name("kit.toml")
    known.write_text(
        MEDIUM.replace("[[", 'alkalinity = "1.5 meq/L"\ninstrument = "drop kit"\n[[', 1)
    )
    _, out, _ = huedose("jar", known, "--instructions", "--json")
    assert json.loads(out)["by"] == "strip"


def test_the_first_help_lists_no_more_than_twelve_options(huedose: Run) -> None:
    _, out, _ = huedose("jar", "--help", COLUMNS="200")
    _, whole, _ = huedose("jar", "--help-all", COLUMNS="200")
    listed = [set(re.findall(r"^│ (--[a-z-]+)", text, re.MULTILINE)) for text in (out, whole)]
    # The recipe and the series are one argument.
    assert len(listed[0] - {"--help"}) + 1 <= 12
    assert listed[1] - listed[0] == {
        "--unit", "--white", "--liquid", "--save", "--accept-ph", "--accept-pouring", "--paper",
    }  # fmt: skip


@pytest.mark.slow
def test_what_a_test_buys_is_told_in_grams(huedose: Run, medium: Path) -> None:
    ask = ("jar", medium, "--instructions", "--by", "meter")
    _, out, _ = huedose(*ask, "--json")
    found = json.loads(out)
    before = found["per_litre_before_g"]
    half = 50 * (before["high"] - before["low"]) * found["expected_share_of_width"]
    told = " ".join(huedose(*ask)[1].split())
    assert f"after it about {half:.2g} g either way" in told
    assert "width" not in told
    # Whole millilitres where five or more lead to the aim.
    assert all(one["total"] == round(one["total"]) for one in found["readings"])


@pytest.mark.slow
def test_more_of_a_sour_infusion_brings_more_acid_into_the_jar(huedose: Run, medium: Path) -> None:
    sour = medium.with_name("sour.toml")
    sour.write_text(MEDIUM.replace("butterfly-pea", "roselle"))
    start = {}
    for recipe in (medium, sour):
        for times in ("1", "5"):
            _, out, _ = huedose(
                "jar",
                recipe,
                "--instructions",
                "--by",
                "colour",
                "--jar",
                f"1000 g, {times} x colour",
                "--json",
            )
            start[recipe.stem, times] = json.loads(out)["readings"][0]["expected_ph"]
    # Butterfly pea: 0.1 meq per g, a guess; a small part of what the water takes up.
    assert start["medium", "5"] == pytest.approx(start["medium", "1"], abs=0.2)
    # Roselle: 2.3 meq per g (data/colour/own_acid.csv) x 8 g in 120 L is 0.15 of 1.5 meq/L, so
    # five times is half of it: at half the alkalinity pH is pK1 of carbonic acid, 6.3.
    assert start["sour", "5"] == pytest.approx(6.3, abs=0.15)
    assert start["sour", "1"] > start["sour", "5"] + 0.5


@pytest.mark.slow
def test_instructions_are_laid_out_and_can_be_printed(huedose: Run, tmp_path: Path) -> None:
    page = tmp_path / "jar.pdf"
    code, out, err = huedose(
        "jar", "--instructions", "--by", "meter", "--sheet", page, COLUMNS="60"
    )
    assert (code, err) == (0, "")
    assert page.read_bytes().startswith(b"%PDF")
    wrapped = [line for line in out.replace(str(page), "").splitlines() if "huedose" not in line]
    assert max(map(len, wrapped)) <= 60
    # A command is there to be copied, so it stays on one line.
    assert any("huedose jar" in line and "--jar" in line for line in out.splitlines())
    code, out, _ = huedose("jar", "--instructions", "--by", "strip", "--json")
    found = json.loads(out)
    assert code == 0
    assert found["plain"] is True
    assert found["readings"][0]["total"] == 0
    totals = [one["total"] for one in found["readings"]]
    assert totals == sorted(totals)
    low = min(one["expected_ph"] for one in found["readings"])
    assert low < found["target_ph"] < found["readings"][0]["expected_ph"]
    assert 0 < found["expected_share_of_width"] < 1
    assert '--jar "1000 g, plain"' in found["command"]


@pytest.mark.slow
def test_no_jar_is_filled_where_the_plan_asks_for_more_colour_first(huedose: Run) -> None:
    for words in (("--demo", "2"), ("--demo", "2", "--by", "meter")):
        code, out, err = huedose("jar", *words, "--instructions")
        assert (code, err) == (3, "")
        assert "More colour first. How much: huedose plan --demo 2" in out
        assert "mL" not in out
    # A pH that is asked for is found whatever the colour.
    code, out, _ = huedose("jar", "--demo", "2", "--instructions", "--target", "5.5")
    assert code == 0
    assert "16 mL" in out


def test_the_example_of_the_help_runs_as_it_stands(
    huedose: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recipe = Path(__file__).parents[2] / "data" / "demo" / "5_blue_to_pink.toml"
    (tmp_path / "my-bath.toml").write_text(recipe.read_text(encoding="utf-8"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    _, example = say("help.jar-test").split("Example: huedose ")
    code, out, err = huedose(*shlex.split(example))
    assert (code, err) == (0, "")
    assert "POUR" in out


@pytest.mark.slow
def test_what_is_to_be_typed_is_short(huedose: Run) -> None:
    for by, longest in (("meter", 80), ("strip", 80), ("photograph", 110)):
        _, out, _ = huedose("jar", "--demo", "5", "--instructions", "--by", by)
        (command,) = (line for line in out.splitlines() if "huedose jar" in line)
        assert len(command.strip()) <= longest
        assert f"first line ml,{by.removesuffix('graph')}" in " ".join(out.split())


@pytest.mark.slow
def test_a_table_may_say_what_has_read_it(huedose: Run, tmp_path: Path) -> None:
    table = tmp_path / "jar.csv"
    shown = []
    for column, more in (("meter", ()), ("ph", ("--by", "meter"))):
        table.write_text(DEMO.read_text().replace("ml,ph", f"ml,{column}"))
        shown.append(huedose("jar", table, *more, *MADE))
    assert shown[0] == shown[1]
    assert shown[0][0] == 0
    table.write_text(DEMO.read_text().replace("ml,ph", "ml,meter"))
    code, out, err = huedose("jar", table, "--by", "strip", *MADE)
    assert (code, out) == (2, "")
    assert "by is 'strip', but the readings are called meter" in err


def test_a_step_may_have_its_unit_and_a_decimal_comma() -> None:
    written = [("6ml: 6,9", "6", "6,9"), ("6,5 mL:6.7", "6,5", "6.7"), ("1.5tsp: 6", "1.5", "6")]
    for text, amount, read in written:
        series = series_of(None, [text])
        assert (series.amounts, series.reads) == ((amount,), (read,))
        assert series.unit == ("tsp" if "tsp" in text else "mL")


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ((), "--instructions"),
        (
            ("--step", "0 - 8.1", *STEPS, "--by", "meter"),
            'a colon and what was read, for instance "4: 6.8"',
        ),
        (("--step", "0: 8.3", "--step", "4: 6.9"), "by is not given"),
        ((*STEPS, "--by", "litmus"), "accepted are meter"),
        ((*STEPS, "--by", "strip"), "undyed twin"),
        ((*STEPS, "--by", "drop-kit"), "undyed twin"),
        ((*STEPS, "--by", "colour"), "the readings are pH"),
        (("--step", "0: 8.3", "--by", "meter", *MADE), "1 different"),
        (("--step", "nan: 8", "--step", "4: 7", "--by", "meter"), "'nan'"),
        (("--step", "-1: 8", "--step", "4: 7", "--by", "meter"), "'-1'"),
        (("--step", "0: nan", "--step", "4: 7", "--by", "meter"), "Reading 1"),
        (("--step", "0: 8", "--step", "4: 77", "--by", "meter"), "Reading 2"),
        (("--step", "4: 7", "--step", "2: 8", "--by", "meter"), "fall from 4 to 2"),
        (("--step", "4 L: 7", "--step", "5: 6", "--by", "meter"), "unit is"),
        (("--step", "0: 8", "--step", "4: #12345", "--by", "meter"), "several kinds"),
        (("--step", "0: blue", "--step", "4: blue", "--by", "meter"), "Reading 1"),
        ((*STEPS, "--by", "meter", "--unit", "spoons"), "unit is"),
        (("--step", "0 mL: 8", "--step", "4 tsp: 7", "--by", "meter"), "keep one"),
        ((*STEPS, "--by", "meter", "--solution", "1"), "1"),
        ((*STEPS, "--by", "meter", "--solution", "40 %"), "solution"),
        ((*STEPS, "--by", "meter", "--solution", "1 %", "--unit", "g"), "dry powder"),
        ((*STEPS, "--by", "meter", "--solution", "1 %, 0 g"), "solution is '0 g'"),
        ((*STEPS, "--by", "meter", "--solution", "1 cup"), "solution"),
        ((*STEPS, "--by", "meter", "--solution", "1 %, citrus-acid"), "citric"),
        ((*STEPS, "--by", "meter", "--jar", "500 L"), "jar"),
        ((*STEPS, "--by", "meter", "--jar", "1"), "jar"),
        ((*STEPS, "--by", "meter", "--jar", "1 L, 0 x colour"), "0.1 to 50 times"),
        ((*STEPS, "--by", "meter", "--jar", "1 L, blue"), "jar"),
        (("--step", "6 tsp: turned", "--step", "9 tsp: turned"), "two readings"),
        (("--step", "6 tsp: turned", "--by", "meter"), "--by turn"),
        (("--step", "6: 5.1", "--by", "turn"), "the readings are pH"),
        (("--step", "6 tsp: turned"), "solution is not given"),
        (("--step", "3 tsp: turned", "--step", "2 tsp: matched"), "Was the soda in it?"),
        (("--step", "9 tsp: not turned", "--step", "9 tsp: matched"), "16 tsp: not turned"),
        (("--step", "0: #8899AA", "--step", "4: #8899AA", "--jar", "1 L, plain"), "leave plain"),
        ((*STEPS, "--by", "meter", *MADE, "--target", "tartan"), "target"),
        ((*STEPS, "--by", "meter", "--demo", "99"), "99"),
        (("nowhere.csv", "--by", "meter"), "nowhere.csv"),
        (("one.csv", "two.csv", "--by", "meter"), "one series"),
        (("--instructions", "--by", "photograph", "--jar", "1 L, plain"), "leave plain out"),
    ],
)
def test_bad_input_gets_one_sentence(huedose: Run, words: tuple[str, ...], part: str) -> None:
    code, out, err = huedose("jar", *words)
    assert code == 2
    assert out == ""
    assert part in err
    assert err.count("\n") == 1
    assert "Traceback" not in err


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("ph\n8\n7\n", "no column for the amounts"),
        ("ml,tsp,ph\n0,0,8\n1,20,7\n", "several columns"),
        ("ml\n0\n4\n", "one column of readings"),
        ("ml,ph,hex\n0,8,#112233\n4,7,#112233\n", "one column of readings"),
        ("ml;ph\n0;8\n4;7\n", "comma"),
        ("ml,phh\n0,8\n4,7\n", "ph"),
        ("ml,ph\n", "no readings"),
        ("ml,ph\n0,8,1\n4,7\n", "write decimals with a point"),
        ('ml,ph\n0,"8\n4,7\n', "stray quotation mark"),
        ("ml,ph\n0,8\n,7\n", "amount ''"),
    ],
)
def test_a_table_that_cannot_be_used_gets_one_sentence(
    huedose: Run, tmp_path: Path, text: str, part: str
) -> None:
    table = tmp_path / "jar.csv"
    table.write_text(text)
    code, out, err = huedose("jar", table, "--by", "meter")
    assert code == 2
    assert out == ""
    assert part in err
    assert err.count("\n") == 1


@pytest.mark.slow
def test_portions_of_a_jar_are_poured_as_carefully_as_those_of_a_plan(
    huedose: Run, tmp_path: Path
) -> None:
    path = tmp_path / "tub.toml"
    path.write_text(
        'schema = 1\n[tub]\nlength = "110 cm"\nwidth = "70 cm"\nfill = "55 cm"\n'
        '[water]\nhardness = "14 dH"\n'
        '[[colour]]\npigment = "butterfly-pea"\namount = "500 ml"\nstrength = "3 %"\n'
        '[wish]\nbathers = "adult"\n',
        encoding="utf-8",
    )
    steps = ("--step", "0: #82C3E5", "--step", "13: #89C2E8", "--step", "24: #99B8E9")
    more = ("--solution", "1 %", "--jar", "1 L, 3 x colour", "--target", "5.2")
    code, out, _ = huedose("jar", path, *steps, *more)
    flat = " ".join(out.split())
    assert code == 0
    assert re.search(r"pour in portions of \d+ g, \d+ g", flat)
    assert re.search(r"Each time dissolve one in [\d.]+ L of tub water", flat)
    assert re.search(r"Stop as soon as it is [a-z ]+", flat)
    # What was found is written down for what it is worth.
    assert 'instrument = "very rough jar test"' in flat
    _, out, _ = huedose("jar", DEMO, "--by", "meter", *MADE)
    flat = " ".join(out.split())
    assert re.search(r'alkalinity = "1\d\d ppm", instrument = "jar test"', flat)


@pytest.mark.slow
def test_the_strength_of_the_acid_is_asked_for(huedose: Run) -> None:
    code, out, err = huedose("jar", DEMO, "--by", "meter", "--jar", "1000 g")
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert "solution is not given, but the acid was added in mL" in err
    for unit, asked in (("mL", True), ("tsp", True), ("g", False)):
        _, out, _ = huedose("jar", "--instructions", "--by", "meter", "--unit", unit, "--json")
        assert ("--solution" in json.loads(out)["command"]) == asked


def test_instructions_do_not_swallow_a_series(huedose: Run) -> None:
    for given in (("--step", "0: 8"), (DEMO,)):
        code, out, err = huedose("jar", "--instructions", *given)
        assert (code, out) == (2, "")
        assert "without --instructions" in err


CABBAGE = Path(__file__).parent / "walks" / "nothing-known.toml"
CABBAGE_ACID = ("--solution", "0.5 tsp in 1 L", "--jar", "6.49 x colour")


@pytest.mark.slow
def test_a_turn_too_sour_for_the_bath_is_not_aimed_at(huedose_json: RunJson) -> None:
    code, found = huedose_json("jar", CABBAGE, *counts(30, 45), *CABBAGE_ACID)
    assert code == 0
    assert [note["code"] for note in found["why_moved"]] == ["jar.note.aim-milder"]
    assert found["target_ph"] > 6.0


@pytest.mark.slow
@pytest.mark.parametrize(("turned", "matched", "code"), [(5, 13, 0), (30, 45, 0), (80, 95, 3)])
def test_a_jug_that_turns_far_too_late_gives_no_dose(
    huedose: Run, turned: int, matched: int, code: int
) -> None:
    result, out, _ = huedose("jar", CABBAGE, *counts(turned, matched), *CABBAGE_ACID)
    assert result == code
    assert ("POUR" in out) is (code == 0)
    assert "go on adding" not in out


SPOONS = ("--solution", "1 tsp in 1 L", "--jar", "6.46 x colour")


@pytest.fixture
def blue(tmp_path: Path) -> Path:
    """A child's tub of a water that nobody read."""
    path = tmp_path / "blue.toml"
    path.write_text(
        'schema = 1\n[foam_bath]\namount = "40 mL"\n'
        '[[colour]]\npigment = "butterfly-pea"\namount = "460 mL"\nstrength = "2 %"\n'
        '[wish]\nbathers = "child"\nchild_age = "6 years"\ntarget = "6.55"\n',
        encoding="utf-8",
    )
    return path


def counts(turned: int, matched: int) -> tuple[str, ...]:
    return ("--step", f"{turned} tsp: turned", "--step", f"{matched} tsp: matched")


@pytest.mark.slow
# A level teaspoon of soda is about 4.6 g (0.94 g/mL as it lies) in 1 L, 44 mL of that hold 2.4 meq:
# 6 or 7 spoons of citric acid of 0.42 % (three acid groups, most of which it takes by pH 5.7).
@pytest.mark.parametrize(
    ("turned", "matched", "asked"),
    [(1, 2, True), (4, 4, True), (1, 1, True), (3, 9, False), (9, 15, False)],
)
def test_a_twin_without_its_soda_makes_no_dose_larger(
    huedose: Run, blue: Path, turned: int, matched: int, asked: bool
) -> None:
    code, out, _ = huedose("jar", blue, *counts(turned, matched), *SPOONS)
    flat = " ".join(out.split())
    assert code == (3 if asked else 0)
    assert ("was all the soda in the second jug" in flat) is asked
    assert ("POUR" in out) is not asked


@pytest.mark.slow
def test_the_hardest_usual_water_is_dosed(huedose_json: RunJson, blue: Path) -> None:
    # Hardest is 300 ppm (waters.csv: Danish tap water goes up to 350).
    _, found = huedose_json("jar", blue, *counts(16, 22), *SPOONS)
    assert 5.0 < found["alkalinity_meq_l"]["best"] < 6.0
    assert found["check_first"] == []


@pytest.mark.slow
@pytest.mark.parametrize("words", ["not turned", "no turn"])
def test_a_jug_that_never_turns_pours_nothing_and_says_what_next(
    huedose: Run, blue: Path, words: str
) -> None:
    code, out, _ = huedose("jar", blue, "--step", f"16 tsp: {words}", *SPOONS)
    flat = " ".join(out.split())
    assert code == 3
    assert "It never turned: pour nothing." in flat
    for part in ("go on adding", "fresh acid", "with a strip"):
        assert part in flat
    assert " g of " not in flat
    assert "alkalinity " not in flat.replace("alkalinity with a strip", "")


@pytest.mark.slow
def test_less_than_a_gram_is_measured_as_a_solution(huedose: Run, blue: Path) -> None:
    # Too little to be safe for the child: what a slight change shows is no look between portions.
    code, out, _ = huedose("jar", blue, *counts(1, 7), *SPOONS)
    assert code == 3
    assert "POUR" not in out
    child = blue.read_text(encoding="utf-8")
    blue.write_text(child.replace('"child"\nchild_age = "6 years"', '"adult"'), encoding="utf-8")
    _, out, _ = huedose("jar", blue, *counts(1, 7), *SPOONS)
    flat = " ".join(out.split())
    # 5 g in a litre: 0.7 g are in 140 mL.
    assert "stir 5 g into 1 L of water; 0.7 g is 140 mL of that" in flat
    assert 'alkalinity = "15 ppm", instrument = "very rough jar test"' in flat
    assert "tells little more" not in flat


@pytest.mark.slow
def test_water_without_alkalinity_gives_an_answer_and_no_forbidden_grams(
    huedose: Run, tmp_path: Path
) -> None:
    path = tmp_path / "none.toml"
    path.write_text(
        'schema = 1\n[water]\nalkalinity = "0 ppm"\ninstrument = "strip"\n'
        '[[colour]]\npigment = "butterfly-pea"\namount = "14 mL"\nstrength = "2 %"\n'
        '[foam_bath]\namount = "40 mL"\n[wish]\nbathers = "child"\nchild_age = "6 years"\n',
        encoding="utf-8",
    )
    table = tmp_path / "jar.csv"
    table.write_text("ml,strip\n0.2,6\n0.4,5\n2.2,4\n2.4,4\n2.6,3.5\n2.8,3\n3,3\n")
    code, out, _ = huedose("jar", path, table, *PLAIN_JAR)
    assert code == 3
    assert not re.search(r"\d g\b", out)
    code, out, _ = huedose("jar", path, "--instructions")
    assert "this bath may not" in out
    assert "in 100 L" not in out


@pytest.mark.slow
def test_a_test_by_eye_promises_what_it_gives(huedose_json: RunJson, blue: Path) -> None:
    _, laid_out = huedose_json("jar", blue, "--instructions", "--by", "turn")
    guide = laid_out
    assert guide["tells_little"] is False
    aim, matched = (round(guide[key] + 0.5) for key in ("aim", "aim_matched"))
    _, found = huedose_json("jar", blue, *counts(aim, matched), *SPOONS)
    after = found["per_litre_g"]
    told = 50.0 * (after["high"] - after["low"])
    assert told == pytest.approx(guide["after_g"], rel=0.3)
