"""Cautions: every gate at its boundary, every rule of order, sale and age."""

from __future__ import annotations

from dataclasses import fields, replace
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.bath.inputs import (
    ActivatorInputs,
    ColourInputs,
    FoamBathInputs,
    RecipeInputs,
    TubInputs,
    WishInputs,
)
from dosing.ingredients.water import WaterReadings
from dosing.plan.cautions import Caution, Moment, Situation, exit_code, not_for_bathing
from dosing.plan.levels import LEVELS, gate_level, rounded_outwards
from dosing.plan.rules import judge, permissions
from indicator.pigments import colourant, colourant_names

BATH = RecipeInputs(
    title="A calm bath",
    tub=TubInputs(volume_l=120.0),
    water=WaterReadings(alkalinity_meq_l=2.0),
    water_temperature_c=38.0,
    foam_bath=FoamBathInputs(40.0, 6.0),
    colours=(ColourInputs(colourant("butterfly-pea"), 1.0, 100.0, "mL"),),
    activator=ActivatorInputs({"citric-acid-anhydrous": 1.0}),
    wish=WishInputs(bathers="adult"),
)
SOUR = WaterReadings(ph=5.0, alkalinity_meq_l=1.9)
"""Two readings that cannot both be right: 1.9 meq/L are 95 ppm."""
CALM = Situation(BATH, (Moment("before", 7.8, 7.8, 0.0), Moment("after", 5.2, 5.6, 1.5)))


def changed(situation: Situation, **changes: Any) -> Situation:
    """A situation with other facts, wherever in its recipe they stand."""

    def taken(record: Any) -> dict[str, Any]:
        names = {part.name for part in fields(record)} & set(changes)
        return {name: changes.pop(name) for name in names}

    inputs = situation.inputs
    wish = replace(inputs.wish, **taken(inputs.wish))
    activator = replace(inputs.activator, **taken(inputs.activator))
    inputs = replace(inputs, wish=wish, activator=activator, **taken(inputs))
    return replace(situation, inputs=inputs, **changes)


def coloured(name: str, *, preserved: bool = True) -> tuple[ColourInputs, ...]:
    return (ColourInputs(colourant(name), 1.0, 100.0, "mL", preserved=preserved),)


def codes(cautions: tuple[Caution, ...]) -> set[str]:
    return {caution.code for caution in cautions}


def with_ph(low: float, high: float, **changes: Any) -> Situation:
    return changed(CALM, moments=(Moment("after", low, high, 1.5),), **changes)


# 5.0 to 9.0: Guidelines for Canadian Recreational Water Quality 2012. 4.5: note of a US state
# agency on household water. The other limits are this project's own design.
@pytest.mark.parametrize(
    ("ph", "adult", "child"),
    [
        (3.99, "stop", "stop"),
        (4.0, "justify", "stop"),
        (4.49, "justify", "stop"),
        (4.5, "mind", "stop"),
        (4.99, "mind", "stop"),
        (5.0, "ok", "mind"),
        (5.49, "ok", "mind"),
        (5.5, "ok", "ok"),
        (9.0, "ok", "ok"),
        (9.01, "mind", "stop"),
        (9.5, "mind", "stop"),
        (9.51, "justify", "stop"),
        (10.0, "justify", "stop"),
        (10.01, "stop", "stop"),
    ],
)
def test_gates_at_their_boundaries(ph: float, adult: str, child: str) -> None:
    assert LEVELS[int(gate_level(ph, "adult"))] == adult
    assert LEVELS[int(gate_level(ph, "child"))] == child
    assert LEVELS[int(gate_level(ph, "nobody"))] == "ok"


def test_an_unknown_ph_is_never_fine() -> None:
    assert LEVELS[int(gate_level(np.nan, "adult"))] == "stop"


@given(st.floats(0, 14), st.floats(0, 14))
def test_further_from_neutral_is_never_milder(a: float, b: float) -> None:
    for bathers in ("adult", "child"):
        near, far = sorted((a, b), key=lambda ph: abs(ph - 7.0))
        if (near - 7.0) * (far - 7.0) >= 0:
            assert gate_level(far, bathers) >= gate_level(near, bathers)


def test_a_calm_bath_passes() -> None:
    found = judge(CALM)
    assert exit_code(found) == 0
    assert "ph-ok" in codes(found)
    assert {"foam-bath", "bathers-all", "surfaces", "chlorine"} <= codes(found)


