"""``calibrate``: a pigment fitted to the maker's own jars, written as a pigment file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dosing.cli.options import Command, Json, More, more_option
from indicator.notes import say

if TYPE_CHECKING:
    from indicator.calibration import Calibration
    from indicator.colourants import Colourant


PICTURES = (".png", ".jpg", ".jpeg")


def calibrate(
    pigment: Annotated[str, typer.Argument(help=say("help.calibrate-pigment"))],
    series: Annotated[Path | None, typer.Argument(help=say("help.calibrate-series"))] = None,
    photo: Annotated[
        Path | None, typer.Option("--photo", metavar="FILE", help=say("help.photo"))
    ] = None,
    ph: Annotated[str | None, typer.Option("--ph", metavar="LIST", help=say("help.mat-ph"))] = None,
    white: Annotated[list[str] | None, typer.Option("--white", help=say("help.white"))] = None,
    jar: Annotated[list[str] | None, typer.Option("--jar", help=say("help.jar"))] = None,
    path: Annotated[str | None, typer.Option("--path", help=say("help.path"))] = None,
    diluted: Annotated[float | None, typer.Option("--diluted", help=say("help.diluted"))] = None,
    in_kitchen: Annotated[bool, typer.Option("--kitchen", help=say("help.kitchen"))] = False,
    petals: Annotated[
        str | None, typer.Option("--petals", help=say("help.calibrate-petals"))
    ] = None,
    name: Annotated[str | None, typer.Option("--name", help=say("help.pigment-name"))] = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help=say("help.pigment-output"))
    ] = None,
    more: More = False,
    as_json: Json = False,
    annotated: Annotated[
        Path | None, more_option("--annotated", metavar="FILE", help="help.annotated")
    ] = None,
    light: Annotated[str | None, more_option("--light", help="help.light")] = None,
    ph_by: Annotated[str, more_option("--ph-by", help="help.ph-by")] = "meter",
    in_foam_bath: Annotated[
        str | None, more_option("--in-foam-bath", help="help.in-foam-bath")
    ] = None,
    only_strength: Annotated[
        bool, more_option("--only-strength", help="help.only-strength")
    ] = False,
    anyway: Annotated[bool, more_option("--anyway", help="help.anyway")] = False,
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


COMMAND = Command(calibrate, "help.calibrate")


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
