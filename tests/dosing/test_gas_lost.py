"""Gas that leaves while the tub fills, the air of the room, and foam that slows it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from dosing.bath.assembled import Truth, assemble
from dosing.bath.draws import gas_lost_filling, room_air_co2_ppm
from dosing.bath.inputs import ActivatorInputs, FoamBathInputs, RecipeInputs, TubInputs, WishInputs
from dosing.bath.mixing import taken
from dosing.bath.open_tub import foam_slows
from dosing.bath.possible_tubs import possible_tubs
from dosing.equilibrium import dissolved_co2, solve
from dosing.ingredients.water import WaterReadings
from dosing.soak.course import follow
from dosing.soak.records import Manner


def tap(alkalinity: float = 4.0, ph: float = 7.2, foam_ml: float = 0.0) -> RecipeInputs:
    return RecipeInputs(
        title="a tap with much gas",
        tub=TubInputs(volume_l=120.0, volume_measured=True),
        water=WaterReadings(alkalinity_meq_l=alkalinity, ph=ph, instrument="water-report"),
        water_temperature_c=38.0,
        foam_bath=FoamBathInputs(foam_ml) if foam_ml else None,
        colours=(),
        activator=ActivatorInputs({"citric-acid-anhydrous": 1.0}),
        wish=WishInputs(target="6.0", bathers="adult"),
    )


def test_carbon_dioxide_dissolves_by_henrys_law() -> None:
    # Handbook (Plummer & Busenberg 1982): log K -1.468 at 25 C, -1.60 at 38 C.
    assert np.log10(float(dissolved_co2(1e6, 25.0))) == pytest.approx(-1.468, abs=0.002)
    assert np.log10(float(dissolved_co2(1e6, 38.0))) == pytest.approx(-1.61, abs=0.02)
    open_water = solve({"Na": 1e-3, "Cl": 1e-3}, 38.0, pco2_ppm=1000.0).molality["CO2"]
    assert float(dissolved_co2(1000.0, 38.0)) == pytest.approx(float(open_water), rel=1e-3)


def test_a_tub_starts_above_the_tap_by_what_half_its_gas_makes() -> None:
    # Stumm & Morgan, Aquatic Chemistry, 3rd ed., ch. 4: the alkalinity [HCO3] + 2 [CO3] stays and
    # the carbon [CO2] + [HCO3] + [CO3] loses what left; [CO2] [CO3] / [HCO3]^2 is a constant.
    closed = assemble(tap(), Truth(gas_lost=0.0)).bath.solve()
    held = {name: float(one) for name, one in closed.equilibrium.molality.items()}
    gas = held["CO2"]
    # Calcium and magnesium, nearly all free, hold their shares of both ions.
    half = held["HCO3-"] + held["CaHCO3+"] + held["MgHCO3+"]
    full = held["CO3-2"] + held["CaCO3"] + held["MgCO3"]
    air = 1000e-6 * 10.0**-1.606  # Henry's law at 38 C (Plummer & Busenberg 1982)
    alkalinity, carbon = half + 2.0 * full, gas + half + full - 0.52 * (gas - air)

    def off(left: float) -> float:
        carbonate = left + alkalinity - carbon
        return float(left * carbonate - gas * full / half**2 * (alkalinity - 2.0 * carbonate) ** 2)

    left = float(brentq(off, 0.2 * gas, gas))
    bicarbonate = alkalinity - 2.0 * (left + alkalinity - carbon)
    rise = np.log10(bicarbonate / half * gas / left)
    found = float(assemble(tap()).bath.solve().ph) - float(closed.ph)
    assert found == pytest.approx(rise, abs=0.005)
    assert 0.2 < found < 0.35


def test_alkalinity_and_so_the_dose_hardly_change() -> None:
    doses = [
        float(one.bath.grams_for_ph(5.5, one.per_gram)[0])
        for one in (assemble(tap(), Truth(gas_lost=share)) for share in (0.0, 0.52))
    ]
    assert doses[1] == pytest.approx(doses[0], rel=0.03)
    assert doses[1] > doses[0]


def test_water_in_balance_with_the_room_keeps_its_ph() -> None:
    even = float(dissolved_co2(1000.0, 38.0))
    inputs = tap(2.0, 8.2)
    bath = assemble(inputs, Truth(gas_lost=0.0)).bath
    air = float(bath.solve().equilibrium.molality["CO2"]) / even * 1000.0
    kept = assemble(inputs, Truth(gas_lost=0.8, air_co2_ppm=air)).bath
    assert float(kept.solve().ph) == pytest.approx(float(bath.solve().ph), abs=0.002)


def test_what_is_drawn_has_the_stated_ends() -> None:
    tubs = possible_tubs(tap(), count=2048)
    air = np.quantile(np.asarray(tubs.setting.bath.air_co2_ppm), (0.05, 0.5, 0.95))
    np.testing.assert_allclose(air, (600.0, 1000.0, 2000.0), rtol=0.02)
    ends = np.array([-1.6448536, 0.0, 1.6448536])  # of nine in ten normal numbers
    np.testing.assert_allclose(gas_lost_filling(ends), (0.2, 0.52, 0.8), atol=1e-7)
    np.testing.assert_allclose(room_air_co2_ppm(ends), (600.0, 1000.0, 2000.0), rtol=1e-7)


def test_the_possible_starts_spread_by_the_gas_and_lie_about_the_tub_as_read() -> None:
    ph = np.asarray(possible_tubs(tap()).setting.bath.solve().ph)
    low, middle, high = np.quantile(ph, (0.05, 0.5, 0.95))
    as_read = float(assemble(tap()).bath.solve().ph)
    assert low < as_read < high
    assert middle == pytest.approx(as_read, abs=0.05)
    assert high - low > 0.3


@pytest.mark.slow
def test_foam_slows_the_gas() -> None:
    # Vazquez, Antorrena & Navaza 2000, Ind. Eng. Chem. Res. 39:1088: anionic surfactants add a
    # resistance to carbon dioxide (direction only).
    manner = Manner(minutes=20)
    plain, foamy = tap(), tap(foam_ml=40.0)
    assert foam_slows(assemble(plain).bath).value == 1.0
    assert foam_slows(assemble(foamy).bath) == taken("foam_transfer", "foam")
    ends = []
    for inputs in (plain, foamy):
        line = follow(inputs, assemble(inputs), [30.0], manner)
        ends.append(float(line.co2_share_left.best[-1]))
    assert ends[0] < ends[1] - 0.02


@pytest.mark.slow
def test_the_course_lies_between_the_airs_that_a_room_may_have() -> None:
    line = follow(tap(), assemble(tap()), [30.0], Manner(minutes=60))
    done = assemble(tap()).bath.with_activator(30.0, assemble(tap()).per_gram)
    emptiest = replace(done, air_co2_ppm=600.0, temperature_c=np.asarray(24.0)).at_rest().ph
    assert line.ph.high[-1] <= float(emptiest) + 0.02
    assert line.ph.low[-1] < line.ph.best[-1] < line.ph.high[-1]
