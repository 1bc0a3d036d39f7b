"""Quantities: every unit against its definition, round trips, and one sentence for bad input."""

from __future__ import annotations

import contextlib
import csv
import math
import re
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosing.ingredients.hardness_units import alkalinity_in, hardness_in
from dosing.recipe import quantities as q
from dosing.recipe.names import parts_by_powder
from dosing.recipe.quantities.units import unit_of
from indicator.tables import read_text, read_toml

Parser = Callable[..., float]
CITRIC = {"citric-acid": 1.0}


def volume_ml(text: object, field: str = "amount") -> float:
    amount = q.amount(text, field)
    assert amount.kind == "volume"
    return amount.value


def rows(name: str) -> list[dict[str, str]]:
    lines = read_text(f"trade/{name}").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


# Exact by definition: NIST Handbook 44 appendix C (US measures), UK Weights and Measures Act 1985
# (4.54609 L), international pound and inch (1959).
@pytest.mark.parametrize(
    ("parse", "text", "expected"),
    [
        (q.volume_l, "150 L", 150.0),
        (q.volume_l, "150 litres", 150.0),
        (q.volume_l, "1,5 L", 1.5),
        (q.volume_l, "40 gal", 40 * 3.785411784),
        (q.volume_l, "40 gal (US)", 40 * 3.785411784),
        (q.volume_l, "33 imp gal", 33 * 4.54609),
        (q.volume_l, "33 gal (UK)", 33 * 4.54609),
        (q.volume_l, "250 mL", 0.25),
        (q.volume_l, "2 cups", 2 * 0.2365882365),
        (q.volume_l, "1 1/2 cups", 1.5 * 0.2365882365),
        (q.volume_l, "½ gal", 3.785411784 / 2),
        (volume_ml, "1 tsp", 4.92892159375),
        (volume_ml, "1 tbsp", 14.78676478125),
        (volume_ml, "2 fl oz", 2 * 29.5735295625),
        (volume_ml, "2 imp fl oz", 2 * 28.4130625),
        (q.mass_g, "60 g", 60.0),
        (q.mass_g, "2 oz", 2 * 28.349523125),
        (q.mass_g, "1 lb", 453.59237),
        (q.mass_g, "0.06 kg", 60.0),
        (q.length_cm, "30 cm", 30.0),
        (q.length_cm, "12 in", 30.48),
        (q.length_cm, "5 ft", 152.4),
        (q.area_cm2, "5500 cm2", 5500.0),
        (q.area_cm2, "0.55 m²", 5500.0),
        (q.temperature_c, "38 C", 38.0),
        (q.temperature_c, "38 degC", 38.0),
        (q.temperature_c, "38 °C", 38.0),
        (q.temperature_c, "38 ºC", 38.0),
        (q.temperature_c, "38℃", 38.0),
        (q.temperature_c, "100 F", 340 / 9),
        (q.temperature_c, "311.15 K", 38.0),
        (q.titratable_meq_kg, "12 meq/kg", 12.0),
        (q.titratable_meq_kg, "−3 meq/kg", -3.0),
        (q.age_years, "4 years", 4.0),
        (q.age_years, "18 months", 1.5),
        (q.days, "6 weeks", 42.0),
        (q.share, "30 %", 0.3),
        (q.ph, "7.8", 7.8),
        (q.ph, "pH 7,8", 7.8),
        (q.ph, 8.2, 8.2),
        (q.ph, 7, 7.0),
    ],
)
def test_units_by_their_definitions(parse: Parser, text: object, expected: float) -> None:
    assert parse(text) == pytest.approx(expected, rel=1e-12)


# Factors: DIN 38409-6 and the definitions of the degrees; molar masses CaCO3 100.087, HCO3 61.017.
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("120 ppm", 2.3979),
        ("120 mg/L", 2.3979),
        ("120 mg/L as CaCO3", 2.3979),
        ("120 ppm (as CaCO3)", 2.3979),
        ("120 mg CaCO3/L", 2.3979),
        ("7 dH", 2.4965),
        ("7 °dKH", 2.4965),
        ("12 fH", 2.3979),
        ("8 e", 2.2786),
        ("8 Clark", 2.2786),
        ("5 gpg", 1.7103),
        ("2.4 meq/L", 2.4),
        ("1.2 mmol/L", 1.2),
        ("146 mg/L HCO3", 2.3928),
        ("146 mg/L HCO3-", 2.3928),
        ("146 mg HCO3-/L", 2.3928),
    ],
)
def test_alkalinity_in_every_unit(text: str, expected: float) -> None:
    assert q.alkalinity_meq_l(text) == pytest.approx(expected, abs=6e-5)


