"""A tap water in words: short, and every branch of its template."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from dosing.ingredients.tap import look_at
from dosing.ingredients.water import WaterReadings, tap_water
from dosing.words.templates import render
from indicator.notes import Note

LIMITS = {"child": 5.0, "adult": 4.5}


def test_every_branch_of_a_water_is_rendered(branches_missed: Callable[..., list[str]]) -> None:
    waters = [
        look_at(tap_water(WaterReadings(meq, ph))) for meq, ph in ((0.5, 7), (2, 7.9), (6, 8))
    ]
    soft, middling, hard = waters
    never = tuple(replace(dose, grams=None) for dose in soft.citric_acid_g_per_100_l)
    rests = replace(middling, calcite_saturation_index=np.zeros(()))
    looks = (*waters, rests, replace(hard, citric_acid_g_per_100_l=never))
    warning = Note("warn.water.imbalance", {"percent": 7.0, "side": "anions"})
    told = replace(soft, warnings=(warning,))
    cases: list[dict[str, Any]] = [{"water": look, "more": False} for look in looks]
    cases += [{"water": told, "more": True}]
    assert branches_missed("water", [{**case, "limits": LIMITS} for case in cases]) == []


def test_a_hardness_that_nobody_read_is_called_a_guess() -> None:
    for hardness, said in ((None, True), (1.5, False)):
        read = WaterReadings(2.4, 7.6, hardness)
        text = render("water", water=look_at(tap_water(read)), limits=LIMITS, more=False)
        assert ("guessed from the alkalinity" in text) is said
        assert ("(a guess), pH" in text) is said
        assert ("Hardness about" in text) is said
        assert "unless who pours it writes down why (--accept-ph)" in text
