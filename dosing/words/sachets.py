"""Sachets in sentences: what terminal and picture say in the same words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby

from dosing.bath.jugs import fill_jugs
from dosing.bath.mixed import Bath
from dosing.ingredients.powders import per_gram, powder
from dosing.plan.cautions import Caution, exit_code
from dosing.sachets.blends import BlendAnswer, Proposal
from dosing.sachets.counting import Shares, sachet_value, size_shares
from dosing.sachets.rules import ColourRule, FillMark, PadRule
from dosing.sachets.sizes import SachetAnswer, Size
from dosing.words import wording
from indicator.notes import Value, listed, say

FILLER = "table-salt"
"""Powder that leaves the pH alone."""
FEW = 0.005
"""The largest share of homes that rounds to none."""


def of_hundred(share: float) -> str:
    """Homes of a hundred: a few are never none, and most are never all."""
    if 0.0 < share <= FEW:
        return say("sachet.fewer-than-one")
    if 1.0 - FEW <= share < 1.0:
        return say("sachet.nearly-all")
    return f"{100.0 * share:.0f}"


def title(answer: SachetAnswer) -> str:
    """Title of the answer, in one line."""
    return say("sachet.title", {"title": answer.title, "homes": answer.homes})


def headlines(answer: SachetAnswer, blends: BlendAnswer | None = None) -> list[str]:
    """Headlines to be said first: sizes past the limit, or that nothing serves enough homes.

    Parameters
    ----------
    answer : SachetAnswer
        What was answered.
    blends : BlendAnswer, optional
        Proposals for other blends.

    Returns
    -------
    list of str
        One sentence each.
    """
    texts = []
    if answer.over_the_limit:
        worst = max(answer.over_the_limit, key=lambda size: size.shares.past_limit_share)
        values: dict[str, Value] = {
            **_limit(answer),
            "grams": wording.grams(worst.grams),
            "count": of_hundred(worst.shares.past_limit_share),
        }
        code = "one" if len(answer.over_the_limit) == 1 else "several"
        others = [wording.grams(size.grams) for size in answer.over_the_limit]
        texts.append(say(f"sachet.over-{code}", {**values, "all": say("plan.comma").join(others)}))
    against = [caution.message for caution in answer.cautions if exit_code((caution,)) != 0]
    if against:
        return [*texts, say("sachet.forbidden"), *against]
    if not answer.served:
        texts.append(_not_enough(answer, blends))
    if blends is not None and blends.band is not None:
        texts.extend(_band_missed(answer, blends, blends.band))
    return texts


def _band_missed(answer: SachetAnswer, blends: BlendAnswer, band: tuple[float, float]) -> list[str]:
    """That no blend keeps to the wished band in the wished share of the homes, where none does."""
    if blends.serving(answer.wished_share) is not None:
        return []
    allowed = [
        proposal
        for proposal in blends.proposals
        if proposal.kind != "plain" and not proposal.forbidden
    ]
    values: dict[str, Value] = {
        "low": band[0],
        "high": band[1],
        "wished": 100.0 * answer.wished_share,
        "most": of_hundred(max((proposal.in_band_share for proposal in allowed), default=0.0)),
        "limit": blends.limit_ph,
        "whom": whom(answer),
    }
    texts = [say("sachet.band-missed", values)]
    if band[0] < blends.limit_ph:
        texts.append(say("sachet.band-past-limit", values))
    return texts


def _not_enough(answer: SachetAnswer, blends: BlendAnswer | None) -> str:
    """That no way serves enough homes, which comes nearest, and the blend that does."""
    values: dict[str, Value] = {"wished": 100.0 * answer.wished_share}
    best = answer.best_way
    if best is None:
        text = say("sachet.not-any", values)
    else:
        values |= {
            "count": of_hundred(answer.ways[best].turns_share),
            "way": way_told(answer, best, "short"),
        }
        text = say("sachet.not-enough", values)
    if blends is not None and (blend := blends.serving(answer.wished_share)) is not None:
        low, high = blends.band or (0.0, 14.0)
        served: dict[str, Value] = {"grams": wording.grams(blend.grams), "low": low, "high": high}
        served["count"] = of_hundred(blend.in_band_share)
        does = say(f"sachet.blend-{'serves' if blends.band is None else 'keeps'}", served)
        return f"{text} {does}"
    return text if answer.recommended != "none" else f"{text} {say('sachet.nothing-worth')}"


def whom(answer: SachetAnswer) -> str:
    """Who bathes, in words."""
    return say(f"sachet.whom.{answer.bathers}")


def counted_as(answer: SachetAnswer) -> list[str]:
    """Sentences on what counts as turned and as too sour."""
    wish = answer.wish
    if wish is None:
        turned = say("sachet.turned-obvious")
    elif wish.ph is not None:
        turned = say("sachet.turned-ph", {"ph": wish.ph})
    else:
        turned = say("sachet.turned-colour", {"colour": str(wish.word or wish.hex)})
    if answer.limit_ph <= 0.0:
        return [turned, say("sachet.no-limit")]
    return [turned, say("sachet.limit", _limit(answer))]


def _limit(answer: SachetAnswer) -> dict[str, Value]:
    """How sour a bath may become, for whom, and in how many homes it may be passed."""
    return {
        "ph": answer.limit_ph,
        "reserve": answer.limit_reserve_meq_l,
        "whom": whom(answer),
        "most": 100.0 * answer.most_past_share,
    }


def size_row(size: Size, cost: float | None) -> str:
    """One size as a row of a table.

    Parameters
    ----------
    size : Size
        With its shares.
    cost : float or None
        In the money of the prices.

    Returns
    -------
    str
        One row.
    """
    row = say("sachet.row", {**_counts(size.shares), "grams": wording.grams(size.grams)})
    ends = say("sachet.row-ph", {"low": size.ph_low, "high": size.ph_high})
    money = "" if cost is None else say("sachet.row-cost", {"cost": cost})
    return row + ends + money


def shares(of: Shares) -> str:
    """Shares as a sentence."""
    return say("sachet.shares", _counts(of))


def wished(answer: SachetAnswer) -> str:
    """The size for the wished share, or what the nearest would do."""
    values: dict[str, Value] = {"wished": 100.0 * answer.wished_share}
    if answer.wished is not None:
        return say("sachet.wished", {**values, "grams": wording.grams(answer.wished.grams)})
    if answer.reaching is None:
        return say("sachet.wished-never", values)
    values["grams"] = wording.grams(answer.reaching.grams)
    values["past"] = of_hundred(answer.reaching.shares.past_limit_share)
    return say("sachet.wished-too-sour", values)


def too_light(answer: SachetAnswer) -> list[str]:
    """That a size is too little to weigh and fill, and what to do about it."""
    texts = []
    least = wording.grams(sachet_value("least_sachet"))
    if answer.light_sizes:
        listed = say("plan.comma").join(wording.grams(size.grams) for size in answer.light_sizes)
        texts.append(say("sachet.light-sizes", {"grams": listed, "least": least}))
    if answer.too_light_g is not None:
        served = size_shares(answer.doses, answer.too_light_g).turns_share
        times = max(round(sachet_value("filled_sachet") / answer.too_light_g), 2)
        values: dict[str, Value] = {
            "grams": wording.grams(answer.too_light_g),
            "count": of_hundred(served),
            "least": least,
            "filler": powder(FILLER).label,
            "parts": times - 1,
            "recipe": _stretched(answer, times),
        }
        texts.append(say("sachet.too-light", values))
    return texts


def _stretched(answer: SachetAnswer, times: int) -> str:
    """The activator's parts as a recipe has them, with a filler among them."""
    parts = {name: share / answer.activator[0][1] for name, share in answer.activator}
    parts[FILLER] = (times - 1) * sum(parts.values())
    return say("plan.comma").join(f"{name} = {part:.3g}" for name, part in parts.items())


