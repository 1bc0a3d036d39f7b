"""The maker's own folder: where files that belong to a person and not to the project are kept."""

from __future__ import annotations

import os
from pathlib import Path

VARIABLE = "HUEDOSE_HOME"
_chosen: Path | None = None


def choose_folder(folder: Path | None) -> None:
    """Keep own files in this folder from now on; None for the usual place."""
    global _chosen
    _chosen = folder


def own_folder() -> Path:
    """Folder of own files: the chosen one, that of ``HUEDOSE_HOME``, or the platform's."""
    if _chosen is not None:
        return _chosen
    named = os.environ.get(VARIABLE, "").strip()
    if named:
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("huedose", appauthor=False)


def pigment_folder() -> Path:
    """Where own pigment files stand; it need not exist."""
    return own_folder() / "pigments"


def pigment_files() -> tuple[Path, ...]:
    """Own pigment files, in order of name."""
    try:
        return tuple(sorted(pigment_folder().glob("*.toml")))
    except OSError:
        return ()
