"""``jar`` from the outside: a series in, a corrected dose out; a page to print; refusals."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., tuple[int, str, str]]

DEMO = Path(__file__).parents[2] / "data" / "demo" / "evening_soak_jar.csv"
MADE = ("--weighed", "30 g", "--weighed", "50 g", "--jar", "1000 g")
STEPS = ("--step", "0: 8.3", "--step", "8: 6.4", "--step", "12: 5.8")
KEYS = {
    "title", "by", "unit", "target", "target_ph", "reached", "target_met", "alkalinity_meq_l",
    "product_buffer", "pka_shift", "pigment_numbers", "gas_lost", "acid_scale", "offset_ph",
    "dose_g", "dose_before_g", "per_litre_g", "per_litre_before_g", "maximum_g", "pours_g",
    "volume_l", "volume_share", "ph_before", "ph_acid_side", "ph_alkaline_side",
    "ph_acid_side_airing", "ph_alkaline_side_airing", "steps", "consistent", "worst_step",
    "scatter", "next_additions", "next_additions_ml", "not_for_bathing", "cautions", "notes",
    "warnings",
}  # fmt: skip


def test_a_series_becomes_one_document(huedose: Run) -> None:
    code, out, err = huedose("jar", DEMO, "--by", "meter", *MADE, "--json")
    assert (code, err) == (0, "")
    found = json.loads(out)
    assert set(found) == KEYS
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
    assert [step["ml"] for step in found["steps"]] == [0, 4, 7, 9, 10, 11, 12, 14]
    assert set(found["steps"][0]) == {
        "number", "added", "ml", "read", "expected", "word", "residual", "set_aside",
    }  # fmt: skip
    assert found["consistent"] is True
    assert found["worst_step"] is None
    assert found["pka_shift"] is None
    assert 0 < found["volume_share"] < 1
    assert found["cautions"]


def test_words_fit_a_narrow_window_and_say_what_is_surer(huedose: Run) -> None:
    code, out, err = huedose("jar", DEMO, "--by", "meter", *MADE, COLUMNS="60")
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 60
    for part in ("The corrected dose", "before the jar", "Reading by reading", "Cautions"):
        assert part in out
    assert "g of citric acid" in out


def test_drops_are_worth_their_volume(huedose: Run) -> None:
    steps = ("--step", "0: 8.3", "--step", "160 drops: 6.4", "--step", "240 drops: 5.8")
    code, out, _ = huedose("jar", *steps, "--by", "meter", *MADE, "--drops-per-ml", "20", "--json")
    by_drop = json.loads(out)
    _, out, _ = huedose("jar", *STEPS, "--by", "meter", *MADE, "--json")
    by_ml = json.loads(out)
    assert code == 0
    assert by_drop["unit"] == "drops"
    assert by_drop["steps"][1]["ml"] == pytest.approx(8.0)
    assert by_drop["per_litre_g"]["best"] == pytest.approx(by_ml["per_litre_g"]["best"], rel=0.03)


def test_a_strip_is_taken_in_a_plain_jar_with_its_spread(huedose: Run) -> None:
    widths = {}
    for by in ("strip", "meter"):
        code, out, _ = huedose("jar", *STEPS, "--by", by, "--plain", *MADE, "--json")
        assert code == 0
        found = json.loads(out)
        widths[by] = found["per_litre_g"]["high"] - found["per_litre_g"]["low"]
        codes = {note["code"] for note in found["notes"]}
        assert "jar.note.plain" in codes
        assert ("jar.note.strip" in codes) == (by == "strip")
    assert widths["strip"] > 1.3 * widths["meter"]


def test_colours_and_words_are_read_as_the_jars_own(huedose: Run, tmp_path: Path) -> None:
    table = tmp_path / "jar.csv"
    table.write_text("ml,hex\n0,#00A0C1\n6,#3E97D3\n10,#5590D4\n13,#6089D1\n40,#7F86D0\n")
    code, out, _ = huedose("jar", table, "--colour-times", "4", *MADE, "--json")
    found = json.loads(out)
    assert code == 0
    assert found["by"] == "colour"
    assert set(found["pka_shift"]) >= {"low", "best", "high"}
    assert found["steps"][0]["read"] == "#00A0C1"
    assert found["steps"][0]["expected"].startswith("#")
    steps = ("--step", "0: blue", "--step", "12: blue", "--step", "60: violet")
    code, out, _ = huedose("jar", *steps, "--colour-times", "8", *MADE)
    assert code == 0
    assert "violet, so about pH" in out


def test_a_forbidden_dose_ends_with_three(huedose: Run) -> None:
    code, out, _ = huedose("jar", *STEPS, "--by", "meter", *MADE, "--target", "3.5")
    assert code == 3
    assert "A caution forbids this dose. Do not pour it." in out
    assert "Dissolve it" not in out


def test_instructions_are_laid_out_and_can_be_printed(huedose: Run, tmp_path: Path) -> None:
    page = tmp_path / "jar.pdf"
    code, out, err = huedose(
        "jar", "--instructions", "--by", "meter", "--picture", page, COLUMNS="60"
    )
    assert (code, err) == (0, "")
    assert page.read_bytes().startswith(b"%PDF")
    assert max(map(len, out.replace(str(page), "").splitlines())) <= 60
    for part in ("weigh 30 g", "What to add, and what to note", "________", "--by meter"):
        assert part in " ".join(out.split()), part
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
    assert "--plain" in found["command"]


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ((), "--instructions"),
        (("--step", "0: 8.3", "--step", "4: 6.9"), "by is not given"),
        ((*STEPS, "--by", "litmus"), "accepted are meter"),
        ((*STEPS, "--by", "strip"), "undyed twin"),
        ((*STEPS, "--by", "drop-kit"), "undyed twin"),
        ((*STEPS, "--by", "colour"), "the readings are pH"),
        (("--step", "0: 8.3", "--by", "meter"), "1 different"),
        (("--step", "nan: 8", "--step", "4: 7", "--by", "meter"), "'nan'"),
        (("--step", "-1: 8", "--step", "4: 7", "--by", "meter"), "'-1'"),
        (("--step", "0: nan", "--step", "4: 7", "--by", "meter"), "Reading 1"),
        (("--step", "0: 8", "--step", "4: 77", "--by", "meter"), "Reading 2"),
        (("--step", "4: 7", "--step", "2: 8", "--by", "meter"), "fall from 4 to 2"),
        (("--step", "4 L: 7", "--step", "5: 6", "--by", "meter"), "step is"),
        (("--step", "0: 8", "--step", "4: #12345", "--by", "meter"), "several kinds"),
        (("--step", "0: blue", "--step", "4: bleu"), "Reading 2"),
        (("--step", "0: brown", "--step", "4: brown"), "no colour that this jar shows"),
        ((*STEPS, "--by", "meter", "--unit", "spoons"), "unit is"),
        (("--step", "0 mL: 8", "--step", "4 drops: 7", "--by", "meter"), "keep one"),
        ((*STEPS, "--by", "meter", "--solution", "1"), "1"),
        ((*STEPS, "--by", "meter", "--solution", "40 %"), "solution"),
        ((*STEPS, "--by", "meter", "--solution", "1 %", "--unit", "g"), "dry powder"),
        ((*STEPS, "--by", "meter", "--weighed", "0 g"), "weighed"),
        ((*STEPS, "--by", "meter", "--scale", "yardstick"), "kitchen-scale"),
        ((*STEPS, "--by", "meter", "--acid", "citrus-acid"), "citric"),
        ((*STEPS, "--by", "meter", "--jar", "500 L"), "jar"),
        ((*STEPS, "--by", "meter", "--jar", "1"), "jar"),
        ((*STEPS, "--by", "meter", "--drops-per-ml", "nan"), "drops-per-ml"),
        ((*STEPS, "--by", "meter", "--colour-times", "0"), "colour-times"),
        ((*STEPS, "--by", "meter", "--plain", "--with-foam"), "keep one"),
        (("--step", "0: blue", "--step", "4: blue", "--plain"), "--plain"),
        ((*STEPS, "--by", "meter", "--target", "tartan"), "target"),
        ((*STEPS, "--by", "meter", "--demo", "99"), "99"),
        ((*STEPS, "--by", "meter", "--picture", "jar.png"), "--instructions"),
        (("nowhere.csv", "--by", "meter"), "nowhere.csv"),
        (("one.csv", "two.csv", "--by", "meter"), "one series"),
        (("--instructions", "--by", "strip", "--with-foam"), "undyed twin"),
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
        ("ml,drops,ph\n0,0,8\n1,20,7\n", "several columns"),
        ("ml\n0\n4\n", "one column of readings"),
        ("ml,ph,hex\n0,8,#112233\n4,7,#112233\n", "one column of readings"),
        ("ml;ph\n0;8\n4;7\n", "comma"),
        ("ml,phh\n0,8\n4,7\n", "ph"),
        ("ml,ph\n", "no jars"),
        ("ml,ph\n0,8,1\n4,7\n", "more cells"),
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
