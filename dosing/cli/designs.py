"""Designs and the gallery asked for and shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dosing.bath.inputs import BATHERS
from dosing.cli.given import Files, check_picture, product_in, tables_of
from dosing.cli.output import answer
from dosing.cli.session import NOT_MET, known_pigments
from dosing.effects.answer import Effects, design_effects, wished_end
from dosing.effects.designs import Design
from dosing.effects.gallery import GalleryDocument, gallery
from dosing.effects.prices import prices_per_gram
from dosing.effects.shelf import Shelf, read_shelf, whole_shelf
from dosing.effects.written import designed_recipe
from dosing.recipe import recipe_from
from dosing.recipe.quantities import InputError
from dosing.words.templates import render, render_in
from indicator.accepted import one_of
from indicator.files import whole_file
from indicator.notes import say
from indicator.pigments import Pigments

if TYPE_CHECKING:
    from matplotlib.figure import Figure


DESIGN_LINES = 20
"""Lines of a default answer, at 80 columns."""


@dataclass(frozen=True)
class Asked:
    """Options of ``design``, as they were typed; refused where a file cannot be written."""

    shelf: str | None
    bathers: str | None
    write: Path | None
    pick: int | None
    count: int
    price: Sequence[str]
    more: bool
    cautions: bool

    def __post_init__(self) -> None:
        if self.bathers is not None:
            one_of("bathers", self.bathers, BATHERS)
        if self.write is None and self.pick is not None:
            raise InputError(say("design.error.pick-alone", {"value": self.pick}), "pick")
        check_picture(self.write, (".toml",), "write")

    def shelf_of(self, pigments: Pigments) -> Shelf | None:
        """Colours and powders on the shelf; None where nothing was named."""
        return None if self.shelf is None else read_shelf(self.shelf, pigments)

    def tables(self, written: dict[str, Any]) -> dict[str, Any]:
        """Tables of a recipe, for the bathers that were asked for."""
        if self.bathers is None:
            return written
        wish = {**written.get("wish", {}), "bathers": self.bathers}
        if self.bathers != "child":
            wish.pop("child_age", None)
        return {**written, "wish": wish}

    def picked(self, effects: Effects) -> Design:
        """The design that is written: the first, or that of a number."""
        number, count = self.pick or 1, len(effects.designs)
        if not 1 <= number <= count:
            raise InputError(say("design.error.pick", {"value": number, "count": count}), "pick")
        return effects.designs[number - 1]


def show_gallery(
    first: str | None, asked: Asked, files: Files, given: Mapping[str, object], *, as_json: bool
) -> int:
    """Show the effects that work, the surest first.

    Parameters
    ----------
    first : str, optional
        The first colour, as it was typed; effects of any first colour if not given.
    asked : Asked
        The shelf and the bathers, if any.
    files : Files
        What is written beside it: the picture is that of the first effect.
    given : mapping
        Options that are for one effect alone; None for those that were not given.
    as_json : bool
        Whether one document is printed.

    Returns
    -------
    int
        Exit code: 0, or `NOT_MET` where the shelf has no effect.
    """
    for option, value in given.items():
        named = say("design.a-file") if option == "recipe" else f"--{option}"
        if value is not None:
            raise InputError(say("design.error.both-colours", {"option": named}), option)
    start = None if first is None else wished_end(first, "start")
    if start is not None and start.word is None:
        raise InputError(say("design.error.one-colour", {"value": start.text}), "start", first)
    effects = gallery(bathers=asked.bathers, shelf=asked.shelf_of(known_pigments()))
    if start is not None:
        effects = tuple(effect for effect in effects if effect.start == start.word)

    def text(*, whole: bool = False) -> str:
        return render("gallery", effects=effects, start=start, asked=asked, bare=whole)

    if effects and (files.picture or files.sheet):
        from dosing.pictures.tubs import draw_gallery

        figure = draw_gallery(effects)
        _draw(figure, figure, text(whole=True), files)
    answer(GalleryDocument(effects), text, as_json=as_json, written=files.written)
    return 0 if effects else NOT_MET


def show_design(
    wished: tuple[str, str],
    recipe: tuple[Path | None, str | None],
    asked: Asked,
    files: Files,
    *,
    as_json: bool,
) -> int:
    """Find designs from a start to an end colour, and show the best.

    Parameters
    ----------
    wished : tuple of str
        Start and end, as they were typed.
    recipe : tuple
        Recipe file and name of a demo; None for those that were not given.
    asked : Asked
        Shelf, bathers, prices, and how much of the answer is shown.
    files : Files
        What is written beside it.
    as_json : bool
        Whether one document is printed.

    Returns
    -------
    int
        Exit code: 0, or `NOT_MET`.
    """
    start, end = wished_end(wished[0], "start"), wished_end(wished[1], "end")
    tables = asked.tables(tables_of(*recipe))
    inputs = recipe_from(tables, recipe[0] or "recipe", known_pigments())
    pigments = known_pigments().beside(colour.colourant for colour in inputs.colours)
    effects = design_effects(
        inputs,
        start,
        end,
        shelf=asked.shelf_of(pigments) or whole_shelf(inputs.colours, pigments),
        count=asked.count,
        prices=prices_per_gram(asked.price, pigments),
    )
    if asked.write is not None and (effects.designs or asked.pick):
        written = designed_recipe(tables, effects, asked.picked(effects), known_pigments())
        with whole_file(asked.write) as draft:
            draft.write_text(written, encoding="utf-8")

    of_product, file = None, product_in(recipe[0])
    if file is not None and asked.write is not None and effects.reached:
        from dosing.workshop.designed import product_of_design

        of_product = product_of_design(file, asked.picked(effects), known_pigments())

    def text(*, whole: bool = False) -> str:
        told: dict[str, Any] = {"effects": effects, "asked": asked, "wished": wished, "bare": whole}
        told["of_product"] = of_product
        how = {"more": asked.more or whole, "cautions": asked.cautions}
        return render_in(DESIGN_LINES, "design", **told, **how)

    if files.picture or files.sheet:
        from dosing.pictures.ribbon import draw_head
        from dosing.pictures.shop import draw_shop, shown_design

        shown = shown_design(effects, foam=inputs.foam_bath is not None)
        if shown is None:
            # A tub that forbids every design has words only.
            files = replace(files, picture=None)
            _draw(None, None, text(whole=True), files)
        else:
            _draw(draw_shop(shown), draw_head(shown), text(whole=True), files)
    answer(effects, text, as_json=as_json, written=files.written)
    return 0 if effects.reached and effects.allowed else NOT_MET


def _draw(figure: Figure | None, head: Figure | None, text: str, files: Files) -> None:
    """Write the picture, and the page to print with a picture at its head."""
    from dosing.pictures.sheets import write_picture, write_sheet

    if files.picture is not None and figure is not None:
        write_picture(figure, files.picture)
    if files.sheet is not None:
        write_sheet(text, head, files.sheet, files.paper)
