"""Writing files so that nothing is ever lost half-written."""

from __future__ import annotations

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
    target = path.resolve()
    if target.exists() and not target.is_file():
        yield target
        return
    draft = target.with_name(f".{target.stem}.{uuid4().hex[:8]}{target.suffix}")
    try:
        yield draft
        if target.exists():
            shutil.copymode(target, draft)
        os.replace(draft, target)
    finally:
        draft.unlink(missing_ok=True)
