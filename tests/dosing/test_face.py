"""The Python face: a tub by a word or two, its answers short to look at and whole to work with."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import dosing
import indicator
from dosing import Tub, demo_recipe, make_plan, preview
from dosing.face import Answer
from dosing.recipe import demo_text


def test_packages_show_their_public_names() -> None:
    assert dir(dosing) == sorted(dosing.__all__)
    assert dir(indicator) == sorted(indicator.__all__)
    for package in (dosing, indicator):
        assert all(getattr(package, name) is not None for name in dir(package))


def test_a_tub_answers_as_the_functions_do() -> None:
    soak = Tub.demo()
    assert soak.inputs == demo_recipe(1)
    plan = make_plan(soak.inputs, target="5.8")
    for target in (5.8, "5.8"):
        assert soak.plan(target=target).plan.dose_g == plan.dose_g
        assert soak.plan(target=target).plan.after.ph == plan.after.ph
    twelve = preview(soak.inputs, 12.0)
    for dose in ("12 g", 12.0):
        assert soak.pour(dose).plan.after.ph == twelve.after.ph


def test_a_spoonful_is_less_sure_than_the_same_grams_on_a_scale() -> None:
    soak = Tub.demo()
    spooned = soak.pour("2 tsp").plan
    weighed = soak.pour(spooned.dose_g.best).plan
    # Two spoons of 4.92892 mL (NIST Handbook 44) at 0.85 g/mL: the same acid, less well known.
    assert spooned.dose_g.best == weighed.dose_g.best == pytest.approx(8.379, abs=1e-3)
    assert spooned.after.ph == weighed.after.ph
    assert spooned.ph_acid_side < weighed.ph_acid_side - 0.01
    assert spooned.ph_alkaline_side > weighed.ph_alkaline_side + 0.01


@pytest.mark.slow
def test_a_tub_with_other_readings_leaves_the_first_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "soak.toml"
    path.write_text(demo_text(1), encoding="utf-8")
    soak = Tub.load(path)
    harder = soak.with_(volume="200 L", alkalinity="240 ppm", water={"ph": 7.2})
    assert harder.inputs.tub.volume_l == 200.0
    # 50.04 mg CaCO3 per meq: half the molar mass of 100.09 g/mol.
    assert harder.inputs.water.alkalinity_meq_l == pytest.approx(240 / 50.04, rel=1e-3)
    assert harder.inputs.water.ph == 7.2
    assert soak.inputs == demo_recipe(1)
    assert harder.plan(target=5.8).plan.dose_g.best > soak.plan(target=5.8).plan.dose_g.best


@pytest.mark.parametrize(
    ("readings", "sentence"),
    [
        ({"ph": 7.0}, "ph stands in water and foam_bath"),
        ({"volum": "100 L"}, "did you mean 'volume'"),
        ({"volume": "100 kg"}, "volume"),
        ({"bathers": "dog"}, "bathers is 'dog'"),
    ],
)
def test_readings_that_cannot_be_used(readings: dict[str, object], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        Tub.demo().with_(**readings)


@pytest.mark.parametrize("which", ["1", "2", "3", "4", "5"])
def test_an_answer_is_short_to_look_at(which: str) -> None:
    shown = repr(Tub.demo(which).plan())
    assert shown.count("\n") < 12
    assert "pH" in shown


def test_a_forbidden_answer_shows_no_dose() -> None:
    child = Tub.demo().with_(bathers="child", child_age="18 months")
    shown = repr(child.plan())
    assert "stop" in shown
    assert "Pour 1" not in shown


def test_an_answer_is_whole_to_work_with() -> None:
    answer: Answer = Tub.demo().plan(target=5.8)
    found = json.loads(json.dumps(answer.to_dict()))
    assert found["dose_g"]["best"] == pytest.approx(answer.plan.dose_g.best)
    assert "12" in answer.text()
    assert answer._repr_png_().startswith(b"\x89PNG")
    ribbon = answer.to_frame()
    np.testing.assert_allclose(ribbon["grams"], answer.plan.ribbon.grams)
