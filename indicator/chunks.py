"""Chunks: a large batch taken in parts, so that memory does not grow with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

ROWS_AT_ONCE = 4096
"""Of 81 wavelengths: some 3 MB for each array that is worked with, which a processor's cache holds
in part; larger chunks are slower."""


def in_chunks(
    work: Callable[[Array], Mapping[str, Any]], rows: Array, at_once: int = ROWS_AT_ONCE
) -> dict[str, Any]:
    """Work on a large batch of rows part by part.

    Parameters
    ----------
    work : callable
        Takes rows of shape (n, m) to named arrays that begin with an axis of length n. Each row
        has to be worked on for itself.
    rows : numpy.ndarray
        Shape (..., m); the batch axes may be any or none.
    at_once : int
        Most rows that are handed to `work` together.

    Returns
    -------
    dict of str to numpy.ndarray
        The same arrays over the batch shape of `rows`. What `work` needs besides takes the memory
        of one part.
    """
    batch = rows.shape[:-1]
    flat = rows.reshape(-1, rows.shape[-1])
    parts = [work(flat[start : start + at_once]) for start in range(0, len(flat) or 1, at_once)]
    whole = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    return {name: array.reshape((*batch, *array.shape[1:])) for name, array in whole.items()}
