"""Hours later and after undoing: both ends of the pH, and that chalk or gas can end a wish."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from dosing.bath.assembled import assemble
from dosing.bath.inputs import (
    ActivatorInputs,
    ColourInputs,
    FoamBathInputs,
    RecipeInputs,
    TubInputs,
    WishInputs,
)
from dosing.bath.mixed import Bath
from dosing.bath.mixing import taken
from dosing.bath.open_tub import co2_per_second, temperature_after
from dosing.bath.possible_tubs import possible_tubs
from dosing.ingredients.powders import per_gram
from dosing.ingredients.water import WaterReadings
from dosing.plan.answer import make_plan, preview
from dosing.plan.later import later_of
from dosing.plan.odds import variance_shares
from dosing.plan.records import Plan
from dosing.sachets.home_doses import filled
from dosing.sachets.populations import draw_homes
from dosing.soak.steps import make_soak
from dosing.words.templates import render
from indicator.pigments import colourant

HOURS = 3.0


def acid_recipe(*, foam_ml: float = 0.0, alkalinity: float = 3.0) -> RecipeInputs:
    return RecipeInputs(
        title="acid in a plain tap",
        tub=TubInputs(volume_l=120.0, volume_measured=True),
        water=WaterReadings(
            alkalinity_meq_l=alkalinity, hardness_mmol_l=0.2, ph=7.4, instrument="water-report"
        ),
        water_temperature_c=38.0,
        foam_bath=FoamBathInputs(foam_ml) if foam_ml else None,
        colours=(ColourInputs(colourant("butterfly-pea"), 2.0, 500.0, "mL", 0.5, preserved=True),),
        activator=ActivatorInputs({"citric-acid-anhydrous": 1.0}),
        wish=WishInputs(target="5.8", bathers="adult"),
    )


@cache
def acid_plan() -> Plan:
    return make_plan(acid_recipe())


def left_alone(bath: Bath, depth_cm: float, velocity: float, air_ppm: float) -> float:
    """PH after some hours, integrated in time with the solver inside."""
    tub = replace(bath, air_co2_ppm=air_ppm)
    start_c, loss = float(bath.temperature_c), taken("surface_loss_w_m2_k").value
    in_air = float(tub.at_rest().equilibrium.molality["CO2"])

    def lost(time: float, carbon: list[float]) -> list[float]:
        warm = float(temperature_after(time, start_c, taken("room_c").value, loss, depth_cm))
        now = replace(tub, totals={**tub.totals, "C": np.array(carbon[0])}).solve()
        gas = float(now.equilibrium.molality["CO2"])
        return [-float(co2_per_second(velocity, warm, depth_cm)) * (gas - in_air)]

    done = solve_ivp(
        lost, (0.0, HOURS * 3600.0), [float(tub.totals["C"])], method="LSODA", rtol=1e-4
    )
    return float(replace(tub, totals={**tub.totals, "C": np.array(done.y[0, -1])}).solve().ph)


@pytest.mark.parametrize("foam_ml", [0.0, 40.0])
def test_the_slow_end_is_a_tub_left_alone_for_three_hours(foam_ml: float) -> None:
    # First-order transfer through the surface (Wanninkhof 2014; Cole & Caraco 1998 for still
    # water), integrated in time; the slow end takes the low velocity and 2,000 ppm of air.
    setting = assemble(acid_recipe(foam_ml=foam_ml))
    bath = setting.bath.with_activator(20.0, setting.per_gram)
    ends = later_of(bath, setting)
    velocity = 1.5 * (0.4 if foam_ml else 1.0)
    assert ends.hours == HOURS
    slow = left_alone(bath, setting.depth_cm, velocity, 2000.0)
    assert ends.low.ph == pytest.approx(slow, abs=0.02)
    assert ends.high.ph == pytest.approx(float(bath.solve(pco2_ppm=600.0).ph), abs=1e-6)
    assert float(bath.solve().ph) < ends.low.ph < ends.high.ph - 1.0


def test_foam_keeps_the_slow_end_nearer_to_the_pour() -> None:
    lows = []
    for foam_ml in (0.0, 40.0):
        setting = assemble(acid_recipe(foam_ml=foam_ml))
        bath = setting.bath.with_activator(20.0, setting.per_gram)
        lows.append(later_of(bath, setting).low.ph - float(bath.solve().ph))
    assert 0.0 < lows[1] < 0.6 * lows[0]


@pytest.mark.slow
def test_the_range_is_judged_and_holds_the_usual_end() -> None:
    for plan in (acid_plan(), make_plan(acid_recipe(alkalinity=0.0))):
        low, high = plan.later.low.ph, plan.later.high.ph
        assert low <= plan.after_airing.ph <= high
        assert plan.ph_acid_side_airing <= low
        assert plan.ph_alkaline_side_airing >= high


@pytest.mark.parametrize("bathers", ["adult", "child"])
def test_a_tub_too_alkaline_only_when_its_gas_has_left_is_cautioned(bathers: str) -> None:
    # Above pH 9.0 (Guidelines for Canadian Recreational Water Quality 2012) once soda has lost its
    # gas; poured, it is near pH 8.
    recipe = acid_recipe()
    soda = replace(
        recipe,
        colours=(),
        activator=ActivatorInputs({"sodium-bicarbonate": 1.0}),
        wish=WishInputs(bathers=bathers),
    )
    plan = preview(soda, 200.0)
    assert plan.ph_alkaline_side < 8.3
    alkalinity = 3.0e-3 + 200.0 / 84.007 / 120.0
    assert at_rest_ph(alkalinity, 600.0) > 9.0
    level = {caution.code: caution.level for caution in plan.cautions}
    expected = {"adult": ("ph-mind", "mind"), "child": ("ph-child-stop", "stop")}[bathers]
    assert expected in level.items()


def at_rest_ph(alkalinity: float, ppm: float) -> float:
    """PH of a carbonate water at 38 C in air, from handbook constants alone."""
    # Plummer & Busenberg 1982: log KH -1.606, log K1 -6.295, log K2 -10.23 at 38 C; Davies.
    root = np.sqrt(alkalinity + 1e-3)
    gamma = 10.0 ** (-0.52 * (root / (1.0 + root) - 0.3 * (alkalinity + 1e-3)))
    gas = ppm * 1e-6 * 10.0**-1.606

    def off(ph: float) -> float:
        h = 10.0**-ph
        half = 10.0**-6.295 * gas / h / gamma
        full = 10.0**-6.295 * 10.0**-10.23 * gas / h**2 / gamma**4
        return float(half + 2.0 * full - alkalinity)

    return float(brentq(off, 6.0, 10.0))


def test_undoing_gives_the_ph_that_its_alkalinity_has_in_air() -> None:
    # At the end all that is left of acid and soda is alkalinity and fully charged citrate:
    # alkalinity = tap + soda - 3 citrate (Stumm & Morgan 1996, ch. 4), softly buffered.
    plan = acid_plan()
    assert plan.undone is not None
    litres = plan.volume_l
    acid = 3.0 * plan.maximum_g / 192.12 / litres
    soda = plan.undo_soda_g / 84.007 / litres
    left = 3.0e-3 + soda - acid
    assert plan.undone.airing.ph == pytest.approx(at_rest_ph(left, 1000.0), abs=0.06)
    # Right after: all carbon is still there, so the gas holds it below 7 as soda's own adds to it.
    setting = assemble(acid_recipe())
    undone = setting.bath.with_activator(plan.maximum_g, setting.per_gram)
    undone = undone.with_activator(plan.undo_soda_g, per_gram("sodium-bicarbonate"))
    assert plan.undone.right_after.ph == pytest.approx(float(undone.solve().ph), abs=1e-9)
    assert plan.after.ph < plan.undone.right_after.ph < 7.0 < plan.undone.airing.ph
    ends = plan.undone.later
    assert plan.undone.right_after.ph < ends.low.ph < plan.undone.airing.ph < ends.high.ph
    text = render("plan", plan=plan, instead=(), more=True, cautions=False, bare=True)
    for ph in (plan.undone.right_after.ph, ends.low.ph, ends.high.ph):
        assert f"{ph:.1f}" in text


def test_json_tells_both_times(huedose_json: Callable[..., tuple[int, dict[str, Any]]]) -> None:
    _, plan = huedose_json("plan")
    ends = plan["later"]
    assert ends["hours"] == HOURS
    assert ends["low"]["ph"] < plan["after_airing"]["ph"] < ends["high"]["ph"]
    undone = plan["undone"]
    assert undone["right_after"]["ph"] < undone["airing"]["ph"]
    for one in (undone["right_after"], undone["airing"], ends["low"], ends["high"]):
        assert {"ph", "hex", "word"} <= set(one)


@pytest.mark.slow
def test_back_prints_right_after_and_later(told: Callable[..., str]) -> None:
    soak = make_soak(acid_recipe(), ("5.8", "back"))
    back = soak.steps[-1]
    text = told(soak)
    assert f"(pH {back.later.low.ph:.1f} to {back.later.high.ph:.1f})" in text
    assert back.after.ph < back.later.low.ph < back.after_airing.ph - 0.3


# The share of gas that is lost


def test_the_gas_lost_hardly_spreads_the_dose_of_an_acid() -> None:
    acid = {one.reading: one.share for one in variance_shares(possible_tubs(acid_recipe()), 5.8)}
    assert sum(acid.values()) == pytest.approx(1.0)
    assert acid["gas_lost"] < 0.01


def test_homes_lose_their_own_share_of_the_gas() -> None:
    lost = draw_homes("denmark", 20_000).gas_lost
    np.testing.assert_allclose(np.quantile(lost, (0.05, 0.5, 0.95)), (0.2, 0.52, 0.8), atol=0.01)
    homes = draw_homes("denmark", 2048)
    held = filled(acid_recipe(), homes)
    usual = filled(acid_recipe(), replace(homes, gas_lost=np.full(homes.count, 0.52)))
    starts = [np.asarray(one.bath.solve().ph) for one in (held, usual)]
    assert np.std(starts[0] - starts[1]) > 0.05
    doses = [
        np.asarray(one.bath.grams_for_ph(5.5, one.per_gram)[0])[starts[1] > 6.5]
        for one in (held, usual)
    ]
    # The sachet is told by the alkalinity: half of the homes move by less than two per cent.
    assert np.median(np.abs(doses[0] / doses[1] - 1.0)) < 0.02
