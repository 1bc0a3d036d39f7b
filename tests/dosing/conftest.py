"""The command line run in this process, as a user would see it."""

from __future__ import annotations

import io
import json
import re
from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jinja2 import Environment, FunctionLoader
from jsonschema import Draft202012Validator

from dosing.cli.app import GROUPS, app, run
from dosing.recipe import demo_names, demo_recipe
from dosing.soak.records import Soak
from dosing.soak.steps import make_soak, parse_steps
from dosing.words import templates
from dosing.words.marks import plain
from dosing.words.templates import render_in
from indicator.tables import read_text

SCHEMAS = Path(__file__).resolve().parents[2] / "data" / "schemas"
VALIDATED, MOST_VALIDATED = Counter[str](), 4
"""Documents of each command that were held against their schema, which takes as long as a plan."""
GROUPED = tuple(room.NAME for room in GROUPS)
TERMINAL = ("COLUMNS", "NO_COLOR", "FORCE_COLOR", "COLORTERM", "TTY_COMPATIBLE")
"""Variables by which a terminal changes the output; a run sees only those it is given."""


def run_command(
    *arguments: object, encoding: str = "utf-8", **environment: str
) -> tuple[int, str, str]:
    """Exit code and what stands on the output and on the error stream."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding, newline="") for _ in range(2))
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(err):
        for name in TERMINAL:
            patch.delenv(name, raising=False)
        for name, value in environment.items():
            patch.setenv(name, value)
        code = run([str(one) for one in arguments])
    texts = []
    for stream in (out, err):
        stream.flush()
        binary = stream.buffer
        assert isinstance(binary, io.BytesIO)
        texts.append(binary.getvalue().decode(encoding))
    _check_document(arguments, texts[0])
    return code, texts[0], texts[1]


def _check_document(arguments: tuple[object, ...], out: str) -> None:
    """What a command answers in JSON keeps to the schema that ships; its first few documents."""
    if "--json" not in arguments or not out.startswith("{"):
        return
    document = json.loads(out, parse_constant=_no_constant)
    names = {one.name or getattr(one.callback, "__name__", "") for one in app.registered_commands}
    words = [str(one) for one in arguments]
    command = next(one for one in words if one in names or one in GROUPED)
    if command in GROUPED:
        command += f"-{words[words.index(command) + 1]}"
    VALIDATED[command] += 1
    if VALIDATED[command] > MOST_VALIDATED:
        return
    # Some commands have several documents, each with a schema of its own.
    problems = [
        next(_schema(file.stem).iter_errors(document), None)
        for file in sorted(SCHEMAS.glob(f"{command}*.json"))
    ]
    assert not problems or None in problems, [
        f"{problem.message} at {problem.json_path}" for problem in problems if problem
    ]


@cache
def run_for_json(*arguments: object) -> tuple[int, dict[str, Any]]:
    """Exit code and the document; the error stream has to be empty."""
    code, out, err = run_command(*arguments, "--json")
    assert err == ""
    document = json.loads(out)
    assert isinstance(document, dict)
    return code, document


@cache
def _schema(command: str) -> Draft202012Validator:
    """What a document of a command has to keep to."""
    file = SCHEMAS / f"{command}.json"
    return Draft202012Validator(json.loads(file.read_text(encoding="utf-8")))


def _no_constant(text: str) -> float:
    raise AssertionError(f"{text} is no JSON")


@pytest.fixture(scope="session")
def huedose() -> Callable[..., tuple[int, str, str]]:
    return run_command


@pytest.fixture(scope="session")
def huedose_json() -> Callable[..., tuple[int, dict[str, Any]]]:
    return run_for_json


@cache
def _soak(steps: str, name: str = "", bathers: str = "child") -> Soak:
    inputs = demo_recipe(name or demo_names()[0])
    if bathers == "adult":
        inputs = replace(inputs, wish=replace(inputs.wish, bathers="adult", child_age_years=None))
    return make_soak(inputs, parse_steps(steps))


def _told(soak: Soak, *, more: bool = False, width: int = 10_000, most: int = 10_000) -> str:
    rendered = render_in(most, "soak", soak=soak, more=more, cautions=False, on_paper=False)
    return plain(rendered, width=width)


@pytest.fixture
def told() -> Callable[..., str]:
    """What is said of a soak, a paragraph a line."""
    return _told


@pytest.fixture
def made() -> Callable[..., Soak]:
    """Several pours into a demo, each soak made once: steps, demo, bathers."""
    return _soak


TAG = re.compile(r"{%-?\s*(?:if|elif|else|for)\b.*?%}", re.DOTALL)


def branches_missed(
    name: str, contexts: Iterable[dict[str, Any]], elsewhere: Iterable[str] = ()
) -> list[str]:
    """Tags of a template, and of what it includes, whose body no context renders.

    Templates ``elsewhere`` have their own check.
    """
    tags: dict[int, str] = {}
    seen: set[int] = set()

    def marked(source: str) -> str:
        def mark(tag: re.Match[str]) -> str:
            tags[len(tags)] = tag[0].strip()
            return f"{tag[0]}{{% if _rendered({len(tags) - 1}) %}}{{% endif %}}"

        return TAG.sub(mark, source)

    def load(part: str) -> str:
        source = read_text(f"{templates.FOLDER}/{part}.txt")
        return source if part in elsewhere else marked(source)

    real = templates._templates()
    marking: Environment = real.overlay(
        loader=FunctionLoader(load),
        cache_size=-1,
    )
    marking.globals = {**real.globals, "_rendered": seen.add}
    template = marking.get_template(name)
    for context in contexts:
        template.render(context)
    return [tag for number, tag in tags.items() if number not in seen]


@pytest.fixture(name="branches_missed")
def _branches_missed() -> Callable[..., list[str]]:
    """A function of a template's name and contexts: the branches that none of them renders."""
    return branches_missed
