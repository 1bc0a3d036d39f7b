"""Reads and writes the CSV files of this folder; shared by the build scripts."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

HERE = Path(__file__).resolve().parent


def read_csv(name: str) -> list[dict[str, str]]:
    """Rows of a file beside this one, without its comment lines."""
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def write_csv(name: str, comment: Iterable[str], rows: Sequence[Mapping[str, object]]) -> None:
    """Write rows beside this file, each comment line behind a ``#``."""
    with (HERE / name).open("w", encoding="utf-8", newline="") as file:
        file.writelines(f"# {line}\n" for line in comment)
        writer = csv.DictWriter(file, fieldnames=list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    print(f"{name}: {len(rows)} rows")
