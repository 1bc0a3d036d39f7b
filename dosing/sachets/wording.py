"""Sachets in sentences: what terminal and picture say in the same words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import groupby

from dosing import wording
from dosing.powders import powder
from dosing.sachets.blends import BlendAnswer, Proposal
from dosing.sachets.counting import Shares
from dosing.sachets.rules import ColourRule, FillMark, PadRule
from dosing.sachets.sizes import Answer, Size
from indicator.notes import Value, say

FEW = 0.005
"""A share of homes that rounds to none."""


def of_hundred(share: float) -> str:
    """Homes of a hundred: a few are never none, and most are never all."""
    if 0.0 < share < FEW:
        return say("sachet.fewer-than-one")
    if 1.0 - FEW < share < 1.0:
        return say("sachet.nearly-all")
    return f"{100.0 * share:.0f}"


def title(answer: Answer) -> str:
    """What is answered, in one line."""
    return say("sachet.title", {"title": answer.title, "homes": answer.homes})


def headlines(answer: Answer) -> list[str]:
    """What must be said first: sizes past the limit, or that nothing serves enough homes."""
    found = []
    if answer.over_the_limit:
        worst = max(answer.over_the_limit, key=lambda one: one.shares.past_limit)
        values: dict[str, Value] = {
            "grams": wording.grams(worst.grams),
            "count": of_hundred(worst.shares.past_limit),
            "ph": answer.limit_ph,
            "whom": whom(answer),
            "most": 100.0 * answer.most_past,
        }
        code = "one" if len(answer.over_the_limit) == 1 else "several"
        others = [wording.grams(one.grams) for one in answer.over_the_limit]
        found.append(say(f"sachet.over-{code}", {**values, "all": say("plan.comma").join(others)}))
    if not answer.reached:
        shares = answer.recommended_shares
        values = {
            "wished": 100.0 * answer.wished_share,
            "count": "0" if shares is None else of_hundred(shares.turns),
        }
        found.append(say("sachet.not-enough", values))
    return found


def whom(answer: Answer) -> str:
    """Who bathes, in words."""
    return say(f"sachet.whom.{answer.bathers}")


def counted_as(answer: Answer) -> list[str]:
    """What counts as turned and as too sour."""
    wish = answer.wish
    if wish is None:
        turned = say("sachet.turned-obvious")
    elif wish.ph is not None:
        turned = say("sachet.turned-ph", {"ph": wish.ph})
    else:
        turned = say("sachet.turned-colour", {"colour": str(wish.word or wish.hex)})
    if answer.limit_ph <= 0.0:
        return [turned, say("sachet.no-limit")]
    values: dict[str, Value] = {
        "ph": answer.limit_ph,
        "whom": whom(answer),
        "most": 100.0 * answer.most_past,
    }
    return [turned, say("sachet.limit", values)]


def size_row(size: Size, cost: float | None) -> str:
    """One size as a row of a table."""
    row = say("sachet.row", {**_counts(size.shares), "grams": wording.grams(size.grams)})
    ends = say("sachet.row-ph", {"low": size.ph_low, "high": size.ph_high})
    money = "" if cost is None else say("sachet.row-cost", {"cost": cost})
    return row + ends + money


def shares(of: Shares) -> str:
    """Shares as a sentence."""
    return say("sachet.shares", _counts(of))


def wished(answer: Answer) -> str:
    """The size for the wished share, or what the nearest would do."""
    values: dict[str, Value] = {"wished": 100.0 * answer.wished_share}
    if answer.wished is not None:
        return say("sachet.wished", {**values, "grams": wording.grams(answer.wished.grams)})
    if answer.reaching is None:
        return say("sachet.wished-never", values)
    shares = answer.reaching.shares
    values["grams"] = wording.grams(answer.reaching.grams)
    values["past"] = of_hundred(shares.past_limit)
    return say("sachet.wished-too-sour", values)


def ways(answer: Answer) -> dict[str, str]:
    """Each way to sell and pour, in a sentence; the shares are said apart."""
    found = {}
    if answer.single is not None:
        found["one"] = say("sachet.way-one", {"grams": wording.grams(answer.single.grams)})
    for rule in answer.rules:
        found[rule.kind] = _rule(rule)
    if answer.by_colour.shares.past_limit <= answer.most_past:
        found["by colour"] = _by_colour(answer.by_colour)
    return found


def way_shares(answer: Answer) -> dict[str, Shares]:
    """Shares of homes of each way."""
    found = {}
    if answer.single is not None:
        found["one"] = answer.single.shares
    found |= {rule.kind: rule.shares for rule in answer.rules}
    found["by colour"] = answer.by_colour.shares
    return {way: found[way] for way in ways(answer)}


def short_way(answer: Answer, way: str) -> str:
    """A way in a few words, as a picture labels it."""
    if way == "one" and answer.single is not None:
        return say("sachet.short-one", {"grams": wording.grams(answer.single.grams)})
    if way == "by colour":
        return say("sachet.short-colour", {"grams": wording.grams(answer.by_colour.sachet_g)})
    rule = next(one for one in answer.rules if one.kind == way)
    listed = say("plan.comma").join(wording.grams(one) for one in rule.sizes_g)
    return say(f"sachet.short-{way}", {"grams": listed})


def blend_lines(answer: BlendAnswer) -> list[tuple[str, list[str]]]:
    """Each proposal: its name with the powders, and what it does."""
    return [(_blend_name(one), _blend_facts(one)) for one in answer.proposals]


def blend_intro(answer: BlendAnswer) -> str:
    """What the blends are judged by."""
    values: dict[str, Value] = {"homes": answer.homes}
    if answer.band is None:
        return say("sachet.blend-intro", values)
    return say("sachet.blend-intro-band", {**values, "low": answer.band[0], "high": answer.band[1]})


def _blend_name(one: Proposal) -> str:
    powders = say("plan.comma").join(
        powder(name).label
        if len(one.parts) == 1
        else say("sachet.blend-part", {"percent": 100.0 * share, "powder": powder(name).label})
        for name, share in one.parts
    )
    values: dict[str, Value] = {"grams": wording.grams(one.grams), "powders": powders}
    return say(f"sachet.blend-{one.kind}", values)


def _blend_facts(one: Proposal) -> list[str]:
    values: dict[str, Value] = {
        "count": of_hundred(one.in_band),
        "past": of_hundred(one.past_limit),
        "low": one.ph_low,
        "high": one.ph_high,
        "reserve": one.reserve_meq_l,
        "reserve_high": one.reserve_high_meq_l,
    }
    lines = [say("sachet.blend-suits", values)]
    code = "sachet.blend-reserve-mind" if one.reserve_level == "mind" else "sachet.blend-reserve"
    lines.append(say(code, values))
    if one.cost is not None:
        lines.append(say("sachet.blend-cost", {"cost": one.cost}))
    return lines


def _rule(rule: PadRule) -> str:
    """A strip rule: what is sold, and which step of the strip means how much."""
    groups = [
        (amount, [pad for pad, _ in members])
        for amount, members in (
            (amount, list(members))
            for amount, members in groupby(
                zip(rule.pads, rule.grams, strict=True), key=lambda pair: pair[1]
            )
        )
    ]
    parts = []
    for amount, pads in groups:
        values: dict[str, Value] = {"pads": _pads(pads)}
        if rule.kind == "count":
            number = round(amount / rule.sizes_g[0])
            values["what"] = say(
                "sachet.sachet-one" if number == 1 else "sachet.sachet-many", {"number": number}
            )
        else:
            values["what"] = wording.grams(amount)
        parts.append(say("sachet.pad", values))
    sold = say("plan.comma").join(wording.grams(one) for one in rule.sizes_g)
    return say(
        f"sachet.way-{rule.kind}", {"grams": sold, "pads": say("sachet.semicolon").join(parts)}
    )


def _pads(pads: Sequence[float]) -> str:
    if len(pads) == 1:
        return f"{pads[0]:.0f}"
    return say("sachet.pads", {"first": f"{pads[0]:.0f}", "last": f"{pads[-1]:.0f}"})


def _by_colour(rule: ColourRule) -> str:
    marks = say("sachet.semicolon").join(
        _mark(mark, rule.marks[place - 1] if place else None, rule)
        for place, mark in enumerate(rule.marks)
    )
    values: dict[str, Value] = {"grams": wording.grams(rule.sachet_g), "marks": marks}
    return say("sachet.way-by-colour", values)


def _mark(mark: FillMark, before: FillMark | None, rule: ColourRule) -> str:
    values: dict[str, Value] = {"most": _sachets(mark.most_g / rule.sachet_g)}
    if math.isinf(mark.up_to_l):
        if before is None:
            return say("sachet.mark-any", values)
        return say("sachet.mark-above", {**values, **_fill(before)})
    return say("sachet.mark", {**values, **_fill(mark)})


def _fill(mark: FillMark) -> Mapping[str, Value]:
    litres = wording.litres(mark.up_to_l)
    if mark.depth_cm is None:
        return {"fill": litres}
    return {"fill": say("sachet.fill", {"litres": litres, "depth": mark.depth_cm})}


def _sachets(number: float) -> str:
    quarters = round(4.0 * number)
    whole, rest = divmod(quarters, 4)
    fraction = ("", "¼", "½", "¾")[rest]
    shown = f"{whole or ''}{fraction}" or "0"
    return say("sachet.sachet-one" if quarters <= 4 else "sachet.sachet-many", {"number": shown})


def _counts(of: Shares) -> dict[str, Value]:
    return {
        "turns": of_hundred(of.turns),
        "not_turned": of_hundred(of.does_not_turn),
        "past": of_hundred(of.past_limit),
    }