def ways(answer: SachetAnswer) -> dict[str, str]:
    """Each way to sell and pour, in a sentence; the shares are said apart.

    Nothing is told of pouring where a caution forbids the bath.
    """
    if exit_code(answer.cautions) != 0:
        return {}
    return {way: way_told(answer, way) for way in answer.ways}


def way_told(answer: SachetAnswer, way: str, form: str = "way") -> str:
    """A way to sell and pour.

    Parameters
    ----------
    answer : SachetAnswer
        What was answered.
    way : str
        Key of its `ways`.
    form : {"way", "short"}
        A whole sentence, or a few words as a picture labels it.

    Returns
    -------
    str
    """
    if way == "one" and answer.single is not None:
        values: dict[str, Value] = {"grams": wording.grams(answer.single.grams)}
    elif way == "by colour":
        rule = answer.by_colour
        values = {"grams": wording.grams(rule.sachet_g), "marks": marks_told(rule)}
    else:
        strip = answer.rule(way)
        sold = say("plan.comma").join(map(wording.grams, strip.sizes_g))
        values = {"grams": sold, "pads": pads_told(strip)}
    return say(f"sachet.{form}-{way.replace(' ', '-')}", values)


def blend_lines(
    blends: BlendAnswer, told: Sequence[Caution] = ()
) -> list[tuple[str, list[str], list[str]]]:
    """Each proposal: its name with the powders, what it does, and what else speaks against it.

    Parameters
    ----------
    blends : BlendAnswer
        The proposals.
    told : sequence of Caution
        Those of the sachets, which are told elsewhere.

    Returns
    -------
    list of tuple
        Name, sentences of what it does, sentences against it.
    """
    known = {caution.message for caution in told}
    texts = []
    for proposal in blends.proposals:
        against = [
            wording.caution_line(caution)
            for caution in wording.heaviest_first(proposal.cautions)
            if caution.level != "ok" and caution.message not in known
        ]
        minded = proposal.reserve_level != "ok" and not proposal.forbidden
        stings = [_reserve(proposal, blends)] if minded else []
        texts.append((_blend_name(proposal), _blend_facts(proposal, blends), [*stings, *against]))
    return texts


