"""Lines of a product file that a design prints: none that the product then refuses."""

from __future__ import annotations

import tomllib
from dataclasses import replace

import pytest

from dosing.effects.answer import design_effects, wished_end
from dosing.effects.designs import Design
from dosing.effects.shelf import read_shelf
from dosing.workshop import assess, demo_product
from dosing.workshop.designed import product_of_design
from dosing.workshop.product_file import ProductFile, demo_product_text, product_from
from indicator.pigments import SHIPPED


def designed(start: str, end: str, shelf: str) -> Design:
    inputs = demo_product("green").recipe
    wished = wished_end(start, "start"), wished_end(end, "end")
    return design_effects(inputs, *wished, shelf=read_shelf(shelf, SHIPPED), count=1).designs[0]


def pasted(lines: tuple[str, ...]) -> ProductFile:
    """The product that is given away, with the lines in place of its own."""
    content = tomllib.loads(demo_product_text("green"))
    for gone in ("colour", "brew", "dye"):
        content.pop(gone)
    kept = ("mild blend", "phenoxyethanol with ethylhexylglycerin")
    content["ingredient"] = [line for line in content["ingredient"] if line["use"] in kept]
    written = tomllib.loads("\n".join(lines))
    content["ingredient"] += written.pop("ingredient", [])
    content["activator"] |= written.pop("activator")
    return product_from(content | written)


@pytest.mark.slow
def test_a_design_prints_no_sachet_that_its_product_refuses() -> None:
    design = designed("green", "orange", "purple sweet potato, tartrazine, citric acid")
    file = demo_product("green")
    refused = product_of_design(file, design)
    assert refused.lines == ()
    assert 0.0 < refused.most_g < refused.sachet_g == design.pour_g


@pytest.mark.slow
def test_a_pinch_of_dye_goes_into_the_bottle_as_a_solution() -> None:
    found = designed("green", "brown", "red cabbage, tartrazine, citric acid")
    # A third of its dye.
    colours = tuple(
        replace(each, amount=each.amount / 3.0) if each.colourant.kind == "dye" else each
        for each in found.inputs.colours
    )
    design = replace(found, inputs=replace(found.inputs, colours=colours))
    (dye,) = [each for each in design.colours if each.stock.is_dye]
    assert dye.grams is not None
    assert dye.grams < 0.1
    file = demo_product("green")
    told = product_of_design(file, design)
    assert told.dissolved == ("tartrazine",)
    product = pasted(told.lines)
    # No pouch of less than a tenth of a gram.
    assert [(each.dried, each.unit) for each in product.colour_packs] == [(True, "g")]
    # The bath still has its milligrams: as a solution of 1 %, weighed as water.
    share = product.formula.share_percent(dye.name) / 100.0
    assert product.dose_g * share * 0.01 == pytest.approx(dye.grams, rel=0.01)
    (held,) = [each for each in product.recipe.colours if each.colourant.name == dye.name]
    assert held.held_in == "foam bath"
    # Annex IV of Regulation (EC) 1223/2009 calls tartrazine CI 19140.
    assert "CI 19140" in " ".join(assess(product).bottle_list)
    # Beside the bottle stays a dye where a strip would have to show the pH of a coloured liquid.
    by_strip = product_of_design(replace(file, ph_read_with="strip"), design)
    assert (by_strip.dissolved, by_strip.pinches) == ((), ("tartrazine",))
