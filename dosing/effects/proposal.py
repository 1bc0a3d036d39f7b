"""Proposal of ``new``: the effect that comes nearest to a wish with what is on the shelf."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from dosing.bath.assembled import assemble, water_l
from dosing.bath.inputs import RecipeInputs
from dosing.bath.possible_tubs import possible_tubs
from dosing.effects.answer import design_effects, near_word, wished_end
from dosing.effects.gallery import GalleryEffect, gallery
from dosing.effects.shelf import Shelf, known_powder, measured_out, read_shelf, whole_shelf
from dosing.effects.task import End, meets
from dosing.effects.written import designed_recipe, recipe_with
from dosing.ingredients.powders import powder
from dosing.plan.answer import make_plan
from dosing.plan.brewing import USUAL_PIGMENT, tint_amounts
from dosing.plan.cautions import GIVEN
from dosing.plan.records import Sight
from dosing.plan.rules import permissions
from dosing.recipe import parse_recipe
from dosing.recipe.answers import unclear
from dosing.recipe.quantities import InputError
from dosing.recipe.writing import recipe_toml
from indicator.notes import listed, say
from indicator.pigments import SHIPPED, Pigments
from indicator.tables import read_toml

Wish = tuple[End | None, End]
"""First and last colour; None where any first one will do."""
MOST_TRIED = 5
"""Other effects that are tried where a water keeps a plan from the nearest."""
_BETWEEN = re.compile(r"\s*(?:->|→|\b(?:in)?to\b|,)\s*")
_NAMES = re.compile(r"\s*(?:[,;]|\band\b)\s*")
_FOR_WHOM = re.compile(r"\s+for\s.*$")
"""Whom it is for is the next question."""
_FILLER = re.compile(r"^(?:from|turn(?:s|ing)?|a|it|something|that|ends?|in)\s+")


@dataclass(frozen=True)
class EffectProposal:
    """An effect that can be done, and what keeps a wished one away."""

    effect: GalleryEffect | None
    """The nearest to the wish of what can be done, with the powder that the shelf has for it; None
    where nothing on the shelf turns."""
    others: tuple[GalleryEffect, ...]
    """What else can be done, the nearest to the wish first."""
    as_wished: bool
    """Whether both its colours are those wished."""
    searched: bool
    """Whether the wish is searched for in the maker's own tub: a colour of one's own, a shelf with
    several colours, or a water in which nobody bathes."""
    wished: GalleryEffect | None
    """The wished effect, where it can be had with other colours or in another market only."""
    to_buy: tuple[str, ...]
    """Colours of the wished effect that the shelf lacks."""
    market: str | None
    """Where it is given or sold, if that forbids the wished effect."""
    forbidden: tuple[str, ...]
    """Colours of the wished effect that are forbidden there."""
    unclear: tuple[str, ...]
    """Colours of the effect of which it is not clear whether they are allowed where it is sold."""
    powder_lacks: bool
    """Whether a shelf was named that has no powder for the effect."""
    other_acids: tuple[str, ...]
    """Acids of the shelf that the effect does without."""

    @property
    def colours(self) -> list[str]:
        """Labels of the colours of the effect."""
        return [] if self.effect is None else [each.label for each in self.effect.colourants]


@dataclass(frozen=True)
class ProposedRecipe:
    """The recipe file of a proposal."""

    text: str
    """TOML."""
    found: bool
    """Whether a search in this very tub found it."""
    left_open: bool
    """Whether its pH was left open: this water keeps a plan from it, but not from a change."""
    instead: tuple[str, ...] = ()
    """Both colours of its plan, where they are not those wished."""


def wish_in_words(text: str) -> tuple[Wish, str]:
    """First and last colour of a wish such as ``blue to violet``; the first may be left out.

    Parameters
    ----------
    text : str
        In small letters.

    Returns
    -------
    Wish
    str
        What it was taken as.

    Raises
    ------
    InputError
        If one of them is nearly a colour's name (the sentence offers that), or there are more.
    ValueError
        If one of them is no colour.
    """
    *before, last = _BETWEEN.split(_FILLER.sub("", _FOR_WHOM.sub("", text)))
    for written in (*before, last):
        near = near_word(written)
        if near not in (None, written):
            raise InputError(say("new.near", {"value": written, "name": near}), "effect", text)
    if len(before) > 1:
        raise unclear("effect", text)
    start = wished_end(before[0], "start") if before and before[0] else None
    end = wished_end(last, "end")
    if start is None and end.word is None:
        raise unclear("effect", text)
    wish = (start, end)
    return wish, say("new.taken", {"taken": wish_said(wish)})


def wish_said(wish: Wish) -> str:
    """A wish in words."""
    start, end = wish
    values = {"start": "" if start is None else start.text, "end": end.text}
    return say("new.effect" if start else "new.effect-end", values)


def shelf_in_words(text: str, pigments: Pigments) -> tuple[Shelf | None, str]:
    """Colours and powders of a shelf, and what they were taken as.

    Parameters
    ----------
    text : str
        Names between commas or "and".
    pigments : Pigments
        What the maker can name.

    Returns
    -------
    Shelf
    str
        What it was taken as.

    Raises
    ------
    ValueError
        As `dosing.effects.shelf.read_shelf`.
    """
    called = read_toml("text/answers.toml")["shelf"]
    written = [pigments.nearly(called.get(name, name)) for name in _NAMES.split(text) if name]
    powders = tuple(key for key in map(known_powder, written) if key)
    if len(powders) == len(written):
        # Somebody who names acids only has said nothing of colours.
        return replace(whole_shelf(pigments=pigments), powders=powders), say(
            "new.taken", {"taken": listed([powder(key).label for key in powders])}
        )
    shelf = read_shelf(", ".join(written), pigments)
    names = [which.label for which in shelf.colours] + [powder(key).label for key in shelf.powders]
    return shelf, say("new.taken", {"taken": listed(names)})


def propose(wish: Wish | None, for_whom: Mapping[str, str], shelf: Shelf | None) -> EffectProposal:
    """The effect of the gallery that comes nearest to a wish with what there is.

    Parameters
    ----------
    wish : Wish, optional
        The best effect of all if not given.
    for_whom : mapping of str to str
        Table ``wish`` of a recipe: bathers, purpose and market.
    shelf : Shelf, optional
        What there is; None for everything.

    Returns
    -------
    EffectProposal
    """
    bathers, sold_in = for_whom.get("bathers"), None
    if for_whom.get("purpose") in GIVEN:
        sold_in = for_whom.get("market")
    start, end = wish or (None, None)

    def apart(effect: GalleryEffect) -> int:
        """How many of its ends are not as wished, the last counting twice."""
        differs = start is not None and effect.start != start.word
        return differs + 2 * (end is not None and effect.end != end.word)

    allowed = gallery(bathers=bathers, market=sold_in)
    # Any acid does what another does; how much of it, the plan says.
    colours = None if shelf is None else replace(shelf, powders=())
    here = gallery(bathers=bathers, market=sold_in, shelf=colours)
    able = [replace(each, powder=key) for each in here if (key := _powder(each, shelf))]
    nearest = sorted(able, key=apart)
    effect = nearest[0] if nearest else None
    as_wished = effect is not None and apart(effect) == 0
    elsewhere = () if as_wished else (*allowed, *gallery(bathers=bathers))
    wished = next((other for other in elsewhere if apart(other) == 0), None)
    own = end is not None and None in (end.word, end.word if start is None else start.word)
    # One pigment alone shows what the gallery has of it; several can be mixed anew.
    several = shelf is not None and not shelf.whole and len(shelf.colours) > 1
    return EffectProposal(
        effect,
        tuple(nearest[1:]),
        as_wished,
        searched=start is not None and not as_wished and (bathers == "nobody" or own or several),
        wished=wished,
        to_buy=()
        if wished is None or shelf is None
        else tuple(which.label for which in wished.colourants if which not in shelf.colours),
        market=sold_in,
        forbidden=_listed(wished, sold_in, "no"),
        unclear=_listed(effect, sold_in, "unclear"),
        powder_lacks=shelf is not None and not shelf.whole and not shelf.powders,
        other_acids=_other_acids(effect, shelf),
    )


def _other_acids(effect: GalleryEffect | None, shelf: Shelf | None) -> tuple[str, ...]:
    if effect is None or shelf is None:
        return ()
    others = (powder(key) for key in shelf.powders if key != effect.powder)
    return tuple(other.label for other in others if other.reaction == "acid")


def _listed(effect: GalleryEffect | None, market: str | None, answer: str) -> tuple[str, ...]:
    """Colours of an effect of which a market's list of cosmetic colours says this."""
    if effect is None or market is None:
        return ()
    says = {
        which.label: next((row[1] for row in permissions(which) if row[0] == market), "unclear")
        for which in effect.colourants
    }
    return tuple(label for label, said in says.items() if said == answer)


