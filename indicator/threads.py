"""One thread of the matrix library: on small arrays, threads cost more than they bring."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any


@contextmanager
def one_thread() -> Iterator[None]:
    """Keep numpy's matrix products on one thread; ``with one_thread():`` or a decorator.

    Callers may nest and come from several threads. Which of several threads decides is up to
    threadpoolctl; the others compute the same, only not faster.
    """
    now = [(library, library.get_num_threads()) for library in _libraries()]
    several = [(library, threads) for library, threads in now if threads > 1]
    for library, _ in several:
        library.set_num_threads(1)
    try:
        yield
    finally:
        for library, threads in several:
            library.set_num_threads(threads)


@cache
def _libraries() -> tuple[Any, ...]:
    """Found once: looking for the loaded libraries takes longer than a small solve."""
    import numpy  # noqa: F401 - loads the library that is looked for
    from threadpoolctl import ThreadpoolController

    return tuple(ThreadpoolController().select(user_api="blas").lib_controllers)