def test_a_millimole_is_one_equivalent_of_alkalinity_and_two_of_hardness() -> None:
    assert q.alkalinity_meq_l("1.2 mmol/L") == pytest.approx(1.2)
    assert q.hardness_mmol_l("1.2 mmol/L") == pytest.approx(1.2)
    assert q.hardness_mmol_l("2.4 meq/L") == pytest.approx(1.2)
    assert q.hardness_mmol_l("120 ppm") == pytest.approx(q.alkalinity_meq_l("120 ppm") / 2)


@pytest.mark.parametrize(
    ("ion", "text", "expected"),
    [
        ("calcium", "94 mg/L", 94 / 40.078),
        ("calcium", "94 ppm", 94 / 40.078),
        ("calcium", "94 mg/L Ca2+", 94 / 40.078),
        ("calcium", "94 mg Ca/L", 94 / 40.078),
        ("calcium", "235 mg/L CaCO3", 235 / 100.087),
        ("calcium", "2.3 mmol/L", 2.3),
        ("calcium", "4.6 meq/L", 2.3),
        ("magnesium", "5 dH", 5 * 0.178325),
        ("sodium", "20 mg/L Na", 20 / 22.98977),
        ("sulfate", "96 mg/L", 96 / 96.06),
        ("nitrate", "10 mg/L", 10 / 62.005),
        ("nitrate", "10 mg/L N", 10 / 14.007),
        ("bicarbonate", "146 mg/L", 146 / 61.017),
    ],
)
def test_ions_as_reports_give_them(ion: str, text: str, expected: float) -> None:
    assert q.ion_mmol_l(text, ion) == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize("text", ["94 mg/L Mg", "94 mg/L HCO3", "94 mg Na/L", "94 mg/L C"])
def test_a_reading_of_another_ion_is_not_taken_for_this_one(text: str) -> None:
    with pytest.raises(q.InputError, match="not a unit for it"):
        q.ion_mmol_l(text, "calcium")


def test_what_a_refusal_offers_is_itself_accepted() -> None:
    parsers: dict[str, Callable[[str], object]] = {
        "volume": q.volume_l,
        "amount-volume": volume_ml,
        "mass": q.mass_g,
        "length": q.length_cm,
        "area": q.area_cm2,
        "temperature": q.temperature_c,
        "alkalinity": q.alkalinity_meq_l,
        "hardness": q.hardness_mmol_l,
        "ion": lambda text: q.ion_mmol_l(text, "calcium"),
        "titratable": q.titratable_meq_kg,
        "amount": q.amount,
        "age": q.age_years,
        "time": q.days,
        "share": q.share,
        "ph": q.ph,
        "thinned": q.thinned,
        "steep-temperature": q.steep_temperature_c,
        "steep-time": q.steep_minutes,
        "infusion": q.infusion_g,
        "absorbance": q.absorbance_per_cm,
        "colour-amount": q.colour_amount,
        "dose": lambda text: q.powder_mass(text, CITRIC),
        "part": lambda text: parts_by_powder({"citric-acid": text.strip('"')}, "parts"),
        "test-drops": q.drop_count,
        "density": q.density_g_ml,
        "money": lambda text: q.money(float(text)),
        "size": lambda text: q.size_ml(float(text)),
        "sachet": lambda text: q.powder_mass(text, CITRIC, kind="sachet"),
        "batch": q.Reader("batch", "batch"),
    }
    offered = read_toml("text/en.toml")["error"]["accepted"]
    assert set(parsers) == set(offered) - {
        "strength",
        "percent",
        "dye-percent",
        "petals",
        "light",
        "kelvin",
        "drop-step",
    }
    for kind, parse in parsers.items():
        examples = re.findall(r"\d[^,]*?(?=,| or |$)", offered[kind])
        assert examples
        for example in examples:
            assert parse(example) is not None, example
    for strength in ("2 %", "6 /cm"):
        assert strength in offered["strength"]
        assert q.colour_strength(strength).value > 0


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("2 %", "percent", 2.0),
        ("2%", "percent", 2.0),
        ("20 g/L", "percent", 2.0),
        ("2 g/100 mL", "percent", 2.0),
        ("6 /cm", "absorbance", 6.0),
        ("6 per cm", "absorbance", 6.0),
        ("6 cm-1", "absorbance", 6.0),
        ("0.6 /mm", "absorbance", 6.0),
    ],
)
def test_strengths(text: str, kind: str, value: float) -> None:
    found = q.colour_strength(text)
    assert found.kind == kind
    assert found.value == pytest.approx(value)


