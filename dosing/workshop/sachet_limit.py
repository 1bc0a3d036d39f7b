"""Sachets of a product: the most that they may hold, as the plan has it, and what they do."""

from __future__ import annotations

from dataclasses import replace

from dosing.bath.inputs import RecipeInputs
from dosing.ingredients.powders import scale_floor_g, scale_step
from dosing.plan.answer import make_plan
from dosing.plan.case import Case, case
from dosing.plan.cautions import GIVEN
from dosing.plan.choosing import chosen, given
from dosing.plan.levels import LEVELS
from dosing.plan.odds import named_odds
from dosing.plan.pouring import HALVINGS, most_at_once
from dosing.plan.records import Plan, Wish
from dosing.plan.rules import verdicts
from dosing.plan.telling import weighed
from dosing.workshop.product_file import ProductFile

MIND = LEVELS.index("mind")
FAR = 4.0
"""Times a sachet's content up to which its limit is looked for."""


def most_in_bath_g(file: ProductFile) -> float:
    """Most activator for one bath of the directions, as the plan has it [g].

    Where the plan lays out no dose it is what may be poured at once, unseen. What is given or sold
    may also not be more than what the same grams do in other homes allows.
    """
    known = case(file.recipe).asked(None, None, None)
    wish = Wish.written(file.recipe.wish.target)
    # The lower of two plans counts at a home whose water was learnt.
    learnt = file.recipe.learnt is not None
    planned = make_plan(file.recipe) if learnt else weighed(known, wish, chosen(known, wish))
    most_g = planned.maximum_g
    if file.activator_g is None:
        return most_g
    if most_g <= 0:
        far_g = FAR * file.activator_g
        most_g = most_at_once(known.possible, 0.0, far_g, known.bathers, MIND)
    return _most_passed_on_g(known, file, most_g) if file.purpose in GIVEN else most_g


def _most_passed_on_g(known: Case, file: ProductFile, most_g: float) -> float:
    """Most that the bath's verdict for the file's purpose allows, up to `most_g` [g]."""
    # What a market's law says of the colour is the same at every dose.
    nowhere = replace(known.inputs, wish=replace(known.inputs.wish, market="other"))

    def passes(grams: float) -> bool:
        poured = weighed(known, Wish("dose", ""), given(known, grams))
        situation = replace(poured.everywhere, inputs=nowhere)
        return verdicts(situation).of(file.purpose).allowed

    if passes(most_g):
        return most_g
    low, high = 0.0, most_g
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if passes(middle) else (low, middle)
    return low


def most_on_scale_g(file: ProductFile) -> float:
    """`most_in_bath_g` as a scale shows it, never rounded up [g]."""
    most_g = most_in_bath_g(file)
    return scale_floor_g(most_g, scale_step(most_g))


def with_ends(plan: Plan, inputs: RecipeInputs) -> Plan:
    """The preview of a dose with the colour word that most such tubs end in.

    Parameters
    ----------
    plan : Plan
        As `dosing.plan.answer.preview` gives it, which leaves that open.
    inputs : RecipeInputs
        Of that preview.

    Returns
    -------
    Plan
    """
    known = case(inputs).asked(None, None, None)
    choice, word = given(known, plan.dose_g.best), str(plan.after.colour.word)
    return replace(plan, odds=named_odds(choice.odds, known.possible, word, choice.pouring))
