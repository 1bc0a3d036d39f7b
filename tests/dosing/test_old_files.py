"""Files of earlier versions: they load, or one sentence says what to do.

The files in ``reference/old`` were written by the first versions that wrote each kind.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from dosing.recipe import demo_recipe, load_recipe
from dosing.recipe.quantities import InputError
from indicator.pigments import own_pigments

Run = Callable[..., tuple[int, str, str]]
RunJson = Callable[..., tuple[int, dict[str, Any]]]
OLD = Path(__file__).parents[1] / "reference" / "old"


def test_the_first_recipe_is_what_it_was() -> None:
    old, now = load_recipe(OLD / "evening_soak.toml"), demo_recipe(1)
    assert (old.tub.volume_l, old.tub.floor_area_cm2) == (120.0, 4800.0)
    assert old.water.alkalinity_meq_l == pytest.approx(95 / 50.0435, rel=1e-4)
    assert old.colours[0].content == pytest.approx(0.42 * 6)
    assert (old.wish.target, old.wish.child_age_years) == ("5.5", 8.0)
    assert old.activator == now.activator
    assert load_recipe(OLD / "blank.toml").water.instrument == "typical"


def test_an_old_folder_of_pigments_serves_an_old_recipe(
    huedose_json: RunJson, tmp_path: Path
) -> None:
    shutil.copytree(OLD / "pigments", tmp_path / "pigments")
    text = (OLD / "evening_soak.toml").read_text(encoding="utf-8")
    recipe = tmp_path / "mine.toml"
    recipe.write_text(text.replace("butterfly-pea", "our-blue"), encoding="utf-8")
    found = own_pigments(tmp_path).find("our-blue")
    assert (found.confidence, found.based_on) == ("OWN", "butterfly-pea")
    code, plan = huedose_json("--data-dir", tmp_path, "plan", recipe, "--dose", "5 g")
    assert code in (0, 3)
    assert plan["bottle"]["hex"]


def test_a_newer_recipe_gets_one_sentence_that_helps(tmp_path: Path) -> None:
    newer = tmp_path / "newer.toml"
    newer.write_text("schema = 2\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"schema is 2; .* schema 1: .* newer huedose.*\.$"):
        load_recipe(newer)


def test_a_newer_pigment_file_gets_one_sentence_that_helps(huedose: Run, tmp_path: Path) -> None:
    (tmp_path / "pigments").mkdir()
    text = (OLD / "pigments" / "our-blue.toml").read_text(encoding="utf-8")
    file = tmp_path / "pigments" / "our-blue.toml"
    file.write_text(text.replace("schema = 1", "schema = 2"), encoding="utf-8")
    recipe = tmp_path / "mine.toml"
    colour = f"[[colour]]\npigment = '{file}'\namount = '1 L'\n"
    recipe.write_text(colour, encoding="utf-8")
    code, out, err = huedose("plan", recipe, "--dose", "5 g")
    assert (code, out) == (2, "")
    assert "schema is 2; accepted is 1" in " ".join(err.split())
    assert "newer huedose" in " ".join(err.split())
    assert "Traceback" not in err


def test_what_is_written_carries_its_version(huedose: Run, tmp_path: Path) -> None:
    for path in (OLD / "evening_soak.toml", *(OLD / "pigments").glob("*.toml")):
        assert "\nschema = 1\n" in path.read_text(encoding="utf-8")
    _, text, _ = huedose("recipe", "--blank")
    assert "\nschema = 1\n" in text
