"""Photo mat as it is printed: real paper, markers that a camera reads, lengths that are true."""

from __future__ import annotations

import re
from itertools import product

import cv2
import numpy as np
import pytest
import typst
from numpy.typing import NDArray

from dosing.bottle.kitchen import kitchen_solutions
from dosing.pictures.mat import mat_source
from dosing.pictures.sheets import compiled
from indicator.mat import SINGLE, SIX, Mat, photo_mat

# ISO 216: A4 is 210 mm by 297 mm. ANSI/ASME Y14.1: Letter is 8.5 in by 11 in.
SIZES_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
DPI = 150
PAGES = pytest.mark.parametrize(("name", "paper"), [*product([SIX, SINGLE], SIZES_MM)])


def printed(mat: Mat, paper: str) -> NDArray[np.uint8]:
    """The page in grey levels at `DPI`."""
    source, inputs = mat_source(mat, None, paper)
    png = typst.compile(source, format="png", ppi=DPI, sys_inputs=inputs)
    return np.asarray(cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_GRAYSCALE))


def corners_px(mat: Mat, picture: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Corners of all markers of a mat as a camera finds them, shape (markers, 4, 2)."""
    how = cv2.aruco.DetectorParameters()
    how.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    known = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    found, ids, _ = cv2.aruco.ArucoDetector(known, how).detectMarkers(picture)
    by_id = dict(zip(ids.ravel().tolist(), found, strict=True))
    assert sorted(by_id) == list(mat.marker_ids)
    return np.stack([by_id[marker][0] for marker in mat.marker_ids]).astype(np.float64)


@PAGES
def test_markers_are_read_from_the_page_and_lie_where_the_table_has_them(
    name: str, paper: str
) -> None:
    mat = photo_mat(name)
    picture = printed(mat, paper)
    away = corners_px(mat, picture) * 25.4 / DPI - mat.markers
    # True to 0.2 mm of each other, and the sheet in the middle of the page.
    np.testing.assert_allclose(away - away.mean(axis=(0, 1)), 0.0, atol=0.2)
    side = sorted(SIZES_MM[paper], reverse=name == SIX)
    np.testing.assert_allclose(away.mean(axis=(0, 1)), (np.array(side) - mat.size) / 2, atol=0.2)


@PAGES
def test_markers_are_read_from_the_side(name: str, paper: str) -> None:
    mat = photo_mat(name)
    picture = printed(mat, paper)
    height, width = picture.shape
    seen = np.array([[0.08, 0.1], [0.95, 0.02], [1.0, 1.0], [0.0, 0.9]]) * (width, height)
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]])
    tilted = cv2.getPerspectiveTransform(corners.astype(np.float32), seen.astype(np.float32))
    warped = cv2.warpPerspective(picture, tilted, (width, height), borderValue=(255,))
    corners_px(mat, np.asarray(warped, dtype=np.uint8))


@PAGES
def test_patches_are_printed_where_and_as_grey_as_the_table_has_them(name: str, paper: str) -> None:
    mat = photo_mat(name)
    picture = printed(mat, paper)
    origin = (np.array(picture.shape[::-1]) * 25.4 / DPI - mat.size) / 2
    low, high = (
        np.rint((end + origin) * DPI / 25.4).astype(int)
        for end in (mat.patches.min(axis=1), mat.patches.max(axis=1))
    )
    for (left, top), (right, bottom), light in zip(low, high, mat.linear, strict=True):
        patch = picture[top + 2 : bottom - 2, left + 2 : right - 2] / 255
        # IEC 61966-2-1.
        np.testing.assert_allclose(((patch + 0.055) / 1.055) ** 2.4, light, atol=0.005)


@PAGES
def test_pages_are_of_real_paper(name: str, paper: str) -> None:
    kitchen = kitchen_solutions() if name == SIX else None
    pages = compiled(*mat_source(photo_mat(name), kitchen, paper))
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", pages)
    upright = SIZES_MM[paper]
    # The six places lie across the page, the table of the second one stands.
    sizes = [upright[::-1], upright] if name == SIX else [upright]
    found = [[float(side) * 25.4 / 72 for side in box] for box in boxes]
    np.testing.assert_allclose(found, sizes, atol=0.05)


def test_the_second_page_holds_every_glass_of_the_table() -> None:
    kitchen = kitchen_solutions()
    source, inputs = mat_source(photo_mat(SIX), kitchen, "A4")
    words = re.findall(r'"text": "([^"]*)"', typst.query(source, "table", sys_inputs=inputs))
    for glass in kitchen.glasses:
        assert f"{glass.ph.best:.1f}" in words
        assert f"{glass.mixture.water_g:.0f} g" in words
