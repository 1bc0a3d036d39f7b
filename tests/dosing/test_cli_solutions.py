"""`huedose equilibrium`, `swatch`, `water` and `recipe`: what goes in, what comes out."""

from __future__ import annotations

import csv
import io
import json
import math
import os
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from dosing.cli.app import LAB
from dosing.recipe import parse_recipe
from indicator.tables import read_text

Run = Callable[..., tuple[int, str, str]]
RunJson = Callable[..., tuple[int, dict[str, Any]]]

SOLIDS = ("calcite", "gypsum", "calcium_citrate", "calcium_tartrate", "potassium_bitartrate")
CHARGE = "charge_error_mol_kg"
COLOUR_KEYS = {"ph", "hex", "lab", "hue_deg", "word", "in_gamut", "visibility_delta_e"}

# Plummer and Busenberg 1982, Geochim. Cosmochim. Acta 46:1011-1040: log K at 25 degC of
# CO2(g) = CO2(aq) [atm], of the first step of carbonic acid and of the second.
LOG_K_HENRY, LOG_K_1, LOG_K_2 = -1.468, -6.352, -10.329
# Ion product of water: Harned and Owen 1958 (from memory, unverified).
LOG_K_WATER = -13.995


@pytest.fixture
def cases(tmp_path: Path) -> Callable[[str], Path]:
    def written(text: str) -> Path:
        path = tmp_path / "cases.csv"
        path.write_text(text, encoding="utf-8")
        return path

    return written


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def solved(run: Run, path: Path, *options: object) -> list[dict[str, str]]:
    code, out, err = run("equilibrium", path, *options)
    assert (code, err) == (0, "")
    return rows_of(out)


# ---------------------------------------------------------------- equilibrium


def test_the_phthalate_standard(cases: Callable[[str], Path], huedose: Run) -> None:
    # Buck et al. 2002, Pure Appl. Chem. 74:2169-2200 (IUPAC): 0.05 mol/kg potassium hydrogen
    # phthalate has pH 4.005 at 25 degC; the rest is what an activity model without parameters
    # of its own for phthalate may be off.
    (row,) = solved(huedose, cases("K,phthalate\n0.05,0.05\n"))
    assert float(row["ph"]) == pytest.approx(4.005, abs=0.015)
    # More than 0.05: a part of the hydrogen phthalate has given up its proton.
    assert 0.05 < float(row["ionic_strength"]) < 0.06
    assert (row["converged"], row["in_range"]) == ("true", "true")


@pytest.mark.parametrize("ppm", [None, 420.0, 4000.0])
def test_pure_water_at_rest_with_the_air(
    ppm: float | None, cases: Callable[[str], Path], huedose: Run
) -> None:
    options = [] if ppm is None else ["--pco2", f"{ppm:g}"]
    (row,) = solved(huedose, cases("Na,temperature_c\n0,25\n"), "--open-air", *options)
    pressure_atm = 1e-6 * (420.0 if ppm is None else ppm)
    # h = [HCO3-] + [OH-], carbonate being a millionth of it, at activity coefficients of 1.
    h = math.sqrt(10.0 ** (LOG_K_HENRY + LOG_K_1) * pressure_atm + 10.0**LOG_K_WATER)
    # 0.01: the constants' own uncertainty, and air that may or may not count its moisture.
    assert float(row["ph"]) == pytest.approx(-math.log10(h), abs=0.01)


def test_open_air_replaces_the_carbon_of_the_row(
    cases: Callable[[str], Path], huedose: Run
) -> None:
    path = cases("Na,C\n0.001,0\n0.001,0.05\n")
    with_air = solved(huedose, path, "--open-air")
    closed = solved(huedose, path)
    assert with_air[0]["ph"] == with_air[1]["ph"]
    assert abs(float(closed[0]["ph"]) - float(closed[1]["ph"])) > 1.0


