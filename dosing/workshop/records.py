"""Pours of the book: a bath that was poured, and what was seen of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from indicator.accepted import number, of_kind, one_of

PH_READ_WITH = ("meter", "strip")
UNCHANGED = "unchanged"
"""Word of a pour whose colour stayed that of the tub before it."""
MOST_G = 1e6
"""Of activator in a pour [g]: keeps a mistaken unit out."""


@dataclass(frozen=True)
class LoggedPour:
    """One bath of one home: what went in, and the pH or colour that came."""

    on: date
    home: str
    """Name of the home: its water and its tub."""
    recipe: Mapping[str, Any]
    """Tables of the recipe, as its file has them."""
    grams: float
    """Activator poured in all [g]."""
    ph: float | None = None
    """pH of the tub afterwards."""
    ph_read_with: str | None = None
    """``"meter"`` or ``"strip"``; None where no pH was read."""
    colour_hex: str | None = None
    """Colour of the tub afterwards, ``#rrggbb``."""
    colour_word: str | None = None
    """The same in a word of the maker's, or `UNCHANGED`."""
    eye: bool = True
    """Whether the colour was judged by eye, beside swatches, rather than off a photograph."""

    def __post_init__(self) -> None:
        """Check what was written.

        Raises
        ------
        TypeError, ValueError
            Naming the first field that cannot be used.
        """
        of_kind("on", self.on, date)
        of_kind("recipe", self.recipe, Mapping)
        number("grams", self.grams, 0.0, MOST_G)
        if self.ph is not None:
            number("ph", self.ph, 0.0, 14.0)
            one_of("ph_read_with", self.ph_read_with or "", PH_READ_WITH)
