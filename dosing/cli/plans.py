"""A plan asked for and shown: for ``plan``, and for ``new``."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from dosing.bath.inputs import RecipeInputs
from dosing.cli.codes import NOT_MET
from dosing.cli.output import answer
from dosing.plan.answer import make_plan, preview
from dosing.plan.cautions import GIVEN, exit_code
from dosing.plan.households import PAST_LIMIT, Home, six_homes
from dosing.plan.records import Plan
from dosing.recipe import measured_dose
from dosing.recipe.quantities import InputError
from indicator.accepted import reason
from indicator.notes import say
from indicator.sheet import write_picture


@dataclass(frozen=True)
class PlanDocument:
    """Answer of ``plan`` and ``new``."""

    answer: Plan
    homes: tuple[Home, ...] | None = None
    """The maker's own home and five others, where they were asked for."""


@dataclass(frozen=True)
class Asked:
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

    def plan(self, inputs: RecipeInputs) -> Plan:
        """The plan of a recipe; raises InputError for what cannot be used."""
        reasons = {
            "accept_ph": reason("accept-ph", self.accept_ph),
            "accept_pouring": reason("accept-pouring", self.accept_pouring),
        }
        if self.dose is None:
            return make_plan(inputs, target=self.target, **reasons)
        if self.target is not None:
            raise InputError(say("cli.dose-and-target"), "dose", self.dose)
        measured, grams = measured_dose(inputs, self.dose)
        return preview(measured, grams, **reasons)


def show_plan(
    inputs: RecipeInputs, asked: Asked, picture: Path | None = None, *, as_json: bool
) -> int:
    """Plan a recipe, and show the plan.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    asked : Asked
        What is asked of it.
    picture : Path, optional
        Where a picture is written.
    as_json : bool
        Whether one document is printed.

    Returns
    -------
    int
        Exit code: 0, or `NOT_MET`.
    """
    plan = asked.plan(inputs)
    homes = six_homes(inputs, plan.dose_g.best, plan.wish, plan.accepted) if asked.homes else None
    if picture is not None:
        _draw(plan, homes, picture)

    def text() -> str:
        from dosing.words.templates import render

        told = render("plan", plan=plan, more=asked.more, cautions=asked.cautions, bare=False)
        return told if homes is None else told + render("homes", plan=plan, homes=homes)

    answer(PlanDocument(plan.to_pour(), homes), text, as_json=as_json, written=[picture])
    sour = any(home.verdict in PAST_LIMIT for home in homes or ())
    forbidden = exit_code(plan.cautions) != 0 or (inputs.wish.purpose in GIVEN and sour)
    return 0 if plan.reached and not forbidden else NOT_MET


def _draw(plan: Plan, homes: tuple[Home, ...] | None, picture: Path) -> None:
    if homes is None:
        from dosing.pictures.figures import draw_plan

        write_picture(draw_plan(plan), picture)
    else:
        from dosing.pictures.homes import draw_homes

        write_picture(draw_homes(plan, homes), picture)
