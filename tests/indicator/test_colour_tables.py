"""Every row of the colour tables names a known source and how far to trust it."""

from __future__ import annotations

import csv

import pytest

from indicator.tables import data_root, read_text

FLAGS = {"SEEN", "SEEN-2", "MEMORY", "DERIVED", "CALC", "DESIGN", "GUESS"}
TABLES = sorted(
    path.name
    for path in data_root().joinpath("colour").iterdir()
    if path.name.endswith(".csv") and path.name != "sources.csv"
)


def rows(name: str) -> list[dict[str, str]]:
    lines = read_text(f"colour/{name}").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("name", TABLES)
def test_every_row_has_a_known_source_and_a_flag(name: str) -> None:
    known = {row["key"] for row in rows("sources.csv")}
    for row in rows(name):
        assert row["source"] in known
        assert row["confidence"] in FLAGS


def test_no_source_is_idle() -> None:
    cells = [row for name in TABLES for row in rows(name)]
    used = {row[key] for row in cells for key in ("source", "ea_source") if key in row}
    assert {row["key"] for row in rows("sources.csv")} <= used
