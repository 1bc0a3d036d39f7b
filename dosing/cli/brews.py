"""``brew``: how much colour a tub takes, and what the bottle that holds it looks like."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from dosing.bath.assembled import assemble
from dosing.bath.possible_tubs import possible_tubs
from dosing.cli.codes import NOT_MET
from dosing.cli.given import recipe_of
from dosing.cli.output import show
from dosing.plan.answer import without_activator
from dosing.plan.brewing import BottleLook, TintAmount, bottle_looks, tint_amounts
from dosing.plan.cautions import Caution, Verdicts
from dosing.recipe.quantities import InputError, amount
from dosing.words.bottle import brew_lines
from indicator.notes import say

MOST_BATHS = 100


@dataclass(frozen=True)
class BrewDocument:
    """Answer of ``brew``."""

    volume_l: float
    """Of the tub [L]."""
    bottle_ml: float
    baths: int
    verdicts: Verdicts
    """On the recipe as it is: pouring before any activator, giving and selling as it is planned."""
    cautions: tuple[Caution, ...]
    amounts: tuple[TintAmount, ...]
    """Colour for each tint of the tub."""
    bottles: tuple[BottleLook, ...]
    """The bottle that holds so much of it, in the same order."""


def run_brew(
    *, recipe: Path | None, demo: str | None, bottle: str, baths: int, as_json: bool
) -> int:
    """Show how much colour the tub takes, and the bottle that holds it.

    Parameters
    ----------
    recipe : Path or None
        A recipe file.
    demo : str or None
        Name of a demo.
    bottle : str
        Volume of the bottle, with a unit.
    baths : int
        For how many baths it is.
    as_json : bool
        Whether one document is printed.

    Returns
    -------
    int
        Exit code: `NOT_MET` where a caution forbids a tint.
    """
    if not 1 <= baths <= MOST_BATHS:
        raise InputError(say("cli.baths", {"value": baths, "most": MOST_BATHS}), "baths", baths)
    size = amount(bottle, "bottle")
    if size.kind != "volume" or size.value <= 0:
        raise InputError(say("cli.bottle", {"value": bottle}), "bottle", bottle)
    inputs = recipe_of(recipe, demo)
    amounts = tint_amounts(inputs, assemble(inputs), possible_tubs(inputs))
    looks = bottle_looks(inputs, amounts, size.value, baths)
    # What the recipe itself takes, before any activator.
    own = without_activator(inputs)
    record = BrewDocument(
        own.volume_l, size.value, baths, own.verdicts, own.cautions, amounts, looks
    )
    show(record, brew_lines(own, size.value, baths, amounts, looks), as_json=as_json)
    allowed = own.verdicts.of(inputs.wish.purpose).allowed
    return 0 if allowed and not any(tint.forbidden for tint in amounts) else NOT_MET
