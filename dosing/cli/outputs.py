"""Files that a command writes: none that is there is replaced, unless that was asked for."""

from __future__ import annotations

from pathlib import Path

from indicator.notes import say

_overwrite = False


def allow_overwriting(allowed: bool) -> None:
    """Whether files may be replaced from now on."""
    global _overwrite
    _overwrite = allowed


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

    if file.is_file() and not _overwrite:
        raise InputError(say("cli.exists", {"option": option, "file": str(file)}), option, file)
