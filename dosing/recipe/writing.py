"""A recipe as the text of a file, from its tables."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


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
