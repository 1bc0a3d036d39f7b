"""The words of ``design``: every branch of its templates, and how long its answers are."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import pytest

from dosing.bath.inputs import RecipeInputs
from dosing.effects.answer import Effects, design_effects, wished_end
from dosing.effects.designs import Design
from dosing.effects.gallery import gallery, gallery_tub
from dosing.effects.shelf import read_shelf
from dosing.effects.written import designed_recipe, product_lines
from dosing.plan.answer import make_plan
from dosing.recipe import demo_recipe, parse_recipe
from dosing.words.filters import of_ten
from dosing.words.marks import plain
from dosing.words.templates import render
from dosing.workshop.designed import DesignedProduct

MOST_LINES = 20
Missed = Callable[..., list[str]]
YELLOWS = "purple sweet potato, tartrazine, sunset yellow, citric acid"
CARROT = "black carrot, tartrazine, citric acid"

BASIN = """
schema = 1
title = "Landing room"
[tub]
volume = "{volume}"
volume_measured = true
[water]
alkalinity = "100 ppm"
hardness = "8 dH"
ph = 7.8
instrument = "jar test"
[[colour]]
pigment = "black-carrot"
amount = "500 mL"
strength = "2 /cm"
[wish]
bathers = "{bathers}"
"""


def asked(**given: Any) -> SimpleNamespace:
    usual = {"more": False, "cautions": False, "write": None, "shelf": None, "bathers": None}
    return SimpleNamespace(**{**usual, **given})


def basin(volume: str = "110 L", bathers: str = "adult") -> RecipeInputs:
    return parse_recipe(BASIN.format(volume=volume, bathers=bathers))


@cache
def designed(
    start: str, end: str, shelf: str, where: str = "adult", price: float = 0.0, count: int = 2
) -> Effects:
    young = demo_recipe(1)
    tubs: dict[str, Callable[[], RecipeInputs]] = {
        "adult": lambda: gallery_tub("adult"),
        "child": lambda: gallery_tub("child"),
        "infant": lambda: replace(young, wish=replace(young.wish, child_age_years=1.0)),
        "nobody": lambda: basin(bathers="nobody"),
        "own bottle": basin,
        "large": lambda: basin("700 L"),
    }
    return design_effects(
        tubs[where](),
        wished_end(start, "start"),
        wished_end(end, "end"),
        shelf=read_shelf(shelf),
        count=count,
        prices={"tartrazine": price} if price else None,
    )


def said(effects: Effects, *, bare: bool = False, **given: Any) -> str:
    """The answer on one long line."""
    text = render("design", effects=effects, asked=asked(**given), bare=bare)
    return " ".join(plain(text).split())


def having(design: Design, **worked_out: Any) -> Design:
    """The same with some of what it works out, when first asked, known already."""
    changed = replace(design)
    vars(changed).update(worked_out)
    return changed


def rendered_designs() -> Iterator[dict[str, Any]]:
    """Contexts that render every branch of a design."""
    green, own = (
        designed("green", "orange", YELLOWS),
        designed("blue", "pink", CARROT, "own bottle"),
    )
    best = green.designs[0]
    gift = replace(green.inputs, wish=replace(green.inputs.wish, purpose="gift"))
    seldom = replace(best.end, votes=(), shade=None, called=0.1)
    # The maker's own bottle, one of what is brewed for it, and a dye.
    fits = replace(green, inputs=gift, designs=(having(best, colours=best.colours[-1:]),))
    mixed = having(own.designs[0], colours=own.designs[0].colours + best.colours)
    dyed = "elderberry, brilliant blue, citric acid"
    for effects in (
        green,
        replace(green, inputs=gift, designs=(having(best, end=seldom), *green.designs[1:])),
        replace(own, designs=(mixed,)),
        fits,
        designed("green", "orange", YELLOWS, price=2.0),
        designed("blue", "pink", CARROT, "nobody"),
        designed("blue", "pink", CARROT, "infant"),
        designed("blue", "pink", "black carrot, table salt"),
        designed("blue", "pink", "black carrot, table salt", "own bottle"),
        designed("blue", "orange", "butterfly pea, citric acid"),
        designed("#AAC9CC", "#CDD6CA", dyed, "child"),
        designed("#8A2BE2", "#FF69B4", dyed, "child"),
    ):
        for given in ({}, {"more": True, "cautions": True, "write": "soak.toml"}):
            yield {"effects": effects, "asked": asked(**given), "bare": False}
        yield {"effects": effects, "asked": asked(), "bare": True}
    written = {"effects": green, "asked": asked(write="soak.toml"), "bare": False}
    product = DesignedProduct("gift", best.pour_g, 99.0, product_lines(best), (), ())
    for told in (
        product,
        replace(product, dissolved=("tartrazine",)),
        replace(product, pinches=("riboflavin",)),
        replace(product, lines=(), most_g=2.0),
        replace(product, lines=(), most_g=0.0),
    ):
        yield written | {"of_product": told}


@pytest.mark.slow
def test_every_branch_of_a_design_is_rendered(branches_missed: Missed) -> None:
    # What answers share is checked with the plan; what is said of markets, with the gallery.
    missed = branches_missed("design", rendered_designs(), ["shared"])
    assert missed == ["{%- for market in effects[0].markets %}"]


def test_the_gallery_tells_how_much_water_its_petals_are_brewed_in() -> None:
    effects = gallery()
    text = plain(render("gallery", effects=effects, asked=asked(), start=None, bare=False), 10_000)
    told_ml = float(re.findall(r"each gram brewed in (\d+) mL of hot water", text)[0])
    brews = [colour for effect in effects for colour in effect.colours if not colour.stock.is_dye]
    assert {round(colour.amount_ml / float(colour.grams or 0.0), 1) for colour in brews} == {
        told_ml
    }


def test_every_branch_of_the_gallery_is_rendered(branches_missed: Missed) -> None:
    blue = wished_end("blue", "start")
    cases = [
        {"effects": gallery(bathers=bathers) if works else (), "start": start, "bare": more}
        | {"asked": asked(bathers=bathers, more=more, shelf=shelf)}
        for bathers in ("adult", "child")
        for more in (False, True)
        for works, start, shelf in ((True, blue, None), (False, None, "beet"), (False, blue, None))
    ]
    cases += [{**cases[0], "asked": asked(more=True)}]
    assert branches_missed("gallery", cases, ["effects-shared"]) == []


def test_two_brews_of_different_strength_are_named() -> None:
    shelf = "purple sweet potato, black carrot, tartrazine, quinoline yellow, citric acid"
    effects = designed("green", "yellow", shelf)
    potato, carrot, *dyes = effects.designs[0].colours
    weaker = replace(carrot, stock=replace(carrot.stock, written="1 %", grams_per_l=10.0))
    changed = having(effects.designs[0], colours=(potato, weaker, *dyes))
    text = said(replace(effects, designs=(changed,)))
    assert "Brew of purple sweet potato: 20 g dried to 1 L of hot water, strained." in text
    assert "Brew of black carrot: 10 g dried to 1 L of hot water, strained." in text


def test_a_design_says_what_to_pour_and_how_sure_it_is() -> None:
    text = said(designed("green", "orange", YELLOWS))
    for part in (
        "green to orange: 120 L at 38 °C, 25 cm deep, for an adult",
        "Pour it: yes",
        "Green -> orange, pH 8.1 -> 4.8: a clear change.",
        "POUR IN, and stir: ",
        "THEN, before anyone gets in: dissolve 20 g of citric acid in ",
        "It ends at pH ",
        "pour; and no more",
        "This is the effect; its plan (last lines) has the dose, the most, the way back.",
        "With untested petals both colours come in ",
        "of 100 people",
        "Solution: 1 g of dye powder in 1 L of water.",
        "Brew: 20 g dried to 1 L of hot water, strained.",
        "bleach",
        "add --write design.toml",
        "More: --more",
    ):
        assert part.casefold() in text.casefold(), part


def test_a_design_counts_as_the_plan_of_its_recipe_does() -> None:
    """The words beside the engine of a plan: it counts tubs, each with petals of its own."""
    effects = designed("green", "orange", YELLOWS)
    odds = make_plan(effects.designs[0].inputs).odds
    clear, orange = of_ten(odds.clear_share), of_ten(odds.named_share or 0.0)
    assert f"Clear change in {clear} such tubs, orange in {orange}." in said(effects)
    assert effects.designs[0].named_share == pytest.approx(odds.named_share)


def test_the_gallery_is_no_dose_for_ones_own_tub() -> None:
    text = render("gallery", effects=gallery(), asked=asked(), start=None, bare=False)
    assert "No doses for your tub; for it: huedose design" in text
    assert "of ordinary tap water" in text


def test_detail_cautions_and_files_are_told_where_they_were_asked_for() -> None:
    effects = designed("green", "orange", YELLOWS)
    text = said(effects, more=True, cautions=True, write="soak.toml")
    assert "Cautions" in text
    assert "Too much brew to sell in a bottle" in text
    for caution in effects.designs[0].cautions:
        assert caution.level == "ok" or caution.message in text
    assert "#" in text
    assert "olive" in text
    assert "Written: soak.toml" in text
    assert "More: --more" not in text
    paper = said(effects, bare=True)
    assert "Cautions" in paper
    assert "--write" not in paper


def test_money_is_told_with_what_it_leaves_out() -> None:
    text = said(designed("green", "orange", YELLOWS, price=2.0))
    assert "It costs 0." in text
    assert "without " in text


def test_nobody_in_the_tub_is_told_as_that() -> None:
    text = said(designed("blue", "pink", CARROT, "nobody"))
    assert "NOT FOR BATHING" in text
    assert "before anyone gets in" not in text
    assert "Stings?" not in text


def test_the_makers_own_bottle_is_poured() -> None:
    assert "Black carrot: your own bottle (2 /cm)." in said(
        designed("blue", "pink", CARROT, "own bottle")
    )


def test_drops_are_counted_and_an_exact_colour_has_no_votes() -> None:
    effects = designed("#AAC9CC", "#CDD6CA", "elderberry, brilliant blue, citric acid", "child")
    text = said(effects)
    assert "drops of brilliant blue solution" in text
    assert "of 100 people" not in text


@pytest.mark.slow
def test_much_and_sour_brew_is_told() -> None:
    large = said(designed("blue", "pink", CARROT, "large"))
    assert "more than a usual bottle of 1 L" in large
    sour = said(designed("brown", "pink", "roselle, citric acid"), more=True)
    assert "is sour itself" in sour or "cannot be done" in sour


def test_a_tub_that_may_not_be_poured_has_no_grams() -> None:
    text = said(designed("blue", "pink", CARROT, "infant"))
    assert "This bath is not to be poured" in text
    assert "three" in text
    assert "POUR" not in text
    assert " g of " not in text


def test_a_powder_that_does_not_turn_is_named() -> None:
    text = said(designed("blue", "pink", "black carrot, table salt"), write="soak.toml")
    assert "There is no design to show." in text
    assert "does not turn this water" in text
    assert "soak.toml was left as it is" in text
    assert "What works in 120 L of ordinary water: Blue to pink: " in text
    assert "mL + citric acid" in text
    assert "picture:" not in text


def test_another_tub_gets_no_grams_of_the_gallerys() -> None:
    small = said(designed("blue", "pink", "black carrot, table salt", "own bottle"))
    assert "What works in 120 L of ordinary water: Blue to pink: " in small
    works = small.split("What works")[1]
    assert not re.search(r"\d (g|mL)\b", works)


@pytest.mark.slow
def test_what_is_sold_is_designed_and_says_what_its_brew_needs() -> None:
    inputs = gallery_tub("adult")
    sold = replace(inputs, wish=replace(inputs.wish, purpose="sale", market="EU"))
    wished = wished_end("blue", "start"), wished_end("pink", "end")
    effects = design_effects(sold, *wished)
    text = said(effects)
    assert "leave no pigment to choose from" not in text
    assert "POUR IN" in text
    assert "To give or sell it: dried petals" in text
    # Only a maker can say that it keeps.
    assert "preserved" not in designed_recipe({}, effects, effects.designs[0])


def test_what_misses_says_how_near_it_comes() -> None:
    text = said(designed("blue", "orange", "butterfly pea, citric acid"), more=True)
    assert "cannot be done within the cautions" in text
    assert "The nearest: " in text
    assert "Pour nothing." in text
    assert "The end would have to be orange" in text
    assert "POUR" not in text


@pytest.mark.slow
@pytest.mark.parametrize(
    ("start", "end", "shelf", "where"),
    [
        ("green", "orange", YELLOWS, "adult"),
        ("blue", "pink", CARROT, "nobody"),
        ("blue", "pink", CARROT, "infant"),
        ("blue", "pink", "black carrot, table salt", "adult"),
        ("blue", "orange", "butterfly pea, citric acid", "adult"),
    ],
)
def test_first_answers_are_short(start: str, end: str, shelf: str, where: str) -> None:
    text = render("design", effects=designed(start, end, shelf, where), asked=asked(), bare=False)
    lines = plain(text).splitlines()
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= 80
    assert "" not in lines


@pytest.mark.parametrize("bathers", [None, "adult", "child", "nobody"])
@pytest.mark.parametrize("more", [False, True])
def test_the_gallery_in_words(bathers: str | None, more: bool) -> None:
    effects = gallery(bathers=bathers)
    text = render(
        "gallery", effects=effects, start=None, asked=asked(bathers=bathers, more=more), bare=False
    )
    lines = plain(text).splitlines()
    assert more or len(lines) <= MOST_LINES
    flat = " ".join(" ".join(lines).split())
    child = bathers in (None, "child")
    assert ("a child may bathe in" in flat) == child
    assert ("All " in flat) == (not more)
    assert "in how many of 10 tubs both colours come with untested petals." in flat
    assert ("of liquid" in flat) == more
    assert "To sell it: EU ask an assessor first; UK ask an assessor first; US no." in flat
    assert "Too much brew to sell in a bottle" in flat
    named = [one for one in effects if f"{one.start} to {one.end}:".capitalize() in flat]
    assert len(named) == (len(effects) if more else 6)


def test_a_gallery_of_nothing_says_what_to_do() -> None:
    text = render("gallery", effects=(), start=None, asked=asked(shelf="beet"), bare=False)
    assert "Nothing in the gallery" in text
    assert '--shelf "beet"' in text
