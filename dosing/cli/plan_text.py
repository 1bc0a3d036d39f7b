"""A plan in words, for someone who has a kettle, a kitchen scale and perhaps a strip."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from dosing.cli.output import Page
from dosing.plan.cautions import GIVEN
from dosing.plan.households import PAST_LIMIT, Home
from dosing.plan.records import Plan, Sight
from dosing.words import wording
from indicator.notes import Note, Value, say, sentence

RIBBON_ROWS = 8


def show_plan(plan: Plan, page: Page) -> None:
    """Print a plan: what you will see, how much, how to pour, what to mind, what was assumed."""
    page.line(plan.title, style="bold")
    page.line(wording.vessel(plan))
    if plan.not_for_bathing:
        page.line(say("plan.not-for-bathing"), style="bold")
    page.line(wording.verdicts_line(plan.verdicts, plan.market))
    if not plan.reached:
        _refusal(plan, page)
    _sights(plan, page)
    _listed("amounts", wording.tint_amounts_lines(plan.amounts), page)
    _dose(plan, page)
    if plan.dose_g.best > 0 and not plan.forbidden:
        _pouring(plan, page)
    if wording.has_ribbon(plan):
        _ribbon(plan, page)
    _further(plan, page)
    if plan.dose_g.best > 0:
        _listed("undo", wording.undoing(plan), page)
    _listed(
        "cautions", map(wording.caution_line, wording.heaviest_first(plan.cautions)), page, hang=4
    )
    _listed("assumed", _bullets(plan.assumptions), page)
    _listed("notes", _bullets(plan.warnings), page)
    _listed("next", wording.next_steps(plan), page)


def show_homes(plan: Plan, homes: Sequence[Home], purpose: str, page: Page) -> None:
    """Print what the same bottle and sachet do in six homes."""
    page.line(say("homes.title", {"title": plan.title}), style="bold")
    if plan.not_for_bathing:
        page.line(say("plan.not-for-bathing"), style="bold")
    page.line(wording.verdicts_line(plan.verdicts, plan.market))
    if not plan.reached:
        _refusal(plan, page)
    page.line(say("homes.each", {"grams": wording.aim(plan), "powder": wording.powders(plan)}))
    page.line()
    for home in homes:
        values: dict[str, Value] = {
            "water": wording.home_water(home),
            "volume": wording.litres(home.volume_l),
            "before": home.before.ph,
            "after": home.after.ph,
            "verdict": wording.home_verdict(home),
        }
        page.pair(str(home.before.colour.hex), str(home.after.colour.hex), say("homes.row", values))
        page.line(wording.home_names(home), indent=6, hang=2)
    page.line()
    page.line(wording.homes_count(homes), style="bold")
    sour = sum(home.verdict in PAST_LIMIT for home in homes)
    if sour and purpose in GIVEN:
        page.line(say("homes.too-sour-given", {"count": sour}), style="bold")
    page.line(say("homes.waters"))
    _listed(
        "cautions", map(wording.caution_line, wording.heaviest_first(plan.cautions)), page, hang=4
    )
    _listed("next", wording.next_steps(plan), page)


def _refusal(plan: Plan, page: Page) -> None:
    heads, reasons, follows = wording.refusal(plan)
    page.line()
    for text in heads:
        page.line(text, style="bold")
    for text in reasons:
        page.line(say("plan.bullet", {"text": text}), indent=2, hang=2)
    if follows is not None:
        page.line(follows)


def _sights(plan: Plan, page: Page) -> None:
    page.heading(say("plan.heading.see"))
    for moment in (plan.before, plan.after, plan.after_airing, plan.bottle):
        if moment is not None:
            line = _later_line(plan) if moment is plan.after_airing else _sight_line(moment)
            page.swatch(str(moment.colour.hex), line)
    for text in (*wording.tint(plan), wording.change(plan), wording.change_for_others(plan)):
        page.line(text, indent=2, hang=2)


def _later_line(plan: Plan) -> str:
    moment: dict[str, Value] = {"moment": say("plan.moment.later")}
    return say("plan.sight-later", moment | wording.later(plan.later, plan.after_airing))


def _sight_line(moment: Sight) -> str:
    values: dict[str, Value] = {
        "moment": wording.moment(moment),
        "name": wording.colour_name(moment),
        "ph": moment.ph,
    }
    return say("plan.sight", values)


def _dose(plan: Plan, page: Page) -> None:
    page.heading(say("plan.heading.dose"))
    page.line(wording.dose(plan), indent=2, hang=2, style="bold")
    if plan.dose_g.best <= 0:
        return
    shares = wording.blend(plan)
    if shares is not None:
        page.line(shares, indent=2, hang=2)
    page.line(wording.spoon_dose(plan), indent=2, hang=2)
    if plan.wish.kind != "dose":
        page.line(wording.dose_range(plan), indent=2, hang=2)
    for text in (wording.ph_sides(plan), *wording.odds(plan), *wording.range_causes(plan)):
        page.line(text, indent=2, hang=2)


def _pouring(plan: Plan, page: Page) -> None:
    page.heading(say("plan.heading.pour"))
    first, portions, end = wording.pouring(plan)
    page.line(first, indent=2, hang=2)
    for portion in portions:
        page.line(portion, indent=4, hang=3)
    if end is not None:
        page.line(end, indent=2, hang=2)


def _ribbon(plan: Plan, page: Page) -> None:
    ribbon = plan.ribbon
    page.heading(say("plan.heading.ribbon"))
    page.blocks([str(hex_colour) for hex_colour in ribbon.colours.hex])
    last = len(ribbon.grams) - 1
    rows = sorted({round(k * last / (RIBBON_ROWS - 1)) for k in range(RIBBON_ROWS)})
    for k in rows:
        values: dict[str, Value] = {
            "grams": wording.grams(float(ribbon.grams[k])),
            "ph": float(ribbon.ph[k]),
            "change": float(ribbon.change_delta_e[k]),
            "name": str(ribbon.colours.name[k]),
            "mark": wording.MARKS[ribbon.level[k]],
            "level": "" if ribbon.level[k] == "ok" else wording.level(ribbon.level[k]),
        }
        page.swatch(str(ribbon.colours.hex[k]), say("plan.ribbon-row", values).rstrip())
    for text in (say("plan.ribbon-change"), wording.ribbon_note(plan)):
        page.line(text, indent=2, hang=2)


def _further(plan: Plan, page: Page) -> None:
    if not plan.further:
        return
    page.heading(say("plan.heading.further"))
    for step in plan.further:
        values: dict[str, Value] = {
            "grams": wording.grams(step.grams),
            "ph": step.ph,
            "added": step.added_delta_e,
            "level": "" if step.level == "ok" else wording.level(step.level),
        }
        page.line(say("plan.further-row", values).rstrip(), indent=2, hang=4)


def _listed(heading: str, texts: Iterable[str], page: Page, hang: int = 2) -> None:
    """A heading with paragraphs under it; nothing where there are none."""
    for number, text in enumerate(texts):
        if number == 0:
            page.heading(say(f"plan.heading.{heading}"))
        page.line(text, indent=2, hang=hang)


def _bullets(notes: Iterable[Note]) -> list[str]:
    return [say("plan.bullet", {"text": sentence(note)}) for note in notes]


def _caution_lines(plan: Plan) -> list[str]:
    return [wording.caution_line(one) for one in wording.heaviest_first(plan.cautions)]
