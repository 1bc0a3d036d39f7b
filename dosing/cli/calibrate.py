"""``calibrate``: a pigment fitted to the maker's own jars, written as a pigment file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dosing.cli import options
from indicator.notes import say

if TYPE_CHECKING:
    from indicator.calibration import Calibration
    from indicator.colourants import Colourant


PICTURES = (".png", ".jpg", ".jpeg")


def calibrate(
    pigment: Annotated[str, options.argument("calibrate-pigment")],
    series: Annotated[Path | None, options.argument("calibrate-series")] = None,
    photo: Annotated[Path | None, options.usual("photo", metavar="FILE")] = None,
    ph: Annotated[str | None, options.usual("mat-ph", metavar="LIST")] = None,
    white: Annotated[list[str] | None, options.usual("white")] = None,
    jar: Annotated[list[str] | None, options.usual("jar")] = None,
    path: Annotated[str | None, options.usual("path")] = None,
    diluted: Annotated[float | None, options.usual("diluted")] = None,
    in_kitchen: Annotated[bool, options.usual("kitchen", "--kitchen")] = False,
    petals: Annotated[str | None, options.usual("calibrate-petals")] = None,
    name: Annotated[str | None, options.usual("pigment-name")] = None,
    output: Annotated[Path | None, options.usual("pigment-output", "-o", "--output")] = None,
    more: options.More = False,
    as_json: options.Json = False,
    annotated: Annotated[Path | None, options.rare("annotated", metavar="FILE")] = None,
    light: Annotated[str | None, options.rare("light")] = None,
    ph_by: Annotated[str, options.rare("ph-by")] = "meter",
    in_foam_bath: Annotated[str | None, options.rare("in-foam-bath")] = None,
    only_strength: Annotated[bool, options.rare("only-strength", "--only-strength")] = False,
    anyway: Annotated[bool, options.rare("anyway", "--anyway")] = False,
) -> None:
    """A pigment fitted to the maker's own jars."""
    from dataclasses import replace

    from dosing.bottle.kitchen import kitchen_solutions
    from dosing.cli.given import check_picture
    from dosing.cli.output import answer
    from dosing.cli.session import NOT_MET, chosen_folder, known_pigments
    from dosing.recipe.jar_readings import JarReadings, active_matter, brewed_percent
    from dosing.recipe.quantities import InputError
    from dosing.words.calibration import CalibrationDocument
    from dosing.words.templates import render
    from indicator import calibration
    from indicator.own import pigment_folder
    from indicator.pigment_file import write_pigment_file
    from indicator.pigments import SHIPPED

    check_picture(annotated, PICTURES, "annotated")
    which = known_pigments().find(pigment)
    kitchen = kitchen_solutions(which) if in_kitchen else None
    usual_diluted = 1.0 if kitchen is None else kitchen.thinned
    jars = JarReadings(
        table=series, photo=photo, white=white or (), jars=jar or (), path=path, light=light,
        diluted=usual_diluted if diluted is None else diluted, ph_by=ph_by, kitchen=kitchen,
        ph=ph, annotated=annotated,
    )  # fmt: skip
    read = jars.series()
    percent = None if petals is None else brewed_percent(petals, which)
    surfactants = None if in_foam_bath is None else active_matter(in_foam_bath)
    file = _file(name, output, which)

    def fitted(start: Colourant) -> Calibration:
        return calibration.calibrate(
            start,
            read,
            petals_percent=percent if start is which else None,
            only_strength=only_strength or which.kind == "dye",
            surfactants_g_l=surfactants,
        )

    fit = calibration.with_nearer(fitted(which), SHIPPED.every, fitted)
    refused = fit.doubtful and not anyway
    # A strength alone belongs to this one jar, unless it is known what was brewed.
    worth_a_file = len(fit.numbers) > 1 or percent is not None
    if not worth_a_file and (name is not None or output is not None):
        raise InputError(say("calibrate.no-file-to-name"), "name", name)
    written = file if worth_a_file and not refused else None
    if written is not None:
        own = replace(fit.pigment, name=file.stem, label=file.stem.replace("-", " "), aliases=())
        write_pigment_file(own, file, fit.provenance() | {"petals": petals})
    usual = chosen_folder() is None and file.parent == pigment_folder()
    document = CalibrationDocument(
        fit, refused, written, usual, jars.shown if read.on_mat else None
    )
    answer(document, lambda: render("calibrate", answer=document, more=more), as_json=as_json)
    raise typer.Exit(NOT_MET if refused else 0)


COMMAND = options.Command(calibrate, "help.calibrate")


def _file(name: str | None, output: Path | None, which: Colourant) -> Path:
    """Where the pigment is written, and by its name there what it is called."""
    from dosing.cli.session import check_free, chosen_folder
    from dosing.recipe.quantities import InputError
    from indicator.own import pigment_folder
    from indicator.pigment_file import NAME
    from indicator.pigments import name_free

    usual = f"own-{which.family}" if output is None else output.stem
    stem = usual if name is None else name
    file = output or pigment_folder(chosen_folder()) / f"{stem}.toml"
    told = {"value": stem, "file": str(file)}
    wrong = (
        ("name", "calibrate.name", not NAME.fullmatch(stem)),
        ("output", "calibrate.ending", file.suffix != ".toml" or file.is_dir()),
        ("name", "calibrate.two-names", file.stem != stem),
        ("output", "cli.output-folder", output is not None and not file.parent.is_dir()),
        ("name", "calibrate.name-taken", not name_free(stem, file, chosen_folder())),
    )
    for field, code, is_wrong in wrong:
        if is_wrong:
            raise InputError(say(code, told), field, told["value"])
    check_free(file, "output" if output else "name")
    return file
