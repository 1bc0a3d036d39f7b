"""The catalogue of sentences: each of them is asked for by code, a table or a template."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from indicator.notes import CATALOGUE
from indicator.tables import read_toml

ROOT = Path(__file__).resolve().parents[2]


def sentences(table: dict[str, Any], above: str = "") -> Iterator[str]:
    """Keys of a table and of those in it, joined by points."""
    for key, value in table.items():
        if isinstance(value, dict):
            yield from sentences(value, f"{above}{key}.")
        else:
            yield f"{above}{key}"


def asked_for() -> Iterator[str]:
    """Patterns of the keys that code and templates name; what is filled in may be anything."""
    for package in ("dosing", "indicator"):
        for file in (ROOT / package).rglob("*.py"):
            for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
                if isinstance(node, ast.JoinedStr):
                    yield "".join(
                        re.escape(part.value)
                        if isinstance(part, ast.Constant) and isinstance(part.value, str)
                        else ".+"
                        for part in node.values
                    )
                elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                    yield re.escape(node.value)
    for file in (ROOT / "data" / "text" / "en").glob("*.txt"):
        for text in re.findall(r'"([^"\n]+)"', file.read_text(encoding="utf-8")):
            yield re.escape(text) + (".+" if text.endswith((".", "-")) else "")


def test_every_sentence_of_the_catalogue_is_asked_for() -> None:
    # A pattern that names no table would let anything pass.
    named = {asked for asked in asked_for() if re.match(r"(?:\w|\\-)+\\\.", asked)}
    patterns = re.compile("|".join(f"(?:{asked})" for asked in sorted(named)))
    keys = list(sentences(read_toml(CATALOGUE)))
    assert len(keys) > 500
    assert [key for key in keys if not patterns.fullmatch(key)] == []
