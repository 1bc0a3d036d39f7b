"""Large batches in parts: the same answers, and memory that does not grow."""

from __future__ import annotations

import tracemalloc
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from indicator.absorbance import mixture_absorbance
from indicator.appearance import ROWS_AT_ONCE, from_spectrum, in_chunks, seen
from indicator.optics import jar_view, tub_view


def described(rows: np.ndarray) -> dict[str, Any]:
    return {
        "sum": rows.sum(axis=-1),
        "doubled": 2.0 * rows,
        "text": np.array(["x" * int(abs(row[0])) for row in rows]),
    }


@given(rows=st.integers(0, 23), at_once=st.integers(1, 9))
def test_parts_make_the_whole(rows: int, at_once: int) -> None:
    values = np.arange(float(rows * 2)).reshape(rows, 2)
    whole, parts = described(values), in_chunks(described, values, at_once)
    assert parts["sum"].shape == (rows,)
    for name in ("sum", "doubled") if rows == 0 else whole:
        np.testing.assert_array_equal(parts[name], whole[name])


@pytest.mark.parametrize("batch", [(), (3,), (2, 5), (2, 0), (3, 2, 4)])
def test_any_batch_shape_comes_back(batch: tuple[int, ...]) -> None:
    values = np.random.default_rng(3).random((*batch, 2))
    found = in_chunks(lambda rows: {"sum": rows.sum(axis=-1), "same": rows}, values, 4)
    np.testing.assert_array_equal(found["sum"], values.sum(axis=-1))
    np.testing.assert_array_equal(found["same"], values)


def test_a_batch_larger_than_a_part_has_the_same_colours() -> None:
    count = ROWS_AT_ONCE + 700
    ph = np.linspace(1.0, 13.0, count)
    absorbance = mixture_absorbance({"butterfly-pea": np.linspace(0.0, 0.3, count)}, ph)
    absorbance[17] = np.nan
    for view in (tub_view(25.0, cloud="hazy"), jar_view()):
        whole = seen(absorbance, view)
        for start in range(0, count, 997):
            part = seen(absorbance[start : start + 997], view)
            for name, found in vars(part).items():
                same = getattr(whole, name)[start : start + 997]
                if found.dtype.kind == "f":
                    np.testing.assert_allclose(found, same, atol=1e-9)
                else:
                    np.testing.assert_array_equal(found, same)
        assert (str(whole.word[17]), str(whole.hex[17])) == ("", "")
        assert (whole.word != "").sum() == count - 1


def test_memory_beside_input_and_answer_does_not_grow() -> None:
    # 81 wavelengths in 80,000 rows are 52 MB; a handful of copies of it would be 200 MB and more.
    share = np.random.default_rng(4).random((80_000, 81))
    from_spectrum(share[:2], "D65", 2)
    tracemalloc.start()
    try:
        found = from_spectrum(share, "D65", 2)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    answer = sum(np.asarray(one).nbytes for one in found.values())
    assert peak - answer < 50e6
