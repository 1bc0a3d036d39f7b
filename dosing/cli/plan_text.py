"""A plan in words, for someone who has a kettle, a kitchen scale and perhaps a strip."""

from __future__ import annotations

from dosing.cautions import LEVELS, Caution
from dosing.cli.output import Page
from dosing.powders import powder, spoon_words
from dosing.records import ColourAmount, Plan, Sight
from indicator.notes import Value, say, sentence
from indicator.pigments import colourant
from indicator.words import change_level, visibility_level

RIBBON_ROWS = 8
MARKS = {"ok": " ", "mind": "!", "justify": "!!", "stop": "X"}


def show_plan(plan: Plan, page: Page) -> None:
    """Print a plan: what you will see, how much, how to pour, what to mind, what was assumed."""
    page.line(plan.title, style="bold")
    values: dict[str, Value] = {
        "volume": plan.volume_l,
        "depth": plan.depth_cm,
        "temperature": plan.temperature_c,
    }
    page.line(say(f"plan.vessel.{plan.vessel}", values))
    if plan.not_for_bathing:
        page.line(say("plan.not-for-bathing"), style="bold")
    if not plan.reached:
        _refusal(plan, page)
    _sights(plan, page)
    _dose(plan, page)
    _pouring(plan, page)
    _ribbon(plan, page)
    _further(plan, page)
    _undoing(plan, page)
    _cautions(plan.cautions, page)
    _listed("plan.heading.assumed", [sentence(note) for note in plan.assumptions], page)
    _listed("plan.heading.notes", [sentence(note) for note in plan.warnings], page)


def grams(mass: float) -> str:
    """A mass as a kitchen scale shows it: whole grams, tenths below five."""
    step = "tenth" if 0 < mass < 5 else "whole"
    return say(f"plan.grams-{step}", {"grams": mass})


def _refusal(plan: Plan, page: Page) -> None:
    page.line()
    page.line(say(f"plan.not-reached.{plan.wish.kind}", {"wish": plan.wish.text}), style="bold")
    for note in plan.needed:
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)
    if plan.nearest is None or plan.wish.kind == "dose":
        return
    name, distance = str(plan.nearest.colour.name), plan.nearest_delta_e
    if distance is None:
        page.line(say("plan.nearest-follows", {"name": name}))
    else:
        page.line(say("plan.nearest-distance", {"name": name, "delta_e": distance}))


def _sights(plan: Plan, page: Page) -> None:
    page.heading(say("plan.heading.see"))
    for moment in (plan.before, plan.after, plan.after_airing, plan.bottle):
        if moment is not None:
            page.swatch(str(moment.colour.hex), _sight_line(moment))
    seen = str(visibility_level(plan.before.colour.visibility_delta_e))
    page.line(say(f"plan.tint.{seen}"), indent=2, hang=2)
    if plan.to_be_seen:
        page.line(_to_be_seen(plan.to_be_seen), indent=2, hang=2)
    change = str(change_level(plan.change_delta_e)).replace(" ", "-")
    page.line(say(f"plan.change.{change}", {"delta_e": plan.change_delta_e}), indent=2, hang=2)


def _to_be_seen(amounts: tuple[ColourAmount, ...]) -> str:
    shown = say("plan.and").join(
        say("plan.amount", {"amount": _amount(one), "colour": colourant(one.name).label})
        for one in amounts
    )
    return say("plan.to-be-seen", {"amounts": shown, "factor": amounts[0].factor})


def _amount(one: ColourAmount) -> str:
    step = "tenth" if one.amount < 5 else "whole"
    return say(f"plan.amount-{step}", {"amount": one.amount, "unit": one.unit})


def _sight_line(moment: Sight) -> str:
    values: dict[str, Value] = {
        "moment": say(f"plan.moment.{moment.name}"),
        "name": str(moment.colour.name),
        "ph": moment.ph,
    }
    return say("plan.sight", values)