# Cup, spoons and fluid ounce as above; a pinch is a sixteenth of a teaspoon and a handful about
# half a cup: common practice, no source.
@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("two tbsp", "volume", 2 * 14.78676478125),
        ("half a cup", "volume", 0.5 * 236.5882365),
        ("1 fl oz", "volume", 29.5735295625),
        ("a handful of petals", "dry", 118.0),
        ("2 handfuls", "dry", 236.0),
        ("a pinch", "dry", 4.92892159375 / 16),
        ("two pinches of dye", "dry", 4.92892159375 / 8),
        ("1 level tsp of petal powder", "dry", 4.92892159375),
        ("1 cup of dried flowers", "dry", 236.5882365),
        ("6 g dried petals", "mass", 6.0),
        ("twelve drops", "drops", 12.0),
    ],
)
def test_kitchen_measures_of_a_colour(text: str, kind: str, value: float) -> None:
    amount = q.colour_amount(text)
    assert amount.kind == kind
    assert amount.value == pytest.approx(value, rel=1e-3)
    assert (amount.spread > 0) == (kind in ("volume", "dry"))


def test_kitchen_measures_of_a_foam_bath() -> None:
    assert q.amount("1 tbsp").spread == 0.1
    # USP drops: 20 to the millilitre.
    assert q.amount("20 drops") == q.Amount("volume", 1.0)
    with pytest.raises(q.InputError, match="handful is not a unit for it"):
        q.amount("a handful")


# Grams in a level teaspoon, as the nutrition tables of the United States (FoodData Central) print
# them; from memory, unverified.
@pytest.mark.parametrize(
    ("name", "grams"), [("baking-soda", 4.6), ("table-salt", 6.0), ("cream-of-tartar", 3.0)]
)
def test_a_level_teaspoon_of_powder(name: str, grams: float) -> None:
    spoon = q.powder_mass("1 tsp", {name: 1.0})
    assert 0.1 < spoon.spread < 0.2
    assert abs(spoon.value / grams - 1.0) < spoon.spread
    assert q.powder_mass("1 tbsp", {name: 1.0}).value == pytest.approx(3.0 * spoon.value)
    assert q.powder_mass("7 g", {name: 1.0}) == q.Amount("mass", 7.0)
    with pytest.raises(q.InputError, match="ml is not a unit for it"):
        q.powder_mass("60 mL", {name: 1.0})


def test_an_amount_is_a_volume_or_a_mass() -> None:
    assert q.amount("700 mL") == q.Amount("volume", 700.0)
    assert q.amount("14 g") == q.Amount("mass", 14.0)


UNITS = [
    row
    for row in rows("units.csv")
    if row["kind"] not in ("prefix", "share", "drops", "absorbance")
]
COMMON = [(row["kind"], name) for row in UNITS for name in (row["unit"], *row["aliases"].split())]
PINTS_OWN = {
    "length": "centimeter", "area": "centimeter ** 2", "volume": "milliliter", "mass": "gram",
    "time": "minute", "temperature": "degC", "substance": "millimole",
}  # fmt: skip


