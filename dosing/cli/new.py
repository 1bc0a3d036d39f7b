"""``new``: what shall happen, for whom, with what; a recipe file and its plan."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from dosing.cli import options
from indicator.notes import say


def new(
    file: Annotated[Path, options.argument("new-file")] = Path("my-bath.toml"),
    as_json: options.Json = False,
) -> None:
    """Six questions, the best effect that can be done, a recipe and its plan."""
    import sys

    from dosing.cli.asking import interview
    from dosing.cli.given import typed_name
    from dosing.cli.plans import show_plan
    from dosing.cli.session import check_free, known_pigments
    from dosing.recipe import parse_recipe
    from dosing.recipe.quantities import InputError
    from dosing.words.plans import PlanWish
    from indicator.files import whole_file

    if file.is_dir() or not file.parent.is_dir():
        raise InputError(say("new.folder", {"file": str(file)}), "file", file)
    check_free(file, "file")
    # Beside a JSON document the questions stand on the error stream.
    text = interview(file, sys.stderr if as_json else sys.stdout)
    inputs = parse_recipe(text, file, known_pigments())
    # One may have come while the questions were answered.
    check_free(file, "file")
    with whole_file(file) as draft:
        draft.write_text(text, encoding="utf-8")
    raise typer.Exit(show_plan(inputs, PlanWish(whose=typed_name(file, None)), as_json=as_json))


COMMAND = options.Command(new, "help.new")