def _powder(effect: GalleryEffect, shelf: Shelf | None) -> str:
    """Powder of the shelf that turns an effect: its own, or another of its kind; "" if none."""
    if shelf is None or not shelf.powders or effect.powder in shelf.powders:
        return effect.powder
    wanted = powder(effect.powder).reaction
    return next((key for key in shelf.powders if powder(key).reaction == wanted), "")


def proposed_recipe(
    tables: Mapping[str, Any],
    wish: Wish | None,
    proposal: EffectProposal,
    shelf: Shelf | None,
    pigments: Pigments,
) -> ProposedRecipe:
    """The recipe file of what is proposed, in the tub that was told.

    Parameters
    ----------
    tables : mapping
        ``tub, water, foam_bath, wish`` of the recipe.
    wish : Wish, optional
        What is wished.
    proposal : EffectProposal
        What can be done.
    shelf : Shelf, optional
        What there is.
    pigments : Pigments
        What the maker can name.

    Returns
    -------
    ProposedRecipe
    """
    proposed = _kept(tables, wish, proposal, shelf, pigments)
    if wish is None:
        return proposed
    plan = make_plan(parse_recipe(proposed.text, "recipe", pigments))
    sights = (plan.before, plan.after)
    if not plan.wish_met or all(map(_is_as_wished, wish, sights)):
        return proposed
    phrases = [str(sight.colour.phrase) for sight in sights]
    if phrases[0] == phrases[1]:
        phrases = [str(sight.colour.name) for sight in sights]
    return replace(proposed, instead=tuple(phrases))