def test_the_worst_moment_decides() -> None:
    moments = (Moment("first-pour", 4.4, 5.0, 1.0), Moment("after", 5.2, 5.6, 1.5))
    found = judge(changed(CALM, moments=moments))
    assert exit_code(found) == 3
    assert "first pour" in next(c.message for c in found if c.code == "ph-justify")


def test_a_written_reason_lets_justify_pass_but_never_a_stop() -> None:
    assert exit_code(judge(with_ph(4.2, 4.6))) == 3
    reasoned = judge(with_ph(4.2, 4.6, accept_ph="a hand soak, short"))
    assert exit_code(reasoned) == 0
    assert any("a hand soak, short" in caution.message for caution in reasoned)
    assert exit_code(judge(with_ph(3.9, 4.6, accept_ph="a hand soak"))) == 3


@pytest.mark.parametrize(
    ("low", "high", "bathers", "source", "confidence"),
    [
        (4.2, 5.0, "adult", "household water", "SEEN-2"),
        (8.0, 9.8, "adult", "our own choice", "DESIGN"),
        (8.0, 9.2, "adult", "Canadian Recreational Water", "SEEN"),
        (3.0, 5.0, "adult", "our own choice", "DESIGN"),
        (5.2, 6.0, "child", "our own choice", "DESIGN"),
        (4.8, 6.0, "child", "our own choice", "DESIGN"),
    ],
)
def test_a_ph_caution_cites_the_gate_that_it_passed(
    low: float, high: float, bathers: str, source: str, confidence: str
) -> None:
    found = judge(with_ph(low, high, bathers=bathers))
    caution = next(c for c in found if c.code.startswith("ph-"))
    assert source in caution.source
    assert caution.confidence == confidence


def test_every_colour_is_judged_in_every_market_with_a_list() -> None:
    for name in colourant_names():
        for market in ("US", "EU", "UK"):
            sold = changed(
                CALM, purpose="sale", market=market, colours=coloured(name, preserved=True)
            )
            assert "colour-market-unknown" not in codes(judge(sold)), (name, market)


def test_bathers_not_said_is_judged_as_a_child() -> None:
    found = judge(with_ph(4.8, 5.2, bathers=None))
    assert "ph-child-stop" in codes(found)
    assert exit_code(found) == 3


@pytest.mark.parametrize(("age", "code"), [(2.9, 3), (3.0, 0), (None, 0)])
def test_no_foam_bath_under_three(age: float | None, code: int) -> None:
    found = judge(with_ph(6.0, 7.0, bathers="child", child_age_years=age))
    assert exit_code(found) == code
    bare = judge(with_ph(6.0, 7.0, bathers="child", child_age_years=age, foam_bath=None))
    assert exit_code(bare) == 0


@pytest.mark.parametrize(
    ("bathers", "pouring", "poured", "code", "level"),
    [
        ("child", "dry", "beside", "pour-dry-beside-child", "stop"),
        ("adult", "dry", "beside", "pour-dry-beside-adult", "justify"),
        ("adult", "jug", "beside", "pour-jug-beside-adult", "justify"),
        ("child", "jug", "beside", "pour-jug-beside-child", "stop"),
        ("adult", "dry", "before", "pour-dry-before", "mind"),
    ],
)
def test_order_of_events(bathers: str, pouring: str, poured: str, code: str, level: str) -> None:
    found = judge(with_ph(6.0, 7.0, bathers=bathers, pouring=pouring, poured=poured))
    assert next(c.level for c in found if c.code == code) == level


def test_a_reason_for_the_ph_does_not_excuse_the_pouring() -> None:
    poured = changed(CALM, pouring="dry", poured="beside", accept_ph="a hand soak")
    assert exit_code(judge(poured)) == 3
    assert exit_code(judge(changed(poured, accept_pouring="feet only"))) == 0


@pytest.mark.parametrize(
    ("market", "purpose", "preserved", "code"),
    [
        # 21 CFR 73.69 lists butterfly pea for foods only.
        ("US", "sale", True, 3),
        ("US", "gift", True, 0),
        ("EU", "sale", True, 0),
        ("EU", "sale", False, 3),
        ("other", "gift", False, 3),
        ("other", "show", False, 0),
    ],
)
def test_selling_and_giving(market: str, purpose: str, preserved: bool, code: int) -> None:
    given_away = changed(
        CALM,
        market=market,
        purpose=purpose,
        colours=coloured("butterfly-pea", preserved=preserved),
    )
    assert exit_code(judge(given_away)) == code


