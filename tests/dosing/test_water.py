import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dosing.equilibrium import solve
from dosing.ingredients.hardness_units import (
    alkalinity_in,
    alkalinity_meq_l,
    hardness_class,
    hardness_in,
    ion_mmol_l,
)
from dosing.ingredients.water import (
    TapWater,
    WaterReadings,
    contradicted,
    tap_water,
    typical_water,
    typical_water_names,
)
from indicator.notes import sentence

CHARGE = {
    "Ca": 2,
    "Mg": 2,
    "Na": 1,
    "K": 1,
    "cation": 1,
    "Cl": -1,
    "SO4": -2,
    "NO3": -1,
    "anion": -1,
}

# Voehringen (Bavaria), municipal analysis of 2025-06-12, at 9.3 °C; masses in mg/L.
VOEHRINGEN = WaterReadings(
    alkalinity_meq_l=5.72,
    ph=7.41,
    calcium_mmol_l=ion_mmol_l(94.4, "calcium"),
    magnesium_mmol_l=ion_mmol_l(18.3, "magnesium"),
    sodium_mmol_l=ion_mmol_l(13.9, "sodium"),
    potassium_mmol_l=ion_mmol_l(2.3, "potassium"),
    chloride_mmol_l=ion_mmol_l(24.4, "chloride"),
    sulfate_mmol_l=ion_mmol_l(18.1, "sulfate"),
    nitrate_mmol_l=ion_mmol_l(16.4, "nitrate"),
    reading_temperature_c=9.3,
)


def codes(water: TapWater) -> set[str]:
    return {note.code for note in (*water.assumptions, *water.warnings)}


def strong_charge(water: TapWater) -> np.ndarray:
    return np.asarray(sum(CHARGE[n] * t for n, t in water.totals.items() if n in CHARGE))


ALKALINITY = st.floats(0.1, 8.0)
MAYBE = st.none() | st.floats(0.0, 3.0)


@settings(max_examples=60)
@given(
    alkalinity=ALKALINITY,
    ph=st.floats(6.5, 9.0),
    hardness=st.none() | st.floats(0.0, 5.0),
    sodium=MAYBE,
    potassium=MAYBE,
    chloride=MAYBE,
    sulfate=MAYBE,
    nitrate=MAYBE,
    temperature=st.floats(5, 40),
)
def test_solving_gives_back_the_readings(
    alkalinity: float,
    ph: float,
    hardness: float | None,
    sodium: float | None,
    potassium: float | None,
    chloride: float | None,
    sulfate: float | None,
    nitrate: float | None,
    temperature: float,
) -> None:
    readings = WaterReadings(
        alkalinity,
        ph,
        hardness,
        None,
        None,
        sodium,
        potassium,
        chloride,
        sulfate,
        nitrate,
        temperature,
    )
    water = tap_water(readings)
    solved = solve(water.totals, temperature)
    assert float(solved.ph) == pytest.approx(ph, abs=0.001)
    assert all(total >= 0 for total in water.totals.values())
    # What the strong ions leave over is the alkalinity, and every measured ion is kept.
    litre_kg = float(strong_charge(water)) / alkalinity * 1000
    assert 0.99 < 1 / litre_kg < 1.001
    for name, value in (("Na", sodium), ("K", potassium), ("Cl", chloride), ("NO3", nitrate)):
        if value is not None:
            assert water.totals[name] / litre_kg * 1000 == pytest.approx(value, abs=1e-9)
    if hardness is not None:
        assert float(water.hardness_mmol_l) == pytest.approx(hardness)


def test_a_batch_is_the_rows_one_by_one() -> None:
    alkalinity = np.array([0.5, 2.4, 6.0])
    ph = np.array([7.9, 7.6, 7.3])
    batch = tap_water(WaterReadings(alkalinity, ph, 1.4, sodium_mmol_l=0.5))
    for i in range(3):
        single = tap_water(WaterReadings(alkalinity[i], ph[i], 1.4, sodium_mmol_l=0.5))
        assert set(single.totals) <= set(batch.totals)
        for name, total in batch.totals.items():
            assert total.shape == (3,)
            assert total[i] == pytest.approx(
                float(single.totals.get(name, np.zeros(()))), abs=1e-15
            )


