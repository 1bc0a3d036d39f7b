"""Output streams that outlive their reader, and plain letters where one lacks a character."""

from __future__ import annotations

import io
import os
import unicodedata
from typing import TextIO

_PLAIN = {
    "→": "->",
    "←": "<-",
    "−": "-",
    "–": "-",
    "—": "-",
    "·": "|",
    "•": "*",
    "◦": "*",
    "Δ": "d",
    "≤": "<=",
    "≥": ">=",
    "±": "+/-",
    "°": " deg ",
    "µ": "u",
    "μ": "u",
    "×": "x",
    "✓": "+",
    "…": "...",
    "’": "'",
    "“": '"',
    "”": '"',
    "⁄": "/",
    "█": "#",
    "▒": "=",
    "░": "-",
}
_KINDS = {"<fraction>": "", "<super>": "^", "<sub>": "", "<compat>": ""}
"""Of characters that stand for others, and what goes before those."""


def in_letters_of(encoding: str, text: str) -> str:
    """The text with what an encoding lacks spelt in letters that it has.

    Numbers stay apart: 3½ becomes 3 1/2, cm² becomes cm^2. What has no plain spelling becomes a
    question mark.

    Parameters
    ----------
    encoding : str
        Of the stream.
    text : str
        What is written.

    Returns
    -------
    str
    """
    if _has(encoding, text):
        return text
    spelt, last_was_spelt = "", False
    for sign in text:
        plain = sign if _has(encoding, sign) else _spelt(sign)
        if plain != sign or last_was_spelt:
            plain = _apart(spelt, plain)
        last_was_spelt = not plain.endswith(sign)
        spelt += plain
    return spelt


def _has(encoding: str, text: str) -> bool:
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True


def _spelt(sign: str) -> str:
    """A character in plain ones; a question mark where there is no such spelling."""
    if sign in _PLAIN:
        return _PLAIN[sign]
    kind, *parts = unicodedata.decomposition(sign).split() or [""]
    if kind not in _KINDS:
        return "?"
    plain = "".join(_PLAIN.get(part, part) for part in (chr(int(code, 16)) for code in parts))
    return _KINDS[kind] + plain if plain.isascii() else "?"


def _apart(before: str, after: str) -> str:
    """What follows, kept from growing together with the number before it."""
    if after.startswith(" ") and before.endswith(" "):
        return after.lstrip()
    # A fraction behind a range's dash is no part of a mixed number either.
    joined = after[:1].isdigit() and before.rstrip("-")[-1:].isdigit()
    return f" {after}" if joined else after


class Patient(io.TextIOBase):
    """A stream that goes on quietly when its reader has left, so that the exit code stays right."""

    def __init__(self, stream: TextIO | None) -> None:
        # A process may be started without any output at all.
        self._stream: TextIO = io.StringIO() if stream is None else stream

    @property
    def encoding(self) -> str:  # type: ignore[override]  # an attribute there
        """That of the stream behind it."""
        return self._stream.encoding or "ascii"

    def isatty(self) -> bool:
        """Whether a terminal stands behind it."""
        return self._stream.isatty()

    def fileno(self) -> int:
        """Descriptor of the stream behind it."""
        return self._stream.fileno()

    def write(self, text: str) -> int:
        """Write, or drop what nobody reads."""
        try:
            return self._stream.write(in_letters_of(self.encoding, text))
        except BrokenPipeError:
            self._leave()
            return len(text)

    def flush(self) -> None:
        """Flush, or drop what nobody reads."""
        try:
            self._stream.flush()
        except BrokenPipeError:
            self._leave()

    def _leave(self) -> None:
        # The interpreter flushes the old descriptor once more when it ends.
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, self._stream.fileno())
        os.close(nowhere)
