"""Designed effects: a start colour and an end colour → pigments, dyes and dose for one tub.

The search finds mixtures; here they become amounts, are poured into every possible tub and judged
by the same cautions as any plan. What would lead further is told apart: colours that are not on
the shelf, and a design that is only to be looked at.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

from dosing.bath.inputs import RecipeInputs
from dosing.effects.designs import Design
from dosing.effects.desk import Desk
from dosing.effects.gallery import GalleryEffect, gallery_tub, instead_of
from dosing.effects.shelf import Shelf, whole_shelf
from dosing.effects.task import End
from dosing.ingredients.powders import Blend
from dosing.ingredients.water import check_one_water
from dosing.plan.answer import preview
from dosing.plan.case import MIND
from dosing.plan.cautions import Caution, Verdicts
from dosing.plan.levels import judged_bathers
from dosing.plan.pouring import gentlest_ph
from indicator.notes import Note, Value, listed, say
from indicator.pigments import trust
from indicator.threads import one_thread
from indicator.words import colour_words, parse_target, wish_words

SEED = 12
COUNT = 3
MOST_COUNT = 20
AT_THE_GATE_PH = 0.1
"""Distance of the most acid (or alkaline) tub from the limit, within which that is what holds."""


@dataclass(frozen=True)
class Effects:
    """The answer."""

    start: End
    end: End
    inputs: RecipeInputs
    volume_l: float
    depth_cm: float
    designs: tuple[Design, ...]
    """Within the cautions and of the shelf, the best first."""
    blocked: tuple[Caution, ...]
    """Cautions that forbid the bath whatever its colours are."""
    instead: tuple[GalleryEffect, ...]
    """Effects of the gallery that do work, where these designs do not reach both colours."""
    needed: tuple[Note, ...]
    """What stands in the way."""
    warnings: tuple[Note, ...]

    @property
    def bathers(self) -> str:
        """``"adult"``, ``"child"`` or ``"nobody"`` as judged."""
        return judged_bathers(self.inputs.wish.bathers)

    @property
    def verdicts(self) -> Verdicts | None:
        """Those of the first design, or of the tub that forbids every design."""
        if self.designs:
            return self.designs[0].verdicts
        # What forbids every design is the tub before any colour.
        bare = replace(self.inputs, colours=())
        return preview(bare, 0.0).verdicts if self.blocked else None

    @property
    def allowed(self) -> bool:
        """Whether the first design may be used for the recipe's purpose."""
        purpose = self.inputs.wish.purpose
        return all(design.verdicts.of(purpose).allowed for design in self.designs[:1])

    def in_gallery_tub(self) -> bool:
        """Whether tub, water and foam bath are those that the gallery's grams are for."""
        theirs = gallery_tub(self.bathers)
        return all(
            getattr(self.inputs, part) == getattr(theirs, part)
            for part in ("tub", "water", "water_temperature_c", "foam_bath")
        )

    @property
    def reached(self) -> bool:
        """Whether the first design is as wished."""
        return bool(self.designs) and self.designs[0].reached


def wished_end(written: str, which: str) -> End:
    """A colour as it was written: a plain word, one of its synonyms, or an exact colour.

    Parameters
    ----------
    written : str
        For instance ``"green"``, ``"#8060C0"``.
    which : str
        ``"start"`` or ``"end"``.

    Returns
    -------
    End
        The word, or the colour as ``"#RRGGBB"``.

    Raises
    ------
    ValueError
        If it is none; the sentence offers the nearest word.
    """
    try:
        target = parse_target(written)
    except ValueError:
        target = None
    if target is None or target.kind == "ph":
        near = near_word(written)
        hint = say("error.near", {"name": near}) if near else ""
        accepted = ", ".join(colour_words())
        values = {"which": which, "value": repr(written), "accepted": accepted, "hint": hint}
        raise ValueError(say("design.error.colour", values))
    return End(target.word or str(target.hex), target.word, target.hex)


def near_word(written: str) -> str | None:
    """Colour word that is spelled most like a text; None where none is."""
    close = get_close_matches(written.strip().casefold(), wish_words(), n=1, cutoff=0.7)
    return close[0] if close else None


