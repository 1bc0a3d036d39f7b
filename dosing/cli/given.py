"""Recipes and files that a command is given, checked before anything is computed."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from dosing.bath.inputs import RecipeInputs
from dosing.cli.outputs import check_free
from dosing.cli.own_files import known_pigments
from dosing.recipe import demo_names, demo_tables, load_tables, recipe_from
from dosing.recipe.quantities import InputError
from indicator.notes import say
from indicator.sheet import PICTURE_ENDINGS


def check_picture(picture: Path | None, endings: Sequence[str] = PICTURE_ENDINGS) -> None:
    """Refuse a picture that cannot be written before anything is computed.

    Parameters
    ----------
    picture : Path, optional
        Where it is to be written.
    endings : sequence of str
        Accepted endings, with their points.

    Raises
    ------
    InputError
        If the ending is none of those, the folder does not exist or the file does.
    """
    if picture is None:
        return
    if picture.suffix.lower() not in endings:
        raise InputError(say("cli.picture-ending", {"file": str(picture)}), "picture")
    if picture.is_dir() or not picture.parent.is_dir():
        raise InputError(say("cli.picture-folder", {"file": str(picture)}), "picture")
    check_free(picture, "picture")


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
    return recipe_from(tables_of(recipe, demo), name, known_pigments())


def tables_of(recipe: Path | None, demo: str | None) -> dict[str, Any]:
    """Tables of the recipe in a file, of a demo, or of the first demo, as they are written.

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
        return load_tables(recipe)
    return demo_tables(demo_names()[0] if demo is None else demo)
