"""Write the JSON Schema of every command that answers in JSON to ``data/schemas/``.

Run by hand after a record changes: ``python tests/reference/build_schemas.py``. The keys, their
types and their descriptions are those of the records (`dosing.words.documents`).
"""

from __future__ import annotations

import ast
import inspect
import json
import types
from collections.abc import Mapping, Sequence
from dataclasses import is_dataclass
from pathlib import Path
from textwrap import dedent
from typing import Any, Union, get_args, get_origin

import numpy as np

from dosing.bottle.answer import Brewing
from dosing.bottle.kitchen import Kitchen
from dosing.effects.answer import Effects
from dosing.effects.gallery import GalleryDocument
from dosing.ingredients.tap import WaterLook
from dosing.jar.guide import Instructions
from dosing.jar.records import JarAnswer
from dosing.page.records import Card
from dosing.pictures.paper_set import PapersDocument
from dosing.recipe import solutions
from dosing.sachets.answer import SachetAnswer
from dosing.soak.records import Soak
from dosing.words import book as book_words
from dosing.words.calibration import CalibrationDocument
from dosing.words.colours import ColoursDocument
from dosing.words.documents import SERIES, TOLD, VERSION, is_pairs, keys_of, stands_beside
from dosing.words.plans import PlanDocument
from dosing.workshop.adjust import Adjustment
from dosing.workshop.batch import WeighSheet
from dosing.workshop.book_pours import Lesson
from dosing.workshop.materials import KnownNames
from dosing.workshop.product import ProductAnswer
from dosing.workshop.trouble import TroubleAnswer

FOLDER = Path(__file__).resolve().parents[2] / "data" / "schemas"
DOCUMENTS: dict[str, type] = {
    "plan": PlanDocument,
    "new": PlanDocument,
    "jar": JarAnswer,
    "jar-instructions": Instructions,
    "calibrate": CalibrationDocument,
    "soak": Soak,
    "sachet": SachetAnswer,
    "card": Card,
    "design": Effects,
    "design-gallery": GalleryDocument,
    "brew": Brewing,
    "product": ProductAnswer,
    "product-names": KnownNames,
    "colours": ColoursDocument,
    "mat": Kitchen,
    "book-add": book_words.Entered,
    "book-learn": Lesson,
    "book-list": book_words.Listing,
    "book-show": book_words.EntryShown,
    "book-due": book_words.DueList,
    "book-export": book_words.Moved,
    "book-import": book_words.Moved,
    "book-check": book_words.BookCheck,
    "book-backup": book_words.Moved,
    "book-erase": book_words.EntryShown,
    "papers": PapersDocument,
    "trouble": TroubleAnswer,
    "water": WaterLook,
    "adjust": Adjustment,
    "batch": WeighSheet,
    "equilibrium": solutions.SolutionsDocument,
    "equilibrium-species": solutions.SpeciesDocument,
}
_PLAIN: dict[Any, dict[str, Any]] = {
    str: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"$ref": "#/$defs/number"},
    type(None): {"type": "null"},
    Any: {},
}
_ARRAYS = {
    "number": {"description": "Null where there is no number.", "type": ["number", "null"]},
    "numbers": {
        "description": "A number, or a list for each of a batch.",
        "anyOf": [
            {"$ref": "#/$defs/number"},
            {"type": "array", "items": {"$ref": "#/$defs/numbers"}},
        ],
    },
    "texts": {
        "description": "A text, or a list for each of a batch.",
        "anyOf": [{"type": "string"}, {"type": "array", "items": {"$ref": "#/$defs/texts"}}],
    },
    "flags": {
        "description": "A truth, or a list for each of a batch.",
        "anyOf": [{"type": "boolean"}, {"type": "array", "items": {"$ref": "#/$defs/flags"}}],
    },
}


def schema_of(command: str) -> dict[str, Any]:
    """JSON Schema of a command's document."""
    definitions: dict[str, Any] = dict(_ARRAYS)
    body = _record(DOCUMENTS[command], definitions)
    body["properties"] = {
        "version": {"description": "Of the keys of all documents.", "const": VERSION},
        **body["properties"],
    }
    body["required"].insert(0, "version")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"huedose {command} --json",
        **body,
        "$defs": _used(body, definitions),
    }


