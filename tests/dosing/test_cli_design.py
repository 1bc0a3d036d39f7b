"""``design`` from the outside: words, JSON, recipe file, picture, and what cannot be used."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from dosing.effects.prices import prices_per_gram
from dosing.plan.answer import make_plan
from dosing.recipe import load_recipe
from indicator.pigments import SHIPPED

Run = Callable[..., tuple[int, str, str]]
RunJson = Callable[..., tuple[int, dict[str, Any]]]

CARROT = ("--shelf", "black carrot, tartrazine, citric acid", "--bathers", "adult")
PETALS = ("--shelf", "butterfly pea, tartrazine, citric acid", "--bathers", "nobody")
MOST_LINES = 20
"""Of a first answer at 80 columns."""


@pytest.mark.slow
def test_design_as_json(huedose_json: RunJson) -> None:
    code, found = huedose_json("design", "blue", "pink", *CARROT, "--count", "2")
    assert code == 0
    assert found["reached"] is True
    assert (found["start"]["word"], found["end"]["word"]) == ("blue", "pink")
    assert found["needed"] == found["instead"] == []
    first = found["designs"][0]
    assert first["before"]["word"] == "blue"
    assert first["after"]["word"] == "pink"
    assert first["ph_acid_side"] < first["ph_after"] < first["ph_alkaline_side"]
    assert first["ph_before"] > first["ph_after"]
    assert 0 < first["sure_share"] <= 1
    assert 0 < first["tubs_share"] <= 1
    assert set(first["colours"][0]) >= {"name", "amount", "unit", "strength"}
    assert first["activator"] == {"citric-acid-anhydrous": 1.0}
    assert first["colours"][0]["unit"] == "mL"
    assert first["level"] in ("ok", "mind")


@pytest.mark.slow
def test_the_same_call_gives_the_same_bytes(huedose: Run) -> None:
    call = ("design", "green", "orange", *CARROT, "--count", "1", "--json")
    assert huedose(*call) == huedose(*call)


@pytest.mark.slow
def test_written_recipe_plans_to_the_same_colours(
    huedose: Run, huedose_json: RunJson, tmp_path: Path
) -> None:
    file = tmp_path / "soak.toml"
    shelf = ("--shelf", "black carrot, red cabbage, tartrazine, citric acid", "--bathers", "adult")
    code, out, err = huedose("design", "blue", "pink", *shelf, "--write", file, "--pick", "2")
    assert (code, err) == (0, "")
    assert str(file) in out.replace("\n", "")
    _, found = huedose_json("design", "blue", "pink", *shelf)
    design = found["designs"][1]
    plan = make_plan(load_recipe(file))
    assert plan.reached
    assert str(plan.before.colour.hex) == design["before"]["hex"]
    assert str(plan.after.colour.hex) == design["after"]["hex"]
    assert plan.dose_g.best == pytest.approx(design["dose_g"], rel=1e-6)
    assert plan.ph_acid_side == pytest.approx(design["ph_acid_side"], abs=1e-6)
    assert plan.change_delta_e == pytest.approx(design["change_delta_e"], abs=1e-6)
    planned, _, _ = huedose("plan", file)
    assert planned == 0


@pytest.mark.slow
def test_recipe_in_the_way_is_kept(huedose: Run, tmp_path: Path) -> None:
    file = tmp_path / "soak.toml"
    file.write_text("mine", encoding="utf-8")
    code, _, err = huedose("design", "blue", "pink", *CARROT, "--write", file)
    assert code == 2
    assert "--overwrite" in err
    assert file.read_text(encoding="utf-8") == "mine"
    call = ("design", "blue", "pink", *CARROT, "--count", "1", "--write", file, "--overwrite")
    assert huedose(*call)[0] == 0
    assert load_recipe(file).colours[0].name == "black-carrot"


@pytest.mark.slow
def test_design_for_nobody_is_marked(huedose: Run, tmp_path: Path) -> None:
    picture = tmp_path / "designs.svg"
    code, out, _ = huedose(
        "design", "teal", "purple", *PETALS, "--demo", "4", "--count", "1", "--picture", picture
    )
    assert code == 0
    assert "NOT FOR BATHING" in out
    assert picture.read_text(encoding="utf-8").startswith("<?xml")


@pytest.mark.slow
def test_what_is_not_reached_exits_3_and_names_what_works(
    huedose: Run, huedose_json: RunJson
) -> None:
    call = ("design", "blue", "pink", "--demo", "1", *PETALS[:2], "--count", "1")
    code, found = huedose_json(*call)
    assert code == 3
    assert found["reached"] is False
    assert {one["code"] for one in found["needed"]} >= {"design.needed.end"}
    assert (found["instead"][0]["start"], found["instead"][0]["end"]) == ("blue", "pink")
    code, out, _ = huedose(*call, COLUMNS="60")
    assert code == 3
    assert max(map(len, out.splitlines())) <= 60
    flat = " ".join(out.split())
    assert "cannot be done within the cautions" in flat
    assert "Blue to pink: black carrot" in flat
    # No dose is laid out for another wish.
    assert "POUR" not in out


@pytest.mark.slow
def test_recipe_of_a_design_that_misses_says_so(huedose: Run, tmp_path: Path) -> None:
    file = tmp_path / "near.toml"
    call = ("design", "blue", "pink", "--demo", "1", *PETALS[:2], "--count", "1", "--write", file)
    code, _, _ = huedose(*call)
    assert code == 3
    assert "does not show both colours" in file.read_text(encoding="utf-8").splitlines()[0]
    _, plan, _ = huedose("plan", file)
    assert "blue to pink, which it misses" in plan.splitlines()[0]


@pytest.mark.slow
def test_a_first_answer_is_short_and_names_every_amount(huedose: Run) -> None:
    shelf = ("--shelf", "purple sweet potato, tartrazine, sunset yellow, citric acid")
    call = ("design", "green", "orange", *shelf, *CARROT[2:])
    code, out, err = huedose(*call, "--price", "tartrazine 5 per 100 g", COLUMNS="80")
    assert (code, err) == (0, "")
    assert len(out.splitlines()) <= MOST_LINES
    assert max(map(len, out.splitlines())) <= 80
    flat = " ".join(out.split())
    for part in (
        "mL of purple sweet potato brew (",
        "mL of tartrazine solution",
        "g of citric acid in ",
        "20 g dried to 1 L of hot water",
        "1 g of dye powder in 1 L of water",
        "It costs",
        "Green -> orange, pH 8.1 -> 4.8: a clear change.",
        "bleach",
    ):
        assert part in flat


@pytest.mark.slow
def test_a_first_answer_over_all_pigments_is_short(huedose: Run) -> None:
    _, out, _ = huedose("design", "green", "orange", COLUMNS="80")
    assert len(out.splitlines()) <= MOST_LINES


CARROT_BATH = """
schema = 1
title = "Landing room"
[tub]
volume = "110 L"
volume_measured = true
[water]
alkalinity = "100 ppm"
hardness = "8 dH"
ph = 7.8
instrument = "jar test"
[wish]
bathers = "adult"
"""


def bath(folder: Path) -> Path:
    path = folder / "landing.toml"
    path.write_text(CARROT_BATH, encoding="utf-8")
    return path


@pytest.mark.slow
def test_every_dose_carries_the_cautions_of_its_plan(
    huedose: Run, huedose_json: RunJson, tmp_path: Path
) -> None:
    # Red takes as much acid as a bath may have, so that some tubs pass the limit.
    call = ("design", "blue", "red", bath(tmp_path), "--shelf", "black carrot, citric")
    code, found = huedose_json(*call)
    assert code == 0
    for number, design in enumerate(found["designs"], start=1):
        file = tmp_path / f"soak-{number}.toml"
        assert huedose(*call, "--write", file, "--pick", number)[0] == 0
        planned = json.loads(huedose("plan", file, "--json")[1])
        assert design["cautions"] == planned["cautions"]
        assert design["past_limit_share"] == pytest.approx(planned["odds"]["past_limit_share"])
    assert found["designs"][0]["past_limit_share"] > 0.01
    _, out, _ = huedose(*call, "--cautions", "--more")
    flat = " ".join(out.split())
    for one in found["designs"][0]["cautions"]:
        assert one["level"] == "ok" or one["message"] in flat
    assert "beyond the cautions in" in flat


def test_the_gallery_is_short_and_names_both_colours(huedose: Run, huedose_json: RunJson) -> None:
    code, out, err = huedose("design", COLUMNS="80")
    assert (code, err) == (0, "")
    assert len(out.splitlines()) <= MOST_LINES
    assert "a child may bathe in" in out
    assert "Blue to pink" in out
    assert "US no" in " ".join(out.split())
    code, found = huedose_json("design", "--bathers", "adult")
    assert code == 0
    pairs = [(one["start"], one["end"]) for one in found["effects"]]
    assert len(set(pairs)) == len(pairs)
    assert {("blue", "pink"), ("green", "orange"), ("blue", "violet")} <= set(pairs)
    first = found["effects"][0]
    assert set(first["colours"][0]) >= {"name", "amount", "unit", "grams"}
    assert first["markets"]["US"] == "no"
    _, more, _ = huedose("design", "--more")
    assert all(one["start"] in more.casefold() for one in found["effects"])


def test_one_colour_lists_what_the_gallery_has_from_there(
    huedose: Run, huedose_json: RunJson
) -> None:
    code, found = huedose_json("design", "green")
    assert code == 0
    assert {one["start"] for one in found["effects"]} == {"green"}
    _, out, _ = huedose("design", "green")
    assert len(out.splitlines()) <= MOST_LINES
    assert "from green" in out
    assert "Green to orange" in out
    code, out, _ = huedose("design", "grey")
    assert code == 3
    assert "Nothing in the gallery starts grey." in out


@pytest.mark.parametrize(
    ("written", "per_gram"),
    [
        ("tartrazine 4.50 per 100 g", 0.045),
        ("tartrazine 12 euro per kg", 0.012),
        ("tartrazine 12 US dollars per kg", 0.012),
        ("tartrazine €4,50/100 g", 0.045),
        ("tartrazine 4,50 €/100 g", 0.045),
        ("tartrazine GBP 3 per 10 g", 0.3),
        ("tartrazine 90 kr. per kg", 0.09),
        ("tartrazine 12per kg", 0.012),
    ],
)
def test_a_price_may_be_in_any_money(written: str, per_gram: float) -> None:
    assert prices_per_gram([written], SHIPPED) == {"tartrazine": pytest.approx(per_gram)}


def test_the_gallery_of_a_shelf_has_only_what_is_on_it(huedose: Run, huedose_json: RunJson) -> None:
    code, found = huedose_json("design", "--shelf", "red cabbage, citric acid")
    assert code == 0
    assert found["effects"]
    assert {c["name"] for one in found["effects"] for c in one["colours"]} == {"red-cabbage"}
    code, out, _ = huedose("design", "--shelf", "red cabbage, washing soda")
    assert code == 3
    assert "Nothing in the gallery" in out


def test_pictures_and_sheets_are_written(huedose: Run, tmp_path: Path) -> None:
    picture, sheet = tmp_path / "best.png", tmp_path / "best.pdf"
    code, out, _ = huedose("design", "--picture", picture, "--sheet", sheet)
    assert code == 0
    assert picture.read_bytes().startswith(b"\x89PNG")
    assert sheet.read_bytes().startswith(b"%PDF")
    assert "best.png" in out.replace("\n", "")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("blue", "pnik"), "did you mean 'pink'"),
        (("bleu", "pink"), "did you mean 'blue'"),
        (("blue", "navy"), "both blue"),
        (("blue", "5.2"), "end is '5.2'"),
        (("blue", "#12345"), "accepted are"),
        (("blue", "pink", "--shelf", ""), "names no colour"),
        (("blue", "pink", "--shelf", "citric acid"), "names no colour"),
        (("blue", "pink", "--shelf", "butterfly pea, cream of tarter"), "cream-of-tartar"),
        (("blue", "pink", "--bathers", "kid"), "bathers is 'kid'"),
        (("blue", "pink", "--count", "0"), "1 to 20"),
        (("blue", "pink", "--count", "many"), "count"),
        (("blue", "pink", "--price", "free"), "price is 'free'"),
        (("blue", "pink", "--price", "gold 5 per 1 g"), "no colour or powder"),
        (("blue", "pink", "--pick", "2"), "without --write"),
        (("blue", "pink", "--write", "soak.txt"), ".toml"),
        (("blue", "pink", "--write", "no-such-folder/soak.toml"), "folder that exists"),
        (("blue", "pink", "--picture", "soak.bmp"), ".png"),
        (("blue", "pink", "--demo", "9"), "demo is '9'"),
        (("blue", "pink", "no-such.toml"), "no-such.toml"),
        (("#204060",), "has no end beside it"),
        (("blue", "soak.toml"), "name both colours"),
        (("gren",), "did you mean 'green'"),
        (("blue", "pink", "--price", "tartrazine -5 per g"), "price is 'tartrazine -5 per g'"),
        (("--write", "soak.toml"), "name both colours"),
        (("soak.toml",), "name both colours"),
    ],
)
def test_bad_input_gets_one_sentence(
    huedose: Run, arguments: tuple[str, ...], message: str
) -> None:
    code, out, err = huedose("design", *arguments)
    assert code == 2
    assert out == ""
    assert message in err
    assert len(err.strip().splitlines()) == 1
    assert "Traceback" not in err


def test_pick_beyond_the_list_is_refused(huedose: Run, tmp_path: Path) -> None:
    file = tmp_path / "soak.toml"
    call = ("design", "blue", "pink", *CARROT, "--count", "1", "--write", file, "--pick", "9")
    code, _, err = huedose(*call)
    assert code == 2
    assert "pick is 9" in err
    assert not file.exists()


@pytest.mark.slow
def test_a_colour_that_is_gone_within_minutes_is_left_out(huedose_json: RunJson) -> None:
    # Turmeric loses half of its colour within minutes in alkaline water (data/colour/fading.csv
    # names the measurements); in a tub of pH 8 it is gone before the activator is poured.
    shelf = "turmeric, red cabbage, citric acid"
    _, found = huedose_json("design", "blue", "purple", "--shelf", shelf)
    told = [one["message"] for one in found["warnings"]]
    assert any("turmeric is left out" in one for one in told)
    names = {colour["name"] for one in found["designs"] for colour in one["colours"]}
    assert "turmeric" not in names
    assert "red-cabbage" in names


@pytest.mark.slow
def test_a_tub_that_forbids_every_design_has_no_picture_and_still_its_answer(
    huedose: Run, tmp_path: Path
) -> None:
    recipe, picture = tmp_path / "toddler.toml", tmp_path / "toddler.png"
    code, text, _ = huedose("recipe", "--demo", "1")
    assert code == 0
    recipe.write_text(text.replace("8 years", "2 years"), encoding="utf-8")
    code, out, _ = huedose("design", "blue", "pink", recipe, "--picture", picture)
    assert code == 3
    assert "under three" in out
    assert "Picture:" not in out
    assert not picture.exists()
