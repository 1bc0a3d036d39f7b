"""A row of jars for a class: doses that hands can measure, and the colours that they give."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dosing.bottle.rainbow import USUAL_STOCKS, Rainbow, StockSolution, filled_jar, rainbow
from dosing.equilibrium import solve
from dosing.ingredients.powders import per_gram
from dosing.ingredients.water import WaterReadings
from dosing.recipe import demo_recipe
from indicator.appearance import delta_e
from indicator.ladders import shown_strength
from indicator.optics import jar_view
from indicator.pigments import colourant
from indicator.words import colour_family, describe

Run = Callable[..., tuple[int, str, str]]
RunJson = Callable[..., tuple[int, dict[str, Any]]]
REFERENCE = Path(__file__).resolve().parents[1] / "reference"
WASHING = (StockSolution("citric-acid-anhydrous", 2.5), StockSolution("sodium-carbonate", 2.0))
# Formula masses from IUPAC atomic weights (2021): citric acid C6H8O7, Na2CO3.
CITRIC, CARBONATE = 192.12, 105.99


def row(
    count: int = 12, stocks: tuple[StockSolution, ...] = WASHING, name: str = "red-cabbage"
) -> Rainbow:
    which, view = colourant(name), jar_view()
    return rainbow(demo_recipe(1), {which: shown_strength(which, view)}, count, view, stocks)


def test_every_jar_has_the_ph_of_what_goes_into_it() -> None:
    # Solved afresh from the water of the jar without stock and moles by formula, in 0.2 L.
    made = row()
    plain = next(jar for jar in made.jars if jar.answer.stock is None)
    assert plain.answer.ph == pytest.approx(made.plain_ph, abs=1e-9)
    bath = filled_jar(demo_recipe(1), made.ladder.strengths).bath
    kilograms = float(bath.water_kg)
    assert kilograms == pytest.approx(0.2, rel=0.005)
    for jar in made.jars:
        dose, totals = jar.answer, {key: float(value) for key, value in bath.totals.items()}
        if dose.stock is not None:
            grams = dose.millilitres * dose.stock.percent / 100.0
            if dose.stock.reaction == "acid":
                totals["citrate"] = totals.get("citrate", 0.0) + grams / CITRIC / kilograms
            else:
                moles = grams / CARBONATE / kilograms
                totals["Na"] += 2 * moles
                totals["C"] += moles
        # The powders are 99.5 % and more; 0.02 is what half a per cent of a powder does at most.
        assert dose.ph == pytest.approx(float(solve(totals, 20.0).ph), abs=0.02)


def test_jars_are_in_even_steps_of_colour_from_sour_to_alkaline() -> None:
    made = row(10)
    ph = [jar.answer.ph for jar in made.jars]
    assert (len(ph), ph) == (10, sorted(ph))
    lab = made.ladder.colours.lab
    steps = delta_e(lab[1:], lab[:-1])
    # A drop cannot be halved, so that they are even to within a half.
    np.testing.assert_allclose(steps, steps.mean(), rtol=0.5)
    by_ph = np.ptp(np.diff(ph)) / np.mean(np.diff(ph))
    assert by_ph > 2 * np.ptp(steps) / steps.mean()
    assert made.families == ("pink", "purple", "blue", "teal", "green")


def test_what_hands_measure() -> None:
    for jar in row(30, USUAL_STOCKS).jars:
        dose = jar.answer
        if dose.drops:
            # Twenty drops are a millilitre (the pharmacopoeia's dropper).
            assert dose.millilitres == pytest.approx(0.05 * dose.drops)
            assert dose.drops <= 40
        else:
            assert (2.0 * dose.millilitres) % 1.0 == pytest.approx(0.0, abs=1e-9)
        assert (dose.stock is None) == (dose.millilitres == 0.0)


def test_baking_soda_ends_where_bicarbonate_does() -> None:
    # Kitchen chemistry: a solution of baking soda has pH 8.3 (trade_kitchen_ph.csv).
    assert 8.0 < row(12, USUAL_STOCKS).jars[-1].answer.ph < 8.4
    assert row(12, WASHING).jars[-1].answer.ph > 10.5


def test_a_row_keeps_within_the_ph_that_is_asked_for(huedose_json: RunJson) -> None:
    _, found = huedose_json("colours", "red-cabbage", "--jars", "6", "--ph", "4,7")
    ph = [jar["ph"] for jar in found["rainbow"]["jars"]]
    assert 4.0 <= ph[0] < 4.3
    assert 6.7 < ph[-1] <= 7.0


def test_what_is_made_is_enough_for_all_jars() -> None:
    made = row(24)
    for solution in made.solutions:
        used = sum(d.millilitres for d in made.doses if d.stock == solution.answer)
        assert used < solution.millilitres <= 1.2 * used + 50
        assert solution.grams == pytest.approx(solution.millilitres * solution.answer.percent / 100)
    assert made.brew_total_ml >= 24 * made.brew_ml
    assert [step.minute for step in made.script] == sorted({step.minute for step in made.script})


def test_magenta_is_a_pink_to_people() -> None:
    # ISCC-NBS (Kelly and Judd 1976) puts magenta among reddish purples and purplish reds.
    words = ["purple", "red", "purple", "violet", "green"]
    names = ["strong reddish purple", "vivid purplish red", "deep purple", "light violet", "green"]
    assert colour_family(words, names).tolist() == ["pink", "pink", "purple", "purple", "green"]
    magenta = np.array([50.0, 60.0, -20.0])
    assert str(describe(magenta)) != ""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("options", "parts"),
    [
        (["--jars", "1"], ["jars is 1", "accepted are 2 to"]),
        (["--jars", "9", "--stock", "salt"], ["stock is 'salt'", "citric acid 5 %"]),
        (["--jars", "9", "--stock", "baking soda 50 %"], ["baking soda 50 %", "0 to 9"]),
        (["--jars", "9", "--stock", "citrc acid 5 %"], ["citrc-acid", "citric-acid"]),
        (["--jars", "9", "--stock", "epsom salt 5 %"], ["neither acid nor base"]),
        (["--jars", "9", "--view", "tub"], ["no tub"]),
        (["--stock", "citric acid 5 %"], ["--jars"]),
        (["--jars", "9", "--ph", "9,10"], ["no drops of these solutions"]),
    ],
    ids=str,
)
def test_what_makes_no_row_is_told_in_one_sentence(
    huedose: Run, options: list[str], parts: list[str]
) -> None:
    code, out, err = huedose("colours", "red-cabbage", *options)
    assert (code, out, err.count("\n")) == (2, "", 1)
    for part in parts:
        assert part in err


def test_many_jars_have_their_ph_a_size_of_a_drop_and_an_end(huedose: Run) -> None:
    _, out, _ = huedose("colours", "butterfly-pea", "--jars", "24", COLUMNS="80")
    assert len(re.findall(r"pH \d+\.\d ", out)) == 24
    # The pharmacopoeia's dropper.
    assert "20 drops: 1 mL." in out
    assert "then down the sink" in out
    assert len(out.splitlines()) <= 20


def test_the_lesson(huedose: Run, huedose_json: RunJson) -> None:
    command = ("colours", "butterfly-pea+tartrazine", "--jars", "10")
    _, found = huedose_json(*command, "--stock", "citric acid 5 %", "--stock", "washing soda 2 %")
    _, out, _ = huedose(*command, "--stock", "washing soda 2 %", "--more", COLUMNS="80")
    assert "goggles" in out
    assert "Not to drink, not to bathe in." in out
    assert "Lesson: 35 minutes, 10 jars" in out
    # Nobody bathes in a jar: no caution of a tub.
    for word in ("bleach", "rinse, drain", "empty tub"):
        assert word not in out
    made = found["rainbow"]
    assert [jar["number"] for jar in made["jars"]] == list(range(1, 11))
    keys = "stock drops millilitres ph hex family word name"
    assert set(keys.split()) <= set(made["jars"][0])
    assert [brew["kind"] for brew in made["brews"]] == ["pigment", "dye"]
    assert found["ladders"][0]["swatches"][0]["ph"] == made["jars"][0]["ph"]
    _, default, _ = huedose("colours", "red-cabbage", "--jars", "10")
    assert "goggles" not in default


@pytest.mark.slow
def test_jars_have_the_ph_that_phreeqc_finds() -> None:
    with (REFERENCE / "rainbow_phreeqc.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    assert len(rows) == 33
    for one in rows:
        water = WaterReadings(
            alkalinity_meq_l=float(one["alkalinity_meq_l"]),
            hardness_mmol_l=float(one["hardness_mmol_l"]),
            ph=float(one["tap_ph"]),
        )
        recipe = replace(demo_recipe(1), water=water)
        bath = filled_jar(recipe, {colourant("butterfly-pea"): 0.1}).bath
        found = float(bath.with_activator(float(one["grams"]), per_gram(one["powder"])).ph)
        assert found == pytest.approx(float(one["ph"]), abs=float(one["tolerance"])), one


@pytest.mark.slow
def test_a_colour_that_dies_in_soda_is_named_and_alike_neighbours_are_counted() -> None:
    ((label, minutes),) = row(name="turmeric").soon_gone
    # Curcumin in buffer near pH 8 is half gone within minutes (rates and sources: fading.csv).
    assert label == "turmeric"
    assert 0.5 < minutes < 10.0
    assert row().soon_gone == ()
    # Baking soda ends near pH 8: most of 24 neighbours are one purple or one blue.
    assert row(24, USUAL_STOCKS).alike > 6
    assert row(4, USUAL_STOCKS).alike == 0