def _used(body: Mapping[str, Any], definitions: Mapping[str, Any]) -> dict[str, Any]:
    """The definitions that the body needs, directly or through others."""
    named: list[str] = []
    texts = [json.dumps(body)]
    while texts:
        text = texts.pop()
        for name in definitions:
            if f'"#/$defs/{name}"' in text and name not in named:
                named.append(name)
                texts.append(json.dumps(definitions[name]))
    return {name: definitions[name] for name in sorted(named)}


def _record(record: type, definitions: dict[str, Any]) -> dict[str, Any]:
    properties = _properties(record, definitions)
    row = {
        "description": inspect.cleandoc(record.__doc__ or "").split("\n\n")[0].replace("\n", " "),
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }
    return {"type": "array", "items": row} if record in SERIES else row


def _properties(record: type, definitions: dict[str, Any]) -> dict[str, Any]:
    told = _descriptions(record)
    found: dict[str, Any] = {}
    for name, hint in keys_of(record).items():
        if stands_beside(name, hint, record):
            more = _properties(hint, definitions)
        else:
            about = {"description": told[name]} if name in told else {}
            if record in SERIES and get_origin(hint) is tuple:
                hint = get_args(hint)[0]  # one entry of the column in each row
            more = {name: {**about, **_schema(hint, definitions)}}
        if twice := found.keys() & more.keys():
            raise ValueError(f"{record.__name__} has two keys {', '.join(twice)}")
        found |= more
    return found


def _descriptions(record: type) -> dict[str, str]:
    """The texts below fields and in properties, in one line each."""
    found = {}
    for kind in reversed(record.__mro__[:-1]):
        (tree,) = ast.parse(dedent(inspect.getsource(kind))).body
        assert isinstance(tree, ast.ClassDef)
        for one, below in zip(tree.body, [*tree.body[1:], None], strict=True):
            if isinstance(one, ast.FunctionDef):
                text = ast.get_docstring(one)
                name = one.name
            elif isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name):
                text = _text(below)
                name = one.target.id
            else:
                continue
            if text:
                found[name] = " ".join(text.split())
    return found


def _text(node: ast.stmt | None) -> str | None:
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return str(node.value.value)
    return None


def _schema(hint: Any, definitions: dict[str, Any]) -> dict[str, Any]:
    hint = TOLD[hint][0] if isinstance(hint, type) and hint in TOLD else hint
    origin, inside = get_origin(hint), get_args(hint)
    if hint in _PLAIN:
        return _PLAIN[hint]
    if isinstance(hint, type) and is_dataclass(hint):
        return _reference(hint, definitions)
    if origin in (Union, types.UnionType):
        return {"anyOf": [_schema(arm, definitions) for arm in inside]}
    if origin is np.ndarray:
        (kind,) = get_args(inside[1])
        names = {np.float64: "numbers", np.str_: "texts", np.bool_: "flags"}
        return {"$ref": f"#/$defs/{names[kind]}"}
    if is_pairs(hint):
        return {
            "type": "object",
            "additionalProperties": _schema(get_args(inside[0])[1], definitions),
        }
    if origin is tuple and inside[-1] is not Ellipsis:
        return {
            "type": "array",
            "prefixItems": [_schema(item, definitions) for item in inside],
            "minItems": len(inside),
            "maxItems": len(inside),
        }
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": _schema(inside[1], definitions)}
    if isinstance(origin, type) and issubclass(origin, Sequence):
        return {"type": "array", "items": _schema(inside[0], definitions)}
    raise TypeError(f"no schema for {hint!r}")


def _reference(record: type, definitions: dict[str, Any]) -> dict[str, Any]:
    name = record.__name__
    if name not in definitions:
        definitions[name] = {}  # where a record holds its own kind
        definitions[name] = _record(record, definitions)
    return {"$ref": f"#/$defs/{name}"}


def text_of(command: str) -> str:
    """The schema as the file holds it."""
    return json.dumps(schema_of(command), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for command in DOCUMENTS:
        (FOLDER / f"{command}.json").write_text(text_of(command), encoding="utf-8")
