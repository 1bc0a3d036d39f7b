"""A design as lines of a product file, and whether the product may hold its sachet."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace

from dosing.effects.designs import Design, DesignedColour
from dosing.effects.shelf import G_PER_L_AT_ONE_PERCENT
from dosing.effects.written import product_lines
from dosing.recipe import recipe_from
from dosing.workshop.composition import NUMBERS
from dosing.workshop.materials import PERCENT
from dosing.workshop.product_file import ProductFile
from dosing.workshop.sachet_limit import most_in_bath_g
from indicator.pigments import SHIPPED, Pigments
from indicator.tables import value_of


@dataclass(frozen=True)
class DesignedProduct:
    """A design written for a product."""

    purpose: str
    """Of the product."""
    sachet_g: float
    """Activator of one bath [g]."""
    most_g: float
    """Most that the product may hold of it with these colours [g]."""
    lines: tuple[str, ...]
    """Of its file; none where they are refused."""
    dissolved: tuple[str, ...]
    """Dyes of which a bath takes a pinch, so that the bottle holds them."""
    pinches: tuple[str, ...]
    """Such dyes as neither fit the bottle nor can be weighed out for a bath."""


def product_of_design(
    file: ProductFile, design: Design, pigments: Pigments = SHIPPED
) -> DesignedProduct:
    """Lines that make a design the colour and the sachet of a product.

    Parameters
    ----------
    file : ProductFile
        Whose bath it was designed for.
    design : Design
        For one bath of it.
    pigments : Pigments
        What the maker can name.

    Returns
    -------
    DesignedProduct
        Without lines where the product would refuse the sachet.
    """
    dry = product_lines(design, pigments)
    most_g = _most_g(file, design, dry, pigments)
    few = _pinches(design)
    bottled = {each.name: _solution(each, file.dose_g) for each in few}
    fits = sum(share for _, share in bottled.values()) <= value_of(NUMBERS, "most_dye_solution")
    # What a strip shows in a coloured bottle is no pH.
    fits = fits and file.ph_read_with != "strip"
    wet = product_lines(design, pigments, bottled) if fits else dry
    labels = tuple(each.colourant.label for each in few)
    return DesignedProduct(
        purpose=file.purpose,
        sachet_g=design.pour_g,
        most_g=most_g,
        lines=wet if design.pour_g <= most_g else (),
        dissolved=labels if fits else (),
        pinches=() if fits else labels,
    )


def _pinches(design: Design) -> tuple[DesignedColour, ...]:
    """Dyes beside dry petals of which a bath takes too little to weigh out."""
    if any(each.grams is None for each in design.colours):
        # A bottle of its own holds its dye as a solution.
        return ()
    least_g = value_of(NUMBERS, "least_pinch")
    return tuple(
        each for each in design.colours if each.stock.is_dye and (each.grams or 0.0) < least_g
    )


def _solution(dye: DesignedColour, dose_g: float) -> tuple[float, float]:
    """Strength of a dye's solution [% w/v], and its share in the foam bath of a dose [%]."""
    percent = (dye.stock.grams_per_l or 0.0) / G_PER_L_AT_ONE_PERCENT
    # Little more of some dyes dissolves than their stock holds.
    if percent >= value_of(NUMBERS, "dye_stock"):
        percent = value_of(NUMBERS, "dye_solution")
    return percent, PERCENT * PERCENT * (dye.grams or 0.0) / percent / dose_g


def _most_g(file: ProductFile, design: Design, lines: tuple[str, ...], pigments: Pigments) -> float:
    """Most of the design's activator that the product may hold [g]."""
    tables = tomllib.loads("\n".join(lines))
    said = ("pigment", "dye", "amount", "strength")
    rows = [*tables.get("brew", ()), *tables.get("dye", ())]
    # The brew of an own bottle is judged as one that its maker preserves.
    kept = {"preserved": True} if tables["colour"]["layout"] == "own bottle" else {}
    colours = [{key: row[key] for key in said if key in row} | kept for row in rows]
    activator = {**file.recipe_tables["activator"], "parts": dict(tables["activator"]["parts"])}
    bath = {**file.recipe_tables, "colour": colours, "activator": activator}
    recipe = recipe_from(bath, file.name, pigments)
    held = replace(file, recipe=recipe, sachet_g=design.pour_g, sachets_per_bath=1)
    return most_in_bath_g(held)
