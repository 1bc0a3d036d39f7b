"""Recipes and files that a command is given, checked before anything is computed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dosing.bath.inputs import RecipeInputs
from dosing.cli.output import printable, to_error
from dosing.cli.session import NOT_MET, check_free, known_pigments
from dosing.pictures.sheets import ENDINGS, PAPERS
from dosing.recipe import demo_names, demo_tables, load_tables, recipe_from
from dosing.recipe.files import text_of
from dosing.recipe.quantities import InputError
from dosing.recipe.reading import LARGEST_FILE_BYTES, toml_tables
from indicator.accepted import spelled
from indicator.notes import listed, say

if TYPE_CHECKING:
    from dosing.workshop.product_file import ProductFile


@dataclass(frozen=True)
class Files:
    """Files that an answer is written to besides the terminal; refused if they cannot be."""

    picture: Path | None = None
    sheet: Path | None = None
    """A page to print."""
    paper: str = "A4"

    def __post_init__(self) -> None:
        check_picture(self.picture)
        check_picture(self.sheet, (".pdf",), "sheet")
        object.__setattr__(self, "paper", spelled("paper", self.paper, tuple(PAPERS)))

    @property
    def written(self) -> tuple[Path | None, Path | None]:
        """Those that were asked for."""
        return self.picture, self.sheet


def check_picture(
    picture: Path | None, endings: Sequence[str] = ENDINGS, option: str = "picture"
) -> None:
    """Refuse a picture that cannot be written before anything is computed.

    Parameters
    ----------
    picture : Path, optional
        Where it is to be written.
    endings : sequence of str
        Accepted endings, with their points.
    option : str
        That gave it.

    Raises
    ------
    InputError
        If the ending is none of those, the folder does not exist or the file does.
    """
    if picture is None:
        return
    if picture.suffix.lower() not in endings:
        values = {"option": option, "file": str(picture), "endings": listed(endings)}
        raise InputError(say("cli.picture-ending", values), option)
    if picture.is_dir() or not picture.parent.is_dir():
        raise InputError(
            say("cli.picture-folder", {"option": option, "file": str(picture)}), option
        )
    check_free(picture, option)


def recipe_of(recipe: Path | None, demo: str | None) -> RecipeInputs:
    """The recipe in a file, of a demo, or of the first demo.

    Parameters
    ----------
    recipe : Path, optional
        A recipe file.
    demo : str, optional
        Name of a demo.

    Returns
    -------
    RecipeInputs

    Raises
    ------
    InputError
        If both are given, or the recipe cannot be used.
    """
    name = "recipe" if recipe is None else recipe
    inputs = recipe_from(tables_of(recipe, demo), name, known_pigments())
    return replace(inputs, of_product=product_in(recipe) is not None)


def checked_product(file: Path | None) -> ProductFile | None:
    """The product in a file, whose bottles may be poured; else the command ends and says why.

    Returns
    -------
    ProductFile or None
        As of `product_in`.

    Raises
    ------
    typer.Exit
        With `NOT_MET`.
    """
    import typer

    from dosing.workshop.product import stops_in_bottles

    product = product_in(file)
    stops = () if product is None else stops_in_bottles(product)
    if stops:
        to_error(stops[0].message)
        raise typer.Exit(NOT_MET)
    return product


def tables_of(recipe: Path | None, demo: str | None) -> dict[str, Any]:
    """Tables of the recipe in a file, of a demo, or of the first demo, as they are written.

    Those of a product are its bath's.

    Parameters
    ----------
    recipe, demo
        As for `recipe_of`.

    Returns
    -------
    dict
        The tables of the file.
    """
    if recipe is not None and demo is not None:
        raise InputError(say("cli.recipe-and-demo"), "demo", demo)
    if recipe is not None:
        product = product_in(recipe)
        return load_tables(recipe) if product is None else dict(product.recipe_tables)
    return demo_tables(demo_names()[0] if demo is None else demo)


def product_of(file: Path | None, demo: str | None) -> ProductFile:
    """The product in a file, of a demo, or of the first demo.

    Parameters
    ----------
    file : Path, optional
        A product file.
    demo : str, optional
        Name of a demo product.

    Returns
    -------
    ProductFile

    Raises
    ------
    InputError
        If both are given, or the product cannot be used.
    """
    from dosing.workshop.product_file import demo_product, load_product

    if file is not None and demo is not None:
        raise InputError(say("cli.product-and-demo"), "demo", demo)
    if file is not None:
        return load_product(file, known_pigments())
    return demo_product(demo or "soak", known_pigments())


def product_in(file: Path | None) -> ProductFile | None:
    """The product in a file; None where it is a recipe, or no file is given."""
    # A pipe is read once, and holds a recipe.
    if file is None or not file.is_file():
        return None
    tables = toml_tables(text_of(file, "recipe", LARGEST_FILE_BYTES), file)
    return product_of(file, None) if {"bottle", "ingredient"} <= set(tables) else None


def typed_name(recipe: Path | None, demo: str | None) -> str:
    """Name of a recipe in the command that is typed next, after a space; empty for the first demo.

    Parameters
    ----------
    recipe, demo
        As for `recipe_of`.

    Returns
    -------
    str
    """
    if recipe is None:
        return f" --demo {demo}" if demo else ""
    name = printable(str(recipe))
    return f' "{name}"' if " " in name else f" {name}"


NO_FILES = Files()
