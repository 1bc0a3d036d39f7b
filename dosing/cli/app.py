"""Commands and their options, and what becomes of errors: one sentence and an exit code."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Annotated

import typer

from indicator.notes import say

BAD_INPUT = 2
INTERRUPTED = 130

app = typer.Typer(
    name="huedose",
    help=say("help.huedose"),
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog=say("help.exit-codes"),
)

Json = Annotated[bool, typer.Option("--json", help=say("help.json"))]
Picture = Annotated[
    Path | None, typer.Option("--picture", metavar="FILE", help=say("help.picture"))
]
AcceptPh = Annotated[
    str | None, typer.Option("--accept-ph", metavar="WHY", help=say("help.accept-ph"))
]
AcceptPouring = Annotated[
    str | None, typer.Option("--accept-pouring", metavar="WHY", help=say("help.accept-pouring"))
]
Light = Annotated[str | None, typer.Option("--light", help=say("help.light"))]


def _reading(name: str) -> object:
    return typer.Option(f"--{name}", help=say(f"help.water-{name}"))


@app.callback(invoke_without_command=True)
def _top(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help=say("help.version"))] = False,
) -> None:
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


@app.command(help=say("help.new"))
def new(
    file: Annotated[Path, typer.Argument(help=say("help.new-file"))] = Path("my-bath.toml"),
    overwrite: Annotated[bool, typer.Option("--overwrite", help=say("help.overwrite"))] = False,
    as_json: Json = False,
) -> None:
    """Six questions, a recipe and its plan."""
    from dosing.cli import asking

    raise typer.Exit(asking.run_new(file, overwrite=overwrite, as_json=as_json))


@app.command(help=say("help.plan"))
def plan(
    recipe: Annotated[Path | None, typer.Argument(help=say("help.recipe-argument"))] = None,
    target: Annotated[str | None, typer.Option("--target", help=say("help.target"))] = None,
    demo: Annotated[str | None, typer.Option("--demo", help=say("help.demo"))] = None,
    accept_ph: AcceptPh = None,
    accept_pouring: AcceptPouring = None,
    homes: Annotated[bool, typer.Option("--homes", help=say("help.homes"))] = False,
    picture: Picture = None,
    as_json: Json = False,
) -> None:
    """Dose, colours and cautions for a recipe."""
    from dosing.cli import planning

    code = planning.run_plan(
        recipe,
        demo,
        target=target,
        accept_ph=accept_ph,
        accept_pouring=accept_pouring,
        homes=homes,
        picture=picture,
        as_json=as_json,
    )
    raise typer.Exit(code)


@app.command(help=say("help.preview"))
def preview(
    dose: Annotated[str, typer.Option("--dose", help=say("help.dose"))],
    recipe: Annotated[Path | None, typer.Argument(help=say("help.recipe-argument"))] = None,
    demo: Annotated[str | None, typer.Option("--demo", help=say("help.demo"))] = None,
    accept_ph: AcceptPh = None,
    accept_pouring: AcceptPouring = None,
    picture: Picture = None,
    as_json: Json = False,
) -> None:
    """What a given dose does."""
    from dosing.cli import planning

    code = planning.run_preview(
        recipe,
        demo,
        dose,
        accept_ph=accept_ph,
        accept_pouring=accept_pouring,
        picture=picture,
        as_json=as_json,
    )
    raise typer.Exit(code)


@app.command(help=say("help.brew"))
def brew(
    recipe: Annotated[Path | None, typer.Argument(help=say("help.recipe-argument"))] = None,
    demo: Annotated[str | None, typer.Option("--demo", help=say("help.demo"))] = None,
    bottle: Annotated[str, typer.Option("--bottle", help=say("help.bottle"))] = "250 mL",
    baths: Annotated[int, typer.Option("--baths", help=say("help.baths"))] = 1,
    as_json: Json = False,
) -> None:
    """How much colour a tub takes."""
    from dosing.cli import brews

    brews.run_brew(recipe, demo, bottle=bottle, baths=baths, as_json=as_json)


@app.command(help=say("help.keep"))
def keep(
    recipe: Annotated[Path | None, typer.Argument(help=say("help.recipe-argument"))] = None,
    time: Annotated[str, typer.Option("--time", help=say("help.time"))] = "6 weeks",
    temperature: Annotated[str, typer.Option("--temperature", help=say("help.shelf"))] = "22 C",
    ph: Annotated[str | None, typer.Option("--ph", help=say("help.bottle-ph"))] = None,
    demo: Annotated[str | None, typer.Option("--demo", help=say("help.demo"))] = None,
    as_json: Json = False,
) -> None:
    """What is left of a bottle's colour."""
    from dosing.cli import keeps

    keeps.run_keep(recipe, demo, time=time, temperature=temperature, ph=ph, as_json=as_json)


