"""``colours``: pigments and dyes along the pH: all of them, a ladder, or a row of jars."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from dosing.cli import options
from indicator.notes import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dosing.bottle.rainbow import StockSolution
    from indicator.colourants import Colourant
    from indicator.optics import View
    from indicator.pigments import Pigments

MOST_RUNGS, MOST_LADDERS = 200, 24
USUAL_PH = "2,3,4,5,6,7,8,9,10"


def colours(
    names: Annotated[list[str] | None, options.argument("liquids")] = None,
    ph: Annotated[str | None, options.usual("ph-list")] = None,
    view: Annotated[list[str] | None, options.usual("views")] = None,
    strength: options.Strength = None,
    spectrum: Annotated[bool, options.usual("spectrum", "--spectrum")] = False,
    jars: Annotated[int | None, options.usual("jars")] = None,
    stock: Annotated[list[str] | None, options.usual("stock")] = None,
    recipe: Annotated[Path | None, options.usual("water-of", metavar="FILE")] = None,
    picture: options.Picture = None,
    sheet: options.Sheet = None,
    more: options.More = False,
    as_json: options.Json = False,
    depth: Annotated[str | None, options.rare("depth")] = None,
    light: Annotated[str | None, options.rare("light")] = None,
    paper: options.Paper = "A4",
) -> None:
    """Colours of pigments along the pH."""
    from dosing.bottle.rainbow import USUAL_STOCKS, rainbow
    from dosing.cli.given import Files, recipe_of
    from dosing.cli.output import answer
    from dosing.cli.session import known_pigments
    from dosing.pictures.sheets import write_picture, write_sheet
    from dosing.recipe.quantities import InputError
    from dosing.words.colours import ColoursDocument, refused_files
    from dosing.words.templates import render
    from indicator.ladders import ladder
    from indicator.pigments import check_distinct, unsteady

    files = Files(picture, sheet, paper)
    known = known_pigments()
    liquids = list(dict.fromkeys(tuple(_colourants(text, known)) for text in names or []))
    check_distinct(which for liquid in liquids for which in liquid)
    views = _views(view or ["jar"], depth, light)
    rungs = _ph_values(USUAL_PH if ph is None else ph)
    if len(liquids) * len(views) > MOST_LADDERS:
        values = {"count": len(liquids) * len(views), "most": MOST_LADDERS}
        raise InputError(say("cli.ladders", values), "view")
    row = None
    if jars is not None:
        if len(liquids) != 1 or len(views) != 1 or views[0].kind == "tub":
            raise InputError(say("rainbow.of-one"), "jars", jars)
        strengths = _strengths(liquids[0], strength, views[0])
        stocks = [_stock(text) for text in stock] if stock else USUAL_STOCKS
        row = rainbow(
            recipe_of(recipe, None), strengths, jars, views[0], stocks,
            ph_ends=None if ph is None else (min(rungs), max(rungs)),
        )  # fmt: skip
    elif stock or recipe:
        raise InputError(say("rainbow.no-jars"), "jars")
    ladders = [
        ladder(_strengths(liquid, strength, looked), rungs, looked)
        for liquid in liquids or [(which,) for which in known.every]
        for looked in views
    ]
    if row is not None:
        ladders = [row.ladder]
    # The lowest pH may do more to a colour than its forms tell.
    lowest = min(float(each.ph.min()) for each in ladders)
    document = ColoursDocument(
        ladders=tuple(ladders),
        rainbow=row,
        listed=not liquids,
        spectrum=spectrum,
        warnings=(
            *unsteady((which for liquid in liquids for which in liquid), lowest),
            *(() if liquids else refused_files(known.refused)),
        ),
    )

    def text(*, more: bool = more) -> str:
        return render("colours", answer=document, more=more, own_water=recipe is not None)

    if picture or sheet:
        from dosing.pictures.ladder import draw_jar_rows, draw_ladders, draw_overview

        figure = (draw_ladders if liquids else draw_overview)(document.ladders)
        if row is not None:
            figure = draw_jar_rows(row)
        if picture:
            write_picture(figure, picture)
        if sheet:
            write_sheet(text(more=more or row is not None), figure, sheet, paper)
    answer(document, text, as_json=as_json, written=files.written)


COMMAND = options.Command(colours, "help.colours")


def _colourants(liquid: str, pigments: Pigments) -> list[Colourant]:
    """Colourants of a liquid such as ``butterfly-pea+tartrazine``, each once."""
    from dosing.cli.given import product_in
    from dosing.recipe.quantities import InputError
    from indicator.own import at_home

    # A pigment file may have a plus in its path.
    whole = liquid.endswith(".toml") and at_home(liquid).is_file()
    if whole and product_in(at_home(liquid)) is not None:
        raise InputError(say("cli.no-pigment", {"file": liquid}), "pigment", liquid)
    parts = [liquid] if whole else [part.strip() for part in liquid.split("+")]
    if len(parts) > 1 and not all(parts):
        raise InputError(say("cli.mixture", {"value": liquid}), "pigment", liquid)
    return list(dict.fromkeys(map(pigments.find, parts)))


def _views(names: Sequence[str], depth: str | None, light: str | None) -> list[View]:
    """The views of those names, each once."""
    from dosing.recipe.quantities import InputError, length_cm
    from indicator.appearance import light_name
    from indicator.optics import VIEWS, small_view, tub_view, view_value

    vessels = list(dict.fromkeys(name.strip().lower() for name in names))
    for name in vessels:
        if name not in VIEWS:
            raise InputError(say("cli.view", {"value": name}), "view", name)
    if len(vessels) > 1 and depth is not None:
        values = {"value": depth, "views": ", ".join(vessels)}
        raise InputError(say("cli.depth-of-several", values), "depth", depth)
    path = None if depth is None else length_cm(depth, "depth")
    lit = light_name("D65" if light is None else light)
    usual = view_value("tub_depth")
    return [
        tub_view(usual if path is None else path, lit)
        if name == "tub"
        else small_view(name, path, lit)
        for name in vessels
    ]


def _ph_values(text: str) -> list[float]:
    """A list of pH values as it is typed."""
    from dosing.recipe.quantities import InputError
    from dosing.recipe.quantities import ph as typed_ph

    values = [typed_ph(part.strip(), "ph") for part in text.split(",") if part.strip()]
    if not 1 <= len(values) <= MOST_RUNGS:
        raise InputError(say("cli.ph-list", {"count": len(values), "most": MOST_RUNGS}), "ph", text)
    return values


def _strengths(liquid: Sequence[Colourant], text: str | None, view: View) -> dict[Colourant, float]:
    """Strength of each colourant in the vessel: as typed, else one at which it shows."""
    from dosing.recipe.quantities import colour_strength
    from indicator.ladders import shown_strength, typed_strength

    if text is None:
        return {which: shown_strength(which, view) for which in liquid}
    typed = colour_strength(text, "strength")
    return {which: typed_strength(which, typed.kind, typed.value) for which in liquid}


def _stock(text: str) -> StockSolution:
    """A solution such as ``"citric acid 5 %"``."""
    from dosing.bottle.rainbow import StockSolution
    from dosing.ingredients.powders import powder
    from dosing.recipe.quantities import InputError

    written = re.fullmatch(r"\s*(.*\S)\s+(\d+(?:[.,]\d+)?)\s*%\s*", text)
    if written is None:
        raise InputError(say("rainbow.stock", {"value": text}), "stock", text)
    name, percent = written[1].lower().replace(" ", "-"), written[2].replace(",", ".")
    return StockSolution(powder(name).name, float(percent))
