"""The list of pigments and dyes."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from dosing.face.tub import Tub
from dosing.plan.answer import make_plan
from dosing.plan.records import Plan
from dosing.recipe import load_recipe
from indicator.own import VARIABLE
from indicator.pigments import colourant, colourant_names, own_pigments, trust

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture(autouse=True)
def no_own_pigments(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An own folder that is empty."""
    monkeypatch.setenv(VARIABLE, str(tmp_path))


@pytest.mark.parametrize("view", ["jar", "tub", "bottle", "beaker"])
def test_every_colourant_is_listed_with_its_words(huedose: Run, view: str) -> None:
    code, out, err = huedose("colours", "--view", view, "--json")
    found = json.loads(out)
    assert (code, err) == (0, "")
    names = list(colourant_names())
    assert [one["name"] for one in found["colourants"]] == names
    assert [one["pigment"] for one in found["ladders"]] == names
    for one, drawn in zip(found["colourants"], found["ladders"], strict=True):
        assert one["trust"] in ("published", "recalled", "estimated", "reported")
        assert one["sources"]
        spans = drawn["words"]
        assert (spans[0]["from_ph"], spans[-1]["to_ph"]) == (2.0, 10.0)
        if one["kind"] == "dye":
            assert len(spans) == 1


def test_the_list_has_a_line_for_each(huedose: Run) -> None:
    code, out, err = huedose("colours", COLUMNS="80", encoding="cp437")
    lines = out.splitlines()
    assert (code, err) == (0, "")
    assert len(lines) == len(colourant_names()) + 3
    for name in colourant_names():
        (line,) = [line for line in lines if line.strip().startswith(f"{name}:")]
        said = re.search(r"\((published|from memory|trade)\)$", line)
        assert (said is None) is (trust(colourant(name)) == "estimated")
    assert "Partly our estimates. Petals differ" in out
    coloured = huedose("colours", COLUMNS="80", FORCE_COLOR="1", COLORTERM="truecolor")[1]
    assert len(coloured.splitlines()) == len(lines)
    narrow = huedose("colours", COLUMNS="40", encoding="cp1252")[1]
    assert max(map(len, narrow.splitlines())) <= 40


def test_a_market_is_told_with_its_source(huedose: Run) -> None:
    _, out, _ = huedose("colours", "turmeric", "--ph", "7", "--json")
    (turmeric,) = json.loads(out)["colourants"]
    markets = {one["market"]: one for one in turmeric["markets"]}
    assert markets["EU"]["listed"] == "yes"
    assert markets["US"]["listed"] == "no"
    assert "unverified" in markets["US"]["source"]


OWN = """
schema = 1
name = "our-petals"
[per_percent]
best = 3.5
low = 3.0
high = 4.0
[[form]]
form = "red"
[[form]]
form = "blue"
from_form = "red"
pka = 6.0
[[band]]
form = "red"
centre_nm = 520.0
width_nm = 80.0
height = 1.0
[[band]]
form = "blue"
centre_nm = 610.0
width_nm = 80.0
height = 1.2
"""


def test_own_pigments_are_listed_after_the_shipped_ones(huedose: Run, tmp_path: Path) -> None:
    folder = tmp_path / "pigments"
    folder.mkdir()
    (folder / "ours.toml").write_text(OWN, encoding="utf-8")
    (folder / "broken.toml").write_text("schema = ", encoding="utf-8")
    code, out, _ = huedose("colours", "--json")
    found = json.loads(out)
    assert code == 0
    known = found["colourants"]
    assert [one["name"] for one in known] == [*colourant_names(), "our-petals"]
    assert (known[-1]["trust"], known[-1]["sources"]) == ("own", ["own"])
    (warning,) = found["warnings"]
    assert "broken.toml" in warning["message"]
    _, text, _ = huedose("colours", COLUMNS="96")
    assert "our-petals: " in text
    assert "(your own file)" in text
    assert "broken.toml" in text


