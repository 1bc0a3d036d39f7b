"""Reading a recipe: file, TOML, the maker's own words for our keys, and what is refused.

A recipe that comes out of here has been turned into numbers once, so that whatever is wrong with
it is told before anything is computed.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from difflib import get_close_matches
from os import PathLike
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from dosing.bath.inputs import RecipeInputs
from dosing.recipe.core import recipe_inputs
from dosing.recipe.models import RecipeFile
from dosing.recipe.quantities import InputError, refuse
from indicator.accepted import as_text, of_kind
from indicator.files import was_read
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

# The maker's own words for our tables and keys. Where a table is named, only inside it.
TABLE_WORDS = {
    "bubble_bath": "foam_bath",
    "foambath": "foam_bath",
    "color": "colour",
    "colors": "colour",
    "colours": "colour",
    "bath": "tub",
    "tap_water": "water",
    "powder": "activator",
    "name": "title",
}
KEY_WORDS: Mapping[str, Mapping[str, str]] = {
    "tub": {"depth": "fill", "water": "volume", "measured": "volume_measured"},
    "water": {
        "kh": "alkalinity",
        "gh": "hardness",
        "hco3": "bicarbonate",
        "sulphate": "sulfate",
        "pH": "ph",
        "read_with": "instrument",
    },
    "foam_bath": {"pH": "ph", "volume": "amount"},
    "colour": {
        "tea": "pigment",
        "infusion": "pigment",
        "flower": "pigment",
        "color": "dye",
        "colour": "dye",
        "volume": "amount",
    },
    "activator": {"powders": "parts", "blend": "parts"},
    "wish": {"color": "target", "colour": "target", "age": "child_age", "ph": "target"},
}


def load_recipe(path: str | Path, pigments: Pigments | None = None) -> RecipeInputs:
    """Recipe in a file, in core units.

    Parameters
    ----------
    path : str or Path
        A TOML file.
    pigments : Pigments, optional
        What the maker can name; the shipped ones and those of the usual own folder if not given.

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
    name = file
    try:
        if not file.is_file():
            code = "error.folder" if file.is_dir() else "error.no-file"
            raise refuse(code, "recipe", name, "")
        # One byte more than allowed tells a file that grew since its size was asked.
        was_read(file)
        with file.open("rb") as stream:
            content = stream.read(LARGEST_FILE_BYTES + 1)
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        raise refuse("error.unreadable-file", "recipe", name, "") from error
    if len(content) > LARGEST_FILE_BYTES:
        limit = f"{LARGEST_FILE_BYTES / 1e6:g} MB"
        raise refuse("error.large-file", "recipe", name, limit)
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refuse("error.not-text", "recipe", name, "UTF-8") from error
    return _own_words(_beside(_toml(text, file), file.parent))


