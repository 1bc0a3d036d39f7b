"""Answers of ``book``, on the terminal or as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager
from datetime import date
from pathlib import Path

from dosing.cli.output import answer
from dosing.cli.session import NOT_MET, check_free, chosen_folder, known_pigments
from dosing.recipe.quantities import InputError, days, refuse
from dosing.words.book import BookCheck, DueList, Entered, EntryShown, Listing, Moved
from dosing.words.templates import render
from dosing.workshop.book import add, erase, photo_problems, standing
from dosing.workshop.book_due import due
from dosing.workshop.book_exchange import export_book, import_book, read_export
from dosing.workshop.book_file import FIRST, BookFile, Entry, open_book
from dosing.workshop.book_lines import VOID, Line, find, kinds
from dosing.workshop.book_pours import Lesson, cautions_of, learn_home, lesson_of, save_lesson
from indicator.accepted import one_of
from indicator.notes import say
from indicator.own import own_folder

FILE = "book.sqlite"
"""The book in the own folder."""


def show_added(book: Path | None, line: Line, *, as_json: bool) -> None:
    """Add an entry and say what was entered.

    Parameters
    ----------
    book : Path or None
        The book's file; that of the own folder if None.
    line : Line
        What was written.
    as_json : bool
        Whether JSON was asked for.
    """
    with _open(book, create=True) as file:
        added = add(file, line, date.today(), known_pigments())
        entries = file.entries()
    lesson = lesson_of(entries, added.entry, date.today(), known_pigments())
    cautions = cautions_of(entries, added.entry, known_pigments())
    _tell("added", Entered(added, lesson, cautions), as_json, entries)


def show_lesson(book: Path | None, home: str, save: str | None, *, as_json: bool) -> int:
    """Tell what the pours of a home taught, and save it under a name.

    Parameters
    ----------
    book, as_json
        As in `show_added`.
    home : str
        Name of the home.
    save : str or None
        Name for its water.

    Returns
    -------
    int
        3 if they contradict the reading or each other.
    """
    with _open(book) as file:
        learnt = learn_home(file, home, date.today(), known_pigments())
        saved = None if save is None else save_lesson(file, learnt, save, chosen_folder())
    _tell("learnt", Lesson.of(learnt, saved), as_json, saved_as=save)
    return NOT_MET if learnt.contradicts else 0


def show_list(
    book: Path | None, kind: str | None, containing: str, *, every: bool, as_json: bool
) -> None:
    """List the entries that count.

    Parameters
    ----------
    book, as_json
        As in `show_added`.
    kind : str or None
        Only entries of this kind.
    containing : str
        Only entries with this text in a field or as their day.
    every : bool
        Whether all are listed, and not only the last.
    """
    if kind is not None:
        one_of("kind", kind, tuple(kinds()))
    with _open(book) as file:
        entries = file.entries()
    wanted = tuple(
        entry
        for entry in standing(entries)
        if kind in (None, entry.kind)
        and containing.casefold() in f"{entry.day} {list(entry.fields.values())}".casefold()
    )
    _tell("listed", Listing(wanted), as_json, entries, every=every)


def show_entry(book: Path | None, which: str, *, as_json: bool) -> None:
    """Show one entry with all its fields.

    Parameters
    ----------
    book, as_json
        As in `show_added`.
    which : str
        Its number.
    """
    with _open(book) as file:
        entries = file.entries()
    entry = find(entries, which, "ID")
    later = [each.number for each in entries if each.corrects == entry.uuid and each.kind in
             (entry.kind, VOID)]  # fmt: skip
    _tell("shown", EntryShown(entry, max(later, default=0)), as_json, entries)


def show_due(book: Path | None, within: str, *, every: bool, as_json: bool) -> None:
    """List what falls due.

    Parameters
    ----------
    book, as_json
        As in `show_added`.
    within : str
        How far ahead, for instance ``"60 days"``.
    every : bool
        Whether all are listed, and not only the first.
    """
    ahead, today = days(within, "within"), date.today()
    with _open(book) as file:
        items = due(file.entries(), today, ahead)
    _tell("due", DueList(today.isoformat(), ahead, tuple(items)), as_json, every=every)


def export_to(book: Path | None, target: Path, *, as_json: bool) -> None:
    """Write all entries to a file.

    Parameters
    ----------
    book, as_json
        As in `show_added`.
    target : Path
        A .jsonl or .csv file.
    """
    _check_target(target, "export")
    with _open(book) as file:
        entries = file.entries()
        export_book(entries, target)
    _tell("exported", Moved(str(target), len(entries), 0, _last(entries)), as_json)


def import_from(book: Path | None, source: Path, *, as_json: bool) -> None:
    """Add the entries of an exported file.

    Parameters
    ----------
    book, as_json
        As in `show_added`.
    source : Path
        A .jsonl or .csv file.
    """
    drafts = read_export(source, date.today())
    with _open(book, create=True) as file:
        added = import_book(file, drafts)
        seal = _last(file.entries())
    moved = Moved(str(source), len(added), len(drafts) - len(added), seal)
    _tell("imported", moved, as_json)


def show_check(book: Path | None, *, as_json: bool) -> int:
    """Check the book, its chain and the photographs that it names.

    Parameters
    ----------
    book, as_json
        As in `show_added`.

    Returns
    -------
    int
        0 if it is sound.
    """
    with _open(book) as file:
        entries, problems = file.entries(), file.problems()
    found = BookCheck(len(entries), _last(entries), (*problems, *photo_problems(entries)))
    _tell("checked", found, as_json)
    return 0 if found.sound else NOT_MET


def back_up(book: Path | None, target: Path, *, as_json: bool) -> None:
    """Copy the whole book, and check the copy.

    Parameters
    ----------
    book, as_json
        As in `show_added`.
    target : Path
        The copy.
    """
    _check_target(target, "backup")
    with _open(book) as file:
        file.copy_to(target)
    with open_book(target) as copy:
        entries, problems = copy.entries(), copy.problems()
    moved = Moved(str(target), len(entries), 0, _last(entries))
    _tell("backed-up", moved, as_json, problems=problems)


def erase_person(book: Path | None, which: str, why: str | None, *, as_json: bool) -> None:
    """Erase the personal fields of an entry.

    Parameters
    ----------
    book, as_json
        As in `show_added`.
    which : str
        Its number.
    why : str or None
        The reason.
    """
    with _open(book) as file:
        erasure = erase(file, which, why, date.today())
    _tell("erased", EntryShown(erasure, 0), as_json)


def _open(book: Path | None, *, create: bool = False) -> AbstractContextManager[BookFile]:
    return open_book(own_folder(chosen_folder()) / FILE if book is None else book, create=create)


def _check_target(target: Path, option: str) -> None:
    if not target.parent.is_dir():
        raise InputError(say("cli.output-folder", {"file": str(target)}), option, target)
    if target.is_dir():
        raise refuse("error.folder", option, target, "")
    check_free(target, option)


def _last(entries: list[Entry]) -> str:
    return entries[-1].seal if entries else FIRST


def _tell(
    what: str, told: object, as_json: bool, entries: Sequence[Entry] = (), **more: object
) -> None:
    settings = {
        "order": {kind: list(fields) for kind, fields in kinds().items()},
        "numbers": {entry.uuid: entry.number for entry in entries},
        "every": False,
        "problems": (),
    }
    answer(told, lambda: render("book", what=what, told=told, **settings | more), as_json=as_json)