def test_nan_stays_in_its_row() -> None:
    water = tap_water(WaterReadings(np.array([2.0, np.nan]), 7.6, 1.0))
    assert np.isfinite(water.totals["C"][0])
    assert np.isnan(water.totals["C"][1])
    assert all("nan" not in sentence(note) for note in water.assumptions)


def test_published_water_analysis_keeps_its_ions_and_tells_its_imbalance() -> None:
    water = tap_water(VOEHRINGEN)
    # The laboratory prints 17.4 dH (3.1 mmol/L).
    assert float(hardness_in(water.hardness_mmol_l, "dH")) == pytest.approx(17.4, abs=0.05)
    # PHREEQC (phreeqc.dat, minteq.v4.dat) reports -1.246 and -1.256 %, counting ion pairs, which
    # makes the sum of charges below the line a little smaller.
    assert float(water.imbalance_percent) == pytest.approx(-1.25, abs=0.05)
    assert codes(water) == {"warn.water.imbalance"}
    assert "1.2 % too many anions" in sentence(water.warnings[0])
    # With the pH as measured and nothing closed: ionic strength 9.8 to 9.9 mmol/kg.
    as_read = {name: total for name, total in water.totals.items() if name != "cation"}
    solved = solve(as_read, 9.3, ph=7.41)
    assert 9.8e-3 <= float(solved.ionic_strength) <= 9.9e-3
    # PHREEQC with phreeqc.dat, wateq4f.dat and minteq.v4.dat finds 6.25 to 6.29 mmol/kg carbon.
    assert 6.25e-3 <= float(water.totals["C"]) <= 6.30e-3


def test_national_mean_water() -> None:
    # Denmark 2000-2010, BMJ Open 2014 (PMC4420976) table 1, weighted means in mg/L.
    water = tap_water(
        WaterReadings(
            alkalinity_meq_l(287, "mg_l_hco3"),
            7.57,
            calcium_mmol_l=ion_mmol_l(91.2, "calcium"),
            magnesium_mmol_l=ion_mmol_l(14.5, "magnesium"),
            sodium_mmol_l=ion_mmol_l(33.7, "sodium"),
            potassium_mmol_l=ion_mmol_l(3.6, "potassium"),
            chloride_mmol_l=ion_mmol_l(54.7, "chloride"),
            sulfate_mmol_l=ion_mmol_l(50.7, "sulfate"),
            nitrate_mmol_l=ion_mmol_l(4.15, "nitrate"),
            reading_temperature_c=9.0,
        )
    )
    # Printed: 16.0 dH (a mean of its own, so 0.15 is left), ionic strength 0.010.
    assert float(hardness_in(water.hardness_mmol_l, "dH")) == pytest.approx(16.0, abs=0.15)
    assert float(solve(water.totals, 9.0).ionic_strength) == pytest.approx(0.0105, abs=0.0005)
    assert abs(float(water.imbalance_percent)) < 2


def test_alkalinity_that_the_other_ions_contradict_gives_way_to_carbonate_hardness() -> None:
    # Tiefensee, municipal analysis: acid capacity printed as 7.21 mmol/L, carbonate hardness as
    # 10.9 dH (3.9 meq/L); the charge balance of the ions leaves 3.8 meq/L.
    report = WaterReadings(
        7.21,
        7.59,
        calcium_mmol_l=ion_mmol_l(90.7, "calcium"),
        magnesium_mmol_l=ion_mmol_l(12.8, "magnesium"),
        sodium_mmol_l=ion_mmol_l(6.43, "sodium"),
        potassium_mmol_l=ion_mmol_l(1.30, "potassium"),
        chloride_mmol_l=ion_mmol_l(21.1, "chloride"),
        sulfate_mmol_l=ion_mmol_l(71.6, "sulfate"),
        nitrate_mmol_l=0.0,
        carbonate_hardness_meq_l=alkalinity_meq_l(10.9, "dKH"),
    )
    water = tap_water(report)
    assert "warn.water.carbonate-hardness-kept" in codes(water)
    assert float(water.alkalinity_meq_l) == pytest.approx(3.9, abs=0.05)
    assert abs(float(water.imbalance_percent)) < 2


