"""The document of ``plan`` and ``new``, and its words in fourteen lines."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from dosing.bath.inputs import RecipeInputs
from dosing.plan.answer import make_plan, preview, with_more_colour
from dosing.plan.households import Home, six_homes
from dosing.plan.records import MoreColour, Plan
from dosing.recipe import measured_dose
from dosing.recipe.quantities import InputError
from dosing.words.templates import render, render_in
from dosing.workshop.product_file import ProductFile
from dosing.workshop.sachet_limit import most_on_scale_g, with_ends
from indicator.accepted import reason
from indicator.notes import say

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
    advised_g: float | None = None
    """Most that the recipe's own plan pours [g]; None where it is the answer, or pours none."""


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
    product: ProductFile | None = None
    """That of the file; its own sachets are poured where no wish or dose is typed."""

    @property
    def kit_g(self) -> float | None:
        """Activator in the sachets that are poured [g]; None where a wish or dose was typed."""
        if self.product is None or self.target is not None or self.dose is not None:
            return None
        return self.product.activator_g

    def document(self, inputs: RecipeInputs) -> PlanDocument:
        """The plan of a recipe; raises InputError for what cannot be used."""
        reasons = {
            "accept_ph": reason("accept-ph", self.accept_ph),
            "accept_pouring": reason("accept-pouring", self.accept_pouring),
        }
        if self.kit_g is not None:
            plan = with_ends(preview(inputs, self.kit_g, **reasons), inputs)
        elif self.dose is None:
            plan = make_plan(inputs, target=self.target, **reasons)
        elif self.target is not None:
            raise InputError(say("cli.dose-and-target"), "dose", self.dose)
        else:
            measured, grams = measured_dose(inputs, self.dose)
            plan = preview(measured, grams, **reasons)
        asked = plan.dose_g.best, plan.wish, plan.accepted
        homes = six_homes(inputs, *asked) if self.homes else None
        advised_g = None
        if plan.wish.kind == "dose":
            advised_g = self._most_g(inputs, reasons)
        more_colour = with_more_colour(inputs, plan, **reasons)
        return PlanDocument(plan, homes, more_colour, advised_g)

    def _most_g(self, inputs: RecipeInputs, reasons: Mapping[str, str | None]) -> float | None:
        """Most that the recipe's own plan or its product allows [g]; None where there is none."""
        if self.product is not None and self.product.activator_g:
            return most_on_scale_g(self.product) or None
        own = make_plan(inputs, **reasons)
        return own.never_over_g if own.pours and own.wish_met and own.reached else None

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

        plan, homes = document.answer, document.homes
        cautions = self.cautions or whole
        how = {"more": self.more, "cautions": cautions, "bare": whole, "whose": self.whose}
        how |= {"of_product": self.product is not None, "typed_dose": self.dose or ""}
        how |= {"advised_g": document.advised_g}
        how |= {"sachets": self.product.sachets_per_bath if self.product and self.kit_g else 0}
        if homes is not None and not (self.more or cautions):
            return render("homes", plan=plan, homes=homes, alone=True, whose=self.whose)
        records = {"instead": effects_instead(plan), "more_colour": document.more_colour}
        # What only makes it surer or cheaper stands aside for what keeps people well.
        told = render_in(PLAN_LINES, "plan", plan=plan, **records, **how)
        if homes is None:
            return told
        return told + render("homes", plan=plan, homes=homes, alone=False, whose=self.whose)
