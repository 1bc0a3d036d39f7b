"""A plan asked for and shown: for ``plan``, and for ``new``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dosing.bath.inputs import RecipeInputs
from dosing.cli.given import NO_FILES, Files
from dosing.cli.output import answer
from dosing.cli.session import NOT_MET
from dosing.plan.cautions import GIVEN, exit_code
from dosing.plan.households import PAST_LIMIT, Home
from dosing.plan.records import Plan
from dosing.words.plans import PlanWish

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def show_plan(
    inputs: RecipeInputs, asked: PlanWish, files: Files = NO_FILES, *, as_json: bool
) -> int:
    """Plan a recipe, and show the plan.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    asked : PlanWish
        What is asked of it.
    files : Files
        What is written beside it.
    as_json : bool
        Whether one document is printed.

    Returns
    -------
    int
        Exit code: 0, or `NOT_MET`.
    """
    shown = asked.document(inputs)
    plan, homes = shown.answer, shown.homes
    if files.picture is not None:
        from dosing.pictures.sheets import write_picture

        write_picture(_picture(plan, homes, inputs), files.picture)
    if files.sheet is not None:
        from dosing.pictures.ribbon import draw_plan_head
        from dosing.pictures.sheets import write_sheet

        write_sheet(asked.text(shown, whole=True), draw_plan_head(plan), files.sheet, files.paper)
    answer(shown, lambda: asked.text(shown), as_json=as_json, written=files.written)
    sour = any(home.verdict in PAST_LIMIT for home in homes or ())
    forbidden = exit_code(plan.cautions) != 0 or (inputs.wish.purpose in GIVEN and sour)
    return 0 if plan.reached and not forbidden else NOT_MET


def _picture(plan: Plan, homes: tuple[Home, ...] | None, inputs: RecipeInputs) -> Figure:
    if homes is None:
        from dosing.pictures.shop import draw_shop, shown_plan

        return draw_shop(shown_plan(plan, foam=inputs.foam_bath is not None))
    from dosing.pictures.tubs import draw_homes

    return draw_homes(plan, homes)