def test_wrong_alkalinity_in_a_full_report_is_doubted() -> None:
    fields = VOEHRINGEN.__dict__ | {"alkalinity_meq_l": 2.86}
    assert "warn.water.report-contradicts" in codes(tap_water(WaterReadings(**fields)))


def test_carbonate_hardness_is_capped_by_hardness_without_contradiction() -> None:
    water = tap_water(WaterReadings(4.0, 7.6, 1.5, carbonate_hardness_meq_l=3.0))
    assert not codes(water) & {"warn.water.alkalinity-kept", "warn.water.carbonate-hardness-kept"}
    water = tap_water(WaterReadings(4.0, 7.6, 1.5, carbonate_hardness_meq_l=1.0))
    assert "warn.water.alkalinity-kept" in codes(water)
    water = tap_water(WaterReadings(None, 7.6, 1.5, carbonate_hardness_meq_l=2.5))
    assert float(water.alkalinity_meq_l) == 2.5


def test_full_report_without_alkalinity_finds_it_by_charge() -> None:
    fields = VOEHRINGEN.__dict__ | {"alkalinity_meq_l": None}
    water = tap_water(WaterReadings(**fields))
    assert "assume.water.alkalinity-by-charge" in codes(water)
    # Printed acid capacity: 5.72 mmol/L; the report is off by 1.25 % of its charges.
    assert float(water.alkalinity_meq_l) == pytest.approx(5.72, rel=0.04)


def test_hardness_alone_is_a_guess_and_says_so() -> None:
    water = tap_water(WaterReadings(hardness_mmol_l=2.853))
    assert "warn.water.alkalinity-from-hardness" in codes(water)
    # Danish mean water: 16.0 dH (2.853 mmol/L) goes with 4.7 meq/L.
    assert float(water.alkalinity_meq_l) == pytest.approx(4.7, abs=0.1)


def test_nothing_read_is_a_middling_water_with_a_warning() -> None:
    water = tap_water(WaterReadings())
    assert "warn.water.alkalinity-unknown" in codes(water)
    assert {"assume.water.ph", "assume.water.hardness"} <= codes(water)
    assert float(water.alkalinity_meq_l) == typical_water("medium").alkalinity_meq_l
    for note in (*water.assumptions, *water.warnings):
        assert sentence(note)


def test_calcium_and_magnesium_from_one_and_the_hardness() -> None:
    water = tap_water(WaterReadings(2.4, 7.6, 1.5, calcium_mmol_l=1.1))
    assert float(water.totals["Mg"] / water.totals["Ca"]) == pytest.approx(0.4 / 1.1)
    water = tap_water(WaterReadings(2.4, 7.6, 1.5, magnesium_mmol_l=0.4))
    assert float(water.totals["Mg"] / water.totals["Ca"]) == pytest.approx(0.4 / 1.1)
    water = tap_water(WaterReadings(2.4, 7.6, magnesium_mmol_l=0.4))
    # Danish mean water: calcium 91.2 mg/L to magnesium 14.5 mg/L, 79 % of the hardness.
    assert float(water.hardness_mmol_l) == pytest.approx(0.4 / 0.21, rel=0.01)
    water = tap_water(WaterReadings(2.4, 7.6, 1.0, calcium_mmol_l=1.4))
    assert "warn.water.hardness-contradicts" in codes(water)
    water = tap_water(WaterReadings(2.4, 7.6, 1.0, calcium_mmol_l=1.4, magnesium_mmol_l=0.4))
    assert "warn.water.hardness-contradicts" in codes(water)


def test_softened_water_is_filled_with_sodium() -> None:
    water = tap_water(typical_water("softened"))
    assert float(water.totals["Na"]) > 3e-3
    assert "assume.water.soda-water" in codes(water)
    assert "assume.water.soda-water" not in codes(tap_water(typical_water("hard")))
    assert float(water.imbalance_percent) == 0


def test_no_alkalinity_and_a_high_ph_contradict() -> None:
    water = tap_water(WaterReadings(0.0, 8.5, 0.0))
    assert "warn.water.ph-contradicts-alkalinity" in codes(water)
    assert float(solve(water.totals, 25.0).ph) == pytest.approx(7.0, abs=0.05)


def test_a_tub_already_soured_is_doubted_as_tap_water() -> None:
    assert "warn.water.ph-unusual" in codes(tap_water(WaterReadings(0.5, 5.0, 1.0)))


