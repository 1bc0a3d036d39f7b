"""Photographs of the photo mat: the mat found, its light measured, its glasses read.

The picture is laid flat by the mat's markers. Bare paper all over it tells how much light falls
where, and of what colour; printed greys, which no printer hits, tell how the camera bends the
tones. Each glass becomes the colour of its middle relative to the paper around it, or is left out
with the reason. OpenCV finds the markers; it is loaded when a picture is read, not before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from indicator.files import whole_file
from indicator.mat import SINGLE, SIX, Mat, photo_mat
from indicator.notes import Value, say
from indicator.photograph import (
    Patch,
    PatchColours,
    Pixels,
    ToneCurve,
    UnreadableError,
    camera_tones,
    checked_white,
    limit,
    patch_level,
    untoned,
)
from indicator.spread import SPREADS
from indicator.srgb import (
    encoded_levels,
    lab_from_linear,
    linear_from_lab,
    linear_srgb,
    shown_linear,
)
from indicator.tables import value_of

Array = NDArray[np.float64]

INK, PAPER = (29, 42, 46), (250, 248, 243)
"""Of what is drawn, sRGB."""
DICTIONARY = "DICT_4X4_50"
MOST_PX_MM = 8.0
"""Of the picture laid flat."""
CELL_MM = 4.0
"""Squares in which bare paper is looked for."""
ROUNDS = 8
"""In which shaded paper is set aside."""
SHARES, SHAPES = np.linspace(-0.5, 1.7, 23), np.linspace(-2.4, 2.4, 7)
"""Of the usual tone curve, and ways to differ from it [standard deviations], that are tried."""
LEAST_VARIANCE = 1e-4
"""Of the shape, so fine as it is tried."""
STRIP_MM = 2.0
"""Of paper beside a patch."""
PER_PATCH = 3.0
"""Channels of a patch, which err together."""
REFLECTANCES = np.geomspace(0.02, 1.2, 60)


@dataclass(frozen=True)
class FoundMat:
    """A mat in a picture, laid flat."""

    mat: Mat
    to_picture: Array
    """Homography from millimetres on the mat to pixels of the picture, shape (3, 3)."""
    flat: Pixels
    """The picture laid flat, shape (rows, columns, 3)."""
    px_mm: float
    """Pixels of it in a millimetre."""

    def square(self, middle: Array, sides: Array) -> Patch:
        """A rectangle of the flat picture.

        Parameters
        ----------
        middle, sides : numpy.ndarray
            On the mat, across and down [mm], shape (2,).

        Returns
        -------
        Patch
            In pixels.
        """
        corner = np.rint((middle - sides / 2) * self.px_mm).astype(int)
        size = np.maximum(np.rint(sides * self.px_mm).astype(int), 1)
        return Patch(*map(int, np.maximum(corner, 0)), *map(int, size))

    @cached_property
    def paper(self) -> Array:
        """Light on the mat: terms of a quadratic surface of the logarithm, shape (6, 3)."""
        import cv2

        columns, rows = (max(1, round(side / CELL_MM)) for side in self.mat.size)
        cells = cv2.resize(linear_srgb(self.flat), (columns, rows), interpolation=cv2.INTER_AREA)
        middles = np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), axis=-1) + 0.5
        middles = (middles * (np.array(self.mat.size) / (columns, rows))).reshape(-1, 2)
        bare = _bare(self.mat, middles)
        levels = np.log(np.maximum(cells.reshape(-1, 3)[bare], 1e-4))
        terms = _terms(self.mat, middles[bare])
        kept = np.ones(len(terms), dtype=bool)
        for _ in range(ROUNDS):
            surface, *_ = np.linalg.lstsq(terms[kept], levels[kept], rcond=None)
            below = (levels - terms @ surface).min(axis=1)
            # Shadows and the walls of glasses only darken.
            scatter = max(limit("paper_scatter"), float(np.median(np.abs(below[kept]))))
            kept = below > -1.5 * scatter
        return np.asarray(surface)

    def white_at(self, middles: Array) -> Array:
        """Linear sRGB of bare paper at places of the mat [mm], shape (places, 3)."""
        return np.asarray(np.exp(_terms(self.mat, middles) @ self.paper))

    @cached_property
    def curve(self) -> ToneCurve:
        """Tone curve of the picture by the printed greys."""
        return _tone_curve(self)


def find_mat(pixels: Pixels) -> FoundMat:
    """The mat in a picture.

    Parameters
    ----------
    pixels : numpy.ndarray
        Of `indicator.photograph.read_picture`.

    Returns
    -------
    FoundMat

    Raises
    ------
    ValueError
        If the library is missing, or too few markers are seen.
    """
    try:
        import cv2
    except ImportError as error:
        raise ValueError(say("mat-photo.no-library")) from error
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    how = cv2.aruco.DetectorParameters()
    how.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary, how).detectMarkers(grey)
    seen = {} if ids is None else dict(zip(ids.ravel().tolist(), corners, strict=True))
    mats = [photo_mat(name) for name in (SIX, SINGLE)]
    mat = max(mats, key=lambda each: len(seen.keys() & set(each.marker_ids)))
    both = [place for place, one in enumerate(mat.marker_ids) if one in seen]
    values: dict[str, Value] = {"count": len(both), "least": limit("least_markers")}
    if len(both) < limit("least_markers"):
        raise ValueError(say("mat-photo.not-found", values))
    there = np.concatenate([seen[mat.marker_ids[place]].reshape(4, 2) for place in both])
    here = mat.markers[both].reshape(-1, 2)
    to_picture, _ = cv2.findHomography(here, there, cv2.RANSAC, limit("most_off_px"))
    if to_picture is None:
        raise ValueError(say("mat-photo.not-found", values))
    return _flat(pixels, mat, np.asarray(to_picture))


def mat_colours(found: FoundMat, places: Sequence[int]) -> PatchColours:
    """Colours of glasses on the mat, relative to the paper where each stands.

    Parameters
    ----------
    found : FoundMat
        Of `find_mat`.
    places : sequence of int
        Places that are read, from 0.

    Returns
    -------
    PatchColours
        With the share of the tone curve that the greys tell.

    Raises
    ------
    ValueError
        If the paper tells nothing.
    """
    if max(places) >= len(found.mat.places):
        told: dict[str, Value] = {"count": max(places) + 1, "most": len(found.mat.places)}
        raise ValueError(say("mat-photo.places", told))
    whites = found.white_at(found.mat.places[list(places)])
    checked_white(whites.mean(axis=0), say("mat-photo.paper"))
    labs, unread = np.full((len(whites), 3), np.nan), [""] * len(whites)
    for row, place in enumerate(places):
        try:
            labs[row] = lab_from_linear(_glass(found, place, whites[row]))
        except UnreadableError as error:
            unread[row] = _reason(error.code, found, place, whites[row])
    red, green, blue = map(float, whites.mean(axis=0))
    return PatchColours(labs, tuple(unread), (red, green, blue), found.curve)


def scene_lab(read: PatchColours) -> Array:
    """CIELAB of the glasses themselves, the camera's tone curve undone, shape (patches, 3)."""
    share, shape = (0.0, 0.0) if read.curve is None else (read.curve.share, read.curve.shape)
    return lab_from_linear(untoned(linear_from_lab(read.lab), read.white, share, shape))


