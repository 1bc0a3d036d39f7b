"""Writing files so that nothing is ever lost: neither half-written, nor what was read."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from uuid import uuid4

_read: ContextVar[set[Path] | None] = ContextVar("read", default=None)
"""Files that the command at work has read; None outside a command."""


class InputFileError(OSError):
    """A file that a command reads was to be written over."""


@contextmanager
def keeping_what_is_read() -> Iterator[None]:
    """Within it, no file can be written over that `was_read`."""
    token = _read.set(set())
    try:
        yield
    finally:
        _read.reset(token)


def was_read(path: Path) -> None:
    """Note a file as one that the command at work reads."""
    known = _read.get()
    if known is not None:
        known.add(path)


def _is_input(target: Path) -> bool:
    return any(file.exists() and file.samefile(target) for file in _read.get() or ())


@contextmanager
def whole_file(path: Path, *, rewritten: bool = False) -> Iterator[Path]:
    """A path to write to; what stands at `path` stays until everything is written.

    Parameters
    ----------
    path : Path
        Where the file shall stand. A link is followed; a device or a pipe is written to directly.
    rewritten : bool
        Whether the command that read it means to change it.

    Yields
    ------
    Path
        A file of the same ending in the same folder.

    Raises
    ------
    OSError
        If the folder cannot be written to.
    InputFileError
        If the file is one that the command itself read, and not `rewritten`.
    """
    try:
        target = path.resolve()
    except RuntimeError as error:
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP), str(path)) from error
    if target.exists() and not target.is_file():
        yield target
        return
    if target.exists() and _is_input(target) and not rewritten:
        raise InputFileError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
    if target.exists() and not os.access(target, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
    draft = target.with_name(f".{target.stem}.{uuid4().hex[:8]}{target.suffix}")
    try:
        yield draft
        if target.exists():
            shutil.copymode(target, draft)
        os.replace(draft, target)
    except OSError as error:
        # The draft is our own affair; people know the name that they gave.
        raise OSError(error.errno, error.strerror or str(error), str(path)) from error
    finally:
        draft.unlink(missing_ok=True)