def test_a_row_is_closed_unless_told_otherwise(cases: Callable[[str], Path], huedose: Run) -> None:
    (row,) = solved(huedose, cases("Na\n0\n"))
    assert float(row["ph"]) == pytest.approx(-LOG_K_WATER / 2.0, abs=0.005)


def test_bicarbonate_and_carbonate_stand_as_their_constant_says(
    cases: Callable[[str], Path], huedose: Run
) -> None:
    (row,) = solved(huedose, cases("Na,C\n1e-5,1e-5\n"), "--species")
    h, bicarbonate, carbonate, gas = (
        float(row[f"{name}_mol_kg"]) for name in ("H+", "HCO3-", "CO3-2", "CO2")
    )
    # In so thin a solution log gamma is 0.002 for charge 1 (Debye and Hueckel).
    assert math.log10(h * bicarbonate / gas) == pytest.approx(LOG_K_1, abs=0.015)
    assert math.log10(h * carbonate / bicarbonate) == pytest.approx(LOG_K_2, abs=0.02)
    assert bicarbonate + carbonate + gas == pytest.approx(1e-5, rel=1e-6)


def test_a_given_ph_is_kept_and_the_imbalance_reported(
    cases: Callable[[str], Path], huedose: Run
) -> None:
    (row,) = solved(huedose, cases("ph,Na,Cl\n3,0.1,0.1\n"), "--species")
    assert float(row["ph"]) == 3.0
    h, hydroxide = float(row["H+_mol_kg"]), float(row["OH-_mol_kg"])
    assert float(row["charge_error_mol_kg"]) == pytest.approx(h - hydroxide, rel=1e-9)
    # gamma(H+) in 0.1 mol/kg NaCl is about 0.78: Davies 1938 with 0.3 I.
    assert h == pytest.approx(1e-3 / 0.78, rel=0.02)


def test_a_solved_ph_given_back_balances(cases: Callable[[str], Path], huedose: Run) -> None:
    (free,) = solved(huedose, cases("Na,citrate,C,Ca\n0.002,0.001,0.003,0.001\n"))
    (kept,) = solved(huedose, cases(f"ph,Na,citrate,C,Ca\n{free['ph']},0.002,0.001,0.003,0.001\n"))
    assert abs(float(kept["charge_error_mol_kg"])) < 1e-12
    assert float(kept["ionic_strength"]) == pytest.approx(float(free["ionic_strength"]))


def test_temperature_is_25_where_none_is_given(cases: Callable[[str], Path], huedose: Run) -> None:
    unsaid, warm = solved(huedose, cases("temperature_c,Na,C\n,0.01,0.01\n38,0.01,0.01\n"))
    (said,) = solved(huedose, cases("temperature_c,Na,C\n25,0.01,0.01\n"))
    (without,) = solved(huedose, cases("Na,C\n0.01,0.01\n"))
    assert float(unsaid["temperature_c"]) == 25.0
    assert float(unsaid["ph"]) == pytest.approx(float(said["ph"]), abs=1e-9)
    assert float(without["ph"]) == pytest.approx(float(said["ph"]), abs=1e-9)
    assert float(warm["ph"]) < float(said["ph"]) - 0.03


def test_the_file_is_what_the_terminal_shows(
    cases: Callable[[str], Path], huedose: Run, tmp_path: Path
) -> None:
    path = cases("# two baths\n\nNa,C,citrate\n0.002,0.002,0\n 0.002, 0.002, 0.001\n")
    out_path = tmp_path / "solved.csv"
    _, shown, _ = huedose("equilibrium", path, "--species")
    assert huedose("equilibrium", path, "--species", "-o", out_path) == (0, "", "")
    assert out_path.read_text(encoding="utf-8") == shown
    first, second = rows_of(shown)
    expected = ["Na", "C", "citrate", "ph", "ionic_strength", "charge_error_mol_kg", "converged"]
    expected += ["in_range", *(f"{solid}_saturation_index" for solid in SOLIDS)]
    assert list(first)[: len(expected)] == expected
    assert all(name.endswith("_mol_kg") for name in list(first)[len(expected) :])
    assert [float(second[name]) for name in ("Na", "C", "citrate")] == [0.002, 0.002, 0.001]
    assert float(second["ph"]) < float(first["ph"]) - 1.0
    assert sorted(tmp_path.iterdir()) == [path, out_path]