def fullest_place(found: FoundMat) -> int:
    """Place whose middle looks least like the paper around it: where the one glass stands."""
    shown = np.array([_part(found, middle, _read_sides(found)) for middle in found.mat.places])
    away = np.log(shown / found.white_at(found.mat.places))
    return int(np.argmax(np.abs(away).sum(axis=1)))


def draw_read(
    pixels: Pixels, found: FoundMat, places: Sequence[int], read: PatchColours, file: Path
) -> None:
    """Write the picture with what was read in it: a square and its colour by daylight, or a cross.

    Parameters
    ----------
    pixels : numpy.ndarray
        The picture.
    found : FoundMat
        The mat in it.
    places : sequence of int
        Places that were read, from 0.
    read : PatchColours
        What came of them.
    file : Path
        Written as a whole or not at all.
    """
    import cv2
    from PIL import Image, ImageDraw

    picture = Image.fromarray(pixels)
    pen, width = ImageDraw.Draw(picture), max(2, round(found.px_mm))

    def outline(middle: Array, sides: Array) -> list[tuple[float, float]]:
        corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * sides / 2 + middle
        there = cv2.perspectiveTransform(corners[None], found.to_picture)[0]
        return [(float(x), float(y)) for x, y in there]

    edge = np.array(found.mat.size)
    pen.line([*outline(edge / 2, edge), outline(edge / 2, edge)[0]], INK, width)
    sides = _read_sides(found)
    for row, place in enumerate(places):
        middle = found.mat.places[place]
        square = outline(middle, sides)
        pen.line([*square, square[0]], PAPER, width)
        if read.unread[row]:
            pen.line([square[0], square[2]], PAPER, width)
            pen.line([square[1], square[3]], PAPER, width)
        else:
            shown = encoded_levels(shown_linear(linear_from_lab(read.lab[row])))
            swatch = outline(middle, 0.5 * sides)
            pen.polygon(swatch, fill=tuple(map(int, shown)), outline=PAPER)
        corner = outline(middle - 0.9 * sides, sides)[0]
        pen.text(corner, str(place + 1), PAPER, font_size=8 * found.px_mm, stroke_width=width,
                 stroke_fill=INK)  # fmt: skip
    with whole_file(file) as draft:
        picture.save(draft)


