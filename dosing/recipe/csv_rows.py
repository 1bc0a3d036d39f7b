"""Tables that a person wrote: the cells of a CSV file, with one sentence for what is no table."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Sequence
from difflib import get_close_matches
from pathlib import Path

from dosing.recipe.files import text_of
from dosing.recipe.quantities import InputError
from indicator.notes import say


def csv_rows(path: Path, field: str, largest_bytes: int) -> tuple[list[str], list[list[str]]]:
    """Header and rows of a CSV file, comments and empty lines left out.

    Parameters
    ----------
    path : Path
        The file.
    field : str
        What the file is called in messages.
    largest_bytes : int
        A larger file is refused.

    Returns
    -------
    tuple
        Names of the columns as list of str, and rows as lists of cells.

    Raises
    ------
    InputError
        If there is no such file, or it is too large, no text, no table, or without rows.
    """
    text = text_of(path, field, largest_bytes)
    try:
        reader = csv.reader(text.splitlines(keepends=True), strict=True)
        rows = [row for row in reader if any(cell.strip() for cell in row) and not _comment(row[0])]
    except csv.Error as error:
        where = {"file": str(path), "line": str(reader.line_num)}
        raise InputError(say("cli.cases-quote", where), field) from error
    if len(rows) < 2:
        what = say(f"cli.rows-of.{field}")
        raise InputError(say("cli.cases-empty", {"file": str(path), "what": what}), field)
    return [cell.strip() for cell in rows[0]], rows[1:]


def csv_columns(
    path: Path,
    field: str,
    largest_bytes: int,
    known: Sequence[str],
    spelled: Callable[[str], str],
    others: str = "",
) -> dict[str, tuple[str, ...]]:
    """Cells of a CSV file by column, with nothing where a row is too short.

    Parameters
    ----------
    path, field, largest_bytes
        As for `csv_rows`.
    known : sequence of str
        Accepted columns.
    spelled : callable
        The name of a column as this room spells it.
    others : str
        Pattern of the names that are accepted besides.

    Returns
    -------
    dict of str to tuple of str

    Raises
    ------
    InputError
        As `csv_rows` and `check_columns`.
    """
    header, rows = csv_rows(path, field, largest_bytes)
    header = [spelled(name) for name in header]
    accepted = [*known, *(name for name in header if name and re.fullmatch(others, name))]
    check_columns(header, rows, accepted, field)
    filled = [[cell.strip() for cell in row] + [""] * (len(header) - len(row)) for row in rows]
    return dict(zip(header, zip(*filled, strict=True), strict=True))


def _comment(first: str) -> bool:
    """Whether a line that begins with # is a remark; a hex colour or a file's name is none."""
    text = first.strip()
    return text.startswith("#") and not re.fullmatch(r"#([0-9a-fA-F]{6}|\S+\.[a-zA-Z]{3,4})", text)


def check_columns(
    header: Sequence[str], rows: Sequence[Sequence[str]], known: Sequence[str], field: str
) -> None:
    """Refuse columns that are not known or stand there twice, and rows that are too long.

    Parameters
    ----------
    header : sequence of str
        Names of the columns that the file has.
    rows : sequence of sequence of str
        Its cells, row by row.
    known : sequence of str
        Names that a column may have.
    field : str
        What the file is called in messages.

    Raises
    ------
    InputError
        Naming the column, with the nearest that is known.
    """
    for name in (name for name in header if name not in known):
        if ";" in name or "\t" in name:
            raise InputError(say("cli.cases-separator", {"row": name}), field, name)
        close = get_close_matches(name, known, n=1, cutoff=0.4)
        hint = say("cli.hint", {"name": close[0]}) if close else ""
        values = {"column": name, "hint": hint, "known": say("plan.comma").join(known)}
        raise InputError(say("cli.unknown-column", values), field, name)
    for name in (name for name in header if header.count(name) > 1):
        raise InputError(say("cli.column-twice", {"column": name}), field, name)
    for number in (number for number, row in enumerate(rows, start=1) if len(row) > len(header)):
        raise InputError(say("cli.long-row", {"row": number}), field)
