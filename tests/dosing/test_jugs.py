"""The jug: solubility, strength and pH, and one arithmetic behind plan, time and label."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import fill_jugs, jugs_of_pours
from dosing.bath.mixed import Bath
from dosing.plan.answer import preview
from dosing.plan.cautions import Caution
from dosing.recipe import demo_recipe
from dosing.soak.records import Soak
from dosing.soak.steps import make_soak

RunJson = Callable[..., tuple[int, dict[str, Any]]]
Run = Callable[..., tuple[int, str, str]]


def soak(parts: dict[str, float] | None = None, **changes: object) -> RecipeInputs:
    inputs = demo_recipe(1)
    if parts is not None:
        inputs = replace(inputs, activator=replace(inputs.activator, parts=parts))
    return replace(inputs, **changes)  # type: ignore[arg-type]  # free keywords


def tub(temperature_c: float, litres: float = 120.0) -> Bath:
    """Plain water with a trace of salt."""
    bath = assemble(soak()).bath
    totals = {name: 1e-9 * total for name, total in bath.totals.items()}
    volume = litres / bath.volume_l
    return replace(
        bath,
        totals=totals,
        volume_l=bath.volume_l * volume,
        water_kg=bath.water_kg * volume,
        temperature_c=bath.temperature_c * 0.0 + temperature_c,
    )


def codes(cautions: tuple[Caution, ...]) -> set[str]:
    return {one.code for one in cautions}


def test_a_slurry_of_cream_of_tartar_has_the_ph_and_solubility_of_the_standard() -> None:
    # Saturated potassium hydrogen tartrate at 25 °C: pH 3.557, 6.42 g per kg of water
    # (IUPAC 2002, Pure Appl. Chem. 74:2169).
    jugs = fill_jugs({"cream-of-tartar": 1.0}, 100.0, tub(25.0))
    assert jugs.slurry
    assert jugs.count == 1
    assert jugs.ph == pytest.approx(3.557, abs=0.01)
    assert jugs.undissolved_g == pytest.approx(100.0 - 6.42 * jugs.litres, rel=0.002)
    assert jugs.strength_percent == pytest.approx(100.0 * 6.42 / 1006.42, rel=0.01)


def test_as_many_jugs_as_the_powder_needs_and_no_more() -> None:
    # Cream of tartar, 9.8 to 10.3 g/kg at 38 °C (two routes, handbook).
    few = fill_jugs({"cream-of-tartar": 1.0}, 20.0, tub(38.0))
    assert few.count == 3
    assert few.undissolved_g == 0.0
    many = fill_jugs({"cream-of-tartar": 1.0}, 133.0, tub(38.0))
    assert many.count == 2
    assert 133.0 - 2 * 10.3 < many.undissolved_g < 133.0 - 2 * 9.7


def test_no_jug_gets_stronger_than_what_irritated_an_eye_weakly() -> None:
    # Citric acid of 10 % in the eye: weak to moderate effects (REACH registration dossier).
    for grams in (5.0, 46.0, 120.0, 390.0):
        jugs = fill_jugs({"citric-acid-anhydrous": 1.0}, grams, tub(38.0))
        assert jugs.strength_percent < 10.0
        dissolved = grams / jugs.litres
        assert jugs.strength_percent == pytest.approx(
            100.0 * dissolved / (993.0 + dissolved), rel=0.002
        )


def test_ph_of_citric_acid_and_soda_in_a_jug() -> None:
    # A weak acid alone, by hand: h² = K1 (c - h) with pK1 3.13 and c = 0.24 mol/kg; ions
    # of 0.013 mol/kg put K1 up by 0.1.
    jugs = fill_jugs({"citric-acid-anhydrous": 1.0}, 46.0, tub(25.0))
    k1, c = 10.0 ** -(3.13 - 0.1), 46.0 / 192.12
    h = (math.sqrt(k1**2 + 4.0 * k1 * c) - k1) / 2.0
    assert jugs.ph == pytest.approx(-math.log10(h) + 0.05, abs=0.04)
    assert jugs.in_range
    # Baking soda 0.1 mol/L: pH 8.3; washing soda of 5 %: 11.6 (handbooks; from memory,
    # unverified).
    soda = fill_jugs({"sodium-bicarbonate": 1.0}, 8.4, tub(25.0))
    assert soda.ph == pytest.approx(8.3, abs=0.2)
    strong = fill_jugs({"sodium-carbonate": 1.0}, 50.0, tub(25.0))
    assert strong.ph == pytest.approx(11.6, abs=0.15)
    assert strong.kind == "base"


def test_strong_salt_is_told_as_out_of_range() -> None:
    jugs = fill_jugs({"sodium-carbonate": 1.0}, 90.0, tub(38.0))
    assert not jugs.in_range


def test_little_water_takes_little_from_itself() -> None:
    jugs = fill_jugs({"citric-acid-anhydrous": 1.0}, 0.1, tub(25.0, litres=1.0))
    assert jugs.litres <= 0.1
    assert jugs.litres == pytest.approx(0.05)


def test_a_liquid_counts_by_what_it_holds() -> None:
    vinegar = fill_jugs({"white-vinegar-5": 1.0}, 500.0, tub(25.0))
    assert vinegar.count == 1
    assert vinegar.strength_percent == pytest.approx(100.0 * 0.0497 * 500.0 / 1497.0, rel=0.01)


@pytest.mark.parametrize("grams", [0.0, -1.0, float("nan"), float("inf")])
def test_nothing_to_dissolve_is_refused(grams: float) -> None:
    with pytest.raises(ValueError, match="grams is"):
        fill_jugs({"citric-acid": 1.0}, grams, tub(25.0))


@pytest.mark.slow
@pytest.mark.parametrize(
    "parts",
    [
        {"cream-of-tartar": 1.0},
        {"citric-acid-anhydrous": 3.0, "trisodium-citrate": 2.0},
    ],
)
def test_plan_and_soak_say_the_same_of_the_jug(parts: dict[str, float]) -> None:
    inputs = soak(parts)
    plan = preview(inputs, 15.0)
    (step,) = make_soak(inputs, dose_g=15.0).steps
    assert plan.jugs == step.jugs
    assert plan.jugs is not None


@pytest.mark.slow
def test_what_a_plan_prints_of_the_jug_is_in_its_json(huedose: Run, huedose_json: RunJson) -> None:
    _, document = huedose_json("plan")
    _, out, _ = huedose("plan")
    jug = document["jugs"]
    assert f"dissolve it in {jug['litres']:.0f} L of tub water" in " ".join(out.split())
    assert jug["litres"] == jug["count"] * jug["litres_each"]
    _, soaked = huedose_json("soak")
    assert soaked["steps"][0]["jugs"] == jug


@pytest.mark.slow
def test_strong_jugs_ask_for_glasses_and_alkaline_ones_have_a_caution_of_their_own(
    made: Callable[..., Soak],
) -> None:
    plan = preview(soak(), 12.0)
    assert "jug-strong" not in codes(plan.cautions)
    assert "jug-strong" in codes(preview(soak(), 46.0).cautions)
    # Epsom salt hurts nobody's eyes that way.
    assert "jug-strong" not in codes(preview(soak({"epsom-salt": 1.0}), 90.0).cautions)
    # Baking soda in a jug stays within the 9.0 of bathing-water guidance (Health Canada 2012).
    assert "jug-alkaline" in codes(preview(soak({"soda-ash": 1.0}), 2.0).cautions)
    assert "jug-alkaline" not in codes(preview(soak({"baking-soda": 1.0}), 0.23).cautions)
    back = made("5.8, back")
    assert "jug-alkaline" not in codes(back.cautions)
    assert all(one.jugs is not None for one in back.steps)


def test_the_largest_of_several_pours_decides() -> None:
    parts, water = {"citric-acid-anhydrous": 1.0}, tub(38.0)
    largest = jugs_of_pours(parts, [6.0, 16.0, 20.0], water)
    assert largest == fill_jugs(parts, 10.0, water)
    assert jugs_of_pours(parts, [0.0], water) is None
    assert jugs_of_pours(parts, [], water) is None


@pytest.mark.slow
def test_what_an_alkaline_tub_does_by_itself_is_to_take_gas_up() -> None:
    # Water above its pH at rest with the air takes carbon dioxide up (Stumm and Morgan 1996).
    plan = preview(soak({"soda-ash": 1.0}), 15.0)
    assert plan.after_airing.ph < plan.after.ph
    acid = preview(soak(), 12.0)
    assert acid.after_airing.ph > acid.after.ph
