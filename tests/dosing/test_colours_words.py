"""What ``colours`` says: every branch of its template, in any letters and in any width."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from dosing.bottle.rainbow import StockSolution, rainbow
from dosing.recipe import demo_recipe
from dosing.words.colours import ColoursDocument, refused_files
from dosing.words.marks import plain
from dosing.words.templates import render
from indicator.ladders import ladder, shown_strength
from indicator.optics import jar_view, tub_view
from indicator.pigments import SHIPPED, colourant, unsteady

Run = Callable[..., tuple[int, str, str]]


def document(*names: str, ph: tuple[float, ...] = (3.0, 7.0, 10.0), **more: Any) -> ColoursDocument:
    view = more.pop("view", jar_view())
    liquids = [[colourant(part) for part in name.split("+")] for name in names]
    plain_document = ColoursDocument(
        ladders=tuple(
            ladder({which: shown_strength(which, view) for which in liquid}, ph, view)
            for liquid in liquids
        ),
        rainbow=None,
        listed=False,
        spectrum=False,
        warnings=(),
    )
    return replace(plain_document, **more)


def words(answer: ColoursDocument, *, more: bool = False, own_water: bool = False) -> str:
    text = plain(render("colours", answer=answer, more=more, own_water=own_water))
    return " ".join(text.split())


def row_of(
    count: int, *stocks: StockSolution, names: tuple[str, ...] = ("roselle", "beet")
) -> ColoursDocument:
    view = jar_view()
    liquid = {colourant(name): shown_strength(colourant(name), view) for name in names}
    row = rainbow(demo_recipe(1), liquid, count, view, stocks)
    return document("beet", ladders=(row.ladder,), rainbow=row)


ACID, SODA = StockSolution("citric-acid-anhydrous", 2.0), StockSolution("sodium-carbonate", 2.0)


def test_every_branch_of_the_template_is_rendered(branches_missed: Callable[..., Any]) -> None:
    vinegar = StockSolution("white-vinegar", 100.0)
    clear = ladder({colourant("beet"): 0.0}, [7.0], jar_view())
    answers = [
        document("beet", "turmeric", warnings=refused_files(["No, x.toml."])),
        document("red-cabbage+tartrazine", ph=(1.0, 14.0), spectrum=True),
        document("beet", ladders=(clear,), spectrum=True),
        document("tartrazine", "red-cabbage", listed=True),
        row_of(5, ACID, SODA),
        row_of(14, ACID),
        row_of(24, ACID, StockSolution("sodium-bicarbonate", 2.5), names=("red-cabbage",)),
        row_of(6, ACID, SODA, names=("turmeric",)),
        row_of(4, vinegar, names=("brilliant-blue",)),
    ]
    cases = [
        {"answer": answer, "more": more, "own_water": more}
        for answer in answers
        for more in (False, True)
    ]
    assert branches_missed("colours", cases) == []


def test_a_jar_with_nothing_in_it_says_so() -> None:
    # With acid alone the mildest jar is brew and water.
    assert " nothing pH " in words(row_of(3, ACID))


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        (lambda: words(document("beet")), ["Beet in a clear jar", "pH 7.0 of these"]),
        (lambda: words(document("red-cabbage", ph=(2.0, 3.0))), ["Red cabbage"]),
        (lambda: words(document("red-cabbage", ph=(5.0, 9.0))), ["bathe in pH 5.0 to 9.0 of"]),
        (lambda: words(document("turmeric", view=tub_view(25.0))), ["Turmeric stains skin"]),
        (
            lambda: words(document("red-cabbage"), more=True),
            ["0.1 per cm at pH 1", "partly our estimate"],
        ),
        (lambda: words(document("tartrazine"), more=True), ["mol/L", "memory"]),
        (lambda: words(document("red-cabbage", spectrum=True)), [" nm (0.", "absorbance peaks"]),
        (lambda: words(document("turmeric", "beet", spectrum=True)), ["Turmeric in", "Beet in"]),
        (
            lambda: words(document("tartrazine", warnings=unsteady(["tartrazine"], 2.0))),
            ["! Below pH 3.0 tartrazine"],
        ),
        (
            lambda: words(
                document(*(one.name for one in SHIPPED.every), listed=True, ph=(2.0, 7.0, 10.0))
            ),
            ["tartrazine: yellow at every pH (from memory)", "beet: pink", "huedose colours NAME"],
        ),
        (
            lambda: words(document("beet", listed=True, warnings=refused_files(["No, x.toml."]))),
            ["! No, x.toml."],
        ),
    ],
)
def test_every_branch_is_said(text: Callable[[], str], parts: list[str]) -> None:
    said = text()
    for part in parts:
        assert part in said


def test_clear_water_has_no_maximum() -> None:
    clear = ladder({colourant("beet"): 0.0}, [7.0], jar_view())
    assert "colourless no maximum" in words(document("beet", ladders=(clear,), spectrum=True))


def test_how_sure_the_words_are_is_said_in_three_grades() -> None:
    """A dye hardly differs from batch to batch; a pigment near a turn may be another colour."""
    grades = {document(name, ph=(7.0,)).doubt for name in ("brilliant-blue", "red-cabbage")}
    assert "rough" in grades
    assert document("brilliant-blue", ph=(7.0,)).doubt != "rough"


@pytest.mark.parametrize("own_water", [True, False])
@pytest.mark.parametrize("more", [True, False])
@pytest.mark.parametrize("count", [5, 14])
def test_a_row_of_jars(count: int, more: bool, own_water: bool) -> None:
    answer = row_of(count, ACID, SODA)
    row = answer.rainbow
    assert row is not None
    said = words(answer, more=more, own_water=own_water)
    assert f"{count} jars from" in said
    assert "dried roselle plus" in said
    assert "goggles" in said
    assert ("Lesson: " in said) is more
    assert ("our demo's tap water" in said) is not own_water
    # The finer name stands beside the family where there is room for it.
    assert (f"({row.jars[0].name})" in said) is (more or count <= 8)


def test_a_colour_that_follows_no_ph_makes_no_rainbow(huedose: Run) -> None:
    command = ("colours", "brilliant-blue", "--jars", "4", "--stock", "white vinegar 100 %")
    _, out, _ = huedose(*command, COLUMNS="80")
    assert "4 jars, all blue: brilliant blue" in out
    assert "No rainbow" in out
    assert "of white vinegar 5 %, as it is." in out
    assert "strain" not in out
    # These jars end at pH 3.1, above where the dye weakens.
    assert "loses some of its strength" not in out
    assert "No rainbow" not in huedose("colours", "red-cabbage", "--jars", "4")[1]


@pytest.mark.parametrize("encoding", ["cp437", "cp1252", "ascii", "utf-8"])
def test_any_terminal_shows_a_row(huedose: Run, encoding: str) -> None:
    code, out, err = huedose(
        *("colours", "red-cabbage", "--jars", "9"), COLUMNS="40", NO_COLOR="1", encoding=encoding
    )
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 40
    assert "?" not in out