@app.command(help=say("help.pigments"))
def pigments(
    view: Annotated[str, typer.Option("--view", help=say("help.view"))] = "jar",
    depth: Annotated[str | None, typer.Option("--depth", help=say("help.depth"))] = None,
    light: Light = None,
    as_json: Json = False,
) -> None:
    """Every pigment and dye with its colours."""
    from dosing.cli import colours

    colours.run_pigments(view_name=view, depth=depth, light=light or "D65", as_json=as_json)


@app.command(help=say("help.swatch"))
def swatch(
    pigment: Annotated[str, typer.Argument(help=say("help.pigment"))],
    ph: Annotated[str, typer.Option("--ph", help=say("help.ph-list"))] = "2,3,4,5,6,7,8,9,10",
    strength: Annotated[str | None, typer.Option("--strength", help=say("help.strength"))] = None,
    view: Annotated[str, typer.Option("--view", help=say("help.view"))] = "jar",
    depth: Annotated[str | None, typer.Option("--depth", help=say("help.depth"))] = None,
    light: Light = None,
    picture: Picture = None,
    as_json: Json = False,
) -> None:
    """Colours of a pigment along the pH."""
    from dosing.cli import swatches

    swatches.run_swatch(
        pigment,
        ph,
        strength=strength,
        view_name=view,
        depth=depth,
        light=light or "D65",
        picture=picture,
        as_json=as_json,
    )


@app.command(help=say("help.water"))
def water(
    alkalinity: Annotated[str | None, _reading("alkalinity")] = None,
    hardness: Annotated[str | None, _reading("hardness")] = None,
    ph: Annotated[str | None, _reading("ph")] = None,
    calcium: Annotated[str | None, _reading("calcium")] = None,
    magnesium: Annotated[str | None, _reading("magnesium")] = None,
    sodium: Annotated[str | None, _reading("sodium")] = None,
    potassium: Annotated[str | None, _reading("potassium")] = None,
    chloride: Annotated[str | None, _reading("chloride")] = None,
    sulfate: Annotated[str | None, _reading("sulfate")] = None,
    nitrate: Annotated[str | None, _reading("nitrate")] = None,
    temperature: Annotated[str | None, _reading("temperature")] = None,
    like: Annotated[str | None, _reading("like")] = None,
    as_json: Json = False,
) -> None:
    """What a tap water holds and what it takes to turn it."""
    from dosing.cli import waters

    readings = {
        "alkalinity": alkalinity,
        "hardness": hardness,
        "ph": ph,
        "calcium": calcium,
        "magnesium": magnesium,
        "sodium": sodium,
        "potassium": potassium,
        "chloride": chloride,
        "sulfate": sulfate,
        "nitrate": nitrate,
    }
    waters.run_water(readings, temperature=temperature, like=like, as_json=as_json)


@app.command(help=say("help.equilibrium"))
def equilibrium(
    cases: Annotated[Path | None, typer.Argument(help=say("help.cases"))] = None,
    output: Annotated[Path | None, typer.Option("-o", "--output", help=say("help.output"))] = None,
    open_air: Annotated[bool, typer.Option("--open-air", help=say("help.open-air"))] = False,
    pco2: Annotated[float | None, typer.Option("--pco2", help=say("help.pco2"))] = None,
    species: Annotated[bool, typer.Option("--species", help=say("help.species"))] = False,
    list_species: Annotated[
        bool, typer.Option("--list-species", help=say("help.list-species"))
    ] = False,
    as_json: Json = False,
) -> None:
    """PH and species of any number of solutions."""
    from dosing.cli import solutions

    if list_species:
        solutions.run_list_species(as_json=as_json)
        return
    solutions.run_equilibrium(
        cases, output, open_air=open_air, pco2_ppm=pco2, species=species, as_json=as_json
    )


@app.command(help=say("help.recipe"))
def recipe(
    blank: Annotated[bool, typer.Option("--blank", help=say("help.blank"))] = False,
    schema: Annotated[bool, typer.Option("--schema", help=say("help.schema"))] = False,
    demo: Annotated[str | None, typer.Option("--demo", help=say("help.demo-text"))] = None,
) -> None:
    """A recipe to fill in, its schema, or one of the demos."""
    from dosing.cli import planning

    planning.run_recipe(blank=blank, schema=schema, demo=demo)


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
        result = app(args=arguments, prog_name="huedose", standalone_mode=False)
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
        return _refused(str(shown()))
    return result if isinstance(result, int) else 0


def _sentence(error: Exception) -> str:
    if isinstance(error, OSError):
        file = say("cli.the-output") if error.filename is None else repr(str(error.filename))
        return say("cli.file", {"file": file, "reason": str(error.strerror or error)})
    return str(error)


def _refused(message: str) -> int:
    from dosing.cli.output import to_error

    first = " ".join(message.split())
    to_error(first if first.endswith((".", "?", "!")) else f"{first}.")
    return BAD_INPUT
