"""Photo mat as a page to print: markers, greys and rings for glasses, all as vectors."""

from __future__ import annotations

import json

import numpy as np

from dosing.pictures.paper import FAINT, INK
from dosing.pictures.sheets import PAPERS, compiled
from indicator.mat import SINGLE, Mat, marker_cells
from indicator.notes import say
from indicator.srgb import encoded_levels
from indicator.tables import read_text

BARE = 100.0
"""CIELAB lightness of paper that nothing is printed on."""
Boxes = list[list[float]]
"""Left, top, width and height [mm]; of a patch also its grey, 0 to 255."""


def mat_page(mat: Mat, paper: str = "A4") -> bytes:
    """A photo mat on its page.

    Parameters
    ----------
    mat : Mat
        The sheet.
    paper : str
        ``"A4"`` or ``"Letter"``.

    Returns
    -------
    bytes
        Of a .pdf.
    """
    return compiled(*mat_source(mat, paper))


def mat_source(mat: Mat, paper: str) -> tuple[bytes, dict[str, str]]:
    """The mat's template, and the data that it is filled with.

    Parameters
    ----------
    mat, paper
        As for `mat_page`.

    Returns
    -------
    tuple
        Source of the template, and its ``sys.inputs``.
    """
    numbers = [""] if mat.name == SINGLE else [str(k + 1) for k in range(len(mat.places))]
    page = {
        "paper": PAPERS[paper],
        "flipped": mat.size[0] > mat.size[1],
        "size": mat.size,
        "ink": INK,
        "faint": FAINT,
        "markers": [_black(mat, place) for place in range(len(mat.markers))],
        "greys": _greys(mat),
        "places": [[*at, number] for at, number in zip(mat.places.tolist(), numbers, strict=True)],
        "ring": mat.ring,
        "below": mat.pitch[1] / 2,
        **{word: say(f"mat.{word}") for word in ("title", "about", "scale", "beside")},
        "advice": say(f"mat.{mat.name}"),
    }
    return read_text("text/mat.typ").encode(), {"mat": json.dumps(page)}


def _black(mat: Mat, place: int) -> Boxes:
    """Black of a marker: cells beside each other in a row are one box."""
    cells = marker_cells(mat.marker_ids[place])
    (left, top), (right, _) = mat.markers[place, :2]
    side = (right - left) / len(cells)
    boxes = []
    for row, bare in enumerate(cells):
        turns = np.flatnonzero(np.diff(np.pad(bare, 1, constant_values=True)))
        for start, end in turns.reshape(-1, 2):
            boxes.append([left + side * start, top + side * row, side * (end - start), side])
    return [list(map(float, box)) for box in boxes]


def _greys(mat: Mat) -> Boxes:
    printed = mat.lightness < BARE
    low, high = mat.patches[printed].min(axis=1), mat.patches[printed].max(axis=1)
    levels = encoded_levels(mat.linear[printed])
    rows: Boxes = np.column_stack([low, high - low, levels]).tolist()
    return rows
