"""``colours``: pigments and dyes along the pH: all of them, a ladder, or a row of jars."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from dosing.cli import options
from indicator.notes import say

if TYPE_CHECKING:
    from indicator.colourants import Colourant
    from indicator.pigments import Pigments

MOST_LADDERS = 24
USUAL_PH = "2,3,4,5,6,7,8,9,10"


def colours(
    names: Annotated[list[str] | None, options.argument("liquids")] = None,
    ph: Annotated[str | None, options.usual("ph-list")] = None,
    view: Annotated[list[str] | None, options.usual("views")] = None,
    strength: Annotated[str | None, options.usual("strength")] = None,
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
    from dosing.recipe import ladders as asked
    from dosing.recipe.quantities import InputError
    from dosing.words.colours import ColoursDocument, refused_files
    from dosing.words.templates import render
    from indicator.ladders import ladder
    from indicator.pigments import check_distinct, unsteady

    files = Files(picture, sheet, paper)
    known = known_pigments()
    liquids = list(dict.fromkeys(tuple(_colourants(text, known)) for text in names or []))
    check_distinct(which for liquid in liquids for which in liquid)
    views = asked.views(view or ["jar"], depth, light)
    rungs = asked.ph_values(USUAL_PH if ph is None else ph)
    if len(liquids) * len(views) > MOST_LADDERS:
        values = {"count": len(liquids) * len(views), "most": MOST_LADDERS}
        raise InputError(say("cli.ladders", values), "view")
    row = None
    if jars is not None:
        if len(liquids) != 1 or len(views) != 1 or views[0].kind == "tub":
            raise InputError(say("rainbow.of-one"), "jars", jars)
        strengths = asked.strengths(liquids[0], strength, views[0])
        stocks = [asked.stock_solution(text) for text in stock] if stock else USUAL_STOCKS
        row = rainbow(
            recipe_of(recipe, None), strengths, jars, views[0], stocks,
            ph_ends=None if ph is None else (min(rungs), max(rungs)),
        )  # fmt: skip
    elif stock or recipe:
        raise InputError(say("rainbow.no-jars"), "jars")
    ladders = [
        ladder(asked.strengths(liquid, strength, looked), rungs, looked)
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