def test_our_units_agree_with_the_unit_librarys_own() -> None:
    # pint's full registry, a general-purpose reference, in whatever spelling it shares with ours.
    import pint

    theirs: Any = pint.UnitRegistry()
    compared = set()
    for kind, name in COMMON:
        # Theirs are the speed of light, Boltzmann's constant and a hundredth of a right angle.
        if kind not in PINTS_OWN or name in ("c", "k", "centigrade"):
            continue
        try:
            other = theirs.Quantity(100.0, name).to(PINTS_OWN[kind]).magnitude
        except pint.UndefinedUnitError:
            continue
        mine = unit_of(name)
        assert mine is not None
        assert (100.0 + mine.offset) * mine.factor == pytest.approx(other, rel=1e-12), name
        compared.add(name)
    assert len(compared) > 60


# What pint's registry understands and people type: prefixes, plurals, powers and long names.
@pytest.mark.parametrize(
    ("parse", "text", "expected"),
    [
        (q.volume_l, "1.5 hl", 150.0),
        (q.volume_l, "1.5 hectoliters", 150.0),
        (q.volume_l, "15 decilitres", 1.5),
        (q.volume_l, "70 cl", 0.7),
        (q.volume_l, "250 mls", 0.25),
        (q.volume_l, "0.15 m3", 150.0),
        (q.volume_l, "0.15 m³", 150.0),
        (q.volume_l, "0.15 m**3", 150.0),
        (q.volume_l, "0.15 cubic metres", 150.0),
        (q.volume_l, "150 dm3", 150.0),
        (q.volume_l, "5 cubic feet", 5 * 28.316846592),
        (q.volume_l, "5 cu ft", 5 * 28.316846592),
        (q.volume_l, "40 US liquid gallons", 40 * 3.785411784),
        (q.volume_l, "40 gallons (US)", 40 * 3.785411784),
        (q.volume_l, "33 gallons (UK)", 33 * 4.54609),
        (q.volume_l, "33 imperial gallons", 33 * 4.54609),
        (q.volume_l, "2 imperial quarts", 2 * 1.1365225),
        (volume_ml, "3 tablespoons", 3 * 14.78676478125),
        (volume_ml, "3 tbsps", 3 * 14.78676478125),
        (volume_ml, "30 cm³", 30.0),
        (volume_ml, "30 cc", 30.0),
        (volume_ml, "2 US fluid ounces", 2 * 29.5735295625),
        (q.mass_g, "500 milligrams", 0.5),
        (q.mass_g, "2 lbs", 907.18474),
        (q.mass_g, "2 pounds", 907.18474),
        (q.mass_g, "60 grammes", 60.0),
        (q.length_cm, "300 mm", 30.0),
        (q.length_cm, "1.5 metres", 150.0),
        (q.length_cm, "1 yard", 91.44),
        (q.area_cm2, "6 sq ft", 6 * 929.0304),
        (q.area_cm2, "6 ft2", 6 * 929.0304),
        (q.area_cm2, "6 square feet", 6 * 929.0304),
        (q.temperature_c, "311.15 kelvin", 38.0),
        (q.temperature_c, "38 degrees C", 38.0),
        (q.temperature_c, "38 degree Celsius", 38.0),
        (q.temperature_c, "100 degrees F", 340 / 9),
        (q.steep_minutes, "2 hrs", 120.0),
        (q.steep_minutes, "90 sec", 1.5),
        (q.days, "6 wks", 42.0),
        (q.age_years, "3 yrs", 3.0),
        (q.titratable_meq_kg, "12 mval/kg", 12.0),
        (q.titratable_meq_kg, "0.012 eq per kg", 12.0),
        (q.absorbance_per_cm, "0.6 1/mm", 6.0),
        (q.absorbance_per_cm, "6 AU/cm", 6.0),
        (q.absorbance_per_cm, "0.6 AU/mm", 6.0),
        (q.absorbance_per_cm, "0.0006 /µm", 6.0),
        (q.absorbance_per_cm, "0.0006 µm⁻¹", 6.0),
        (q.absorbance_per_cm, "6 cm⁻¹", 6.0),
    ],
)
def test_units_as_people_type_them(parse: Parser, text: str, expected: float) -> None:
    assert parse(text) == pytest.approx(expected, rel=1e-12)


