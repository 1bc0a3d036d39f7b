"""A line of the book: a kind, a date and fields, as it is typed or pasted, to what is kept.

For instance ``pour 2026-11-30 home="our tub" litres=120 pad=95 grams=20 came=#7f5a8e``, which a
dose card begins with ``soak``. The kinds and their fields stand in ``data/trade/book_fields.csv``.
"""

from __future__ import annotations

import math
import re
import shlex
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache
from hashlib import file_digest
from pathlib import Path
from typing import Any

from dosing.recipe import load_tables, recipe_from
from dosing.recipe.names import calendar_day
from dosing.recipe.quantities import InputError, alkalinity_meq_l, mass_g, ph, refuse, volume_l
from dosing.workshop.book_file import ERASURE, Entry
from dosing.workshop.product_file import load_product
from dosing.workshop.records import UNCHANGED
from indicator.accepted import near, one_of
from indicator.files import was_read
from indicator.notes import say
from indicator.pigments import Pigments
from indicator.tables import Sourced, read_table
from indicator.words import plain_word

FIELDS = "trade/book_fields.csv"
ALSO_CALLED = {"soak": "pour"}
"""What the line of a dose card begins with."""
VOID = "void"
"""Kind of the correction after which an entry counts no more."""
NOTE = "note"
PERSONAL = ("contact", "person")
ABOUT_A_PERSON = ("complaint", "adverse")
"""Kinds that may hold personal fields."""
TRUTHS = {"yes": True, "true": True, "no": False, "false": False}
LARGEST_TEXT = 2000
SHORTEST_UUID = 6
STAYED = ("no change", "no colour change", "same", "the same", UNCHANGED)
"""That a pour changed no colour."""
MOST_WEEKS = 520
FIRST_DAY, LAST_DAY = date(2000, 1, 1), date(2099, 12, 31)
"""That an entry may name: keep a mistyped year out."""


@dataclass(frozen=True)
class BookField(Sourced):
    """A field that a kind of entry may have: a row of ``data/trade/book_fields.csv``."""

    kind: str
    field: str
    reads: str
    """How it is read: ``"text"``, ``"day"``, ``"grams"`` and others."""
    needed: bool
    accepted: str = ""
    """The only words, with blanks between; empty for any."""


@dataclass(frozen=True)
class Line:
    """An entry as it was asked for, not yet read."""

    words: Sequence[str]
    """A kind, a date if not today's, and fields as ``name=value``; or all of it in one text."""
    options: Mapping[str, str] = field(default_factory=dict)
    """Further fields."""
    corrects: str = ""
    """Number of the entry that this one stands for."""
    why: str | None = None
    """Reason of a correction."""
    again: bool = False
    """Whether an equal entry may be there already."""


@cache
def kinds() -> Mapping[str, Mapping[str, BookField]]:
    """Kinds of entries that a person adds, each with its fields."""
    told: dict[str, dict[str, BookField]] = {}
    for row in read_table(FIELDS, BookField):
        told.setdefault(row.kind, {})[row.field] = row
    return told


def find(entries: Sequence[Entry], which: str, place: str) -> Entry:
    """The entry of a number, or of the beginning of its uuid.

    Parameters
    ----------
    entries : sequence of Entry
        Of the book.
    which : str
        As it was typed.
    place : str
        Where.

    Returns
    -------
    Entry

    Raises
    ------
    InputError
        If there is none.
    """
    text = which.strip().removeprefix("#").casefold()
    whole = text if len(text) >= SHORTEST_UUID else "-"
    hits = [each for each in entries if str(each.number) == text or each.uuid.startswith(whole)]
    if len(hits) != 1:
        raise refuse("book.error.no-entry", place, which, "", last=len(entries))
    return hits[0]


