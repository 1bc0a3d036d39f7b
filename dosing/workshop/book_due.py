"""The due list of the book: samples, pulls of keeping tests, dates, learnt waters, reports."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from dosing.recipe.own_waters import learnt_for
from dosing.workshop.book import LEARNT, home_key, standing
from dosing.workshop.book_file import ERASURE, Entry
from dosing.workshop.keeping_paper import pull_weeks
from indicator.notes import Note
from indicator.tables import Sourced, read_table

DUE = "trade/book_due.csv"
PULL = "pull"
"""Row that stands for each week of a keeping test."""


@dataclass(frozen=True)
class _DueRow(Sourced):
    name: str
    kind: str
    start: str
    after: int
    unit: str
    only: str = ""


@dataclass(frozen=True)
class Due:
    """Something that has to be done by a day."""

    day: str
    """By when, as 2026-11-30."""
    what: str
    """Row of ``data/trade/book_due.csv``."""
    number: int
    """Entry that it is of."""
    label: str
    """What that entry is of."""
    late_days: int
    """How many days ago that was; negative while there is time [day]."""
    week: int | None
    """Of a pull in a keeping test."""
    why: Note
    """What is to be done."""


def due(entries: Sequence[Entry], today: date, within_days: float) -> list[Due]:
    """Due list: what is overdue or falls due soon, by date.

    Parameters
    ----------
    entries : sequence of Entry
        Of the book.
    today : datetime.date
        From which it counts.
    within_days : float
        How far ahead [day].

    Returns
    -------
    list of Due
    """
    counting, first = standing(entries), _first_of_corrections(entries)
    closed = _closed(counting, first)
    # Only the last water that was learnt of a home is asked about again.
    waters = {home_key(entry.fields["home"]): entry for entry in counting if entry.kind == LEARNT}
    open_ended = [entry for entry in counting if entry.kind != LEARNT] + list(waters.values())
    items = []
    for row in _rows():
        for entry in open_ended:
            item = _due_item(row, entry, today) if row.kind == entry.kind else None
            if item is not None and item.late_days >= -within_days:
                whose = first.get(entry.uuid, entry.uuid)
                if not {(whose, item.week), (whose, None)} & closed:
                    items.append(item)
    return sorted(items, key=lambda item: (item.day, item.number))


def _rows() -> list[_DueRow]:
    return [
        replace(row, after=after)
        for row in read_table(DUE, _DueRow)
        for after in (pull_weeks() if row.name == PULL else [row.after])
    ]


def _first_of_corrections(entries: Sequence[Entry]) -> dict[str, str]:
    """The first entry of the line of corrections that each belongs to."""
    first: dict[str, str] = {}
    for entry in entries:
        if entry.corrects and entry.kind != ERASURE:
            first[entry.uuid] = first.get(entry.corrects, entry.corrects)
    return first


def _closed(counting: Sequence[Entry], first: Mapping[str, str]) -> set[tuple[str, int | None]]:
    """Entries, with the week of a pull, that need nothing more; a reading is of a week only."""
    return {
        (first.get(entry.fields["of"], entry.fields["of"]), entry.fields.get("week"))
        for entry in counting
        if "of" in entry.fields and (entry.kind == "done" or "week" in entry.fields)
    }


def _due_item(row: _DueRow, entry: Entry, today: date) -> Due | None:
    told = {"day": entry.day} | dict(entry.fields)
    wanted = dict(pair.split("=") for pair in row.only.split())
    met = all(str(told.get(name)).casefold() == text.casefold() for name, text in wanted.items())
    if row.start not in told or not met:
        return None
    day = _later(date.fromisoformat(told[row.start]), row.after, row.unit)
    label = next(str(told[name]) for name in ("batch", "lot", "home", "product") if name in told)
    week = row.after if row.unit == "week" else None
    why = Note(f"book.due.{row.name}", {"label": label, "week": row.after})
    return Due(day.isoformat(), row.name, entry.number, label, (today - day).days, week, why)


def _later(start: date, after: int, unit: str) -> date:
    """A day so much later; working days end early rather than late."""
    if unit == "working-day":
        moved = np.busday_offset(np.datetime64(start), after, roll="backward")
        return date.fromisoformat(str(moved))
    if unit == "month":
        months = start.year * 12 + start.month - 1 + after
        year, month = divmod(months, 12)
        return date(year, month + 1, min(start.day, monthrange(year, month + 1)[1]))
    if unit == "learnt-for":
        return start + learnt_for()
    return start + timedelta(days=after * (7 if unit == "week" else 1))
