import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.equilibrium import COMPONENTS, solve
from dosing.ingredients.powders import (
    Blend,
    blend_per_gram,
    kitchen_round_g,
    per_gram,
    portions_on_scale_g,
    powder,
    powder_names,
    powders_on_scale_g,
    remarks,
    scale_floor_g,
    solubility_g_per_kg,
    spoon_words,
    spoons,
    undissolved,
)
from indicator.notes import sentence

REFERENCE = Path(__file__).parents[1] / "reference"
BASES = ("Na", "K", "Ca", "Mg")


def rows(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", rows("trade_acid_equivalents.csv"), ids=lambda r: r["powder"])
def test_acid_equivalents_per_gram(row: dict[str, str]) -> None:
    # Protons a gram gives up = ligand x protons it can lose in all, less those already replaced.
    brought = per_gram(row["powder"])
    found = 1000 * float(brought[row["ligand"]]) * int(row["protons"])
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize(
    "row",
    rows("trade_solubility.csv"),
    ids=lambda r: f"{r['powder']}-{r['temperature_c']}-{r['expected']}",
)
def test_solubility_is_the_published_one(row: dict[str, str]) -> None:
    # Not independent: the same handbooks as the shipped table, at other temperatures or editions.
    found = solubility_g_per_kg(row["powder"], float(row["temperature_c"]))
    assert found.in_range
    assert found.g_per_kg == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", rows("trade_kitchen_ph.csv"), ids=lambda r: r["powder"])
def test_ph_of_kitchen_acids(row: dict[str, str]) -> None:
    brought = per_gram(row["powder"])
    if row["grams_per_kg"] == "neat":
        # A kilogram of a thin juice or vinegar holds about 0.95 kg of water besides its acids.
        totals = {name: float(moles) * 1000 / 0.95 for name, moles in brought.items()}
    else:
        totals = {name: float(m) * float(row["grams_per_kg"]) for name, m in brought.items()}
    found = solve(totals, float(row["temperature_c"])).ph
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_every_powder_is_complete() -> None:
    for name in powder_names():
        found = powder(name)
        assert set(found.mol_per_g) <= set(COMPONENTS)
        assert all(moles > 0 for moles in found.mol_per_g.values())
        assert 0 < found.bulk_low_g_ml < found.bulk_g_ml < found.bulk_high_g_ml
        assert 0 < powder(name).purity_sd < 0.3
        if found.remark is not None:
            assert found.label in sentence(found.remark)


def test_hydrates_differ_by_their_water_only() -> None:
    anhydrous = float(per_gram("citric-acid-anhydrous")["citrate"])
    monohydrate = float(per_gram("citric-acid-monohydrate")["citrate"])
    # 1.094 g of the monohydrate stand for 1 g of anhydrous acid (210.14 / 192.12).
    assert anhydrous / monohydrate == pytest.approx(1.0938, abs=0.0001)


def test_aliases_are_the_same_powder() -> None:
    assert powder("baking-soda") is powder("sodium-bicarbonate")
    assert Blend({"citric-acid": 1, "citric-acid-anhydrous": 1}).parts == {
        "citric-acid-anhydrous": 1.0
    }


def test_unknown_powder_offers_the_nearest() -> None:
    with pytest.raises(ValueError, match="unknown powder 'epsom-slat'; did you mean 'epsom-salt'"):
        powder("epsom-slat")


PARTS = st.dictionaries(st.sampled_from(powder_names()), st.floats(0.01, 100), min_size=1)


@given(parts=PARTS, scale=st.floats(0.01, 100))
def test_a_blend_knows_only_proportions(parts: dict[str, float], scale: float) -> None:
    one = blend_per_gram(parts)
    other = blend_per_gram({name: part * scale for name, part in reversed(parts.items())})
    assert set(one) == set(other)
    for name, moles in one.items():
        assert other[name] == pytest.approx(float(moles), rel=1e-12)


@pytest.mark.slow
@given(parts=PARTS)
def test_a_blend_brings_the_sum_of_its_powders(parts: dict[str, float]) -> None:
    total = sum(parts.values())
    found = blend_per_gram(parts)
    for component, moles in found.items():
        expected = sum(
            part / total * float(per_gram(name).get(component, np.zeros(())))
            for name, part in parts.items()
        )
        assert moles == pytest.approx(expected, rel=1e-12)


def test_purity_scales_what_is_brought() -> None:
    shares = np.array([0.9, 1.0, np.nan])
    parts = {"cream-of-tartar": 3.0, "epsom-salt": 1.0}
    found, declared = blend_per_gram(parts, shares), blend_per_gram(parts)
    assert set(found) == {"K", "tartrate", "Mg", "SO4"}
    for component, moles in found.items():
        np.testing.assert_allclose(moles, shares * declared[component])


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        ({}, "at least one powder"),
        ({"citric-acid": 0.0}, "at least one powder"),
        ({"citric-acid": -1.0}, "part of 'citric-acid'"),
        ({"citric-acid": float("nan")}, "part of 'citric-acid'"),
    ],
)
def test_senseless_blends_are_refused(parts: dict[str, float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        blend_per_gram(parts)


def test_solubility_rises_with_temperature_and_says_where_it_ends() -> None:
    temperature = np.array([5.0, 10.0, 20.0, 37.0, 40.0, 45.0])
    found = solubility_g_per_kg("cream-of-tartar", temperature)
    assert np.all(np.diff(found.g_per_kg[1:5]) > 0)
    np.testing.assert_array_equal(found.in_range, [False, True, True, True, True, False])
    assert np.isnan(solubility_g_per_kg("cream-of-tartar", np.nan).g_per_kg)
    assert np.isinf(solubility_g_per_kg("white-vinegar-5", 20.0).g_per_kg)


def test_too_much_cream_of_tartar_is_told_with_what_would_dissolve() -> None:
    # 100 kg at 20 °C dissolve 0.52 to 0.57 kg by two published values.
    (note,) = undissolved({"cream-of-tartar": 1}, 700.0, 100.0, 20.0)
    assert note.code == "warn.powder.undissolved"
    assert 520 <= float(note.values["most_g"]) <= 570
    assert "cream of tartar" in sentence(note)
    assert undissolved({"cream-of-tartar": 1}, 300.0, 100.0, 20.0) == ()


def test_a_held_temperature_is_told_only_where_it_matters() -> None:
    assert undissolved({"cream-of-tartar": 1}, 60.0, 120.0, 44.0) == ()
    (note,) = undissolved({"cream-of-tartar": 1}, 600.0, 120.0, 44.0)
    assert note.code == "warn.powder.solubility-range"
    assert "44 °C" in sentence(note)


def test_remarks_of_a_blend() -> None:
    codes = [note.code for note in remarks({"cream-of-tartar": 1, "citric-acid": 1})]
    assert codes == ["warn.powder.slow-to-dissolve"]


def test_level_teaspoons() -> None:
    # Kitchen tables: table salt 5.9 to 6 g, baking soda 4.6 to 4.8 g a level US teaspoon.
    assert spoons("table-salt", 5.95).teaspoons == pytest.approx(1, abs=0.02)
    assert spoons("baking-soda", 4.7).teaspoons == pytest.approx(1, abs=0.03)
    # Malic acid, supplier's bulk densities 0.73 to 0.875 g/mL x 4.929 mL = 3.6 to 4.3 g.
    malic = spoons("malic-acid", 4.0)
    assert malic.teaspoons_low == pytest.approx(4.0 / 4.31, abs=0.005)
    assert malic.teaspoons_high == pytest.approx(4.0 / 3.60, abs=0.005)


@given(parts=PARTS, grams=st.floats(0.1, 1e3))
def test_spoons_are_ordered_and_grow_with_mass(parts: dict[str, float], grams: float) -> None:
    level = spoons(parts, grams)
    assert level.teaspoons_low < level.teaspoons < level.teaspoons_high
    assert level.tablespoons * 3 == pytest.approx(level.teaspoons)
    assert spoons(parts, 2 * grams).teaspoons_low == pytest.approx(2 * level.teaspoons_low)


@pytest.mark.parametrize(
    ("teaspoons", "words"),
    [
        (0.1, "less than half a level teaspoon"),
        (0.5, "½ level teaspoon"),
        (1.1, "1 level teaspoon"),
        (3.4, "3½ level teaspoons"),
        (6.0, "2 level tablespoons"),
        (7.0, "2 level tablespoons and 1 teaspoon"),
        (14.0, "4 level tablespoons and 2 teaspoons"),
        (12.3, "4 level tablespoons and ½ teaspoon"),
    ],
)
def test_spoons_in_words(teaspoons: float, words: str) -> None:
    assert sentence(spoon_words(teaspoons)) == words


def test_kitchen_scale_steps() -> None:
    np.testing.assert_array_equal(kitchen_round_g([33.4, 0.6, np.nan]), [33.0, 1.0, np.nan])
    assert kitchen_round_g(33.4, 5.0) == 35.0


KNOWN = st.sampled_from(powder_names())


@given(st.dictionaries(KNOWN, st.floats(0.01, 10.0), min_size=1, max_size=5), st.floats(0.1, 900.0))
def test_the_powders_of_a_blend_add_up_on_the_scale(parts: dict[str, float], mass_g: float) -> None:
    shown = float(kitchen_round_g(mass_g, 1.0 if mass_g >= 5 else 0.1))
    split = dict(powders_on_scale_g(parts, shown))
    assert sum(split.values()) == pytest.approx(shown, abs=1e-9)
    shares = Blend(parts).parts
    assert all(abs(grams - shares[name] * shown) <= 1.0 + 1e-9 for name, grams in split.items())


def test_a_blend_is_split_to_the_step_of_its_lightest_powder() -> None:
    blend = {"citric-acid": 50.0, "epsom-salt": 35.0, "cream-of-tartar": 15.0}
    assert [grams for _, grams in powders_on_scale_g(blend, 38.0)] == [19.0, 13.0, 6.0]
    assert [grams for _, grams in powders_on_scale_g(blend, 10.0)] == [5.0, 3.5, 1.5]


def test_portions_add_up_and_keep_the_most() -> None:
    assert portions_on_scale_g([6.4, 12.6, 14.9], 14.9, 1.0) == ([6.0, 13.0, 14.0], [6.0, 7.0, 1.0])
    assert scale_floor_g(14.9, 1.0) == 14.0
    assert scale_floor_g(0.7, 0.1) == 0.7


def test_soda_crystals_and_soda_ash_are_two_powders() -> None:
    # Molar masses: Na2CO3 105.99, Na2CO3.10H2O 286.14 g/mol (CRC Handbook).
    assert powder("washing-soda").name == powder("soda-ash").name == "sodium-carbonate"
    crystals = powder("soda-crystals")
    assert crystals.name != "sodium-carbonate"
    assert 1.0 / crystals.mol_per_g["C"] == pytest.approx(286.14, abs=0.02)
    assert powder("washing-soda").mol_per_g["C"] / crystals.mol_per_g["C"] == pytest.approx(
        286.14 / 105.99, rel=1e-4
    )


@pytest.mark.parametrize(
    ("name", "grams_per_equivalent"),
    [("baking-soda", 84.01), ("washing-soda", 53.00), ("soda-crystals", 143.07),
     ("trisodium-citrate", 98.03)],
)  # fmt: skip
def test_equivalent_masses_of_bases(name: str, grams_per_equivalent: float) -> None:
    # Titration practice; sodium carbonate of 53.00 g/eq is a primary standard for acids.
    sodium = float(per_gram(name)["Na"])
    assert 1.0 / sodium == pytest.approx(grams_per_equivalent, abs=0.01)