def _read_sides(found: FoundMat) -> Array:
    """Of the square that is read in the middle of a glass [mm], shape (2,)."""
    return np.full(2, limit("read_share") * found.mat.ring)


def _glass(found: FoundMat, place: int, white: Array) -> Array:
    """Light of a glass over that of the paper, shape (3,)."""
    where = found.square(found.mat.places[place], _read_sides(found))
    share = patch_level(found.flat, where) / white
    if share.min() < limit("least_channel"):
        raise UnreadableError("black", {"what": "", "patch": "", "share": 1.0})
    return np.asarray(share)


def _reason(code: str, found: FoundMat, place: int, white: Array) -> str:
    """Why a glass cannot be read, and what would mend it."""
    share = _part(found, found.mat.places[place], _read_sides(found)) / white
    values: dict[str, Value] = {
        "what": say("mat-photo.glass", {"number": place + 1}),
        # So thin that the strongest colour lets a tenth of the light through.
        "times": float(max(2.0, np.ceil(-np.log10(share.min())))),
    }
    return say(f"mat-photo.{code}", values)


def _flat(pixels: Pixels, mat: Mat, to_picture: Array) -> FoundMat:
    """The mat as it looks from right above, about as large as it is in the picture."""
    import cv2

    edges = np.array([[0, 0], [mat.size[0], 0], mat.size, [0, mat.size[1]]], dtype=np.float64)
    there = cv2.perspectiveTransform(edges[None], to_picture)[0]
    area = abs(float(cv2.contourArea(there.astype(np.float32))))
    px_mm = min(MOST_PX_MM, float(np.sqrt(area / (mat.size[0] * mat.size[1]))))
    if px_mm < limit("least_px_mm"):
        raise ValueError(say("mat-photo.small", {"px": px_mm, "least": limit("least_px_mm")}))
    size = tuple(round(side * px_mm) for side in mat.size)
    scaled = to_picture @ np.diag([1 / px_mm, 1 / px_mm, 1.0])
    flat = cv2.warpPerspective(pixels, scaled, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    return FoundMat(mat, to_picture, np.asarray(flat, dtype=np.uint8), px_mm)


def _terms(mat: Mat, middles: Array) -> Array:
    """Terms of a quadratic surface, shape (places, 6)."""
    x, y = (2.0 * middles / np.array(mat.size) - 1.0).T
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _bare(mat: Mat, middles: Array) -> NDArray[np.bool_]:
    """Whether cells show nothing but paper, shape (cells,)."""
    ring = np.linalg.norm(middles[:, None] - mat.places, axis=-1) > mat.ring / 2 + CELL_MM
    bare = ring.all(axis=1)
    for corners in (*mat.markers, *mat.patches[mat.lightness < 100.0]):
        near = (middles > corners[0] - CELL_MM) & (middles < corners[2] + CELL_MM)
        bare &= ~near.all(axis=1)
    return np.asarray(bare)


def _tone_curve(found: FoundMat) -> ToneCurve:
    """The tone curve that explains the greys.

    A printed grey may be off by much, but all of one lightness alike: its light over the paper's is
    one number wherever it is printed and however bright it is lit there. How far apart the same
    grey looks in more and in less light tells of the curve even where the print tells nothing.
    """
    mat = found.mat
    grey = np.flatnonzero(mat.lightness < 100.0)
    shown, white, even = _greys(found, grey)
    levels, shown, white = np.log(mat.linear[grey])[even], shown[even], white[even]
    mean, sd = (value_of(SPREADS, name) for name in ("camera_curve", "camera_curve_sd"))
    off, each = (limit(name) for name in ("grey_off", "grey_scatter"))
    shares, shapes = (axis.ravel() for axis in np.meshgrid(SHARES, SHAPES))
    told = -0.5 * ((shares - mean) / sd) ** 2 - 0.5 * shapes**2
    for level in np.unique(levels):
        of_level = levels == level
        beside = np.log(shown[of_level] / white[of_level])
        # Shape (reflectances, patches, channels).
        scene = np.broadcast_to(REFLECTANCES[:, None, None], (len(REFLECTANCES), *beside.shape))
        missed = 0.5 * ((np.log(REFLECTANCES) - level) / off) ** 2
        for place, (share, shape) in enumerate(zip(shares, shapes, strict=True)):
            curves = np.log(camera_tones(scene, white[of_level], share, shape))
            misfit = np.log1p(((curves - beside) / each) ** 2).sum(axis=(1, 2)) / PER_PATCH
            told[place] += np.logaddexp.reduce(-misfit - missed)
    weight = np.exp(told - told.max())
    share, shape = (np.average(axis, weights=weight) for axis in (shares, shapes))
    spread = np.cov([shares, shapes], aweights=weight, ddof=0)
    slope = spread[0, 1] / spread[0, 0]
    return ToneCurve(
        share=float(share),
        share_sd=float(np.sqrt(spread[0, 0])),
        shape=float(shape),
        shape_sd=float(np.sqrt(max(spread[1, 1] - slope * spread[0, 1], LEAST_VARIANCE))),
        shape_per_share=float(slope),
    )


def _greys(found: FoundMat, grey: NDArray[np.intp]) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Light of grey patches and of the paper on both sides of each; whether both are the same."""
    shown, beside = [], []
    for corners in found.mat.patches[grey]:
        middle, sides = corners.mean(axis=0), corners[2] - corners[0]
        short = np.eye(2)[int(np.argmin(sides))]
        shown.append(_part(found, middle, 0.5 * sides))
        strip = np.where(short > 0, STRIP_MM, 0.5 * sides)
        away = short * (sides.min() / 2 + STRIP_MM)
        beside.append([_part(found, middle + side * away, strip) for side in (1, -1)])
    papers = np.array(beside)
    unlike = np.abs(np.log(papers[:, 0] / papers[:, 1])).max(axis=1)
    return np.array(shown), papers.mean(axis=1), unlike < limit("most_uneven_paper")


def _part(found: FoundMat, middle: Array, sides: Array) -> Array:
    """Median light of a rectangle of the mat, shape (3,)."""
    where = found.square(middle, sides)
    part = found.flat[where.y : where.y + where.height, where.x : where.x + where.width]
    return np.maximum(np.median(linear_srgb(part).reshape(-1, 3), axis=0), 1e-4)
