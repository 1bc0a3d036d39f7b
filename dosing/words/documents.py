"""JSON documents: the fields and properties of a record are the keys, units in their names.

One walk over the type hints serves the documents here and their schemas in ``data/schemas/``,
which ``tests/reference/build_schemas.py`` writes.
"""

from __future__ import annotations

import json
import math
import sys
import types
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from functools import cache, cached_property
from typing import Any, Union, get_args, get_origin, get_type_hints

import numpy as np

from dosing.plan.cautions import Verdicts
from dosing.plan.records import Ribbon
from indicator.appearance import SeenColour
from indicator.colourants import Colourant
from indicator.notes import Note, sentence

VERSION = 1
"""Of the keys of all documents; it stands in each of them."""
BESIDE = frozenset({"answer", "filled", "shares"})
"""Fields whose own keys stand beside those of the record that holds them, as a seen colour's do."""
SERIES = (Ribbon,)
"""Records of equally long columns, which become lists of rows."""
WORKINGS = frozenset(
    [
        *("RecipeInputs", "Bath", "Setting", "Possible", "Pouring", "Survey", "Wishes"),
        *("Bench", "JarModel", "Series"),
    ]
)
"""Records that an answer was worked out from: no part of what it says.

By name, so that a plan does not load the rooms of jars and sachets.
"""


LAZY = frozenset({"Design"})
"""Records whose cached properties are keys like the others: worked out when first asked for."""


@dataclass(frozen=True)
class ToldNote:
    """A note with its sentence."""

    code: str
    message: str
    field: str


@dataclass(frozen=True)
class ToldVerdicts:
    """Whether a bath may be poured, given and sold: the level of each, and whether that allows."""

    pour: str
    give: str
    sell: str
    allowed: dict[str, bool]


def _told_verdicts(three: Verdicts) -> ToldVerdicts:
    each = {name: getattr(three, name) for name in ("pour", "give", "sell")}
    levels = {name: verdict.level for name, verdict in each.items()}
    return ToldVerdicts(**levels, allowed={name: verdict.allowed for name, verdict in each.items()})


TOLD: dict[type, tuple[type, Any]] = {
    Note: (ToldNote, lambda note: ToldNote(note.code, sentence(note), note.field)),
    Verdicts: (ToldVerdicts, _told_verdicts),
    Colourant: (str, lambda which: which.name),
}
"""Records that a document shows as something else, and what makes that."""


def write_json(record: object) -> None:
    """One JSON document on the output stream, with the version of its keys.

    Parameters
    ----------
    record : dataclass instance
        What the command answers.
    """
    text = json.dumps(document(record), ensure_ascii=True, indent=2, allow_nan=False)
    sys.stdout.write(text + "\n")


def document(record: object) -> dict[str, Any]:
    """A record as plain data: mappings, lists, text, numbers; what is no number is None.

    Parameters
    ----------
    record : dataclass instance
        An answer.

    Returns
    -------
    dict
        ``version`` and the record's keys.
    """
    return {"version": VERSION, **_columns(record)}


@cache
def keys_of(record: type) -> dict[str, Any]:
    """Keys of a record with their types, those of the fields first.

    Fields with metadata are workings, and no keys.

    Parameters
    ----------
    record : type
        A dataclass.

    Returns
    -------
    dict
        Name of a field or property to its type.
    """
    hints = get_type_hints(record)
    hints = {part.name: hints[part.name] for part in fields(record) if not part.metadata}
    for kind in record.__mro__:
        for name, value in vars(kind).items():
            lazy = isinstance(value, cached_property) and kind.__name__ in LAZY
            if (lazy or isinstance(value, property)) and not name.startswith("_"):
                hints[name] = get_type_hints(value.func if lazy else value.fget)["return"]
    return {name: hint for name, hint in hints.items() if _name(hint) not in WORKINGS}


def _name(hint: Any) -> str:
    return str(getattr(bare(hint), "__name__", ""))


def bare(hint: Any) -> Any:
    """A type without its None."""
    if get_origin(hint) in (Union, types.UnionType):
        arms = [arm for arm in get_args(hint) if arm is not type(None)]
        return arms[0] if len(arms) == 1 else Union[tuple(arms)]  # noqa: UP007 - no bar joins a tuple
    return hint


def stands_beside(name: str, hint: Any, record: type) -> bool:
    """Whether a field's own keys stand beside the others of the record.

    Parameters
    ----------
    name : str
        Of the field.
    hint : type
        Its type.
    record : type
        That has the field.

    Returns
    -------
    bool
        False where they stand in an object of their own.
    """
    seen = hint is SeenColour and (name == "colour" or record in SERIES)
    return is_dataclass(hint) and (name in BESIDE or seen)


def is_pairs(hint: Any) -> bool:
    """Whether a type is a tuple of names with a value each, which is shown as a mapping."""
    return (
        get_origin(hint) is tuple
        and get_args(hint)[-1] is Ellipsis
        and get_origin(get_args(hint)[0]) is tuple
        and get_args(get_args(hint)[0])[0] is str
        and get_args(get_args(hint)[0])[-1] is not Ellipsis
    )


def _columns(record: Any) -> dict[str, Any]:
    kind: Any = type(record)
    columns: dict[str, Any] = {}
    for name, hint in keys_of(kind).items():
        value = getattr(record, name)
        if stands_beside(name, hint, kind):
            columns |= _columns(value)
        else:
            columns[name] = _plain(value, bare(hint))
    return columns


def _plain(value: Any, hint: Any = None) -> Any:
    if type(value) in TOLD:
        return _plain(TOLD[type(value)][1](value))
    if is_dataclass(value):
        columns = _columns(value)
        if isinstance(value, SERIES):
            return [
                dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)
            ]
        return columns
    if is_pairs(hint):
        value = dict(value)
    if isinstance(value, Mapping):
        return {str(_plain(key)): _plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray | np.generic):
        return _plain(value.tolist())
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
