"""The lines of ``plan``, for someone who has a kettle, a kitchen scale and perhaps a strip."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from dosing.plan.cautions import GIVEN, Caution, Verdicts, pour_forbidden
from dosing.plan.households import PAST_LIMIT, Home
from dosing.plan.records import Plan, Sight
from dosing.words import wording
from dosing.words.lines import Line, bullets, headed, swatch, titled, under
from indicator.notes import Value, say

RIBBON_ROWS = 8


def plan_lines(plan: Plan) -> Iterator[Line]:
    """Lines of ``plan``: what is seen, how much, how to pour, what to mind, what was assumed."""
    yield from titled(plan.title)
    yield Line(wording.vessel(plan))
    yield from judged(plan.verdicts, plan.market, not_for_bathing=plan.not_for_bathing)
    if not plan.reached:
        yield from refused(*wording.refusal(plan))
    yield from _sights(plan)
    yield from under(wording.tint_amounts_lines(plan.amounts), "plan.heading.amounts")
    yield from _dose(plan)
    if plan.pours and plan.dose_g.best > 0:
        first, portions, end = wording.pouring(plan)
        yield from under([first], "plan.heading.pour")
        yield from under(portions, indent=4, hang=3)
        yield from under([] if end is None else [end])
    if plan.has_ribbon:
        yield from _ribbon(plan)
    if plan.dose_g.best > 0:
        yield from under(wording.undoing(plan), "plan.heading.undo")
    yield from cautions(wording.heaviest_first(plan.cautions))
    yield from bullets(plan.assumptions, "plan.heading.assumed")
    yield from bullets(plan.warnings, "plan.heading.notes")
    yield from under(wording.next_steps(plan), "plan.heading.next")


def homes_lines(plan: Plan, homes: Sequence[Home], purpose: str) -> Iterator[Line]:
    """Lines of ``plan --homes``: the same bottle and sachet in six homes.

    Parameters
    ----------
    plan : Plan
        For the first of them.
    homes : sequence of Home
        The maker's own and the others.
    purpose : str
        Of the recipe: what is given away must suit every home.

    Yields
    ------
    Line
        In the order in which they are read.
    """
    yield from titled(say("homes.title", {"title": plan.title}))
    yield from judged(plan.verdicts, plan.market, not_for_bathing=plan.not_for_bathing)
    if not plan.reached:
        yield from refused(*wording.refusal(plan))
    each: dict[str, Value] = {"grams": wording.aim(plan), "powder": wording.powders(plan)}
    yield Line(say("homes.each", each))
    yield Line()
    for home in homes:
        values: dict[str, Value] = {
            "water": wording.home_water(home),
            "volume": wording.litres(home.volume_l),
            "before": home.before.ph,
            "after": home.after.ph,
            "verdict": wording.home_verdict(home),
        }
        hexes = (str(home.before.colour.hex), str(home.after.colour.hex))
        yield Line(say("homes.row", values), 2, hexes=hexes)
        yield Line(wording.home_names(home), 6, 2)
    yield Line()
    yield from titled(wording.homes_count(homes))
    sour = sum(home.verdict in PAST_LIMIT for home in homes)
    if sour and purpose in GIVEN:
        yield from titled(say("homes.too-sour-given", {"count": sour}))
    yield Line(say("homes.waters"))
    yield from cautions(wording.heaviest_first(plan.cautions))
    yield from under(wording.next_steps(plan), "plan.heading.next")


def judged(verdicts: Verdicts, market: str, *, not_for_bathing: bool) -> Iterator[Line]:
    """Whether it may be poured, given and sold, and whether people may bathe in it.

    Parameters
    ----------
    verdicts : Verdicts
        On pouring, giving and selling.
    market : str
        Where it would be sold.
    not_for_bathing : bool
        Whether nobody may bathe in it.

    Returns
    -------
    iterator of Line
    """
    if not_for_bathing:
        yield from titled(say("plan.not-for-bathing"))
    yield Line(wording.verdicts_line(verdicts, market))


def stopped_lines(plan: Plan) -> Iterator[Line]:
    """The verdicts on the tub of a plan, and what forbids pouring."""
    yield Line(wording.verdicts_line(plan.verdicts, plan.market))
    yield from bullets(caution.message for caution in plan.cautions if pour_forbidden((caution,)))


def refused(heads: Iterable[str], reasons: Iterable[str], follows: str | None) -> Iterator[Line]:
    """Lines on what may not be done, or is not as wished; nothing where all is well.

    Parameters
    ----------
    heads, reasons : iterable of str
        In bold, and with bullets.
    follows : str or None
        The last line.

    Yields
    ------
    Line
        In the order in which they are read.
    """
    for number, head in enumerate(heads):
        yield from headed(head) if number == 0 else titled(head)
    yield from bullets(reasons)
    yield from () if follows is None else (Line(follows),)


def cautions(those: Iterable[Caution]) -> list[Line]:
    """Cautions under their heading."""
    return under(map(wording.caution_line, those), "plan.heading.cautions", hang=4)


def _sights(plan: Plan) -> Iterator[Line]:
    yield from headed(say("plan.heading.see"))
    for moment in (plan.before, plan.after, plan.after_airing, plan.bottle):
        if moment is None:
            continue
        text = _later(plan) if moment is plan.after_airing else _sight(moment)
        yield swatch(moment.colour.hex, text)
    yield from under((*wording.tint(plan), wording.change(plan), wording.change_for_others(plan)))


def _later(plan: Plan) -> str:
    moment: dict[str, Value] = {"moment": say("plan.moment.later")}
    return say("plan.sight-later", moment | wording.later(plan.later, plan.after_airing))


def _sight(moment: Sight) -> str:
    values: dict[str, Value] = {
        "moment": wording.moment(moment),
        "name": wording.colour_name(moment),
        "ph": moment.ph,
    }
    return say("plan.sight", values)


def _dose(plan: Plan) -> Iterator[Line]:
    yield from headed(say("plan.heading.dose"))
    yield Line(wording.dose(plan), 2, 2, bold=True)
    if plan.dose_g.best <= 0 or not plan.pours:
        return
    shares = wording.blend(plan)
    told = [] if shares is None else [shares]
    told += [wording.spoon_dose(plan)]
    told += [] if plan.wish.kind == "dose" else [wording.dose_range(plan)]
    yield from under(
        (*told, wording.ph_sides(plan), *wording.odds(plan), *wording.range_causes(plan))
    )


def _ribbon(plan: Plan) -> Iterator[Line]:
    ribbon = plan.ribbon
    yield from headed(say("plan.heading.ribbon"))
    yield Line("", 2, hexes=tuple(map(str, ribbon.colours.hex)))
    last = len(ribbon.grams) - 1
    for k in sorted({round(k * last / (RIBBON_ROWS - 1)) for k in range(RIBBON_ROWS)}):
        values: dict[str, Value] = {
            "grams": wording.grams(float(ribbon.grams[k])),
            "ph": float(ribbon.ph[k]),
            "change": float(ribbon.change_delta_e[k]),
            "name": str(ribbon.colours.name[k]),
            "mark": wording.MARKS[ribbon.level[k]],
            "level": "" if ribbon.level[k] == "ok" else wording.level(ribbon.level[k]),
        }
        yield swatch(ribbon.colours.hex[k], say("plan.ribbon-row", values).rstrip())
    yield from under((say("plan.ribbon-change"), wording.ribbon_note(plan)))
