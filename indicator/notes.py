"""Notes: what the science has to tell a person, as a code and its values, and the one catalogue.

Core functions return `Note` records; the sentence a person reads is looked up in
``data/text/en.toml`` only when a face, a figure or a paper shows it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from string import Formatter
from typing import Any

from indicator.tables import DataError, read_toml

Value = str | float | int
CATALOGUE = "text/en.toml"
_POWER_OF_TEN = re.compile(r"-?[\d.]+e\+\d+")


@dataclass(frozen=True)
class Note:
    """Something a person should know about a result."""

    code: str
    """Key of the sentence in the catalogue, for instance ``"assume.calcium-share"``."""
    values: Mapping[str, Value] = field(default_factory=dict)
    """Values that the sentence quotes, in the units that the catalogue states."""
    field: str = ""
    """Recipe field the note is about, for instance ``"water.hardness"``; empty if none."""


class _Plain(Formatter):
    """Formatter whose large numbers are written out: 130, not 1.3e+02."""

    def format_field(self, value: Any, format_spec: str) -> str:
        text = str(super().format_field(value, format_spec))
        return f"{float(text):.0f}" if _POWER_OF_TEN.fullmatch(text) else text


def say(code: str, values: Mapping[str, Value] | None = None, catalogue: str = CATALOGUE) -> str:
    """Sentence of the catalogue for ``code``, with ``values`` filled in.

    Parameters
    ----------
    code : str
        Key in ``data/text/en.toml``, its tables joined by points.
    values : mapping of str to str or number, optional
        What the sentence quotes.
    catalogue : str
        Where it stands, for another language.

    Returns
    -------
    str

    Raises
    ------
    DataError
        If the catalogue has no such code, or the sentence quotes a value that was not given.
    """
    entry: object = read_toml(catalogue)
    for part in code.split("."):
        entry = entry.get(part) if isinstance(entry, dict) else None
    if not isinstance(entry, str):
        raise DataError(f"the text catalogue has no sentence {code!r}")
    try:
        return _Plain().vformat(entry, (), values or {})
    except KeyError as error:
        raise DataError(f"the sentence {code!r} needs the value {error}") from error


def sentence(note: Note) -> str:
    """Sentence a person reads for ``note``."""
    return say(note.code, note.values)


def listed(names: Sequence[str]) -> str:
    """Names with commas between them, and a word before the last.

    Examples
    --------
    >>> listed(["petals", "water", "patience"])
    'petals, water and patience'
    """
    *rest, last = names
    return say("plan.and").join([say("plan.comma").join(rest), last] if rest else [last])
