"""Small things that readers of the answers asked for: basins, ages, what to do next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from dosing.pictures.papers import paper_source
from dosing.plan.answer import make_plan
from dosing.words.templates import in_basin
from dosing.workshop.maker_sheets import directions
from dosing.workshop.product_file import demo_product_text, load_product

Huedose = Callable[..., tuple[int, str, str]]


@pytest.fixture
def basin(tmp_path: Path) -> Path:
    """The demo's foot basin, in a file whose name has a tub."""
    file = tmp_path / "tub.toml"
    file.write_text(demo_product_text("basin"))
    return file


def flat(out: str) -> str:
    return " ".join(out.split())


@pytest.mark.parametrize(
    ("tub", "basin_text"),
    [
        ("pH 5.0 in 1 of 20 tubs.", "pH 5.0 in 1 of 20 basins."),
        ("a glass of the tub's water", "a glass of the basin's water"),
        ("huedose plan tub.toml", "huedose plan tub.toml"),
        ('home="our tub" litres=8', 'home="our tub" litres=8'),
        ("Feel the water, then get in.", "Feel the water, then put the feet in."),
    ],
)
def test_a_text_on_a_tub_speaks_of_a_basin_but_leaves_names(tub: str, basin_text: str) -> None:
    assert in_basin(tub) == basin_text


@pytest.mark.slow
@pytest.mark.parametrize("command", ["plan", "soak", "brew", "trouble"])
def test_a_basin_is_nowhere_called_a_tub(command: str, basin: Path, huedose: Huedose) -> None:
    said = ("cloudy",) if command == "trouble" else ()
    code, out, _ = huedose(command, *said, basin)
    assert code == 0
    assert " tub" not in out.replace(str(basin), "")
    assert len(out.splitlines()) <= 20


@pytest.mark.slow
def test_a_product_keeps_the_name_that_has_a_tub_in_it(basin: Path, huedose: Huedose) -> None:
    basin.write_text(basin.read_text().replace("Tide basin", "Foot tub, long spoon"))
    _, out, _ = huedose("plan", basin)
    assert out.startswith("Foot tub, long spoon with its sachet: 8 L")
    assert "such tubs" not in flat(out)
    sheet = directions(load_product(basin), make_plan(load_product(basin).recipe))
    source = paper_source(replace(sheet, basin=True), "", "A4")[1]["paper"]
    assert "Foot tub, long spoon" in source
    assert "with a long spoon" not in source


def test_a_plan_of_a_basin_is_short_and_names_the_age(basin: Path, huedose: Huedose) -> None:
    _, out, _ = huedose("plan", basin)
    assert len(out.splitlines()) <= 14
    assert "for a child of 6" in out
    assert "15 min at most" in out


def test_colours_of_a_product_are_asked_for_by_name(basin: Path, huedose: Huedose) -> None:
    code, out, err = huedose("colours", basin)
    assert (code, out) == (2, "")
    assert "is a product; colours takes the names of its pigments" in err


def test_homes_and_brew_end_with_what_to_do_next(huedose: Huedose) -> None:
    _, out, _ = huedose("plan", "--demo", "5", "--homes")
    assert out.splitlines()[-1].endswith("huedose sachet --demo 5")
    _, out, _ = huedose("brew", "--demo", "5")
    assert "Then: huedose plan --demo 5" in flat(out)


def test_a_given_dose_is_named(huedose: Huedose) -> None:
    _, out, _ = huedose("plan", "--demo", "1", "--dose", "10 g")
    assert out.startswith("Evening soak with 10 g: 120 L")


@pytest.mark.slow
def test_a_complaint_takes_its_file_before_or_after(basin: Path, huedose: Huedose) -> None:
    assert huedose("trouble", basin, "cloudy") == huedose("trouble", "cloudy", basin)
    code, out, err = huedose("trouble", basin)
    assert (code, out) == (2, "")
    assert "Say what happened as well" in err


@pytest.mark.slow
def test_a_design_is_made_for_the_bath_of_a_product(basin: Path, huedose: Huedose) -> None:
    code, out, _ = huedose("design", "blue", "pink", basin)
    # It is to be sold, and a brew does not keep.
    assert code == 3
    assert out.startswith("Tide basin, blue to pink: 8 L at 36 °C")
    assert "To give or sell it: dried petals" in flat(out)
    assert len(out.splitlines()) <= 20
    code, out, _ = huedose("design", "green", "blue", basin)
    assert code == 3
    # What was just refused is not offered.
    assert "Green to blue:" not in out
