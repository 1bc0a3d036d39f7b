"""The dose card: its table against plans, its page, its paper, and what its maker may write."""

from __future__ import annotations

import base64
import hashlib
import importlib
import json
import re
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from string import Formatter
from typing import Any

import cv2
import numpy as np
import pytest

from dosing.bath.inputs import CardInputs, RecipeInputs
from dosing.page import card as cards
from dosing.page import table
from dosing.page.card import NoCardError, check_allowed, dose_card, level_bands
from dosing.page.html import card_page, page_words, sachet_fit, static_tables
from dosing.page.paper import A6_MM, IMAGE_PX, address, card_source, image_card, paper_card
from dosing.page.records import SACHET, Card
from dosing.page.table import (
    Cell,
    Extent,
    Row,
    cell_inputs,
    rising,
    rows,
    solved_cells,
    straight_nodes,
)
from dosing.page.words import LANGUAGES, CardWords
from dosing.pictures.sheets import compiled
from dosing.plan.answer import make_plan
from dosing.plan.cautions import caution_of
from dosing.plan.levels import LEVELS, gate_level
from dosing.recipe import demo_recipe, demo_text, parse_recipe
from dosing.recipe.quantities import InputError
from dosing.words.documents import document
from dosing.workshop.product_file import demo_product_text
from indicator.tables import read_toml

REFERENCE = Path(__file__).parents[1] / "reference"
HOSTILE = "</script><script>alert(1)</script> \"'&{{ 7 * 7 }} #set page(fill: red) $ \\ `"
STEERING = "‮\x1b[31m\x07"
HOMES_TRIED = 20_000
TINY = Extent(marks={"half": 1 / 2, "full": 1.0}, between=(), drops=(0, 3))
MM_PER_PT = 25.4 / 72.0


def drawn_cells(
    inputs: RecipeInputs, table: Sequence[Row], litres: Sequence[float], bathers: Sequence[str]
) -> dict[str, list[list[Cell]]]:
    """Cells of a simple rule: what is on a page and on paper needs no plans."""

    def cell(row: Row, fill: float, who: str) -> Cell:
        if row.may_be_none:
            return Cell(why="nothing-safe")
        if who == "child" and not row.read:
            return Cell(why="needs-reading")
        dose = 0.1 * fill if who == "adult" else 0.05 * fill
        several = who == "child"
        codes = ("chlorine", "bathers-all", *(["bathers-child"] if who == "child" else []))
        return Cell(
            limit=1.3 * dose,
            dose=dose,
            chance=0.8,
            more=0.2 * dose,
            portions=3 if several else 1,
            first=dose / 4 if several else dose,
            ph_low=5.2,
            ph_high=6.4,
            cautions=tuple(map(caution_of, codes)),
        )

    return {who: [[cell(row, fill, who) for fill in litres] for row in table] for who in bathers}


@pytest.fixture(scope="session")
def drawn() -> Any:
    """Cards of the demo, their cells drawn by a rule."""
    made: dict[str, Card] = {}

    def card(**keys: Any) -> Card:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(cards, "solved_cells", drawn_cells)
            if not made:
                made["plain"] = dose_card(demo_recipe("1"), TINY)
        return replace(made["plain"], **keys)

    return card


@pytest.fixture(scope="session")
def hostile(drawn: Any) -> Card:
    card: Card = drawn(
        title=HOSTILE,
        lot=HOSTILE,
        edition=HOSTILE,
        directions=(HOSTILE,),
        url="https://example.org/soak?a=1&b='2'",
    )
    return card


@pytest.fixture(scope="session")
def page_rules() -> Iterator[Any]:
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(REFERENCE))
        yield importlib.import_module("card_page")


