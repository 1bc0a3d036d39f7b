"""Export and import of the book: JSON lines or CSV, read back to the same entries."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from dosing.recipe import recipe_from
from dosing.recipe.files import text_of
from dosing.recipe.quantities import refuse
from dosing.workshop.book_file import ERASURE, FIRST, PRIVATE, BookFile, Entry
from dosing.workshop.book_lines import (
    ABOUT_A_PERSON,
    NOTE,
    PERSONAL,
    VOID,
    BookField,
    Reading,
    check_complete,
    check_past,
    day_of,
    kinds,
)
from indicator.files import whole_file

OWN = ("uuid", "kind", "day", "written", "corrects", "why", "salt", "person_seal")
"""Columns of every entry; its place in the chain is that of the row."""
CSV, JSON_LINES = ".csv", ".jsonl"
ENDINGS = (JSON_LINES, CSV)
END = "end"
"""Kind of the row that closes an export, so that one that was cut off or changed is told."""
LARGEST_BYTES = 200_000_000
GUARDED = ("=", "+", "-", "@", "'", "\t")
"""Beginnings of text that a spreadsheet would take for a formula; an apostrophe goes before."""
_NUMBER = (int, float)
KEPT_AS: dict[str, type | tuple[type, ...]] = {
    **{"ph": _NUMBER, "grams": _NUMBER, "litres": _NUMBER, "ppm": _NUMBER},
    **{"whole": int, "yes-no": bool, "recipe": dict, "photo": dict},
}
"""Types of fields that are not text; they stand in a CSV file as JSON."""
_NOTE = BookField(
    kind="", field=NOTE, reads="text", needed=False, source="house", confidence="DESIGN"
)
_WITHIN: dict[str, dict[str, type]] = {
    "recipe": {"tub": dict, "water": dict},
    "photo": {"path": str, "sha256": str},
}


def export_book(entries: Sequence[Entry], target: Path) -> None:
    """All entries written to a file, which appears only when it is complete.

    Parameters
    ----------
    entries : sequence of Entry
        Of the book.
    target : Path
        Ending in ``.jsonl`` or ``.csv``.

    Raises
    ------
    InputError, OSError
        If the ending is another, or the file cannot be written.
    """
    rows = [*entries, _closing(entries)]
    text = _csv(rows) if _ending(target) == CSV else _json_lines(rows)
    with whole_file(target) as draft:
        draft.touch(PRIVATE)
        draft.write_text(text, encoding="utf-8", newline="")


def read_export(source: Path, today: date) -> list[Entry]:
    """Entries of an exported file, which have no place in a book yet.

    Parameters
    ----------
    source : Path
        The file.
    today : datetime.date
        As in `dosing.workshop.book_lines.parsed`.

    Returns
    -------
    list of Entry
        Each judged as though it were typed.

    Raises
    ------
    InputError
        Naming the first row that cannot be used; or if it is not whole, or not as it was exported.
    """
    ending, text = _ending(source), text_of(source, "import", LARGEST_BYTES)
    rows = _csv_rows(text) if ending == CSV else _json_rows(text)
    closed = bool(rows) and isinstance(rows[-1], dict) and rows[-1].get("kind") == END
    closing = rows.pop() if closed else None
    drafts = [_draft(row, number, today) for number, row in enumerate(rows, start=1)]
    if closing is None:
        raise refuse("book.error.cut-off", "import", None, "")
    if closing != _row(_closing(_in_a_book(drafts))):
        raise refuse("book.error.not-as-exported", "import", None, "", count=len(drafts))
    return drafts


def _closing(entries: Sequence[Entry]) -> Entry:
    """Row after the last entry: how many there are, and the last one's seal in place of a uuid."""
    seal = entries[-1].seal if entries else FIRST
    return Entry(END, "", {}, why=f"{len(entries)} entries", uuid=seal)


def _in_a_book(drafts: Sequence[Entry]) -> list[Entry]:
    """The drafts as a book of their own has them."""
    placed: list[Entry] = []
    for number, draft in enumerate(drafts, start=1):
        placed.append(draft.sealed(number, placed[-1].seal if placed else FIRST))
    return placed


def import_book(book: BookFile, drafts: Sequence[Entry]) -> list[Entry]:
    """Entries of `read_export` added to the book: all of them, or after an error none.

    Parameters
    ----------
    book : BookFile
        Where they go.
    drafts : sequence of Entry
        In the order of the file.

    Returns
    -------
    list of Entry
        Those that were added; what the book holds already is not added again.

    Raises
    ------
    InputError
        Naming the first row that contradicts the book.
    """
    with book.writing():
        there = {entry.uuid: entry for entry in book.entries()}
        new = []
        for number, draft in enumerate(drafts, start=1):
            known = there.setdefault(draft.uuid, draft)
            if known is draft:
                _check_named(draft, there, number)
                new.append(draft)
            elif known.said() != draft.said():
                raise refuse("book.error.differs", "import", number, "", number=known.number)
        return book.append(new)


def _ending(path: Path) -> str:
    ending = path.suffix.casefold()
    if ending not in ENDINGS:
        raise refuse("book.error.ending", "file", path, ", ".join(ENDINGS))
    return ending


def _row(entry: Entry) -> dict[str, Any]:
    own = {name: getattr(entry, name) for name in OWN}
    return own | {"fields": dict(entry.fields), "person": dict(entry.person)}


def _json_lines(entries: Sequence[Entry]) -> str:
    return "".join(json.dumps(_row(entry), ensure_ascii=False) + "\n" for entry in entries)


