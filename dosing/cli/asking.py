"""``new``: six questions on the terminal, a recipe file and its plan."""

from __future__ import annotations

import sys
from pathlib import Path

from dosing.cli.given import recipe_of
from dosing.cli.output import Page
from dosing.cli.outputs import check_free
from dosing.cli.plans import Asked, show_plan
from dosing.recipe import parse_recipe
from dosing.recipe.answers import QUESTIONS, Answers, take
from dosing.recipe.interview import recipe_text
from dosing.recipe.quantities import InputError
from indicator.files import whole_file
from indicator.notes import Value, say

TRIES = 5


def run_new(file: Path, *, as_json: bool) -> int:
    """Ask the six questions, write the recipe and plan it.

    Parameters
    ----------
    file : Path
        Where the recipe is written.
    as_json : bool
        Whether the plan is printed as one document; the questions then stand on the error stream.

    Returns
    -------
    int
        Exit code of the plan.
    """
    if file.is_dir() or not file.parent.is_dir():
        raise InputError(say("new.folder", {"file": str(file)}), "file", file)
    check_free(file, "file")
    # Beside a JSON document the questions stand on the error stream.
    page = Page(sys.stderr if as_json else None)
    answers = Answers()
    page.line(say("new.welcome"))
    for number, question in enumerate(QUESTIONS, start=1):
        _ask(question, number, answers, page)
    text = recipe_text(answers, say("new.title"))
    parse_recipe(text, file)
    # One may have come while the questions were answered.
    check_free(file, "file")
    with whole_file(file) as draft:
        draft.write_text(text, encoding="utf-8")
    page.line()
    page.line(say("new.wrote", {"file": str(file)}))
    page.line()
    return show_plan(recipe_of(file, None), Asked(), as_json=as_json)


def _line() -> str:
    """One line of the person's; empty where the answers end."""
    try:
        return "" if sys.stdin is None else sys.stdin.readline()
    except UnicodeDecodeError as error:
        raise InputError(say("new.letters"), "answer") from error


def _ask(question: str, number: int, answers: Answers, page: Page) -> None:
    """Ask until there is an answer that can be used, a few times at most."""
    values: dict[str, Value] = {"number": number, "count": len(QUESTIONS)}
    page.line()
    page.line(say(f"new.ask.{question}", values), hang=3)
    for left in reversed(range(TRIES)):
        print("> ", end="", file=page.stream, flush=True)
        line = _line()
        if not line:
            raise InputError(say("new.ended", values), question)
        try:
            return page.line(take(answers, question, line), indent=3, hang=2)
        except InputError as error:
            if left:
                page.line(str(error), indent=3)
    raise InputError(say("new.gave-up", {**values, "tries": TRIES}), question)