def test_the_inputs_of_an_output_give_the_same_again(
    cases: Callable[[str], Path], huedose: Run
) -> None:
    (once,) = solved(huedose, cases("Na,Ca,citrate,C\n0.1,0.003,0.02,0.004\n"))
    inputs = ("Na", "Ca", "citrate", "C")
    text = ",".join(inputs) + "\n" + ",".join(once[name] for name in inputs) + "\n"
    assert solved(huedose, cases(text)) == [once]


def test_the_columns_that_stay(cases: Callable[[str], Path], huedose: Run) -> None:
    (row,) = solved(huedose, cases("pH,temperature_c,Na,C\n7,38,0.01,0.01\n"), "--species")
    assert list(row) == [
        "ph",
        "temperature_c",
        "Na",
        "C",
        "ionic_strength",
        "charge_error_mol_kg",
        "converged",
        "in_range",
        "calcite_saturation_index",
        "gypsum_saturation_index",
        "calcium_citrate_saturation_index",
        "calcium_tartrate_saturation_index",
        "potassium_bitartrate_saturation_index",
        "H+_mol_kg",
        "OH-_mol_kg",
        "Na+_mol_kg",
        "CO3-2_mol_kg",
        "HCO3-_mol_kg",
        "CO2_mol_kg",
    ]


def test_json_holds_the_same_numbers(cases: Callable[[str], Path], huedose: Run) -> None:
    path = cases("Na,C,Ca\n0.002,0.004,0.001\n0.1,0.1,0\n")
    rows = solved(huedose, path)
    code, out, _ = huedose("equilibrium", path, "--json")
    assert code == 0
    document = json.loads(out)
    assert document["warnings"] == []
    for row, found in zip(rows, document["solutions"], strict=True):
        assert list(found) == list(row)
        assert found["converged"] is True
        assert found["ph"] == float(row["ph"])
    calcite = [one["calcite_saturation_index"] for one in document["solutions"]]
    assert calcite[0] == float(rows[0]["calcite_saturation_index"])
    # Without calcium nothing is saturated: no number, and an empty cell.
    assert (calcite[1], rows[1]["calcite_saturation_index"]) == (None, "")


def test_json_and_a_file_at_once(
    cases: Callable[[str], Path], huedose: Run, tmp_path: Path
) -> None:
    path, out_path = cases("Na,C\n0.002,0.004\n"), tmp_path / "solved.csv"
    code, out, err = huedose("equilibrium", path, "--json", "-o", out_path)
    assert (code, err) == (0, "")
    (row,) = rows_of(out_path.read_text(encoding="utf-8"))
    assert json.loads(out)["solutions"][0]["ph"] == float(row["ph"])


def test_a_solution_beyond_the_activity_model_is_marked(
    cases: Callable[[str], Path], huedose: Run
) -> None:
    path = cases("Na,Cl\n0.01,0.01\n20,20\n")
    code, out, err = huedose("equilibrium", path)
    assert code == 0
    assert [row["in_range"] for row in rows_of(out)] == ["true", "false"]
    assert "row 2" in err
    _, out, _ = huedose("equilibrium", path, "--json")
    (warning,) = json.loads(out)["warnings"]
    assert set(warning) == {"code", "message", "field"}
    assert "row 2" in warning["message"]