def _json_rows(text: str) -> list[dict[str, Any]]:
    rows = []
    # Other line ends may stand within a text.
    for number, line in enumerate(filter(None, text.split("\n")), start=1):
        try:
            row = json.loads(line, parse_constant=_no_constant)
        except (ValueError, RecursionError) as error:
            raise refuse("book.error.row", "import", number, "") from error
        rows.append(row)
    return rows


def _no_constant(text: str) -> Any:
    raise ValueError(text)


def _columns() -> list[str]:
    named = dict.fromkeys(name for fields in kinds().values() for name in fields)
    return [*OWN, *named, NOTE, *(f"person.{name}" for name in PERSONAL)]


def _csv(entries: Sequence[Entry]) -> str:
    stream = io.StringIO()
    writer = csv.DictWriter(stream, _columns(), restval="")
    writer.writeheader()
    for entry in entries:
        cells = {name: _guarded(getattr(entry, name)) for name in OWN}
        for name, value in entry.fields.items():
            cells[name] = _guarded(value) if _is_text(entry.kind, name) else json.dumps(value)
        cells |= {f"person.{name}": _guarded(text) for name, text in entry.person.items()}
        writer.writerow(cells)
    return stream.getvalue()


def _csv_rows(text: str) -> list[dict[str, Any]]:
    reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    rows = []
    try:
        if reader.fieldnames is None or list(reader.fieldnames) != _columns():
            raise refuse("book.error.columns", "import", None, "")
        for number, cells in enumerate(reader, start=1):
            rows.append(_from_cells(cells, number))
    except csv.Error as error:
        raise refuse("book.error.row", "import", len(rows) + 1, "") from error
    return rows


def _from_cells(cells: Mapping[str, str], number: int) -> dict[str, Any]:
    if None in cells or None in cells.values():
        raise refuse("book.error.row", "import", number, "")
    row: dict[str, Any] = {name: _unguarded(cells[name]) for name in OWN}
    row["person"], row["fields"] = {}, {}
    for name, cell in cells.items():
        if not cell or name in OWN:
            continue
        if name.startswith("person."):
            row["person"][name.removeprefix("person.")] = _unguarded(cell)
        elif _is_text(row["kind"], name):
            row["fields"][name] = _unguarded(cell)
        else:
            try:
                row["fields"][name] = json.loads(cell, parse_constant=_no_constant)
            except (ValueError, RecursionError) as error:
                raise refuse("book.error.row", "import", number, "") from error
    return row


def _is_text(kind: str, name: str) -> bool:
    row = kinds().get(kind, {}).get(name)
    return name == NOTE or (row is not None and row.reads not in KEPT_AS)


def _guarded(text: str) -> str:
    return f"'{text}" if text.startswith(GUARDED) else text


def _unguarded(cell: str) -> str:
    return cell.removeprefix("'")


def _draft(row: Any, number: int, today: date) -> Entry:
    """An entry of an imported row, if it has the form of one."""
    texts = isinstance(row, dict) and all(isinstance(row.get(name), str) for name in OWN)
    tables = texts and all(isinstance(row.get(name), dict) for name in ("fields", "person"))
    if not tables or not row["uuid"] or set(row) != {*OWN, "fields", "person"}:
        raise refuse("book.error.row", "import", number, "")
    known = kinds().get(row["kind"])
    if known is None and row["kind"] not in (VOID, ERASURE):
        raise refuse("book.error.kind", "import", number, "", kind=row["kind"])
    personal = PERSONAL if row["kind"] in ABOUT_A_PERSON else ()
    if not all(name in personal and isinstance(text, str) for name, text in row["person"].items()):
        raise refuse("book.error.row", "import", number, "")
    draft = Entry(**row)
    try:
        day_of(draft.day, "day")
        check_past(draft.day, today)
        usable = [_as_typed(each, known or {}, draft.fields[each]) for each in draft.fields]
        check_complete(draft)
    except ValueError as error:
        raise refuse("book.error.judged", "import", number, "", reason=str(error)) from error
    if not all(usable):
        name = list(draft.fields)[usable.index(False)]
        raise refuse("book.error.field", "import", number, "", name=name)
    return draft


def _as_typed(name: str, known: Mapping[str, BookField], value: Any) -> bool:
    """Whether a kept value is one that somebody could have typed; raises what typing it would."""
    row = _NOTE if name == NOTE else known.get(name)
    if row is None or not isinstance(value, KEPT_AS.get(row.reads, str)):
        return False
    if isinstance(value, dict):
        # Own pigments and waters of a recipe may be in another folder; its tub is all its own.
        recipe_from({"tub": value.get("tub", {})}, name)
        return all(isinstance(value.get(key, of()), of) for key, of in _WITHIN[row.reads].items())
    if row.reads in ("entry", "yes-no"):
        return True
    # Six decimals are no thousands mark.
    text = f"{value:.6f}" if KEPT_AS.get(row.reads) is _NUMBER else str(value)
    read = Reading((), None).of(row, text)
    return read == value or not isinstance(value, str)


def _check_named(draft: Entry, there: Mapping[str, Entry], number: int) -> None:
    """Refuse a correction or an erasure whose entry is not in the book before it."""
    named = draft.corrects or draft.fields.get("of", "")
    if named and (named not in there or named == draft.uuid):
        raise refuse("book.error.names-none", "import", number, "")
    if draft.person and draft.sealed(1, "").person_seal != draft.person_seal:
        raise refuse("book.error.row", "import", number, "")