@given(st.floats(0.06, 790.0))
def test_litres_go_round(value: float) -> None:
    assert q.volume_l(f"{value!r} L") == pytest.approx(value, rel=1e-12)
    assert q.volume_l(f"{value / 4.54609!r} imp gal") == pytest.approx(value, rel=1e-9)


@given(st.floats(0.0, 19.0), st.sampled_from(["ppm", "dH", "fH", "e", "gpg", "meq/L", "mmol/L"]))
def test_water_units_go_round(value: float, unit: str) -> None:
    hardness = f"{float(hardness_in(value, unit)):.12f} {unit}"
    assert q.hardness_mmol_l(hardness) == pytest.approx(value, rel=1e-9, abs=1e-9)
    alkalinity = f"{float(alkalinity_in(value, unit)):.12f} {unit}"
    assert q.alkalinity_meq_l(alkalinity) == pytest.approx(value, rel=1e-9, abs=1e-9)


@given(st.floats(0.0, 60.0))
def test_temperatures_go_round(celsius: float) -> None:
    assert q.temperature_c(f"{celsius * 1.8 + 32!r} F") == pytest.approx(celsius, abs=1e-9)


@pytest.mark.parametrize(
    ("parse", "text", "words"),
    [
        (q.volume_l, "150", "without a unit"),
        (q.volume_l, 120.5, "without a unit"),
        (q.volume_l, "nan L", "not a finite number"),
        (q.volume_l, "inf L", "not a finite number"),
        (q.volume_l, "1e999 L", "not a finite number"),
        (q.volume_l, "-5 L", "0.05 to 799 L"),
        (q.volume_l, "0 L", "0.05 to 799 L"),
        (q.volume_l, "4000000 L", "treated water"),
        (q.volume_l, "1,500 L", "1500 or as 1.5"),
        (q.volume_l, "1.500,5 L", "more than one mark"),
        (q.volume_l, "12 kg", "kg is not a unit for it"),
        (q.volume_l, "5 buckets", "buckets is not a unit for it"),
        (q.volume_l, "1/0 L", "write a volume"),
        (q.volume_l, "", "write a volume"),
        (q.volume_l, "L", "write a volume"),
        (q.volume_l, None, "write a volume"),
        (q.volume_l, True, "write a volume"),
        (q.volume_l, ["150 L"], "write a volume"),
        (q.temperature_c, "300 C", "0 to 60 °C"),
        (q.temperature_c, "38 mC", "not a unit for it"),
        (q.alkalinity_meq_l, "120", "120 ppm (as CaCO3)"),
        (q.alkalinity_meq_l, "120000 ppm", "0 to 40 meq/L"),
        (q.hardness_mmol_l, "146 mg/L HCO3", "not a unit for it"),
        (q.mass_g, "60 mL", "ml is not a unit for it"),
        (q.length_cm, "30 g", "g is not a unit for it"),
        (q.age_years, "8", "without a unit"),
        (q.ph, "15", "0 to 14"),
        (q.ph, "7 ppm", "ppm is not a unit for it"),
        (q.ph, float("nan"), "not a finite number"),
    ],
)
def test_one_sentence_for_what_cannot_be_used(parse: Parser, text: object, words: str) -> None:
    with pytest.raises(q.InputError) as caught:
        parse(text, "tub.field")
    error = caught.value
    assert words in str(error)
    assert str(error).startswith("tub.field is ")
    assert str(error).endswith(".")
    assert "\n" not in str(error)
    assert error.field == "tub.field"
    assert error.accepted
    assert error.value is text or error.value == text or error.value != error.value


@pytest.mark.slow
@given(
    st.text(max_size=40) | st.from_regex(r"[0-9.,/½ -]{1,8} ?[a-zA-Z°/%²*^-]{0,12}", fullmatch=True)
)
def test_any_text_is_read_or_refused_in_a_sentence(text: str) -> None:
    for parse in (q.volume_l, q.mass_g, q.temperature_c, q.alkalinity_meq_l, q.ph):
        message, value = "", float("nan")
        try:
            value = parse(text, "field")
        except q.InputError as error:
            message = str(error)
        assert math.isfinite(value) or message.startswith("field is ")
    for read in (q.amount, q.colour_strength):
        with contextlib.suppress(q.InputError):
            assert math.isfinite(read(text, "field").value)
