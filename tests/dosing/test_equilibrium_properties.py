"""Inner checks of the equilibrium engine: balances, mass action, monotony, shapes, round trips."""

import importlib.util
import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosing.equilibrium import (
    COMPONENTS,
    Equilibrium,
    carbon_from_alkalinity,
    mass_for_ph,
    newton,
    solve,
    species_names,
    strong_charge,
)
from dosing.equilibrium.constants import known_between_c, temperature_basis
from dosing.equilibrium.species import AcidRow, ComplexRow, solid_rows
from indicator.tables import read_table

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
BALANCE = 1e-10
WATER = {"Ca": 1.4e-3, "Mg": 4e-4, "Na": 1.1e-3, "K": 1e-4, "Cl": 1.3e-3, "SO4": 4e-4, "C": 2.8e-3}

AMOUNT = st.floats(-9.0, np.log10(0.5)).map(lambda exponent: float(10.0**exponent))
TOTALS = st.dictionaries(st.sampled_from(COMPONENTS), AMOUNT, max_size=12)
TEMPERATURE = st.floats(0.0, 60.0)


@pytest.fixture(scope="module")
def baths() -> tuple[dict[str, np.ndarray], np.ndarray]:
    totals, temperature_c = compositions().composition_rows(600, seed=11)
    return totals, temperature_c