def heavy_blends(blends: BlendAnswer) -> list[str]:
    """That blends are heavier than a sachet, where they are."""
    least = sachet_value("heavy_blend")
    heavy = [proposal.grams for proposal in blends.proposals if proposal.grams >= least]
    if not heavy:
        return []
    values: dict[str, Value] = {
        "least": wording.grams(least),
        "times": min(heavy) / _plain(blends).grams,
    }
    return [say("sachet.blend-heavy", values)]


def _plain(blends: BlendAnswer) -> Proposal:
    """Plain acid, to compare with; the first blend where it suits no home."""
    return next(
        (proposal for proposal in blends.proposals if proposal.kind == "plain"), blends.proposals[0]
    )


def blend_intro(answer: BlendAnswer) -> str:
    """Sentence on what the blends are judged by."""
    values: dict[str, Value] = {"homes": answer.homes}
    if answer.band is None:
        return say("sachet.blend-intro", values)
    return say("sachet.blend-intro-band", {**values, "low": answer.band[0], "high": answer.band[1]})


def mixed(parts: Sequence[tuple[str, float]], grams: float) -> str:
    """The powders of a blend, with the grams of each where there are several.

    Parameters
    ----------
    parts : sequence of tuple
        Powder and its share.
    grams : float
        Of all [g].

    Returns
    -------
    str
        In words.
    """
    if len(parts) == 1:
        return powder(parts[0][0]).label
    return listed(
        [
            say("sachet.blend-part", {"grams": wording.grams(share * grams), "powder": label})
            for share, label in ((share, powder(name).label) for name, share in parts)
        ]
    )


def dissolving(
    what: str, grams: float, parts: Sequence[tuple[str, float]], tub: Bath
) -> dict[str, Value]:
    """In what a portion, called so, is dissolved, and how long it is stirred.

    Parameters
    ----------
    what : str
        Key of what the portion is called.
    grams : float
        Of the portion [g].
    parts : sequence of tuple
        Powder and its share.
    tub : Bath
        Whose water is taken.

    Returns
    -------
    dict of str to Value
        ``mix`` and ``stir``.
    """
    return {
        "mix": wording.mixing(say(f"sachet.{what}"), fill_jugs(dict(parts), grams, tub)),
        "stir": wording.stirring(dict(parts)),
    }


def _blend_name(proposal: Proposal) -> str:
    values: dict[str, Value] = {
        "grams": wording.grams(proposal.grams),
        "powders": mixed(proposal.parts, proposal.grams),
    }
    return say(f"sachet.blend-{proposal.kind}", values)


