"""A batch brought to its pH: a maker's series, titrations by PHREEQC, and there and back."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from dosing.equilibrium import solve
from dosing.ingredients.molar_mass import molar_mass
from dosing.recipe.quantities import InputError
from dosing.workshop.adjust import AdjustAsked, Adjustment, BatchReading, adjust
from dosing.workshop.adjusters import adjuster_of

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "reference"))
from reference_csv import read_csv

CITRIC = adjuster_of("citric-acid")
KILOGRAM = 1000.0
SERIES = ((0.0, 8.6), (0.2, 7.74), (0.4, 6.51))
"""Citric acid [g per 100 g] and pH of a base of surfactants.

A formulator's page of December 2010, read at second hand.
"""


@cache
def adjusted(pairs: tuple[tuple[float, ...], ...], wished_ph: float) -> Adjustment:
    readings = tuple(BatchReading(*pair) for pair in pairs)
    return adjust(AdjustAsked(readings, wished_ph, CITRIC, CITRIC, KILOGRAM))


def test_two_readings_of_the_published_series_foretell_the_third() -> None:
    foretold = adjusted(SERIES[:2], 6.51)
    assert foretold.more_low_g <= 2.0 <= foretold.more_high_g
    assert foretold.more_g == pytest.approx(2.0, rel=0.2)
    # The straight line through the two asks 0.29 % where 0.20 % sufficed.
    assert foretold.straight_line_g == pytest.approx(1.23 / 0.86 * 2.0)
    assert foretold.straight_line_g > foretold.more_g
    assert not foretold.fitted


def test_a_straight_line_by_the_first_step_asks_more_than_the_fit_of_three() -> None:
    fit = adjusted(SERIES, 5.5)
    by_the_first_step = (8.6 - 5.5) / 0.86 * 2.0 - 4.0
    assert fit.fitted
    assert fit.more_g < by_the_first_step
    # "Base buffer about 61 meq/kg" was worked out from the same page, apart from this fit.
    assert fit.takes_up_meq_kg == pytest.approx(61.0, rel=0.15)


def test_the_first_portion_is_half_at_most() -> None:
    for count in (1, 2, 3):
        a = adjusted(SERIES[:count], 5.5)
        assert 0 < a.first_g <= min(a.more_g / 2.0, max(a.more_low_g, a.more_g / 4.0))
        assert a.first_ph_high > 5.5
        assert a.first_ph_low < a.first_ph_high


def own_base_ph(grams_kg: float) -> float:
    """A base of phosphate, acetate and salt, in the engine alone."""
    totals = {"phosphate": 0.02, "acetate": 0.015, "Na": 0.155, "Cl": 0.1}
    citrate = grams_kg / molar_mass("C6H8O7")
    return float(solve(totals | {"citrate": citrate}).ph)


def test_there_and_back_a_series_of_many_readings_finds_the_grams() -> None:
    grams = np.arange(0.0, 2.1, 0.5)
    pairs = tuple((gram / 10.0, own_base_ph(float(gram))) for gram in grams)
    wished = own_base_ph(3.0)
    found = adjusted(pairs, wished)
    assert found.more_low_g <= 1.0 <= found.more_high_g
    assert found.more_g == pytest.approx(1.0, abs=0.25)


def test_a_weak_solution_weighs_as_many_times_more() -> None:
    weak = adjuster_of("20 % citric solution")
    readings = tuple(BatchReading(*pair) for pair in SERIES)
    four_kg = AdjustAsked(readings, 5.5, CITRIC, weak, 4 * KILOGRAM)
    assert adjust(four_kg).more_g == pytest.approx(20.0 * adjusted(SERIES, 5.5).more_g, rel=1e-6)


def test_an_overshot_batch_goes_back_with_a_base() -> None:
    lye = adjuster_of("10 % sodium hydroxide")
    pairs = (*SERIES, (0.7, 5.0))
    readings = tuple(BatchReading(*pair) for pair in pairs)
    back = adjust(AdjustAsked(readings, 6.51, CITRIC, lye, KILOGRAM))
    # Between 6.51 and 5.0 the 3 g of citric acid gave off two to three protons each.
    sodium = back.more_g * 0.1 / molar_mass("NaOH")
    assert 2.0 < sodium / (3.0 / molar_mass("C6H8O7")) < 3.0
    assert "adjust.note.lye" in {note.code for note in back.notes}
    # Within the meter's error of the wish: some of the bases are there already.
    near = adjust(AdjustAsked(readings, 5.03, CITRIC, lye, KILOGRAM))
    assert near.more_low_g == 0.0
    assert near.more_high_g > near.more_g


MOVING = ((0.0, 8.6), (0.2, 7.52, 1 / 24), (0.2, 7.76, 1.0))


def test_drift_is_told_and_widens_the_range() -> None:
    still = adjusted(((0.0, 8.6), (0.2, 7.74, 1 / 24), (0.2, 7.76, 1.0)), 6.5)
    moving = adjusted(MOVING, 6.5)
    assert still.drift is not None
    assert not still.drift.moving
    assert moving.drift is not None
    assert moving.drift.moving
    assert moving.drift.moved == pytest.approx(0.24)
    assert moving.from_ph == still.from_ph == 7.76
    spans = [math.log(a.more_high_g / a.more_low_g) for a in (still, moving)]
    assert spans[1] > spans[0]
    codes = [{note.code for note in a.notes} for a in (still, moving)]
    assert "adjust.note.again" in codes[0]
    assert "adjust.note.moving" in codes[1]
    settled = adjusted((*SERIES, (0.4, 6.52, 7.0)), 5.5)
    assert not {note.code for note in settled.notes} & {"adjust.note.again", "adjust.note.moving"}


def test_readings_that_no_base_has_give_nothing() -> None:
    # As much acid moves it by 2.6, by nothing and by 2.5.
    found = adjusted(((0.0, 8.6), (0.2, 6.0), (0.4, 5.98), (0.6, 3.5)), 3.2)
    assert not found.consistent
    assert math.isnan(found.more_g)
    assert found.first_g == 0.0


BASES = read_csv("adjust_phreeqc.csv")


def held(bases: list[dict[str, str]], count: int) -> tuple[float, float, float]:
    """Share of bases whose true grams lie in the range; median errors of fit and line in logs."""
    inside, off, line = [], [], []
    for base in bases:
        pairs = tuple(
            (float(base[f"g_kg_{place}"]) / 10.0, float(base[f"read_ph_{place}"]))
            for place in range(count)
        )
        true = float(base["wished_g_kg"]) - 10.0 * pairs[-1][0]
        found = adjusted(pairs, float(base["wished_ph"]))
        inside.append(found.more_low_g <= true <= found.more_high_g)
        off.append(abs(math.log(max(found.more_g, 0.01) / true)))
        line.append(abs(math.log(abs(found.straight_line_g) / true)))
    return float(np.mean(inside)), float(np.median(off)), float(np.median(line))


@pytest.mark.slow
@pytest.mark.parametrize("count", [2, 3])
def test_titrations_by_phreeqc_lie_in_the_range_of_nine_in_ten(count: int) -> None:
    # PHREEQC 3 (USGS), minteq.v4 with Davies; made-up bases, readings off by 0.1.
    inside, off, line = held(BASES[:40], count)
    assert 0.80 <= inside <= 0.98
    assert off < line


@pytest.mark.slow
def test_bad_readings_get_one_sentence(huedose: Callable[..., tuple[int, str, str]]) -> None:
    cases = (
        (("0=8.6", "0.2=8.9"), "from 8.60 to 8.90 with more citric acid"),
        (("0=8.6", "0=8.7"), "two readings at the same time"),
        (("nonsense",), "'nonsense'"),
        (("0=1.2",), "1.2; accepted are 2.5"),
        (("0=8.6", "500=7.74"), "at most 50 g"),
        (("0=8.6", "--with", "sodium-hydroxide-10"), "did you mean 'sodium-hydroxide'"),
        ((), "at least one reading"),
        (("0=5.0", "--to", "6"), "--next"),
        (("0=8.6", "--to", "2"), "to is 2"),
        (("0=8.6", "--dyed", "--read-with", "strip"), "colour of its own"),
        (("0=8.6", "--with", "table-salt"), "moves no pH"),
        (("0=8.6", "--with", "citrik-acid"), "'citric-acid'"),
        (("0=8.6", "--batch", "4 L"), "batch"),
    )
    for arguments, told in cases:
        code, out, err = huedose("adjust", *arguments)
        assert (code, out) == (2, ""), arguments
        assert told in err, err
        assert err.count("\n") == 1


@pytest.mark.slow
def test_a_ph_that_did_not_move_is_doubted(huedose: Callable[..., tuple[int, str, str]]) -> None:
    _, still, _ = huedose("adjust", "0=8.6", "0.2=8.6")
    _, moved, _ = huedose("adjust", "0=8.6", "0.2=7.74")
    assert "Believe no amount here" in " ".join(still.split())
    assert "Believe no amount" not in " ".join(moved.split())


def test_stocks() -> None:
    assert adjuster_of("10 % naoh").mol_per_g["Na"] == pytest.approx(0.1 / 39.997, rel=1e-4)
    assert adjuster_of("baking soda").reaction == "base"
    assert adjuster_of("malic acid").label == "malic acid"
    with pytest.raises(InputError):
        adjuster_of("0 % citric acid")


@pytest.mark.slow
def test_every_branch_is_rendered_and_short(
    branches_missed: Callable[..., list[str]], huedose: Callable[..., tuple[int, str, str]]
) -> None:
    three, two, one = (adjusted(SERIES[:count], 5.5) for count in (3, 2, 1))
    drifted = adjusted(MOVING, 6.5)
    assert drifted.drift is not None
    nan = float("nan")
    cases = [
        *(three, two, one, drifted),
        replace(three, more_g=nan, more_high_g=nan, first_g=0.0),
        replace(three, more_high_g=nan),
        replace(three, consistent=False),
        replace(three, more_g=0.0, first_g=0.0),
        replace(three, more_g=0.004, first_g=0.0),
        replace(drifted, drift=replace(drifted.drift, from_days=0.0, moved=-0.01, moving=False)),
    ]
    contexts = [
        {"adjustment": case, "batch": "1 kg", "more": more}
        for case in cases
        for more in (False, True)
    ]
    assert branches_missed("adjust", contexts) == []
    _, out, _ = huedose(
        "adjust", "0=8.6", "0.2=7.5@1h", "0.2=7.76@24h", "--to", "6.5", COLUMNS="80"
    )
    assert len(out.splitlines()) <= 20
    code, out, _ = huedose("lab", "adjust", "0=8.6", "0.2=7.74", "--json")
    assert code == 0


def test_grams_for_a_kilogram_are_doubted(huedose: Callable[..., tuple[int, str, str]]) -> None:
    _, out, _ = huedose("adjust", "0=8.6", "2=7.74", "--to", "6.51")
    assert "Stir in" not in out
    assert "Add half" not in out
    # The published series typed as g/kg: ten times what any base of the table takes up.
    doubted = adjusted(((0.0, 8.6), (2.0, 7.74)), 6.51)
    assert doubted.takes_up_meq_kg > 100.0
    assert "adjust.note.much" in {note.code for note in doubted.notes}
    assert "adjust.note.much" not in {note.code for note in adjusted(SERIES[:2], 6.51).notes}
