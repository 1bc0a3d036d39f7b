"""The questions of ``new`` on a terminal, one line each, and what is proposed between them."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TextIO, TypeVar

from dosing.cli.output import Page
from dosing.cli.session import known_pigments
from dosing.effects.proposal import (
    propose,
    proposed_recipe,
    shelf_in_words,
    wish_in_words,
    wish_said,
)
from dosing.effects.shelf import Shelf
from dosing.recipe.answers import Answers, not_known, plain, take
from dosing.recipe.quantities import InputError
from dosing.words.templates import render
from indicator.notes import Value, say

QUESTIONS = ("effect", "people", "shelf", "water", "tub", "foam")
TRIES = 5
Read = TypeVar("Read")
Reader = Callable[[str], tuple[Read, str]]
"""What was written to what it is taken as, and that in words."""


def interview(file: Path, stream: TextIO) -> str:
    """Ask all questions, and say what can be done as soon as it is known.

    Parameters
    ----------
    file : Path
        Where the recipe will stand.
    stream : file
        Where the questions stand.

    Returns
    -------
    str
        Text of the recipe.

    Raises
    ------
    InputError
        If the answers end.
    """
    page, answers = Page(stream), Answers()

    def ask(question: str) -> None:
        _ask(page, question, lambda text: (None, take(answers, question, text)))

    page.line(say("new.welcome"))
    wish = _ask(page, "effect", lambda text: _unless_unknown("effect", wish_in_words, text))
    ask("people")
    shelf = _ask(page, "shelf", lambda text: _unless_unknown("shelf", _shelf, text))
    proposal = propose(wish, answers.wish, shelf)
    page.line()
    page.answer(render("new", proposal=proposal, wish=wish, purpose=answers.wish.get("purpose")))
    for question in ("water", "tub", "foam"):
        ask(question)
    recipe = proposed_recipe(vars(answers), wish, proposal, shelf, known_pigments())
    page.line()
    if wish is not None and recipe.instead:
        told = {"wish": wish_said(wish), "start": recipe.instead[0], "end": recipe.instead[1]}
        page.line(say("new.instead", told))
    elif proposal.searched and not recipe.found:
        page.line(say("new.not-found"))
    if recipe.left_open:
        page.line(say("new.left-open"))
    page.line(say("new.wrote", {"file": str(file)}))
    page.line()
    return recipe.text


def _unless_unknown(question: str, read: Reader[Read], text: str) -> tuple[Read | None, str]:
    """What an answer is read as; None if somebody does not know."""
    answer = plain(text, question)
    if not_known(answer):
        return None, say(f"new.decided.{question}")
    try:
        return read(answer)
    except ValueError as error:
        raise InputError(str(error), question, text) from error


def _shelf(text: str) -> tuple[Shelf | None, str]:
    """Colours and powders."""
    return shelf_in_words(text, known_pigments())


def _line() -> str:
    """One line of the person's; empty where the answers end."""
    try:
        return "" if sys.stdin is None else sys.stdin.readline()
    except UnicodeDecodeError as error:
        raise InputError(say("new.letters"), "answer") from error


def _ask(page: Page, question: str, read: Reader[Read]) -> Read:
    """Ask until there is an answer that can be used; after a few times it counts as not known."""
    values: dict[str, Value] = {"number": QUESTIONS.index(question) + 1, "count": len(QUESTIONS)}
    page.line()
    page.line(say(f"new.ask.{question}", values), hang=3)
    for _ in range(TRIES):
        print("> ", end="", file=page.stream, flush=True)
        line = _line()
        if not line:
            raise InputError(say("new.ended", values), question)
        try:
            taken, told = read(line)
            break
        except InputError as error:
            page.line(str(error), indent=3)
    else:
        taken, told = read("")
        page.line(say("new.gave-up", {"tries": TRIES}), indent=3)
    page.line(told, indent=3, hang=2)
    return taken
