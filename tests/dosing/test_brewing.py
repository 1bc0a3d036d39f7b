"""The answer of ``brew``: every branch of its template, in few lines, and what it adds up to."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from dosing.bath.inputs import ColourInputs, FoamBathInputs, RecipeInputs
from dosing.bottle.answer import BrewAsked, Brewing, brewing
from dosing.plan.brewing import brewed_pigment
from dosing.recipe import demo_names, demo_recipe
from dosing.words.marks import plain
from dosing.words.templates import render
from indicator.colourants import Colourant
from indicator.pigments import colourant

SOAK = demo_recipe(demo_names()[0])


def colour_of(which: Colourant, **changes: Any) -> ColourInputs:
    return replace(SOAK.colours[0], colourant=which, **changes)


def colour(name: str, **changes: Any) -> ColourInputs:
    return colour_of(colourant(name), **changes)


def coloured(*colours: ColourInputs, **changes: Any) -> RecipeInputs:
    return replace(SOAK, colours=colours, **changes)


def told(brew: Brewing, *, more: bool = False, width: int = 10_000) -> str:
    return plain(render("brew", brew=brew, more=more, on_paper=False), width)


IN_FOAM = coloured(
    colour("butterfly-pea", amount=27.0, held_in="foam bath", volume_l=0.0),
    foam_bath=FoamBathInputs(60.0),
)
SAID: dict[str, tuple[RecipeInputs, BrewAsked, tuple[str, ...]]] = {
    "usual": (
        SOAK,
        BrewAsked(),
        (
            "BREW 500 g",
            "all for one bath, tints",
            "butterfly pea 0 to 87 % (likely hardly any). Unpreserved, it goes bad in days.",
        ),
    ),
    "four baths": (
        SOAK,
        BrewAsked(baths=4),
        ("62 mL for each of 4 baths", "tints the tub faintly", "more than can be brewed"),
    ),
    "in foam": (
        IN_FOAM,
        BrewAsked(bottle_ml=60.0),
        ("45 % brew, the rest foam bath", "Where it does not fit"),
    ),
    "hardly any": (IN_FOAM, BrewAsked(bottle_ml=5.0), ("too little to be seen",)),
    "a large bottle": (SOAK, BrewAsked(bottle_ml=4000.0), ("tints the tub strongly",)),
    "cold": (SOAK, BrewAsked(steep_temperature_c=6.0, steep_minutes=720.0), ("for 12 hours",)),
    "two brews": (
        demo_recipe("5"),
        BrewAsked(),
        ("black carrot 34 % (12 % to 58 %), beet 0 to 3 % (likely hardly any).",),
    ),
    "open and pressed": (
        SOAK,
        BrewAsked(lidded=False, pressed=True),
        ("keep it as warm for 25 min", "press the petals out"),
    ),
    "measured": (SOAK, BrewAsked(measured_per_cm=4.1), ("as strong as you measured, 4.1 per cm",)),
    "no colour": (replace(SOAK, colours=()), BrewAsked(), ("butterfly pea", "No rate of fading")),
    "dye and pigment": (
        coloured(colour("butterfly-pea"), colour("riboflavin", content=1e-6)),
        BrewAsked(),
        ("other colours in step", "Light fades riboflavin"),
    ),
    "fades in the tub": (
        coloured(colour("turmeric", preserved=True)),
        BrewAsked(days=3.0),
        ("In the tub turmeric fades", "3 days"),
    ),
    "far from studies": (coloured(colour("roselle")), BrewAsked(), ("or far less", "nobody has")),
    "unknown strength": (
        coloured(
            colour_of(
                replace(colourant("turmeric"), per_percent=None, name="our-root"),
                petals_percent=2.0,
                bottle_strength=6.0,
            )
        ),
        BrewAsked(),
        ("How strong its petals get is not known",),
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", SAID)
def test_every_branch_is_said_in_few_lines(name: str) -> None:
    inputs, asked, words = SAID[name]
    brew = brewing(inputs, asked)
    whole = told(brew, more=True)
    for part in words:
        assert part in whole
    assert not re.search(r"\{|\bnan\b|\binf\b|None", whole)
    first = told(brew)
    # One number for how strong the brew is, in grams and not as a share.
    assert not re.search(r"% brew\b(?!, the rest)|\b0 %", first)
    lines = told(brew, width=80).split("\n")
    heavy = [line for line in lines if line.startswith(("X ", "!! "))]
    assert len(lines) <= 20 or heavy
    assert max(map(len, lines)) <= 80


def without_showy(brew: Brewing) -> Brewing:
    never = replace(brew.amounts[2], infusion_ml=float("nan"), petals_g=float("nan"))
    return replace(brew, amounts=(*brew.amounts[:2], never))


@pytest.mark.slow
def test_every_branch_of_a_brew_is_rendered(branches_missed: Callable[..., list[str]]) -> None:
    brews = [brewing(inputs, asked) for inputs, asked, _ in SAID.values()]
    brews.append(brewing(SOAK, BrewAsked(pigment=colourant("red-cabbage"))))
    cases = [
        {"brew": brew, "more": more, "on_paper": False}
        for brew in (*brews, without_showy(brews[0]))
        for more in (False, True)
    ]
    assert branches_missed("brew", cases, ["shared"]) == []


def test_a_brew_is_enough_for_the_plan_and_tells_fresh_leaves_too() -> None:
    # 18 g of petals in 900 mL: the demo asks for more than the usual 500 g.
    pink = brewing(demo_recipe("5"), BrewAsked())
    assert pink.planned_ml == pytest.approx(900.0)
    assert pink.steeping is not None
    assert pink.steeping.makes_g >= 900.0
    assert pink.steeping.fresh_g is None
    cabbage = brewing(SOAK, BrewAsked(pigment=colourant("red-cabbage"))).steeping
    assert cabbage is not None
    assert cabbage.makes_g == 500.0
    # USDA nutrient database, red cabbage raw: 91 g of water in 100 g, so 1 g dry is 11 g fresh.
    assert cabbage.fresh_g == pytest.approx(
        cabbage.brew.petals_g * 100.0 / (100.0 - 91.0), rel=0.02
    )


@pytest.mark.slow
def test_petals_of_another_strength_fill_another_volume() -> None:
    usual, strong = (brewing(SOAK, BrewAsked(petals_percent=p)) for p in (2.0, 4.0))
    for thin, thick in zip(usual.amounts, strong.amounts, strict=True):
        assert thick.petals_g == pytest.approx(thin.petals_g)
        assert thick.infusion_ml == pytest.approx(0.5 * thin.infusion_ml)
    assert strong.tubs == pytest.approx(2.0 * usual.tubs)
    # Twice the colour in the same dose: by hand, 250 mL of 4 % are 10 g of petals.
    assert strong.fill.visibility_delta_e > usual.fill.visibility_delta_e
    assert strong.steeping is not None
    assert strong.steeping.brew.petals_g == pytest.approx(20.0)


@pytest.mark.slow
@pytest.mark.parametrize("demo", ["1", "5"])
def test_the_amount_of_the_plan_stands_among_those_of_the_tints(demo: str) -> None:
    inputs = demo_recipe(demo)
    text = told(brewing(inputs, BrewAsked()))
    # Brewed of 20 g in a litre, as the demos are: a fiftieth of the mL in grams.
    (first,) = (c.amount for c in inputs.colours if c.colourant == brewed_pigment(inputs))
    assert "(brew: 20 g in 1 L)" in text
    assert f", your plan {first / 50:.2g} g ({first:.0f} mL)." in text
    assert "your plan" not in told(brewing(replace(inputs, colours=()), BrewAsked()))


@pytest.mark.slow
def test_another_pigment_is_brewed_with_amounts_of_its_own() -> None:
    asked = BrewAsked(pigment=colourant("red-cabbage"))
    own, other = (brewing(demo_recipe("1"), each) for each in (BrewAsked(), asked))
    assert other.amounts[1].petals_g != pytest.approx(own.amounts[1].petals_g, rel=0.02)
    strong = brewing(demo_recipe("1"), replace(asked, petals_percent=8.0))
    # Four times the petals in it: a quarter of the brew for the same tub.
    assert strong.tubs == pytest.approx(4.0 * other.tubs, rel=1e-6)


@pytest.mark.slow
def test_a_tint_that_no_amount_gives_is_said() -> None:
    text = told(without_showy(brewing(SOAK, BrewAsked())))
    assert "showy cannot be had" in text
    assert "nan" not in text