def parsed(line: Line, today: date) -> tuple[str, str, dict[str, str]]:
    """Kind, day and fields of a line, not yet read.

    Parameters
    ----------
    line : Line
        As it was written.
    today : datetime.date
        No later day than that of tomorrow is taken.

    Returns
    -------
    tuple
        Kind; day as 2026-11-30, empty where none was written; fields by name.

    Raises
    ------
    InputError
        If a part of it cannot be told.
    """
    words = list(line.words)
    if len(words) == 1 and " " in words[0].strip():
        try:
            words = shlex.split(words[0])
        except ValueError as error:
            raise refuse("book.error.line", "line", words[0], "") from error
    kind, *rest = words
    kind = ALSO_CALLED.get(kind.casefold(), kind.casefold())
    one_of("kind", kind, (*kinds(), VOID))
    day = ""
    if rest and re.fullmatch(r"\d{4}-\d\d-\d\d", rest[0]):
        day = day_of(rest.pop(0), "day")
    written: dict[str, str] = {}
    for word in rest:
        name, equals, value = word.partition("=")
        if not equals:
            raise refuse("book.error.word", "line", word, "")
        _once(written, name.strip().casefold().replace("-", "_"), value)
    for name, value in line.options.items():
        _once(written, name, value)
    if "on" in written:
        day = day_of(written.pop("on"), "on")
    check_past(day, today)
    return kind, day, written


def check_past(day: str, today: date) -> None:
    """Refuse an entry about a later day than tomorrow, which it is already somewhere.

    Parameters
    ----------
    day : str
        An ISO date; empty for none.
    today : date
        Of the maker.

    Raises
    ------
    InputError
        If it is.
    """
    if day and date.fromisoformat(day) > today + timedelta(days=1):
        raise refuse("book.error.future", "on", day, today.isoformat())


def draft_of(kind: str, day: str, written: Mapping[str, str], reading: Reading) -> Entry:
    """Entry with its fields read, which has no place in a book yet.

    Parameters
    ----------
    kind, day : str
        As in `parsed`.
    written : mapping of str to str
        Fields as they were written.
    reading : Reading
        That reads them.

    Returns
    -------
    Entry

    Raises
    ------
    InputError, ValueError
        Naming the field that is not known or cannot be used.
    """
    known = kinds().get(kind, {})
    personal = PERSONAL if kind in ABOUT_A_PERSON else ()
    fields: dict[str, Any] = {}
    person: dict[str, str] = {}
    for name in written:
        if name not in (*known, NOTE, *personal):
            hint = near(name, (*known, NOTE, *personal))
            raise _not_taken("book.error.no-field", name, kind, hint)
    for name, text in written.items():
        if name in personal:
            person[name] = _text(text, name)
        else:
            fields[name] = _text(text, name) if name == NOTE else reading.of(known[name], text)
    return Entry(kind, day, fields, person=person)


def check_complete(draft: Entry) -> None:
    """Refuse an entry without a field that its kind needs, or one that takes back none."""
    if draft.kind in (VOID, ERASURE) and not draft.corrects:
        raise refuse("book.error.void", "corrects", None, "", example=say("book.example.void"))
    for name, row in kinds().get(draft.kind, {}).items():
        if row.needed and name not in draft.fields:
            raise _not_taken("book.error.missing", name, draft.kind)


def _not_taken(code: str, field: str, kind: str, hint: str = "") -> InputError:
    """Error that names all fields of a kind, with a line to type."""
    rows = kinds().get(kind, {}).values()
    needed = ", ".join(_named(row) for row in rows if row.needed) or say("book.error.needs-void")
    personal = PERSONAL if kind in ABOUT_A_PERSON else ()
    others = ", ".join([*(_named(row) for row in rows if not row.needed), NOTE, *personal])
    told = {"kind": kind, "needed": needed, "example": say(f"book.example.{kind}")}
    return refuse(code, field, None, others, hint=hint, **told)


def _named(row: BookField) -> str:
    """A field with the words that it takes, where these are few."""
    words = "yes, no" if row.reads == "yes-no" else ", ".join(row.accepted.split())
    return f"{row.field} ({words})" if words else row.field


def _once(written: dict[str, str], name: str, value: str) -> None:
    if name in written:
        raise refuse("book.error.twice", name, value, "")
    if value.strip():
        written[name] = value.strip()