def test_every_species_is_listed(cases: Callable[[str], Path], huedose: Run) -> None:
    code, out, err = huedose("equilibrium", "--list-species")
    assert (code, err) == (0, "")
    listed = out.split()
    assert {"CaCit-_mol_kg", "HCO3-_mol_kg", "H+_mol_kg", "OH-_mol_kg"} <= set(listed)
    assert len(set(listed)) == len(listed)
    assert json.loads(huedose("equilibrium", "--list-species", "--json")[1])["species"] == listed
    (row,) = solved(huedose, cases("Na,Ca,citrate,C\n0.01,0.001,0.003,0.001\n"), "--species")
    shown = [name for name in row if name.endswith("_mol_kg") and name != CHARGE]
    assert set(shown) <= set(listed)
    assert {"CaCit-_mol_kg", "Cit-3_mol_kg", "CaHCO3+_mol_kg"} <= set(shown)
    (short,) = solved(huedose, cases("Na\n0.1\n"))
    assert [name for name in short if name.endswith("_mol_kg")] == [CHARGE]


def test_species_add_up_to_the_total(cases: Callable[[str], Path], huedose: Run) -> None:
    (row,) = solved(huedose, cases("Na,Ca,citrate,C\n0.01,0.001,0.003,0.001\n"), "--species")
    shown = [name for name in row if name.endswith("_mol_kg")]
    calcium = sum(float(row[name]) for name in shown if name.startswith("Ca"))
    citrate = sum(float(row[name]) for name in shown if "Cit" in name)
    assert calcium == pytest.approx(0.001, rel=1e-6)
    assert citrate == pytest.approx(0.003, rel=1e-6)


@pytest.mark.parametrize("mark", ["\ufeff", ""])
@pytest.mark.parametrize("end", ["\r\n", "\n"])
def test_what_a_spreadsheet_saves_is_read(
    mark: str, end: str, cases: Callable[[str], Path], huedose: Run
) -> None:
    path = cases("")
    path.write_bytes(f'{mark}"Na","C"{end}"0.01","0.01"{end}'.encode())
    (row,) = solved(huedose, path)
    assert float(row["ph"]) == pytest.approx(8.25, abs=0.1)


def _break_replacing(patch: pytest.MonkeyPatch) -> None:
    def replace(source: object, target: object) -> None:
        raise OSError(28, "No space left on device", str(target))

    patch.setattr(os, "replace", replace)


def _break_writing(patch: pytest.MonkeyPatch) -> None:
    whole = csv.writer

    class Half:
        def __init__(self, stream: Any, **options: Any) -> None:
            self.stream, self.inner = stream, whole(stream, **options)

        def writerow(self, row: Any) -> None:
            if self.stream.tell() > 0:
                raise OSError(28, "No space left on device", str(self.stream.name))
            self.inner.writerow(row)
            self.stream.flush()

    patch.setattr(csv, "writer", Half)


