"""The maker's own folder: where files that belong to a person and not to the project are kept."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

VARIABLE = "HUEDOSE_HOME"
OPENED: dict[str, Any] = {}
"""What was read from files that were named by their path, by the name inside."""
_chosen: Path | None = None


def choose_folder(folder: Path | None) -> None:
    """Keep own files in this folder from now on; None for the usual place.

    Files that were named by their path are forgotten.
    """
    global _chosen
    _chosen = folder
    OPENED.clear()


def own_folder() -> Path:
    """Folder of own files: the chosen one, that of ``HUEDOSE_HOME``, or the platform's."""
    if _chosen is not None:
        return _chosen
    named = os.environ.get(VARIABLE, "").strip()
    if named:
        return at_home(named)
    from platformdirs import user_data_path

    return user_data_path("huedose", appauthor=False)


def at_home(path: str) -> Path:
    """A path with ~ in it made whole, as far as there is such a home."""
    try:
        return Path(path).expanduser()
    except RuntimeError:
        return Path(path)


def chosen() -> bool:
    """Whether the folder was chosen for this once."""
    return _chosen is not None


def pigment_folder() -> Path:
    """Where own pigment files stand; it need not exist."""
    return own_folder() / "pigments"


def pigment_files() -> tuple[Path, ...]:
    """Own pigment files, in order of name."""
    try:
        return tuple(sorted(pigment_folder().glob("*.toml")))
    except OSError:
        return ()
