"""Photo mat: where its markers, patches and places for glasses lie on the paper.

The printed sheet and the finder of a photograph both read it here. Positions are millimetres from
the outer corner of the first marker, x to the right and y down.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from indicator.srgb import linear_from_lab
from indicator.tables import Sourced, read_table

Array = NDArray[np.float64]

SIX, SINGLE = "six", "one"
"""Sheets by their names: for six glasses, and for one jar."""


@dataclass(frozen=True)
class Mat:
    """A sheet with markers around places for glasses; lengths in millimetres."""

    name: str
    """`SIX` or `SINGLE`."""
    size: tuple[float, float]
    """Width and height over all."""
    marker_ids: tuple[int, ...]
    markers: Array
    """Corners of the markers from the top left clockwise, shape (markers, 4, 2)."""
    patches: Array
    """Corners of the patches from the top left clockwise, shape (patches, 4, 2)."""
    lightness: Array
    """CIELAB lightness that the patches are printed with; 100 is bare paper, shape (patches,)."""
    places: Array
    """Middles of the places for glasses, row by row, shape (places, 2)."""
    ring: float
    """Diameter of the ring around each place."""
    pitch: tuple[float, float]
    """From marker to marker, across and down."""

    @property
    def linear(self) -> Array:
        """Light from each patch over that from bare paper, as meant, shape (patches,).

        A printer misses it by some 15 % and with a tint: it tells whether light is even, not grey.
        """
        none = np.zeros_like(self.lightness)
        return np.asarray(linear_from_lab(np.stack([self.lightness, none, none], axis=-1))[:, 1])


@cache
def photo_mat(name: str) -> Mat:
    """A sheet of the photo mat.

    Parameters
    ----------
    name : str
        `SIX` or `SINGLE`.

    Returns
    -------
    Mat
    """
    of = {row.name: float(vars(row)[name]) for row in read_table("colour/mat.csv", _Length)}
    count, side = (int(of["across"]), int(of["down"])), of["marker"]
    pitch = np.array([of["pitch_across"], of["pitch_down"]])
    crossings = side / 2 + pitch * _grid(count[0] + 1, count[1] + 1)
    patch = np.array([of["patch_long"], of["patch_wide"]])
    near = side / 2 + of["quiet"] + patch[0] * np.array([0.5, 1.5])
    patches = []
    for axis in (0, 1):
        edges = side / 2 + pitch * _grid(count[0] + axis, count[1] + 1 - axis)
        along = np.zeros((4, 2))
        along[:, axis] = [*near, *(pitch[axis] - near[::-1])]
        middles = (edges[:, None] + along).reshape(-1, 2)
        patches.append(_corners(middles, patch if axis == 0 else patch[::-1]))
    every = np.concatenate(patches)
    first = int(of["first_marker"])
    return Mat(
        name=name,
        size=(float(side + count[0] * pitch[0]), float(side + count[1] * pitch[1])),
        marker_ids=tuple(range(first, first + len(crossings))),
        markers=_corners(crossings, np.array([side, side])),
        patches=every,
        lightness=np.resize([of[f"patch_{k}"] for k in (1, 2, 3, 4)], len(every)),
        places=side / 2 + pitch * (_grid(*count) + 0.5),
        ring=of["ring"],
        pitch=(of["pitch_across"], of["pitch_down"]),
    )


@cache
def marker_cells(marker: int) -> NDArray[np.bool_]:
    """Cells of a marker with its border, true where the paper stays bare, shape (6, 6).

    Parameters
    ----------
    marker : int
        Its id.

    Returns
    -------
    numpy.ndarray

    Raises
    ------
    KeyError
        If no sheet has such a marker.
    """
    bits = {row.id: row.bits for row in read_table("colour/markers.csv", _Marker)}
    inner = np.array([bit == "1" for bit in bits[marker]]).reshape(4, 4)
    return np.pad(inner, 1)


@dataclass(frozen=True, kw_only=True)
class _Length(Sourced):
    name: str
    six: float
    one: float
    unit: str


@dataclass(frozen=True, kw_only=True)
class _Marker(Sourced):
    id: int
    bits: str


def _grid(across: int, down: int) -> Array:
    """Columns and rows of a grid, row by row, shape (places, 2)."""
    rows, columns = np.divmod(np.arange(across * down), across)
    return np.column_stack([columns, rows]).astype(np.float64)


def _corners(middles: Array, size: Array) -> Array:
    """Corners of rectangles from the top left clockwise, shape (rectangles, 4, 2)."""
    around = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    return middles[:, None] + around * size
