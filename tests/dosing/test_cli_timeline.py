"""``time`` and ``programme`` on the command line: words, keys, pictures, refusals."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

Run = Callable[..., tuple[int, str, str]]
RunJson = Callable[..., tuple[int, dict[str, Any]]]

TIME_KEYS = {
    "times_s", "ph", "ph_local", "colours", "temperature_c", "co2_share_left", "lowest_local",
    "turned_after_s", "steady_after_s", "assumptions", "warnings", "cautions",
}  # fmt: skip
STAGE_KEYS = {
    "wish", "powder", "grams", "spoons", "total_g", "ph", "ph_acid_side", "ph_alkaline_side",
    "hex", "word", "change_delta_e", "level", "co2_litres",
}  # fmt: skip


def recipe(huedose: Run, folder: Path, **changes: str) -> Path:
    """The first demo with some lines changed."""
    _, text, _ = huedose("recipe", "--demo", "1")
    for old, new in changes.items():
        lines = text.splitlines()
        text = "\n".join(new if line.startswith(old) else line for line in lines) + "\n"
    path = folder / "bath.toml"
    path.write_text(text, "utf-8")
    return path


@pytest.mark.slow
def test_time_has_its_keys(huedose_json: RunJson) -> None:
    code, found = huedose_json("time")
    assert code == 0
    assert set(found) >= TIME_KEYS
    assert set(found["lowest_local"]) >= {"ph", "low", "high", "seconds_below_gate"}
    count = len(found["times_s"])
    assert count == 301 + 55
    for key in ("ph", "ph_local", "temperature_c", "co2_share_left", "ph_low"):
        assert len(found[key]) == count, key
    for key in ("hex", "word", "lab"):
        assert len(found["colours"][key]) == count, key
    _, plan = huedose_json("plan")
    assert found["pours"][0]["at_s"] == 0.0
    poured = sum(one["grams"] for one in found["pours"])
    assert poured == pytest.approx(plan["dose_g"]["best"], rel=1e-9)
    assert found["other_way"]["poured"] == "dry"
    assert found["other_way"]["lowest_local"]["ph"] < found["lowest_local"]["ph"]


@pytest.mark.slow
def test_time_says_the_moments_and_how_long_to_wait(huedose: Run) -> None:
    code, out, err = huedose("time", COLUMNS="96")
    assert (code, err) == (0, "")
    for words in ("5 s ", "30 s ", "2 min ", "10 min ", "60 min ", "Nobody gets in before", "jug"):
        assert words in out
    assert "Tipped in dry instead" in out
    assert "{" not in out


@pytest.mark.slow
@pytest.mark.parametrize("columns", ["60", "96"])
@pytest.mark.parametrize("stir", ["still", "tap"])
def test_time_fits_the_window(huedose: Run, columns: str, stir: str) -> None:
    _, out, _ = huedose(
        "time", "--stir", stir, "--poured", "dry", "--minutes", "20", COLUMNS=columns
    )
    assert max(len(line) for line in out.splitlines()) <= int(columns)
    assert "is not one colour" in " ".join(out.split())


@pytest.mark.slow
def test_a_pour_beside_bathers_exits_3(huedose: Run, tmp_path: Path) -> None:
    path = recipe(
        huedose, tmp_path, parts='parts = { citric-acid-anhydrous = 1 }\npoured = "beside"'
    )
    code, out, _ = huedose("time", path, COLUMNS="96")
    assert code == 3
    assert "nobody should get in" in out
    assert "X stop" in out
    assert "Nobody gets in before" not in out


@pytest.mark.slow
def test_a_dose_of_ones_own_is_poured_at_once(huedose_json: RunJson) -> None:
    code, found = huedose_json("time", "--dose", "8 g", "--minutes", "5")
    assert code == 0
    assert [one["grams"] for one in found["pours"]] == [8.0]
    assert found["times_s"][-1] == 300.0


@pytest.mark.slow
def test_a_forbidden_pour_says_so_first_and_not_how(huedose: Run) -> None:
    code, out, _ = huedose("time", "--dose", "40 g", "--minutes", "5", COLUMNS="96")
    assert code == 3
    title, _, may_i, _, blank, verdict, *_ = out.splitlines()
    assert may_i.startswith("Pour it: no.")
    assert (title, blank) == ("Evening soak", "")
    assert verdict == "A caution forbids this pour. Do not pour it: nobody should get in."
    for words in ("In the jug", "Tipped in dry", "Nobody gets in before", "How long to wait"):
        assert words not in out
    rows = [line for line in out.splitlines() if line.startswith("  5 min")]
    assert "(stop)" in rows[0]


@pytest.mark.slow
def test_levels_of_tub_and_pour_are_in_the_document(huedose_json: RunJson) -> None:
    _, found = huedose_json("time", "--dose", "40 g", "--minutes", "2")
    assert (found["forbidden"], found["wish_met"]) == (True, True)
    assert len(found["level"]) == len(found["level_local"]) == len(found["times_s"])
    assert (found["level"][0], found["level"][-1], found["level_local"][-1]) == (
        "ok",
        "stop",
        "stop",
    )


@pytest.mark.slow
def test_several_pours_are_told_one_by_one(huedose: Run, tmp_path: Path) -> None:
    path = recipe(huedose, tmp_path, target='target = "5.4"')
    code, out, _ = huedose("time", path, "--minutes", "10", COLUMNS="96")
    assert code == 0
    flat = " ".join(out.split())
    lines = [line.strip() for line in out.splitlines()]
    places = [k for k, line in enumerate(lines) if re.match(r"Pour \d", line)]
    assert [lines[k].split(":")[0] for k in places] == ["Pour 1 of 3", "Pour 2 of 3", "Pour 3 of 3"]
    grams = [float(lines[k].split(": ")[1].split()[0]) for k in places]
    assert f"{sum(grams):.0f} g of citric acid" in flat
    assert "in 3 pours 2 min apart" in flat
    for k in places:
        assert lines[k + 1].startswith("5 s ")
        assert any(line.startswith("30 s ") for line in lines[k + 1 : k + 4])
    assert "most so 30 s after pour 1 of 3" in flat
    assert "since the last pour" in flat


def test_a_dose_too_large_is_forbidden(huedose_json: RunJson) -> None:
    code, found = huedose_json("time", "--dose", "40 g", "--minutes", "2")
    assert code == 3
    assert found["cautions"][0]["level"] == "stop"


@pytest.mark.slow
def test_a_show_basin_is_told_as_one(huedose: Run) -> None:
    code, out, _ = huedose("time", "--demo", "4", "--minutes", "5", COLUMNS="60")
    assert code == 0
    assert "NOT FOR BATHING" in out
    assert "before you judge the colour" in " ".join(out.split())


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--stir", "spoon"), "stir is 'spoon'; accepted are still, hand, tap"),
        (("--poured", "bag"), "poured is 'bag'"),
        (("--grain", "dust"), "grain is 'dust'"),
        (("--minutes", "0"), "minutes is 0"),
        (("--minutes", "nan"), "minutes is nan"),
        (("--minutes", "1e9"), "minutes is 1e+09"),
        (("--minutes", "soon"), "minutes"),
        (("--dose", "0 g"), "dose is '0 g'"),
        (("--dose", "12"), "dose is"),
        (("--dose", "-3 g"), "dose is"),
        (("--picture", "soak.mp4"), "soak.mp4"),
        (("--picture", "/nowhere/at/all/soak.gif"), "soak"),
        (("no-such.toml",), "no-such.toml"),
        (("--accept-ph", " "), "accept-ph"),
    ],
)
def test_bad_time_is_one_sentence(huedose: Run, arguments: tuple[str, ...], words: str) -> None:
    code, out, err = huedose("time", *arguments)
    assert (code, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1
    assert "Traceback" not in err


@pytest.mark.slow
def test_a_strip_is_drawn(huedose: Run, tmp_path: Path) -> None:
    path = tmp_path / "strip.png"
    code, out, _ = huedose("time", "--poured", "dry", "--minutes", "10", "--picture", path)
    assert code == 0
    assert "strip.png" in " ".join(out.split())
    with Image.open(path) as image:
        pixels = np.asarray(image.convert("RGB"))
    assert pixels.shape[1] == 1400
    # Water of more than one colour: where it is poured dry it turns purple for a while.
    hue = np.unique(pixels.reshape(-1, 3), axis=0)
    purple = (hue[:, 0] > hue[:, 1] + 30) & (hue[:, 2] > hue[:, 1] + 30)
    assert purple.any()
    assert sorted(one.name for one in tmp_path.iterdir()) == ["strip.png"]


@pytest.mark.slow
@pytest.mark.parametrize("ending", ["gif", "apng"])
def test_a_moving_picture_is_small_and_moves(huedose: Run, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"soak.{ending}"
    code, _, _ = huedose("time", "--minutes", "10", "--picture", path)
    assert code == 0
    assert path.stat().st_size < 600_000
    with Image.open(path) as image:
        assert image.format == {"gif": "GIF", "apng": "PNG"}[ending]
        frames = int(getattr(image, "n_frames", 1))
        assert frames > 15
        pictures = []
        for frame in (0, 9, frames - 1):
            image.seek(frame)
            pictures.append(np.asarray(image.convert("RGB"), dtype=np.int64))
    assert {one.shape[1] for one in pictures} == {720}
    assert len({one.shape for one in pictures}) == 1
    assert np.any(pictures[0] != pictures[1])
    assert np.any(pictures[1] != pictures[2])
    assert [one.name for one in tmp_path.iterdir()] == [path.name]


def test_programme_has_its_keys(huedose_json: RunJson) -> None:
    code, found = huedose_json("programme", "--steps", "6.2, 5.7, back")
    assert code == 0
    assert found["reached"] is True
    assert [one["wish"] for one in found["stages"]] == ["6.2", "5.7", "back"]
    for stage in found["stages"]:
        assert set(stage) >= STAGE_KEYS
    powders = [one["powder"] for one in found["stages"]]
    names = ["citric-acid-anhydrous", "citric-acid-anhydrous", "sodium-bicarbonate"]
    assert powders == [{name: 1.0} for name in names]
    assert isinstance(found["cautions"], list)


@pytest.mark.slow
def test_programme_agrees_with_plan(huedose_json: RunJson) -> None:
    _, programme = huedose_json("programme", "--steps", "5.7")
    _, plan = huedose_json("plan", "--target", "5.7")
    assert programme["stages"][0]["grams"] == pytest.approx(plan["dose_g"]["best"], rel=1e-9)
    assert programme["stages"][0]["hex"] == plan["after"]["hex"]


@pytest.mark.slow
@pytest.mark.parametrize("columns", ["60", "96"])
def test_programme_is_a_running_order(huedose: Run, columns: str) -> None:
    code, out, err = huedose("programme", "--steps", "6.2, 5.7, back", COLUMNS=columns)
    assert (code, err) == (0, "")
    assert max(len(line) for line in out.splitlines()) <= int(columns)
    flat = " ".join(out.split())
    for words in (
        "1. pH 6.2",
        "2. pH 5.7",
        "3. back",
        "baking soda",
        "The first colour comes back",
    ):
        assert words in flat
    assert "Open a window" in flat


@pytest.mark.slow
def test_a_forbidden_programme_says_so_first_and_not_how(
    huedose: Run, huedose_json: RunJson, tmp_path: Path
) -> None:
    parts = 'parts = { citric-acid-anhydrous = 1 }\npouring = "dry"\npoured = "beside"'
    path = recipe(huedose, tmp_path, parts=parts)
    for command in (("programme", path, "--steps", "6.5, back"), ("time", path)):
        code, out, _ = huedose(*command, COLUMNS="96")
        assert code == 3
        verdict, reason = out.splitlines()[5:7]
        assert verdict.startswith("A caution forbids this ")
        assert reason.startswith("  - ")
        for words in ("Dissolve ", "pour it in", "while you pour", "Stir it", "Open a window"):
            assert words not in out
    code, found = huedose_json("programme", path, "--steps", "6.5, back")
    assert code == 3
    assert (found["forbidden"], found["reached"]) == (True, False)
    assert [one["reached"] for one in found["stages"]] == [False, False]
    assert all(one["needed"][-1]["code"] == "needed.see-cautions" for one in found["stages"])


def test_the_way_back_is_told_with_its_time(huedose_json: RunJson) -> None:
    _, found = huedose_json("programme", "--steps", "6.2, 5.7, back")
    first, _, back = found["stages"]
    assert first["comes_back"] is None
    assert 0.0 < back["comes_back"]["moved_s"] < back["comes_back"]["alone_s"]
    assert back["ph"] < back["comes_back"]["ph"] < back["ph_airing"]
    # The tap of the demo is about at rest with the air of the room already.
    assert found["before_ph_airing"] == pytest.approx(found["before_ph"], abs=0.1)


@pytest.mark.slow
def test_programme_that_cannot_be_had_exits_3(huedose: Run) -> None:
    code, out, _ = huedose("programme", "--steps", "purple, back", COLUMNS="96")
    assert code == 3
    assert "Not every step can be had as wished" in out
    assert "which the cautions forbid here" in out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--steps", ""), "steps has 0 steps"),
        (("--steps", "frobnicate"), "frobnicate"),
        (("--steps", "blue, 15"), "15"),
        (("--steps", "1,2,3,4,5,6,7,8,9"), "steps has 9 steps"),
        ((), "--steps"),
        (("--steps", "5.7", "--picture", "x.gif"), "x.gif"),
    ],
)
def test_bad_steps_are_one_sentence(huedose: Run, arguments: tuple[str, ...], words: str) -> None:
    code, out, err = huedose("programme", *arguments)
    assert (code, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1
    assert "Traceback" not in err


@pytest.mark.slow
@pytest.mark.parametrize("ending", ["png", "pdf"])
def test_programme_is_drawn(huedose: Run, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"order.{ending}"
    code, _, _ = huedose("programme", "--steps", "6.2, back", "--picture", path)
    assert code == 0
    start = {"png": b"\x89PNG", "pdf": b"%PDF"}[ending]
    assert path.read_bytes().startswith(start)


@pytest.mark.slow
@pytest.mark.parametrize(
    "arguments",
    [
        ("time", "--dose", "2 g", "--minutes", "5"),
        ("programme", "--steps", "5.7"),
        ("jar", "--instructions", "--by", "meter"),
        ("plan",),
    ],
)
def test_a_water_that_reads_no_alkalinity_is_answered(
    huedose: Run, tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    # A strip's zero pad at a high pH leaves no room for any carbonate.
    path = recipe(huedose, tmp_path, alkalinity='alkalinity = "0 ppm"', ph="ph = 8.2")
    command, *rest = arguments
    code, out, err = huedose(command, path, *rest)
    assert code in (0, 3)
    assert err == ""
    assert re.search(r"\bnan\b", out) is None


@pytest.mark.slow
def test_a_wish_that_the_plan_misses_exits_3_in_time_too(huedose_json: RunJson) -> None:
    code, found = huedose_json("plan", "--demo", "2")
    assert (code, found["reached"]) == (3, False)
    code, found = huedose_json("time", "--demo", "2", "--minutes", "5")
    assert code == 3
    assert not found["forbidden"]