def test_an_own_pigment_is_mixed_and_drawn_like_any_other(huedose: Run, tmp_path: Path) -> None:
    folder = tmp_path / "pigments"
    folder.mkdir()
    (folder / "ours.toml").write_text(OWN, encoding="utf-8")
    code, out, _ = huedose("colours", "our-petals+tartrazine", "--ph", "3,9", "--json")
    assert code == 0
    assert set(json.loads(out)["ladders"][0]["strengths"]) == {"our-petals", "tartrazine"}
    code, out, _ = huedose("colours", "our-petals", "--ph", "2,10", "--json")
    (drawn,) = json.loads(out)["ladders"]
    assert [one["lambda_max_nm"] for one in drawn["swatches"]] == [520.0, 610.0]


def test_a_pigment_file_with_a_plus_in_its_path(huedose: Run, tmp_path: Path) -> None:
    file = tmp_path / "a+b.toml"
    file.write_text(OWN, encoding="utf-8")
    code, out, _ = huedose("colours", file, "--ph", "3", "--json")
    assert (code, json.loads(out)["ladders"][0]["pigment"]) == (0, "our-petals")
    # It is not known by its name for having been opened.
    code, _, err = huedose("colours", "our-petals", "--ph", "3")
    assert (code, "colourant is 'our-petals'" in err) == (2, True)


def test_opening_a_pigment_file_leaves_what_everybody_knows(tmp_path: Path) -> None:
    file = tmp_path / "ours.toml"
    file.write_text(OWN, encoding="utf-8")
    before = colourant_names(), own_pigments()
    assert before[1].find(str(file)).name == "our-petals"
    assert (colourant_names(), own_pigments()) == before
    with pytest.raises(ValueError, match="colourant is 'our-petals'"):
        own_pigments().find("our-petals")


RECIPE = """
[tub]
volume = "150 L"
[water]
alkalinity = "2 meq/L"
hardness = "3 mmol/L"
[[colour]]
pigment = "ours.toml"
amount = "500 mL"
strength = "2 %"
[wish]
bathers = "adult"
"""


def test_a_tub_knows_the_pigments_of_its_own_maker(tmp_path: Path) -> None:
    recipe = tmp_path / "soak.toml"
    recipe.write_text(RECIPE.replace("ours.toml", "our-petals"), encoding="utf-8")
    tubs = []
    for maker, pka in (("first", "6.0"), ("second", "6.5")):
        folder = tmp_path / maker / "pigments"
        folder.mkdir(parents=True)
        (folder / "ours.toml").write_text(OWN.replace("6.0", pka), encoding="utf-8")
        tubs.append(Tub.load(recipe, own_pigments(tmp_path / maker)))
    found = [float(tub.with_(volume="140 L").inputs.colours[0].colourant.pka[1]) for tub in tubs]
    assert found == [6.0, 6.5]


@pytest.mark.slow
def test_makers_with_files_of_one_name_do_not_see_each_other(tmp_path: Path) -> None:
    """Eight threads, four pigments that are all called our-petals: as one after another."""

    for number in range(4):
        folder = tmp_path / str(number)
        folder.mkdir()
        petals = OWN.replace("pka = 6.0", f"pka = {5.6 + 0.25 * number}")
        (folder / "ours.toml").write_text(petals, encoding="utf-8")
        (folder / "soak.toml").write_text(RECIPE, encoding="utf-8")

    def plan(number: int) -> Plan:
        return make_plan(load_recipe(tmp_path / str(number) / "soak.toml"))

    in_turn = [plan(number) for number in range(4)]
    with ThreadPoolExecutor(8) as pool:
        at_once = list(pool.map(plan, [*range(4)] * 2))
    told = [repr(one) for one in in_turn]
    assert [repr(one) for one in at_once] == told * 2
    assert len(set(told)) == 4
