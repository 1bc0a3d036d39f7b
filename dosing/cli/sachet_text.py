"""What ``sachet`` prints: the answer in sentences, and as one JSON document."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from dosing.cli.jsonout import caution, verdicts
from dosing.cli.output import Page
from dosing.ingredients.powders import powder
from dosing.plan.cautions import Caution
from dosing.sachets.blends import BlendAnswer, Proposal
from dosing.sachets.counting import Shares
from dosing.sachets.rules import ColourRule, PadRule
from dosing.sachets.sizes import SachetAnswer, Size
from dosing.words import sachets as words
from dosing.words import wording
from dosing.words.label import labels, told_on_labels
from indicator.notes import listed, say, sentence

Prices = Mapping[str, float]


def succeeded(answer: SachetAnswer, blends: BlendAnswer | None) -> bool:
    """Whether a way or a blend serves the wished share, and no limit is passed for it.

    Where a band was wished, it is a blend that must keep to it.
    """
    blend = None if blends is None else blends.serving(answer.wished_share)
    banded = blends is not None and blends.band is not None
    served = blend is not None or (answer.reached and not banded)
    return served and not answer.forbidden


def show(answer: SachetAnswer, blends: BlendAnswer | None, prices: Prices, page: Page) -> None:
    """The answer on the terminal."""
    for text in words.headlines(answer, blends):
        page.line(text, style="bold")
    page.line(words.title(answer), style="bold")
    if answer.bathers == "nobody":
        page.line(say("plan.not-for-bathing"), style="bold")
    for note in answer.notes[:1]:
        page.line(sentence(note))
    for text in words.counted_as(answer):
        page.line(text)
    _sizes(answer, prices, page)
    _ways(answer, page)
    if blends is not None:
        _blends(answer, blends, page)
    _label(answer, blends, page)
    if answer.cautions:
        page.heading(say("plan.heading.cautions"))
        _cautions(wording.heaviest_first(answer.cautions), page)
    page.heading(say("plan.heading.assumed"))
    for note in answer.notes[1:]:
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)
    page.line(say("plan.bullet", {"text": say("sachet.assumed-drawn")}), indent=2, hang=2)
    page.heading(say("plan.heading.next"))
    own = "-own" if answer.population == "own" else ""
    page.line(say(f"sachet.next{own}"), indent=2, hang=2)
    if blends is None:
        page.line(say("sachet.next-blend"), indent=2, hang=2)


def _sizes(answer: SachetAnswer, prices: Prices, page: Page) -> None:
    page.heading(say("sachet.heading.sizes"))
    powders = listed([powder(name).label for name, _ in answer.activator])
    page.line(say("sachet.of-hundred", {"powder": powders}), indent=2)
    for size in answer.sizes:
        over = answer.limit_ph > 0.0 and size.shares.past_limit_share > answer.most_past
        row = words.size_row(size, _cost(answer.activator, size.grams, prices))
        page.line(f"{row}{say('sachet.row-over') if over else ''}", indent=2, hang=6)
    for text in (words.wished(answer), *words.too_light(answer)):
        page.line(text, indent=2, hang=2)


def _ways(answer: SachetAnswer, page: Page) -> None:
    for number, (way, text) in enumerate(words.ways(answer).items()):
        if number == 0:
            page.heading(say("sachet.heading.ways"))
        mark = say("sachet.recommended") if way == answer.recommended else say("sachet.other")
        page.line(f"{mark}{text}", indent=2, hang=2)
        page.line(words.shares(answer.ways[way]), indent=4, hang=2)


def _blends(answer: SachetAnswer, blends: BlendAnswer, page: Page) -> None:
    page.heading(say("sachet.heading.blends"))
    page.line(words.blend_intro(blends), indent=2)
    for name, facts, cautions in words.blend_lines(blends, answer.cautions):
        page.line(name, indent=2, hang=2, style="bold")
        for text in (*facts, *cautions):
            page.line(text, indent=4, hang=2)
    for text in words.heavy_blends(blends):
        page.line(text, indent=2, hang=2)


def _label(answer: SachetAnswer, blends: BlendAnswer | None, page: Page) -> None:
    page.heading(say("sachet.heading.label"))
    for title, lines in told_on_labels(answer, blends):
        page.line(title, indent=2, style="bold" if lines else "")
        for text in lines:
            page.line(text, indent=4)


def _cautions(cautions: Sequence[Caution], page: Page) -> None:
    for one in cautions:
        page.line(wording.caution_line(one), indent=2, hang=4)


def _cost(parts: Sequence[tuple[str, float]], grams: float, prices: Prices) -> float | None:
    if not all(name in prices for name, _ in parts):
        return None
    return sum(share * prices[name] for name, share in parts) * grams / 1000.0


def document(answer: SachetAnswer, blends: BlendAnswer | None, prices: Prices) -> dict[str, Any]:
    """Everything that is answered; units are in the key names."""

    def size(one: Size | None) -> dict[str, Any] | None:
        if one is None:
            return None
        cost = _cost(answer.activator, one.grams, prices)
        return {
            "grams": one.grams,
            **_shares(one.shares),
            "ph_low": one.ph_low,
            "ph_middle": one.ph_middle,
            "ph_high": one.ph_high,
            "cost": cost,
        }

    needs = answer.doses.turns_g
    document: dict[str, Any] = {
        "title": answer.title,
        "population": answer.population,
        "homes": answer.homes,
        "bathers": answer.bathers,
        "purpose": answer.purpose,
        "target": None
        if answer.wish is None
        else answer.wish.ph or answer.wish.word or answer.wish.hex,
        "limit_ph": answer.limit_ph if answer.limit_ph > 0.0 else None,
        "limit_reserve_meq_l": answer.limit_reserve_meq_l if answer.limit_ph > 0.0 else None,
        "most_past_limit_share": answer.most_past,
        "activator": dict(answer.activator),
        "needed_g": {
            name: float(np.quantile(needs, share, method="nearest"))
            for name, share in (("low", 0.05), ("middle", 0.5), ("high", 0.95))
        },
        "sizes": [size(one) for one in answer.sizes],
        "past_limit_sizes_g": [one.grams for one in answer.over_the_limit],
        "one_size": size(answer.single),
        "wished_share": answer.wished_share,
        "wished_size": size(answer.wished),
        "turning_size": size(answer.reaching),
        "rules": [_rule(one) for one in answer.rules],
        "by_colour": _by_colour(answer.by_colour),
        "recommended": answer.recommended,
        "reached": answer.reached and not answer.forbidden,
        "best_way": answer.best_way,
        "too_light_g": answer.too_light,
        "label": [{"grams": one.grams, "lines": one.lines} for one in labels(answer, blends)],
        "verdicts": None if answer.verdicts is None else verdicts(answer.verdicts),
        "cautions": [caution(one) for one in answer.cautions],
        "assumptions": [sentence(note) for note in answer.notes],
    }
    if blends is not None:
        document["blends"] = [_proposal(one) for one in blends.proposals]
        document["band_ph"] = blends.band
        serving = blends.serving(answer.wished_share)
        document["serving_blend_g"] = None if serving is None else serving.grams
    return document


def _shares(of: Shares) -> dict[str, float]:
    return asdict(of)


def _rule(rule: PadRule) -> dict[str, Any]:
    return {
        "kind": rule.kind,
        "sizes_g": rule.sizes_g,
        "pads_mg_l_caco3": rule.pads,
        "grams": rule.grams,
        **_shares(rule.shares),
    }


def _by_colour(rule: ColourRule) -> dict[str, Any]:
    return {
        "sachet_g": rule.sachet_g,
        "first_g": rule.first_g,
        "step_g": rule.step_g,
        "marks": [
            {"up_to_l": mark.up_to_l, "depth_cm": mark.depth_cm, "most_g": mark.most_g}
            for mark in rule.marks
        ],
        **_shares(rule.shares),
    }


def _proposal(one: Proposal) -> dict[str, Any]:
    document = {**asdict(one), "cautions": [caution(found) for found in one.cautions]}
    document["parts"] = dict(one.parts)
    return document
