"""Documents of ``book``."""

from __future__ import annotations

from dataclasses import dataclass

from dosing.workshop.book import Added
from dosing.workshop.book_due import Due
from dosing.workshop.book_file import Entry
from dosing.workshop.book_pours import Lesson
from indicator.notes import Note


@dataclass(frozen=True)
class Entered:
    """An entry that was added, and what the pours of its home teach."""

    answer: Added
    lesson: Lesson | None
    """Of a pour; null if none of them teaches anything."""
    cautions: tuple[Note, ...] = ()
    """On an entry that stands all the same."""


@dataclass(frozen=True)
class Listing:
    """Entries that count, the newest last."""

    entries: tuple[Entry, ...]


@dataclass(frozen=True)
class EntryShown:
    """One entry, and what became of it."""

    entry: Entry
    replaced_by: int
    """Number of the entry that corrects it or makes it void; 0 if it counts."""


@dataclass(frozen=True)
class DueList:
    """Due list: overdue, or falling due soon, by date."""

    today: str
    within_days: float
    items: tuple[Due, ...]


@dataclass(frozen=True)
class Moved:
    """Entries that went out of the book or came into it."""

    file: str
    entries: int
    """Written, or added."""
    there: int
    """Of an import: entries that the book had already."""
    seal: str
    """Of the book's last entry: who notes it elsewhere can tell later that none is missing."""


@dataclass(frozen=True)
class BookCheck:
    """Whether the book is sound."""

    entries: int
    seal: str
    """Of the last entry."""
    problems: tuple[Note, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing was found."""
        return not self.problems
