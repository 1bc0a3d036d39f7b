"""The book's file: what was acknowledged stays, whatever happens to writer, disk or file."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from dosing.recipe.quantities import InputError
from dosing.workshop import book_file
from dosing.workshop.book import add
from dosing.workshop.book_file import APPLICATION_ID, VERSION, open_book
from dosing.workshop.book_lines import Line

WRITER = Path(__file__).parent / "book_writer.py"
TODAY = date(2026, 11, 30)
Huedose = Callable[..., tuple[int, str, str]]


def writer(mode: str, book: Path, number: int) -> subprocess.Popen[str]:
    command = [sys.executable, str(WRITER), mode, str(book), str(number)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def told(process: subprocess.Popen[str]) -> tuple[list[str], list[str]]:
    """What a writer acknowledged, and the sentences on what it could not do."""
    lines = process.communicate()[0].splitlines()
    assert process.returncode == 0
    return [line for line in lines if line[0] != "!"], [line for line in lines if line[0] == "!"]


def uuids(book: Path) -> list[str]:
    with open_book(book) as file:
        assert file.problems() == []
        return [entry.uuid for entry in file.entries()]


@pytest.fixture(scope="module")
def three_lots(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("book") / "book.sqlite"
    with open_book(path, create=True) as file:
        for number in range(3):
            add(file, Line(["lot", "what=butterfly-pea", f"lot=P-{number}"]), TODAY)
    return path


@pytest.fixture
def book(three_lots: Path, tmp_path: Path) -> Path:
    """A book with three lots."""
    return Path(shutil.copy(three_lots, tmp_path))


@pytest.mark.slow
def test_nothing_acknowledged_is_lost_when_the_writer_is_killed(tmp_path: Path) -> None:
    process = writer("kill", tmp_path / "book.sqlite", 200)
    acknowledged, lost, unsound, torn = json.loads(process.communicate()[0])
    assert (lost, unsound) == (0, 0)
    # The moments have to fall before, within and after the writing.
    assert acknowledged > 100
    assert torn > 20


@pytest.mark.slow
def test_a_limit_on_files_stops_a_writer_and_loses_nothing(tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    acknowledged, sentences = told(writer("small-files", book, 1000))
    assert 10 < len(acknowledged) < 1000
    assert uuids(book) == acknowledged
    (sentence,) = sentences
    assert "the disk is full or failing" in sentence
    assert "Nothing was entered" in sentence


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = shutil.which("mount")
    command = [str(mount), "-t", "tmpfs", "-o", "size=100k", "none", str(disk)]
    if mount is None or subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("no file system may be mounted here; the limit on files is tried instead")
    yield disk
    subprocess.run(["umount", str(disk)], check=True)


@pytest.mark.slow
def test_a_full_disk_stops_a_writer_and_loses_nothing(small_disk: Path) -> None:
    book = small_disk / "book.sqlite"
    acknowledged, sentences = told(writer("full", book, 1000))
    assert 10 < len(acknowledged) < 1000
    assert uuids(book) == acknowledged
    assert "the disk is full or failing" in sentences[0]


@pytest.mark.slow
def test_two_writers_at_once_both_get_all_of_theirs_in(tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    pair = [writer(name, book, 15) for name in ("left", "right")]
    acknowledged = [told(process) for process in pair]
    assert [sentences for _, sentences in acknowledged] == [[], []]
    left, right = (entered for entered, _ in acknowledged)
    assert (len(left), len(right)) == (15, 15)
    assert sorted(uuids(book)) == sorted([*left, *right])


@pytest.mark.slow
def test_who_may_not_write_is_told_so_and_may_still_read(tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    before, _ = told(writer("owner", book, 2))
    tmp_path.chmod(0o555)
    book.chmod(0o444)
    try:
        for place in (book, tmp_path / "new.sqlite"):
            entered, sentences = told(writer("bound", place, 1))
            assert entered == []
            assert "may not be opened for writing; nothing was entered" in sentences[0]
        assert uuids(book) == before
    finally:
        tmp_path.chmod(0o755)


def test_a_writer_waits_for_another_and_then_says_so(
    book: Path, monkeypatch: pytest.MonkeyPatch, huedose: Huedose
) -> None:
    monkeypatch.setattr(book_file, "WAIT_S", 0.05)
    with closing(sqlite3.connect(book, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        code, out, err = huedose("book", "add", "lot", "what=x", "lot=y", "--book", book)
        assert (code, out) == (2, "")
        assert "being written by another program; nothing was entered" in err
        assert huedose("book", "list", "--book", book)[0] == 0
    assert len(uuids(book)) == 3
    assert huedose("book", "add", "lot", "what=x", "lot=y", "--book", book)[0] == 0


def truncated(book: Path) -> None:
    os.truncate(book, book.stat().st_size - 4096)


def emptied(book: Path) -> None:
    os.truncate(book, 0)


def stump(book: Path) -> None:
    os.truncate(book, 50)


def text(book: Path) -> None:
    book.write_text("a shopping list\n" * 100)


def photograph(book: Path) -> None:
    book.write_bytes(b"\xff\xd8\xff\xe0" + bytes(range(256)) * 40)


def another_program(book: Path) -> None:
    book.unlink()
    with closing(sqlite3.connect(book)) as other, other:
        other.execute("CREATE TABLE bookmarks (url TEXT)")


def newer(book: Path) -> None:
    with closing(sqlite3.connect(book)) as other, other:
        other.execute(f"PRAGMA user_version = {VERSION + 1}")


def scribbled(book: Path) -> None:
    content = bytearray(book.read_bytes())
    content[4096:8192] = b"?" * 4096
    book.write_bytes(content)


def folder(book: Path) -> None:
    book.unlink()
    book.mkdir()


def link(book: Path) -> None:
    book.rename(book.with_name("real.sqlite"))
    book.symlink_to("real.sqlite")


def dangling(book: Path) -> None:
    book.unlink()
    book.symlink_to("nowhere.sqlite")


def pipe(book: Path) -> None:
    book.unlink()
    os.mkfifo(book)


def only_a_journal(book: Path) -> None:
    book.rename(book.with_name("book.sqlite-journal"))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (truncated, "damaged or cut off"),
        (emptied, "is empty"),
        (stump, "damaged or cut off"),
        (text, "no book of huedose"),
        (photograph, "no book of huedose"),
        (another_program, "another program's database"),
        (newer, "written by a newer huedose"),
        (scribbled, "damaged or cut off"),
        (folder, "which is a folder"),
        (link, "which is a link"),
        (dangling, "which is a link"),
        (pipe, "no book of huedose"),
        (only_a_journal, "its journal"),
    ],
)
def test_what_is_no_sound_book_is_refused_in_one_sentence_and_left_alone(
    book: Path, huedose: Huedose, harm: Callable[[Path], None], words: str
) -> None:
    harm(book)
    before = {file: file.read_bytes() if file.is_file() else b"" for file in book.parent.iterdir()}
    for arguments in (("list",), ("add", "lot", "what=x", "lot=y")):
        code, out, err = huedose("book", *arguments, "--book", book)
        assert (code, out) == (2, "")
        assert words in err
        assert err.count("\n") == 1
    after = {file: file.read_bytes() if file.is_file() else b"" for file in book.parent.iterdir()}
    assert after == before


def test_the_file_says_whose_it_is(book: Path) -> None:
    with closing(sqlite3.connect(book)) as other:
        pragmas = ("application_id", "user_version", "journal_mode", "integrity_check")
        values = [other.execute(f"PRAGMA {name}").fetchone()[0] for name in pragmas]
    assert values == [APPLICATION_ID, VERSION, "delete", "ok"]
    with open_book(book) as file:
        # 3 is EXTRA: the folder is written through too when the journal goes.
        assert file._connection.execute("PRAGMA synchronous").fetchone() == (3,)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET fields = '{}' WHERE number = 2",
        "DELETE FROM entry WHERE number = 3",
        "INSERT OR REPLACE INTO entry SELECT 2, 'other', kind, day, written, fields, corrects,"
        " why, person_seal, previous, seal FROM entry WHERE number = 1",
        "INSERT OR REPLACE INTO entry SELECT 4, uuid, kind, day, written, fields, corrects,"
        " why, person_seal, previous, seal FROM entry WHERE number = 1",
    ],
)
def test_the_file_itself_takes_no_change(book: Path, statement: str) -> None:
    before = uuids(book)
    with (
        closing(sqlite3.connect(book)) as other,
        pytest.raises(sqlite3.IntegrityError, match="entries are"),
    ):
        other.execute(statement)
    assert uuids(book) == before


@pytest.mark.slow
@pytest.mark.parametrize(
    ("statement", "problem"),
    [
        ('UPDATE entry SET fields = \'{"lot":"X"}\' WHERE number = 2', "Entry 2 was changed"),
        ("UPDATE entry SET day = '2026-01-01' WHERE number = 3", "Entry 3 was changed"),
        ("DELETE FROM entry WHERE number = 2", "one before it is missing"),
    ],
)
def test_a_change_behind_the_guards_is_found(
    book: Path, huedose: Huedose, statement: str, problem: str
) -> None:
    with closing(sqlite3.connect(book)) as other, other:
        other.execute("DROP TRIGGER entry_stays")
        other.execute("DROP TRIGGER entry_is_kept")
        other.execute(statement)
    code, out, _ = huedose("book", "check", "--book", book)
    assert code == 3
    assert problem in out
    assert "guards were changed" in out
    # Nothing more is entered into it.
    code, out, err = huedose("book", "add", "lot", "what=x", "lot=y", "--book", book)
    assert (code, out) == (2, "")
    assert "run huedose book check" in err


def test_a_backup_is_the_whole_book(book: Path, tmp_path: Path, huedose: Huedose) -> None:
    copy = tmp_path / "copy.sqlite"
    code, out, _ = huedose("book", "backup", copy, "--book", book)
    assert code == 0
    assert "3 entries copied" in out
    with open_book(book) as first, open_book(copy) as second:
        assert first.entries() == second.entries()
    # Neither over a file, nor over the book itself.
    assert huedose("book", "backup", copy, "--book", book)[0] == 2
    assert huedose("book", "backup", book, "--book", book, "--overwrite")[0] == 2
    assert len(uuids(book)) == 3


def test_nobody_else_reads_the_book_its_copy_or_its_export(
    book: Path, tmp_path: Path, huedose: Huedose
) -> None:
    begun, copy, table = (tmp_path / name for name in ("new#?.sqlite", "copy.sqlite", "all.csv"))
    assert huedose("book", "add", "lot", "what=a", "lot=b", "--book", begun)[0] == 0
    assert huedose("book", "backup", copy, "--book", book)[0] == 0
    assert huedose("book", "export", table, "--book", book)[0] == 0
    assert [file.stat().st_mode & 0o777 for file in (begun, copy, table)] == [0o600] * 3


def test_a_book_is_only_begun_by_adding(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no book at"), open_book(tmp_path / "none.sqlite"):
        pass
    assert list(tmp_path.iterdir()) == []
