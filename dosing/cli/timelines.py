"""``time`` and ``programme``: one pour followed through the soak, and several after each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from dosing.bath.assembled import assemble
from dosing.cli.jsonout import (
    NO_SPOONS,
    caution,
    chalk,
    colour,
    judged,
    jug,
    notes,
    spoons,
    verdicts,
)
from dosing.cli.output import Page, to_json
from dosing.cli.planning import NOT_MET, check_picture, recipe_of
from dosing.plan.answer import make_plan, preview
from dosing.plan.cautions import LEVELS, Caution, exit_code
from dosing.plan.records import Plan
from dosing.recipe.quantities import InputError, mass_g
from dosing.soak.course import follow
from dosing.soak.dissolving import GRAINS, POURED, STIRS
from dosing.soak.levels import in_tub, near_pour
from dosing.soak.records import MOST_MINUTES, Jug, LocalExtreme, Manner, Timeline
from dosing.soak.stages import Programme, Stage
from dosing.soak.steps import make_programme, parse_steps
from dosing.words import course as words
from dosing.words import programme as order
from dosing.words import wording
from dosing.words.plan import stopped_lines
from indicator.accepted import reason
from indicator.notes import Note, Value, say, sentence
from indicator.sheet import PICTURE_ENDINGS, write_picture
from indicator.words import colour_words

MOVING_ENDINGS = (".gif", ".apng")


@dataclass(frozen=True)
class TimeAsked:
    """The options of ``time``."""

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


def run_time(asked: TimeAsked, *, as_json: bool) -> int:
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
        return _stopped(plan, as_json=as_json)
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
    other = follow(inputs, setting, totals, turned)
    if asked.picture is not None:
        _draw(line, plan, asked.picture)
    if as_json:
        to_json(_time_document(line, plan, (turned.poured, other.lowest_local)))
    else:
        page = Page()
        _show_time(line, plan, (turned.poured, other.lowest_local), page)
        if asked.picture is not None:
            page.line(say("cli.picture-written", {"file": str(asked.picture)}))
    # A dose of the maker's own has no wish to miss.
    unmet = asked.dose is None and not plan.reached
    return NOT_MET if unmet or exit_code(words.all_cautions(line, plan)) else 0


def _stopped(plan: Plan, *, as_json: bool) -> int:
    """Say of a tub that may not be poured as it is, before any dose, what forbids it."""
    if as_json:
        to_json({"title": plan.title, "forbidden": True, "pours": [], **judged(plan)})
    else:
        page = Page()
        page.line(plan.title, style="bold")
        page.show(stopped_lines(plan))
    return NOT_MET


def _check_time_picture(picture: Path | None) -> None:
    if picture is None:
        return
    endings = (*PICTURE_ENDINGS, *MOVING_ENDINGS)
    if picture.suffix.lower() not in endings:
        raise InputError(say("time.picture-ending", {"file": str(picture)}), "picture")
    check_picture(picture, endings)


def _manner(asked: TimeAsked) -> Manner:
    choices = (
        ("stir", asked.stir, STIRS),
        ("poured", asked.poured, POURED),
        ("grain", asked.grain, GRAINS),
    )
    for field, value, known in choices:
        if value is not None and value not in known:
            accepted = ", ".join(known)
            values: dict[str, Value] = {"field": field, "value": repr(value), "accepted": accepted}
            raise InputError(say("time.choice", values), field, value)
    if not 1 <= asked.minutes <= MOST_MINUTES:
        wrong: dict[str, Value] = {"value": f"{asked.minutes:g}", "most": MOST_MINUTES}
        raise InputError(say("time.minutes-wrong", wrong), "minutes", asked.minutes)
    return Manner(stir=asked.stir, grain=asked.grain, minutes=round(asked.minutes))


def _dose_g(text: str) -> float:
    grams = mass_g(text, "dose")
    if grams <= 0:
        raise InputError(say("time.zero-dose", {"value": repr(text)}), "dose", text)
    return grams


def _totals_g(plan: Plan) -> list[float]:
    """What is in the tub after each pour of a plan, up to where the tub as read has turned."""
    if plan.dose_g.best <= 0:
        raise InputError(say("time.no-dose"), "dose")
    aimed = [one.total_g for one in plan.pours if one.total_g <= plan.dose_g.best * 1.001]
    return aimed or [plan.dose_g.best]


def _draw(line: Timeline, plan: Plan, picture: Path) -> None:
    if picture.suffix.lower() in MOVING_ENDINGS:
        from dosing.pictures.moving import write_moving

        write_moving(line, plan, picture)
    else:
        from dosing.pictures.course import draw_timeline

        write_picture(draw_timeline(line, plan), picture)


def _show_time(line: Timeline, plan: Plan, other: tuple[str, LocalExtreme], page: Page) -> None:
    forbidden = words.forbidden(line, plan)
    page.line(line.title, style="bold")
    page.line(words.tub(plan))
    if plan.not_for_bathing:
        page.line(say("plan.not-for-bathing"), style="bold")
    page.line(wording.verdicts_line(words.verdicts(line, plan), plan.market))
    found = words.verdict(line, plan)
    _verdict(found, page)
    if not forbidden:
        if found[0]:
            page.line()
        page.line(words.how(line, plan))
    _show_looks(line, plan, page)
    page.heading(say("time.heading.acid" if line.acid else "time.heading.alkaline"))
    _lines(words.near_the_pour(line, forbidden=forbidden), page)
    if not forbidden:
        _lines([words.other_way(line, *other)], page)
        page.heading(say("time.heading.wait"))
        _lines(words.waiting(line), page)
    page.heading(say("time.heading.soak"))
    _lines(words.soaking(line), page)
    _cautions(words.all_cautions(line, plan), page)
    _bulleted("assumed", line.assumptions, page)
    _bulleted("notes", (*line.warnings, *plan.warnings), page)


def _verdict(found: tuple[Sequence[str], Sequence[str], str | None], page: Page) -> None:
    """What may not be done, or is not as wished, before anything else is said."""
    heads, reasons, follows = found
    if not heads:
        return
    page.line()
    for text in heads:
        page.line(text, style="bold")
    for text in reasons:
        page.line(say("plan.bullet", {"text": text}), indent=2, hang=2)
    if follows is not None:
        page.line(follows)


def _show_looks(line: Timeline, plan: Plan, page: Page) -> None:
    """What is seen when, under a line for each of several pours."""
    page.heading(words.looks_heading(line))
    page.swatch(str(line.before.hex), words.start_row(line))
    levels = [[LEVELS[int(k)] for k in of(line, plan)] for of in (in_tub, near_pour)]
    for number, places in enumerate(words.looks(line), 1):
        if (heading := words.pour_heading(line, plan, number)) is not None:
            page.line(heading, indent=2)
        for place in places:
            local = line.colours_local if words.apart(line, place) else line.colours
            text = words.row(line, place, (levels[0][place], levels[1][place]))
            page.pair(str(line.colours.hex[place]), str(local.hex[place]), text)
    _lines(words.turning(line), page)


def _cautions(cautions: Sequence[Caution], page: Page) -> None:
    page.heading(say("plan.heading.cautions"))
    for one in cautions:
        page.line(words.caution_line(one), indent=2, hang=4)


def _lines(texts: Sequence[str], page: Page) -> None:
    for text in texts:
        page.line(text, indent=2, hang=2)


def _bulleted(heading: str, found: Sequence[Note], page: Page) -> None:
    if found:
        page.heading(say(f"plan.heading.{heading}"))
    for note in found:
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)


def _jug(poured: Jug) -> dict[str, Any]:
    left = poured.filled.undissolved_g
    return {**jug(poured.filled), "dissolves_s": poured.dissolves_s, "left_g": left}


def _time_document(line: Timeline, plan: Plan, other: tuple[str, LocalExtreme]) -> dict[str, Any]:
    stopped = words.forbidden(line, plan)
    return {
        "title": line.title,
        "forbidden": stopped,
        "wish_met": plan.wish_met,
        "poured": line.manner.poured,
        "stir": line.manner.stir,
        "grain": dict(line.grain),
        "activator": dict(line.activator),
        "pours": [vars(one) for one in (() if stopped else line.pours)],
        "jug": None if stopped or line.jug is None else _jug(line.jug),
        "bathers": line.bathers,
        "times_s": line.times_s,
        "ph": line.ph,
        "ph_low": line.ph_low,
        "ph_high": line.ph_high,
        "ph_local": line.ph_local,
        "hex": line.colours.hex,
        "word": line.colours.word,
        "name": line.colours.name,
        "hex_local": line.colours_local.hex,
        "word_local": line.colours_local.word,
        "level": [LEVELS[int(k)] for k in in_tub(line, plan)],
        "level_local": [LEVELS[int(k)] for k in near_pour(line, plan)],
        "change_delta_e": line.change_delta_e,
        "temperature_c": line.temperature_c,
        "temperature_low_c": line.temperature_low_c,
        "temperature_high_c": line.temperature_high_c,
        "co2_share_left": line.co2_share_left,
        "co2_share_low": line.co2_share_low,
        "co2_share_high": line.co2_share_high,
        "undissolved_g": line.undissolved_g,
        "before": {"ph": line.before_ph, "hex": line.before.hex, "word": line.before.word},
        "closed_ph": line.closed_ph,
        "open_ph": line.open_ph,
        "chalk": chalk(line.chalk),
        "lowest_local": vars(line.lowest_local),
        "other_way": {"poured": other[0], "lowest_local": vars(other[1])},
        "turned_after_s": line.turned_after_s,
        "steady_after_s": line.steady_after_s,
        "wait_s": line.wait_s,
        "not_for_bathing": plan.not_for_bathing,
        "verdicts": verdicts(words.verdicts(line, plan)),
        "assumptions": notes(line.assumptions),
        "warnings": notes((*line.warnings, *plan.warnings)),
        "cautions": [caution(one) for one in words.all_cautions(line, plan)],
    }


def run_programme(
    recipe: Path | None,
    demo: str | None,
    *,
    steps: str,
    accept_ph: str | None,
    accept_pouring: str | None,
    picture: Path | None,
    as_json: bool,
) -> int:
    """Plan several pours and show them; returns the exit code."""
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
    if as_json:
        to_json(_programme_document(programme))
    else:
        page = Page()
        _show_programme(programme, page)
        if picture is not None:
            page.line(say("cli.picture-written", {"file": str(picture)}))
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


def _show_programme(programme: Programme, page: Page) -> None:
    page.line(say("programme.title", {"title": programme.title}), style="bold")
    page.line(order.tub(programme))
    if programme.not_for_bathing:
        page.line(say("plan.not-for-bathing"), style="bold")
    page.line(wording.verdicts_line(programme.verdicts, programme.market))
    found = order.verdict(programme)
    _verdict(found, page)
    if (company := order.company(programme)) is not None:
        if found[0]:
            page.line()
        page.line(company)
    page.line()
    page.swatch(str(programme.before.hex), order.before(programme), indent=0)
    for number, stage in enumerate(programme.stages, 1):
        page.line()
        page.swatch(str(stage.colour.hex), order.heading(stage, number), indent=0)
        _lines(order.steps(programme, number), page)
    page.line()
    for text in order.whole(programme):
        page.line(text)
    _cautions(programme.cautions, page)
    _bulleted("assumed", programme.assumptions, page)
    _bulleted("notes", programme.warnings, page)


def _programme_document(programme: Programme) -> dict[str, Any]:
    return {
        "title": programme.title,
        "reached": programme.reached,
        "forbidden": programme.forbidden,
        "before": {
            "ph": programme.before_ph,
            **colour(programme.before),
            "after_airing": {"ph": programme.before_ph_airing, **colour(programme.before_airing)},
        },
        "stages": [
            _stage_document(stage, stopped=programme.forbidden) for stage in programme.stages
        ],
        "co2_litres": programme.co2_litres,
        "volume_l": programme.volume_l,
        "depth_cm": programme.depth_cm,
        "temperature_c": programme.temperature_c,
        "bathers": programme.bathers,
        "not_for_bathing": programme.not_for_bathing,
        "verdicts": verdicts(programme.verdicts),
        "cautions": [caution(one) for one in programme.cautions],
        "assumptions": notes(programme.assumptions),
        "warnings": notes(programme.warnings),
    }


def _stage_document(stage: Stage, *, stopped: bool) -> dict[str, Any]:
    back = stage.comes_back
    return {
        "name": stage.name,
        "powder": "+".join(name for name, _ in stage.powder),
        "parts": dict(stage.powder),
        "grams": stage.grams,
        "portions_g": () if stopped else stage.portions_g,
        "spoons": spoons(NO_SPOONS if stopped else stage.spoons),
        "weigh": stage.weigh,
        "total_g": stage.total_g,
        "ph": stage.ph,
        "ph_acid_side": stage.ph_acid_side,
        "ph_alkaline_side": stage.ph_alkaline_side,
        "hex": stage.colour.hex,
        "word": stage.colour.word,
        "colour_name": stage.colour.name,
        "change_delta_e": stage.change_delta_e,
        "level": stage.level,
        "co2_litres": stage.co2_litres,
        "fizzes": stage.fizzes,
        "after_airing": {"ph": stage.ph_airing, **colour(stage.colour_airing)},
        "chalk": chalk(stage.chalk),
        "from_start_delta_e": stage.from_start_delta_e,
        "comes_back": None if back is None else vars(back),
        "look_by": None if stopped else stage.look_by,
        "stop_ph": None if stopped else stage.stop_ph,
        "wish_met": stage.wish_met,
        "reached": stage.reached,
        "needed": notes(stage.needed),
    }
