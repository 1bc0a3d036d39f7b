"""Sour infusions: their acid in the tub, in every possible tub, and in the designs with them."""

from __future__ import annotations

import numpy as np
import pytest

from dosing.assembly import assemble
from dosing.effects.answer import design_effects, wished_end
from dosing.effects.shelf import read_shelf
from dosing.effects.verdict import MOST_UNCOUNTED_ACID, OWN_ACID_TO_MENTION, uncounted_share
from dosing.inputs import RecipeInputs
from dosing.plan import make_plan
from dosing.recipe import parse_recipe
from dosing.uncertainty import possible_tubs

LANDING = """
schema = 1
[tub]
volume = "110 L"
volume_measured = true
[water]
alkalinity = "{alkalinity}"
hardness = "8 dH"
ph = 7.8
instrument = "drop kit"
temperature = "25 C"
[[colour]]
pigment = "roselle"
amount = "{amount} mL"
strength = "2 %"
[activator]
parts = {{ citric-acid-anhydrous = 1 }}
[wish]
bathers = "adult"
"""


def landing(alkalinity: str = "100 ppm", amount: float = 0.001) -> RecipeInputs:
    return parse_recipe(LANDING.format(alkalinity=alkalinity, amount=amount)).core()


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75])
def test_acid_of_roselle_takes_up_bicarbonate_as_a_textbook_has_it(share: float) -> None:
    """In closed bicarbonate water: pH = pK1 + log of bicarbonate over carbonic acid.

    pK1 = 6.35 at 25 degrees: Stumm and Morgan 1996, table 4.7.
    """
    meq = 100.0 / 50.04 * 110.0
    # 2.3 meq in each gram of calyces, 20 g in a litre of infusion.
    millilitres = 1000.0 * share * meq / (2.3 * 20.0)
    setting = assemble(landing(amount=millilitres))
    free_before = 10.0 ** (6.35 - 7.8)
    expected = 6.35 + np.log10((1.0 - share) / (share + free_before))
    assert float(setting.bath.solve().ph) == pytest.approx(expected, abs=0.07)
    (note,) = [one for one in setting.assumptions if one.code == "assume.colour.own-acid"]
    assert float(note.values["share"]) == pytest.approx(share, rel=0.05)


def test_brews_of_roselle_differ_in_every_possible_tub() -> None:
    sour, bare = (possible_tubs(landing(amount=amount)).setting.bath for amount in (1500.0, 0.001))
    brought = sour.totals["anion"] * sour.water_kg - bare.totals["anion"] * bare.water_kg
    # 30 g of calyces with 1.5 to 3.3 meq in each (nine of ten), 2.3 as a rule.
    assert np.mean(brought) == pytest.approx(30.0 * 2.3e-3, rel=0.01)
    assert np.std(brought) / np.mean(brought) == pytest.approx(1.8 / 3.29 / 2.3, rel=0.03)


def test_design_with_a_sour_infusion_is_the_plan_of_it_to_the_dose() -> None:
    found = design_effects(
        landing(),
        wished_end("blue", "start"),
        wished_end("pink", "end"),
        shelf=read_shelf("roselle, tartrazine, citric acid"),
        count=2,
        further=False,
    )
    assert found.designs
    for design in found.designs:
        plan = make_plan(design.inputs)
        assert plan.reached
        assert plan.dose_g.best == pytest.approx(design.dose_g, rel=1e-9)
        assert plan.ph_acid_side == pytest.approx(design.ph_acid_side)
        assert [one.message for one in plan.cautions] == [one.message for one in design.cautions]
        assert any(one.code == "design.note.own-acid" for one in design.notes)


def test_acid_that_no_bath_counts_is_never_much_in_a_design() -> None:
    """In soft water even the guessed acid of black carrot would turn the tub."""
    inputs = landing("10 ppm")
    found = design_effects(
        inputs,
        wished_end("blue", "start"),
        wished_end("violet", "end"),
        shelf=read_shelf("black carrot, red cabbage, citric acid"),
        count=4,
        further=False,
    )
    for design in found.designs:
        share = uncounted_share(design.inputs, assemble(design.inputs))
        assert share < MOST_UNCOUNTED_ACID
        noted = any(one.code == "design.note.own-acid-left-out" for one in design.notes)
        assert noted == (share >= OWN_ACID_TO_MENTION)