def test_a_basin_for_nobody_has_no_gate_but_says_so() -> None:
    basin = with_ph(2.5, 2.6, bathers="nobody")
    found = judge(basin)
    assert exit_code(found) == 0
    assert not_for_bathing(basin)
    assert "Not for bathing" in next(c.message for c in found if c.code == "splash")
    assert "bathers-all" not in codes(found)


@pytest.mark.parametrize(
    ("bathers", "temperature_c", "level"),
    [
        ("adult", 40.0, "ok"), ("adult", 40.5, "mind"), ("adult", 41.5, "stop"),
        ("adult", 43.0, "stop"), ("adult", 44.0, "stop"), ("child", 38.0, "ok"),
        ("child", 39.0, "mind"), ("child", 39.5, "stop"), ("child", 40.0, "stop"),
        ("nobody", 50.0, "ok"), ("nobody", 51.0, "mind"),
    ],
)  # fmt: skip
def test_hot_water(bathers: str, temperature_c: float, level: str) -> None:
    # US Consumer Product Safety Commission, rules for hot tubs (Washington Post, 14 December
    # 1979): never above 40 °C, heat stroke from 41 °C, deaths at about 43 °C. Children: 37 to
    # 38 °C (a national parenting site), older ones 39 °C or less.
    found = judge(with_ph(6.0, 7.0, bathers=bathers, water_temperature_c=temperature_c))
    hot = [one.level for one in found if one.code.startswith("hot-water")]
    assert hot == ([] if level == "ok" else [level])
    assert exit_code(found) == (3 if level == "stop" else 0)


@pytest.mark.parametrize(("age", "level"), [(0.1, "stop"), (2.9, "stop"), (3.0, "mind")])
def test_under_threes_get_no_warmer_water_than_babies(age: float, level: str) -> None:
    dry = with_ph(6.0, 7.0, bathers="child", child_age_years=age, foam_bath=None)
    found = judge(changed(dry, water_temperature_c=38.5))
    assert [one.level for one in found if one.code.startswith("hot-water")] == [level]


@pytest.mark.parametrize(
    ("colour", "code"),
    [
        ("red-cabbage", "tap-metals"), ("black-carrot", "tap-metals"),
        ("elderberry", "tap-metals"), ("purple-sweet-potato", "tap-metals"),
        ("butterfly-pea", "tap-bleaches"), ("brilliant-blue", "tap-bleaches"),
    ],
)  # fmt: skip
def test_what_the_tap_may_do_to_a_tint(colour: str, code: str) -> None:
    # Aluminium and iron deepen and blue anthocyanins with two neighbouring hydroxyls (Foods
    # 2020, 9:1426); butterfly pea's carry sugars.
    found = codes(judge(changed(CALM, colours=coloured(colour, preserved=True))))
    assert found & {"tap-metals", "tap-bleaches"} == {code}
    assert not codes(judge(changed(CALM, colours=()))) & {"tap-metals", "tap-bleaches"}


def test_every_bath_is_told_of_reach_lenses_slipping_swallowing_and_dust() -> None:
    found = {one.code: one.message for one in judge(CALM)}
    words = " ".join(found.values())
    for word in ("reach", "lenses", "slippery", "swallowed", "dust"):
        assert word in words
    # A liquid has no dust, and dry powder has its own sentence about it.
    assert "acid-dust" not in codes(judge(changed(CALM, parts={"white-vinegar-5": 1.0})))
    assert "acid-dust" not in codes(judge(changed(CALM, pouring="dry")))
    nobody = codes(judge(changed(CALM, bathers="nobody")))
    assert {"out-of-reach", "acid-dust"} <= nobody
    assert "slipping" not in nobody


@pytest.mark.parametrize(
    ("bathers", "temperature_c", "level"),
    [
        ("adult", 25.0, "ok"), ("adult", 24.0, "mind"), ("adult", 14.0, "stop"),
        ("child", 32.0, "ok"), ("child", 31.0, "mind"), ("child", 5.0, "stop"),
        ("nobody", 5.0, "ok"),
    ],
)  # fmt: skip
def test_cold_water(bathers: str, temperature_c: float, level: str) -> None:
    found = judge(with_ph(6.0, 7.0, bathers=bathers, water_temperature_c=temperature_c))
    cold = [one.level for one in found if one.code.startswith("cold-water")]
    assert cold == ([] if level == "ok" else [level])
    assert exit_code(found) == (3 if level == "stop" else 0)


