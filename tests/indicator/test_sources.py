"""Every row of every table names a known source and how far to trust it."""

from __future__ import annotations

import csv
from collections.abc import Iterator

import pytest

from indicator.tables import citation, data_root, read_text

FLAGS = {"SEEN", "SEEN-2", "MEMORY", "DERIVED", "CALC", "DESIGN", "GUESS"}
TABLES = sorted(
    f"{room}/{path.name}"
    for room in ("colour", "equilibrium", "trade")
    for path in data_root().joinpath(room).iterdir()
    if path.name.endswith(".csv")
)


def rows(name: str) -> list[dict[str, str]]:
    lines = read_text(name).splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def cells(name: str, ending: str) -> Iterator[str]:
    """Cells of the columns that end so; a row may have several sources."""
    for row in rows(name):
        for column, cell in row.items():
            if column.endswith(ending):
                yield from cell.split("; ")


@pytest.mark.parametrize("name", TABLES)
def test_every_row_has_a_known_source_and_a_flag(name: str) -> None:
    assert {"source", "confidence"} <= set(rows(name)[0])
    for key in filter(None, cells(name, "source")):
        assert len(citation(key)) > 10
    assert set(cells(name, "confidence")) - {""} <= FLAGS


@pytest.mark.parametrize("name", [one for one in TABLES if {"name", "value"} <= set(rows(one)[0])])
def test_no_number_stands_in_its_table_twice(name: str) -> None:
    names = [(row["name"], row.get("way")) for row in rows(name)]
    assert len(set(names)) == len(names)


def test_no_source_is_idle_or_told_twice() -> None:
    keys = [row["key"] for row in rows("sources.csv")]
    used = {key for name in TABLES for key in cells(name, "source")}
    headers = " ".join(line for name in TABLES for line in read_text(name).splitlines()[:12])
    assert len(set(keys)) == len(keys)
    assert [key for key in keys if key not in used and key not in headers] == []
