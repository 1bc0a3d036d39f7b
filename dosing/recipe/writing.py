"""A recipe as the text of a file, from its tables; and another reading of the water in it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from dosing.recipe.files import text_of
from dosing.recipe.quantities import InputError, refuse
from dosing.recipe.reading import LARGEST_FILE_BYTES, load_tables, recipe_from
from indicator.files import whole_file
from indicator.pigments import Pigments
from indicator.tables import read_toml

ALKALINITY_KEYS = (
    "alkalinity", "carbonate_hardness", "bicarbonate", "instrument", "drop_step", "thinned",
    "alkalinity_low", "alkalinity_high",
)  # fmt: skip
"""Of a recipe's water: a reading of its alkalinity, and how it was read."""
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_WATER = re.compile(r"\s*\[\s*water\s*\]")
_TABLE = re.compile(r"\s*\[")
_KEY = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=")


def recipe_toml(comment: str, title: str, tables: Mapping[str, Any]) -> str:
    """Text of a recipe file, in the order in which a maker reads it.

    Parameters
    ----------
    comment : str
        One line above it.
    title : str
        What the bath is called.
    tables : mapping
        Tables under our keys, of text, numbers and yes or no; empty ones are left out.

    Returns
    -------
    str
        TOML of schema 1.
    """
    colours = [("[[colour]]", colour) for colour in tables.get("colour", ())]
    before, after = (
        [(f"[{name}]", tables.get(name)) for name in names]
        for names in (("tub", "water", "foam_bath"), ("activator", "wish"))
    )
    lines = [f"# {comment}", "schema = 1", f"title = {_value(title)}"]
    for heading, table in (*before, *colours, *after):
        if table:
            lines += ["", heading, *_pairs(table)]
    return "\n".join(lines) + "\n"


def save_alkalinity(
    file: Path, reading: Mapping[str, str], pigments: Pigments | None = None
) -> tuple[list[int], list[int]]:
    """Write a reading of the water's alkalinity into a recipe file, whole or not at all.

    Every other line stays as it is; lines that the reading supersedes become comments.

    Parameters
    ----------
    file : Path
        A recipe file.
    reading : mapping
        Of `ALKALINITY_KEYS`, as text with units.
    pigments : Pigments, optional
        As in `dosing.recipe.reading.load_recipe`.

    Returns
    -------
    list of int
        Lines that are new, from 1, as the file has them now.
    list of int
        Lines that became comments.

    Raises
    ------
    InputError
        If the file cannot be changed so, or would be no recipe then; it stays as it was.
    OSError
        If it cannot be written.
    """
    before = load_tables(file)
    text, added, superseded = _with_reading(text_of(file, "recipe", LARGEST_FILE_BYTES), reading)
    kept = {
        key: each for key, each in before.get("water", {}).items() if key not in ALKALINITY_KEYS
    }
    with whole_file(file, rewritten=True) as draft:
        draft.write_bytes(text.encode("utf-8"))
        try:
            after = load_tables(draft)
        except InputError:
            after = {}
        if after != {**before, "water": {**kept, **reading}}:
            raise refuse("error.not-by-lines", "water", file, " and ".join(_pairs(reading)))
        recipe_from(after, file, pigments)
    return added, superseded


def _with_reading(text: str, reading: Mapping[str, str]) -> tuple[str, list[int], list[int]]:
    """The text with the reading under ``[water]``; numbers of its new lines and new comments."""
    newline = "\r\n" if "\r\n" in text else "\n"
    if not any(map(_WATER.match, text.split("\n"))):
        text += f"{newline}[water]{newline}"
    lines = text.split("\n")
    ours = read_toml("text/recipe_words.toml")["water"]
    start = next(k for k, line in enumerate(lines) if _WATER.match(line))
    end = next((k for k in range(start + 1, len(lines)) if _TABLE.match(lines[k])), len(lines))
    keys = {k: key[1] for k in range(start + 1, end) if (key := _KEY.match(lines[k]))}
    old = [k for k, key in keys.items() if ours.get(key, key) in ALKALINITY_KEYS]
    for k in old:
        lines[k] = f"# {lines[k]}"
    first = min(old, default=start + 1)
    lines[first:first] = [pair + newline[:-1] for pair in _pairs(reading)]
    count = len(reading)
    return (
        "\n".join(lines),
        list(range(first + 1, first + count + 1)),
        [k + count + 1 for k in old],
    )


def _pairs(table: Mapping[str, Any]) -> list[str]:
    keys = (key if _BARE_KEY.fullmatch(key) else _value(key) for key in table)
    return [f"{key} = {_value(value)}" for key, value in zip(keys, table.values(), strict=True)]


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        escaped = value.replace("\\", "\\\\").replace('"', '\\"')
        return f'"{escaped}"'
    return f"{{ {', '.join(_pairs(value))} }}" if isinstance(value, Mapping) else repr(value)
