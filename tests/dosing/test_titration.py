"""Titration curves of homes against a solve of each home: within 0.01 pH where they are sure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from dosing.bath.inputs import ActivatorInputs
from dosing.recipe import demo_recipe
from dosing.sachets.home_doses import Population, filled
from dosing.sachets.populations import draw_homes
from dosing.sachets.titration import titration_curves, tubs_at

HOMES = 1500
CITRIC = {"citric-acid-anhydrous": 1.0}
BUFFERED = {"citric-acid-anhydrous": 0.6, "trisodium-citrate": 0.4}


def homes(population: str, parts: dict[str, float]) -> Population:
    inputs = replace(demo_recipe("1"), activator=ActivatorInputs(parts))
    return filled(inputs, draw_homes(population, HOMES))


@pytest.mark.parametrize(
    ("population", "parts", "least_sure"),
    [
        ("denmark", CITRIC, 0.9),
        ("japan", CITRIC, 0.8),
        ("mixed", {"cream-of-tartar": 1.0}, 0.4),
        ("mixed", BUFFERED, 0.3),
    ],
)
def test_sure_curves_are_within_a_hundredth_of_a_solve(
    population: str, parts: dict[str, float], least_sure: float
) -> None:
    inside = homes(population, parts)
    curves = titration_curves(inside.bath, inside.per_gram, inside.start)
    assert np.mean(curves.sure) >= least_sure
    assert np.all(np.diff(curves.grams, axis=1) <= 0.0)
    rows = np.flatnonzero(curves.sure)[::3]
    tubs = tubs_at(inside.bath, rows)
    for grams_l in (0.03, 0.1, 0.3, 0.9):
        read = curves.ph_after(np.asarray(grams_l * inside.bath.volume_l))[rows]
        solved = tubs.with_activator(grams_l * tubs.volume_l, inside.per_gram).solve().ph
        on_curve = np.isfinite(read)
        assert np.abs(read - solved)[on_curve].max(initial=0.0) <= 0.01
    for ph in (6.6, 5.7, 5.0, 4.5):
        grams = curves.grams_to(np.full(HOMES, ph))[rows]
        poured = grams > 0.0
        solved = tubs.with_activator(np.where(poured, grams, 0.0), inside.per_gram).solve().ph
        assert poured.any()
        assert np.abs(solved - ph)[poured].max() <= 0.01


def test_many_homes_are_read_off_as_few_are_solved(monkeypatch: pytest.MonkeyPatch) -> None:
    solved = homes("mixed", CITRIC)
    monkeypatch.setattr("dosing.sachets.home_doses.WORTH_CURVES", 1)
    read = homes("mixed", CITRIC)
    grams = np.geomspace(0.5, 150.0, HOMES)
    assert np.abs(read.ph_after(grams) - solved.ph_after(grams)).max() <= 0.01
    # The bounds of what is counted, as the pH that they lead to; none is lost, none is won.
    for ph in (7.0, 5.7, 5.0, 4.5, np.nan):
        needed, exact = (inside.grams_to(np.full(HOMES, ph)) for inside in (read, solved))
        np.testing.assert_array_equal(np.isinf(needed), np.isinf(exact))
        np.testing.assert_array_equal(needed == 0.0, exact == 0.0)
        some = np.where(np.isinf(exact), 0.0, exact)
        off = solved.ph_after(np.where(np.isinf(needed), 0.0, needed)) - solved.ph_after(some)
        assert np.abs(off).max() <= 0.01
    # Limits stand at 3 and 5 meq/L; a strip of acid reserve is not read to a tenth.
    np.testing.assert_allclose(
        read.reserve_after(0.4 * grams), solved.reserve_after(0.4 * grams), atol=0.05, rtol=0.02
    )
    for reserve in (3.0, 5.0):
        np.testing.assert_allclose(
            read.grams_to_reserve(reserve), solved.grams_to_reserve(reserve), rtol=0.01
        )


def test_a_curve_ends_where_no_dose_was_tried() -> None:
    inside = homes("mixed", {"cream-of-tartar": 1.0})
    curves = titration_curves(inside.bath, inside.per_gram, inside.start)
    # Saturated potassium hydrogen tartrate is the pH 3.557 standard at 25 C; nothing goes below.
    assert curves.ph[0] > 3.5
    assert np.isnan(curves.grams_to(np.full(HOMES, 3.0))).all()
    assert np.isinf(inside.grams_to(np.full(HOMES, 3.0))).all()
