"""The one door to ``data/``: finds the folder, reads a table, checks it row by row.

The module that owns a subject declares the row as a frozen dataclass and hands it in; this
room knows where the files are and how text becomes numbers, and nothing about their meaning.
"""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Callable, Hashable, Mapping
from dataclasses import MISSING, dataclass, fields, is_dataclass
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar, cast, get_args, get_type_hints

Row = TypeVar("Row")

SOURCES = "sources.csv"
NINE_IN_TEN_SD = 1.6448536269514722
"""Standard deviations of a normal distribution on either side of its middle nine cases in ten."""


class DataError(ValueError):
    """A shipped or user-made data file is missing, malformed or inconsistent."""


@dataclass(frozen=True, kw_only=True)
class Sourced:
    """A row of a table that says where its numbers come from."""

    source: str
    """Key of ``data/sources.csv``; see `citation`."""
    confidence: str
    """How far it can be trusted, as ``data/README.md`` has it."""


def data_root() -> Traversable:
    """Folder that holds the tables: inside the wheel, or beside the packages in a checkout."""
    packed = files("indicator").joinpath("data")
    return packed if packed.is_dir() else Path(__file__).resolve().parents[1] / "data"


def read_text(name: str) -> str:
    """Text of the data file ``name`` (a path below ``data/`` with forward slashes).

    Raises
    ------
    DataError
        If there is no such file.
    """
    path = data_root().joinpath(*name.split("/"))
    if not path.is_file():
        raise DataError(f"data file {name!r} is missing")
    return path.read_text(encoding="utf-8")


@cache
def read_toml(name: str) -> dict[str, Any]:
    """Contents of a TOML data file; treat the result as read-only, it is shared.

    Raises
    ------
    DataError
        If the file is missing or is not TOML.
    """
    try:
        return tomllib.loads(read_text(name))
    except tomllib.TOMLDecodeError as error:
        raise DataError(f"data file {name!r} is not valid TOML: {error}") from error


def read_table(name: str, row_type: type[Row]) -> tuple[Row, ...]:
    """Rows of a CSV data file as frozen dataclasses of ``row_type``.

    Lines that begin with ``#`` are the file's header comment (columns and units). Cells become
    ``str``, ``float``, ``int`` or ``bool`` by the annotation; an empty cell is ``None`` where the
    annotation allows it, or the field's default where it has one.

    Parameters
    ----------
    name : str
        Path below ``data/``, for instance ``"equilibrium/acids.csv"``.
    row_type : type
        Dataclass whose field names are the column names.

    Returns
    -------
    tuple of row_type
        In the order of the file; read once.

    Raises
    ------
    DataError
        Naming file, line and column of the first cell that does not fit.
    """
    return cast(tuple[Row, ...], _read_table(name, cast(Hashable, row_type)))


def row_named(table: str, row_type: type[Row], name: str, field: str) -> Row:
    """The row of a table with that name.

    Parameters
    ----------
    table : str
        Path below ``data/``.
    row_type : type
        Its rows, which have a ``name``.
    name : str
        The name in question.
    field : str
        What the sentence of a refusal calls it.

    Returns
    -------
    row_type

    Raises
    ------
    ValueError
        If there is none; the sentence lists those there are.
    """
    rows: dict[str, Row] = {vars(row)["name"]: row for row in read_table(table, row_type)}
    if name not in rows:
        raise ValueError(f"{field} is {name!r}; accepted are {', '.join(rows)}")
    return rows[name]


@cache
def _read_table(name: str, row_type: Any) -> tuple[Any, ...]:
    if not is_dataclass(row_type):
        raise TypeError(f"row_type must be a dataclass, not {row_type!r}")
    numbers, reader = _reader(name)
    needed = {field.name: field.default is MISSING for field in fields(row_type)}
    columns = set(reader.fieldnames or ())
    if unknown := columns - needed.keys():
        raise DataError(f"data file {name!r} has unknown columns {sorted(unknown)}")
    if absent := {column for column, always in needed.items() if always} - columns:
        raise DataError(f"data file {name!r} lacks the columns {sorted(absent)}")
    hints = get_type_hints(row_type)
    return tuple(
        _row(name, numbers[index + 1], cells, row_type, hints) for index, cells in enumerate(reader)
    )