class Parts(HTMLParser):
    """Scripts of a page, and the text that is shown."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.scripts: list[dict[str, str | None]] = []
        self.texts: dict[str, list[str]] = {}
        self.inside: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inside.append(tag)
        assert not any(name.startswith("on") or name == "style" for name, _ in attrs)
        if tag == "script":
            self.scripts.append(dict(attrs))

    def handle_endtag(self, tag: str) -> None:
        if tag in self.inside:
            while self.inside.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        self.texts.setdefault(self.inside[-1] if self.inside else "", []).append(data)


def test_a_cell_is_the_plan_of_the_very_readings() -> None:
    inputs, extent = demo_recipe("1"), Extent()
    table = [row for row in rows(extent) if (row.kind, row.label) == ("strip", "120")]
    (water,) = table[0].waters
    cell = solved_cells(inputs, table, [93.0], ["child"])["child"][0][0]
    plan = make_plan(cell_inputs(inputs, water, 93.0, "child"))
    assert cell.limit == plan.maximum_g > 0
    assert cell.dose == plan.dose_g.best
    assert cell.chance == plan.odds.reached_share
    assert (cell.ph_low, cell.ph_high) == (plan.ph_acid_side, plan.ph_alkaline_side)
    assert cell.portions == sum(not pour.spare for pour in plan.pours)
    assert cell.portions > 1
    assert 0 < cell.first < 10.0 < cell.limit
    assert cell.first == min(pour.grams for pour in plan.pours if not pour.spare)
    assert [each.code for each in cell.cautions] == [each.code for each in plan.cautions]


def test_no_sachet_is_larger_than_a_portion_of_its_plan() -> None:
    inputs = demo_recipe("1")
    table = [row for row in rows(Extent()) if (row.kind, row.label) == ("strip", "120")]
    sold = replace(inputs, card=CardInputs(sachet_g=10.0))
    ((cell,),) = solved_cells(sold, table, [93.0], ["child"])["child"]
    # The plan of these readings, as above, goes in portions of less.
    assert (cell.limit, cell.why) == (0.0, SACHET)


def test_no_dose_where_a_strip_or_a_town_may_stand_for_no_alkalinity_at_all() -> None:
    table = [row for row in rows(Extent()) if row.label in ("0", "soft")]
    cells = solved_cells(demo_recipe("1"), table, [60.0, 180.0], ["adult"])["adult"]
    assert [row.kind for row in table] == ["strip", "drops", "none"]
    assert {(cell.limit, cell.dose, cell.why) for row in cells for cell in row} == {
        (0.0, 0.0, "nothing-safe")
    }


def test_a_child_gets_a_dose_only_with_a_reading() -> None:
    table = [row for row in rows(Extent()) if row.label == "hard"]
    ((cell,),) = solved_cells(demo_recipe("1"), table, [120.0], ["child"])["child"]
    assert (cell.limit, cell.dose, cell.why) == (0.0, 0.0, "needs-reading")


def test_towns_are_judged_by_their_softest_and_hardest_water_also_softened() -> None:
    """Classes of the US Geological Survey: to 60, 120, 180 mg/L CaCO3 and beyond."""
    towns = {row.label: row.waters for row in rows(Extent()) if row.kind == "none"}
    ppm = {
        name: sorted({round(float(np.asarray(w.alkalinity_meq_l)) * 50.04 / 0.82) for w in waters})
        for name, waters in towns.items()
    }
    assert ppm == {"soft": [0, 60], "middling": [60, 120], "hard": [120, 180]}
    for waters in (towns["middling"], towns["hard"]):
        assert sum(float(np.asarray(water.hardness_mmol_l)) <= 0.1 for water in waters) == 2


def test_a_limit_between_two_fills_holds_where_the_plan_changes_its_ways() -> None:
    """A dose of another level, or in portions, may have a smaller maximum: never less than itself.

    The engine's maximum at 180 ppm for an adult is 15 g in 60 L, 12.3 g in 66 L and 14 g in 75 L.
    """
    mind, ok, several = ((1, 1),), ((0, 1),), ((1, 3),)
    cells = [Cell(limit=15.0, dose=11.0, first=11.0, more=4.0, ways=mind)]
    cells += [Cell(limit=14.0, dose=13.0, first=13.0, more=1.0, ways=way) for way in (ok, ok)]
    kept = rising(cells)
    assert [cell.limit for cell in kept] == [11.0, pytest.approx(13.95), 14.0]
    assert all(cell.dose + cell.more <= cell.limit for cell in kept)
    portions = rising([replace(cell, ways=several) for cell in cells])
    assert [cell.limit for cell in portions] == [11.0, 13.0, 14.0]


def test_no_fill_allows_more_than_a_fuller_tub() -> None:
    limits = [15.0, 14.0, 16.0, 0.0, 5.0, 4.0]
    cells = [Cell(limit=limit, dose=limit, first=limit, ways=((0, 1),)) for limit in limits]
    assert [cell.limit for cell in rising(cells)] == [14.0, 14.0, 16.0, 0.0, 4.0, 4.0]


def test_portions_that_fail_by_a_hair_give_way_to_the_next_step() -> None:
    """Of 80.4 L no number of portions to the very wish holds pH 4.5 (4.4996); of 80 L one does."""
    table = [row for row in rows(Extent()) if (row.kind, row.label) == ("drops", "2")]
    ((cell,),) = solved_cells(demo_recipe("5"), table, [80.4], ["adult"])["adult"]
    assert cell.portions > 1
    assert cell.limit == pytest.approx(2.69, abs=0.01)


def test_drops_between_two_plans_take_the_smaller() -> None:
    table = [
        row for row in rows(Extent()) if row.kind == "drops" and row.label in ("12", "13", "14")
    ]
    assert [row.plans for row in table] == [("12",), ("12", "14"), ("14",)]


def test_a_page_takes_the_smaller_of_two_fills(drawn: Any, page_rules: Any) -> None:
    card = drawn()
    row = card.readings.strip[3].row
    assert card.litres == (90.0, 180.0)
    assert page_rules.page_limit(card, row, 90.0, "adult") == np.floor(1.3 * 9.0)
    assert page_rules.page_limit(card, row, 179.9, "adult") == np.floor(1.3 * 9.0)
    assert page_rules.page_limit(card, row, 180.0, "adult") == np.floor(1.3 * 18.0)
    assert page_rules.page_limit(card, row, 180.1, "adult") == 0.0


def test_straight_lines_between_nodes_are_near() -> None:
    doses = np.linspace(0.0, 1.0, 60)
    ph = (8.0 - 3.0 * np.sqrt(doses))[:, None] * np.array([1.0, 0.9])
    kept = straight_nodes(doses, ph)
    lines = np.array([np.interp(doses, doses[kept], column[kept]) for column in ph.T]).T
    assert np.abs(lines - ph).max() <= 0.02
    assert len(kept) < 20


def test_the_table_of_ph_is_within_a_twentieth_of_the_engine(drawn: Any, page_rules: Any) -> None:
    errors = page_rules.ph_errors(demo_recipe("1"), drawn(), 300, 4, TINY)
    assert len(errors) == 300
    assert np.abs(errors).max() <= 0.05


def test_bands_of_ph_have_the_level_of_their_middle() -> None:
    for who in ("adult", "child"):
        bands = level_bands(who)
        assert (bands[0].ph_low, bands[-1].ph_high) == (0.0, 14.0)
        for band in bands:
            inside = np.linspace(band.ph_low + 1e-6, band.ph_high - 1e-6, 20)
            assert {LEVELS[level] for level in gate_level(inside, who)} == {band.code}
        assert all(low.ph_high == high.ph_low for low, high in pairwise(bands))


def test_the_page_is_one_small_file_that_may_load_nothing(drawn: Any) -> None:
    text = card_page(drawn())
    assert len(text.encode()) <= 150_000
    assert len(json.dumps(document(drawn()), separators=(",", ":")).encode()) <= 90_000
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text)
    assert policy is not None
    assert "default-src 'none'" in policy[1]
    for tag in ("style", "script"):
        (body,) = re.findall(rf"<{tag}>(.*?)</{tag}>", text, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy[1]


def test_a_hostile_maker_is_shown_as_text(hostile: Card) -> None:
    page = Parts(card_page(hostile))
    kinds = [script.get("type") for script in page.scripts]
    assert kinds == ["application/json", "application/json", None]
    assert HOSTILE in "".join(page.texts["title"])
    assert HOSTILE in "".join(page.texts["bdi"])
    data, _, _ = page.texts["script"]
    assert json.loads(data) == json.loads(json.dumps(document(hostile)))
    assert not re.search("[<>&\u2028\u2029]", data)


def test_marks_that_steer_a_text_are_dropped_from_a_makers_lines() -> None:
    marks = _toml(STEERING)
    lines = f'directions = ["Shake{marks} <b>it</b>"]'
    card = parse_recipe(f"{demo_text('1')}\n[card]\n{lines}\n").card
    assert card.directions == ("Shake [31m <b>it</b>",)


def _toml(text: str) -> str:
    return "".join(f"\\u{ord(c):04x}" for c in text)


def test_the_page_without_script_has_every_pad_and_mark(drawn: Any) -> None:
    adult, child = static_tables(drawn())
    assert [row.label for row in adult.rows] == [
        f"{pad}\N{NO-BREAK SPACE}ppm" for pad in (0, 40, 80, 120, 180, 240)
    ]
    assert adult.rows[0].cells == ("–", "–")
    assert adult.rows[3].cells == ("9\N{NO-BREAK SPACE}g", "18\N{NO-BREAK SPACE}g")
    # 4.5 g in portions of at most 1.125 g, and 9 g in those of 2.25 g.
    assert child.rows[3].cells == ("4 × 1.1\N{NO-BREAK SPACE}g", "4 × 2.2\N{NO-BREAK SPACE}g")
    assert card_page(drawn()).count("<table>") == 2


def test_sachets_are_whole_and_rounded_down(drawn: Any) -> None:
    (adult, child) = static_tables(drawn(sachet_g=2.0))
    assert adult.rows[3].cells == ("4 sachets", "9 sachets")
    assert child.rows[3].cells == ("2 × 1 sachet", "4 × 1 sachet")
    (adult, _) = static_tables(drawn(sachet_g=9.1))
    assert adult.rows[3].cells == ("–", "1 sachet")


def test_a_sachet_that_is_too_much_somewhere_is_told_with_one_that_fits(drawn: Any) -> None:
    assert sachet_fit(drawn()) is None
    assert sachet_fit(drawn(sachet_g=0.1)) is None
    card = drawn(sachet_g=9.1)
    fit = sachet_fit(card)
    assert fit is not None
    assert fit.too_much < fit.places
    smaller = sachet_fit(replace(card, sachet_g=fit.smaller_g))
    left = 0 if smaller is None else smaller.too_much
    assert left == fit.places - fit.fits <= fit.places / 10
    assert "a whole sachet, or any dose, is too much" in card_page(card)
    # A plan in portions smaller than the sachet counts as too much as well.
    row, place = card.readings.strip[-1].row, card.litres.index(card.marks[-1].litres)
    why = [list(each) for each in card.why["adult"]]
    dose = [list(each) for each in card.dose["adult"]]
    why[row][place], dose[row][place] = SACHET, 0.0
    grids = {"why": tuple(map(tuple, why)), "dose": tuple(map(tuple, dose))}
    steps = replace(
        card, **{part: {**getattr(card, part), "adult": of} for part, of in grids.items()}
    )
    more = sachet_fit(steps)
    assert more is not None
    assert (more.places, more.too_much) == (fit.places, fit.too_much + 1)


@pytest.mark.slow
def test_a_basin_has_no_card_but_is_told_what_to_give_instead(huedose: Any, tmp_path: Path) -> None:
    page = tmp_path / "card.html"
    basin = tmp_path / "basin.toml"
    basin.write_text(demo_product_text("basin"))
    code, out, err = huedose("card", basin, "-o", page)
    assert (code, out, page.exists()) == (3, "", False)
    assert "give those along" in err
    assert "huedose papers" in err
    code, out, _ = huedose("papers", basin, "-o", tmp_path / "papers")
    assert code == 0
    assert (tmp_path / "papers/directions.pdf").exists()


def test_every_language_says_all_that_a_card_says() -> None:
    english, *others = (read_toml(f"text/{language}.toml")["card"] for language in LANGUAGES)
    words = {language: page_words(language) for language in LANGUAGES}
    for language, other in zip(LANGUAGES[1:], others, strict=True):
        assert _texts(english).keys() <= _texts(other).keys()
        for key, text in _texts(english).items():
            assert _names(text) == _names(_texts(other)[key]), key
        assert words[language].keys() == words["en"].keys()
        for key, text in words["en"].items():
            assert _names(text) == _names(words[language][key]), key
        missing = {code for code in _codes_of_cards() if code not in other["caution"]}
        assert missing == set()


def _texts(table: Mapping[str, Any]) -> dict[str, str]:
    return {f"{name}.{key}": text for name, part in table.items() for key, text in part.items()}


def _names(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name}


def _codes_of_cards() -> set[str]:
    """Cautions that may stand beside a dose: none that forbids it, none of another vessel."""
    lines = (Path(__file__).parents[2] / "data/trade/cautions.csv").read_text().splitlines()
    rows = [line.split(",") for line in lines if not line.startswith("#")][1:]
    return {
        code
        for code, level, about, *_ in rows
        if about == "pour"
        and (level == "mind" or code == "child-under-three")
        and not code.startswith((*cards.NOT_ON_CARDS, "splash", "hot-water-nobody"))
        and code in read_toml("text/en.toml")["caution"]
    }


def test_the_card_speaks_german_throughout(drawn: Any) -> None:
    told = CardWords("de")
    inputs = demo_recipe("1")
    assert told.first_in(inputs) == (
        "420 mL Auszug aus Schmetterlingserbse",
        "25 mL Schaumbad",
    )
    assert told.phrase("pale blue") == "blasses Blau"
    assert told.powder("citric-acid") == told.named("powder", "citric-acid", "citric acid")
    page = card_page(drawn(language="de"))
    assert '<html lang="de">' in page
    assert "4 × 1,1\N{NO-BREAK SPACE}g" in page


@pytest.mark.parametrize("which", ["drawn", "hostile", "long"])
def test_the_paper_card_is_one_page_of_a6(which: str, drawn: Any, hostile: Card) -> None:
    words = ("as many words as fit " * 10)[:200]
    long = drawn(
        title=words, lot=words, directions=(words,) * 8, url=f"https://{167 * chr(119)}.org"
    )
    pdf = paper_card({"drawn": drawn(), "hostile": hostile, "long": long}[which])
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", pdf)
    assert len(boxes) == len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    assert [float(side) * MM_PER_PT for side in boxes[0]] == pytest.approx(A6_MM, abs=0.05)


def test_the_code_on_paper_leads_to_the_lot(hostile: Card, drawn: Any) -> None:
    card = drawn(url="https://example.org/soak", lot="A 17/ß", edition="2")
    assert address(card) == "https://example.org/soak#lot=A%2017%2F%C3%9F&edition=2"
    png = compiled(*card_source(card, A6_MM), form="png", ppi=300.0)
    picture = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert picture is not None
    text, *_ = cv2.QRCodeDetector().detectAndDecode(picture)
    assert text == address(card)
    assert address(drawn(url="mailto:a@example.org", lot="A17")) == "mailto:a@example.org"


def test_the_picture_of_the_card_has_its_size(drawn: Any) -> None:
    png = image_card(drawn())
    picture = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None
    assert picture.shape[:2] == IMAGE_PX[::-1]


@pytest.mark.parametrize(
    ("line", "field"),
    [
        ('url = "javascript:alert(1)"', "card.url"),
        ('url = "https://example.org/\\" onload=x"', "card.url"),
        ('url = "example.org"', "card.url"),
        ('accent = "#ffe"', "card.accent"),
        ('accent = "#fff2a8"', "card.accent"),
        ('accent = "red;}"', "card.accent"),
        ('use_by = "soon"', "card.use_by"),
        ('sachet = "0 g"', "card.sachet"),
        ('sachet = "10"', "card.sachet"),
        ('language = "fr"', "card.language"),
        ('sachet = "20 kg"', "card.sachet"),
        ("lot = 17", "card.lot"),
        ('lot = "A\\n17"', "card.lot"),
        ('lot = "A\\u202e17"', "card.lot"),
        ('edition = "2\\u0007"', "card.edition"),
        ('secret = "x"', "card.secret"),
    ],
)
def test_what_a_card_cannot_carry_is_refused(line: str, field: str) -> None:
    with pytest.raises(InputError) as refused:
        parse_recipe(f"{demo_text('1')}\n[card]\n{line}\n")
    assert field in str(refused.value)


def test_a_card_past_its_last_day_is_not_made(huedose: Any, tmp_path: Path) -> None:
    recipe, page = tmp_path / "soak.toml", tmp_path / "card.html"
    recipe.write_text(f"{demo_text('1')}\n[card]\nuse_by = 2020-01-01\n", encoding="utf-8")
    code, out, err = huedose("card", str(recipe), "-o", str(page))
    assert (code, out, page.exists()) == (2, "", False)
    assert err.count("\n") == 1
    for part in ("card.use_by", "2020-01-01", "never show a dose"):
        assert part in err
    # What is not a card may still be read and planned.
    assert parse_recipe(recipe.read_text()).card.use_by == "2020-01-01"


def test_a_card_carries_what_its_maker_wrote() -> None:
    lines = 'lot = "A17"\nuse_by = 2027-05-31\nsachet = "2 tsp"\nurl = "mailto:a@example.org"\n'
    card = parse_recipe(f"{demo_text('1')}\n[card]\n{lines}").card
    assert (card.lot, card.use_by, card.url) == ("A17", "2027-05-31", "mailto:a@example.org")
    assert card.sachet_g == pytest.approx(2 * 4.929 * 0.85, rel=0.01)


def test_no_card_of_what_is_forbidden_for_its_purpose() -> None:
    fine = Cell(limit=5.0, dose=4.0)
    spoils = replace(fine, cautions=(caution_of("unpreserved-given", {"colour": "beet"}),))
    check_allowed({"adult": [[fine]]}, "sale")
    check_allowed({"adult": [[spoils]]}, "own")
    with pytest.raises(NoCardError, match="preservative"):
        check_allowed({"adult": [[fine, spoils]]}, "gift")
    beside = Cell(why="forbidden", cautions=(caution_of("pour-jug-beside-child"),))
    with pytest.raises(NoCardError, match="child in the tub"):
        check_allowed({"child": [[beside]]}, "own")
    adult = Cell(why="forbidden", cautions=(caution_of("pour-jug-beside-adult", {"reason": ""}),))
    with pytest.raises(NoCardError, match="write down why not"):
        check_allowed({"adult": [[adult]]}, "own")
    with pytest.raises(NoCardError, match="none of its waters"):
        check_allowed({"child": [[Cell()]]}, "own")


def test_a_recipe_for_nobody_has_no_card_and_no_file(huedose: Any, tmp_path: Path) -> None:
    file = tmp_path / "card.html"
    code, out, err = huedose("card", "--demo", "4", "-o", str(file))
    assert (code, out, file.exists()) == (3, "", False)
    assert err.count("\n") == 1


@pytest.mark.slow
def test_the_command_writes_the_card_in_all_its_forms(
    huedose: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cards, "solved_cells", drawn_cells)
    files = [tmp_path / name for name in ("card.html", "card.pdf", "card.png")]
    options = ("-o", str(files[0]), "--paper-card", str(files[1]), "--image", str(files[2]))
    code, out, err = huedose("card", *options, "--language", "de")
    assert (code, err) == (0, "")
    assert "Auch ein Kind" in out
    assert all(file.stat().st_size > 1000 for file in files)
    code, out, err = huedose("card", "--json")
    assert json.loads(out)["litres"] == [60.0, 75.0, 90.0, 120.0, 150.0, 180.0]


def test_no_home_of_the_long_run_was_allowed_more_than_its_plan(page_rules: Any) -> None:
    """Homes of every demo's card, by ``build_card_limits.py``, that were planned one by one."""
    table = importlib.import_module("build_card_limits")
    homes = importlib.import_module("reference_csv").read_csv(table.RESULT)
    picks = {(row["product"], row["pick"], row["bathers"]) for row in homes}
    assert {name for name, _, _ in picks} == set(table.PRODUCTS)
    assert {pick for _, pick, _ in picks} == {"strip", "drops", "none"}
    assert ("1", "strip", "child") in picks
    assert sum(int(row["homes"]) for row in homes) >= HOMES_TRIED
    assert {row["past"] for row in homes} == {"0"}
    assert min(float(row["least_margin_g"]) for row in homes) >= 0.0
    # A plan's limit is the 5 % side of what its readings leave open.
    true, past = (sum(int(row[part]) for row in homes) for part in ("true_tubs", "true_past"))
    assert past <= 0.05 * true
    assert {row["recipe"] for row in homes} == {table.digest(name) for name in table.PRODUCTS}


