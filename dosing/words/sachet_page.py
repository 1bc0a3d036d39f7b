"""The lines of ``sachet``: sizes, ways, blends and the label, with what to mind."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from dosing.ingredients.powders import powder
from dosing.sachets.blends import BlendAnswer
from dosing.sachets.sizes import SachetAnswer
from dosing.words import sachets as words
from dosing.words import wording
from dosing.words.label import told_on_labels
from dosing.words.lines import Line, bullets, headed, titled, under
from dosing.words.plan import cautions, judged
from indicator.notes import listed, say, sentence


def sachet_lines(
    answer: SachetAnswer, blends: BlendAnswer | None, costs: Sequence[float] | None
) -> Iterator[Line]:
    """Lines of ``sachet``: which size turns how many homes, and which way to pour is worth selling.

    Parameters
    ----------
    answer : SachetAnswer
        Of the sizes and rules.
    blends : BlendAnswer, optional
        Other activators, where they were asked for.
    costs : sequence of float, optional
        What each of the sizes costs, where the powders have prices.

    Yields
    ------
    Line
        In the order in which they are read.
    """
    yield from titled(*words.headlines(answer, blends), words.title(answer))
    if answer.verdicts is not None:
        nobody = answer.bathers == "nobody"
        yield from judged(answer.verdicts, answer.market, not_for_bathing=nobody)
    yield from (Line(sentence(note)) for note in answer.assumptions[:1])
    yield from map(Line, words.counted_as(answer))
    yield from _sizes(answer, costs)
    yield from _ways(answer)
    if blends is not None:
        yield from _blends(answer, blends)
    yield from headed(say("sachet.heading.label"))
    for title, lines in told_on_labels(answer, blends):
        yield Line(title, 2, bold=bool(lines))
        yield from under(lines, indent=4, hang=0)
    yield from cautions(wording.heaviest_first(answer.cautions))
    drawn = say("sachet.assumed-drawn")
    yield from bullets((*answer.assumptions[1:], drawn), "plan.heading.assumed")
    own = "-own" if answer.population == "own" else ""
    further = [] if blends is not None else [say("sachet.next-blend")]
    yield from under([say(f"sachet.next{own}"), *further], "plan.heading.next")


def _sizes(answer: SachetAnswer, costs: Sequence[float] | None) -> Iterator[Line]:
    yield from headed(say("sachet.heading.sizes"))
    powders = listed([powder(name).label for name, _ in answer.activator])
    yield Line(say("sachet.of-hundred", {"powder": powders}), 2)
    each: Sequence[float | None] = costs or [None] * len(answer.sizes)
    for size, cost in zip(answer.sizes, each, strict=True):
        share = size.shares.past_limit_share
        over = answer.limit_ph > 0.0 and share > answer.most_past_share
        yield Line(words.size_row(size, cost) + (say("sachet.row-over") if over else ""), 2, 6)
    yield from under([words.wished(answer), *words.too_light(answer)])


def _ways(answer: SachetAnswer) -> Iterator[Line]:
    for number, (way, text) in enumerate(words.ways(answer).items()):
        mark = say("sachet.recommended" if way == answer.recommended else "sachet.other")
        yield from under([f"{mark}{text}"], "" if number else "sachet.heading.ways")
        yield Line(words.shares(answer.ways[way]), 4, 2)


def _blends(answer: SachetAnswer, blends: BlendAnswer) -> Iterator[Line]:
    yield from headed(say("sachet.heading.blends"))
    yield Line(words.blend_intro(blends), 2)
    for name, facts, against in words.blend_lines(blends, answer.cautions):
        yield Line(name, 2, 2, bold=True)
        yield from under((*facts, *against), indent=4)
    yield from under(words.heavy_blends(blends))