def _reader(name: str) -> tuple[list[int], csv.DictReader[str]]:
    """Lines of a table without its comments, by their numbers, and a reader of them."""
    lines = [
        (number, line)
        for number, line in enumerate(read_text(name).splitlines(), start=1)
        if line.strip() and not line.startswith("#")
    ]
    if not lines:
        raise DataError(f"data file {name!r} has no column names")
    return [number for number, _ in lines], csv.DictReader([line for _, line in lines], restkey="")


@cache
def columns_in(table: str) -> Mapping[str, tuple[float, ...]]:
    """Columns of numbers of a table by their names; those of texts are left out."""
    _, reader = _reader(table)
    rows = list(reader)
    numeric = [name for name in reader.fieldnames or () if name not in ("source", "confidence")]
    return {name: tuple(float(row[name]) for row in rows) for name in numeric}


@dataclass(frozen=True)
class _SourceRow:
    key: str
    citation: str


@cache
def _citations() -> dict[str, str]:
    rows = read_table(SOURCES, _SourceRow)
    citations = {row.key: row.citation for row in rows}
    if len(citations) < len(rows):
        raise DataError(f"data/{SOURCES} has a key twice")
    return citations


def citation(key: str) -> str:
    """Citation of a number, or how it came about: what a table's source key stands for.

    Raises
    ------
    DataError
        If ``data/sources.csv`` has no such key.

    Examples
    --------
    >>> citation("house")
    'our own choice; nothing published behind it'
    """
    if key not in _citations():
        raise DataError(f"data/{SOURCES} has no source {key!r}")
    return _citations()[key]


@dataclass(frozen=True)
class Number(Sourced):
    """A number of nature or trade as its table has it."""

    name: str
    value: float
    """[unit]."""
    unit: str
    low: float | None = None
    """Lower end of where about nine cases in ten lie [unit]."""
    high: float | None = None
    """Upper end [unit]."""

    @property
    def ends(self) -> tuple[float, float]:
        """Lower and upper end [unit]; the value itself where the table has none."""
        return (
            self.value if self.low is None else self.low,
            self.value if self.high is None else self.high,
        )


@cache
def numbers_in(table: str) -> Mapping[str, Number]:
    """Numbers of a table by their names."""
    return {row.name: row for row in read_table(table, Number)}


def number_of(table: str, name: str) -> Number:
    """Number of a table, with its ends, unit, source and confidence.

    Parameters
    ----------
    table : str
        Path below ``data/`` of a table with the columns name, value, unit, source, confidence,
        and perhaps low and high.
    name : str
        Its row.

    Returns
    -------
    Number

    Raises
    ------
    DataError
        If the table has no such row; the sentence offers the nearest.

    Examples
    --------
    >>> number_of("equilibrium/constants.csv", "zero_celsius").value
    273.15
    """
    rows = numbers_in(table)
    if name not in rows:
        close = get_close_matches(name, rows, n=1)
        hint = f"; did you mean {close[0]!r}?" if close else ""
        raise DataError(f"data/{table} has no row {name!r}{hint}")
    return rows[name]


def value_of(table: str, name: str) -> float:
    """The value alone of `number_of` [its unit]; parameters and errors as there.

    Parameters
    ----------
    table, name : str
        As in `number_of`.

    Returns
    -------
    float
        [unit of the row].
    """
    return number_of(table, name).value


def _row(name: str, line: int, cells: dict[str, str], row_type: Any, hints: dict[str, Any]) -> Any:
    content: dict[str, Any] = {}
    for field in fields(row_type):
        text = (cells.get(field.name) or "").strip()
        if not text and field.default is not MISSING:
            continue
        try:
            content[field.name] = _cell(text, hints[field.name])
        except ValueError as error:
            raise DataError(
                f"data file {name!r}, line {line}, column {field.name!r}: {error}"
            ) from error
    if "" in cells:
        raise DataError(f"data file {name!r}, line {line} has more cells than columns")
    return row_type(**content)


def _flag(text: str) -> bool:
    if text not in ("true", "false"):
        raise ValueError(f"{text!r} is neither true nor false")
    return text == "true"


_READ_AS: dict[Any, Callable[[str], object]] = {str: str, float: float, int: int, bool: _flag}


def _cell(text: str, annotation: Any) -> object:
    kinds = get_args(annotation) or (annotation,)
    if not text and type(None) in kinds:
        return None
    if not text and str not in kinds:
        raise ValueError("is empty")
    if kinds[0] not in _READ_AS:
        raise ValueError(f"cannot read a cell as {kinds[0]!r}")
    return _READ_AS[kinds[0]](text)