@pytest.mark.parametrize(("bathers", "code"), [("adult", 3), ("child", 3), ("nobody", 0)])
def test_readings_that_cannot_both_be_right_forbid_a_bath(bathers: str, code: int) -> None:
    found = judge(with_ph(6.0, 7.0, bathers=bathers, water=SOUR))
    assert exit_code(found) == code
    assert "pH (5.0) and its alkalinity (95 ppm)" in " ".join(one.message for one in found)


def test_a_guess_that_the_ph_contradicts_is_not_called_a_reading() -> None:
    guess = WaterReadings(ph=5.4, hardness_mmol_l=2.0)
    found = judge(with_ph(6.0, 7.0, bathers="adult", water=guess))
    assert exit_code(found) == 3
    # 2.0 mmol/L of hardness are 200 ppm, of which 0.82 is the usual share (typical.csv).
    assert "let one guess (164 ppm)" in " ".join(one.message for one in found)


@given(st.floats(0.0, 14.0))
def test_a_ph_that_is_told_is_never_milder_than_it_is(ph: float) -> None:
    # Decimal arithmetic rounds every pH exactly, up and down.
    exact = Decimal(f"{ph:.6f}")
    for down, way in ((True, ROUND_FLOOR), (False, ROUND_CEILING)):
        expected = float(exact.quantize(Decimal("0.1"), rounding=way))
        assert rounded_outwards(float(exact), down=down) == pytest.approx(expected, abs=1e-12)


def test_nobody_who_is_given_a_bath_has_read_the_makers_reason() -> None:
    clear = with_ph(4.2, 4.6, accept_ph="a hand soak, short", colours=())
    assert exit_code(judge(clear)) == 0
    assert exit_code(judge(changed(clear, purpose="gift"))) == 3
    assert exit_code(judge(changed(clear, purpose="sale"))) == 3


def test_soda_with_acid_in_one_pack() -> None:
    fizz = changed(CALM, parts={"citric-acid-anhydrous": 1.0, "sodium-bicarbonate": 1.0})
    assert exit_code(judge(fizz)) == 0
    assert exit_code(judge(changed(fizz, purpose="gift"))) == 3


def test_every_caution_has_a_sentence_and_a_source() -> None:
    situations = [
        CALM,
        with_ph(4.2, 4.4),
        with_ph(4.2, 4.4, accept_ph="a reason"),
        with_ph(3.0, 3.2),
        with_ph(4.7, 5.5),
        with_ph(5.2, 5.5, bathers="child"),
        with_ph(4.9, 5.5, bathers="child", child_age_years=2.0, water_temperature_c=45.0),
        with_ph(6, 7, bathers="nobody", water_temperature_c=60.0),
        with_ph(6, 7, water_temperature_c=20.0),
        with_ph(6, 7, water_temperature_c=5.0, water=SOUR),
        *(
            changed(CALM, market=market, purpose="sale", poured="beside", pouring=pouring)
            for market in ("US", "EU", "UK", "other")
            for pouring in ("dry", "jug")
        ),
    ]
    for situation in situations:
        for caution in judge(situation):
            assert caution.message
            assert caution.source
            assert caution.level in LEVELS
    heaviest_first = [LEVELS.index(c.level) for c in judge(with_ph(3.0, 3.2))]
    assert heaviest_first == sorted(heaviest_first, reverse=True)


@pytest.mark.parametrize(
    "name",
    [
        *("tartrazine", "sunset-yellow", "brilliant-blue", "quinoline-yellow", "riboflavin"),
        *("turmeric", "beet"),
    ],
)
def test_colours_that_europe_lists_for_all_cosmetics(name: str) -> None:
    # Regulation (EC) 1223/2009, Annex IV, export of February 2024: no restriction by product.
    (row,) = [one for one in permissions(name) if one[0] == "EU"]
    assert row[1] == "yes"
    # Great Britain's own list was not read: of these two it says so.
    (british,) = [one for one in permissions(name) if one[0] == "UK"]
    unread = name in ("quinoline-yellow", "riboflavin")
    assert british[1] == ("unclear" if unread else "yes")
