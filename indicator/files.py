"""Writing files so that nothing is ever lost half-written."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A path to write to; what stands at `path` stays until everything is written.

    Parameters
    ----------
    path : Path
        Where the file shall stand. A link is followed; a device or a pipe is written to directly.

    Yields
    ------
    Path
        A file of the same ending in the same folder.

    Raises
    ------
    OSError
        If the folder cannot be written to.
    """
    try:
        target = path.resolve()
    except RuntimeError as error:
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP), str(path)) from error
    if target.exists() and not target.is_file():
        yield target
        return
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
