"""Templates: answers as text, from the records alone."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, FunctionLoader, StrictUndefined

from dosing.words.filters import FILTERS
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
