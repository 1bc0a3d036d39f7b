"""Checks of arguments: one sentence that names the argument for whatever else they are given."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from difflib import get_close_matches
from typing import Any, NoReturn

import numpy as np
from numpy.typing import ArrayLike, NDArray

from indicator.notes import say

Array = NDArray[np.float64]

LEAST_LETTERS = 3
"""Of a written reason."""
FILLERS = frozenset("\u115f\u1160\u17b4\u17b5\u3164\uffa0")
"""What Unicode calls default-ignorable (UAX 44) though it is no format sign: it shows nothing."""
_TOO_LONG = 60


def one_of(field: str, value: object, accepted: Sequence[str]) -> None:
    """Refuse a word that is not one of those, in just that spelling.

    Parameters
    ----------
    field : str
        What the sentence calls it.
    value : object
        What was given.
    accepted : sequence of str
        The words.

    Raises
    ------
    TypeError
        If it is no text.
    ValueError
        If it is another word.
    """
    as_text(field, value)
    if value not in accepted:
        values = {"field": field, "value": _shown(value), "accepted": ", ".join(accepted)}
        raise ValueError(say("error.choice", values | {"hint": near(str(value), accepted)}))


def near(value: str, accepted: Sequence[str]) -> str:
    """Hint at the accepted word that a mistyped one is nearest to.

    Parameters
    ----------
    value : str
        What was given.
    accepted : sequence of str
        The words.

    Returns
    -------
    str
        For the end of a sentence; empty where none is near.
    """
    folded = {word.casefold(): word for word in accepted}
    close = get_close_matches(value.casefold(), folded, n=1)
    return say("error.near", {"name": folded[close[0]]}) if close else ""


def spelled(field: str, value: str, accepted: Sequence[str]) -> str:
    """The accepted word that a value is, whatever its capitals.

    Parameters
    ----------
    field, value, accepted
        As in `one_of`.

    Returns
    -------
    str
        As `accepted` spells it.

    Raises
    ------
    ValueError
        As in `one_of`.
    """
    word = {each.casefold(): each for each in accepted}.get(value.casefold(), value)
    one_of(field, word, accepted)
    return word


def as_text(field: str, value: object) -> str:
    """The value itself, if it is text.

    Parameters
    ----------
    field : str
        What the sentence calls it.
    value : object
        What was given.

    Returns
    -------
    str

    Raises
    ------
    TypeError
        If it is not.
    """
    if not isinstance(value, str):
        _wrong(TypeError, "accepted.text", field, value)
    return value


def reason(field: str, value: object) -> str | None:
    """A written reason without signs that nobody sees, or None for none.

    Parameters
    ----------
    field : str
        What the sentence calls it.
    value : object
        What was written; None for no reason.

    Returns
    -------
    str or None

    Raises
    ------
    TypeError
        If it is no text.
    ValueError
        If it has hardly a letter.
    """
    if value is None:
        return None
    seen = "".join(c if c.isprintable() else " " for c in _visible(as_text(field, value)))
    # Wide, joined and circled letters count as the plain ones that they stand for.
    if sum(c.isalpha() for c in _visible(unicodedata.normalize("NFKC", seen))) < LEAST_LETTERS:
        _wrong(ValueError, "accepted.reason", field, value)
    return " ".join(seen.split())


def of_kind(field: str, value: object, kind: type | tuple[type, ...]) -> None:
    """Refuse what is none of a kind.

    Parameters
    ----------
    field : str
        What the sentence calls it.
    value : object
        What was given.
    kind : type or tuple of type
        What is accepted.

    Raises
    ------
    TypeError
        If it is not.
    """
    if not isinstance(value, kind):
        kinds = kind if isinstance(kind, tuple) else (kind,)
        names = " or ".join(each.__name__ for each in kinds)
        _wrong(TypeError, "accepted.kind", field, value, kind=names)


def number(field: str, value: object, low: float, high: float) -> float:
    """One finite number between bounds.

    Parameters
    ----------
    field : str
        What the sentence calls it.
    value : object
        What was given.
    low, high : float
        Bounds that still count.

    Returns
    -------
    float
        The value unchanged.

    Raises
    ------
    TypeError
        If it is no plain number.
    ValueError
        If it is outside them or nan.
    """
    array = _plain(field, value)
    if array.ndim or not low <= array <= high:
        error = TypeError if array.ndim else ValueError
        _wrong(error, "accepted.number", field, value, low=low, high=high)
    return float(array)


def numbers(field: str, value: ArrayLike, low: float, high: float) -> Array:
    """Numbers of any shape between bounds, nan among them where one is not known.

    Parameters
    ----------
    field : str
        What the sentence calls it.
    value : array_like
        What was given, any shape.
    low, high : float
        Bounds that still count.

    Returns
    -------
    numpy.ndarray
        In the same shape.

    Raises
    ------
    TypeError
        If they are no plain numbers: nothing, text, dates, a masked array.
    ValueError
        If one is outside the bounds.
    """
    array = _plain(field, value)
    outside = (array < low) | (array > high)
    if outside.any():
        worst = float(array[outside].flat[0])
        _wrong(ValueError, "accepted.number", field, worst, low=low, high=high)
    return array


def _plain(field: str, value: Any) -> Array:
    if isinstance(value, np.ma.MaskedArray):
        _wrong(TypeError, "accepted.no-mask", field, value)
    try:
        array = np.asarray(value)
    except (TypeError, ValueError):
        _wrong(TypeError, "accepted.plain", field, value)
    if array.dtype.kind not in "iuf":
        _wrong(TypeError, "accepted.plain", field, value)
    return array.astype(np.float64)


def _visible(written: str) -> str:
    return "".join(c for c in written if unicodedata.category(c) != "Cf" and c not in FILLERS)


def _shown(value: object) -> str:
    shown = " ".join(repr(value).split())
    return shown if len(shown) <= _TOO_LONG else f"{shown[: _TOO_LONG - 3]}..."


def _wrong(
    error: type[Exception], code: str, field: str, value: object, **more: str | float
) -> NoReturn:
    shown = f"{value:g}" if isinstance(value, float) else _shown(value)
    raise error(say(code, {"field": field, "value": shown, **more}))
