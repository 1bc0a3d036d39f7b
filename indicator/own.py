"""The maker's own folder: where files that belong to a person and not to the project are kept."""

from __future__ import annotations

import os
from pathlib import Path

VARIABLE = "HUEDOSE_HOME"


def own_folder(chosen: Path | None = None) -> Path:
    """Folder of own files: the chosen one, that of ``HUEDOSE_HOME``, or the platform's."""
    if chosen is not None:
        return chosen
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


def pigment_folder(chosen: Path | None = None) -> Path:
    """Where own pigment files stand, in the folder of `own_folder`; it need not exist."""
    return own_folder(chosen) / "pigments"


def pigment_files(chosen: Path | None = None) -> tuple[Path, ...]:
    """Own pigment files, in order of name."""
    try:
        return tuple(sorted(pigment_folder(chosen).glob("*.toml")))
    except OSError:
        return ()