@pytest.mark.slow
@pytest.mark.parametrize("demo", ["1", "5"])
def test_no_home_is_allowed_more_than_its_own_plan(demo: str, page_rules: Any) -> None:
    inputs = demo_recipe(demo)
    card = dose_card(inputs)
    errors = page_rules.ph_errors(inputs, card, 2000, 2, Extent())
    assert np.abs(errors).max() <= 0.05
    homes = page_rules.limits_held(inputs, card, 150, 2, Extent())
    assert [home for home in homes if home.past] == []
    assert np.mean(page_rules.range_shares(inputs, card, 40, 2, Extent())) >= 0.90
    table = importlib.import_module("build_card_limits")
    tried = [
        row
        for row in importlib.import_module("reference_csv").read_csv(table.RESULT)
        if row["product"] == demo
    ]
    assert tried
    for row in tried:
        # The long run was one of this very card.
        limits_g = table.limits_g(card, row["pick"], row["bathers"])
        assert limits_g == pytest.approx(float(row["limits_g"]), rel=1e-3)
    for who in card.bathers:
        for row in card.limit[who]:
            assert all(low <= high for low, high in pairwise(row) if low > 0 and high > 0)


@pytest.mark.slow
def test_a_card_that_is_stopped_leaves_no_process_behind(tmp_path: Path) -> None:
    code = "import os; os.setsid(); from dosing.cli import main; main()"
    page = tmp_path / "card.html"
    arguments = [sys.executable, "-c", code, "card", "--demo", "5", "-o", str(page)]
    with subprocess.Popen(arguments, stdout=subprocess.DEVNULL) as card:
        deadline = time.monotonic() + 60
        while len(family(card.pid)) < 3 and time.monotonic() < deadline:
            time.sleep(0.2)
        assert len(family(card.pid)) >= 3
        card.terminate()
        assert card.wait(60) == 143
    while family(card.pid) and time.monotonic() < deadline + 60:
        time.sleep(0.2)
    assert not family(card.pid)
    assert not page.exists()


def family(session: int) -> list[str]:
    """States of the processes of a session that have not ended."""
    listed = ["ps", "-s", str(session), "-o", "state="]
    shown = subprocess.run(listed, capture_output=True, text=True, check=False).stdout.split()
    return [state for state in shown if state != "Z"]


def test_where_no_worker_can_start_the_cells_are_solved_here(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class Broken:
        def __init__(self, *_: object) -> None: ...
        def __enter__(self) -> Broken:
            return self

        def __exit__(self, *_: object) -> None: ...
        def map(self, *_: object, **__: object) -> list[object]:
            raise BrokenProcessPool

    monkeypatch.setattr(table, "ProcessPoolExecutor", Broken)
    monkeypatch.setattr(table, "_cells", str)
    jobs: Any = [1, 2]
    solved: Any = table._by_workers(jobs, 2)
    assert solved == ["1", "2"]