def test_typical_waters_fall_in_their_class() -> None:
    assert typical_water_names() == (
        *("soft", "medium", "hard", "very-hard"),
        *("hardest", "softened"),
    )
    for name in ("soft", "medium", "hard", "very-hard"):
        hardness = typical_water(name).hardness_mmol_l
        assert hardness_class(float(np.asarray(hardness))) == name
    # The means of the Danish municipalities reach from 112 to 427 mg/L of bicarbonate, 287 on
    # average (BMJ Open 2014): up to 300 ppm of alkalinity is tap water.
    hardest = typical_water("hardest")
    assert float(alkalinity_in(np.asarray(hardest.alkalinity_meq_l), "ppm")) >= 300.0
    assert hardness_class(float(np.asarray(hardest.hardness_mmol_l))) == "very-hard"
    assert "assume.water.soda-water" not in codes(tap_water(hardest))
    assert typical_water("moderate") == typical_water("medium")
    with pytest.raises(ValueError, match="did you mean 'very-hard'"):
        typical_water("very hard")


@pytest.mark.parametrize(
    ("mg_l", "name"),
    [(0, "soft"), (59.9, "soft"), (61, "medium"), (121, "hard"), (181, "very-hard")],
)
def test_hardness_classes_of_the_us_geological_survey(mg_l: float, name: str) -> None:
    assert hardness_class(mg_l / 100.0869) == name
    assert hardness_class(float("nan")) == ""


@pytest.mark.parametrize("value", [-0.1, np.inf, np.array([1.0, -2.0])])
def test_impossible_readings_are_refused(value: float) -> None:
    with pytest.raises(ValueError, match="alkalinity_meq_l is"):
        tap_water(WaterReadings(value, 7.6, 1.0))


def test_an_impossibly_acid_reading_does_not_turn_the_water_alkaline() -> None:
    # Alkalinity is what is titrated down to about pH 4.5 (Standard Methods 2320).
    for alkalinity in (0.0, 0.5, 3.0):
        water = tap_water(WaterReadings(alkalinity_meq_l=alkalinity, hardness_mmol_l=1.0, ph=3.0))
        assert "warn.water.ph-too-acid" in codes(water)
        assert 6.5 <= float(solve(water.totals, 25.0).ph) <= 8.5


@pytest.mark.parametrize(
    ("alkalinity", "ph", "wrong"),
    [
        (1.9, 5.0, True),
        (0.3, 3.0, True),
        # Water of a well: 4.2 mmol/L of carbon dioxide, by pK1 = 6.35 (Plummer and Busenberg 1982).
        (3.0, 6.2, False),
        # 10 mmol/L, the most that is taken for a tap's, are reached at pH 6.35 + log10(0.3).
        (3.0, 5.9, False),
        (3.0, 5.75, True),
        # Without alkalinity carbon dioxide alone makes pH 5.0, and none is needed for pH 7.0; pH
        # 4.0 takes 25 mmol/L of it, so that another acid is in that water.
        (0.0, 5.0, False),
        (0.0, 7.0, False),
        (0.0, 4.0, True),
        (1.9, 7.8, False),
    ],
)
def test_readings_of_which_one_must_be_wrong(alkalinity: float, ph: float, wrong: bool) -> None:
    found = contradicted(WaterReadings(alkalinity_meq_l=alkalinity, ph=ph))
    assert (found is not None) == wrong
    if found is not None:
        assert found.ph == ph
        assert found.alkalinity_ppm == pytest.approx(50.04 * alkalinity, rel=1e-3)
        assert found.alkalinity_read


def test_a_guessed_alkalinity_is_told_apart_where_the_ph_contradicts_it() -> None:
    # 12 dH beside a pH of 5.4: a water hard by gypsum, with hardly any alkalinity.
    found = contradicted(WaterReadings(hardness_mmol_l=2.14, ph=5.4))
    assert found is not None
    assert not found.alkalinity_read


def test_alkalinity_guessed_from_a_huge_hardness_stays_a_tap_waters() -> None:
    water = tap_water(WaterReadings(calcium_mmol_l=100.0))
    assert float(water.alkalinity_meq_l) <= 8.0
