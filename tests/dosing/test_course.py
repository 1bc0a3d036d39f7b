"""The pour and the soak: against closed forms, published numbers, our equilibria and PHREEQC."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray
from scipy.integrate import solve_ivp
from scipy.special import lambertw

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import fill_jugs
from dosing.bath.mixed import Bath
from dosing.bath.mixing import taken
from dosing.bath.open_tub import (
    co2_per_second,
    constants_passed,
    gas_litres,
    leaving,
    schmidt_co2,
    temperature_after,
)
from dosing.equilibrium import solve
from dosing.equilibrium.constants import constant
from dosing.ingredients.powders import powder_names, solubility_g_per_kg
from dosing.plan.levels import LEVELS, gate_level
from dosing.recipe import demo_names, demo_recipe
from dosing.soak.course import follow
from dosing.soak.dissolving import (
    Dissolving,
    dissolving,
    has_grains,
    saturated_g_ml,
    seconds_to_dissolve,
    water_viscosity_pa_s,
)
from dosing.soak.moments import roughly, span, told_and_worked
from dosing.soak.records import Course, Manner
from dosing.soak.zones import POUR_ZONE, REST, Courses, Portioned, leave_to_air, spread_powder
from indicator.notes import sentence
from indicator.tables import DataError

Array = NDArray[np.float64]
REFERENCE = Path(__file__).parents[1] / "reference"
DOSE_G = 12.0
_LAMBERT_UP_TO, _ROUNDS = 500.0, 20


def share_left(
    seconds: ArrayLike, powder_at: Dissolving, radius_um: ArrayLike, film_um: ArrayLike
) -> Array:
    """Share of a grain's mass that is left, in so much water that the powder in it is nothing.

    The analytic solution of `surface_rate`: with x = 1 + r/h and K = D c_s / ρ,
    x - ln x = x0 - ln x0 - K t / h², which Lambert's W turns round.

    Parameters
    ----------
    seconds : array_like
        [s].
    powder_at, radius_um, film_um
        As in `surface_rate`.
    """
    first = np.asarray(radius_um, dtype=np.float64) * 1e-6
    film = np.asarray(film_um, dtype=np.float64) * 1e-6
    speed = powder_at.diffusion_m2_s * powder_at.saturated_g_ml / powder_at.density_g_ml
    start = 1.0 + first / film
    right = start - np.log(start) - speed * np.asarray(seconds, dtype=np.float64) / film**2
    # x - ln x has its least value, 1, where nothing is left; Lambert's W has no more digits than
    # that where the film is far thinner than the grain, and x = right + ln x settles at once.
    inside = -np.exp(-np.clip(right, 1.0, _LAMBERT_UP_TO))
    size = -np.real(lambertw(inside, -1))
    for _ in range(_ROUNDS):
        size = np.where(right > _LAMBERT_UP_TO, right + np.log(np.maximum(size, right)), size)
    radius = np.where(right > 1.0, size - 1.0, 0.0)
    return np.asarray(np.clip(radius / (start - 1.0), 0.0, 1.0) ** 3)


def one_course(
    *, zone_l: float = 3.0, tub_l: float = 120.0, mixed_s: float = 45.0, film_um: float = 30.0
) -> Courses:
    return Courses(
        tub_l,
        np.array([zone_l]),
        np.array([mixed_s]),
        np.array([film_um]),
        np.array([5.0]),
    )


def dry(name: str, grams: list[float], radius_um: float) -> Portioned:
    mass = np.array([grams])
    return Portioned(name, np.array([radius_um]), np.zeros_like(mass), mass)


def demo(name: str = "") -> RecipeInputs:
    return demo_recipe(name or demo_names()[0])


@pytest.fixture(scope="module")
def evening() -> Callable[..., Course]:
    inputs = demo()
    setting = assemble(inputs)
    made: dict[tuple[object, ...], Course] = {}

    def line(poured: str = "jug", stir: str = "hand", minutes: int = 60) -> Course:
        key = (poured, stir, minutes)
        if key not in made:
            manner = Manner(poured=poured, stir=stir, minutes=minutes)
            made[key] = follow(inputs, setting, [DOSE_G], manner)
        return made[key]

    return line


# What the constants say, against published values


@pytest.mark.parametrize(
    ("celsius", "mpa_s"), [(20.0, 1.002), (25.0, 0.890), (40.0, 0.653), (50.0, 0.547)]
)
def test_viscosity_of_water_is_that_of_the_handbook(celsius: float, mpa_s: float) -> None:
    # CRC Handbook of Chemistry and Physics, viscosity of liquid water; from memory, unverified.
    assert float(water_viscosity_pa_s(celsius)) * 1e3 == pytest.approx(mpa_s, rel=0.006)


def test_schmidt_numbers_agree_with_the_older_set() -> None:
    # Wanninkhof 1992, J. Geophys. Res. 97:7373, CO2 in fresh water, 0 to 30 °C, as quoted in the
    # lake model LakeMetabolizer (R/getSchmidt.R): 1911.1 - 118.11 t + 3.4527 t² - 0.04132 t³.
    celsius = np.linspace(0.0, 30.0, 31)
    older = np.polynomial.polynomial.polyval(celsius, [1911.1, -118.11, 3.4527, -0.04132])
    assert np.max(np.abs(schmidt_co2(celsius) / older - 1.0)) < 0.025
    # 600 at 20 °C is what transfer velocities are quoted for.
    assert float(schmidt_co2(20.0)) == pytest.approx(600.0, rel=0.002)
    assert float(schmidt_co2(55.0)) == float(schmidt_co2(40.0))


def test_still_water_gives_the_published_velocity_at_20_degrees() -> None:
    # Cole and Caraco 1998, Limnol. Oceanogr. 43:647: 2.07 cm/h without wind, Schmidt number 600.
    still = taken("transfer_cm_h", "still").value
    assert float(co2_per_second(still, 20.0, 1.0)) * 3600.0 == pytest.approx(2.07, rel=0.002)


def test_a_tub_with_a_bather_loses_gas_as_trade_knows_it() -> None:
    # Transfer velocity of a tub with a bather, 10 to 30 cm/h; from memory, unverified.
    low, high = (
        float(co2_per_second(value, 38.0, 1.0)) * 3600.0
        for value in taken("transfer_cm_h", "moved").ends
    )
    assert 9.0 < low < 13.0
    assert 27.0 < high < 33.0


def test_cooling_agrees_with_the_heat_that_evaporates() -> None:
    # Evaporation from still water, 25 kg/(m² h) times the difference of humidity ratios
    # (engineers' formula, secondary pages): 0.0439 at 38 °C against 0.0112 in a room of 24 °C
    # and 60 %; heat of evaporation 2.41 MJ/kg; 11 W/(m² K) of convection and radiation (memory).
    per_m2 = 25.0 / 3600.0 * (0.0439 - 0.0112) * 2.41e6 + 11.0 * 14.0
    an_hour = per_m2 * 3600.0 / (4180.0 * 993.0 * 0.25)
    cooled = 38.0 - float(
        temperature_after(3600.0, 38.0, 24.0, taken("surface_loss_w_m2_k").value, 25.0)
    )
    assert cooled == pytest.approx(an_hour, rel=0.12)


def test_water_cooler_than_the_room_is_left_alone() -> None:
    assert float(temperature_after(3600.0, 18.0, 24.0, 50.0, 25.0)) == 18.0


def test_a_gram_of_baking_soda_is_so_much_gas() -> None:
    # Stoichiometry: 1 g of NaHCO3 (84.007 g/mol) sets 0.29 L free at 25 °C.
    assert float(gas_litres(1.0 / 84.007, 25.0)) == pytest.approx(0.291, abs=0.001)


def test_citric_acid_takes_seconds_and_cream_of_tartar_minutes() -> None:
    # Trade: citric acid dissolves in seconds, cream of tartar in 1 to 3 min; memory, unverified.
    film = taken("film_um", "hand").value
    citric = dissolving("citric-acid-anhydrous", 38.0)
    tartar = dissolving("cream-of-tartar", 38.0)
    granular, fine = (0.5 * taken("grain_um", way).value for way in ("granular", "fine"))
    assert 2.0 < seconds_to_dissolve(citric, 12.0, 120.0, granular, film) < 20.0
    assert 60.0 < seconds_to_dissolve(tartar, 40.0, 120.0, fine, film) < 240.0


def test_pour_zone_of_a_jug_is_that_of_a_sinking_plume() -> None:
    # Fischer et al. 1979: a plume carries 0.15 B^(1/3) z^(5/3); 30 g of acid in 1 L, poured in
    # 30 s into 25 cm of water; density from 0.4 kg/L per kg/L of acid. From memory, unverified.
    flow = 1e-3 / 30.0
    buoyancy = 9.81 * 0.4 * 0.03 * flow
    carried_l = 0.15 * buoyancy ** (1 / 3) * 0.25 ** (5 / 3) * 30.0 * 1000.0
    zone = taken("pour_zone_l", "jug")
    assert zone.ends[0] < carried_l < zone.ends[1]
    assert carried_l == pytest.approx(zone.value, rel=0.15)


def test_mixing_by_a_tap_is_that_of_a_jet() -> None:
    # Grenville and Tilton 1996: 3 Z²/(U D); tap of 12 L/min that falls 30 cm. Memory, unverified.
    flow = 12e-3 / 60.0
    speed = np.sqrt((flow / (np.pi / 4 * 0.02**2)) ** 2 + 2 * 9.81 * 0.30)
    width = np.sqrt(4 * flow / (np.pi * speed))
    mixed = taken("mixed_s", "tap")
    for long in (1.2, 1.7):
        assert mixed.ends[0] < 3 * long**2 / (speed * width) < mixed.ends[1]


# Dissolving


@pytest.mark.parametrize("film_um", [3.0, 30.0, 3000.0])
@pytest.mark.parametrize("name", ["citric-acid-anhydrous", "cream-of-tartar"])
def test_a_grain_dissolves_as_the_closed_form_says(name: str, film_um: float) -> None:
    # In so much water that what is dissolved does not count: Wang and Flanagan 1999.
    radius = 90.0
    known = dissolving(name, 38.0)
    end = seconds_to_dissolve(known, 1e-9, 1.0, radius, film_um)
    moments = np.linspace(0.0, 1.2 * end, 41)
    courses = one_course(zone_l=1e6, tub_l=4e6, film_um=film_um)
    found = spread_powder(courses, [dry(name, [1.0], radius)], [0.0], moments, 38.0)
    expected = share_left(moments, known, radius, film_um)
    assert np.max(np.abs(found.grains_g[0, 0] - expected)) < 1e-5
    assert float(share_left(end, known, radius, film_um)) == pytest.approx(0.01, rel=0.02)


def test_the_closed_form_has_both_classical_limits() -> None:
    # Hixson and Crowell 1931 (thin film): the cube root of the mass falls evenly; thick film:
    # the two-thirds power does.
    known = dissolving("citric-acid-anhydrous", 25.0)
    speed = known.diffusion_m2_s * known.saturated_g_ml / known.density_g_ml
    radius = 100e-6
    thin, thick = 0.02, 1e5
    for share in (0.25, 0.5, 0.75):
        by_cube_root = share * radius * (thin * 1e-6) / speed
        by_two_thirds = share * radius**2 / (2.0 * speed)
        left = share_left(by_cube_root, known, 100.0, thin)
        assert float(left) == pytest.approx((1.0 - share) ** 3, rel=0.01)
        left = share_left(by_two_thirds, known, 100.0, thick)
        assert float(left) == pytest.approx((1.0 - share) ** 1.5, rel=0.01)


def test_finer_and_warmer_dissolves_faster_and_saturation_stops_it() -> None:
    def time(name: str, celsius: float, radius: float, grams: float = 1.0) -> float:
        return seconds_to_dissolve(dissolving(name, celsius), grams, 1.0, radius, 30.0)

    assert time("sodium-bicarbonate", 38.0, 90.0) < time("sodium-bicarbonate", 38.0, 175.0)
    assert time("sodium-bicarbonate", 38.0, 90.0) < time("sodium-bicarbonate", 20.0, 90.0)
    most = 1000.0 * float(saturated_g_ml("cream-of-tartar", 38.0))
    assert time("cream-of-tartar", 38.0, 90.0, 0.5 * most) < float("inf")
    assert time("cream-of-tartar", 38.0, 90.0, 1.05 * most) == float("inf")


def test_a_saturated_solution_holds_what_the_solubility_says() -> None:
    for name in filter(has_grains, powder_names()):
        per_kg = float(solubility_g_per_kg(name, 25.0).g_per_kg)
        grams_per_ml = float(saturated_g_ml(name, 25.0))
        assert 0.0 < grams_per_ml < per_kg / 1000.0
        # A thin solution is as heavy as water, a strong one no heavier than its crystals.
        if per_kg < 10.0:
            assert grams_per_ml == pytest.approx(per_kg / 1000.0, rel=0.02)


def test_powder_that_cannot_dissolve_stays_as_grains() -> None:
    moments = np.linspace(0.0, 7200.0, 25)
    courses = one_course(zone_l=0.5, tub_l=1.0, mixed_s=20.0)
    most = 1000.0 * float(saturated_g_ml("cream-of-tartar", 38.0))
    found = spread_powder(
        courses, [dry("cream-of-tartar", [2.0 * most], 90.0)], [0.0], moments, 38.0
    )
    assert found.grains_g[0, 0, -1] == pytest.approx(most, rel=1e-3)


# Mixing


def test_nothing_is_lost_on_the_way() -> None:
    moments = np.concatenate([np.arange(0.0, 400.0), np.arange(400.0, 3601.0, 100.0)])
    courses = Courses(
        120.0,
        np.array([1.0, 3.0, 8.0]),
        np.array([20.0, 45.0, 900.0]),
        np.array([15.0, 30.0, 200.0]),
        np.array([2.0, 5.0, 30.0]),
    )
    grams = np.array([[7.0, 3.0]] * 3)
    blend = [
        Portioned("cream-of-tartar", np.full(3, 90.0), 0.2 * grams, 0.8 * grams),
        Portioned("lemon-juice", np.ones(3), grams, 0.0 * grams),
    ]
    found = spread_powder(courses, blend, [0.0, 120.0], moments, 38.0)
    whole = np.sum(found.in_zone_g, axis=1) + found.grains_g
    assert np.min(found.in_zone_g) >= 0.0
    assert np.min(found.grains_g) >= 0.0
    settled = (moments > 31.0) & (moments < 120.0)
    assert np.allclose(whole[..., settled], 7.0, atol=1e-6)
    assert np.allclose(whole[..., moments > 151.0], 10.0, atol=1e-6)
    assert np.allclose(found.in_zone_g[..., -1] / courses.tub_l * 120.0, _by_volume(courses))


def _by_volume(courses: Courses) -> Array:
    shares = np.stack([courses.zone_l, courses.rest_l], axis=1) / courses.tub_l
    return np.asarray(10.0 * shares[:, :, None] * np.ones(2))


def test_a_solution_mixes_with_one_time_constant() -> None:
    # Poured in an instant the difference of the zones dies away exponentially, and after the
    # stated time it is a twentieth of the mean.
    courses = Courses(120.0, np.array([6.0]), np.array([45.0]), np.array([30.0]), np.array([1e-3]))
    liquid = Portioned("lemon-juice", np.ones(1), np.array([[12.0]]), np.zeros((1, 1)))
    moments = np.array([0.0, 0.5, 10.0, 20.0, 45.0])
    found = spread_powder(courses, [liquid], [0.0], moments, 38.0).in_zone_g[0, :, 0]
    strength = found / np.array([[6.0], [114.0]])
    apart = (strength[0] - strength[1])[1:]
    constant = np.log(apart[1] / apart[2]) / 10.0
    assert np.log(apart[2] / apart[3]) / 25.0 == pytest.approx(constant, rel=1e-4)
    mean = 12.0 / 120.0
    assert strength[0, -1] - mean == pytest.approx(0.05 * mean, rel=0.01)


# Gas


def _quick() -> Courses:
    """Two zones that are always one."""
    return one_course(zone_l=30.0, mixed_s=0.5)


def test_gas_leaves_exponentially_where_the_ph_is_held() -> None:
    # With a fixed share of the carbon as gas the course is c = a + (c0 - a) exp(-k share t).
    moments = np.linspace(0.0, 4.0e4, 81)
    carbon = np.full((1, 2, len(moments)), 2.0e-3)
    share, air, rate = 0.63, 1.2e-5, 1.5e-4
    found = leave_to_air(
        _quick(),
        carbon,
        lambda carbon: share * carbon,
        np.full((1, len(moments)), air),
        np.full((1, len(moments)), rate),
        moments,
    )
    at_rest = air / share
    expected = at_rest + (2.0e-3 - at_rest) * np.exp(-rate * share * moments)
    assert found.settled
    assert np.max(np.abs(carbon[0, REST] - found.lost[0, REST] - expected)) < 1e-9


def _dosed(
    totals: dict[str, float], celsius: float, rate: float, moments: Array
) -> tuple[Array, Array]:
    """PH and carbon of one tub that loses gas at a constant rate."""
    shape = (1, 2, len(moments))

    def solved(carbon: Array) -> dict[str, Array]:
        everything = {name: np.full(carbon.shape, value) for name, value in totals.items()}
        found = solve({**everything, "C": carbon}, celsius)
        return {"ph": np.asarray(found.ph), "gas": np.asarray(found.molality["CO2"])}

    air = float(np.asarray(solve(totals, celsius, pco2_ppm=constant("air_co2")).molality["CO2"]))
    left = leave_to_air(
        _quick(),
        np.full(shape, totals["C"]),
        lambda carbon: solved(carbon)["gas"],
        np.full((1, len(moments)), air),
        np.full((1, len(moments)), rate),
        moments,
    )
    assert left.settled
    carbon = np.full(shape, totals["C"]) - left.lost
    return solved(carbon)["ph"][0, REST], carbon[0, REST]


def reference_rows() -> list[dict[str, str]]:
    text = (REFERENCE / "chemistry_phreeqc_outgassing.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(one for one in text.splitlines() if not one.startswith("#")))


@pytest.mark.slow
def test_the_course_of_the_ph_agrees_with_phreeqc() -> None:
    # tests/reference/build_phreeqc_outgassing.py: PHREEQC's own kinetics in 18 dosed waters. The
    # tolerance is that of test_phreeqc_baths.py for the same database (0.03).
    constants = [0.25, 0.5, 1.0, 2.0, 4.0]
    rate = 2e-4
    moments = np.unique(np.concatenate([np.arange(0.0, 2.0e4, 100.0), np.array(constants) / rate]))
    worst = 0.0
    for row in reference_rows():
        celsius = float(row["temperature_c"])
        totals = {name: float(row[name]) for name in ("Ca", "Mg", "Na", "Cl", "C", "citrate")}
        ph, _ = _dosed(totals, celsius, rate, moments)
        ours = np.interp(np.array(constants) / rate, moments, ph)
        theirs = np.array([float(row[f"ph_after_{one:g}"]) for one in constants])
        opened = float(solve(totals, celsius, pco2_ppm=constant("air_co2")).ph)
        off = [*(ours - theirs), ph[0] - float(row["ph_closed"]), opened - float(row["ph_open"])]
        worst = max(worst, float(np.max(np.abs(off))))
    assert worst < 0.03


def test_gas_that_leaves_one_tub_agrees_with_phreeqc_too() -> None:
    # The same rows, by one integral over the carbon and no integration in time; the same gate.
    wanted = np.array([0.25, 0.5, 1.0, 2.0, 4.0])
    for row in reference_rows():
        totals = {name: np.array(float(row[name])) for name in ("Ca", "Mg", "Na", "Cl", "C")}
        totals["citrate"] = np.array(float(row["citrate"]))
        warm = np.array(float(row["temperature_c"]))
        one = np.ones(())
        found = leaving(Bath(totals, one, one, warm, {}, {}, constant("air_co2")))
        ours = np.interp(wanted, found.constants, found.ph)
        theirs = [float(row[f"ph_after_{one:g}"]) for one in wanted]
        assert ours == pytest.approx(theirs, abs=0.03)
        assert found.ph[0] == pytest.approx(float(row["ph_closed"]), abs=0.03)


def test_time_constants_take_as_long_as_depth_over_velocity() -> None:
    # Water as warm as the room: n constants are n h / v, v as for a Schmidt number of 600 times
    # (600 / Sc)^1/2 (Wanninkhof 2014).
    room = taken("room_c").value
    velocity = 12.0 * np.sqrt(600.0 / float(schmidt_co2(room)))
    by_hand = 2.5 * 25.0 / velocity * 3600.0
    seconds, passed = constants_passed(12.0, room, 25.0)
    assert np.interp(2.5, passed, seconds) == pytest.approx(by_hand, rel=1e-6)


@pytest.mark.slow
def test_the_two_ends_of_the_course_are_the_two_equilibria() -> None:
    # Closed at first, and after 50 time constants at rest with the air, to 0.005 pH. In an alkaline
    # tub only little of the carbon is gas, and its time constant is as much longer.
    rate = 2e-4
    for row in reference_rows():
        celsius = float(row["temperature_c"])
        totals = {name: float(row[name]) for name in ("Ca", "Mg", "Na", "Cl", "C", "citrate")}
        closed = float(solve(totals, celsius).ph)
        opened = solve(totals, celsius, pco2_ppm=constant("air_co2"))
        kept = [k for k, one in enumerate(opened.system.species) if one.ligand == "C"]
        carbon = float(np.sum(opened.species_molality[kept])) * np.array([1.0, 1.001])
        gas = np.asarray(solve({**totals, "C": carbon}, celsius).molality["CO2"])
        constant_s = float((carbon[1] - carbon[0]) / (gas[1] - gas[0])) / rate
        moments = np.concatenate([[0.0], np.geomspace(5.0, 50.0 * constant_s, 160)])
        ph, _ = _dosed(totals, celsius, rate, moments)
        assert ph[0] == pytest.approx(closed, abs=1e-6)
        assert ph[-1] == pytest.approx(float(opened.ph), abs=0.005)


def test_the_course_agrees_with_the_solver_inside_the_integration() -> None:
    # The same equation with a new equilibrium at every step of the integration: to 0.002 pH.
    totals = {"Ca": 6.65e-4, "Mg": 1.9e-4, "Na": 6.65e-4, "Cl": 4.75e-4, "C": 1.957e-3}
    totals["citrate"] = 4.433e-4
    rate = 2.5e-4
    moments = np.concatenate([np.arange(0.0, 61.0), np.arange(120.0, 3601.0, 60.0)])
    ph, _ = _dosed(totals, 38.0, rate, moments)
    air = float(np.asarray(solve(totals, 38.0, pco2_ppm=420.0).molality["CO2"]))

    def change(_: float, carbon: Array) -> Array:
        gas = float(np.asarray(solve({**totals, "C": float(carbon[0])}, 38.0).molality["CO2"]))
        return np.array([-rate * (gas - air)])

    strict = solve_ivp(change, (0.0, 3600.0), [totals["C"]], t_eval=moments, rtol=1e-9, atol=1e-14)
    expected = solve({**totals, "C": strict.y[0]}, 38.0).ph
    assert np.max(np.abs(ph - expected)) < 0.002


# The whole course


def test_it_begins_with_the_tub_and_ends_near_the_closed_bath(
    evening: Callable[..., Course],
) -> None:
    setting = assemble(demo())
    line = evening()
    before = float(setting.bath.solve().ph)
    closed = float(setting.bath.with_activator(DOSE_G, setting.per_gram).solve().ph)
    assert line.ph.best[0] == pytest.approx(before, abs=1e-6)
    assert line.ph_local[0] == pytest.approx(before, abs=1e-6)
    steady = int(np.searchsorted(line.times_s, 180.0))
    # Three minutes lose a few per cent of the gas and nothing else.
    assert closed - 0.005 <= line.ph.best[steady] <= closed + 0.05
    assert line.ph_local[steady] == pytest.approx(line.ph.best[steady], abs=0.005)


def test_without_a_surface_it_ends_as_the_closed_bath() -> None:
    inputs = demo()
    setting = replace(assemble(inputs), depth_cm=1e9)
    line = follow(inputs, setting, [DOSE_G], Manner(minutes=30))
    closed = float(setting.bath.with_activator(DOSE_G, setting.per_gram).ph)
    assert line.ph.best[-1] == pytest.approx(closed, abs=0.005)
    assert line.temperature_c.best[-1] == pytest.approx(38.0, abs=1e-6)
    assert line.co2_share_left.best[-1] == pytest.approx(1.0, abs=1e-4)


def test_in_a_film_of_water_it_ends_as_the_open_bath() -> None:
    # 1 mm of water, at the temperature of the room so that it stays.
    inputs = replace(demo(), water_temperature_c=24.0)
    setting = replace(assemble(inputs), depth_cm=0.1)
    line = follow(inputs, setting, [16.0], Manner(minutes=240))
    open_ph = float(setting.bath.with_activator(16.0, setting.per_gram).ph_at_rest)
    assert line.ph.best[-1] == pytest.approx(open_ph, abs=0.005)
    assert line.co2_share_left.best[-1] == pytest.approx(0.0, abs=0.01)


def test_the_first_minute_is_told_closely_and_the_hour_by_few_moments(
    evening: Callable[..., Course],
) -> None:
    line = evening()
    assert np.all(np.diff(line.times_s[line.times_s <= 60.0]) <= 10.0)
    assert line.times_s[-1] == 3600.0
    assert len(line.times_s) < 40
    for values in (
        line.ph.best, line.ph_local, line.temperature_c.low, line.co2_share_left.high
    ):  # fmt: skip
        assert values.shape == line.times_s.shape
        assert np.all(np.isfinite(values))


def test_the_ph_creeps_up_and_the_gas_and_warmth_leave(evening: Callable[..., Course]) -> None:
    line = evening()
    late = line.times_s >= 300.0
    assert np.all(np.diff(line.ph.best[late]) > 0.0)
    assert np.all(np.diff(line.co2_share_left.best[late]) < 0.0)
    assert np.all(np.diff(line.temperature_c.best) < 0.0)
    ph, share = line.ph, line.co2_share_left
    assert np.all((ph.low <= ph.best + 1e-12) & (ph.best <= ph.high + 1e-12))
    assert np.all(share.low <= share.high)


def test_dry_powder_is_sourer_near_the_pour_than_a_jug(evening: Callable[..., Course]) -> None:
    jug, heap = evening("jug").lowest_local, evening("dry").lowest_local
    assert heap.ph.best < jug.ph.best
    assert heap.ph.low < jug.ph.low
    for one in (jug, heap):
        assert one.ph.low <= one.ph.best <= one.ph.high
        assert one.seconds_below_gate is not None
        assert one.seconds_below_gate_long is not None
        assert 0.0 < one.seconds_below_gate <= one.seconds_below_gate_long


@pytest.mark.slow
def test_still_water_stays_sour_longer_than_stirred(evening: Callable[..., Course]) -> None:
    by_stir = [evening("jug", stir) for stir in ("hand", "tap", "still")]
    below = [one.lowest_local.seconds_below_gate for one in by_stir]
    assert below == sorted(below, key=lambda value: value or 0.0)
    steady = [one.steady_after_s or np.inf for one in by_stir]
    assert steady == sorted(steady)
    assert by_stir[0].wait_s is not None
    assert by_stir[-1].wait_s is None


def test_the_worst_near_the_pour_is_what_the_strength_there_gives() -> None:
    # A jug that runs into still water at once: all of it in the first zone, then an equilibrium.
    inputs = demo()
    setting = assemble(inputs)
    line = follow(inputs, setting, [DOSE_G], Manner(stir="still"))
    zone = taken("pour_zone_l", "jug")
    mass = DOSE_G * float(setting.bath.volume_l) / zone.ends[0]
    sourest = float(setting.bath.with_activator(mass, setting.per_gram).solve().ph)
    assert sourest <= line.lowest_local.ph.low + 0.002
    assert line.lowest_local.ph.low == pytest.approx(sourest, abs=0.15)


@pytest.mark.slow
def test_the_level_near_the_pour_is_told_and_a_pour_beside_never_passes() -> None:
    inputs = demo()
    setting = assemble(inputs)
    for poured, beside in (("jug", "before"), ("jug", "beside"), ("dry", "beside")):
        asked = replace(inputs, activator=replace(inputs.activator, poured=beside))
        line = follow(asked, setting, [DOSE_G], Manner(poured=poured))
        worst = line.lowest_local.ph.low
        level = LEVELS[int(gate_level(worst, "child"))]
        assert line.lowest_local.level == level == "stop"
        (caution,) = line.cautions
        assert caution.level == ("mind" if beside == "before" else "stop")
        assert f"pH {worst - 0.1:.1f}"[:4] in caution.message
        assert "{" not in caution.message


def test_nobody_has_no_gate() -> None:
    inputs = demo("4")
    line = follow(inputs, assemble(inputs), [74.0], Manner(minutes=5))
    assert line.lowest_local.gate_ph is None
    assert line.lowest_local.seconds_below_gate is None
    assert line.cautions == ()
    # The pour zone is at most a quarter of a small basin.
    zone = next(note for note in line.assumptions if note.code == "assume.time.zones")
    assert float(zone.values["high"]) <= 0.25 * 6.1


def test_an_alkaline_powder_is_told_by_its_highest_ph() -> None:
    inputs = demo()
    activator = replace(inputs.activator, parts={"sodium-carbonate": 1.0}, poured="beside")
    asked = replace(inputs, activator=activator)
    line = follow(asked, assemble(asked), [20.0], Manner())
    assert not line.acid
    bath = assemble(asked).bath
    closed = float(bath.with_activator(20.0, assemble(asked).per_gram).ph)
    assert line.lowest_local.ph.best > closed > float(bath.ph)
    assert line.lowest_local.gate_ph == pytest.approx(9.0)
    # Soda does not leave by itself: the tub stays beyond the gate as well.
    assert {"time-stays-beyond", "time-beside-alkaline"} <= {one.code for one in line.cautions}


@pytest.mark.slow
def test_portions_are_followed_one_after_the_other() -> None:
    inputs = demo()
    setting = assemble(inputs)
    line = follow(inputs, setting, [6.0, 9.0, 12.0], Manner())
    assert [one.grams for one in line.pours] == [6.0, 3.0, 3.0]
    assert [one.at_s for one in line.pours] == [0.0, 120.0, 240.0]
    after = [float(np.interp(t, line.times_s, line.ph.best)) for t in (60.0, 180.0, 300.0)]
    expected = setting.bath.with_activator(np.array([6.0, 9.0, 12.0]), setting.per_gram).solve().ph
    assert after == pytest.approx(list(expected), abs=0.06)
    at_once = follow(inputs, setting, [12.0], Manner())
    assert line.ph.best[-1] == pytest.approx(at_once.ph.best[-1], abs=0.02)


def test_what_no_jug_takes_goes_in_as_grains() -> None:
    inputs = demo()
    asked = replace(inputs, activator=replace(inputs.activator, parts={"cream-of-tartar": 1.0}))
    line = follow(asked, assemble(asked), [50.0], Manner())
    jugs = fill_jugs(asked.activator.parts, 50.0, assemble(asked).bath)
    left = jugs.undissolved_g
    # Cream of tartar in water, 9.8 to 10.3 g/kg at 38 °C (two routes, handbook).
    assert 50.0 - 10.3 < left < 50.0 - 9.7
    assert jugs.slurry
    assert line.jug_stirred_s == float("inf")
    assert line.undissolved_g[0] == pytest.approx(left, rel=1e-3)
    assert line.undissolved_g[-1] < 0.1


def test_coarse_grains_in_still_water_stay_longest() -> None:
    inputs = demo()
    asked = replace(inputs, activator=replace(inputs.activator, parts={"cream-of-tartar": 1.0}))
    setting = assemble(asked)
    left = [
        follow(asked, setting, [50.0], Manner("dry", "still", grain, 5)).undissolved_g[-1]
        for grain in ("fine", "granular", "coarse")
    ]
    assert left == sorted(left)
    last = follow(asked, setting, [50.0], Manner("dry", "still", "coarse", 5))
    assert any(note.code == "warn.time.undissolved" for note in last.warnings)


def test_acid_and_soda_together_fizz() -> None:
    inputs = demo()
    parts = {"citric-acid-anhydrous": 1.0, "sodium-bicarbonate": 1.0}
    asked = replace(inputs, activator=replace(inputs.activator, parts=parts))
    line = follow(asked, assemble(asked), [300.0], Manner("dry"))
    assert any(note.code == "warn.time.fizz" for note in line.warnings)


@pytest.mark.slow
def test_every_note_has_its_sentence(evening: Callable[..., Course]) -> None:
    for line in (evening("jug", "hand"), evening("dry", "tap"), evening("jug", "still")):
        for note in (*line.assumptions, *line.warnings):
            assert "{" not in sentence(note)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.2, "1 s"), (9.1, "10 s"), (11.0, "15 s"), (119.0, "120 s"), (121.0, "3 min")],
)
def test_times_are_never_told_too_short(seconds: float, words: str) -> None:
    assert span(seconds) == words


@pytest.mark.parametrize(
    ("seconds", "told"),
    [(0.0, "5 min"), (2460.0, "45 min"), (3700.0, "1½ h"), (5500.0, "2 h"), (20000.0, "6 h")],
)
def test_a_rough_time_is_told_roughly_and_never_too_short(seconds: float, told: str) -> None:
    assert roughly(seconds) == told


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"stir": "spoon"}, "stir is 'spoon'"),
        ({"poured": "bag"}, "poured is 'bag'"),
        ({"grain": "dust"}, "grain is 'dust'"),
        ({"minutes": 0}, "minutes is 0"),
        ({"minutes": 601}, "minutes is 601"),
    ],
)
def test_an_unknown_manner_is_refused(change: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        Manner(**change)  # type: ignore[arg-type]  # wrong on purpose


@pytest.mark.parametrize("totals", [[], [0.0], [-1.0], [5.0, 5.0], [float("nan")]])
def test_nothing_to_pour_is_refused(totals: list[float]) -> None:
    inputs = demo()
    with pytest.raises(ValueError, match="dose is"):
        follow(inputs, assemble(inputs), totals, Manner())


def test_tables_have_ranges_that_enclose() -> None:
    data = Path(__file__).parents[2] / "data" / "trade"

    def rows(name: str) -> list[dict[str, str]]:
        text = (data / f"{name}.csv").read_text(encoding="utf-8")
        return list(csv.DictReader(one for one in text.splitlines() if not one.startswith("#")))

    for row in rows("mixing"):
        if row["low"]:
            assert float(row["low"]) <= float(row["value"]) <= float(row["high"]), row
    assert {row["powder"] for row in rows("powder_grains")} <= set(powder_names())
    with pytest.raises(DataError, match="no row"):
        taken("mixed_s", "spoon")


def test_the_zones_are_told_apart() -> None:
    assert (POUR_ZONE, REST) == (0, 1)


def test_nobody_gets_in_before_the_water_is_mixed_and_within_the_gate() -> None:
    # Bathing-water guidance (Health Canada 2012): pH 5.0 to 9.0; a child's own is 5.0 too.
    inputs = demo()
    setting = assemble(inputs)
    sour = follow(inputs, setting, [22.0], Manner(minutes=20))
    stops = [one for one in sour.cautions if one.code == "time-stays-beyond"]
    assert sour.ph.best[-1] < 5.0
    assert sour.wait_s is None
    assert stops
    assert stops[0].level == "stop"
    mild = follow(inputs, setting, [12.0], Manner(minutes=20))
    assert mild.wait_s is not None
    late = mild.times_s >= mild.wait_s
    gate = mild.lowest_local.gate_ph
    assert gate is not None
    assert np.all(mild.ph.low[late] >= gate)
    assert np.all(mild.ph_local[late] >= gate)
    assert not any(one.code == "time-stays-beyond" for one in mild.cautions)


def test_every_pour_has_its_seconds_and_the_last_its_minutes() -> None:
    told, worked = told_and_worked(5, np.array([0.0, 120.0]))
    assert {0.0, 5.0, 30.0, 60.0, 120.0, 125.0, 150.0, 180.0} <= set(told)
    assert told[-1] == 120.0 + 300.0
    assert set(told) <= set(worked)
    assert set(np.arange(0.0, 421.0)) <= set(worked)
    assert np.all(np.diff(told) > 0.0)


def test_the_sourest_moment_of_several_pours_is_told_exactly() -> None:
    inputs = demo()
    line = follow(inputs, assemble(inputs), [6.0, 9.0, 12.0], Manner(minutes=5))
    worst = line.lowest_local
    place = int(np.searchsorted(line.times_s, worst.at_s))
    assert line.times_s[place] == worst.at_s
    assert line.ph_local[place] == pytest.approx(worst.ph.best, abs=1e-12)
    assert np.min(line.ph_local) == line.ph_local[place]
    ends = [*(pour.at_s for pour in line.pours[1:]), np.inf]
    for pour, end in zip(line.pours, ends, strict=True):
        dip = line.ph_local[(line.times_s >= pour.at_s) & (line.times_s < end)]
        assert dip.min() < dip[0] - 0.1
