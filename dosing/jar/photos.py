"""Photographs of a jar, one at each step, as colours relative to the white paper beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from dosing.jar.model import Array
from dosing.recipe.quantities import InputError
from indicator.notes import Value, say
from indicator.photograph import Patch, parse_patch, patch_colours, picked_lab, read_picture

ENDINGS = (
    ".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff", ".bmp", ".gif", ".avif", ".heic", ".heif",
)  # fmt: skip
"""By which a reading is told to be a picture; whether it can be read is seen when it is."""


@dataclass(frozen=True)
class Rectangles:
    """Where the white paper and the jar's liquid are in a photograph."""

    white: tuple[Patch, ...] = ()
    liquid: Patch | None = None


def is_picture(text: str) -> bool:
    """Whether a reading is the name of a picture."""
    return text.strip().casefold().endswith(ENDINGS)


def rectangles(white: Sequence[str], liquid: str | None, row: int | None = None) -> Rectangles:
    """Rectangles as they were typed, for all photographs or for that of a row.

    Parameters
    ----------
    white : sequence of str
        ``x,y,width,height`` of the paper; empty texts say nothing.
    liquid : str, optional
        The same of the liquid.
    row : int, optional
        Of the series, from 1.

    Returns
    -------
    Rectangles

    Raises
    ------
    InputError
        If one is none.
    """

    def patch(text: str, field: str) -> Patch:
        try:
            return parse_patch(text)
        except ValueError as error:
            values: dict[str, Value] = {"field": field, "value": repr(text[:40]), "row": row or 0}
            code = "rectangle" if row is None else "rectangle-row"
            raise InputError(say(f"jar.error.{code}", values), field, text) from error

    return Rectangles(
        tuple(patch(text, "white") for text in white if text.strip()),
        patch(liquid, "liquid") if liquid else None,
    )


def picked_colour(colour: str, white: str, row: int) -> tuple[Array, float]:
    """A colour picked from a picture beside the white paper's.

    Parameters
    ----------
    colour, white : str
        As # and six digits.
    row : int
        Of the series, from 1.

    Returns
    -------
    tuple of numpy.ndarray and float
        CIELAB, shape (3,), and the paper's cast.

    Raises
    ------
    InputError
        If one cannot be told.
    """
    try:
        return picked_lab(colour, white)
    except ValueError as error:
        values: dict[str, Value] = {
            "row": row, "colour": colour[:20], "white": white[:20], "why": str(error),
        }  # fmt: skip
        raise InputError(say("jar.error.picked", values), "series", colour) from error


def photographed_colour(file: Path, where: Rectangles, row: int) -> tuple[Array, float]:
    """Colour of the liquid in a photograph.

    Parameters
    ----------
    file : Path
        The picture.
    where : Rectangles
        Where to look in it.
    row : int
        Of the series, from 1.

    Returns
    -------
    tuple of numpy.ndarray and float
        CIELAB, shape (3,), and the cast of the paper.

    Raises
    ------
    InputError
        If it cannot be read, or does not tell the colour.
    """
    if not where.white:
        raise refused(file, row, "photo-white", "white")
    if where.liquid is None:
        raise refused(file, row, "photo-liquid", "liquid")
    if any(patch.overlaps(where.liquid) for patch in where.white):
        values: dict[str, Value] = {"liquid": str(where.liquid)}
        raise refused(file, row, "photo-overlap", "liquid", values)
    try:
        told = patch_colours(read_picture(file), where.white, [where.liquid])
        if told.unread[0]:
            raise ValueError(told.unread[0])
        return told.lab[0], told.cast
    except ValueError as error:
        raise refused(file, row, "photo", "series", {"why": str(error)}) from error
    except OSError as error:
        raise refused(file, row, "photo-file", "series", {"why": error.strerror or ""}) from error


def refused(
    file: Path, row: int, code: str, field: str, more: dict[str, Value] | None = None
) -> InputError:
    """That a photograph cannot be used, ready to be raised.

    Parameters
    ----------
    file : Path
        The picture.
    row : int
        Of the series, from 1.
    code : str
        Of the sentence, below ``jar.error``.
    field : str
        What has to be changed.
    more : dict, optional
        What the sentence quotes beside row and file.

    Returns
    -------
    InputError
    """
    values: dict[str, Value] = {"row": row, "file": repr(file.name[:60])}
    return InputError(say(f"jar.error.{code}", values | (more or {})), field)
