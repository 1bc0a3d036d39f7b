"""Photo mat: its markers are those of the open dictionary, and nothing covers anything."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from indicator.mat import SINGLE, SIX, marker_cells, photo_mat

SHEETS = pytest.mark.parametrize("name", [SIX, SINGLE])


@SHEETS
def test_markers_are_those_of_the_open_dictionary(name: str) -> None:
    # OpenCV 5.0, DICT_4X4_50.
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    for marker in photo_mat(name).marker_ids:
        drawn = cv2.aruco.generateImageMarker(dictionary, marker, 6)
        np.testing.assert_array_equal(255 * marker_cells(marker), drawn)


@SHEETS
def test_nothing_covers_anything_and_markers_keep_bare_paper_around_them(name: str) -> None:
    mat = photo_mat(name)
    cell = np.ptp(mat.markers[0, :, 0]) / 6
    boxes = np.concatenate([mat.markers, mat.patches])
    low, high = boxes.min(axis=1), boxes.max(axis=1)
    away = np.maximum(low[:, None] - high, low - high[:, None]).max(axis=-1)
    np.fill_diagonal(away, np.inf)
    assert away.min() > -1e-9
    assert away[: len(mat.markers)].min() >= cell  # a cell is what the dictionary's finder wants
    nearest = np.clip(mat.places[:, None], low, high)
    assert np.linalg.norm(nearest - mat.places[:, None], axis=-1).min() > mat.ring / 2
    assert (low >= 0).all()
    assert (high <= mat.size).all()


@SHEETS
def test_every_place_has_paper_and_every_grey_around_it(name: str) -> None:
    mat = photo_mat(name)
    away = np.abs(mat.patches.mean(axis=1) - mat.places[:, None])
    beside = (away <= np.array(mat.pitch) / 2 + 0.01).all(axis=-1)
    for lightness in (100, 80, 60, 40):
        assert (beside[:, mat.lightness == lightness].sum(axis=1) == 4).all()
