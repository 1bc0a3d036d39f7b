"""``time`` and ``programme``: one pour followed through the soak, and several after each other."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from dosing.bath.assembled import assemble
from dosing.cli.codes import NOT_MET
from dosing.cli.output import show
from dosing.cli.planning import check_picture, recipe_of
from dosing.plan.answer import make_plan, preview
from dosing.plan.cautions import LEVELS, Caution, Verdicts, exit_code
from dosing.plan.records import Plan
from dosing.recipe.quantities import InputError, mass_g
from dosing.soak.course import follow
from dosing.soak.levels import all_cautions, forbidden, in_tub, near_pour, verdicts
from dosing.soak.records import MOST_MINUTES, Manner, OtherWay, Timeline
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
class TimeDocument:
    """Answer of ``time``; nothing is to be poured where it is forbidden."""

    answer: Timeline
    forbidden: bool
    """Whether a caution of the pour or of the dose forbids it."""
    wish_met: bool
    level: tuple[str, ...]
    """Caution level of the tub at each time, as far to either side as the readings leave it."""
    level_local: tuple[str, ...]
    """The same where it is poured."""
    other_way: OtherWay
    not_for_bathing: bool
    verdicts: Verdicts


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
    accept_ph = reason("accept-ph", asked.accept_ph)
    accept_pouring = reason("accept-pouring", asked.accept_pouring)
    inputs = recipe_of(asked.recipe, asked.demo)
    poured = asked.poured or inputs.activator.pouring
    inputs = replace(inputs, activator=replace(inputs.activator, pouring=poured))
    manner = replace(manner, poured=poured)
    if asked.dose is None:
        plan = make_plan(inputs, accept_ph=accept_ph, accept_pouring=accept_pouring)
    else:
        grams = _dose_g(asked.dose)
        plan = preview(inputs, grams, accept_ph=accept_ph, accept_pouring=accept_pouring)
    if plan.dose_g.best <= 0 and plan.forbidden:
        stopped = TimeForbidden(plan.title, True, plan.verdicts, plan.cautions)
        show(stopped, (*titled(plan.title), *stopped_lines(plan)), as_json=asked.as_json)
        return NOT_MET
    totals = _totals_g(plan)
    setting = assemble(inputs)
    line = follow(
        inputs,
        setting,
        totals,
        manner,
        accepted_reason=accept_pouring,
        accepted_ph=accept_ph,
    )
    turned = replace(manner, poured="jug" if poured == "dry" else "dry")
    other = OtherWay(turned.poured, follow(inputs, setting, totals, turned).lowest_local)
    if asked.picture is not None:
        _draw(line, plan, asked.picture)
    document = _document(line, plan, other)
    show(document, time_lines(line, plan, other), asked.picture, as_json=asked.as_json)
    # A dose of the maker's own has no wish to miss.
    unmet = asked.dose is None and not plan.reached
    return NOT_MET if unmet or exit_code(document.answer.cautions) else 0


def _document(line: Timeline, plan: Plan, other: OtherWay) -> TimeDocument:
    told = replace(
        line, cautions=all_cautions(line, plan), warnings=(*line.warnings, *plan.warnings)
    )
    stopped = forbidden(line, plan)
    levels = (of(line, plan) for of in (in_tub, near_pour))
    level, level_local = (tuple(LEVELS[int(k)] for k in each) for each in levels)
    return TimeDocument(
        answer=replace(told, pours=(), jug=None) if stopped else told,
        forbidden=stopped,
        wish_met=plan.wish_met,
        level=level,
        level_local=level_local,
        other_way=other,
        not_for_bathing=plan.not_for_bathing,
        verdicts=verdicts(line, plan),
    )


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


def _totals_g(plan: Plan) -> list[float]:
    """What is in the tub after each pour of a plan, up to where the tub as read has turned."""
    if plan.dose_g.best <= 0:
        raise InputError(say("time.no-dose"), "dose")
    aimed = [one.total_g for one in plan.pours if one.leads_to(plan.dose_g.best)]
    return aimed or [plan.dose_g.best]


def _draw(line: Timeline, plan: Plan, picture: Path) -> None:
    if picture.suffix.lower() in MOVING_ENDINGS:
        from dosing.pictures.moving import write_moving

        write_moving(line, plan, picture)
    else:
        from dosing.pictures.course import draw_timeline

        write_picture(draw_timeline(line, plan), picture)


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
