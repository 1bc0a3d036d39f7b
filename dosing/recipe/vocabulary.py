"""The words in which people answer, as patterns of ``data/text/answers.toml``."""

from __future__ import annotations

import re
from functools import cache
from typing import Any

from indicator.tables import read_toml


def _written() -> dict[str, Any]:
    return read_toml("text/answers.toml")


@cache
def pattern(name: str) -> re.Pattern[str]:
    """Pattern of a name, with the patterns that it is built of."""
    return re.compile(_whole(name))


def _whole(name: str) -> str:
    return re.sub(r"\{(\w+)\}", lambda inner: _whole(inner[1]), _written()["pattern"][name])


@cache
def words(*names: str) -> frozenset[str]:
    """Words of one or several lists."""
    return frozenset(word for name in names for word in _written()["words"][name].split())


def kind_of(table: str, text: str) -> str | None:
    """First kind of a table that is spoken of.

    Parameters
    ----------
    table : str
        Of ``data/text/answers.toml``.
    text : str
        Lower case.

    Returns
    -------
    str or None
    """
    kinds = _written()[table].items()
    return next((kind for kind, sought in kinds if re.search(sought, text)), None)


def spelled(table: str, word: str) -> str:
    """Our spelling of a number or a unit; the word itself where it is ours.

    Parameters
    ----------
    table : str
        Of ``data/text/answers.toml``.
    word : str
        As it was written, lower case.

    Returns
    -------
    str
    """
    return str(_written()[table].get(word, word))


def numbers_in(text: str) -> int:
    """Count of the numbers in a text."""
    return len(pattern("number").findall(text))
