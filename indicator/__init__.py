"""Colour of pigments and dyes: absorbance, optics and appearance at a given pH.

Names are loaded when first used; the colour library only when a colour is asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from indicator.absorbance import WAVELENGTH_NM, mixture_absorbance
    from indicator.appearance import SeenColour, delta_e, seen
    from indicator.ladders import ladder
    from indicator.optics import View, bottle_view, jar_view, tub_view
    from indicator.pigments import colourant, colourant_names
    from indicator.words import change_level, colour_word, visibility_level

_ROOMS = {
    "absorbance": ("WAVELENGTH_NM", "mixture_absorbance"),
    "appearance": ("SeenColour", "delta_e", "seen"),
    "ladders": ("ladder",),
    "optics": ("View", "bottle_view", "jar_view", "tub_view"),
    "pigments": ("colourant", "colourant_names"),
    "words": ("change_level", "colour_word", "visibility_level"),
}
_HOME = {name: room for room, names in _ROOMS.items() for name in names}

__all__ = [
    "WAVELENGTH_NM",
    "SeenColour",
    "View",
    "bottle_view",
    "change_level",
    "colour_word",
    "colourant",
    "colourant_names",
    "delta_e",
    "jar_view",
    "ladder",
    "mixture_absorbance",
    "seen",
    "tub_view",
    "visibility_level",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'indicator' has no name {name!r}")
    return getattr(import_module(f"indicator.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
