"""``book``: the record of a workshop, a command for each thing that is done with it."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType
from typing import Annotated

import typer

from dosing.cli import options

NAME, HELP = "book", "help.book"
BookFileOption = Annotated[Path | None, options.rare("book-file", "--book", metavar="FILE")]
Id = Annotated[str, options.argument("book-id", metavar="ID")]


def _books() -> ModuleType:
    # The help shall not wait for the record.
    from dosing.cli import books

    return books


def add(
    context: typer.Context,
    words: Annotated[
        list[str], options.argument("book-words", metavar="KIND [DATE] [FIELD=VALUE]")
    ],
    home: Annotated[str | None, options.usual("book-home")] = None,
    recipe: Annotated[str | None, options.usual("book-recipe")] = None,
    grams: Annotated[str | None, options.usual("book-grams")] = None,
    came: Annotated[str | None, options.usual("book-came")] = None,
    ph: Annotated[str | None, options.usual("book-ph")] = None,
    photo: Annotated[str | None, options.usual("book-photo")] = None,
    on: Annotated[str | None, options.usual("book-on")] = None,
    corrects: Annotated[str, options.usual("book-corrects")] = "",
    why: Annotated[str | None, options.usual("book-why")] = None,
    again: Annotated[bool, options.rare("book-again", "--again")] = False,
    book: BookFileOption = None,
    as_json: options.Json = False,
) -> None:
    """An entry added."""
    from dosing.workshop.book_lines import Line

    named = ("home", "recipe", "grams", "came", "ph", "photo", "on")
    given = {name: context.params[name] for name in named if context.params[name] is not None}
    _books().show_added(book, Line(words, given, corrects, why, again), as_json=as_json)


def list_entries(
    kind: Annotated[str | None, options.argument("book-kind")] = None,
    containing: Annotated[str, options.usual("book-containing")] = "",
    every: Annotated[bool, options.usual("book-all", "--all")] = False,
    book: BookFileOption = None,
    as_json: options.Json = False,
) -> None:
    """Entries that count."""
    _books().show_list(book, kind, containing, every=every, as_json=as_json)


def show(which: Id, book: BookFileOption = None, as_json: options.Json = False) -> None:
    """One entry."""
    _books().show_entry(book, which, as_json=as_json)


def due(
    within: Annotated[str, options.usual("book-within")] = "60 days",
    every: Annotated[bool, options.usual("book-all", "--all")] = False,
    book: BookFileOption = None,
    as_json: options.Json = False,
) -> None:
    """What falls due."""
    _books().show_due(book, within, every=every, as_json=as_json)


def export(
    file: Annotated[Path, options.argument("book-export-file", metavar="FILE")],
    book: BookFileOption = None,
    as_json: options.Json = False,
) -> None:
    """All entries as a file."""
    _books().export_to(book, file, as_json=as_json)


def import_entries(
    file: Annotated[Path, options.argument("book-import-file", metavar="FILE")],
    book: BookFileOption = None,
    as_json: options.Json = False,
) -> None:
    """Entries of an exported file added."""
    _books().import_from(book, file, as_json=as_json)


def check(book: BookFileOption = None, as_json: options.Json = False) -> None:
    """Whether the book is sound."""
    raise typer.Exit(_books().show_check(book, as_json=as_json))


def backup(
    file: Annotated[Path, options.argument("book-backup-file", metavar="FILE")],
    book: BookFileOption = None,
    as_json: options.Json = False,
) -> None:
    """The whole book as a second file."""
    _books().back_up(book, file, as_json=as_json)


def erase(
    which: Id,
    why: Annotated[str | None, options.usual("book-why")] = None,
    book: BookFileOption = None,
    as_json: options.Json = False,
) -> None:
    """Personal fields of an entry erased."""
    _books().erase_person(book, which, why, as_json=as_json)


def learn(
    home: Annotated[str, options.argument("book-home", metavar="HOME")],
    save: Annotated[str | None, options.usual("book-save", metavar="NAME")] = None,
    book: BookFileOption = None,
    as_json: options.Json = False,
) -> None:
    """Pours of a home that teach."""
    raise typer.Exit(_books().show_lesson(book, home, save, as_json=as_json))


COMMANDS = (
    options.Command(add, "help.book-add"),
    options.Command(list_entries, "help.book-list", "list"),
    options.Command(show, "help.book-show"),
    options.Command(due, "help.book-due"),
    options.Command(learn, "help.book-learn"),
    options.Command(export, "help.book-export"),
    options.Command(import_entries, "help.book-import", "import"),
    options.Command(check, "help.book-check"),
    options.Command(backup, "help.book-backup"),
    options.Command(erase, "help.book-erase"),
)
