"""One command at work: where its own files are, whether it may overwrite, how it may end."""

from __future__ import annotations

from contextvars import ContextVar
from pathlib import Path
from typing import TYPE_CHECKING

from indicator.notes import say

if TYPE_CHECKING:
    from indicator.pigments import Pigments

NOT_MET = 3
"""Exit code: what was asked for cannot be met, or is forbidden for its purpose."""
INTERRUPTED, ENDED = 130, 143
"""Exit codes of a process that a person interrupts, and of one that is asked to end."""

# Of the command at work; no other thread sees them.
_folder: ContextVar[Path | None] = ContextVar("folder", default=None)
_overwrite: ContextVar[bool] = ContextVar("overwrite", default=False)


def begin(folder: Path | None, *, overwrite: bool) -> None:
    """Begin a command.

    Parameters
    ----------
    folder : Path or None
        Where its own files are, of ``--data-dir``; None for the usual place.
    overwrite : bool
        Whether it may write over a file that is there.
    """
    _folder.set(folder)
    _overwrite.set(overwrite)


def chosen_folder() -> Path | None:
    """The folder that ``--data-dir`` named; None for the usual place."""
    return _folder.get()


def known_pigments() -> Pigments:
    """Pigments and dyes that the maker at the command line can name."""
    # The help shall not wait for the numbers that pigments load.
    from indicator.pigments import own_pigments

    return own_pigments(_folder.get())


def check_free(file: Path, option: str) -> None:
    """Refuse a file that is there already, before anything is computed.

    Devices and pipes are no files to lose.

    Parameters
    ----------
    file : Path
        The file.
    option : str
        That gave it.

    Raises
    ------
    InputError
        Naming the file and the option that gave it.
    """
    # The help shall not wait for the numbers that quantities load.
    from dosing.recipe.quantities import InputError

    if file.is_file() and not _overwrite.get():
        raise InputError(say("cli.exists", {"option": option, "file": str(file)}), option, file)
