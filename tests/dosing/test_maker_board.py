"""`huedose card --board`: the file, its policy, and the recipe that its page fills."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from dosing.page.board import PH, board_of, board_page
from dosing.recipe import demo_recipe, demo_tables, recipe_from
from dosing.recipe.models import MOST_COLOURS
from dosing.workshop.product_file import demo_product
from indicator.pigments import colourant, colourant_names

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture(scope="module")
def text(tmp_path_factory: pytest.TempPathFactory) -> str:
    from dosing.cli.cards import write_board

    file = tmp_path_factory.mktemp("board") / "board.html"
    write_board(demo_recipe("4"), demo_tables("4"), file, "de")
    return file.read_text(encoding="utf-8")


def test_the_command_writes_the_board_alone(huedose: Run, tmp_path: Path) -> None:
    file = tmp_path / "board.html"
    code, out, err = huedose("card", "--demo", "4", "--board", file)
    assert (code, err) == (0, "")
    assert "".join(out.split()) == f"Written:{file}"
    assert file.read_text(encoding="utf-8").startswith("<!doctype html>")


def test_a_board_with_another_ending_is_refused(huedose: Run, tmp_path: Path) -> None:
    code, out, err = huedose("card", "--demo", "4", "--board", tmp_path / "board.txt")
    assert (code, out) == (2, "")
    assert "board is" in err
    assert ".html" in err
    assert not list(tmp_path.iterdir())


def test_only_its_own_styles_and_script_are_let_in(text: str) -> None:
    policy = str(re.search(r'http-equiv="Content-Security-Policy" content="([^"]+)"', text)[1])  # type: ignore[index]
    assert "default-src 'none'" in policy
    for kind, body in (
        ("style", re.findall(r"<style>(.*?)</style>", text, re.S)),
        ("script", re.findall(r"<script>(.*?)</script>", text, re.S)),
    ):
        (only,) = body
        known = base64.b64encode(hashlib.sha256(only.encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{known}'" in policy
    assert not re.findall(r'\s(?:style|on\w+|src)="', text.split("<script")[0])
    assert '<html lang="de">' in text


def test_its_data_is_one_document_that_ends_no_script(text: str) -> None:
    (data,) = re.findall(r'<script type="application/json" id="page-data">(.*?)</script>', text)
    assert "<" not in data
    assert json.loads(data)["title"] == demo_recipe("4").title


def test_charge_falls_along_ph_at_every_node() -> None:
    """A held bath loses protons as its pH rises, so that exactly one pH leaves no charge."""
    acidity = board_of(demo_recipe("4"), demo_tables("4")).acidity
    for water in ("own", "usual"):
        packed = np.frombuffer(base64.b64decode(acidity[water]), dtype="<f4")
        nodes = len(acidity["alkalinity_ppm"]), len(acidity["dose_g_kg"]), len(PH)
        assert np.all(np.diff(packed.reshape(nodes), axis=-1) < 0)


def test_a_pigment_file_keeps_no_folder_of_this_machine() -> None:
    tables = demo_tables("4")
    told = board_of(recipe_from(tables), {**tables, "colour": [{"pigment": "/a/b/mine.toml"}]})
    assert 'pigment = "mine.toml"' in told.toml["own"]
    assert "/a/b" not in told.toml["own"]


def test_with_as_many_colours_as_a_recipe_may_have_it_stays_small() -> None:
    amounts = {"dye": ("5 mL", "0.1 %"), "pigment": ("100 mL", "6 /cm")}
    colours = []
    for name in colourant_names()[:MOST_COLOURS]:
        kind = colourant(name).kind
        amount, strength = amounts[kind]
        colours.append({kind: name, "amount": amount, "strength": strength})
    tables = {**demo_tables("1"), "colour": colours}
    board = board_of(recipe_from(tables), tables)
    assert len(board.colours) == MOST_COLOURS
    assert len(board_page(board).encode()) <= 400_000


@pytest.mark.slow
def test_a_basin_is_no_tub_on_its_board() -> None:
    product = demo_product("basin")
    page = board_page(board_of(product.recipe, product.recipe_tables))
    assert "Water in the basin" in page
    assert "Water in the tub" not in page
