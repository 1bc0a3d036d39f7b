"""From petals to the bottle and the shelf: what a tub takes, how to brew it, what is left of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from dosing.bath.assembled import assemble
from dosing.bath.inputs import ColourInputs, RecipeInputs
from dosing.bath.possible_tubs import possible_tubs
from dosing.bottle.keeping import USUAL_SOAK_DAYS, Kept, keep
from dosing.bottle.steeping import Steeping, steep, steepable
from dosing.ingredients.trade_values import typical
from dosing.plan.answer import without_activator
from dosing.plan.brewing import (
    BottleFill,
    BottleLook,
    TintAmount,
    bottle_fill,
    bottle_looks,
    brewed_pigment,
    tint_amounts,
)
from dosing.plan.cautions import Caution, Verdicts
from indicator.colourants import Colourant

USUAL_MAKES_G, MAKES_STEP_G = 500.0, 50.0
BREW_L = 0.1
"""Of another pigment's brew, to begin with: the tints say how much it takes [L]."""


@dataclass(frozen=True)
class BrewAsked:
    """A day at the stove: what is brewed, filled and kept."""

    pigment: Colourant | None = None
    """That is steeped; None: the first pigment of the recipe."""
    petals_percent: float | None = None
    """Grams of dried petals in 100 g of infusion [%]; None: as the recipe has it."""
    makes_g: float | None = None
    """Finished infusion [g]; None: `USUAL_MAKES_G`, or what the recipe has if that is more."""
    steep_temperature_c: float | None = None
    steep_minutes: float | None = None
    lidded: bool = True
    pressed: bool = False
    measured_per_cm: float | None = None
    """As in `dosing.bottle.steeping.steep`."""
    bottle_ml: float = 250.0
    baths: int = 1
    """That the bottle is for."""
    days: float = 42.0
    """On the shelf [day]."""
    shelf_c: float = 22.0
    bottle_ph: float | None = None
    soak_days: float = USUAL_SOAK_DAYS
    """As in `dosing.bottle.keeping.keep`."""


@dataclass(frozen=True)
class Brewing:
    """Petals for a tub, the infusion to brew, the bottle to fill and what time leaves of it."""

    title: str
    volume_l: float
    """Of the tub [L]."""
    market: str
    bottle_ml: float
    baths: int
    verdicts: Verdicts
    """On the recipe as it is: pouring before any activator, giving and selling as it is planned."""
    cautions: tuple[Caution, ...]
    amounts: tuple[TintAmount, ...]
    """Colour for each tint of the tub."""
    planned_ml: float | None
    """What the recipe, and so its plan, has of that infusion [mL]; None where it has none."""
    bottles: tuple[BottleLook, ...]
    """The bottle that holds so much of it, in the same order."""
    fill: BottleFill
    """The bottle with as much infusion as the recipe has in it."""
    steeping: Steeping | None
    """None where nobody knows how strong this colourant's petals are, or it is a dye."""
    kept: Kept | None
    """None where no colour of the recipe has a published rate of fading."""
    allowed: bool
    """Whether the recipe may be used for its purpose, and no tint is too sour by itself."""

    @property
    def tubs(self) -> float:
        """So many tubs of a clear tint the infusion is for; NaN where none can be had."""
        clear_ml = self.amounts[1].infusion_ml
        return float("nan") if self.steeping is None else self.steeping.makes_g / clear_ml


def brewing(inputs: RecipeInputs, asked: BrewAsked) -> Brewing:
    """Petals, water and minutes for a tub's colour, its bottle and how that keeps.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    asked : BrewAsked
        What is brewed, filled and kept.

    Returns
    -------
    Brewing
        Amounts [g], [mL], colours and shares.

    Raises
    ------
    ValueError
        As `dosing.bottle.steeping.steep`.
    """
    planned = any(colour.colourant == brewed_pigment(inputs) for colour in inputs.colours)
    if asked.pigment is not None and asked.pigment != brewed_pigment(inputs):
        inputs, planned = _with_brew_of(inputs, asked.pigment), False
    setting, own = assemble(inputs), without_activator(inputs)
    amounts = tint_amounts(inputs, setting, possible_tubs(inputs))
    pigment = brewed_pigment(inputs)
    percent = asked.petals_percent or amounts[0].infusion_percent
    amounts = tuple(_of_strength(amount, percent) for amount in amounts)
    planned_ml = _planned_ml(amounts) if planned else None
    made = None
    if steepable(pigment):
        made = steep(
            pigment,
            petals_percent=percent,
            makes_g=asked.makes_g or _usual_g(planned_ml),
            temperature_c=asked.steep_temperature_c,
            minutes=asked.steep_minutes,
            lidded=asked.lidded,
            pressed=asked.pressed,
            measured_per_cm=asked.measured_per_cm,
        )
    return Brewing(
        title=own.title,
        volume_l=own.volume_l,
        market=own.market,
        bottle_ml=asked.bottle_ml,
        baths=asked.baths,
        # What the recipe itself takes, before any activator.
        verdicts=own.verdicts,
        cautions=own.cautions,
        amounts=amounts,
        planned_ml=planned_ml,
        bottles=bottle_looks(inputs, amounts, asked.bottle_ml, asked.baths),
        fill=bottle_fill(
            inputs, setting, asked.bottle_ml / asked.baths, amounts[0].infusion_percent
        ),
        steeping=made,
        kept=keep(
            inputs,
            setting,
            days=asked.days,
            temperature_c=asked.shelf_c,
            ph=asked.bottle_ph,
            soak_days=asked.soak_days,
        ),
        allowed=own.verdicts.of(inputs.wish.purpose).allowed
        and not any(amount.forbidden for amount in amounts),
    )


def _with_brew_of(inputs: RecipeInputs, pigment: Colourant) -> RecipeInputs:
    """The recipe with a usual brew of another pigment in place of its colours."""
    percent = typical("usual_infusion_percent").value
    if pigment.per_percent is None:
        return inputs
    per_cm = pigment.per_percent.best * percent
    brew = ColourInputs(
        pigment,
        content=per_cm * BREW_L,
        amount=1000.0 * BREW_L,
        amount_unit="mL",
        volume_l=BREW_L,
        bottle_strength=per_cm,
        petals_percent=percent,
    )
    return replace(inputs, colours=(brew,))


def _usual_g(planned_ml: float | None) -> float:
    """Infusion to brew where nobody says how much [g]: enough for the recipe."""
    if planned_ml is None or not planned_ml > USUAL_MAKES_G:
        return USUAL_MAKES_G
    return MAKES_STEP_G * math.ceil(planned_ml / MAKES_STEP_G)


def _planned_ml(amounts: Sequence[TintAmount]) -> float | None:
    """Infusion in the recipe [mL], of which a tint takes so many times; None where none is had."""
    return next((a.infusion_ml / a.factor for a in amounts if a.factor == a.factor), None)


def _of_strength(amount: TintAmount, percent: float) -> TintAmount:
    """The same petals in an infusion of another strength [% w/v]."""
    thinner = amount.infusion_percent / percent
    return replace(amount, infusion_ml=amount.infusion_ml * thinner, infusion_percent=percent)
