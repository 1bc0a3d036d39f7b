"""Photographs of a jar, one at each step, as colours relative to the white beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dosing.quantities import InputError
from indicator.notes import Value, say
from indicator.photograph import Patch, parse_patch, patch_labs, read_picture

Array = NDArray[np.float64]

ENDINGS = (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".bmp", ".heic", ".heif")
"""By which a reading is told to be a picture; whether it can be read is seen when it is."""


@dataclass(frozen=True)
class Shot:
    """One photograph, and where in it the white and the liquid are."""

    row: int
    """Of the series, from 1."""
    file: Path
    white: tuple[Patch, ...]
    liquid: Patch


def is_picture(text: str) -> bool:
    """Whether a reading is the name of a picture."""
    return text.strip().casefold().endswith(ENDINGS)


def shots(
    files: Sequence[str],
    folder: Path,
    *,
    white: Sequence[str],
    liquid: str | None,
    whites: Sequence[str] = (),
    liquids: Sequence[str] = (),
) -> list[Shot]:
    """The photographs of a series.

    Parameters
    ----------
    files : sequence of str
        Their names, one for each reading.
    folder : Path
        From which the names are told.
    white, liquid : sequence of str, str
        Rectangles of all pictures.
    whites, liquids : sequence of str
        Rectangles of single pictures, empty text where those of all hold.

    Raises
    ------
    InputError
        If a rectangle is missing or none.
    """
    found = []
    for place, name in enumerate(files):
        own_white = whites[place] if whites else ""
        own_liquid = liquids[place] if liquids else ""
        patches = [own_white] if own_white else list(white)
        look = own_liquid or liquid
        if not patches:
            raise _missing(place, name, "white")
        if not look:
            raise _missing(place, name, "liquid")
        found.append(
            Shot(
                place + 1,
                folder / name,
                tuple(_patch(one, "white") for one in patches),
                _patch(look, "liquid"),
            )
        )
    return found


def _missing(place: int, name: str, field: str) -> InputError:
    values: dict[str, Value] = {"row": place + 1, "file": repr(name[:60])}
    return InputError(say(f"jar.error.photo-{field}", values), field)


def _patch(text: str, field: str) -> Patch:
    try:
        return parse_patch(text)
    except ValueError as error:
        raise InputError(str(error), field, text) from error


def photographed_labs(taken: Sequence[Shot]) -> Array:
    """CIELAB of the liquid in each photograph, shape (photographs, 3).

    Raises
    ------
    InputError
        If a picture cannot be read, or a patch in it cannot be told.
    OSError
        If there is no such file.
    """
    return np.stack([_lab(one) for one in taken])


def _lab(shot: Shot) -> Array:
    try:
        return np.asarray(patch_labs(read_picture(shot.file), shot.white, [shot.liquid])[0])
    except ValueError as error:
        values: dict[str, Value] = {
            "row": shot.row, "file": repr(shot.file.name[:60]), "why": str(error),
        }  # fmt: skip
        raise InputError(say("jar.error.photo", values), "series") from error