@pytest.mark.parametrize("spoil", [_break_replacing, _break_writing])
def test_a_failing_write_leaves_the_old_file_whole(
    spoil: Callable[[pytest.MonkeyPatch], None],
    cases: Callable[[str], Path],
    huedose: Run,
    tmp_path: Path,
) -> None:
    path, out_path = cases("Na\n0.1\n0.2\n"), tmp_path / "solved.csv"
    out_path.write_text("from last week\n", encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        spoil(patch)
        code, out, err = huedose("equilibrium", path, "-o", out_path, "--overwrite")
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "No space left on device" in err
    assert out_path.read_text(encoding="utf-8") == "from last week\n"
    assert sorted(tmp_path.iterdir()) == [path, out_path]
    assert huedose("equilibrium", path, "-o", out_path, "--overwrite") == (0, "", "")
    assert len(rows_of(out_path.read_text(encoding="utf-8"))) == 2


# ---------------------------------------------------------------- swatch


def one_ladder(answer: tuple[int, dict[str, Any]]) -> tuple[int, dict[str, Any]]:
    """Exit code and the only ladder of a document."""
    code, document = answer
    (ladder,) = document["ladders"]
    return code, ladder


def test_a_ladder_turns_from_pink_to_blue(huedose_json: RunJson) -> None:
    code, ladder = one_ladder(huedose_json("colours", "butterfly-pea", "--ph", "2,4,7"))
    assert code == 0
    assert [one["ph"] for one in ladder["swatches"]] == [2.0, 4.0, 7.0]
    assert [one["word"] for one in ladder["swatches"]][::2] == ["pink", "blue"]
    for one in ladder["swatches"]:
        assert set(one) >= COLOUR_KEYS
    assert ladder["view"] == "jar"


def test_a_dye_keeps_its_colour(huedose_json: RunJson) -> None:
    _, ladder = one_ladder(huedose_json("colours", "tartrazine", "--ph", "2,5,8"))
    assert {(one["hex"], one["word"]) for one in ladder["swatches"]} == {
        (ladder["swatches"][0]["hex"], "yellow")
    }


def test_a_dye_solution_by_its_percent(huedose_json: RunJson) -> None:
    _, ladder = one_ladder(
        huedose_json("colours", "tartrazine", "--ph", "7", "--strength", "0.01 %")
    )
    # 0.1 g/L of tartrazine, C16H9N4Na3O9S2, 534.36 g/mol (IUPAC 2021 atomic weights); the
    # commercial dye is at least 85 % (JECFA, from memory, unverified), so it may be less by that.
    assert 0.85 <= ladder["strengths"]["tartrazine"] / (0.1 / 534.36) <= 1.01


def test_strength_and_view_are_those_asked_for(huedose_json: RunJson) -> None:
    seen = {}
    for view in ("jar", "bottle", "tub"):
        code, ladder = one_ladder(
            huedose_json(
                "colours", "butterfly-pea", "--ph", "7", "--strength", "0.05 /cm", "--view", view
            )
        )
        assert code == 0
        assert ladder["view"] == view
        assert ladder["strengths"]["butterfly-pea"] == pytest.approx(0.05)
        seen[view] = (ladder["path_cm"], ladder["swatches"][0]["visibility_delta_e"])
    # The longer the way of the light, the more of the colour is seen.
    assert seen["bottle"] < seen["jar"] < seen["tub"]
    assert seen["bottle"][1] < seen["jar"][1] < seen["tub"][1]


def test_depth_is_converted(huedose_json: RunJson) -> None:
    _, ladder = one_ladder(
        huedose_json("colours", "tartrazine", "--view", "tub", "--depth", "10 in")
    )
    assert ladder["path_cm"] == pytest.approx(25.4)


def test_no_strength_is_clear_water(huedose_json: RunJson) -> None:
    _, ladder = one_ladder(
        huedose_json("colours", "butterfly-pea", "--ph", "7", "--strength", "0 /cm")
    )
    (one,) = ladder["swatches"]
    assert (one["word"], one["hex"]) == ("colourless", "#FFFFFF")
    assert one["visibility_delta_e"] == pytest.approx(0.0, abs=1e-6)


def test_another_light_is_another_colour(huedose_json: RunJson) -> None:
    _, day = one_ladder(huedose_json("colours", "butterfly-pea", "--ph", "7"))
    _, lamp = one_ladder(huedose_json("colours", "butterfly-pea", "--ph", "7", "--light", "A"))
    assert (day["light"], lamp["light"]) == ("D65", "A")
    assert day["swatches"][0]["lab"] != lamp["swatches"][0]["lab"]


def test_the_text_of_a_ladder(huedose: Run, huedose_json: RunJson) -> None:
    code, out, err = huedose("colours", "butterfly-pea", "--ph", "2,4,7", "--more")
    _, ladder = one_ladder(huedose_json("colours", "butterfly-pea", "--ph", "2,4,7"))
    assert (code, err) == (0, "")
    for one in ladder["swatches"]:
        (line,) = [line for line in out.splitlines() if one["hex"] in line]
        assert f"pH {one['ph']:.1f}" in line
        assert one["name"] in line
        assert (" * " in line) is not one["in_gamut"]


# ---------------------------------------------------------------- water


def test_a_reading_is_converted_as_the_units_are_defined(huedose_json: RunJson) -> None:
    code, water = huedose_json(
        "water", "--alkalinity", "120 ppm", "--hardness", "8 dH", "--ph", "7.6"
    )
    assert code == 0
    # mg/L as CaCO3, 100.087 g/mol: Standard Methods 2320 and 2340.
    assert water["alkalinity_meq_l"] == pytest.approx(120 / 100.087 * 2, rel=1e-4)
    # 1 degree is 10 mg/L CaO, 56.077 g/mol: DIN 38409-6.
    assert water["hardness_mmol_l"] == pytest.approx(8 * 10 / 56.077, rel=1e-4)
    assert water["ph"] == pytest.approx(7.6, abs=1e-6)
    assert set(water) >= {"totals_mol_kg", "assumptions", "warnings", "temperature_c"}


WATERS = (
    ("--alkalinity", "120 ppm", "--hardness", "8 dH", "--ph", "7.6"),
    ("--alkalinity", "7 gpg", "--hardness", "12 fH"),
    ("--hardness", "94 ppm", "--sodium", "200 mg/L"),
    ("--like", "soft"),
    ("--like", "very hard", "--ph", "7.1"),
    ("--like", "softened"),
)


@pytest.mark.parametrize("readings", WATERS, ids=" ".join)
def test_the_totals_are_electroneutral_at_the_reported_ph(
    readings: tuple[str, ...],
    cases: Callable[[str], Path],
    huedose: Run,
    huedose_json: RunJson,
) -> None:
    _, water = huedose_json("water", *readings)
    totals = water["totals_mol_kg"]
    charge = {"Na": 1, "K": 1, "Ca": 2, "Mg": 2, "Cl": -1, "SO4": -2, "NO3": -1}
    assert set(totals) - set(charge) == {"C"}
    # The strong ions leave what bicarbonate, carbonate and hydroxide carry: the alkalinity.
    strong_eq_kg = sum(totals[name] * charge[name] for name in totals if name != "C")
    assert strong_eq_kg * 1000 == pytest.approx(water["alkalinity_meq_l"] / 0.997, rel=2e-3)
    path = cases(
        ",".join(["temperature_c", *totals])
        + "\n"
        + ",".join(repr(one) for one in (water["temperature_c"], *totals.values()))
    )
    (row,) = solved(huedose, path)
    assert float(row["ph"]) == pytest.approx(water["ph"], abs=1e-6)


def test_typical_waters_stand_in_order(huedose_json: RunJson) -> None:
    found = [
        huedose_json("water", "--like", name)[1] for name in ("soft", "medium", "hard", "very hard")
    ]
    for key in ("hardness_mmol_l", "alkalinity_meq_l"):
        values = [one[key] for one in found]
        assert values == sorted(set(values))
    doses = [one["citric_acid_g_per_100_l"][0]["grams"] for one in found]
    assert doses == sorted(set(doses))


def test_a_reading_beats_the_typical_water(huedose_json: RunJson) -> None:
    _, typical = huedose_json("water", "--like", "medium")
    _, read = huedose_json("water", "--like", "medium", "--alkalinity", "40 ppm")
    assert read["hardness_mmol_l"] == typical["hardness_mmol_l"]
    assert read["alkalinity_meq_l"] == pytest.approx(40 / 100.087 * 2, rel=1e-4)


def test_a_lower_ph_takes_more_acid(huedose_json: RunJson) -> None:
    _, water = huedose_json("water", "--like", "medium")
    doses = [(one["ph"], one["grams"]) for one in water["citric_acid_g_per_100_l"]]
    assert [ph for ph, _ in doses] == sorted((ph for ph, _ in doses), reverse=True)
    assert [grams for _, grams in doses] == sorted({grams for _, grams in doses})


def test_the_text_of_a_water(huedose: Run) -> None:
    code, out, err = huedose("water", "--alkalinity", "120 ppm", "--hardness", "8 dH")
    assert (code, err) == (0, "")
    assert "alkalinity 120 ppm" in out
    assert "Hardness 143 ppm" in out
    assert "meq" not in out
    assert len(out.splitlines()) <= 15


# ---------------------------------------------------------------- recipe and the rest


@pytest.mark.slow
def test_the_blank_recipe_is_one(huedose: Run, huedose_json: RunJson, tmp_path: Path) -> None:
    code, text, err = huedose("recipe", "--blank")
    assert (code, err) == (0, "")
    assert tomllib.loads(text)["schema"] == 1
    assert parse_recipe(text).title == "My bath"
    path = tmp_path / "blank.toml"
    path.write_text(text, encoding="utf-8")
    code, plan = huedose_json("plan", path)
    assert code in {0, 3}
    assert plan["title"] == "My bath"


def test_every_line_of_the_blank_recipe_can_be_used(huedose: Run) -> None:
    _, text, _ = huedose("recipe", "--blank")
    hidden = [line[2:] for line in text.splitlines() if line.startswith("# ") and " = " in line]
    keys = {line.split(" = ")[0] for line in hidden}
    assert {"alkalinity", "hardness", "ph", "bathers", "target"} <= keys
    for line in hidden:
        tomllib.loads(line)


def test_the_schema_is_the_one_that_ships(huedose: Run) -> None:
    code, text, err = huedose("recipe", "--schema")
    assert (code, err) == (0, "")
    schema = json.loads(text)
    assert schema == json.loads(read_text("text/recipe.schema.json"))
    assert set(schema["properties"]) >= {"schema", "tub", "water", "colour", "activator", "wish"}


@pytest.mark.parametrize("demo", ["1", "2", "3", "4", "4-green", "5"])
def test_a_demo_is_a_recipe(demo: str, huedose: Run) -> None:
    code, text, err = huedose("recipe", "--demo", demo)
    assert (code, err) == (0, "")
    assert parse_recipe(text).title


def test_the_version_is_the_installed_one(huedose: Run) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("importlib.metadata.version", {"huedose": "9.8.7"}.__getitem__)
        assert huedose("--version") == (0, "huedose 9.8.7\n", "")


@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
@pytest.mark.parametrize("option", ["--help", "-h"])
def test_help_names_every_command(option: str, encoding: str, huedose: Run) -> None:
    code, out, err = huedose(option, encoding=encoding)
    assert (code, err) == (0, "")
    for command in ("plan", "brew", "card", "lab"):
        assert f" {command} " in out
    assert "Exit codes: 0" in out


def test_the_top_shows_few_commands(huedose: Run) -> None:
    _, out, _ = huedose("--help")
    assert len(re.findall(r"^│ [a-z]+  ", out, re.MULTILINE)) <= 14


@pytest.mark.parametrize("command", [room.__name__.split(".")[-1] for room in LAB])
def test_the_lab_s_name_may_be_left_out(command: str, huedose: Run) -> None:
    code, named, err = huedose("lab", command, "--help")
    assert (code, err) == (0, "")
    options = re.findall(r"--[a-z-]+", named)
    assert options
    assert options == re.findall(r"--[a-z-]+", huedose(command, "--help")[1])
    assert f" {command} " in huedose("lab", "--help")[1]


@pytest.mark.parametrize("command", ["plan", "colours", "water", "equilibrium", "recipe"])
def test_a_command_helps(command: str, huedose: Run) -> None:
    code, out, err = huedose(command, "--help")
    assert (code, err) == (0, "")
    assert f"Usage: huedose {command}" in out
    assert "--json" in out or command == "recipe"


def test_without_a_command_the_help_is_shown(huedose: Run) -> None:
    _, out, _ = huedose()
    assert "Usage: huedose" in out
