"""The examples in docstrings give what they say."""

from __future__ import annotations

import doctest
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MODULES = sorted(
    ".".join(file.relative_to(ROOT).with_suffix("").parts)
    for package in ("indicator", "dosing")
    for file in (ROOT / package).rglob("*.py")
    if ">>>" in file.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", MODULES)
def test_examples_give_what_they_say(name: str) -> None:
    result = doctest.testmod(import_module(name))
    assert result.attempted > 0
    assert result.failed == 0


def test_ten_public_functions_have_an_example() -> None:
    finder = doctest.DocTestFinder(exclude_empty=True)
    tests = [one for name in MODULES for one in finder.find(import_module(name))]
    found = [one.name for one in tests if one.examples]
    public = [name for name in found if not name.rpartition(".")[2].startswith("_")]
    assert len(public) >= 10
