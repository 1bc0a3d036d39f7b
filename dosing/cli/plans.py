"""A plan asked for and shown: for ``plan``, and for ``new``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from dosing.bath.inputs import RecipeInputs
from dosing.cli.given import NO_FILES, Files
from dosing.cli.output import answer
from dosing.cli.session import NOT_MET
from dosing.plan.answer import make_plan, preview, with_more_colour
from dosing.plan.cautions import GIVEN, exit_code
from dosing.plan.households import PAST_LIMIT, Home, six_homes
from dosing.plan.records import MoreColour, Plan
from dosing.recipe import measured_dose
from dosing.recipe.quantities import InputError
from indicator.accepted import reason
from indicator.notes import say

if TYPE_CHECKING:
    from matplotlib.figure import Figure


PLAN_LINES = 14
"""Lines of a default answer, at 80 columns."""


@dataclass(frozen=True)
class PlanDocument:
    """Answer of ``plan`` and ``new``."""

    answer: Plan
    homes: tuple[Home, ...] | None = None
    """The maker's own home and five others, where they were asked for."""
    more_colour: MoreColour | None = None
    """Colour that leads to a plan, where this one has too little for any."""


@dataclass(frozen=True)
class PlanWish:
    """Wish and reasons of a plan, as they were typed, and how much of it is shown."""

    target: str | None = None
    """A pH, a colour word or a hex colour; overrides the recipe's."""
    dose: str | None = None
    """Mass of activator with its unit: what it does, in place of a dose for a wish."""
    accept_ph: str | None = None
    accept_pouring: str | None = None
    homes: bool = False
    """Whether the same sachet is poured in six homes as well."""
    more: bool = False
    cautions: bool = False
    whose: str = ""
    """What names the recipe in the commands that the plan offers."""
    of_product: bool = False
    """Whether that is a product file."""

    def document(self, inputs: RecipeInputs) -> PlanDocument:
        """The plan of a recipe; raises InputError for what cannot be used."""
        reasons = {
            "accept_ph": reason("accept-ph", self.accept_ph),
            "accept_pouring": reason("accept-pouring", self.accept_pouring),
        }
        if self.dose is None:
            plan = make_plan(inputs, target=self.target, **reasons)
        elif self.target is not None:
            raise InputError(say("cli.dose-and-target"), "dose", self.dose)
        else:
            measured, grams = measured_dose(inputs, self.dose)
            plan = preview(measured, grams, **reasons)
        asked = plan.dose_g.best, plan.wish, plan.accepted
        homes = six_homes(inputs, *asked) if self.homes else None
        return PlanDocument(plan, homes, with_more_colour(inputs, plan, **reasons))

    def text(self, document: PlanDocument, *, whole: bool = False) -> str:
        """The plan in words.

        Parameters
        ----------
        document : PlanDocument
            Of this wish or dose; other homes are told in its place, and after it where more of it
            was asked for.
        whole : bool
            Whether all cautions stand in it whatever was asked for, as on paper.

        Returns
        -------
        str
            With the marks of `dosing.words.marks`.
        """
        from dosing.effects.gallery import effects_instead
        from dosing.words.templates import render, render_in

        plan, homes = document.answer, document.homes
        cautions = self.cautions or whole
        how = {"more": self.more, "cautions": cautions, "bare": whole, "whose": self.whose}
        how |= {"of_product": self.of_product}
        if homes is not None and not (self.more or cautions):
            return render("homes", plan=plan, homes=homes, alone=True, whose=self.whose)
        records = {"instead": effects_instead(plan), "more_colour": document.more_colour}
        # What only makes it surer or cheaper stands aside for what keeps people well.
        told = render_in(PLAN_LINES, "plan", plan=plan, **records, **how)
        if homes is None:
            return told
        return told + render("homes", plan=plan, homes=homes, alone=False, whose=self.whose)


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
