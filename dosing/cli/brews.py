"""``brew``: how much colour a tub takes, and what the bottle that holds it looks like."""

from __future__ import annotations

import math
from dataclasses import asdict
from pathlib import Path

from dosing.bath.assembled import assemble
from dosing.bath.possible_tubs import possible_tubs
from dosing.cli.jsonout import colour, judged
from dosing.cli.output import Page, to_json
from dosing.cli.planning import NOT_MET, recipe_of
from dosing.plan.answer import preview
from dosing.plan.brewing import BottleLook, TintAmount, bottle_looks, tint_amounts
from dosing.plan.cautions import pour_forbidden
from dosing.plan.records import Plan
from dosing.recipe.quantities import InputError, amount
from dosing.words import wording
from dosing.words.plan import stopped_lines
from indicator.notes import Value, say

MOST_BATHS = 100


def run_brew(
    recipe: Path | None, demo: str | None, *, bottle: str, baths: int, as_json: bool
) -> int:
    """Show how much colour the tub takes; returns the exit code."""
    if not 1 <= baths <= MOST_BATHS:
        raise InputError(say("cli.baths", {"value": baths, "most": MOST_BATHS}), "baths", baths)
    size = amount(bottle, "bottle")
    if size.kind != "volume" or size.value <= 0:
        raise InputError(say("cli.bottle", {"value": bottle}), "bottle", bottle)
    inputs = recipe_of(recipe, demo)
    setting = assemble(inputs)
    amounts = tint_amounts(inputs, setting, possible_tubs(inputs))
    looks = bottle_looks(inputs, amounts, size.value, baths)
    # What the recipe itself takes, before any activator.
    own = preview(inputs, 0.0)
    sour = any(one.forbidden for one in amounts) or pour_forbidden(own.cautions)
    code = NOT_MET if sour else 0
    if as_json:
        to_json(
            {
                "volume_l": float(setting.bath.volume_l),
                "bottle_ml": size.value,
                "baths": baths,
                **judged(own),
                "amounts": [
                    {**asdict(one), "bottle": _look(look)}
                    for one, look in zip(amounts, looks, strict=True)
                ],
            }
        )
        return code
    _show(
        own,
        (size.value, baths),
        amounts,
        looks,
    )
    return code


def _look(look: BottleLook) -> dict[str, object]:
    return {
        "percent": look.percent,
        "petals_g": look.petals_g,
        "brewable": look.brewable,
        "black": look.black,
        **colour(look.colour),
    }


def _show(
    own: Plan,
    bottle: tuple[float, int],
    amounts: tuple[TintAmount, ...],
    looks: tuple[BottleLook, ...],
) -> None:
    page = Page()
    page.line(own.title, style="bold")
    page.line(say("brew.tub", {"volume": wording.litres(own.volume_l)}))
    page.show(stopped_lines(own))
    page.heading(say("plan.heading.amounts"))
    for one in amounts:
        page.line(wording.tint_amount(one), indent=2, hang=2)
    if amounts[0].in_step:
        page.line(say("plan.tint-step"), indent=2, hang=2)
    size, baths = bottle
    values: dict[str, Value] = {"size": size, "baths": baths}
    page.heading(say("brew.bottle-one" if baths == 1 else "brew.bottle-many", values))
    for one, look in zip(amounts, looks, strict=True):
        if math.isfinite(look.percent) and not one.forbidden:
            page.swatch(str(look.colour.hex), _look_line(look))
    if any(look.black for look in looks):
        page.line(say("brew.black"), indent=2, hang=2)
    if not all(look.brewable for look in looks):
        page.line(say("brew.too-strong"), indent=2, hang=2)
    page.heading(say("plan.heading.next"))
    page.line(say("plan.next.strength"), indent=2, hang=2)


def _look_line(look: BottleLook) -> str:
    values: dict[str, Value] = {
        "tint": say(f"plan.tints.{look.tint}"),
        "percent": wording.two_figures(look.percent),
        "petals": f"{wording.two_figures(look.petals_g)} g",
        "name": str(look.colour.name),
        "mark": "" if look.brewable else say("brew.mark"),
    }
    return say("brew.look", values).rstrip()
