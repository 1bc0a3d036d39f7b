"""What a shop owner with the README alone ran into: answers that disagree, and ways that end."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from dosing.effects.answer import Effects, design_effects, wished_end
from dosing.effects.shelf import read_shelf
from dosing.effects.written import designed_recipe, product_lines
from dosing.ingredients.hardness_units import alkalinity_meq_l
from dosing.ingredients.water import WaterReadings
from dosing.plan.answer import make_plan, preview
from dosing.recipe import parse_recipe
from dosing.sachets.rules import strip_pads
from dosing.words.marks import plain
from dosing.words.templates import render
from dosing.workshop import assess, demo_product
from dosing.workshop.batch import BatchAsked, batch
from dosing.workshop.maker_sheets import directions, too_soft_ppm
from dosing.workshop.product_file import demo_product_text, product_from
from dosing.workshop.trouble import complaint_of
from indicator.pigments import SHIPPED

Huedose = Callable[..., tuple[int, str, str]]
# Sweet potato goes from blue through violet; what its other draws give is mostly grey.
GREY_SOAK = tomllib.loads(
    demo_product_text("soak")
    .replace("red-cabbage", "purple-sweet-potato")
    .replace('amount = "10 g"', 'amount = "12 g"')
)


@pytest.fixture(scope="module")
def designed() -> Effects:
    """Green to yellow, for the demo product that is given away."""
    shelf = read_shelf(
        "purple sweet potato, black carrot, tartrazine, quinoline yellow, citric acid", SHIPPED
    )
    inputs = demo_product("green").recipe
    return design_effects(
        inputs, wished_end("green", "start"), wished_end("yellow", "end"), shelf=shelf
    )


@pytest.mark.slow
def test_a_design_becomes_a_product_by_the_lines_that_it_prints(designed: Effects) -> None:
    design = designed.designs[0]
    content = tomllib.loads(demo_product_text("green"))
    for gone in ("colour", "brew", "dye"):
        content.pop(gone)
    kept = ("mild blend", "phenoxyethanol with ethylhexylglycerin")
    content["ingredient"] = [line for line in content["ingredient"] if line["use"] in kept]
    lines = tomllib.loads("\n".join(product_lines(design)))
    content["activator"] |= lines.pop("activator")
    product = product_from(content | lines)
    answer = assess(product)
    assert {each.colourant for each in product.formula.colours} == set(design.colourants)
    # Nothing wet in a dry sachet.
    assert {each.amount_unit for each in product.recipe.colours} == {"g"}
    assert {each.unit for each in product.colour_packs} == {"g"}
    assert product.activator_g == pytest.approx(design.pour_g)
    # The same grams in the same tub: petals instead of brew, to two figures.
    poured = preview(design.inputs, design.pour_g).after
    assert answer.after.ph == pytest.approx(poured.ph, abs=0.1)
    assert str(answer.before.colour.word) == "green"
    assert str(answer.after.colour.word) == "yellow"


@pytest.mark.slow
def test_a_design_is_given_away_only_if_the_plan_of_its_recipe_is(designed: Effects) -> None:
    design = designed.designs[0]
    text = designed_recipe({"wish": {"purpose": "gift", "market": "EU"}}, designed, design)
    plan = make_plan(parse_recipe(text))
    assert not design.verdicts.give.allowed
    assert not plan.verdicts.give.allowed
    assert not designed.allowed


def test_only_the_product_says_what_may_be_given_or_sold() -> None:
    of_product = replace(demo_product("soak").recipe, of_product=True)
    verdicts = preview(of_product, 20.0).verdicts
    assert verdicts.give.because == verdicts.sell.because == "product-judged"
    assert verdicts.pour == preview(demo_product("soak").recipe, 20.0).verdicts.pour
    # What is forbidden stays so.
    far = preview(of_product, 200.0).verdicts
    assert not far.give.allowed
    assert far.give.because != "product-judged"


@pytest.mark.slow
def test_directions_forbid_the_sachet_in_water_that_is_too_soft_for_it() -> None:
    product = demo_product("soak")
    ppm = too_soft_ppm(product)
    assert ppm is not None
    softer = max(pad for pad in strip_pads() if pad < ppm)

    def forbidden(pad: float) -> bool:
        water = WaterReadings(
            alkalinity_meq_l=float(alkalinity_meq_l(pad, "ppm")), instrument="strip"
        )
        tub = replace(product.recipe.tub, volume_measured=False)
        return preview(replace(product.recipe, water=water, tub=tub), 20.0).forbidden

    # A pad lies between two steps: the first that would do is still left out.
    assert [forbidden(softer), forbidden(ppm)] == [True, False]
    lines = [
        str(line) for line in directions(product, preview(product.recipe, 20.0)).parts[0].lines
    ]
    soft, dissolve = (
        next(k for k, line in enumerate(lines) if code in line)
        for code in ("directions.too-soft", "directions.dissolve")
    )
    assert soft < dissolve


@pytest.mark.slow
def test_plan_soak_and_trouble_of_a_product_pour_its_own_sachet(
    huedose: Huedose, tmp_path: Path
) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(demo_product_text("soak"), encoding="utf-8")
    for command in ("plan", "soak"):
        _, out, _ = huedose(command, file, "--json")
        document = json.loads(out)
        poured = document["pour_g"] if command == "plan" else document["steps"][0]["grams"]
        assert poured == pytest.approx(20.0), command
    _, out, _ = huedose("plan", file)
    assert "POUR the sachet (20 g)." in out
    # Another sachet, another plan; a wish still asks for a dose of its own.
    file.write_text(demo_product_text("soak").replace('sachet = "20 g"', 'sachet = "9 g"'))
    assert "POUR the sachet (9 g)." in huedose("plan", file)[1]
    assert "POUR the sachet" not in huedose("plan", file, "--target", "6.0")[1]


@pytest.mark.slow
def test_a_product_tells_the_colour_that_most_tubs_end_in_as_its_plan_does() -> None:
    product = product_from(GREY_SOAK, SHIPPED)
    answer, odds = assess(product), make_plan(product.recipe).odds
    assert odds.named_share is not None
    assert odds.named_share < 0.2
    assert answer.commonest_word == odds.commonest_word
    assert answer.commonest_word != str(answer.after.colour.word)
    basin = assess(demo_product("basin"))
    assert basin.commonest_word is None


@pytest.mark.parametrize(
    "words", ["child got red feet", "her skin went red", "red spots", "hands swollen", "a blister"]
)
def test_skin_is_understood_and_sent_to_the_adverse_events(
    words: str, huedose: Huedose, tmp_path: Path
) -> None:
    # Red skin may be a stain of the dye as well; both begin with first aid.
    assert complaint_of(words) in ("stung", "reddened")
    book = tmp_path / "book.sqlite"
    asked = ("book", "add", "complaint", "product=soak")
    _, out, _ = huedose(*asked, f"what={words}", "--book", book)
    assert "book add adverse" in " ".join(out.split())
    _, out, _ = huedose(*asked, "what=stayed blue", "--book", book)
    assert "adverse" not in out


@pytest.mark.parametrize("words", ["it turned too red", "red too soon, too far", "stayed blue"])
def test_a_red_bath_is_no_red_skin(words: str) -> None:
    assert complaint_of(words) not in ("stung", "reddened")


@pytest.mark.slow
def test_a_margin_without_all_prices_is_a_most() -> None:
    sheet = batch(assess(demo_product("soak")), BatchAsked(kits=24))
    assert sheet.cost is not None
    whole = plain(render("batch", sheet=sheet, more=False))
    assert "it leaves at most" not in whole
    open_ = replace(sheet, cost=replace(sheet.cost, unpriced=("glycerin",)))
    assert "it leaves at most" in plain(render("batch", sheet=open_, more=False))


@pytest.mark.slow
def test_sachet_judges_the_sachet_of_a_product(huedose: Huedose, tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(demo_product_text("soak"), encoding="utf-8")
    few = ("--population", "mixed", "--homes", "1000")
    _, out, _ = huedose("sachet", file, *few)
    assert [line.split()[0] for line in out.splitlines() if " g: turns in " in line] == ["20"]
    assert "May it be poured, given, sold: huedose product" in out
    # Too much in many homes: no size is called right that is not.
    file.write_text(demo_product_text("soak").replace('sachet = "20 g"', 'sachet = "120 g"'))
    code, out, _ = huedose("sachet", file, *few)
    assert code == 3
    assert "Too sour: 120 g." in out


@pytest.mark.slow
def test_one_most_is_told_of_a_product_everywhere(huedose: Huedose, tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(demo_product_text("soak"), encoding="utf-8")
    _, plan, _ = huedose("plan", file)
    _, weigh, _ = huedose("batch", file)
    (most,) = re.findall(r"Never more than (\d+) g in all", " ".join(plan.split()))
    (over,) = re.findall(r"sachet [^;]*none over ([\d.]+) g", " ".join(weigh.split()))
    # A weigh sheet is filled to tenths of a gram, a plan pours whole ones, never more.
    assert int(most) == int(float(over))
    file.write_text(demo_product_text("soak").replace('sachet = "20 g"', 'sachet = "50 g"'))
    _, big, _ = huedose("product", file)
    assert f"at most {most} g" in " ".join(big.split())
    _, plan, _ = huedose("plan", file)
    assert f"More than its plan advises ({most} g at most)" in " ".join(plan.split())


@pytest.mark.slow
def test_soak_pours_the_first_portion_of_a_plan_whose_water_nobody_read(
    huedose: Huedose, tmp_path: Path
) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(
        'schema = 1\n[tub]\nvolume = "133 L"\n[[colour]]\npigment = "red-cabbage"\n'
        'amount = "700 mL"\nstrength = "2 %"\n[wish]\nbathers = "child"\nchild_age = "5 years"\n'
    )
    _, plan, _ = huedose("plan", file)
    (portion,) = re.findall(r"POUR ([\d.]+) g of citric acid and look", plan)
    _, soak, _ = huedose("soak", file)
    assert f"POUR {portion} g of citric acid" in soak
    assert "Pour nothing" not in soak
