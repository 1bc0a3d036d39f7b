"""``book``: the record of a workshop, a command for each thing that is done with it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli.options import Command, Json, more_option
from indicator.notes import say

NAME, HELP = "book", "help.book"
BookFileOption = Annotated[
    Path | None, more_option("--book", metavar="FILE", help="help.book-file")
]
Id = Annotated[str, typer.Argument(metavar="ID", help=say("help.book-id"))]


def _field(name: str) -> object:
    return typer.Option(f"--{name}", help=say(f"help.book-{name}"))


def add(
    context: typer.Context,
    words: Annotated[
        list[str], typer.Argument(metavar="KIND [DATE] [FIELD=VALUE]", help=say("help.book-words"))
    ],
    home: Annotated[str | None, _field("home")] = None,
    recipe: Annotated[str | None, _field("recipe")] = None,
    grams: Annotated[str | None, _field("grams")] = None,
    came: Annotated[str | None, _field("came")] = None,
    ph: Annotated[str | None, _field("ph")] = None,
    photo: Annotated[str | None, _field("photo")] = None,
    on: Annotated[str | None, _field("on")] = None,
    corrects: Annotated[str, _field("corrects")] = "",
    why: Annotated[str | None, _field("why")] = None,
    again: Annotated[bool, more_option("--again", help="help.book-again")] = False,
    book: BookFileOption = None,
    as_json: Json = False,
) -> None:
    """An entry added."""
    from dosing.cli.books import show_added
    from dosing.workshop.book_lines import Line

    named = ("home", "recipe", "grams", "came", "ph", "photo", "on")
    options = {name: context.params[name] for name in named if context.params[name] is not None}
    show_added(book, Line(words, options, corrects, why, again), as_json=as_json)


def list_entries(
    kind: Annotated[str | None, typer.Argument(help=say("help.book-kind"))] = None,
    containing: Annotated[str, _field("containing")] = "",
    every: Annotated[bool, typer.Option("--all", help=say("help.book-all"))] = False,
    book: BookFileOption = None,
    as_json: Json = False,
) -> None:
    """Entries that count."""
    from dosing.cli.books import show_list

    show_list(book, kind, containing, every=every, as_json=as_json)


def show(which: Id, book: BookFileOption = None, as_json: Json = False) -> None:
    """One entry."""
    from dosing.cli.books import show_entry

    show_entry(book, which, as_json=as_json)


def due(
    within: Annotated[str, _field("within")] = "60 days",
    book: BookFileOption = None,
    as_json: Json = False,
) -> None:
    """What falls due."""
    from dosing.cli.books import show_due

    show_due(book, within, as_json=as_json)


def export(
    file: Annotated[Path, typer.Argument(metavar="FILE", help=say("help.book-export-file"))],
    book: BookFileOption = None,
    as_json: Json = False,
) -> None:
    """All entries as a file."""
    from dosing.cli.books import export_to

    export_to(book, file, as_json=as_json)


def import_entries(
    file: Annotated[Path, typer.Argument(metavar="FILE", help=say("help.book-import-file"))],
    book: BookFileOption = None,
    as_json: Json = False,
) -> None:
    """Entries of an exported file added."""
    from dosing.cli.books import import_from

    import_from(book, file, as_json=as_json)


def check(book: BookFileOption = None, as_json: Json = False) -> None:
    """Whether the book is sound."""
    from dosing.cli.books import show_check

    raise typer.Exit(show_check(book, as_json=as_json))


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help=say("help.book-backup-file"))],
    book: BookFileOption = None,
    as_json: Json = False,
) -> None:
    """The whole book as a second file."""
    from dosing.cli.books import back_up

    back_up(book, file, as_json=as_json)


def erase(
    which: Id,
    why: Annotated[str | None, _field("why")] = None,
    book: BookFileOption = None,
    as_json: Json = False,
) -> None:
    """Personal fields of an entry erased."""
    from dosing.cli.books import erase_person

    erase_person(book, which, why, as_json=as_json)


def learn(
    home: Annotated[str, typer.Argument(metavar="HOME", help=say("help.book-home"))],
    save: Annotated[
        str | None, typer.Option("--save", metavar="NAME", help=say("help.book-save"))
    ] = None,
    book: BookFileOption = None,
    as_json: Json = False,
) -> None:
    """Pours of a home that teach."""
    from dosing.cli.books import show_lesson

    raise typer.Exit(show_lesson(book, home, save, as_json=as_json))


COMMANDS = (
    Command(add, "help.book-add"),
    Command(list_entries, "help.book-list", "list"),
    Command(show, "help.book-show"),
    Command(due, "help.book-due"),
    Command(learn, "help.book-learn"),
    Command(export, "help.book-export"),
    Command(import_entries, "help.book-import", "import"),
    Command(check, "help.book-check"),
    Command(backup, "help.book-backup"),
    Command(erase, "help.book-erase"),
)
