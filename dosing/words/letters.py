"""Plain letters for what an encoding lacks."""

from __future__ import annotations

import unicodedata

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
