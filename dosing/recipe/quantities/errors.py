"""Refusals: one sentence of the catalogue for something that cannot be used."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from indicator.notes import Value, say

_TOO_LONG = 60
_PLAIN_FIELD = re.compile(r"[\w.\[\] -]{1,80}")


class InputError(ValueError):
    """Something a person wrote cannot be used; one sentence says what and what is accepted."""

    def __init__(
        self, message: str, field: str = "", value: object = None, accepted: str = ""
    ) -> None:
        super().__init__(message)
        self.field = field
        """Where it was written, for instance ``"tub.volume"``."""
        self.value = value
        """What was written."""
        self.accepted = accepted
        """What is accepted, in words."""
        self.sentence: tuple[str, Mapping[str, Value]] | None = None
        """Code in the catalogue and what its sentence quotes besides; None for text of its own."""

    def at(self, place: str) -> InputError:
        """Error with the same sentence for a field below a place of the recipe."""
        field = f"{place}{self.field}"
        if self.sentence is None:
            return InputError(str(self), field, self.value, self.accepted)
        code, values = self.sentence
        return refuse(code, field, self.value, self.accepted, **values)


def refuse(
    code: str, field: str, value: object, accepted: str, **more: Value
) -> InputError:  # returned, so that the caller's raise is seen by readers and type checker
    """Error with the catalogue's sentence ``code``, ready to be raised.

    Parameters
    ----------
    code : str
        Key of the sentence.
    field : str
        Where the value stands, for instance ``water.alkalinity``.
    value : object
        What cannot be used, as it was typed.
    accepted : str
        What can.
    **more : Value
        What else the sentence names.

    Returns
    -------
    InputError
        For the caller to raise.
    """
    # A key can be written by the person too: no line break or escape of it reaches the sentence.
    named = field if _PLAIN_FIELD.fullmatch(field) else shown(field)
    values: dict[str, Value] = {"field": named, "value": shown(value), "accepted": accepted}
    error = InputError(say(code, values | more), field, value, accepted)
    error.sentence = (code, more)
    return error


def shown(value: object) -> str:
    """Text that was written, short, on one line and in quotes."""
    if value is None:
        return "not given"
    if isinstance(value, Path):
        # A path is no use without its end.
        return repr(str(value))
    text = repr(value) if isinstance(value, str | bytes) else str(value)
    return text if len(text) <= _TOO_LONG else f"{text[: _TOO_LONG - 3]}..."
