import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.bath.mixed import fill_tub
from dosing.ingredients.powders import per_gram
from dosing.ingredients.trade_values import instruments, middle, reading_spread, typical
from dosing.ingredients.tub import (
    depth_cm,
    displacement_l,
    tub_size,
    tub_size_names,
    tub_volume_l,
    tub_water,
)
from dosing.ingredients.water import WaterReadings, tap_water
from indicator.notes import sentence

REFERENCE = Path(__file__).parents[1] / "reference"
CM = st.floats(5, 200)


def rows(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", rows("trade_tubs.csv"), ids=lambda r: r["size"])
def test_litres_lie_where_published_tubs_do(row: dict[str, str]) -> None:
    found = tub_volume_l(float(row["length_cm"]), float(row["width_cm"]), float(row["fill_cm"]))
    assert float(row["low"]) <= found <= float(row["high"])


def test_usual_soak_lies_in_the_published_range() -> None:
    # Alliance for Water Efficiency: 75 L half full, 100-170 L by fill, 150-200 L at the overflow.
    size = tub_size("bath-tub")
    assert size.low_l >= 75
    assert 100 <= size.volume_l <= 170
    assert 150 <= size.high_l <= 200
    # Depth seen by eye 25 to 40 cm at a good fill (common practice, no source).
    assert 18 <= float(depth_cm(size.volume_l)) <= 40


@given(length=CM, width=CM, fill=CM)
def test_volume_and_depth_go_back_and_forth(length: float, width: float, fill: float) -> None:
    volume, share = tub_volume_l(length, width, fill), typical("tub_shape_at_waterline").value
    assert float(depth_cm(volume, share * length * width)) == pytest.approx(fill)


def test_bathers_take_their_share() -> None:
    # Published displacement of a bather at a normal soak: 30 to 57 L.
    assert 30 <= float(displacement_l(1)) <= 57
    alone = tub_water(length_cm=150, width_cm=58, fill_cm=30)
    bathed = tub_water(length_cm=150, width_cm=58, fill_cm=30, adults_in_tub=1)
    assert alone.volume_l - bathed.volume_l == pytest.approx(float(displacement_l(1)))
    assert bathed.depth_cm == alone.depth_cm
    assert "assume.tub.displacement" in [note.code for note in bathed.assumptions]


def test_volume_alone_gives_a_depth_and_says_how() -> None:
    found = tub_water(volume_l=np.array([110.0, 165.0]))
    np.testing.assert_allclose(found.depth_cm, [20.0, 30.0])
    assert [note.code for note in found.assumptions] == ["assume.tub.area"]
    assert "5500 cm²" in sentence(found.assumptions[0])


def test_nothing_given_is_a_usual_tub() -> None:
    found = tub_water()
    assert found.volume_l == tub_size("bath-tub").volume_l
    assert [note.code for note in found.assumptions] == ["assume.tub.volume", "assume.tub.area"]
    assert all(sentence(note) for note in found.assumptions)


def test_foot_bath_is_shallow() -> None:
    assert 5 <= float(tub_water(volume_l=tub_size("foot-bath").volume_l).depth_cm) <= 15


def test_every_size_is_in_order() -> None:
    assert "hot-tub" not in tub_size_names()
    for name in tub_size_names():
        size = tub_size(name)
        assert 0 < size.low_l < size.volume_l < size.high_l


def test_treated_water_is_refused() -> None:
    for name in ("hot-tub", "spa", "pool"):
        with pytest.raises(ValueError, match="treated water"):
            tub_size(name)
    with pytest.raises(ValueError, match="4000000 L"):
        tub_water(volume_l=4e6)


def test_a_large_tub_is_doubted() -> None:
    (note,) = tub_water(volume_l=400).warnings
    assert note.code == "warn.tub.large"
    assert "400 L" in sentence(note)


def test_contradicting_or_missing_measures_are_refused() -> None:
    with pytest.raises(ValueError, match="fill_cm is missing"):
        tub_water(length_cm=150, width_cm=58)
    with pytest.raises(ValueError, match="both given"):
        tub_water(volume_l=100, length_cm=150, width_cm=58, fill_cm=30)
    with pytest.raises(ValueError, match=r"fill_cm is -3\.0"):
        tub_water(length_cm=150, width_cm=58, fill_cm=-3)
    with pytest.raises(ValueError, match="volume_l is inf"):
        tub_water(volume_l=np.inf)
    with pytest.raises(ValueError, match="bathers_in_tub takes up"):
        tub_water(volume_l=80, adults_in_tub=2)


def test_nan_passes_through() -> None:
    found = tub_water(volume_l=np.array([np.nan, 120.0]))
    assert np.isnan(found.volume_l[0])
    assert np.isnan(found.depth_cm[0])
    assert found.depth_cm[1] > 0


def test_strip_is_the_widest_reading_of_alkalinity() -> None:
    # A strip has steps of 40 mg/L CaCO3; a drop kit 10 to 25 mg/L a drop, and 5 to 10 % at its
    # end point.
    at = 2.4
    strip = float(reading_spread("alkalinity", "strip").sd(at))
    fine = float(reading_spread("alkalinity", "drop-kit").counted(10 / 50.04).sd(at))
    kit = float(reading_spread("alkalinity", "drop-kit").sd(at))
    assert 20 / 50.04 <= strip <= 30 / 50.04
    assert 0.05 * at <= fine <= 0.1 * at
    # Where the step is not said it is the coarsest.
    coarse = reading_spread("alkalinity", "drop-kit").counted(25 / 50.04)
    assert kit == pytest.approx(float(coarse.sd(at)), rel=1e-3)
    assert fine < kit < strip


def test_every_spread_is_positive_and_grows_with_the_reading() -> None:
    for quantity in ("alkalinity", "hardness", "ph", "volume", "mass", "temperature"):
        for instrument in instruments(quantity):
            small, large = reading_spread(quantity, instrument).sd(np.array([1.0, 10.0]))
            assert 0 < small <= large


def test_unknown_instrument_is_refused() -> None:
    with pytest.raises(ValueError, match="did you mean 'strip'"):
        reading_spread("alkalinity", "strips")
    with pytest.raises(ValueError, match="unknown quantity"):
        reading_spread("smell", "strip")
    with pytest.raises(ValueError, match=r"typical.csv has no row"):
        typical("nothing-of-the-kind")


def test_middle_of_a_batch_leaves_out_what_is_missing() -> None:
    assert middle([1.0, np.nan, 3.0]) == 2.0
    assert np.isnan(middle([np.nan]))


def test_a_mole_of_powder_is_a_mole_in_the_tub() -> None:
    # Citric acid is 192.12 g/mol (IUPAC 2021 weights); water of 40 degrees is 0.9922 kg/L (Kell
    # 1975, J. Chem. Eng. Data 20:97), so that 100 L of it are 99.22 kg.
    water = tap_water(WaterReadings(alkalinity_meq_l=2.0))
    bath = fill_tub(water, 100.0, 40.0).with_activator(192.12, per_gram("citric-acid"))
    assert 99.22 * float(bath.totals["citrate"]) == pytest.approx(1.0, rel=1e-3)
