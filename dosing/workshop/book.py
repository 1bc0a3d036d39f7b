"""The book of a workshop: entries added, corrected and erased.

Its file is `dosing.workshop.book_file`, a line of it `dosing.workshop.book_lines`, what falls due
`dosing.workshop.book_due`, and what its pours teach `dosing.workshop.book_pours`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from dosing.recipe.quantities import refuse
from dosing.workshop.book_file import ERASURE, BookFile, Entry
from dosing.workshop.book_lines import (
    VOID,
    Line,
    Reading,
    check_complete,
    draft_of,
    find,
    parsed,
    sha256_of,
)
from indicator.accepted import reason
from indicator.notes import Note
from indicator.pigments import Pigments

LEARNT = "water"
"""Kind of the entry that names a learnt water."""


@dataclass(frozen=True)
class Added:
    """An entry that was added, and what was taken for granted."""

    entry: Entry
    recipe_from: int
    """Entry whose recipe was taken, as none was named; 0 if none was taken."""
    strip_taken: bool
    """Whether a pH without its instrument counts as read off a strip."""


def add(book: BookFile, line: Line, today: date, pigments: Pigments | None = None) -> Added:
    """An entry added to the book.

    Parameters
    ----------
    book : BookFile
        Where it goes.
    line : Line
        What was written.
    today : datetime.date
        Day of an entry that names none.
    pigments : Pigments, optional
        What a recipe can name; the shipped ones and those of the usual own folder if not given.

    Returns
    -------
    Added

    Raises
    ------
    InputError
        If a field cannot be used, an equal entry is there, or nothing can be written.
    """
    kind, day, written = parsed(line, today)
    with book.writing():
        entries = book.entries()
        draft = draft_of(kind, day, written, Reading(entries, pigments))
        if line.corrects:
            draft = _correction(draft, line, entries)
        draft = replace(draft, day=draft.day or today.isoformat())
        check_complete(draft)
        whose = _whose_recipe(draft, entries)
        if whose is not None:
            draft = replace(draft, fields={**draft.fields, "recipe": whose.fields["recipe"]})
        if not (line.again or line.corrects):
            _not_twice(draft, entries)
        (entry,) = book.append([draft])
    told = entry.fields
    strip = entry.kind == "pour" and "ph" in told and "ph_read_with" not in told
    return Added(entry, whose.number if whose else 0, strip)


def erase(book: BookFile, which: str, why: str | None, today: date) -> Entry:
    """Personal fields of an entry taken out for good; the entry and its seal stay.

    Parameters
    ----------
    book : BookFile
        The book.
    which : str
        Number of the entry.
    why : str or None
        The reason, which is kept.
    today : datetime.date
        Day of the erasure.

    Returns
    -------
    Entry
        That says so.

    Raises
    ------
    InputError
        If the entry has no personal fields, or there is no reason.
    """
    with book.writing():
        entry = find(book.entries(), which, "ID")
        if not entry.person:
            raise refuse("book.error.no-person", "ID", which, "")
        draft = Entry(ERASURE, today.isoformat(), {}, corrects=entry.uuid, why=_reason(why))
        (erasure,) = book.append([draft])
    return erasure


def standing(entries: Iterable[Entry]) -> list[Entry]:
    """Entries that count: the last of each line of corrections, none that was made void."""
    every = list(entries)
    replaced = {entry.corrects for entry in every if entry.kind != ERASURE}
    apart = (VOID, ERASURE)
    return [entry for entry in every if entry.uuid not in replaced and entry.kind not in apart]


def photo_problems(entries: Iterable[Entry]) -> list[Note]:
    """Photographs that the book names and that are gone or no longer the same."""
    problems = []
    for entry in standing(entries):
        photo = entry.fields.get("photo")
        if photo is not None:
            told = {"number": entry.number, "file": photo["path"]}
            try:
                same = sha256_of(Path(photo["path"])) == photo["sha256"]
            except OSError:
                problems.append(Note("book.problem.photo-gone", told))
                continue
            if not same:
                problems.append(Note("book.problem.photo-changed", told))
    return problems


def home_key(home: str) -> str:
    """Name of a home as it is compared: the same in capitals and with other blanks."""
    return " ".join(home.split()).casefold()


def _correction(draft: Entry, line: Line, entries: Sequence[Entry]) -> Entry:
    """The draft in the place of an earlier entry, whose other fields it keeps."""
    old = find(entries, line.corrects, "corrects")
    later = [each.number for each in entries if each.corrects == old.uuid and each.kind != ERASURE]
    if later:
        raise refuse("book.error.corrected", "corrects", line.corrects, "", later=later[-1])
    if draft.kind not in (old.kind, VOID):
        raise refuse("book.error.other-kind", "corrects", line.corrects, "", kind=old.kind)
    named = replace(draft, corrects=old.uuid, why=_reason(line.why))
    if draft.kind == VOID:
        return named
    kept = {name: value for name, value in old.fields.items() if name not in draft.fields}
    return replace(named, day=draft.day or old.day, fields=kept | dict(draft.fields))


def _reason(why: str | None) -> str:
    told = reason("why", why)
    if told is None:
        raise refuse("book.error.why", "why", None, "")
    return told


def _whose_recipe(draft: Entry, entries: Sequence[Entry]) -> Entry | None:
    """The last pour of the same home, where this one names no recipe."""
    if draft.kind != "pour" or "recipe" in draft.fields:
        return None
    home = home_key(draft.fields["home"])
    for entry in reversed(standing(entries)):
        if entry.kind == "pour" and home_key(entry.fields["home"]) == home:
            return entry if "recipe" in entry.fields else None
    return None


def _not_twice(draft: Entry, entries: Sequence[Entry]) -> None:
    for entry in standing(entries):
        same = (entry.kind, entry.day, entry.fields) == (draft.kind, draft.day, draft.fields)
        if same and entry.person == draft.person:
            raise refuse("book.error.there", "line", None, "", number=entry.number)
