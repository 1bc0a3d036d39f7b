"""The house keeps its order: rooms, names, sizes of functions, and what docstrings must say."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
MODULES = sorted(path for root in ("dosing", "indicator") for path in (ROOT / root).rglob("*.py"))
MOST_PARAMETERS = 8
DEVELOPERS_BYTES = 14_000
SECTION = r"{}\n-+\n(.*?)(?=\n\n\w[\w ]*\n-+\n|\n\nSource:|\Z)"
RIDDLES = ("What ", "How ", "The same ")
"""Docstrings open with the quantity or the action that somebody would search for."""


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def functions(tree: ast.Module) -> Iterator[tuple[ast.FunctionDef, str]]:
    """Functions of a module, each with the class that it stands in or nothing."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef):
            yield node, ""
        elif isinstance(node, ast.ClassDef):
            yield from (
                (part, node.name) for part in node.body if isinstance(part, ast.FunctionDef)
            )


def parameters(function: ast.FunctionDef) -> list[str]:
    given = function.args
    named = [argument.arg for argument in (*given.posonlyargs, *given.args, *given.kwonlyargs)]
    return [name for name in named if name not in ("self", "cls")]


def commands(tree: ast.Module) -> set[str]:
    """Functions that a module lists as commands of the command line: their options have helps."""
    calls = (node for node in ast.walk(tree) if isinstance(node, ast.Call))
    listed = (call.args[0] for call in calls if ast.unparse(call.func).endswith("Command"))
    return {ast.unparse(function) for function in listed}


def described(docstring: str) -> dict[str, str]:
    """What the section of parameters says of each; a line may name several."""
    section = re.search(SECTION.format("Parameters"), docstring, re.DOTALL)
    texts: dict[str, str] = {}
    names: list[str] = []
    for line in section[1].splitlines() if section else ():
        if line.startswith(" "):
            texts |= {name: texts[name] + line.strip() for name in names}
        elif line:
            names = [name.strip(" *") for name in line.split(" : ")[0].split(",")]
            texts |= dict.fromkeys(names, "")
    return texts


def test_nothing_stands_loose_beside_the_rooms() -> None:
    loose = {path.name for path in (ROOT / "dosing").glob("*.py")}
    assert loose == {"__init__.py"}
    rooms = {path.name for path in (ROOT / "dosing").iterdir() if (path / "__init__.py").exists()}
    assert len(rooms) <= 16


def test_no_class_name_stands_in_two_modules() -> None:
    homes = defaultdict(set)
    for path in MODULES:
        for node in parsed(path).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                homes[node.name].add(str(path.relative_to(ROOT)))
    assert {name: where for name, where in homes.items() if len(where) > 1} == {}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_docstrings_open_with_what_one_searches_for(path: Path) -> None:
    tree = parsed(path)
    assert ast.get_docstring(tree), "a module says what it is for"
    # Makers read of the tables of a recipe in its schema, of commands in their help.
    exempt = commands(tree)
    known: list[ast.Module | ast.ClassDef | ast.FunctionDef] = [tree]
    known += [node for node in tree.body if isinstance(node, ast.ClassDef)]
    known += [function for function, owner in functions(tree) if not owner.startswith("_")]
    for node in known:
        name = getattr(node, "name", path.name)
        of_recipe = isinstance(node, ast.ClassDef) and name.endswith("Table")
        if not name.startswith("_") and name not in exempt and not of_recipe:
            assert not (ast.get_docstring(node) or "").startswith(RIDDLES), name


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_functions_are_small_enough_to_call_and_say_what_they_take(path: Path) -> None:
    tree = parsed(path)
    options = commands(tree)
    for function, owner in functions(tree):
        if function.name in options:
            continue
        named, text = parameters(function), ast.get_docstring(function) or ""
        assert len(named) <= MOST_PARAMETERS, function.name
        if function.name.startswith("_") or owner.startswith("_") or len(named) < 2:
            continue
        texts = described(text)
        assert [name for name in named if not texts.get(name)] == [], function.name
        nothing = isinstance(function.returns, ast.Constant) and function.returns.value is None
        assert nothing or re.search(r"^(Returns|Yields)\n-+\n", text, re.MULTILINE), function.name


def test_the_guide_for_contributors_is_short() -> None:
    assert (ROOT / "DEVELOPERS.md").stat().st_size <= DEVELOPERS_BYTES


def test_nothing_lies_about_at_the_top() -> None:
    rooms = {"dosing", "indicator", "data", "notebooks", "tests"}
    papers = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
    built = {"build", "dist"}
    there = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert {name for name in there if not name.endswith(".egg-info")} <= rooms | papers | built
