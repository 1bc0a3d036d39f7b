"""Photographs of a jar, one at each step, as colours relative to the white paper beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dosing.recipe.quantities import InputError
from indicator.notes import Value, say
from indicator.photograph import Patch, parse_patch, patch_colours, picked_lab, read_picture

Array = NDArray[np.float64]

ENDINGS = (
    ".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".bmp", ".gif", ".avif", ".heic", ".heif",
)  # fmt: skip
"""By which a reading is told to be a picture; whether it can be read is seen when it is."""


@dataclass(frozen=True)
class Where:
    """Where the white paper and the jar's liquid are in a photograph."""

    white: tuple[Patch, ...] = ()
    liquid: Patch | None = None

    def but(self, other: Where) -> Where:
        """The same, except where the other says something itself."""
        return Where(other.white or self.white, other.liquid or self.liquid)


@dataclass(frozen=True)
class Shot:
    """One photograph of a series."""

    row: int
    """From 1."""
    file: Path
    where: Where


def is_picture(text: str) -> bool:
    """Whether a reading is the name of a picture."""
    return text.strip().casefold().endswith(ENDINGS)


def where(white: Sequence[str], liquid: str | None, row: int | None = None) -> Where:
    """Rectangles as they were typed, for all photographs or for that of a row.

    Raises
    ------
    InputError
        If one is none.
    """
    return Where(
        tuple(_rectangle(one, "white", row) for one in white if one.strip()),
        _rectangle(liquid, "liquid", row) if liquid is not None else None,
    )


def _rectangle(text: str, field: str, row: int | None) -> Patch:
    try:
        return parse_patch(text)
    except ValueError as error:
        values: dict[str, Value] = {"field": field, "value": repr(text[:40])}
        if row is None:
            raise InputError(say("jar.error.rectangle", values), field, text) from error
        raise InputError(
            say("jar.error.rectangle-row", values | {"row": row}), field, text
        ) from error


def picked_labs(colours: Sequence[str], whites: Sequence[str]) -> tuple[Array, Array]:
    """CIELAB of colours picked from pictures beside the white paper's, and the paper's casts.

    Shapes (pictures, 3) and (pictures,).

    Raises
    ------
    InputError
        If one cannot be told.
    """
    found = []
    for row, (one, white) in enumerate(zip(colours, whites, strict=True), start=1):
        try:
            found.append(picked_lab(one, white))
        except ValueError as error:
            values: dict[str, Value] = {
                "row": row, "colour": one[:20], "white": white[:20], "why": str(error),
            }  # fmt: skip
            raise InputError(say("jar.error.picked", values), "series", one) from error
    return _stacked(found)


def _stacked(found: Sequence[tuple[Array, float]]) -> tuple[Array, Array]:
    labs, casts = zip(*found, strict=True)
    return np.stack(labs), np.array(casts)


def photographed_labs(taken: Sequence[Shot]) -> tuple[Array, Array]:
    """CIELAB of the liquid in each photograph, and the casts of the white paper.

    Shapes (photographs, 3) and (photographs,).

    Raises
    ------
    InputError
        If one is named twice, cannot be read, or does not tell the colour.
    """
    first: dict[Path, int] = {}
    for shot in taken:
        if shot.file in first:
            values: dict[str, Value] = {"first": first[shot.file]}
            raise _refused(shot, "photo-twice", "series", values)
        first[shot.file] = shot.row
    return _stacked([_lab(one) for one in taken])


def _lab(shot: Shot) -> tuple[Array, float]:
    white, liquid = shot.where.white, shot.where.liquid
    if not white:
        raise _refused(shot, "photo-white", "white")
    if liquid is None:
        raise _refused(shot, "photo-liquid", "liquid")
    if any(one.overlaps(liquid) for one in white):
        raise _refused(shot, "photo-overlap", "liquid", {"liquid": str(liquid)})
    try:
        found = patch_colours(read_picture(shot.file), white, [liquid])
        if found.unread[0]:
            raise ValueError(found.unread[0])
        return found.lab[0], found.cast
    except ValueError as error:
        raise _refused(shot, "photo", "series", {"why": str(error)}) from error
    except OSError as error:
        raise _refused(shot, "photo-file", "series", {"why": error.strerror or ""}) from error


def _refused(
    shot: Shot, code: str, field: str, values: dict[str, Value] | None = None
) -> InputError:
    known: dict[str, Value] = {"row": shot.row, "file": repr(shot.file.name[:60])}
    return InputError(say(f"jar.error.{code}", known | (values or {})), field)
