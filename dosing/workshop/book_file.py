"""The book's file: one SQLite file whose entries are never changed, each sealed to the one before.

What is entered stands as soon as `BookFile.writing` has ended: the file is written with a rollback
journal and synchronous at its strictest, so that a crash or a power cut leaves every entry or, of
the one at work, nothing.
"""

from __future__ import annotations

import json
import os
import secrets
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any
from uuid import uuid4

from dosing.recipe.quantities import refuse
from indicator.files import was_read, whole_file
from indicator.notes import Note

APPLICATION_ID = 0x48446F73
"""That SQLite files of a book carry (HDos), so that no other program's file is taken for one."""
VERSION = 1
"""Of the tables below; a file with a higher one is left alone."""
WAIT_S = 5.0
"""How long a writer waits for another [s]."""
FIRST = "0" * 64
"""Seal that stands before the first entry."""
PRIVATE = 0o600
"""Rights of a file that may hold personal fields: its owner's only."""
ERASURE = "erasure"
"""Kind of the entry that says why the personal fields of another are gone."""

_TABLES = (
    """CREATE TABLE entry (
        number INTEGER PRIMARY KEY, uuid TEXT NOT NULL UNIQUE, kind TEXT NOT NULL,
        day TEXT NOT NULL, written TEXT NOT NULL, fields TEXT NOT NULL,
        corrects TEXT REFERENCES entry (uuid), why TEXT NOT NULL,
        person_seal TEXT NOT NULL, previous TEXT NOT NULL, seal TEXT NOT NULL)""",
    """CREATE TABLE person (
        uuid TEXT PRIMARY KEY REFERENCES entry (uuid), salt TEXT NOT NULL, fields TEXT NOT NULL)""",
    """CREATE TRIGGER entry_stays BEFORE UPDATE ON entry
        BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END""",
    """CREATE TRIGGER entry_is_kept BEFORE DELETE ON entry
        BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END""",
    # A row that replaces another would delete it without the trigger above.
    """CREATE TRIGGER entry_comes_last BEFORE INSERT ON entry
        WHEN NEW.number <> (SELECT COALESCE(MAX(number), 0) + 1 FROM entry)
            OR EXISTS (SELECT 1 FROM entry WHERE uuid = NEW.uuid)
        BEGIN SELECT RAISE(ABORT, 'entries are only added'); END""",
    """CREATE TRIGGER person_stays BEFORE UPDATE ON person
        BEGIN SELECT RAISE(ABORT, 'personal fields are never changed'); END""",
    """CREATE TRIGGER person_is_erased_with_a_reason BEFORE DELETE ON person
        WHEN NOT EXISTS (SELECT 1 FROM entry WHERE kind = 'erasure' AND corrects = OLD.uuid)
        BEGIN SELECT RAISE(ABORT, 'an erasure needs its entry'); END""",
)
_SENTENCES = {
    sqlite3.SQLITE_BUSY: "busy",
    sqlite3.SQLITE_LOCKED: "busy",
    sqlite3.SQLITE_READONLY: "read-only",
    sqlite3.SQLITE_PERM: "read-only",
    sqlite3.SQLITE_CANTOPEN: "read-only",
    sqlite3.SQLITE_FULL: "full",
    sqlite3.SQLITE_IOERR: "full",
    sqlite3.SQLITE_CORRUPT: "damaged",
    sqlite3.SQLITE_NOTADB: "no-book",
}


@dataclass(frozen=True)
class Entry:
    """One entry of the book, as it was written."""

    kind: str
    day: str
    """Date that it is about, as 2026-11-30."""
    fields: Mapping[str, Any]
    """What was entered, by the names of ``data/trade/book_fields.csv``."""
    corrects: str = ""
    """Of a correction: `uuid` of the entry that it stands for; of an erasure, whose it is."""
    why: str = ""
    """Reason of a correction or an erasure."""
    person: Mapping[str, str] = field(default_factory=dict)
    """Personal fields; empty where there are none, or no more."""
    salt: str = field(default="", metadata={"working": True})
    """Random text, so that nobody can try out what erased fields held."""
    person_seal: str = ""
    """SHA-256 of the personal fields and the salt; empty where there never were any."""
    number: int = 0
    """Place in the book, from 1."""
    uuid: str = ""
    """Name of the entry in every book that holds it."""
    written: str = ""
    """When it was entered [UTC]."""
    previous: str = FIRST
    """Seal of the entry before."""
    seal: str = ""
    """SHA-256 of all of the above but the personal fields, and of the seal before."""

    @property
    def erased(self) -> bool:
        """Whether it had personal fields that are gone."""
        return bool(self.person_seal) and not self.person

    def sealed(self, number: int, previous: str) -> Entry:
        """The entry at its place in a book.

        Parameters
        ----------
        number : int
            From 1.
        previous : str
            Seal of the entry before.

        Returns
        -------
        Entry
        """
        salt = self.salt or (secrets.token_hex(16) if self.person else "")
        person_seal = _seal([salt, dict(self.person)]) if self.person else self.person_seal
        placed = replace(
            self,
            salt=salt,
            person_seal=person_seal,
            number=number,
            uuid=self.uuid or str(uuid4()),
            written=self.written or datetime.now(UTC).isoformat(timespec="seconds"),
            previous=previous,
        )
        return replace(placed, seal=_seal(placed.content()))

    def content(self) -> list[Any]:
        """All that the seal covers."""
        return [self.number, self.previous, *self.said()]

    def said(self) -> list[Any]:
        """Content of the entry, without its place in the book and the personal fields."""
        told = [self.uuid, self.kind, self.day, self.written, dict(self.fields)]
        return [*told, self.corrects, self.why, self.person_seal]