def _beside(content: dict[str, Any], folder: Path) -> dict[str, Any]:
    """The content with pigment files that stand beside the recipe found there."""
    for table in ("colour", "color", "colours", "colors"):
        colours = content.get(table)
        tables = colours if isinstance(colours, list) else [colours]
        for one in (each for each in tables if isinstance(each, dict)):
            for key, written in one.items():
                ours = KEY_WORDS["colour"].get(key, key)
                if ours in ("pigment", "dye") and str(written).endswith(".toml"):
                    one[key] = str(folder / str(written))
    return content


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

    Raises
    ------
    InputError
        If it is not TOML or no recipe.
    """
    as_text("text", text)
    of_kind("name", name, (str, PathLike))
    return recipe_from(_toml(text, name), name, pigments)


def demo_tables(which: int | str = 1) -> dict[str, Any]:
    """Tables of a demo recipe, as `load_tables`; raises InputError if there is no such demo."""
    return _own_words(_toml(demo_text(which), "demo"))


def recipe_from(
    content: Mapping[str, Any], name: str | Path = "recipe", pigments: Pigments | None = None
) -> RecipeInputs:
    """Recipe from what a TOML file holds, in core units; as `parse_recipe`."""
    own = _own_words(content)
    own.setdefault("title", Path(name).stem[:200] or "recipe")
    try:
        recipe = RecipeFile.model_validate(own)
    except ValidationError as error:
        raise _first_error(error, own) from None
    return recipe_inputs(recipe, own, pigments)


def demo_names() -> tuple[str, ...]:
    """What `demo_recipe` accepts."""
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


def _toml(text: str, name: str | Path) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise refuse("error.nested", "recipe", name, "") from error
    except ValueError as error:
        # An integer of more digits than Python takes is the one error without a place.
        place = re.search(r"\(at (line \d+, column \d+|end of document)\)", str(error))
        if place is None:
            raise refuse("error.digits", "recipe", name, "") from error
        reason = re.sub(r"\s*\(at .*\)$", "", str(error), flags=re.S).splitlines()[0][:120]
        values = {"where": place[1], "reason": reason[:1].lower() + reason[1:]}
        raise refuse("error.toml", "recipe", name, "TOML", **values) from error


def _own_words(content: Mapping[str, Any]) -> dict[str, Any]:
    """The same content under our keys; nothing else is changed."""
    renamed = _renamed(content, TABLE_WORDS, "")
    for table, words in KEY_WORDS.items():
        inside = renamed.get(table)
        if isinstance(inside, dict):
            inside = renamed[table] = _renamed(inside, words, f"{table}.")
        if table == "colour" and isinstance(inside, dict):
            renamed[table] = [inside]
        elif table == "colour" and isinstance(inside, list):
            renamed[table] = [
                _renamed(one, words, "colour.") if isinstance(one, dict) else one for one in inside
            ]
    return renamed


def _renamed(content: Mapping[str, Any], words: Mapping[str, str], place: str) -> dict[str, Any]:
    renamed: dict[str, Any] = {}
    for key, value in content.items():
        ours = words.get(key, key)
        if ours in renamed or (ours != key and ours in content):
            raise refuse("error.said-twice", f"{place}{ours}", key, ours)
        renamed[ours] = value
    return renamed


def _first_error(error: ValidationError, own: Mapping[str, Any]) -> InputError:
    """The first thing wrong: a misspelt key, then the form of the tables, then what they say."""
    order = {"extra_forbidden": 0, "value_error": 2}
    first = min(error.errors(include_url=False), key=lambda each: order.get(each["type"], 1))
    kind, place, value = first["type"], first["loc"], first["input"]
    path = [str(part) for part in place if not _is_internal(part)]
    field = _field(place, path)
    if kind == "value_error":
        alone = len(own.get("colour", [])) == 1
        # What a reader refuses; of colours, one alone has no number.
        refused: InputError = first["ctx"]["error"]
        return refused.at(".".join(path) if alone else field)
    if kind == "extra_forbidden":
        return _unknown_key(path, field)
    if kind == "missing":
        return refuse("error.missing", field, None, "")
    if field == "schema":
        return refuse("error.schema", field, value, "1")
    if kind == "literal_error":
        accepted = str(first["ctx"]["expected"]).replace("'", "").replace(" or ", ", ")
        close = _near(value, accepted.split(", "))
        return refuse("error.choice", field, value, accepted, hint=close)
    if kind in ("model_type", "dict_type", "list_type", "model_attributes_type"):
        return refuse("error.no-table", field, value, "")
    if kind in ("too_long", "string_too_long"):
        return refuse("error.too-long", field, value, "")
    if kind.startswith(("bool", "int", "greater", "less")):
        code = "error.yes-no" if kind.startswith("bool") else "error.count"
        return refuse(code, field, value, "")
    example = _example(path)
    number = isinstance(value, int | float) and not isinstance(value, bool)
    # An example that begins with a digit is a quantity, so what is missing is the unit.
    code = "error.number-for-text" if number and example[1:2].isdigit() else "error.text"
    return refuse(code, field, value, example)


def _is_internal(part: str | int) -> bool:
    """Whether a step of the place is one of the validator's own (an index, a union's branch)."""
    return isinstance(part, int) or part in ("float", "schema_version") or "[" in part


def _field(place: tuple[str | int, ...], path: list[str]) -> str:
    """Where it is in the file; colours are counted from 1."""
    field = ".".join(path)
    if len(place) > 1 and place[0] == "colour" and isinstance(place[1], int):
        return field.replace("colour", f"colour[{place[1] + 1}]", 1)
    return field


def _unknown_key(path: list[str], field: str) -> InputError:
    key = path[-1]
    model = _model_at(path[:-1])
    names = [] if model is None else list(_keys(model))
    inside = KEY_WORDS.get(path[0], {}) if len(path) == 2 else {}
    words = TABLE_WORDS if model is RecipeFile else inside
    near = get_close_matches(key.casefold(), [*names, *words], n=1)
    hint = say("error.near", {"name": words.get(near[0], near[0])}) if near else ""
    return refuse("error.unknown-key", field, key, ", ".join(names), hint=hint)


def _model_at(path: list[str]) -> type[BaseModel] | None:
    """Table of the file that a path leads into; the recipe itself for an empty one."""
    model: type[BaseModel] | None = RecipeFile
    for part in path:
        annotation: Any = _keys(model)[part].annotation if model is not None else None
        # Optional tables and lists of tables carry the table as an argument.
        inside = (annotation, *getattr(annotation, "__args__", ()))
        tables = (kind for kind in inside if isinstance(kind, type) and issubclass(kind, BaseModel))
        model = next(tables, None)
    return model


def _keys(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """Fields of a table by their keys in the file."""
    return {info.alias or name: info for name, info in model.model_fields.items()}


def _near(value: object, accepted: list[str]) -> str:
    if not isinstance(value, str):
        return ""
    close = get_close_matches(value.casefold(), accepted, n=1)
    return say("error.near", {"name": close[0]}) if close else ""


def _example(path: list[str]) -> str:
    """The first example of a field, as it would be written in the file."""
    model = _model_at(path[:-1])
    if model is None or not path:
        return '"60 %"'
    _, *examples = read_toml("text/recipe_keys.toml")[model.__name__].get(path[-1], [""])
    return f'"{examples[0]}"' if examples else '"..."'
