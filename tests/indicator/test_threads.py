"""Small solves keep to one thread of the matrix library, and give the others back."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from threading import Barrier, Thread
from typing import Any

import numpy as np
import pytest
from threadpoolctl import ThreadpoolController

from dosing.equilibrium import newton, solve
from indicator import appearance
from indicator.optics import jar_view
from indicator.threads import one_thread

SALT = {"Na": 1e-3, "Cl": 1e-3}


@pytest.fixture
def blas() -> Iterator[Any]:
    """The matrix library, on two threads for once."""
    (library, *_) = ThreadpoolController().select(user_api="blas").lib_controllers
    before = library.get_num_threads()
    library.set_num_threads(2)
    assert library.get_num_threads() == 2
    yield library
    library.set_num_threads(before)


@pytest.mark.parametrize(
    ("module", "inner", "work"),
    [
        (newton, "first_guess", lambda: solve(SALT, 38.0)),
        (newton, "first_guess", lambda: solve(SALT, 38.0, ph=7.0)),
        (appearance, "in_chunks", lambda: appearance.seen(np.zeros(81), jar_view())),
    ],
    ids=["solve", "solve-at-ph", "seen"],
)
def test_one_thread_within_and_all_again_after(
    module: Any, inner: str, work: Callable[[], object], blas: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    within: list[int] = []
    whole = getattr(module, inner)

    def watched(*arguments: Any, **options: Any) -> Any:
        within.append(blas.get_num_threads())
        return whole(*arguments, **options)

    monkeypatch.setattr(module, inner, watched)
    work()
    assert within == [1]
    assert blas.get_num_threads() == 2


def test_callers_that_overlap_or_fail_give_the_threads_back(blas: Any) -> None:
    together = Barrier(2)

    def both() -> None:
        with one_thread(), one_thread():
            together.wait()

    threads = [Thread(target=both) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with pytest.raises(ValueError, match="unknown component"):
        solve({"unobtainium": 1.0})
    assert blas.get_num_threads() == 2


def test_the_command_line_leaves_the_environment_alone() -> None:
    text = (
        "import os, sys; before = dict(os.environ); from dosing.cli import main\n"
        "sys.argv = ['huedose', '--version']\n"
        "try:\n main()\nexcept SystemExit:\n pass\n"
        "assert dict(os.environ) == before"
    )
    bare = {k: v for k, v in os.environ.items() if k != "OPENBLAS_NUM_THREADS"}
    assert subprocess.run([sys.executable, "-c", text], env=bare).returncode == 0