class BookFile:
    """An open book."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._connection = connection

    def entries(self) -> list[Entry]:
        """All entries in the order of the book, with what personal fields there are."""
        with _plainly(self.path):
            rows = self._connection.execute(
                "SELECT e.*, p.salt, p.fields FROM entry e LEFT JOIN person p USING (uuid)"
                " ORDER BY number"
            ).fetchall()
        return [_entry(row, self.path) for row in rows]

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Within it what is added counts as a whole: all of it, or after an error nothing."""
        with _plainly(self.path):
            self._connection.execute("BEGIN IMMEDIATE")
            try:
                if self._tables() != set(_TABLES):
                    raise refuse("book.error.guards", "book", self.path, "")
                yield
                self._connection.execute("COMMIT")
            except BaseException:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                raise

    def append(self, drafts: list[Entry]) -> list[Entry]:
        """Entries at the end of the book, sealed; only within `writing`."""
        told = "SELECT number, seal FROM entry ORDER BY number DESC LIMIT 1"
        number, seal = self._connection.execute(told).fetchone() or (0, FIRST)
        added = []
        for draft in drafts:
            entry = draft.sealed(number + 1, seal)
            number, seal = entry.number, entry.seal
            self._insert(entry)
            added.append(entry)
        return added

    def _insert(self, entry: Entry) -> None:
        row = (
            *(entry.number, entry.uuid, entry.kind, entry.day, entry.written),
            *(_json(dict(entry.fields)), entry.corrects or None, entry.why),
            *(entry.person_seal, entry.previous, entry.seal),
        )
        self._connection.execute(f"INSERT INTO entry VALUES ({','.join('?' * len(row))})", row)
        if entry.person:
            person = (entry.uuid, entry.salt, _json(dict(entry.person)))
            self._connection.execute("INSERT INTO person VALUES (?, ?, ?)", person)
        if entry.kind == ERASURE:
            self._connection.execute("DELETE FROM person WHERE uuid = ?", (entry.corrects,))

    def problems(self) -> list[Note]:
        """Damage to the file, changed tables, and breaks in the chain; none in a sound book."""
        with _plainly(self.path):
            told = [row[0] for row in self._connection.execute("PRAGMA integrity_check(3)")]
            tables = self._tables()
            loose = self._connection.execute("PRAGMA foreign_key_check").fetchall()
        problems = [Note("book.problem.integrity", {"told": text}) for text in told if text != "ok"]
        if tables != set(_TABLES):
            problems.append(Note("book.problem.tables"))
        if loose:
            problems.append(Note("book.problem.loose", {"count": len(loose)}))
        return problems + _chain_problems(self.entries())

    def _tables(self) -> set[str]:
        made = self._connection.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL")
        return {row[0] for row in made}

    def copy_to(self, target: Path) -> None:
        """Backup of the whole book as a file of its own, which appears only when it is complete.

        Raises
        ------
        InputError, OSError
            If it cannot be written.
        """
        with whole_file(target) as draft, _plainly(target):
            draft.touch(PRIVATE)
            with closing(sqlite3.connect(draft)) as copy:
                self._connection.backup(copy)
            with draft.open("rb+") as stream:
                os.fsync(stream.fileno())


