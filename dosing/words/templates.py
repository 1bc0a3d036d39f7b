"""Templates: answers as text, from the records alone."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined

from dosing.ingredients.trade_values import is_basin
from dosing.words.filters import FILTERS
from dosing.words.marks import plain
from indicator.tables import read_text

FOLDER = "text/en"
_TUB = re.compile(r"(?<![-/\w\"'])([Tt])ub(s?)(?![-/\w\"]|\.\w)")
"""The word, not as a part of a name or of a file."""


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
        A vessel of so little water that nobody bathes in it whole is called a basin.

    Raises
    ------
    jinja2.UndefinedError
        If the template asks for something that no record has.
    """
    told = _templates().get_template(name).render(records)
    for record in records.values():
        volume_l = getattr(record, "volume_l", None)
        if volume_l is not None and is_basin(volume_l):
            return in_basin(told, str(getattr(record, "title", getattr(record, "name", ""))))
    return told


def in_basin(told: str, name: str = "") -> str:
    """A text on a tub as one on a foot basin; names and files keep theirs.

    Parameters
    ----------
    told : str
        The text.
    name : str
        That its maker gave, which stays whatever it has in it.

    Returns
    -------
    str
    """
    return name.join(map(_basin_text, told.split(name))) if name else _basin_text(told)


def _basin_text(told: str) -> str:
    for of_tub, of_basin in _basin_words().items():
        told = told.replace(of_tub, of_basin)
    return _TUB.sub(lambda word: ("B" if word[1] == "T" else "b") + "asin" + word[2], told)


@cache
def _basin_words() -> dict[str, str]:
    return tomllib.loads(read_text(f"{FOLDER}/basin.toml"))


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
