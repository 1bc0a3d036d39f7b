"""The plan: the wish, the tub, its possible twins and the cautions brought to one answer."""

from __future__ import annotations

import math
from dataclasses import replace

from dosing.bath.inputs import ColourInputs, RecipeInputs
from dosing.bath.learnt_home import LearntHome
from dosing.plan.case import Case
from dosing.plan.case import case as _case
from dosing.plan.choosing import chosen, given
from dosing.plan.levels import LEVELS
from dosing.plan.records import MoreColour, Plan, Wish
from dosing.plan.telling import told
from indicator.accepted import number, of_kind

LARGEST_DOSE_G = 20_000.0
"""Keeps a mistaken unit out."""
MORE_THAN_LEAST = (2.5, 1.25)
"""Times the least colour that shows at the limit, tried in turn: tubs are poured less sour than
that, and the more colour the surer."""


def make_plan(
    inputs: RecipeInputs,
    *,
    target: str | None = None,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
) -> Plan:
    """Dose, colours and cautions for a recipe.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    target : str, optional
        A pH, a colour word or a hex colour; overrides the recipe's.
    accept_ph : str, optional
        Why a pH that needs a written reason is accepted.
    accept_pouring : str, optional
        Why dry powder is tipped in beside an adult.

    Returns
    -------
    Plan
        Dose [g], pH, colours, caution levels and verdicts; `ok` tells whether it may be poured and
        comes out as wished.

    Raises
    ------
    ValueError
        If the target is none of these, or a name in the recipe is unknown.
    """
    of_kind("inputs", inputs, RecipeInputs)
    wish = Wish.written(target if target is not None else inputs.wish.target)
    return answer(_case(inputs), wish, accept_ph=accept_ph, accept_pouring=accept_pouring)


def without_activator(
    inputs: RecipeInputs, *, accept_ph: str | None = None, accept_pouring: str | None = None
) -> Plan:
    """The bath before any activator; whether it may be given and sold is that of its own plan.

    Parameters
    ----------
    inputs : RecipeInputs
        Recipe in core units.
    accept_ph, accept_pouring : str, optional
        Written reasons, as `make_plan` takes them.

    Returns
    -------
    Plan
        Of a dose of 0 g.
    """
    reasons = {"accept_ph": accept_ph, "accept_pouring": accept_pouring}
    bare, whole = preview(inputs, 0.0, **reasons), make_plan(inputs, **reasons)
    passed_on = {"give": whole.verdicts.give, "sell": whole.verdicts.sell}
    return replace(bare, verdicts=replace(bare.verdicts, **passed_on))


def preview(
    inputs: RecipeInputs,
    dose_g: float,
    *,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
) -> Plan:
    """Colours and cautions of a given dose, poured at once.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    dose_g : float
        Activator for the whole tub [g].
    accept_ph, accept_pouring : str, optional
        As in `make_plan`.

    Returns
    -------
    Plan
        As `make_plan`, with the given dose as its aim.

    Raises
    ------
    ValueError
        If the dose is negative or not finite, or a name in the recipe is unknown.
    """
    of_kind("inputs", inputs, RecipeInputs)
    number("dose_g", dose_g, 0.0, LARGEST_DOSE_G)
    return answer(_case(inputs), dose_g, accept_ph=accept_ph, accept_pouring=accept_pouring)


def answer(
    case: Case,
    asked: Wish | float,
    *,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
) -> Plan:
    """Dose, colours and cautions for one wish, or for one dose, of a recipe worked out once.

    Parameters
    ----------
    case : Case
        Of `dosing.plan.case.case`; it may be asked again and again.
    asked : Wish or float
        What is wished, or the dose that is poured at once [g].
    accept_ph, accept_pouring : str, optional
        As in `make_plan`.

    Returns
    -------
    Plan
        The answer for this tub.
    """
    plan = _answer(case, asked, accept_ph, accept_pouring)
    learnt = case.inputs.learnt
    if learnt is None or not learnt.held:
        return plan
    lower = _answer(_released(case.inputs, learnt), asked, accept_ph, accept_pouring)
    return plan if _milder(lower, plan) else lower


def _answer(
    case: Case, asked: Wish | float, accept_ph: str | None, accept_pouring: str | None
) -> Plan:
    if isinstance(asked, Wish):
        case = case.asked(asked.ph, accept_ph, accept_pouring)
        return told(case, asked, chosen(case, asked))
    case = case.asked(None, accept_ph, accept_pouring)
    return told(case, Wish("dose", f"{asked:g} g"), given(case, asked))


def _released(inputs: RecipeInputs, learnt: LearntHome) -> Case:
    """The case that follows what was learnt up and down; only its lower doses are used."""
    notes = (*inputs.as_read.assumptions, learnt.note("lower"))
    return _case(replace(inputs, learnt=replace(learnt, held=False), assumptions=notes))


def _milder(plan: Plan, other: Plan) -> bool:
    """Whether a plan lets more be poured than another, in all, at first or by its cautions."""
    if plan.maximum_g > other.maximum_g or _heaviest(plan) < _heaviest(other):
        return True
    return bool(plan.pours) and plan.pours[0].total_g > max(
        (pour.total_g for pour in other.pours[:1]), default=0.0
    )


def _heaviest(plan: Plan) -> int:
    return LEVELS.index(plan.verdicts.pour.level)


def with_more_colour(
    inputs: RecipeInputs,
    plan: Plan,
    *,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
) -> MoreColour | None:
    """Amounts of colour that lead to a plan that may be poured, where a recipe has too little.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    plan : Plan
        Its plan.
    accept_ph, accept_pouring : str, optional
        As in `make_plan`.

    Returns
    -------
    MoreColour or None
        None where no such plan is known, or where more colour is not what is missing.
    """
    weak = (note for note in plan.needed if note.code == "needed.stronger")
    factor = next((float(note.values["factor"]) for note in weak), None)
    if plan.wish_met or factor is None:
        return None
    for times in MORE_THAN_LEAST:
        colours = tuple(_more_of(colour, factor * times) for colour in inputs.colours)
        more = make_plan(
            replace(inputs, colours=colours),
            target=plan.wish.text or None,
            accept_ph=accept_ph,
            accept_pouring=accept_pouring,
        )
        if more.wish_met and more.pours:
            moved = tuple(colour.held_in != "own bottle" for colour in inputs.colours)
            share, level = more.odds.clear_share, more.verdicts.pour.level
            return MoreColour(more.colours, share, level, moved)
    return None


def _more_of(colour: ColourInputs, times: float) -> ColourInputs:
    """So many times a colour, up to two figures; what was in the foam bath goes in beside it."""
    step = 10.0 ** (math.floor(math.log10(times * colour.amount)) - 1)
    amount = math.ceil(times * colour.amount / step) * step
    times = amount / colour.amount
    if colour.held_in == "own bottle":
        volume_l = times * colour.volume_l
        return replace(colour, content=times * colour.content, amount=amount, volume_l=volume_l)
    return replace(
        colour,
        content=times * colour.content,
        amount=amount,
        volume_l=amount / 1000.0,
        held_in="own bottle",
        preserved=False,
    )
