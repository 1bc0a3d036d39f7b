"""The maker's own folder, as one command was told it with ``--data-dir``."""

from __future__ import annotations

from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from indicator.pigments import Pigments

_folder: ContextVar[Path | None] = ContextVar("folder", default=None)
"""Of the command at work; no other thread sees it."""


def choose_folder(folder: Path | None) -> None:
    """Keep own files of the command at work in this folder; None for the usual place."""
    _folder.set(folder)


def chosen_folder() -> Path | None:
    """The folder that ``--data-dir`` named; None for the usual place."""
    return _folder.get()


def known_pigments() -> Pigments:
    """Pigments and dyes that the maker at the command line can name."""
    # The help shall not wait for the numbers that pigments load.
    from indicator.pigments import own_pigments

    return own_pigments(_folder.get())
