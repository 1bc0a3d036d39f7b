"""Layouts: the colour in the foam bath, in a bottle of its own, or as dry petals, side by side."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from dosing.bath.assembled import assemble
from dosing.bath.inputs import ColourInputs, RecipeInputs
from dosing.bath.mixed import colour_at
from dosing.bath.possible_tubs import possible_tubs
from dosing.bottle.keeping import keep
from dosing.plan.brewing import tint_amounts
from dosing.workshop.composition import NUMBERS, ProductColour
from dosing.workshop.materials import PERCENT, WATER
from dosing.workshop.product_file import LAYOUTS, ProductFile
from indicator.appearance import SeenColour, delta_e
from indicator.tables import value_of

ML_PER_L = 1000.0
CLEAR = 1
"""Place of a clear tint among those of `dosing.plan.brewing.tint_amounts`."""


@dataclass(frozen=True)
class ColourLayout:
    """One of three places for the colour, and what comes of it in one bath."""

    name: str
    """One of `dosing.workshop.product_file.LAYOUTS`."""
    chosen: bool
    """Whether it is the product's own."""
    amount: float
    """Brew [mL], or petals [g] of a dry sachet, for one bath."""
    amount_unit: str
    """``"mL"`` or ``"g"``."""
    petals_g: float
    """Dried petals for one bath [g]; NaN where nobody knows."""
    bottles_ml: float
    """Volume to bottle, and to preserve, for one bath: foam bath and brew together [mL]."""
    before: SeenColour
    """Tub before the activator."""
    after: SeenColour
    """Tub with the product's activator."""
    change_delta_e: float
    """CIEDE2000 between the two; NaN where nobody said what a sachet holds."""
    kept_share: float
    """Share of the colour left after the shelf time, 0 to 1; NaN where none is published."""
    kept_low: float
    """By the fastest published rates."""
    kept_high: float
    """By the slowest."""
    kept_open: bool
    """Whether the rates leave it so open that only its ends may be told."""
    kept_days: float
    """That shelf time [day]."""
    colour_cost: float | None
    """Of the colour for one bath, in the product's currency; None without a price."""

    @property
    def visible(self) -> bool:
        """Whether the tub is seen to be coloured."""
        return str(self.before.visibility) in ("visible", "strong")


def layouts(product: ProductFile) -> tuple[ColourLayout, ...]:
    """The three places for the colour of a product, side by side.

    Parameters
    ----------
    product : ProductFile
        With one pigment at least; only its first is moved.

    Returns
    -------
    tuple of ColourLayout
        In the order of `dosing.workshop.product_file.LAYOUTS`; empty without a pigment.
    """
    brew = next((c for c in product.formula.colours if c.colourant.kind == "pigment"), None)
    if brew is None:
        return ()
    own = next((c for c in product.recipe.colours if c.colourant == brew.colourant), None)
    if own is None:
        return ()
    beside_l = own.volume_l if own.held_in == "own bottle" else _clear_l(product.recipe, own)
    return tuple(_layout(product, brew, own, name, beside_l) for name in LAYOUTS)


def _clear_l(inputs: RecipeInputs, own: ColourInputs) -> float:
    """Brew for a clear tint [L]; as much as the recipe has where none can be had."""
    amounts = tint_amounts(inputs, assemble(inputs), possible_tubs(inputs))
    litres = amounts[CLEAR].infusion_ml / ML_PER_L
    return own.volume_l if np.isnan(litres) else litres


def _layout(
    product: ProductFile, brew: ProductColour, own: ColourInputs, name: str, beside_l: float
) -> ColourLayout:
    inside = name == "foam bath"
    chosen = name == product.layout
    litres = beside_l if not inside else _inside_l(product, brew)
    colour = own if chosen else _moved(own, litres, inside=inside, dry=name == "dry sachet")
    inputs = replace(
        product.recipe,
        colours=tuple(colour if each == own else each for each in product.recipe.colours),
    )
    setting = assemble(inputs)
    poured = setting.bath.with_activator(product.activator_g or 0.0, setting.per_gram)
    ph = np.array([float(setting.bath.ph), float(poured.ph)])
    seen = colour_at(setting.bath.strengths, ph, setting.view, setting.bath.surfactants_g_l)
    before, after = seen.at(0), seen.at(1)
    change = float(delta_e(before.lab, after.lab))
    days = value_of(NUMBERS, "shelf_days")
    share = low = high = 1.0
    left_open = False
    if name != "dry sachet":
        kept = keep(
            inputs,
            setting,
            days=days,
            temperature_c=value_of(NUMBERS, "shelf_c"),
            ph=product.ph if inside else brew.ph,
        )
        first = None if kept is None else next(c.share for c in kept.colours)
        share = low = high = np.nan
        if first is not None:
            share, low, high, left_open = first.best, first.low, first.high, first.open
    percent = brew.percent or float("nan")
    petals_g = colour.volume_l * ML_PER_L * percent / PERCENT
    price = None if product.price is None else product.price.per_gram.get(brew.colourant.name)
    brewed_ml = 0.0 if inside or name == "dry sachet" else colour.volume_l * ML_PER_L
    return ColourLayout(
        name=name,
        chosen=chosen,
        amount=petals_g if name == "dry sachet" else colour.volume_l * ML_PER_L,
        amount_unit="g" if name == "dry sachet" else "mL",
        petals_g=petals_g,
        bottles_ml=product.dose_ml + brewed_ml,
        before=before,
        after=after,
        change_delta_e=change if product.activator_g else float("nan"),
        kept_share=float(share),
        kept_low=float(low),
        kept_high=float(high),
        kept_open=left_open,
        kept_days=days,
        colour_cost=None if price is None else price * petals_g,
    )


def _inside_l(product: ProductFile, brew: ProductColour) -> float:
    """Brew in a dose of the foam bath: as it has it, or all of its water [L]."""
    share = product.formula.share_percent(brew.name) or product.formula.share_percent(WATER)
    return product.dose_g * share / PERCENT / ML_PER_L


def _moved(own: ColourInputs, litres: float, *, inside: bool, dry: bool) -> ColourInputs:
    """The same brew in another place."""
    millilitres = litres * ML_PER_L
    percent = own.petals_percent
    as_petals = dry and percent is not None
    return replace(
        own,
        content=(own.bottle_strength or 0.0) * litres,
        amount=millilitres * (percent or 0.0) / PERCENT if as_petals else millilitres,
        amount_unit="g" if as_petals else "mL",
        volume_l=litres,
        held_in="foam bath" if inside else "own bottle",
        preserved=not dry,
    )