def _is_as_wished(end: End | None, sight: Sight) -> bool:
    """Whether a tub has a wished colour, by the name that its plan gives it."""
    if end is None or str(sight.colour.word) == end.word:
        return True
    return bool(meets(end, sight.colour.patch))


def _kept(
    tables: Mapping[str, Any],
    wish: Wish | None,
    proposal: EffectProposal,
    shelf: Shelf | None,
    pigments: Pigments,
) -> ProposedRecipe:
    """The recipe with its pH, or without where this water does not keep it."""
    text, found = _written(tables, wish, proposal, shelf, pigments)
    whole = tomllib.loads(text)
    # In a water that was read, what a search does not find does not turn as it does elsewhere.
    promised = (found or not tables["water"]) and _reached(text, pigments)
    if promised or "target" not in whole.get("wish", {}):
        return ProposedRecipe(text, found, left_open=False)
    volume_l = water_l(parse_recipe(text, "recipe", pigments).tub)
    others = (recipe_with(tables, effect, volume_l) for effect in proposal.others[:MOST_TRIED])
    first, *further = (_without_target(tables) for tables in (whole, *others))
    open_text = next((other for other in (first, *further) if _reached(other, pigments)), first)
    return ProposedRecipe(open_text, found, left_open=True)


def _without_target(tables: dict[str, Any]) -> str:
    kept = {key: value for key, value in tables["wish"].items() if key != "target"}
    return recipe_toml(say("new.comment"), say("new.title"), {**tables, "wish": kept})


def _reached(text: str, pigments: Pigments) -> bool:
    return make_plan(parse_recipe(text, "recipe", pigments)).reached


def _written(
    tables: Mapping[str, Any],
    wish: Wish | None,
    proposal: EffectProposal,
    shelf: Shelf | None,
    pigments: Pigments,
) -> tuple[str, bool]:
    """The recipe with its pH; where nothing on the shelf turns, a clear tint of its pigment."""
    title, comment = say("new.title"), say("new.comment")
    bare = parse_recipe(recipe_toml(comment, title, tables), title, pigments)
    # Where nobody read the water there is nothing to fit a mixture to.
    fits = tables["water"] or proposal.searched
    found = None
    for start, end, colours in _searches(wish, proposal, shelf) if fits else ():
        found = design_effects(bare, start, end, shelf=colours, count=1)
        if found.reached:
            return designed_recipe(tables, found, found.designs[0], pigments), True
    if found is not None and found.designs:
        # Not both colours, but nearer in this very tub than a mixture for another.
        return designed_recipe(tables, found, found.designs[0], pigments), False
    # What a market forbids can be looked at all the same: the plan says so.
    effect = proposal.effect or (proposal.wished if proposal.forbidden else None)
    if effect is not None:
        title = say("new.titled", {"start": effect.start, "end": effect.end})
        return recipe_toml(comment, title, recipe_with(tables, effect, water_l(bare.tub))), False
    whole = {**tables, "colour": [_clear_tint(bare, shelf, pigments)]}
    if shelf is not None and shelf.powders:
        whole["activator"] = {"parts": {shelf.powders[0]: 1}}
    return recipe_toml(comment, title, whole), False


def _searches(
    wish: Wish | None, proposal: EffectProposal, shelf: Shelf | None
) -> Iterator[tuple[End, End, Shelf | None]]:
    """What is searched for in the maker's own tub, and with which colours, the quickest first."""
    effect = proposal.effect
    if effect is not None and not proposal.searched:
        every = SHIPPED if shelf is None else shelf.pigments
        own = Shelf(effect.colourants, (effect.powder,), whole=False, pigments=every)
        yield End(effect.start, effect.start), End(effect.end, effect.end), own
    if wish is not None and wish[0] is not None:
        yield wish[0], wish[1], shelf


def _clear_tint(inputs: RecipeInputs, shelf: Shelf | None, pigments: Pigments) -> dict[str, str]:
    """First pigment of a shelf, as much as makes a clear tint of a tub."""
    names = [which.name for which in (shelf.colours if shelf else ()) if which.kind == "pigment"]
    colour = {"pigment": (names or [USUAL_PIGMENT])[0], "amount": "100 mL", "strength": "2 %"}
    some = parse_recipe(recipe_toml("", "colour", {"colour": [colour]}), "", pigments)
    tinted = replace(inputs, colours=some.colours)
    amounts = tint_amounts(tinted, assemble(tinted), possible_tubs(tinted))
    clear = next(amount for amount in amounts if amount.tint == "clear")
    millilitres = clear.infusion_ml if clear.infusion_ml > 0 else 100.0
    return {**colour, "amount": f"{measured_out(millilitres, dye=False):g} mL"}
