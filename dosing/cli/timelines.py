"""``time`` and ``programme``: one pour followed through the soak, and several after each other."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from dosing.cli.codes import NOT_MET
from dosing.cli.given import check_picture, recipe_of
from dosing.cli.output import show
from dosing.plan.answer import make_plan, preview
from dosing.plan.cautions import Caution, Verdicts
from dosing.recipe.quantities import InputError, mass_g
from dosing.soak.course import follow_plan
from dosing.soak.records import MOST_MINUTES, Course, Manner
from dosing.soak.steps import make_programme, parse_steps
from dosing.words.course import time_lines
from dosing.words.lines import titled
from dosing.words.plan import stopped_lines
from dosing.words.programme import programme_lines
from indicator.accepted import reason
from indicator.notes import Value, say
from indicator.sheet import PICTURE_ENDINGS, write_picture
from indicator.words import colour_words

MOVING_ENDINGS = (".gif", ".apng")


@dataclass(frozen=True)
class TimeOptions:
    """Options of ``time``, as they were typed."""

    recipe: Path | None
    demo: str | None
    dose: str | None
    stir: str
    poured: str | None
    grain: str | None
    minutes: float
    accept_ph: str | None
    accept_pouring: str | None
    picture: Path | None
    as_json: bool


@dataclass(frozen=True)
class TimeForbidden:
    """Answer of ``time`` for a tub that may not be poured as it is, before any dose."""

    title: str
    forbidden: bool
    verdicts: Verdicts
    cautions: tuple[Caution, ...]


def run_time(asked: TimeOptions) -> int:
    """Follow a pour and show it; returns the exit code."""
    _check_time_picture(asked.picture)
    manner = _manner(asked)
    reasons = {
        "accept_ph": reason("accept-ph", asked.accept_ph),
        "accept_pouring": reason("accept-pouring", asked.accept_pouring),
    }
    inputs = recipe_of(asked.recipe, asked.demo)
    poured = asked.poured or inputs.activator.pouring
    inputs = replace(inputs, activator=replace(inputs.activator, pouring=poured))
    if asked.dose is None:
        plan = make_plan(inputs, **reasons)
    else:
        plan = preview(inputs, _dose_g(asked.dose), **reasons)
    if plan.dose_g.best <= 0 and plan.forbidden:
        stopped = TimeForbidden(plan.title, True, plan.verdicts, plan.cautions)
        show(stopped, (*titled(plan.title), *stopped_lines(plan)), as_json=asked.as_json)
        return NOT_MET
    if plan.dose_g.best <= 0:
        raise InputError(say("time.no-dose"), "dose")
    course = follow_plan(inputs, plan, replace(manner, poured=poured), **reasons)
    if asked.picture is not None:
        _draw(course, asked.picture)
    show(course.to_pour(), time_lines(course), asked.picture, as_json=asked.as_json)
    return 0 if course.reached else NOT_MET


def _check_time_picture(picture: Path | None) -> None:
    if picture is None:
        return
    endings = (*PICTURE_ENDINGS, *MOVING_ENDINGS)
    if picture.suffix.lower() not in endings:
        raise InputError(say("time.picture-ending", {"file": str(picture)}), "picture")
    check_picture(picture, endings)


def _manner(asked: TimeOptions) -> Manner:
    if not 1 <= asked.minutes <= MOST_MINUTES:
        wrong: dict[str, Value] = {"value": f"{asked.minutes:g}", "most": MOST_MINUTES}
        raise InputError(say("time.minutes-wrong", wrong), "minutes", asked.minutes)
    poured = "jug" if asked.poured is None else asked.poured
    return Manner(poured, asked.stir, asked.grain, round(asked.minutes))


def _dose_g(text: str) -> float:
    grams = mass_g(text, "dose")
    if grams <= 0:
        raise InputError(say("time.zero-dose", {"value": repr(text)}), "dose", text)
    return grams


def _draw(course: Course, picture: Path) -> None:
    if picture.suffix.lower() in MOVING_ENDINGS:
        from dosing.pictures.moving import write_moving

        write_moving(course, picture)
    else:
        from dosing.pictures.course import draw_timeline

        write_picture(draw_timeline(course), picture)


def run_programme(
    *,
    recipe: Path | None,
    demo: str | None,
    steps: str,
    accept_ph: str | None,
    accept_pouring: str | None,
    picture: Path | None,
    as_json: bool,
) -> int:
    """Plan several pours after each other and show them.

    Parameters
    ----------
    recipe : Path or None
        A recipe file.
    demo : str or None
        Name of a demo.
    steps : str
        What the tub shall show, in order: colour words, pH values, hex colours or ``back``, with
        commas between.
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
    wished = _steps(steps)
    programme = make_programme(
        recipe_of(recipe, demo),
        wished,
        accept_ph=reason("accept-ph", accept_ph),
        accept_pouring=reason("accept-pouring", accept_pouring),
    )
    if picture is not None:
        from dosing.pictures.programme import draw_programme

        write_picture(draw_programme(programme), picture)
    show(programme.to_pour(), programme_lines(programme), picture, as_json=as_json)
    return 0 if programme.reached else NOT_MET


def _steps(text: str) -> tuple[str, ...]:
    try:
        return parse_steps(text)
    except ValueError as error:
        values: dict[str, Value] = {
            "reason": str(error).split(";")[0],
            "accepted": ", ".join(colour_words()),
        }
        raise InputError(say("programme.steps", values), "steps", text) from None