@dataclass(frozen=True)
class Reading:
    """Reads what was typed into what is kept."""

    entries: Sequence[Entry]
    """Of the book."""
    pigments: Pigments | None
    """As in `dosing.workshop.book.add`."""

    def of(self, row: BookField, text: str) -> Any:
        """Value of a field.

        Parameters
        ----------
        row : BookField
            The field.
        text : str
            As it was typed.

        Returns
        -------
        str, float, int, bool or dict
        """
        readers: dict[str, Callable[[str, str], Any]] = {
            "text": _text,
            "day": day_of,
            "whole": _weeks,
            "ph": ph,
            "grams": lambda written, place: mass_g(_with_unit(written, "g"), place),
            "litres": lambda written, place: volume_l(_with_unit(written, "L"), place),
            "ppm": _ppm,
            "colour": _colour,
            "yes-no": _truth,
            "entry": lambda written, place: find(self.entries, written, place).uuid,
            "photo": _photo,
            "recipe": self._recipe,
        }
        value = readers[row.reads](text, row.field)
        if row.accepted:
            one_of(row.field, value, row.accepted.split())
        return value

    def _recipe(self, written: str, _: str) -> dict[str, Any]:
        """Tables of a recipe, or of the bath that a product makes."""
        tables = load_tables(written)
        if {"bottle", "ingredient"} <= set(tables):
            tables = dict(load_product(written, self.pigments).recipe_tables)
        recipe_from(tables, written, self.pigments)
        kept: dict[str, Any] = _plain(tables)
        return kept


def day_of(written: str, place: str) -> str:
    """A day that an entry may name, as 2026-11-30.

    Parameters
    ----------
    written : str
        As it was typed.
    place : str
        Where.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If it is no day, or far from any that a workshop writes.
    """
    day = calendar_day(written, place)
    if not FIRST_DAY <= date.fromisoformat(day) <= LAST_DAY:
        between = f"{FIRST_DAY} to {LAST_DAY}"
        raise refuse("book.error.year", place, written, between)
    return day


def _text(written: str, place: str) -> str:
    text = " ".join(written.split())
    if len(text) > LARGEST_TEXT:
        raise refuse("error.too-long", place, text, "")
    return text


def _with_unit(written: str, unit: str) -> str:
    return f"{written} {unit}" if re.fullmatch(r"[\d.,]+", written) else written


def _ppm(written: str, place: str) -> float:
    """Alkalinity that a pad showed [mg/L CaCO3]."""
    alkalinity_meq_l(_with_unit(written, "ppm"), place)
    number = re.match(r"[\d.]+", written.replace(",", "."))
    if number is None or not re.fullmatch(r"[\d.,]+(\s*ppm)?", written.casefold()):
        raise refuse("error.unreadable", place, written, '"80 ppm"')
    return float(number[0])


def _weeks(written: str, place: str) -> int:
    if not written.isdecimal() or int(written) > MOST_WEEKS:
        raise refuse("error.range", place, written, "4", read="", low=0, high=MOST_WEEKS, unit="")
    return int(written)


def _truth(written: str, place: str) -> bool:
    if written.casefold() not in TRUTHS:
        raise refuse("error.choice", place, written, "yes, no", hint="")
    return TRUTHS[written.casefold()]


def _colour(written: str, place: str) -> str:
    """A hex colour in small letters, words that this program calls colours by, or unchanged."""
    said = " ".join(written.casefold().split())
    if said in STAYED:
        return UNCHANGED
    if not (re.fullmatch("#[0-9a-f]{6}", said) or plain_word(said) or said == say("word.black")):
        raise refuse("book.error.colour", place, written, "")
    return said


def _photo(written: str, place: str) -> dict[str, str]:
    path = Path(written)
    if not path.is_file():
        raise refuse("error.folder" if path.is_dir() else "error.no-file", place, path, "")
    was_read(path)
    return {"path": str(path.absolute()), "sha256": sha256_of(path)}


def sha256_of(path: Path) -> str:
    """SHA-256 of a file, in hex digits."""
    with path.open("rb") as stream:
        return file_digest(stream, "sha256").hexdigest()


def _plain(value: Any) -> Any:
    """What a TOML file holds, as JSON can hold it."""
    if isinstance(value, dict):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_plain(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return value if isinstance(value, str | int | float | bool) else str(value)
