"""Templates: answers as text, from the records alone."""

from __future__ import annotations

from functools import cache
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined

from dosing.words.filters import FILTERS
from dosing.words.marks import plain
from indicator.tables import read_text

FOLDER = "text/en"


def render(name: str, **records: object) -> str:
    """Text of an answer, with the marks of `dosing.words.marks`.

    Parameters
    ----------
    name : str
        Of its template, ``data/text/en/<name>.txt``.
    **records
        What the template names.

    Returns
    -------
    str

    Raises
    ------
    jinja2.UndefinedError
        If the template asks for something that no record has.
    """
    return _templates().get_template(name).render(records)


def render_in(lines: int, name: str, **records: Any) -> str:
    """An answer in words, in its short form where the default would be longer than so many lines.

    Parameters
    ----------
    lines : int
        At 80 columns.
    name : str
        Of the template.
    **records
        What it tells of; ``more`` and ``cautions`` tell whether the whole of it is wanted.

    Returns
    -------
    str
        With the marks of `dosing.words.marks`.
    """
    told = render(name, **records)
    if records["more"] or records["cautions"] or plain(told).rstrip().count("\n") < lines:
        return told
    return render(name, **records, short=True)


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=FunctionLoader(lambda name: read_text(f"{FOLDER}/{name}.txt")),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        # Text for terminals and paper: what is typeset elsewhere is passed on as data.
        autoescape=False,
    )
    environment.filters |= FILTERS
    return environment
