"""Each population gives back the published statistic that it was made of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dosing.equilibrium import solve
from dosing.ingredients.hardness_units import alkalinity_in, hardness_in
from dosing.ingredients.trade_values import reading_spread
from dosing.ingredients.water import WaterReadings, tap_water
from dosing.sachets.populations import (
    draw_homes,
    homes_like,
    population_names,
    statistics,
)

MANY = 20_000
# Calcium in the drinking water of 61 large towns of England and Wales [mg/L]: Hand, Daly, Lunn,
# McConway and Ostrowski 1994, A Handbook of Small Data Sets.
TOWNS = (
    "105 17 5 14 18 10 15 78 10 84 73 12 21 78 96 20 39 39 122 21 44 94 8 9 91 138 16 37 15 8 26 "
    "44 14 59 133 27 6 107 5 90 6 101 13 14 49 8 14 68 50 75 71 13 57 71 13 20 60 53 122 81 71"
)


def test_denmark_has_its_mean_and_range() -> None:
    # BMJ Open 2014, PMC4420976, table 1: 98 municipalities, weighted averages 2000-2010.
    homes = draw_homes("denmark", MANY)
    hco3 = alkalinity_in(homes.alkalinity_meq_l, "mg_l_hco3")
    hardness = hardness_in(homes.hardness_mmol_l, "dH")
    for values, mean, low, high in (
        (hco3, 287.0, 112.0, 427.0),
        (hardness, 16.0, 7.4, 30.0),
        (homes.ph, 7.57, 7.14, 7.92),
    ):
        assert np.mean(values) == pytest.approx(mean, abs=0.002 * mean)
        assert values.min() >= low - 1e-9
        assert values.max() <= high + 1e-9
        # The ends of 98 values lie near the 1 % and 99 % quantiles; the draws come near the ends.
        assert values.min() < low + 0.1 * (high - low)
        assert values.max() > high - 0.1 * (high - low)


def test_tubs_hold_what_is_published_of_baths() -> None:
    # Alliance for Water Efficiency: 100 to 170 L by fill, 75 L half full, 150 to 200 L at the
    # overflow; a British water company and a manufacturer's log of 100 families: 80 L a bath.
    volume = draw_homes("denmark", MANY).volume_l
    assert 100.0 <= np.median(volume) <= 170.0
    assert np.mean((volume >= 75.0) & (volume <= 200.0)) > 0.9
    assert np.mean(volume < 60.0) < 0.01
    assert volume.max() <= 220.0 + 1e-9
    british = draw_homes("england-wales-towns", MANY).volume_l
    assert np.median(british) == pytest.approx(80.0, rel=0.01)


def test_denmark_has_the_published_saturation() -> None:
    # Not independent: how alkalinity, hardness and pH go together was chosen with this mean in
    # sight; the ends of the range were not.
    # Same table: calcite saturation index +0.26 on average, -0.64 to +0.87 over the municipalities;
    # ionic strength 0.010 (0.004 to 0.023) mol/L. Ground water of about 10 C.
    homes = draw_homes("denmark", 4000)
    water = tap_water(replace(homes.readings(), reading_temperature_c=10.0))
    solved = solve(water.totals, 10.0)
    index = solved.saturation["calcite"]
    assert np.mean(index) == pytest.approx(0.26, abs=0.05)
    low, high = np.quantile(index, (0.01, 0.99))
    assert -0.64 - 0.1 < low < -0.3
    assert 0.6 < high < 0.87 + 0.1
    assert np.mean(solved.ionic_strength) == pytest.approx(0.010, abs=0.0015)
    assert solved.ionic_strength.min() > 0.003
    assert solved.ionic_strength.max() < 0.024


def test_japan_has_its_mean_median_and_spread() -> None:
    # Hori et al. 2021, Sci. Rep. 11:13546: 665 taps, 48.9 +/- 25.8 mg/L, median 46.0.
    hardness = hardness_in(draw_homes("japan", MANY).hardness_mmol_l, "mg_l_caco3")
    assert np.mean(hardness) == pytest.approx(48.9, abs=0.5)
    assert np.std(hardness) == pytest.approx(25.8, abs=0.5)
    assert np.median(hardness) == pytest.approx(46.0, abs=0.3)


def test_towns_of_england_and_wales_have_their_percentiles() -> None:
    towns = np.array([float(one) for one in TOWNS.split()])
    assert len(towns) == 61
    row = statistics("england-wales-towns")["hardness"]
    shares = (0.05, 0.25, 0.5, 0.75, 0.95)
    published = np.quantile(towns, shares)
    assert (row.p05, row.p25, row.median, row.p75, row.p95) == tuple(published)
    assert (row.low, row.high) == (towns.min(), towns.max())
    homes = draw_homes("england-wales-towns", MANY)
    # Calcium is a stated share of the hardness.
    calcium = 40.078 * homes.hardness_mmol_l * 0.79
    np.testing.assert_allclose(np.quantile(calcium, shares), published, rtol=0.02)
    assert np.mean(calcium) == pytest.approx(np.mean(towns), rel=0.05)


def test_norway_has_its_medians() -> None:
    # Flaten 1991, Sci. Total Environ. 102:35-73, medians of 384 waterworks: pH 6.8, Ca 2.9, Mg
    # 0.69, Na 3.8, K 0.14, Cl 6.4, SO4 5.3, NO3 0.46 mg/L; alkalinity is what they leave over.
    calcium, magnesium = 2.9 / 40.078, 0.69 / 24.305
    cations = 2 * (calcium + magnesium) + 3.8 / 22.990 + 0.14 / 39.098
    anions = 6.4 / 35.453 + 2 * 5.3 / 96.06 + 0.46 / 62.005
    homes = draw_homes("norway-1991", MANY)
    assert np.median(homes.hardness_mmol_l) == pytest.approx(calcium + magnesium, rel=0.02)
    assert np.median(homes.alkalinity_meq_l) == pytest.approx(cations - anions, abs=0.02)
    assert np.median(homes.ph) == pytest.approx(6.8, abs=0.02)


def test_mixed_waters_have_the_planning_set_as_percentiles() -> None:
    # Our own planning set, no published source.
    alkalinity = alkalinity_in(draw_homes("mixed", MANY).alkalinity_meq_l, "mg_l_caco3")
    found = np.quantile(alkalinity, (0.05, 0.25, 0.5, 0.75, 0.95))
    np.testing.assert_allclose(found, (20, 60, 120, 200, 300), rtol=0.02)


@pytest.mark.parametrize("name", population_names())
def test_draws_are_waters_that_go_together(name: str) -> None:
    homes = draw_homes(name, 3000)
    row = statistics(name)["hardness" if "alkalinity" in statistics(name) else "ph"]
    leading = homes.alkalinity_meq_l if "alkalinity" in statistics(name) else homes.hardness_mmol_l
    other = homes.hardness_mmol_l if row.quantity == "hardness" else homes.ph
    ranks = [np.argsort(np.argsort(values)) for values in (leading, other)]
    together = float(np.asarray(np.corrcoef(ranks))[0, 1])
    # Spearman's coefficient of normal scores: 6/pi asin(r/2), Kruskal 1958.
    assert together == pytest.approx(6 / np.pi * np.arcsin(row.with_leading / 2), abs=0.03)
    # Quasi-random numbers of different quantities do not follow each other.
    assert abs(np.asarray(np.corrcoef(homes.volume_l, homes.strip_error))[0, 1]) < 0.03
    assert np.all(homes.volume_l > 0)
    again = draw_homes(name, 3000)
    np.testing.assert_array_equal(again.alkalinity_meq_l, homes.alkalinity_meq_l)


def test_own_readings_are_smoothed_by_the_strip() -> None:
    random = np.random.default_rng(4)
    pads = random.choice([0.8, 1.6, 2.4, 3.6], 40)
    volume = random.choice([90.0, 150.0], 40)
    homes = homes_like(WaterReadings(pads), MANY, volume_l=volume)
    sd = float(reading_spread("alkalinity", "strip").sd(2.0))
    assert np.mean(homes.alkalinity_meq_l) == pytest.approx(np.mean(pads), abs=0.05)
    assert np.var(homes.alkalinity_meq_l) == pytest.approx(np.var(pads) + sd**2, rel=0.1)
    assert np.mean(homes.volume_l) == pytest.approx(np.mean(volume), rel=0.05)
    assert {note.code for note in homes.notes} == {"sachet.population.own", "sachet.own.ph"}
    kit = homes_like(WaterReadings(alkalinity_meq_l=pads, instrument="drop-kit"), MANY)
    assert np.var(kit.alkalinity_meq_l) < np.var(homes.alkalinity_meq_l)


def test_a_single_water_read_by_all_stays_about_itself() -> None:
    same = WaterReadings(
        alkalinity_meq_l=np.full(20, 3.0),
        hardness_mmol_l=np.full(20, 2.0),
        ph=np.full(20, 7.4),
        instrument="meter",
    )
    homes = homes_like(same, 4000)
    assert np.mean(homes.alkalinity_meq_l) == pytest.approx(3.0, abs=0.02)
    assert np.mean(homes.hardness_mmol_l) == pytest.approx(2.0, abs=0.02)
    assert np.mean(homes.ph) == pytest.approx(7.4, abs=0.02)
    assert np.std(homes.ph) == pytest.approx(0.1, abs=0.01)


@pytest.mark.parametrize("instrument", ["strip", "drop-kit"])
def test_a_home_of_unknown_water_has_that_of_the_others_and_its_own_tub(instrument: str) -> None:
    known = np.repeat([1.0, 4.0], 12)
    read = np.concatenate([known, np.full(8, np.nan)])
    ph = np.concatenate([np.repeat([7.0, 8.0], 12), np.full(8, np.nan)])
    litres = np.concatenate([np.full(24, 100.0), np.full(8, 200.0)])
    homes = homes_like(WaterReadings(read, ph, instrument=instrument), MANY, volume_l=litres)
    few = homes_like(WaterReadings(known, ph[:24], instrument=instrument), MANY)
    assert np.all(np.isfinite(homes.alkalinity_meq_l))
    assert np.quantile(homes.alkalinity_meq_l, (0.25, 0.75)) == pytest.approx(
        np.quantile(few.alkalinity_meq_l, (0.25, 0.75)), rel=0.05
    )
    # pH and alkalinity of one water stay together; a quarter of the tubs are the large ones.
    together, of_known = (np.corrcoef(h.ph, h.alkalinity_meq_l)[0, 1] for h in (homes, few))
    assert together == pytest.approx(of_known, abs=0.05)
    assert np.mean(homes.volume_l > 150.0) == pytest.approx(0.25, abs=0.03)
    assert "sachet.own.unknown" in [note.code for note in homes.notes]
    assert "sachet.own.unknown" not in [note.code for note in few.notes]


def test_what_is_no_population_is_refused() -> None:
    with pytest.raises(ValueError, match="denmark"):
        draw_homes("danmark", 10)
    with pytest.raises(ValueError, match="accepted are 20 or more"):
        homes_like(WaterReadings(alkalinity_meq_l=np.ones(19)), 100)
    gaps = np.where(np.arange(25) < 6, np.nan, 1.0)
    with pytest.raises(ValueError, match="readings are 19; accepted are 20 or more"):
        homes_like(WaterReadings(alkalinity_meq_l=gaps), 100)
    with pytest.raises(ValueError, match="strip"):
        homes_like(WaterReadings(alkalinity_meq_l=np.ones(25), instrument="nose"), 100)
    with pytest.raises(ValueError, match="1 or more"):
        draw_homes("denmark", 0)