@contextmanager
def open_book(path: Path, *, create: bool = False) -> Iterator[BookFile]:
    """The book in a file.

    Parameters
    ----------
    path : Path
        Of the file; a link is refused.
    create : bool
        Whether to begin a book where there is no file.

    Yields
    ------
    BookFile

    Raises
    ------
    InputError
        If there is none, or what stands there is no book, damaged, or of a newer version.
    """
    _check_place(path)
    if not path.exists():
        if not create:
            raise refuse("book.error.none", "book", path, "")
        _begin(path)
    was_read(path)
    with _plainly(path), closing(_connected(path)) as connection:
        _check_kind(path, connection)
        yield BookFile(path, connection)


def _connected(path: Path) -> sqlite3.Connection:
    # Never begins a file by itself.
    uri = f"{path.absolute().as_uri()}?mode=rw"
    connection = sqlite3.connect(uri, uri=True, timeout=WAIT_S, isolation_level=None)
    settings = ("synchronous = EXTRA", "foreign_keys = ON", "secure_delete = ON")
    for setting in (*settings, "trusted_schema = OFF"):
        connection.execute(f"PRAGMA {setting}")
    return connection


def _check_place(path: Path) -> None:
    """Refuse what is no plain file, before SQLite would follow, make or replace anything."""
    journal = path.with_name(f"{path.name}-journal")
    if path.is_symlink():
        raise refuse("book.error.link", "book", path, "")
    if path.is_dir():
        raise refuse("error.folder", "book", path, "")
    if path.exists() and not path.is_file():
        raise refuse("book.error.no-book", "book", path, "")
    if path.exists() and path.stat().st_size == 0:
        raise refuse("book.error.empty", "book", path, "")
    if not path.exists() and journal.exists():
        raise refuse("book.error.journal", "book", path, "", journal=str(journal))


def _check_kind(path: Path, connection: sqlite3.Connection) -> None:
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    if application != APPLICATION_ID:
        raise refuse("book.error.other-program", "book", path, "")
    if version > VERSION:
        raise refuse("book.error.newer", "book", path, "", version=version, known=VERSION)


def _begin(path: Path) -> None:
    """A new book, made beside its place and put there whole, never over another."""
    draft = path.with_name(f".{path.name}.{uuid4().hex[:8]}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        draft.touch(PRIVATE)
        with _plainly(path), closing(_connected(draft)) as connection:
            connection.execute("BEGIN")
            for table in _TABLES:
                connection.execute(table)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {VERSION}")
            connection.execute("COMMIT")
        _place(draft, path)
    except PermissionError as error:
        raise refuse("book.error.read-only", "book", path, "") from error
    finally:
        if draft.exists():
            draft.unlink()


def _place(draft: Path, path: Path) -> None:
    try:
        os.link(draft, path)
    except FileExistsError:
        return  # another writer began the same book
    except OSError:
        # A card or a share that knows no hard links.
        if not path.exists():
            draft.rename(path)


@contextmanager
def _plainly(path: Path) -> Iterator[None]:
    """Whatever the database says, in one sentence on the file."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", None)
        said = _SENTENCES.get((code or 0) & 0xFF, "other")
        raise refuse(f"book.error.{said}", "book", path, "", reason=str(error)) from error


def _entry(row: tuple[Any, ...], path: Path) -> Entry:
    number, uuid, kind, day, written, fields, corrects, why, person_seal, previous, seal = row[:11]
    salt, person = row[11:]
    try:
        told, personal = json.loads(fields), json.loads(person or "{}")
    except (ValueError, TypeError) as error:
        raise refuse("book.error.damaged", "book", path, "", reason=str(error)) from error
    return Entry(
        kind, day, told, corrects or "", why, personal, salt or "", person_seal, number, uuid,
        written, previous, seal,
    )  # fmt: skip


def _chain_problems(entries: list[Entry]) -> list[Note]:
    problems, previous = [], FIRST
    erased = {entry.corrects for entry in entries if entry.kind == ERASURE}
    for number, entry in enumerate(entries, start=1):
        told = {"number": entry.number}
        if (entry.number, entry.previous, entry.seal) != (number, previous, _seal(entry.content())):
            problems.append(Note("book.problem.chain", told))
        if entry.person and entry.person_seal != _seal([entry.salt, dict(entry.person)]):
            problems.append(Note("book.problem.person", told))
        if entry.erased != (entry.uuid in erased):
            problems.append(Note("book.problem.erasure", told))
        previous = entry.seal
    return problems


def _json(value: Any) -> str:
    """The one way in which a value is written, so that equal values have equal seals."""
    return json.dumps(
        value, ensure_ascii=True, allow_nan=False, sort_keys=True, separators=(",", ":")
    )


def _seal(content: Any) -> str:
    return sha256(_json(content).encode("ascii")).hexdigest()
