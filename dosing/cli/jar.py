"""``jar``: a series of readings in, the corrected dose out; or how to do the test."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dosing.cli import options
from indicator.notes import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dosing.cli.given import Files
    from dosing.jar.asked import JarRequest

TABLES = (".csv", ".tsv", ".txt")
RECTANGLE = "X,Y,WIDTH,HEIGHT"


def jar(
    files: Annotated[
        list[Path] | None, options.argument("jar-files", metavar="[RECIPE] [SERIES]")
    ] = None,
    demo: options.Demo = None,
    step: Annotated[list[str] | None, options.usual("jar-step", metavar='"ML: READING"')] = None,
    by: Annotated[str | None, options.usual("jar-by")] = None,
    solution: Annotated[str | None, options.usual("jar-solution")] = None,
    size: Annotated[str | None, options.usual("jar-size", "--jar")] = None,
    target: options.TargetWish = None,
    instructions: Annotated[bool, options.usual("jar-instructions", "--instructions")] = False,
    more: options.More = False,
    cautions: options.Cautions = False,
    sheet: options.Sheet = None,
    as_json: options.Json = False,
    unit: Annotated[str | None, options.rare("jar-unit")] = None,
    white: Annotated[list[str] | None, options.rare("jar-white", metavar=RECTANGLE)] = None,
    liquid: Annotated[str | None, options.rare("jar-liquid", metavar=RECTANGLE)] = None,
    save: Annotated[bool, options.rare("jar-save", "--save")] = False,
    accept_ph: options.AcceptPh = None,
    accept_pouring: options.AcceptPouring = None,
    paper: options.Paper = "A4",
) -> None:
    """A jar of the bath tested, and the dose corrected."""
    from dosing.cli.given import Files, recipe_of, typed_name
    from dosing.jar.asked import JarRequest
    from dosing.recipe.quantities import InputError
    from indicator.accepted import reason

    recipe, table = _files(files or [])
    if save and (recipe is None or instructions):
        raise InputError(say("jar.error.save"), "save")
    shown = _Shown(Files(sheet=sheet, paper=paper), more, cautions, as_json)
    # What an earlier jar told would count twice if it were done again.
    inputs = recipe_of(recipe, demo).as_read.without_jar
    asked = JarRequest(
        inputs, table, tuple(step or ()), by, unit, solution, size,
        tuple(white or ()), liquid, target, reason("accept-ph", accept_ph),
        reason("accept-pouring", accept_pouring),
    )  # fmt: skip
    whose = typed_name(recipe, demo)
    if instructions:
        raise typer.Exit(_laid_out(asked, whose, shown))
    raise typer.Exit(_answered(asked, whose, shown, recipe, save=save))


@dataclass(frozen=True)
class _Shown:
    """How an answer is shown."""

    files: Files
    more: bool
    cautions: bool
    as_json: bool

    def show(
        self,
        record: object,
        template: str,
        jars: Sequence[tuple[str, str]] = (),
        *,
        bath: bool = True,
        **records: object,
    ) -> None:
        """On the terminal, and on the sheet with a row of jars, and every caution of a bath."""
        from dosing.cli.output import answer
        from dosing.words.templates import render

        def text(whole: bool = False) -> str:
            cautions = self.cautions or (whole and bath)
            return render(template, more=self.more or whole, all_cautions=cautions, **records)

        if self.files.sheet is not None:
            from dosing.pictures.ribbon import draw_jars
            from dosing.pictures.sheets import write_sheet

            head = draw_jars(jars) if jars else None
            write_sheet(text(whole=True), head, self.files.sheet, self.files.paper)
        answer(record, text, as_json=self.as_json, written=self.files.written)


def _answered(
    asked: JarRequest, whose: str, shown: _Shown, file: Path | None, *, save: bool
) -> int:
    """Show the corrected dose, and write the reading into the recipe; 3 where either fails."""
    from dosing.cli.session import NOT_MET, known_pigments
    from dosing.recipe.writing import save_alkalinity

    told = asked.answer()
    saved = None
    if file is not None and save and told.recipe_reading:
        saved = save_alkalinity(file, told.recipe_reading, known_pigments())
    shown.show(told, "jar", jar=told, recipe=whose.strip() if file else "", saved=saved)
    return 0 if told.reached and (saved or not save) else NOT_MET


def _laid_out(asked: JarRequest, whose: str, shown: _Shown) -> int:
    """Show how the test is done; 3 where it is no use or the bath is forbidden for its purpose."""
    from dosing.cli.output import printable
    from dosing.cli.session import NOT_MET
    from dosing.jar.guide import Instructions
    from dosing.plan.answer import without_activator

    guide = asked.guide()
    own = without_activator(
        asked.recipe, accept_ph=asked.accept_ph, accept_pouring=asked.accept_pouring
    )
    record = Instructions(guide, printable(asked.command(guide, whose)), own.verdicts, own.cautions)
    jars = [
        (f"{row.total:g} {guide.unit}", str(row.expected.hex))
        for row in guide.readings
        if row.expected is not None
    ]
    told: dict[str, object] = {"guide": guide, "plan": own, "whose": whose}
    # Nobody bathes in a jug: what a tub asks for is said with its plan.
    shown.show(record, "jar-guide", jars, bath=False, command=record.command, **told)
    return 0 if guide.useful and own.verdicts.of(asked.recipe.wish.purpose).allowed else NOT_MET


def _files(files: list[Path]) -> tuple[Path | None, Path | None]:
    """The recipe and the table of a series."""
    from dosing.recipe.quantities import InputError

    tables = [file for file in files if file.suffix.lower() in TABLES]
    recipes = [file for file in files if file not in tables]
    if len(tables) > 1 or len(recipes) > 1:
        raise InputError(say("jar.error.files"), "files")
    return (recipes[0] if recipes else None), (tables[0] if tables else None)


COMMAND = options.Command(jar, "help.jar-test")
