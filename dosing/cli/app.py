"""The top of the command line, and what becomes of errors: one sentence and an exit code."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from itertools import chain, islice
from pathlib import Path
from typing import Annotated, Any, get_type_hints

import typer

from dosing.cli import (
    adjust,
    batch,
    book,
    brew,
    calibrate,
    card,
    colours,
    design,
    equilibrium,
    jar,
    mat,
    new,
    papers,
    plan,
    product,
    recipe,
    sachet,
    soak,
    trouble,
    water,
)
from dosing.cli.options import Command
from dosing.cli.session import INTERRUPTED, begin
from indicator.files import InputFileError, keeping_what_is_read
from indicator.notes import say

BAD_INPUT = 2
DATA_DIR = "--data-dir"
OVERWRITE = "--overwrite"
HELP_ALL = "--help-all"

_OVERLONG = re.compile(
    r"""(?<!\w)(?:'(?:[^'\\]|\\.){200,}'|"(?:[^"\\]|\\.){200,}")(?!\w)|\S{200,}"""
)
"""What was written, in quotes or in one word, longer than anyone reads."""

PANELS = {
    "bath": (new, plan, design, soak, jar),
    "making": (brew, product, batch, papers, sachet, card, trouble),
}
"""Commands in the order of the work, by what they are about."""

LAB = (colours, mat, calibrate, adjust, water, recipe, equilibrium)
"""Commands of the group ``lab``, whose name may be left out."""

GROUPS = (book,)
"""Commands that have commands of their own; they stand in the panel ``making``."""

app = typer.Typer(
    name="huedose",
    help=say("help.huedose"),
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog=say("help.exit-codes"),
)


@app.callback(invoke_without_command=True)
def _top(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help=say("help.version"))] = False,
    data_dir: Annotated[
        Path | None, typer.Option(DATA_DIR, metavar="DIR", help=say("help.data-dir"))
    ] = None,
    overwrite: Annotated[bool, typer.Option(OVERWRITE, help=say("help.overwrite"))] = False,
) -> None:
    begin(data_dir, overwrite=overwrite)
    if version:
        typer.echo(f"huedose {_version()}")
        raise typer.Exit
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("huedose")
    except PackageNotFoundError:
        return say("cli.not-installed")


def _list_commands() -> None:
    for about, rooms in PANELS.items():
        for room in rooms:
            _list(app, room.COMMAND, panel=say(f"help.about-{about}"))
    for room in GROUPS:
        group = typer.Typer(help=say(room.HELP), no_args_is_help=True)
        for command in room.COMMANDS:
            _list(group, command)
        app.add_typer(group, name=room.NAME, rich_help_panel=say("help.about-making"))
    lab = typer.Typer(help=say("help.lab"), no_args_is_help=True)
    for room in LAB:
        _list(lab, room.COMMAND)
        _list(app, room.COMMAND, hidden=True)
    app.add_typer(lab, name="lab", rich_help_panel=say("help.about-lab"))


def _list(
    group: typer.Typer, command: Command, *, panel: str | None = None, hidden: bool = False
) -> None:
    listed = group.command(
        command.name,
        help=say(command.help),
        rich_help_panel=panel,
        hidden=hidden,
        epilog=say("help.help-all") if _has_hidden(command.run) else None,
    )
    listed(command.run)


def _has_hidden(run: Callable[..., None]) -> bool:
    """Whether only the whole help lists all of its options."""
    marks = (
        mark
        for hint in get_type_hints(run, include_extras=True).values()
        for mark in getattr(hint, "__metadata__", ())
    )
    return any(getattr(mark, "hidden", False) for mark in marks)


_list_commands()


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : sequence of str, optional
        Those of the process if not given.

    Returns
    -------
    int
        0 done; 2 something in the input cannot be used; 3 the wish cannot be met or a caution
        forbids it; 130 interrupted.
    """
    from dosing.cli.streams import Patient

    with redirect_stdout(Patient(sys.stdout)), redirect_stderr(Patient(sys.stderr)):
        try:
            return _run(arguments)
        finally:
            sys.stdout.flush()
            sys.stderr.flush()


def _run(arguments: Sequence[str] | None) -> int:
    try:
        given = sys.argv[1:] if arguments is None else arguments
        with keeping_what_is_read():
            result = _command(given)(
                args=_common_first(given), prog_name="huedose", standalone_mode=False
            )
    except (KeyboardInterrupt, typer.Abort):
        return INTERRUPTED
    except ModuleNotFoundError as error:
        return _refused(say("cli.missing-module", {"module": str(error.name)}))
    except (ValueError, OSError) as error:
        return _refused(_sentence(error))
    except Exception as error:
        shown = getattr(error, "format_message", None)
        if shown is None:
            raise
        return _refused(_of_option(error) or str(shown()))
    return result if isinstance(result, int) else 0


def _of_option(error: Any) -> str:
    """Sentence on an option's value that is no number; else nothing."""
    found = getattr(error.__cause__, "errors", None)
    option = getattr(error, "param", None)
    if found is None or option is None:
        return ""
    first = found()[0]
    kind = "whole" if str(first["type"]).startswith("int") else "number"
    values = {"option": option.opts[0].lstrip("-"), "value": repr(first["input"])}
    return say(f"cli.option-{kind}", values)


def _command(arguments: Sequence[str]) -> Any:
    """The command line, with every option in its help where the whole help is asked for."""
    top: Any = typer.main.get_command(app)
    if HELP_ALL in arguments:
        groups = (getattr(each, "commands", {}) for each in top.commands.values())
        for command in chain(top.commands.values(), *(group.values() for group in groups)):
            command.epilog = None
            for option in command.params:
                option.hidden = False
    return top


def _common_first(arguments: Sequence[str]) -> list[str]:
    """The arguments with those in front that hold for every command."""
    first: list[str] = []
    rest: list[str] = []
    words = iter(arguments)
    for word in words:
        if word == "--":
            rest.append(word)
            break
        if word == DATA_DIR:
            folder = list(islice(words, 1))
            (first if folder else rest).extend([word, *folder])
        elif word == HELP_ALL:
            rest.append("--help")
        elif word == OVERWRITE or word.startswith(f"{DATA_DIR}="):
            first.append(word)
        else:
            rest.append(word)
    return [*first, *rest, *words]


def _sentence(error: Exception) -> str:
    if isinstance(error, InputFileError):
        return say("cli.is-read", {"file": str(error.filename)})
    if isinstance(error, OSError):
        file = say("cli.the-output") if error.filename is None else repr(str(error.filename))
        return say("cli.file", {"file": file, "reason": str(error.strerror or error)})
    return str(error)


def _shortened(written: re.Match[str]) -> str:
    """Its beginning and its end, which of a path tells most."""
    return f"{written[0][:60]}...{written[0][-60:]}"


def _refused(message: str) -> int:
    from dosing.cli.output import to_error

    first = _OVERLONG.sub(_shortened, " ".join(message.split()))
    to_error(first if first.endswith((".", "?", "!")) else f"{first}.")
    return BAD_INPUT
