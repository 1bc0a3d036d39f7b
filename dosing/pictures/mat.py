"""Photo mat as a page to print: markers, greys and rings for glasses, all as vectors."""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from dosing.bottle.kitchen import POWDERS, Kitchen, KitchenGlass
from dosing.pictures.paper import FAINT, INK
from dosing.pictures.sheets import PAPERS
from dosing.words.filters import grams, ph, ph_at_least, ph_at_most
from dosing.words.marks import paragraphs
from dosing.words.templates import render
from indicator.mat import SINGLE, Mat, marker_cells
from indicator.notes import say
from indicator.srgb import encoded_levels
from indicator.tables import read_text

BARE = 100.0
"""CIELAB lightness of paper that nothing is printed on."""
STOCKS = (*POWDERS, "water")
Boxes = list[list[float]]
"""Left, top, width and height [mm]; of a patch also its grey, 0 to 255."""


def mat_source(mat: Mat, kitchen: Kitchen | None, paper: str) -> tuple[bytes, dict[str, str]]:
    """A photo mat on its page and the kitchen solutions on a second, for `sheets.compiled`.

    Parameters
    ----------
    mat : Mat
        The sheet.
    kitchen : Kitchen, optional
        Solutions of known pH for its places.
    paper : str
        ``"A4"`` or ``"Letter"``.

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
        "kitchen": None if kitchen is None else _solutions(kitchen),
    }
    return read_text("text/mat.typ").encode(), {"mat": json.dumps(page)}


def _solutions(kitchen: Kitchen) -> dict[str, Any]:
    """Text of the second page, with its table by rows."""
    told = {"kitchen": kitchen, "one": False, "written": True, "on_paper": True}
    title, *lines = paragraphs(render("mat", **told))
    table = next(place for place, line in enumerate(lines) if line.whole)
    return {
        "title": title.text,
        "above": [(line.indent, line.text) for line in lines[:table]],
        "head": [say(f"mat.head-{column}") for column in ("place", *STOCKS, "ph", "range")],
        "rows": [_row(glass) for glass in kitchen.glasses],
        "below": [(line.indent, line.text) for line in lines[table + 1 :]],
    }


def _row(glass: KitchenGlass) -> list[str]:
    amounts = (vars(glass.mixture)[f"{stock}_g"] for stock in STOCKS)
    low, high = ph_at_least(glass.ph.low), ph_at_most(glass.ph.high)
    return [
        str(glass.mixture.place),
        *(grams(amount) if amount else "–" for amount in amounts),
        ph(glass.ph.best),
        say("mat.range", {"low": low, "high": high}),
    ]


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