def _dose(plan: Plan, page: Page) -> None:
    page.heading(say("plan.heading.dose"))
    powders = say("plan.and").join(powder(name).label for name, _ in plan.activator)
    best = plan.dose_g.best
    if best <= 0:
        page.line(say("plan.no-dose", {"powder": powders}), indent=2)
        return
    if plan.wish.kind == "dose":
        page.line(say("plan.given", {"grams": grams(best), "powder": powders}), indent=2)
    else:
        values: dict[str, Value] = {
            "grams": grams(best),
            "most": grams(plan.maximum_g),
            "powder": powders,
        }
        page.line(say("plan.aim", values), indent=2, hang=2, style="bold")
    if len(plan.activator) > 1:
        shares = say("plan.comma").join(
            say("plan.share", {"share": share, "powder": powder(name).label})
            for name, share in plan.activator
        )
        page.line(say("plan.blend", {"shares": shares}), indent=2, hang=2)
    measured = sentence(spoon_words(plan.spoons.teaspoons))
    page.line(say("plan.spoons", {"spoons": measured}), indent=2, hang=2)
    if plan.wish.kind != "dose":
        values = {
            "low": grams(plan.dose_g.low),
            "high": grams(plan.dose_g.high),
            "coverage": plan.dose_g.coverage,
        }
        page.line(say("plan.range", values), indent=2, hang=2)
    sides = {"acid": plan.ph_acid_side, "alkaline": plan.ph_alkaline_side, "ph": plan.after.ph}
    page.line(say("plan.sides", sides), indent=2, hang=2)


def _pouring(plan: Plan, page: Page) -> None:
    if plan.dose_g.best <= 0:
        return
    page.heading(say("plan.heading.pour"))
    if len(plan.pours) == 1:
        page.line(say("plan.pour-once", {"grams": grams(plan.pours[0].grams)}), indent=2, hang=2)
        return
    page.line(say("plan.pour-portions"), indent=2, hang=2)
    for number, pour in enumerate(plan.pours, start=1):
        last = pour.total_g > plan.dose_g.best * 1.001
        values: dict[str, Value] = {
            "number": number,
            "grams": grams(pour.grams),
            "total": grams(pour.total_g),
            "spoons": sentence(spoon_words(pour.spoons.teaspoons)),
        }
        page.line(say("plan.portion-spare" if last else "plan.portion", values), indent=4, hang=3)
    page.line(say("plan.pour-maximum", {"most": grams(plan.maximum_g)}), indent=2, hang=2)


def _ribbon(plan: Plan, page: Page) -> None:
    ribbon = plan.ribbon
    page.heading(say("plan.heading.ribbon"))
    page.blocks([str(hex_colour) for hex_colour in ribbon.colours.hex])
    last = len(ribbon.grams) - 1
    rows = sorted({round(k * last / (RIBBON_ROWS - 1)) for k in range(RIBBON_ROWS)})
    for k in rows:
        values: dict[str, Value] = {
            "grams": grams(float(ribbon.grams[k])),
            "ph": float(ribbon.ph[k]),
            "name": str(ribbon.colours.name[k]),
            "mark": MARKS[ribbon.level[k]],
            "level": "" if ribbon.level[k] == "ok" else say(f"plan.level.{ribbon.level[k]}"),
        }
        page.swatch(str(ribbon.colours.hex[k]), say("plan.ribbon-row", values).rstrip())
    page.line(say("plan.ribbon-note"), indent=2, hang=2)


def _further(plan: Plan, page: Page) -> None:
    if not plan.further:
        return
    page.heading(say("plan.heading.further"))
    for step in plan.further:
        values: dict[str, Value] = {
            "grams": grams(step.grams),
            "ph": step.ph,
            "added": step.added_delta_e,
            "level": "" if step.level == "ok" else say(f"plan.level.{step.level}"),
        }
        page.line(say("plan.further-row", values).rstrip(), indent=2, hang=4)


def _undoing(plan: Plan, page: Page) -> None:
    if plan.dose_g.best <= 0:
        return
    page.heading(say("plan.heading.undo"))
    page.line(say("plan.reserve", {"reserve": plan.acid_reserve_meq_l}), indent=2, hang=2)
    if plan.undo_soda_g > 0:
        measured = sentence(spoon_words(plan.undo_soda_teaspoons))
        values: dict[str, Value] = {"grams": grams(plan.undo_soda_g), "spoons": measured}
        page.line(say("plan.undo", values), indent=2, hang=2)
    if abs(plan.after_airing.ph - plan.after.ph) > 0.3:
        page.line(say("plan.undo-by-itself", {"ph": plan.after_airing.ph}), indent=2, hang=2)


def _cautions(cautions: tuple[Caution, ...], page: Page) -> None:
    page.heading(say("plan.heading.cautions"))
    for level in reversed(LEVELS):
        for caution in (one for one in cautions if one.level == level):
            values: dict[str, Value] = {
                "mark": MARKS[level].strip(),
                "level": say(f"plan.level.{level}"),
                "text": caution.message,
            }
            page.line(say("plan.caution", values).strip(), indent=2, hang=4)


def _listed(heading: str, sentences: list[str], page: Page) -> None:
    if not sentences:
        return
    page.heading(say(heading))
    for text in sentences:
        page.line(say("plan.bullet", {"text": text}), indent=2, hang=2)
