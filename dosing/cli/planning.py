"""``plan``, ``preview`` and ``recipe``."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dosing.bath.inputs import RecipeInputs
from dosing.cli.codes import NOT_MET
from dosing.cli.output import Page, show
from dosing.cli.outputs import check_free
from dosing.cli.own_files import known_pigments
from dosing.plan.answer import make_plan, preview
from dosing.plan.cautions import GIVEN, exit_code
from dosing.plan.households import PAST_LIMIT, Home, six_homes
from dosing.plan.records import Plan
from dosing.recipe import (
    blank_recipe,
    demo_names,
    demo_tables,
    demo_text,
    load_tables,
    measured_dose,
    recipe_from,
    recipe_schema,
)
from dosing.recipe.quantities import InputError
from dosing.words.plan import homes_lines, plan_lines
from indicator.accepted import reason
from indicator.notes import say
from indicator.sheet import PICTURE_ENDINGS, write_picture


@dataclass(frozen=True)
class PlanDocument:
    """Answer of ``plan``, ``preview`` and ``new``."""

    answer: Plan
    homes: tuple[Home, ...] | None = None
    """The maker's own home and five others, where they were asked for."""


def run_plan(
    *,
    recipe: Path | None,
    demo: str | None = None,
    target: str | None = None,
    accept_ph: str | None = None,
    accept_pouring: str | None = None,
    homes: bool = False,
    picture: Path | None = None,
    as_json: bool,
) -> int:
    """Plan a recipe and show the plan.

    Parameters
    ----------
    recipe : Path or None
        A recipe file.
    demo : str, optional
        Name of a demo.
    target : str, optional
        A pH, a colour word or a hex colour; overrides the recipe's.
    accept_ph, accept_pouring : str, optional
        Written reasons, as `dosing.plan.answer.make_plan` takes them.
    homes : bool
        Whether the same sachet is poured in six homes as well.
    picture : Path, optional
        Where a picture is written.
    as_json : bool
        Whether one document is printed.

    Returns
    -------
    int
        Exit code: 0, or `NOT_MET`.
    """
    check_picture(picture)
    inputs = recipe_of(recipe, demo)
    plan = make_plan(
        inputs,
        target=target,
        accept_ph=reason("accept-ph", accept_ph),
        accept_pouring=reason("accept-pouring", accept_pouring),
    )
    if not homes:
        return _shown(plan, picture, as_json=as_json)
    each = six_homes(inputs, plan.dose_g.best, plan.wish, plan.accepted)
    if picture is not None:
        from dosing.pictures.homes import draw_homes

        write_picture(draw_homes(plan, each), picture)
    lines = homes_lines(plan, each, inputs.wish.purpose)
    show(PlanDocument(plan.to_pour(), each), lines, picture, as_json=as_json)
    too_sour = inputs.wish.purpose in GIVEN and any(home.verdict in PAST_LIMIT for home in each)
    return NOT_MET if too_sour else _code(plan)


def run_preview(
    *,
    recipe: Path | None,
    demo: str | None,
    dose: str,
    accept_ph: str | None,
    accept_pouring: str | None,
    picture: Path | None,
    as_json: bool,
) -> int:
    """Show what a given dose does.

    Parameters
    ----------
    recipe : Path or None
        A recipe file.
    demo : str or None
        Name of a demo.
    dose : str
        Mass of activator, with a unit.
    accept_ph, accept_pouring : str or None
        Written reasons, as `dosing.plan.answer.make_plan` takes them.
    picture : Path or None
        Where a picture is written.
    as_json : bool
        Whether one document is printed.

    Returns
    -------
    int
        Exit code: 0, or `NOT_MET`.
    """
    check_picture(picture)
    inputs, grams = measured_dose(recipe_of(recipe, demo), dose)
    plan = preview(
        inputs,
        grams,
        accept_ph=reason("accept-ph", accept_ph),
        accept_pouring=reason("accept-pouring", accept_pouring),
    )
    return _shown(plan, picture, as_json=as_json)


def run_recipe(*, blank: bool, schema: bool, demo: str | None) -> None:
    """Print a recipe to fill in, its schema, or a demo.

    Parameters
    ----------
    blank, schema : bool
        Whether the empty recipe, or the schema, is printed.
    demo : str or None
        Name of the demo that is printed.
    """
    chosen = [blank, schema, demo is not None]
    if sum(chosen) != 1:
        raise InputError(say("cli.recipe-choice"))
    if schema:
        text = json.dumps(recipe_schema(), indent=2)
    else:
        text = blank_recipe() if demo is None else demo_text(demo)
    page = Page()
    sys.stdout.write("".join(f"{page.fit(line)}\n" for line in text.rstrip("\n").split("\n")))


def check_picture(picture: Path | None, endings: Sequence[str] = PICTURE_ENDINGS) -> None:
    """Refuse a picture that cannot be written before anything is computed.

    Parameters
    ----------
    picture : Path, optional
        Where it is to be written.
    endings : sequence of str
        Accepted endings, with their points.

    Raises
    ------
    InputError
        If the ending is none of those, the folder does not exist or the file does.
    """
    if picture is None:
        return
    if picture.suffix.lower() not in endings:
        raise InputError(say("cli.picture-ending", {"file": str(picture)}), "picture")
    if picture.is_dir() or not picture.parent.is_dir():
        raise InputError(say("cli.picture-folder", {"file": str(picture)}), "picture")
    check_free(picture, "picture")


def recipe_of(recipe: Path | None, demo: str | None) -> RecipeInputs:
    """The recipe in a file, of a demo, or of the first demo.

    Parameters
    ----------
    recipe : Path, optional
        A recipe file.
    demo : str, optional
        Name of a demo.

    Returns
    -------
    RecipeInputs

    Raises
    ------
    InputError
        If both are given, or the recipe cannot be used.
    """
    name = "recipe" if recipe is None else recipe
    return recipe_from(tables_of(recipe, demo), name, known_pigments())


def tables_of(recipe: Path | None, demo: str | None) -> dict[str, Any]:
    """Tables of the recipe in a file, of a demo, or of the first demo, as they are written.

    Parameters
    ----------
    recipe, demo
        As for `recipe_of`.

    Returns
    -------
    dict
        The tables of the file.
    """
    if recipe is not None and demo is not None:
        raise InputError(say("cli.recipe-and-demo"), "demo", demo)
    if recipe is not None:
        return load_tables(recipe)
    return demo_tables(demo_names()[0] if demo is None else demo)


def _shown(plan: Plan, picture: Path | None, *, as_json: bool) -> int:
    if picture is not None:
        from dosing.pictures.figures import draw_plan

        write_picture(draw_plan(plan), picture)
    show(PlanDocument(plan.to_pour()), plan_lines(plan), picture, as_json=as_json)
    return _code(plan)


def _code(plan: Plan) -> int:
    return 0 if plan.reached and exit_code(plan.cautions) == 0 else NOT_MET
