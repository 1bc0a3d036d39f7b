"""``time`` and ``programme``: one pour followed through the soak, and several after each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from dosing import wording
from dosing.assembly import assemble
from dosing.cautions import LEVELS, Caution, exit_code
from dosing.cli.jsonout import caution, colour, notes, spoons
from dosing.cli.output import Page, to_json
from dosing.cli.planning import NOT_MET, check_picture, reason, recipe_of
from dosing.plan import make_plan, preview
from dosing.programme import wording as order
from dosing.programme.stages import Programme
from dosing.programme.steps import make_programme, parse_steps
from dosing.quantities import InputError, mass_g
from dosing.records import Plan
from dosing.timeline import wording as words
from dosing.timeline.course import follow
from dosing.timeline.dissolving import GRAINS, POURED, STIRS
from dosing.timeline.records import MOST_MINUTES, LocalExtreme, Manner, Timeline
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
    inputs = recipe_of(asked.recipe, asked.demo).core()
    poured = asked.poured or inputs.activator.pouring
    inputs = replace(inputs, activator=replace(inputs.activator, pouring=poured))
    manner = replace(manner, poured=poured)
    if asked.dose is None:
        plan = make_plan(inputs, accept_ph=accept_ph, accept_pouring=accept_pouring)
    else:
        grams = _dose_g(asked.dose)
        plan = preview(inputs, grams, accept_ph=accept_ph, accept_pouring=accept_pouring)
    totals = _totals_g(plan)
    setting = assemble(inputs)
    line = follow(inputs, setting, totals, manner, accepted_reason=accept_pouring)
    turned = replace(manner, poured="jug" if poured == "dry" else "dry")
    other = follow(inputs, setting, totals, turned)
    cautions = _together(line.cautions, plan.cautions)
    if asked.picture is not None:
        _draw(line, plan, asked.picture)
    if as_json:
        to_json(_time_document(line, plan, (turned.poured, other.lowest_local), cautions))
    else:
        page = Page()
        _show_time(line, plan, (turned.poured, other.lowest_local), cautions, page)
        if asked.picture is not None:
            page.line(say("cli.picture-written", {"file": str(asked.picture)}))
    return NOT_MET if exit_code(cautions) else 0


def _check_time_picture(picture: Path | None) -> None:
    if picture is None:
        return
    if picture.suffix.lower() in MOVING_ENDINGS:
        check_picture(picture.with_suffix(PICTURE_ENDINGS[0]))
        if picture.is_dir():
            raise InputError(say("cli.picture-folder", {"file": str(picture)}), "picture")
        return
    if picture.suffix.lower() not in PICTURE_ENDINGS:
        raise InputError(say("time.picture-ending", {"file": str(picture)}), "picture")
    check_picture(picture)


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


def _together(pour: Sequence[Caution], dose: Sequence[Caution]) -> tuple[Caution, ...]:
    """The cautions of pour and dose, the heaviest first."""
    return tuple(sorted((*pour, *dose), key=lambda one: -LEVELS.index(one.level)))


def _draw(line: Timeline, plan: Plan, picture: Path) -> None:
    from dosing.timeline.sheet import draw_timeline, write_moving

    if picture.suffix.lower() in MOVING_ENDINGS:
        write_moving(line, plan, picture)
    else:
        write_picture(draw_timeline(line, plan), picture)


def _show_time(
    line: Timeline,
    plan: Plan,
    other: tuple[str, LocalExtreme],
    cautions: tuple[Caution, ...],
    page: Page,
) -> None:
    forbidden = exit_code(cautions) != 0
    page.line(line.title, style="bold")
    page.line(words.how(line))
    page.line(words.tub(plan))
    if (portions := words.portions(line)) is not None:
        page.line(portions)
    if plan.not_for_bathing:
        page.line(say("plan.not-for-bathing"), style="bold")
    if not plan.wish_met:
        page.line(say("time.plan-unmet"))
    if forbidden:
        page.line(say("time.not-to-get-in"), style="bold")
    page.heading(say("time.heading.see"))
    page.swatch(str(line.before.hex), words.start_row(line))
    for place in words.looks(line):
        local = line.colours_local if words.apart(line, place) else line.colours
        page.pair(str(line.colours.hex[place]), str(local.hex[place]), words.row(line, place))
    _lines(words.turning(line), page)
    page.heading(say("time.heading.acid" if line.acid else "time.heading.alkaline"))
    _lines(words.near_the_pour(line, other), page)
    if not forbidden:
        page.heading(say("time.heading.wait"))
        _lines(words.waiting(line, forbidden=False), page)
    page.heading(say("time.heading.soak"))
    _lines(words.soaking(line), page)
    page.heading(say("plan.heading.cautions"))
    for one in cautions:
        page.line(_caution_line(one), indent=2, hang=4)
    _bulleted("assumed", line.assumptions, page)
    _bulleted("notes", line.warnings, page)


def _caution_line(one: Caution) -> str:
    values: dict[str, Value] = {
        "mark": wording.MARKS[one.level],
        "level": wording.level(one.level),
        "text": one.message,
    }
    return say("plan.caution", values).strip()


def _lines(texts: Sequence[str], page: Page) -> None:
    for text in texts:
        page.line(text, indent=2, hang=2)


def _bulleted(heading: str, found: Sequence[Note], page: Page) -> None:
    if found:
        page.heading(say(f"plan.heading.{heading}"))
    for note in found:
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)


def _time_document(
    line: Timeline,
    plan: Plan,
    other: tuple[str, LocalExtreme],
    cautions: Sequence[Caution],
) -> dict[str, Any]:
    return {
        "title": line.title,
        "poured": line.manner.poured,
        "stir": line.manner.stir,
        "grain": dict(line.grain),
        "activator": dict(line.activator),
        "pours": [vars(one) for one in line.pours],
        "jug": None if line.jug is None else vars(line.jug),
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
        "lowest_local": vars(line.lowest_local),
        "other_way": {"poured": other[0], "lowest_local": vars(other[1])},
        "turned_after_s": line.turned_after_s,
        "steady_after_s": line.steady_after_s,
        "wait_s": line.wait_s,
        "not_for_bathing": plan.not_for_bathing,
        "assumptions": notes(line.assumptions),
        "warnings": notes((*line.warnings, *plan.warnings)),
        "cautions": [caution(one) for one in cautions],
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
        recipe_of(recipe, demo).core(),
        wished,
        accept_ph=reason("accept-ph", accept_ph),
        accept_pouring=reason("accept-pouring", accept_pouring),
    )
    if picture is not None:
        from dosing.programme.sheet import draw_programme

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
    else:
        page.line(say("programme.nobody-in"))
    if not programme.reached:
        page.line()
        page.line(say("programme.unreached"), style="bold")
    page.line()
    page.swatch(str(programme.before.hex), order.before(programme), indent=0)
    for number, stage in enumerate(programme.stages, 1):
        page.line()
        page.swatch(str(stage.colour.hex), order.heading(stage, number), indent=0)
        _lines(order.steps(programme, number), page)
    page.line()
    for text in order.whole(programme):
        page.line(text)
    page.heading(say("plan.heading.cautions"))
    for one in programme.cautions:
        page.line(_caution_line(one), indent=2, hang=4)
    _bulleted("assumed", programme.assumptions, page)
    _bulleted("notes", programme.warnings, page)


def _programme_document(programme: Programme) -> dict[str, Any]:
    return {
        "title": programme.title,
        "reached": programme.reached,
        "before": {"ph": programme.before_ph, **colour(programme.before)},
        "stages": [
            {
                "name": stage.name,
                "powder": "+".join(name for name, _ in stage.powder),
                "parts": dict(stage.powder),
                "grams": stage.grams,
                "portions_g": stage.portions_g,
                "spoons": spoons(stage.spoons),
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
                "from_start_delta_e": stage.from_start_delta_e,
                "wish_met": stage.wish_met,
                "reached": stage.reached,
                "needed": notes(stage.needed),
            }
            for stage in programme.stages
        ],
        "co2_litres": programme.co2_litres,
        "volume_l": programme.volume_l,
        "depth_cm": programme.depth_cm,
        "temperature_c": programme.temperature_c,
        "bathers": programme.bathers,
        "not_for_bathing": programme.not_for_bathing,
        "cautions": [caution(one) for one in programme.cautions],
        "assumptions": notes(programme.assumptions),
        "warnings": notes(programme.warnings),
    }
