"""Text of a file that a person named, with one sentence for what cannot be read."""

from __future__ import annotations

from pathlib import Path

from dosing.recipe.quantities import refuse
from indicator.files import was_read


def text_of(path: Path, field: str, largest_bytes: int, *, rewritten: bool = False) -> str:
    """Text of a file in UTF-8.

    Parameters
    ----------
    path : Path
        The file.
    field : str
        What it is called in messages.
    largest_bytes : int
        A larger file is refused.
    rewritten : bool
        Whether the command that reads it may write it anew, as its own store.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If there is no such file, or it cannot be opened, is too large or no text.
    """
    if not path.is_file():
        raise refuse("error.folder" if path.is_dir() else "error.no-file", field, path, "")
    if not rewritten:
        was_read(path)
    try:
        with path.open("rb") as stream:
            # One byte more than allowed tells a file that is too large.
            content = stream.read(largest_bytes + 1)
    except OSError as error:
        raise refuse("error.unreadable-file", field, path, "") from error
    if len(content) > largest_bytes:
        raise refuse("error.large-file", field, path, f"{largest_bytes / 1e6:g} MB")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refuse("error.not-text", field, path, "UTF-8") from error