@one_thread()
def design_effects(
    inputs: RecipeInputs,
    start: End,
    end: End,
    *,
    shelf: Shelf | None = None,
    count: int = COUNT,
    seed: int = SEED,
    prices: Mapping[str, float] | None = None,
) -> Effects:
    """Pigments, dyes and dose that lead from a first to a last colour in the tub of a recipe.

    Parameters
    ----------
    inputs : RecipeInputs
        Its tub, water, foam bath, bathers, purpose and market; its colours are replaced.
    start, end : End
        The two wishes.
    shelf : Shelf, optional
        What may be taken; every shipped colour and those of the recipe if not given.
    count : int
        Most designs, from 1 up.
    seed : int
        Of the search; the same seed gives the same answer.
    prices : mapping of str to float, optional
        Colour or powder to its price per gram of petals or powder.

    Returns
    -------
    Effects
        Designs within the cautions, the best first, and what works where they miss.

    Raises
    ------
    ValueError
        If both wishes are the same, or the count is out of range.
    """
    if start == end or (start.word, start.hex) == (end.word, end.hex):
        raise ValueError(say("design.error.same", {"value": start.text}))
    if not 1 <= count <= MOST_COUNT:
        raise ValueError(say("design.error.count", {"value": count, "most": MOST_COUNT}))
    check_one_water(inputs.water)
    chosen = whole_shelf(inputs.colours) if shelf is None else shelf
    desk = Desk(inputs, (start, end), chosen, seed, prices or {})
    designs = desk.designs(count)
    reached = bool(designs) and designs[0].reached
    return Effects(
        start=start,
        end=end,
        inputs=inputs,
        volume_l=float(desk.bare.bath.volume_l),
        depth_cm=desk.bare.depth_cm,
        designs=designs,
        blocked=desk.blocked,
        instead=() if reached or desk.blocked else _others(desk, start, end),
        needed=() if reached or desk.blocked else tuple(_hindrances(desk, designs)),
        warnings=tuple(_warnings(desk, designs)),
    )


def _others(desk: Desk, start: End, end: End) -> tuple[GalleryEffect, ...]:
    """Effects that work elsewhere, without the pair that was just refused."""
    pairs = instead_of(start, end, desk.bathers)
    if not desk.shelf.whole:
        return pairs
    return tuple(each for each in pairs if (each.start, each.end) != (start.word, end.word))


def _hindrances(desk: Desk, designs: Sequence[Design]) -> Iterator[Note]:
    """What stands in the way with what there is."""
    if not desk.usable:
        yield from _all_forbidden(desk)
    if not desk.reaches:
        powders = ", ".join(desk.shelf.powders or desk.inputs.activator.parts)
        yield Note("design.needed.no-turn", {"powders": powders})
    elif not designs and desk.usable:
        yield Note("design.needed.no-dose", {})
    if designs:
        yield from _shortfall(desk, designs[0])


def _all_forbidden(desk: Desk) -> Iterator[Note]:
    """Why no pigment may be taken: of those of the shelf, else of those that the effect needs."""
    named = desk.shelf.colours
    if desk.shelf.whole:
        named = instead_of(*desk.wished, desk.bathers)[0].colourants
        yield Note("design.needed.no-pigment", {})
    against = {desk.forbidden[which].code: which for which in named if which in desk.forbidden}
    for code, which in against.items():
        yield Note(f"caution.{code}", desk.forbidden[which].values)


def _shortfall(desk: Desk, best: Design) -> Iterator[Note]:
    """Which end the best design misses, and whether the gate is what holds it."""
    for which, wish, sight, match in (
        ("start", desk.wishes.start, best.before, best.start),
        ("end", desk.wishes.end, best.after, best.end),
    ):
        if not match.met:
            values: dict[str, Value] = {
                "wish": wish.text,
                "name": str(sight.colour.phrase),
                "ph": sight.ph,
                "share": 100.0 * match.certainty,
            }
            half = "-half" if match.word else ""
            yield Note(f"design.needed.{which}{half}", values)
    if best.end.met or desk.bathers == "nobody":
        return
    acid = best.after.ph < best.before.ph
    gate = gentlest_ph(desk.bathers, MIND, acid=acid)
    edge = best.ph_acid_side if acid else best.ph_alkaline_side
    if abs(edge - gate) < AT_THE_GATE_PH:
        yield Note("design.needed.at-the-gate", {"ph": float(best.after.ph), "gate": gate})


def _warnings(desk: Desk, designs: Sequence[Design]) -> Iterator[Note]:
    """What was left out or taken without being named, and how far the pigments are known."""
    if not desk.shelf.whole:
        if not desk.shelf.powders:
            powders = ", ".join(Blend(desk.inputs.activator.parts).parts)
            yield Note("design.warn.activator", {"powders": powders}, "shelf")
        for which, caution in desk.forbidden.items():
            why: dict[str, Value] = {"colour": which.label, "why": caution.message}
            yield Note("design.warn.left-out", why, "shelf")
    elif desk.forbidden and desk.usable:
        yield Note("design.warn.left-out-many", {"count": len(desk.forbidden)}, "wish.market")
    for which, minutes in desk.short_lived.items():
        gone: dict[str, Value] = {"colour": which.label, "minutes": minutes, "ph": desk.ph_before}
        yield Note("design.warn.short-lived", gone, "shelf")
    used = dict.fromkeys(which for design in designs for which in design.colourants)
    for how in ("estimated", "recalled"):
        labels = [which.label for which in used if which.kind == "pigment" and trust(which) == how]
        if labels:
            yield Note(f"design.warn.{how}", {"colours": listed(labels)}, "colour")