def _blend_facts(proposal: Proposal, answer: BlendAnswer) -> list[str]:
    values: dict[str, Value] = {
        "count": of_hundred(proposal.in_band_share),
        "past": of_hundred(proposal.past_limit_share),
        "low": proposal.ph_low,
        "high": proposal.ph_high,
        **dissolving("all-of-it", proposal.grams, proposal.parts, answer.tub),
    }
    suits = say("sachet.blend-suits", values)
    if proposal.forbidden:
        return [suits, say("sachet.blend-forbidden")]
    lines = [suits, say("sachet.blend-pour", values)]
    if proposal.reserve_level == "ok":
        lines.append(_reserve(proposal, answer))
    unpriced = [powder(name).label for name, _ in proposal.parts if name not in answer.priced]
    if proposal.cost is not None:
        lines.append(say("sachet.blend-cost", {"cost": proposal.cost}))
    elif answer.priced:
        lines.append(say("sachet.blend-unpriced", {"powders": listed(unpriced)}))
    return lines


def _reserve(proposal: Proposal, answer: BlendAnswer) -> str:
    """What takes the acid back, and that it is much where it is."""
    values: dict[str, Value] = {
        "soda": _soda(proposal.reserve_meq_l, answer),
        "soda_high": _soda(proposal.reserve_high_meq_l, answer),
        "plain": _soda(_plain(answer).reserve_meq_l, answer),
    }
    mind = "-mind" if proposal.reserve_level != "ok" else ""
    plain = "-plain" if mind and proposal.kind == "plain" else ""
    return say(f"sachet.blend-reserve{mind}{plain}", values)


def _soda(reserve_meq_l: float, answer: BlendAnswer) -> str:
    """Baking soda that takes up an acid reserve in the middle home."""
    moles = max(reserve_meq_l, 0.0) * answer.volume_l / 1000.0
    return wording.grams(moles / float(per_gram("sodium-bicarbonate")["Na"]))


def pads_told(rule: PadRule) -> str:
    """Which steps of the strip mean how much."""
    parts = []
    for amount, pads in pads_by_amount(rule).items():
        what = wording.grams(amount)
        if amount == 0.0:
            what = say("sachet.pad-none")
        elif rule.kind == "count":
            number = round(amount / rule.sizes_g[0])
            code = "sachet.sachet-one" if number == 1 else "sachet.sachet-many"
            what = say(code, {"number": number})
        parts.append(say("sachet.pad", {"pads": pads, "what": what}))
    return say("sachet.semicolon").join(parts)


def pads_by_amount(rule: PadRule) -> dict[float, str]:
    """Grams to the steps of the strip for which they are poured."""
    pairs = zip(rule.pads_mg_l_caco3, rule.grams, strict=True)
    grouped = groupby(pairs, key=lambda pair: pair[1])
    return {
        amount: _pads([pad for pad, _ in members], rule.pads_mg_l_caco3[-1])
        for amount, members in grouped
    }


def _pads(pads: Sequence[float], last: float) -> str:
    """Some neighbouring steps; the last of a strip means that or more."""
    values: dict[str, Value] = {"first": f"{pads[0]:.0f}", "last": f"{pads[-1]:.0f}"}
    if pads[-1] == last:
        return say("sachet.pads-or-more", values)
    return f"{pads[0]:.0f}" if len(pads) == 1 else say("sachet.pads", values)


def marks_told(rule: ColourRule) -> str:
    """Never more than what, by how full the tub is."""
    return say("sachet.semicolon").join(
        _mark(mark, rule.marks[place - 1] if place else None, rule)
        for place, mark in enumerate(rule.marks)
    )


def _mark(mark: FillMark, before: FillMark | None, rule: ColourRule) -> str:
    values: dict[str, Value] = {"most": _sachets(mark.most_g / rule.sachet_g)}
    end = before if math.isinf(mark.up_to_l) else mark
    if end is None:
        return say("sachet.mark-any", values)
    litres, depth = wording.litres(end.up_to_l), end.depth_cm
    if depth is not None:
        litres = say("sachet.fill", {"litres": litres, "depth": depth})
    return say("sachet.mark" if end is mark else "sachet.mark-above", {**values, "fill": litres})


def _sachets(number: float) -> str:
    quarters = round(4.0 * number)
    whole, rest = divmod(quarters, 4)
    fraction = ("", "¼", "½", "¾")[rest]
    shown = f"{whole or ''}{fraction}" or "0"
    return say("sachet.sachet-one" if quarters <= 4 else "sachet.sachet-many", {"number": shown})


def _counts(of: Shares) -> dict[str, Value]:
    return {
        "turns": of_hundred(of.turns_share),
        "not_turned": of_hundred(of.does_not_turn_share),
        "past": of_hundred(of.past_limit_share),
    }
