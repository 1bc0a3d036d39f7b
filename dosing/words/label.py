"""The label: what a maker may write on a sachet, in words for those who pour it.

Directions of the recommended way and the usual cautions; what else a label must say is for the law
of the place where it is sold.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dosing.bath.mixed import Bath
from dosing.plan.cautions import Caution, exit_code
from dosing.sachets.blends import BlendAnswer
from dosing.sachets.counting import sachet_value
from dosing.sachets.sizes import SIDES, SachetAnswer
from dosing.words import wording
from dosing.words.sachets import dissolving, marks_told, mixed, pads_by_amount, pads_told
from indicator.notes import Value, say

Parts = Sequence[tuple[str, float]]

TOLD_TO_CUSTOMERS = (
    "ph-mind",
    "ph-justified",
    "ph-child-mind",
    "acid-dust",
    "jug-strong",
    "splash",
    "bathers-child",
    "bathers-all",
    "slipping",
    "chlorine",
    "surfaces",
)
"""Cautions that belong on a label; the others are for the maker."""


@dataclass(frozen=True)
class Label:
    """The text of one sachet."""

    grams: float
    """What is in it [g]."""
    directions: tuple[str, ...]
    """One paragraph each: contents, and how it is poured."""
    cautions: tuple[str, ...]
    """The usual cautions, one paragraph each."""

    @property
    def lines(self) -> tuple[str, ...]:
        """All of the text."""
        return (*self.directions, *self.cautions)


def labels(answer: SachetAnswer, blends: BlendAnswer | None = None) -> tuple[Label, ...]:
    """One label for every sachet that is worth selling; none where nothing is.

    Parameters
    ----------
    answer : SachetAnswer
        Whose recommended way is labelled.
    blends : BlendAnswer, optional
        Of which one is labelled where it serves the wished share and the activator does not.

    Returns
    -------
    tuple of Label
        One for each sachet.
    """
    blend = None if blends is None else blends.serving(answer.wished_share)
    band = None if blends is None else blends.band
    if blend is not None and (band is not None or not answer.served):
        directions = _whole(blend.grams, blend.parts, answer.tub)
        stings = (say("sachet.label.reserve"),) if blend.reserve_level != "ok" else ()
        cautions = _usual_cautions(answer.bathers, blend.cautions, stings)
        return (_label(answer, blend.grams, blend.parts, directions, cautions, band),)
    cautions = _usual_cautions(answer.bathers, answer.cautions)
    return tuple(
        _label(answer, grams, answer.activator, directions, cautions)
        for grams, directions in _directions(answer)
    )


def told_on_labels(
    answer: SachetAnswer, blends: BlendAnswer | None = None
) -> list[tuple[str, tuple[str, ...]]]:
    """Every label under the sachet that it stands on, and what law must add; or why there is none.

    Parameters
    ----------
    answer, blends
        As `labels` takes them.

    Returns
    -------
    list of tuple
        Title and paragraphs.
    """
    written = labels(answer, blends)
    titles = [say("sachet.label-one", {"grams": wording.grams(label.grams)}) for label in written]
    law = (say("sachet.label.law"), ())
    if len(written) == 1:
        return [(titles[0], written[0].lines), law]
    if written:
        each = [(title, label.directions) for title, label in zip(titles, written, strict=True)]
        return [*each, (say("sachet.label-all"), written[0].cautions), law]
    forbidden = exit_code(answer.cautions) != 0
    return [(say("sachet.label-forbidden" if forbidden else "sachet.label-none"), ())]


def _directions(answer: SachetAnswer) -> list[tuple[float, str]]:
    """Grams and directions of each sachet of the recommended way."""
    way, parts, tub = answer.recommended, answer.activator, answer.tub
    if way == "one" and answer.single is not None:
        return [(answer.single.grams, _whole(answer.single.grams, parts, tub))]
    if way == "by colour":
        rule = answer.by_colour
        first_g = sachet_value("first_part") * rule.sachet_g
        values: dict[str, Value] = {
            **dissolving("half-of-it", first_g, parts, tub),
            "marks": marks_told(rule),
        }
        return [(rule.sachet_g, say("sachet.label.by-colour", values))]
    if way == "count":
        strip = answer.rule(way)
        grams = strip.sizes_g[0]
        values = {**dissolving("each-sachet", grams, parts, tub), "pads": pads_told(strip)}
        return [(grams, say("sachet.label.count", values))]
    if way == "sizes":
        told = pads_by_amount(answer.rule(way))
        softer = told.pop(0.0, None)
        never = "" if softer is None else say("sachet.label.softer", {"pads": softer}) + " "
        return [
            (
                grams,
                f"{say('sachet.label.sizes', {'pads': pads})} {never}{_whole(grams, parts, tub)}",
            )
            for grams, pads in told.items()
        ]
    return []


def _whole(grams: float, parts: Parts, tub: Bath) -> str:
    return say("sachet.label.one", dissolving("all-of-it", grams, parts, tub))


def _label(
    answer: SachetAnswer,
    grams: float,
    parts: Parts,
    directions: str,
    cautions: tuple[str, ...],
    band: tuple[float, float] | None = None,
) -> Label:
    low, high = (_round_litres(answer, side) for side in (SIDES[0], SIDES[-1]))
    values: dict[str, Value] = {
        "grams": wording.grams(grams),
        "powders": mixed(parts, grams),
        "low": low,
        "high": high,
    }
    contents = say(f"sachet.label.{'contents' if len(parts) == 1 else 'contents-blend'}", values)
    if band is None:
        does = say("sachet.label.turns", values)
    else:
        does = say("sachet.label.keeps", {**values, "from": band[0], "to": band[1]})
    return Label(grams, (f"{contents} {does}", directions), cautions)


def _round_litres(answer: SachetAnswer, side: float) -> str:
    """Water that all but a few tubs hold more or less of."""
    litres = float(np.quantile(answer.in_homes.volume_l, side))
    step = sachet_value("fill_mark_step")
    return wording.litres(litres if litres < step else round(litres / step) * step)


def _usual_cautions(
    bathers: str, cautions: Sequence[Caution], more: Sequence[str] = ()
) -> tuple[str, ...]:
    whom = [] if bathers == "nobody" else [say(f"sachet.label.{bathers}")]
    known = {caution.code: caution for caution in cautions}
    told = [
        say(f"sachet.label.{code}", known[code].values)
        for code in TOLD_TO_CUSTOMERS
        if code in known
    ]
    return (*whom, *told, *more, say("sachet.label.keep"))
