"""The book of a workshop: entries added, corrected and erased, and the pours that teach.

Its file is `dosing.workshop.book_file`, a line of it `dosing.workshop.book_lines`, what falls due
`dosing.workshop.book_due`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

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
from dosing.workshop.records import Pour
from indicator.accepted import reason
from indicator.notes import Note
from indicator.pigments import Pigments

LEARNT = "water"
"""Kind of the entry that names a learnt water."""
OF_ANY_FILL = ("floor_area", "floor", "cloud", "foam_cover")
"""Keys of a recipe's tub that hold whatever is in it."""
TOWNS = {"soft": "soft", "middling": "medium", "hard": "hard"}
"""Waters of a town as a dose card calls them, and as a recipe does."""


@dataclass(frozen=True)
class Added:
    """An entry that was added, and what was taken for granted."""

    entry: Entry
    recipe_from: int
    """Entry whose recipe was taken, as none was named; 0 if none was taken."""
    teaches: bool
    """Whether it is a pour from which the next plan can learn."""
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
    return Added(entry, whose.number if whose else 0, _teaches(entry), strip)


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


def pours(entries: Sequence[Entry], home: str) -> list[Pour]:
    """Pours of a home from which the next plan can learn.

    Parameters
    ----------
    entries : sequence of Entry
        Of the book.
    home : str
        Its name.

    Returns
    -------
    list of Pour
        In the order of their days.
    """
    of_home = [
        entry
        for entry in standing(entries)
        if _teaches(entry) and home_key(entry.fields["home"]) == home_key(home)
    ]
    return [_pour(entry, home) for entry in sorted(of_home, key=lambda entry: entry.day)]


def homes(entries: Sequence[Entry]) -> tuple[str, ...]:
    """Homes that pours name, as they were first written."""
    named = {
        home_key(entry.fields["home"]): entry.fields["home"]
        for entry in reversed(standing(entries))
        if entry.kind == "pour"
    }
    return tuple(reversed(named.values()))


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


def _teaches(entry: Entry) -> bool:
    told = entry.fields
    return entry.kind == "pour" and "recipe" in told and ("ph" in told or "came" in told)


def _pour(entry: Entry, home: str) -> Pour:
    told = entry.fields
    came = str(told.get("came", ""))
    hexes = came if came.startswith("#") else None
    # A pH without its instrument counts for as little as it can be worth.
    read_with = told.get("ph_read_with", "strip") if "ph" in told else None
    return Pour(
        on=date.fromisoformat(entry.day),
        home=home,
        recipe=_recipe_at_home(told),
        grams=told["grams"],
        ph=told.get("ph"),
        ph_read_with=read_with,
        colour_hex=hexes,
        colour_word=None if hexes else came or None,
        eye=told.get("came_by", "eye") == "eye",
    )


def _recipe_at_home(told: Mapping[str, Any]) -> dict[str, Any]:
    """The recipe with the litres and the reading that the card was set to."""
    recipe = dict(told["recipe"])
    if "litres" in told:
        tub = recipe.get("tub", {})
        kept = {key: tub[key] for key in OF_ANY_FILL if key in tub}
        recipe["tub"] = kept | {"volume": f"{told['litres']:g} L"}
    water: dict[str, Any] = {}
    if "pad" in told:
        water = {"alkalinity": f"{told['pad']:g} ppm", "instrument": "strip"}
    elif "drops" in told and "drop_ppm" in told:
        counted = {"alkalinity": f"{told['drops'] * told['drop_ppm']:g} ppm"}
        step = {"instrument": "drop kit", "drop_step": f"{told['drop_ppm']:g} ppm"}
        water = counted | step
    elif "town" in told:
        water = {"like": TOWNS[told["town"]]}
    if water:
        # The rest of the recipe's water is that of another tap.
        warm = recipe.get("water", {}).get("temperature")
        recipe["water"] = water | ({"temperature": warm} if warm else {})
    return recipe


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