def compositions() -> ModuleType:
    spec = importlib.util.spec_from_file_location("compositions", REFERENCE / "compositions.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def charge_in_name(name: str) -> int:
    """Of ``CaCit-``, ``Ca+2`` and the like."""
    match = re.search(r"([+-])(\d*)$", name)
    if match is None:
        return 0
    return int(match[1] + (match[2] or "1"))


def assert_balanced(found: Equilibrium) -> None:
    """Charge and every total, summed again from the molalities and the species' own names."""
    rows = found.converged
    charge, size = np.zeros_like(found.ph), np.zeros_like(found.ph)
    for name, molality in found.molality.items():
        charge = charge + charge_in_name(name) * molality
        size = size + abs(charge_in_name(name)) * molality
    assert np.all(np.abs(charge)[rows] <= BALANCE * size[rows])
    for component in (*found.system.metals, *found.system.ligands):
        held = sum(
            found.species_molality[place]
            for place, species in enumerate(found.system.species)
            if component in (species.metal, species.ligand)
        )
        total = found.totals[component]
        assert np.all(np.abs(held - total)[rows] <= BALANCE * total[rows])


def assert_mass_action(found: Equilibrium) -> None:
    """Every species obeys its own constant with the activities of what it is made of."""
    ln_h = -np.log(10) * found.ph
    basis = temperature_basis(found.temperature_c)
    place = {species.name: n for n, species in enumerate(found.system.species)}
    of_one_charge = found.ln_gamma[place["H+"]]
    ln_activity = {
        name: np.log(found.species_molality[n])
        + found.system.species[n].charge ** 2 * of_one_charge
        for name, n in place.items()
    }
    # Free metals may have an equation of their own.
    for metal in found.system.metals:
        n = found.system.place(metal, "", 0)
        name = found.system.species[n].name
        ln_activity[name] = np.log(found.species_molality[n]) + found.ln_gamma[n]
    bare: dict[tuple[str, str], np.ndarray] = {}
    for species in found.system.species:
        if species.protons == 0 and (not species.metal or not species.ligand):
            bare[species.metal, species.ligand] = ln_activity[species.name]
    for species in found.system.species:
        expected = np.log(10) * np.tensordot(species.log_k, basis, axes=1) + species.protons * ln_h
        if species.metal:
            expected = expected + bare[species.metal, ""]
        if species.ligand:
            expected = expected + bare["", species.ligand]
        actual = ln_activity[species.name]
        off = np.abs(actual - expected)[found.converged]
        assert np.all(off <= 1e-7), species.name


def test_names_tell_the_charges() -> None:
    everything = solve(dict.fromkeys(COMPONENTS, 1e-4))
    assert set(everything.molality) == set(species_names())
    named = [charge_in_name(species.name) for species in everything.system.species]
    assert named == everything.system.charge.tolist()


def test_every_species_has_its_own_name_and_every_acid_its_steps() -> None:
    assert len(set(species_names())) == len(species_names())
    steps: dict[str, list[int]] = {}
    for row in read_table("equilibrium/acids.csv", AcidRow):
        steps.setdefault(row.ligand, []).append(row.step)
    assert all(sorted(of_one) == [*range(1, len(of_one) + 1)] for of_one in steps.values())
    # No complex holds more protons than its acid takes up.
    for complex_row in read_table("equilibrium/complexes.csv", ComplexRow):
        assert complex_row.from_protons <= len(steps.get(complex_row.ligand, ()))


@pytest.mark.slow
@settings(max_examples=150)
@given(totals=TOTALS, temperature_c=TEMPERATURE)
def test_any_totals_return_flagged_and_balanced(
    totals: dict[str, float], temperature_c: float
) -> None:
    found = solve({name: [total] for name, total in totals.items()}, [temperature_c])
    assert found.converged.dtype == bool
    assert np.all(np.isfinite(found.ph) | ~found.converged)
    assert_balanced(found)


def test_thousands_of_random_totals_converge() -> None:
    # Up to 0.5 mol/kg of any of all components at once, far beyond any bath.
    rng = np.random.default_rng(5)
    count = 3000
    totals = {
        name: np.where(rng.random(count) < 0.3, 10.0 ** rng.uniform(-9, np.log10(0.5), count), 0.0)
        for name in COMPONENTS
    }
    found = solve(totals, rng.uniform(0.0, 60.0, count))
    assert_balanced(found)
    assert found.converged.mean() >= 0.999


def test_balances_and_mass_action_of_baths(
    baths: tuple[dict[str, np.ndarray], np.ndarray],
) -> None:
    totals, temperature_c = baths
    # Rows in which every component is present: a logarithm of nothing is no check.
    filled = {name: np.maximum(values, 1e-7) for name, values in totals.items()}
    found = solve(filled, temperature_c)
    assert found.converged.all()
    assert found.in_range.all()
    assert_balanced(found)
    assert_mass_action(found)


def test_mass_action_of_everything_at_once() -> None:
    found = solve(dict.fromkeys(COMPONENTS, np.full(7, 2e-3)), np.linspace(0.0, 60.0, 7))
    assert found.converged.all()
    assert_balanced(found)
    assert_mass_action(found)


@pytest.mark.parametrize("acid", ["anion", "citrate", "tartrate", "malate", "lactate", "acetate"])
def test_more_acid_never_raises_the_ph(
    acid: str, baths: tuple[dict[str, np.ndarray], np.ndarray]
) -> None:
    totals, temperature_c = baths
    added = np.concatenate([[0.0], np.geomspace(1e-6, 0.3, 40)])[:, np.newaxis]
    more = {name: values[:60] for name, values in totals.items()}
    more[acid] = more.get(acid, 0.0) + added
    found = solve(more, temperature_c[:60])
    assert found.converged.all()
    assert np.all(np.diff(found.ph, axis=0) < 0)


@settings(max_examples=60)
@given(totals=TOTALS, temperature_c=TEMPERATURE, step=st.floats(1e-6, 0.1))
def test_strong_acid_lowers_the_ph_of_anything(
    totals: dict[str, float], temperature_c: float, step: float
) -> None:
    start = totals.get("anion", 0.0)
    found = solve({**totals, "anion": [start, start + step]}, temperature_c)
    if found.converged.all() and found.in_range.all():
        assert found.ph[1] < found.ph[0]


def test_scalar_in_scalar_out() -> None:
    found = solve({**WATER, "citrate": 6e-4}, 37.0)
    assert np.ndim(found.ph) == 0
    assert isinstance(float(found.ph), float)
    assert found.converged
    assert all(np.ndim(molality) == 0 for molality in found.molality.values())
    assert all(np.ndim(index) == 0 for index in found.saturation.values())
    dose = mass_for_ph(WATER, {"citrate": 1.0}, 5.0)
    assert np.ndim(dose.mass) == 0
    assert dose.reached


def test_one_by_one_is_the_same_as_all_at_once(
    baths: tuple[dict[str, np.ndarray], np.ndarray],
) -> None:
    totals, temperature_c = baths
    together = solve(totals, temperature_c)
    for row in range(0, 600, 23):
        alone = solve({n: float(v[row]) for n, v in totals.items()}, float(temperature_c[row]))
        assert alone.ph == pytest.approx(together.ph[row], abs=1e-10)
        for name, molality in alone.molality.items():
            assert molality == pytest.approx(together.molality[name][row], rel=1e-8, abs=1e-30)


def test_order_of_rows_does_not_matter(baths: tuple[dict[str, np.ndarray], np.ndarray]) -> None:
    totals, temperature_c = baths
    order = np.random.default_rng(3).permutation(600)
    straight = solve(totals, temperature_c).ph[order]
    shuffled = solve({n: v[order] for n, v in totals.items()}, temperature_c[order]).ph
    np.testing.assert_allclose(shuffled, straight, rtol=0, atol=1e-10)


def test_shapes_broadcast() -> None:
    acid = np.array([0.0, 2e-4, 6e-4])[:, np.newaxis]
    temperature_c = np.array([10.0, 25.0, 40.0, 45.0])
    found = solve({**WATER, "citrate": acid}, temperature_c)
    assert found.ph.shape == (3, 4)
    assert found.molality["HCit-2"].shape == (3, 4)
    assert found.saturation["calcite"].shape == (3, 4)
    one = solve({**WATER, "citrate": 6e-4}, 40.0)
    assert found.ph[2, 2] == pytest.approx(float(one.ph), abs=1e-10)


@pytest.mark.parametrize("where", ["total", "temperature"])
def test_nan_in_nan_out(where: str) -> None:
    calcium = np.array([1.4e-3, np.nan if where == "total" else 1.4e-3])
    temperature_c = np.array([25.0, np.nan if where == "temperature" else 25.0])
    found = solve({**WATER, "Ca": calcium}, temperature_c)
    assert found.converged.tolist() == [True, False]
    assert np.isnan(found.ph[1])
    assert found.ph[0] == pytest.approx(float(solve(WATER).ph), abs=1e-10)
    dose = mass_for_ph({**WATER, "Ca": calcium}, {"citrate": 1.0}, 5.0, temperature_c)
    assert np.isfinite(dose.mass[0])
    assert np.isnan(dose.mass[1])
    assert dose.reached.tolist() == [True, False]


@pytest.mark.parametrize("bad", [-1e-9, np.inf])
def test_impossible_totals_are_refused(bad: float) -> None:
    with pytest.raises(ValueError, match="Ca"):
        solve({**WATER, "Ca": bad})
    with pytest.raises(ValueError, match="unobtainium"):
        solve({"unobtainium": 1e-3})


def test_given_ph_returns_the_charge_that_solving_closes(
    baths: tuple[dict[str, np.ndarray], np.ndarray],
) -> None:
    totals, temperature_c = baths
    solved = solve(totals, temperature_c)
    kept = solve(totals, temperature_c, ph=solved.ph)
    assert kept.converged.all()
    size = np.abs(kept.system.charge) @ kept.species_molality
    assert np.all(np.abs(kept.charge_error) <= 1e-9 * size)
    np.testing.assert_allclose(kept.ionic_strength, solved.ionic_strength, rtol=1e-8)


@pytest.mark.parametrize("totals", [{}, {"C": 1e-3}, {"Ca": 1e-3, "citrate": 1e-4}, WATER])
def test_any_given_ph_is_kept(totals: dict[str, float]) -> None:
    wished = np.linspace(0.5, 13.5, 53)
    found = solve(totals, 25.0, ph=wished)
    assert found.converged.all()
    np.testing.assert_allclose(found.ph, wished, rtol=0, atol=1e-12)
    # Ever more base is missing, or acid left over, the further the pH is from neutral.
    assert np.all(np.diff(found.charge_error) < 0)


@pytest.mark.parametrize("acid", ["citrate", "tartrate", "malate", "anion"])
def test_a_dose_brings_the_bath_to_its_ph(
    acid: str, baths: tuple[dict[str, np.ndarray], np.ndarray]
) -> None:
    totals, temperature_c = baths
    start = solve(totals, temperature_c).ph
    wished = start - np.random.default_rng(8).uniform(0.05, 2.5, len(start))
    found = mass_for_ph(totals, {acid: 1e-3}, wished, temperature_c)
    reached = found.reached
    assert reached[wished > 3].all()
    dosed = {name: values[reached] for name, values in totals.items()}
    dosed[acid] = dosed.get(acid, 0.0) + 1e-3 * found.mass[reached]
    again = solve(dosed, temperature_c[reached])
    np.testing.assert_allclose(again.ph, wished[reached], rtol=0, atol=1e-8)
    assert np.all(np.isnan(found.mass[~reached]))
    assert np.all(np.isfinite(found.limiting_ph[~reached]))


def test_an_acid_cannot_raise_the_ph() -> None:
    found = mass_for_ph(WATER, {"citrate": 1.0}, 11.0)
    assert not found.reached
    assert np.isnan(found.mass)
    assert found.limiting_ph == pytest.approx(float(solve(WATER).ph), abs=1e-6)


@given(scale=st.floats(1e-3, 1e3), wished=st.floats(4.2, 6.4))
@settings(max_examples=40)
def test_dose_scales_with_the_unit(scale: float, wished: float) -> None:
    # A bath of `scale` kg of water needs `scale` times what one kg needs.
    per_kg = mass_for_ph(WATER, {"citrate": 1 / 192.12}, wished, 38.0).mass
    whole_bath = mass_for_ph(WATER, {"citrate": 1 / 192.12 / scale}, wished, 38.0).mass
    assert whole_bath == pytest.approx(scale * per_kg, rel=1e-8)


@given(
    alkalinity=st.floats(1e-4, 8e-3),
    ph=st.floats(5.5, 9.2),
    calcium=st.floats(0.0, 4e-3),
    temperature_c=st.floats(5.0, 45.0),
)
@settings(max_examples=60)
def test_alkalinity_and_ph_there_and_back(
    alkalinity: float, ph: float, calcium: float, temperature_c: float
) -> None:
    others = {"Ca": calcium, "Cl": 1e-3}
    carbon = carbon_from_alkalinity(alkalinity, ph, others, temperature_c)
    missing = alkalinity - float(strong_charge(others))
    water = {
        **others,
        "C": float(carbon),
        "cation": max(missing, 0.0),
        "anion": max(-missing, 0.0),
    }
    assert np.isfinite(carbon)
    assert strong_charge(water) == pytest.approx(alkalinity, rel=1e-9, abs=1e-15)
    assert solve(water, temperature_c).ph == pytest.approx(ph, abs=1e-8)


def test_no_carbon_makes_so_little_alkalinity_so_alkaline() -> None:
    # 1 ueq/kg of sodium hydroxide alone is pH 8; carbon only lowers it.
    assert np.isnan(carbon_from_alkalinity(1e-6, 10.0, {"Cl": 1e-3}))


def test_a_bath_open_to_air_holds_what_the_air_gives() -> None:
    pco2_ppm = np.array([100.0, 420.0, 1500.0])
    found = solve({**WATER, "C": 99.0}, 25.0, pco2_ppm=pco2_ppm)
    assert found.converged.all()
    # Henry's law: dissolved carbon dioxide is proportional to that of the air.
    np.testing.assert_allclose(found.molality["CO2"] / pco2_ppm, 10**-1.468 * 1e-6, rtol=2e-3)
    assert np.all(np.diff(found.ph) < 0)
    assert np.all(np.abs(found.charge_error) <= 1e-12)


def test_beyond_the_model_is_said() -> None:
    found = solve({"Na": [0.1, 0.4], "Cl": [0.1, 0.4], "Mg": 0.0, "SO4": 0.0}, 25.0)
    assert found.in_range.tolist() == [True, True]
    strong = solve({"Mg": 0.4, "SO4": 0.4}, 25.0)
    assert strong.converged
    assert not strong.in_range
    assert not solve(WATER, 61.0).in_range


def test_a_constant_beyond_its_temperatures_is_out_of_range() -> None:
    # Eden and Bates 1959, J. Res. NBS 62:161: malic acid from 0 to 50 degC.
    acids = {name: solve({name: 1e-3, "Na": 1e-3}, [49.0, 51.0]) for name in ("malate", "citrate")}
    assert acids["malate"].in_range.tolist() == [True, False]
    assert acids["citrate"].in_range.tolist() == [True, True]


def test_solids_are_known_wherever_the_model_holds() -> None:
    low, high = known_between_c([])
    assert (low, high) == (0.0, 60.0)
    assert known_between_c([row.function for row in solid_rows()]) == (low, high)


def test_solutions_that_no_amount_brings_there_are_given_up_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    runs: list[int] = []
    iterate = newton.iterate

    def counted(*arguments: Any, **options: Any) -> Any:
        runs.append(arguments[2].shape[-1])
        return iterate(*arguments, **options)

    monkeypatch.setattr(newton, "iterate", counted)
    # No acid raises the pH: nothing to halve, however often.
    found = mass_for_ph(WATER, {"citrate": 1e-3}, np.full(5, 9.5), 38.0)
    assert not found.reached.any()
    assert len(runs) <= 8


def test_threads_that_solve_at_once_do_not_meet() -> None:
    totals, temperature_c = compositions().composition_rows(4000, seed=3)
    parts = [slice(start, start + 500) for start in range(0, 4000, 500)]

    def work(part: slice) -> np.ndarray:
        found = solve({name: one[part] for name, one in totals.items()}, temperature_c[part])
        return np.vstack([found.ph, found.species_molality])

    alone = [work(part) for part in parts]
    with ThreadPoolExecutor(8) as pool:
        for one, other in zip(alone, pool.map(work, parts), strict=True):
            np.testing.assert_array_equal(one, other)
