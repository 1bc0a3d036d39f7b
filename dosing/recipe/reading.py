"""Reading a recipe: file, TOML, the maker's own words for our keys, and what is refused.

A recipe that comes out of here has been turned into numbers once, so that whatever is wrong with
it is told before anything is computed.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from os import PathLike
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from dosing.bath.inputs import RecipeInputs
from dosing.recipe.answers import bathers_said
from dosing.recipe.core import recipe_inputs
from dosing.recipe.files import text_of
from dosing.recipe.models import RecipeFile, keys_of
from dosing.recipe.quantities import InputError, refuse
from indicator.accepted import as_text, of_kind
from indicator.notes import say
from indicator.pigments import Pigments
from indicator.tables import read_text, read_toml

LARGEST_FILE_BYTES = 1_000_000
DEMOS = {
    "1": "1_evening_soak",
    "2": "2_foam_bath_alone",
    "3": "3_green_start",
    "4": "4_hall_basin",
    "4-green": "4_hall_basin_green",
    "5": "5_blue_to_pink",
}

# What is wrong with the form of a table, by the beginnings of the validator's codes for it.
_FORM_ERRORS = {
    "error.missing": ("missing", "too_short"),
    "error.no-table": ("model", "dict", "list"),
    "error.too-long": ("too_long", "string_too_long"),
    "error.yes-no": ("bool",),
    "error.count": ("int", "greater", "less"),
}


def load_recipe(path: str | Path, pigments: Pigments | None = None) -> RecipeInputs:
    """Recipe in a file, in core units.

    Parameters
    ----------
    path : str or Path
        A TOML file.
    pigments : Pigments, optional
        What the maker can name; the shipped ones and those of the usual own folder if not given.

    Returns
    -------
    RecipeInputs

    Raises
    ------
    InputError
        If the file is missing, too large, not text, not TOML, or no recipe.
    """
    return recipe_from(load_tables(path), path, pigments)


def load_tables(path: str | Path) -> dict[str, Any]:
    """Tables of a recipe file under our keys, their values as written and not yet checked.

    Raises
    ------
    InputError
        If the file is missing, too large, not text or not TOML.
    """
    of_kind("path", path, (str, PathLike))
    file = Path(path)
    return beside(
        _own_words(toml_tables(text_of(file, "recipe", LARGEST_FILE_BYTES), file)), file.parent
    )


def beside(
    tables: dict[str, Any], folder: Path, lists: Sequence[str] = ("colour",)
) -> dict[str, Any]:
    """The tables with pigment files that stand beside the file found there.

    Parameters
    ----------
    tables : dict
        Of a file, as written; changed.
    folder : Path
        That the file is in.
    lists : sequence of str
        Names of the lists of tables that name pigments.

    Returns
    -------
    dict
        The same.
    """
    rows = [tables[name] for name in lists if isinstance(tables.get(name), list)]
    for colour in (row for those in rows for row in those):
        for kind in ("pigment", "dye"):
            if isinstance(colour, dict) and str(colour.get(kind)).endswith(".toml"):
                colour[kind] = str(folder / str(colour[kind]))
    return tables


def parse_recipe(
    text: str, name: str | Path = "recipe", pigments: Pigments | None = None
) -> RecipeInputs:
    """Recipe from its TOML text, in core units.

    Parameters
    ----------
    text : str
        TOML.
    name : str
        What to call it in messages; without its ending also its title, if it has none.
    pigments : Pigments, optional
        As in `load_recipe`.

    Returns
    -------
    RecipeInputs

    Raises
    ------
    InputError
        If it is not TOML or no recipe.
    """
    as_text("text", text)
    of_kind("name", name, (str, PathLike))
    return recipe_from(toml_tables(text, name), name, pigments)


def demo_tables(which: int | str = 1) -> dict[str, Any]:
    """Tables of a demo recipe, as `load_tables`; raises InputError if there is no such demo."""
    return _own_words(toml_tables(demo_text(which), "demo"))


def recipe_from(
    content: Mapping[str, Any], name: str | Path = "recipe", pigments: Pigments | None = None
) -> RecipeInputs:
    """Recipe from what a TOML file holds, in core units.

    Parameters
    ----------
    content : mapping
        Tables of the file, under our keys or the makers' own.
    name : str or Path
        As in `parse_recipe`.
    pigments : Pigments, optional
        As in `load_recipe`.

    Returns
    -------
    RecipeInputs

    Raises
    ------
    InputError
        If it is no recipe.
    """
    own = _own_words(content)
    own.setdefault("title", Path(name).stem[:200] or "recipe")
    wish = own.get("wish")
    if isinstance(wish, dict) and isinstance(wish.get("bathers"), str):
        own["wish"] = wish | bathers_said(wish["bathers"])
    try:
        recipe = RecipeFile.model_validate(own)
    except ValidationError as error:
        raise first_error(error, own) from None
    return recipe_inputs(recipe, own, pigments)


def demo_names() -> tuple[str, ...]:
    """Names that `demo_recipe` accepts."""
    return tuple(DEMOS)


def demo_recipe(which: int | str = 1) -> RecipeInputs:
    """One of the embedded demo recipes; their numbers are invented.

    Parameters
    ----------
    which : int or str
        1 an evening soak, 2 the same tub with a coloured foam bath alone, 3 a green start,
        4 a display basin going blue to pink, ``"4-green"`` the same going green to orange, 5 a bath
        going blue to pink with another pigment.

    Raises
    ------
    InputError
        If there is no such demo.
    """
    return parse_recipe(demo_text(which), f"{DEMOS[str(which)]}.toml")


def demo_text(which: int | str = 1) -> str:
    """Text of a demo recipe, with its comments.

    Raises
    ------
    InputError
        If there is no such demo.
    """
    name = DEMOS.get(str(which))
    if name is None:
        raise refuse("error.choice", "demo", which, ", ".join(DEMOS), hint="")
    return read_text(f"demo/{name}.toml")


def blank_recipe() -> str:
    """A recipe to fill in, every key with a comment in plain words."""
    return read_text("text/recipe_blank.toml")


def toml_tables(text: str, name: str | Path, kind: str = "recipe") -> dict[str, Any]:
    """Tables of a TOML text.

    Parameters
    ----------
    text : str
        TOML.
    name : str or Path
        What to call it in messages.
    kind : {"recipe", "product"}
        Of file.

    Returns
    -------
    dict

    Raises
    ------
    InputError
        If it is not TOML.
    """
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise refuse("error.nested", kind, name, "", kind=kind) from error
    except ValueError as error:
        # An integer of more digits than Python takes is the one error without a place.
        place = re.search(r"\(at (line \d+, column \d+|end of document)\)", str(error))
        if place is None:
            raise refuse("error.digits", kind, name, "", kind=kind) from error
        reason = re.sub(r"\s*\(at .*\)$", "", str(error), flags=re.S).splitlines()[0][:120]
        values = {"where": place[1], "reason": reason[:1].lower() + reason[1:]}
        raise refuse("error.toml", kind, name, "TOML", kind=kind, **values) from error


def _own_words(content: Mapping[str, Any]) -> dict[str, Any]:
    """The same content under our keys; nothing else is changed."""
    words = read_toml("text/recipe_words.toml")
    tables = _renamed(content, words["recipe"], "")
    if isinstance(tables.get("colour"), dict):
        tables["colour"] = [tables["colour"]]
    return {
        name: [_renamed(each, words.get(name, {}), f"{name}.") for each in table]
        if isinstance(table, list)
        else _renamed(table, words.get(name, {}), f"{name}.")
        for name, table in tables.items()
    }


def _renamed(content: Any, words: Mapping[str, str], place: str) -> Any:
    """A table under our keys; what is no table stays as it is."""
    if not isinstance(content, dict):
        return content
    renamed: dict[str, Any] = {}
    for key, value in content.items():
        ours = words.get(key, key)
        if ours in renamed or (ours != key and ours in content):
            raise refuse("error.said-twice", f"{place}{ours}", key, ours)
        renamed[ours] = value
    return renamed


def first_error(error: ValidationError, own: Mapping[str, Any], kind: str = "recipe") -> InputError:
    """The first thing wrong: a misspelt key, then the form of the tables, then what they say.

    Parameters
    ----------
    error : ValidationError
        Of the file's tables.
    own : mapping
        Those tables, as written.
    kind : {"recipe", "product"}
        Of file.

    Returns
    -------
    InputError
        To be raised.
    """
    order = {"extra_forbidden": 0, "value_error": 2}
    first = min(error.errors(include_url=False), key=lambda each: order.get(each["type"], 1))
    what, place, value = first["type"], first["loc"], first["input"]
    path = [str(part) for part in place if not _is_internal(part)]
    field = ".".join(path)
    rows = own.get(path[0]) if path else None
    alone = isinstance(rows, list) and len(rows) == 1 and what == "value_error"
    if isinstance(rows, list) and len(place) > 1 and isinstance(place[1], int) and not alone:
        field = field.replace(path[0], f"{path[0]}[{place[1] + 1}]", 1)
    if what == "value_error":
        refused: InputError = first["ctx"]["error"]
        return refused.at(field)
    if what == "extra_forbidden":
        return _unknown_key(path, field, kind)
    if field == "schema":
        return refuse("error.schema", field, value, "1", kind=kind)
    if what == "literal_error":
        accepted = str(first["ctx"]["expected"]).replace("'", "").replace(" or ", ", ")
        hint = near(str(value), accepted.split(", "))
        return refuse("error.choice", field, value, accepted, hint=hint)
    if what == "list_type" and isinstance(value, str):
        return refuse("error.unreadable", field, value, f'["{value}"]')
    code = next((code for code, begins in _FORM_ERRORS.items() if what.startswith(begins)), None)
    if code is not None:
        return refuse(code, field, value, "", kind=kind)
    _, example, *_ = [*keys_of(_table_of(path, kind), kind).get(path[-1], ["", "60 %"]), "..."]
    number = isinstance(value, int | float) and not isinstance(value, bool)
    # An example that begins with a digit is a quantity, so what is missing is the unit.
    code = "error.number-for-text" if number and str(example)[:1].isdigit() else "error.text"
    return refuse(code, field, value, f'"{example}"')


def _is_internal(part: str | int) -> bool:
    """Whether a step of the place is one of the validator's own (an index, a union's branch)."""
    return isinstance(part, int) or part in ("float", "schema_version") or "[" in part


def _table_of(path: list[str], kind: str) -> str:
    return path[-2] if len(path) > 1 else kind


def _unknown_key(path: list[str], field: str, kind: str) -> InputError:
    """Refusal of a key, with the nearest that is known."""
    table = _table_of(path, kind)
    words = read_toml("text/recipe_words.toml").get(table, {})
    known = keys_of(table, kind)
    hint = near(path[-1], [*known, *words], words)
    accepted = ", ".join(known)
    return refuse("error.unknown-key", field, path[-1], accepted, hint=hint, kind=kind)


def near(written: str, accepted: Sequence[str], words: Mapping[str, str] | None = None) -> str:
    """Hint at the nearest word that is accepted.

    Parameters
    ----------
    written : str
        As it was written.
    accepted : sequence of str
        What is.
    words : mapping, optional
        The makers' own words among those, to ours.

    Returns
    -------
    str
        Empty where none is near.
    """
    close = get_close_matches(written.casefold(), accepted, n=1)
    return say("error.near", {"name": (words or {}).get(close[0], close[0])}) if close else ""
