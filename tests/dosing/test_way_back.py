"""The way back with baking soda: against an integration in time, and the untouched water."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import Bath
from dosing.bath.mixing import taken
from dosing.bath.open_tub import co2_per_second, temperature_after
from dosing.ingredients.powders import per_gram
from dosing.recipe import demo_names, demo_recipe
from dosing.soak.records import Soak
from dosing.soak.steps import make_soak
from indicator.appearance import delta_e


def demo(name: str = "") -> RecipeInputs:
    return demo_recipe(name or demo_names()[0])


def for_adults(inputs: RecipeInputs) -> RecipeInputs:
    return replace(inputs, wish=replace(inputs.wish, bathers="adult", child_age_years=None))


def after_soda(inputs: RecipeInputs, programme: Soak) -> Bath:
    """The tub of a programme that has acid steps and then one way back."""
    setting = assemble(inputs)
    acid = max(one.total_g for one in programme.steps if one.onwards)
    soda = programme.steps[-1].total_g
    bath = setting.bath.with_activator(acid, setting.per_gram)
    return bath.with_activator(soda, per_gram("sodium-bicarbonate"))


def gas_gone_after(bath: Bath, depth_cm: float, seconds: float, velocity: float) -> Bath:
    """A tub that has lost gas for a while, integrated in time with the solver inside."""
    start_c, loss = float(bath.temperature_c), taken("surface_loss_w_m2_k").value

    def lost(time: float, carbon: list[float]) -> list[float]:
        warm = float(temperature_after(time, start_c, taken("room_c").value, loss, depth_cm))
        now = replace(bath, totals={**bath.totals, "C": np.array(carbon[0])})
        gas, in_air = (
            float(one.equilibrium.molality["CO2"]) for one in (now.solve(), now.at_rest())
        )
        return [-float(co2_per_second(velocity, warm, depth_cm)) * (gas - in_air)]

    carbon = [float(bath.totals["C"])]
    done = solve_ivp(lost, (0.0, seconds), carbon, method="LSODA", rtol=1e-5, atol=1e-9)
    return replace(bath, totals={**bath.totals, "C": np.array(done.y[0, -1])})


def test_the_first_colour_is_there_when_the_text_says(
    made: Callable[..., Soak], told: Callable[..., str]
) -> None:
    programme = made("5.7, back")
    back = programme.steps[-1].comes_back
    assert back is not None
    assert back.moved_s is not None
    assert back.alone_s is not None
    assert back.moved_s < back.alone_s
    setting = assemble(demo())
    # Foam bath is in the tub.
    velocity = taken("transfer_cm_h", "moved").value * taken("foam_transfer", "foam").value
    bath = after_soda(demo(), programme)
    far = []
    for share in (0.8, 1.0, 1.2):
        tub = gas_gone_after(bath, setting.depth_cm, share * back.moved_s, velocity).solve()
        far.append(float(delta_e(programme.before.colour.lab, tub.seen(setting.view).lab)))
        if share == 1.0:
            assert float(tub.ph) == pytest.approx(back.ph, abs=0.03)
    assert far[1] == pytest.approx(5.0, abs=0.3)
    assert far[0] > 5.0 > far[2]
    # What stands in the text: hours, rounded up.
    assert f" takes {int(np.ceil(back.moved_s / 3600.0))} h with someone moving" in told(programme)


@pytest.mark.parametrize("name", ["1", "3", "5"])
def test_the_way_back_ends_where_the_water_goes_by_itself(
    made: Callable[..., Soak], name: str
) -> None:
    # All the alkalinity is there again, and what the gas was does not matter at the end.
    programme = made("6, back", name, "adult")
    stage = programme.steps[-1]
    assert stage.wish_met
    assert stage.after.ph < min(programme.before.ph, programme.before_airing.ph)
    assert stage.after_airing.ph == pytest.approx(programme.before_airing.ph, abs=0.2)


def tap_that_loses_its_gas(ph: float = 7.2) -> RecipeInputs:
    """Hard water with much gas, whose own colour moves by more than 5 while it leaves."""
    inputs = for_adults(demo())
    water = replace(inputs.water, ph=ph, alkalinity_meq_l=2.6)
    return replace(inputs, water=water, foam_bath=None)


def test_back_does_not_ask_of_the_tub_what_the_tap_water_cannot_do(
    told: Callable[..., str],
) -> None:
    programme = make_soak(tap_that_loses_its_gas(), ["5.6", "back"])
    by_itself = float(delta_e(programme.before.colour.lab, programme.before_airing.colour.lab))
    stage = programme.steps[-1]
    assert by_itself > 5.0
    assert float(delta_e(programme.before.colour.lab, stage.after_airing.colour.lab)) > 5.0
    assert stage.comes_back is not None
    assert stage.reached
    assert programme.reached
    assert "not to be had" not in told(programme)


def test_more_soda_is_taken_where_it_brings_the_colour_back_within_the_hour() -> None:
    inputs = tap_that_loses_its_gas(7.4)
    programme = make_soak(inputs, ["5.2", "back"])
    stage = programme.steps[-1]
    assert stage.comes_back is not None
    assert stage.comes_back.moved_s is not None
    assert 3000.0 < stage.comes_back.moved_s <= 3600.0
    acid = programme.steps[0].total_g
    bath = assemble(inputs).bath.with_activator(acid, per_gram("citric-acid-anhydrous"))
    reserve = float(bath.acid_reserve_meq_l()) * float(bath.volume_l) / 1000.0 * 84.007
    assert 1.1 * reserve < stage.grams < 2.0 * reserve
    # With no more than takes up the acid it takes longer.
    bath = bath.with_activator(reserve, per_gram("sodium-bicarbonate"))
    setting = assemble(inputs)
    moved = taken("transfer_cm_h", "moved").value
    tub = gas_gone_after(bath, setting.depth_cm, 3600.0, moved).solve()
    assert float(delta_e(programme.before.colour.lab, tub.seen(setting.view).lab)) > 5.0


def no_way_back() -> Soak:
    """Water that is alkaline by what soda cannot give, in a tub that nobody bathes in."""
    inputs = demo()
    water = replace(inputs.water, ph=9.5, alkalinity_meq_l=0.4)
    wish = replace(inputs.wish, bathers="nobody", child_age_years=None)
    return make_soak(replace(inputs, water=water, wish=wish, foam_bath=None), ["5", "back"])


def test_where_soda_does_not_lead_back_none_is_poured(told: Callable[..., str]) -> None:
    programme = no_way_back()
    stage = programme.steps[-1]
    assert stage.grams == 0.0
    assert not stage.wish_met
    assert not programme.reached
    assert [one.code for one in stage.needed] == ["needed.no-way-back"]
    text = told(programme)
    assert "2. back: not to be had, so nothing is poured." in text
    assert "g of baking soda" not in text
    assert "is back after" not in text
