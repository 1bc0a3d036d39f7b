"""Commands and their options, and what becomes of errors: one sentence and an exit code."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Annotated

import typer

from indicator.notes import say
from indicator.own import choose_folder

BAD_INPUT = 2
INTERRUPTED = 130
DATA_DIR = "--data-dir"

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
Observer = Annotated[str | None, typer.Option("--observer", help=say("help.observer"))]


def _reading(name: str) -> object:
    return typer.Option(f"--{name}", help=say(f"help.water-{name}"))


@app.callback(invoke_without_command=True)
def _top(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help=say("help.version"))] = False,
    data_dir: Annotated[
        Path | None, typer.Option(DATA_DIR, metavar="DIR", help=say("help.data-dir"))
    ] = None,
) -> None:
    choose_folder(data_dir)
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


@app.command(help=say("help.design"))
def design(
    start: Annotated[str, typer.Argument(help=say("help.design-start"))],
    end: Annotated[str, typer.Argument(help=say("help.design-end"))],
    recipe: Annotated[
        Path | None, typer.Option("--recipe", metavar="FILE", help=say("help.design-recipe"))
    ] = None,
    demo: Annotated[str | None, typer.Option("--demo", help=say("help.demo"))] = None,
    shelf: Annotated[str | None, typer.Option("--shelf", help=say("help.shelf-of"))] = None,
    bathers: Annotated[
        str | None, typer.Option("--bathers", help=say("help.design-bathers"))
    ] = None,
    view: Annotated[str | None, typer.Option("--view", help=say("help.design-view"))] = None,
    count: Annotated[int, typer.Option("--count", help=say("help.design-count"))] = 5,
    seed: Annotated[int, typer.Option("--seed", help=say("help.seed"))] = 12,
    price: Annotated[list[str] | None, typer.Option("--price", help=say("help.price"))] = None,
    picture: Picture = None,
    write: Annotated[
        Path | None, typer.Option("--write", metavar="FILE", help=say("help.write-design"))
    ] = None,
    pick: Annotated[int | None, typer.Option("--pick", help=say("help.pick"))] = None,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help=say("help.design-overwrite"))
    ] = False,
    as_json: Json = False,
) -> None:
    """From a start colour to an end colour."""
    from dosing.cli import designs

    asked = designs.Asked(
        start=start,
        end=end,
        recipe=recipe,
        demo=demo,
        shelf=shelf,
        bathers=bathers,
        view=view,
        count=count,
        seed=seed,
        prices=price or (),
        picture=picture,
        write=write,
        pick=pick,
        overwrite=overwrite,
    )
    raise typer.Exit(designs.run_design(asked, as_json=as_json))


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


@app.command(help=say("help.steep"))
def steep(
    pigment: Annotated[str, typer.Argument(help=say("help.steep-pigment"))] = "butterfly-pea",
    petals: Annotated[str | None, typer.Option("--petals", help=say("help.steep-petals"))] = None,
    temperature: Annotated[
        str | None, typer.Option("--temperature", help=say("help.steep-temperature"))
    ] = None,
    time: Annotated[str | None, typer.Option("--time", help=say("help.steep-time"))] = None,
    makes: Annotated[str, typer.Option("--makes", help=say("help.makes"))] = "500 g",
    no_lid: Annotated[bool, typer.Option("--open", help=say("help.no-lid"))] = False,
    pressed: Annotated[bool, typer.Option("--pressed", help=say("help.pressed"))] = False,
    measured: Annotated[str | None, typer.Option("--measured", help=say("help.measured"))] = None,
    as_json: Json = False,
) -> None:
    """Petals, water, warmth and minutes for an infusion."""
    from dosing.cli import steeps

    steeps.run_steep(
        pigment,
        petals=petals,
        temperature=temperature,
        time=time,
        makes=makes,
        lidded=not no_lid,
        pressed=pressed,
        measured=measured,
        as_json=as_json,
    )


@app.command(help=say("help.keep"))
def keep(
    recipe: Annotated[Path | None, typer.Argument(help=say("help.recipe-argument"))] = None,
    time: Annotated[str, typer.Option("--time", help=say("help.time"))] = "6 weeks",
    temperature: Annotated[str, typer.Option("--temperature", help=say("help.shelf"))] = "22 C",
    ph: Annotated[str | None, typer.Option("--ph", help=say("help.bottle-ph"))] = None,
    soak: Annotated[str, typer.Option("--soak", help=say("help.soak"))] = "60 min",
    demo: Annotated[str | None, typer.Option("--demo", help=say("help.demo"))] = None,
    as_json: Json = False,
) -> None:
    """What is left of a bottle's colour."""
    from dosing.cli import keeps

    keeps.run_keep(
        recipe, demo, time=time, temperature=temperature, ph=ph, soak=soak, as_json=as_json
    )


@app.command(help=say("help.pigments"))
def pigments(
    view: Annotated[str, typer.Option("--view", help=say("help.view"))] = "jar",
    depth: Annotated[str | None, typer.Option("--depth", help=say("help.depth"))] = None,
    light: Light = None,
    observer: Observer = None,
    as_json: Json = False,
) -> None:
    """Every pigment and dye with its colours."""
    from dosing.cli import colours

    colours.run_pigments(
        view_name=view, depth=depth, light=light, observer=observer, as_json=as_json
    )


@app.command(help=say("help.swatch"))
def swatch(
    pigments: Annotated[list[str], typer.Argument(help=say("help.liquids"))],
    ph: Annotated[str, typer.Option("--ph", help=say("help.ph-list"))] = "2,3,4,5,6,7,8,9,10",
    strength: Annotated[str | None, typer.Option("--strength", help=say("help.strength"))] = None,
    view: Annotated[list[str] | None, typer.Option("--view", help=say("help.views"))] = None,
    depth: Annotated[str | None, typer.Option("--depth", help=say("help.depth"))] = None,
    light: Light = None,
    observer: Observer = None,
    picture: Picture = None,
    as_json: Json = False,
) -> None:
    """Colours of pigments along the pH."""
    from dosing.cli import swatches

    swatches.run_swatch(
        pigments,
        ph,
        strength=strength,
        view_names=view or ["jar"],
        depth=depth,
        light=light,
        observer=observer,
        picture=picture,
        as_json=as_json,
    )


@app.command(help=say("help.spectrum"))
def spectrum(
    pigment: Annotated[str, typer.Argument(help=say("help.liquid"), metavar="PIGMENT[+DYE...]")],
    ph: Annotated[str, typer.Option("--ph", help=say("help.ph-list"))] = "3,5,7,9",
    strength: Annotated[str | None, typer.Option("--strength", help=say("help.strength"))] = None,
    view: Annotated[str, typer.Option("--view", help=say("help.view"))] = "jar",
    depth: Annotated[str | None, typer.Option("--depth", help=say("help.depth"))] = None,
    light: Light = None,
    observer: Observer = None,
    picture: Picture = None,
    as_json: Json = False,
) -> None:
    """Absorbance spectrum of a pigment or mixture."""
    from dosing.cli import spectra

    spectra.run_spectrum(
        pigment,
        ph,
        strength=strength,
        view_name=view,
        depth=depth,
        light=light,
        observer=observer,
        picture=picture,
        as_json=as_json,
    )


@app.command(help=say("help.calibrate"))
def calibrate(
    pigment: Annotated[str, typer.Argument(help=say("help.calibrate-pigment"))],
    series: Annotated[Path | None, typer.Argument(help=say("help.calibrate-series"))] = None,
    photo: Annotated[
        Path | None, typer.Option("--photo", metavar="FILE", help=say("help.photo"))
    ] = None,
    white: Annotated[list[str] | None, typer.Option("--white", help=say("help.white"))] = None,
    jar: Annotated[list[str] | None, typer.Option("--jar", help=say("help.jar"))] = None,
    path: Annotated[str | None, typer.Option("--path", help=say("help.path"))] = None,
    light: Light = None,
    diluted: Annotated[float, typer.Option("--diluted", help=say("help.diluted"))] = 1.0,
    petals: Annotated[
        str | None, typer.Option("--petals", help=say("help.calibrate-petals"))
    ] = None,
    ph_by: Annotated[str, typer.Option("--ph-by", help=say("help.ph-by"))] = "meter",
    in_foam_bath: Annotated[
        str | None, typer.Option("--in-foam-bath", help=say("help.in-foam-bath"))
    ] = None,
    only_strength: Annotated[
        bool, typer.Option("--only-strength", help=say("help.only-strength"))
    ] = False,
    name: Annotated[str | None, typer.Option("--name", help=say("help.pigment-name"))] = None,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", help=say("help.pigment-output"))
    ] = None,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help=say("help.pigment-overwrite"))
    ] = False,
    anyway: Annotated[bool, typer.Option("--anyway", help=say("help.anyway"))] = False,
    as_json: Json = False,
) -> None:
    """A pigment fitted to the maker's own jars."""
    from dosing.cli import calibrates

    asked = calibrates.Asked(
        pigment=pigment,
        series=series,
        photo=photo,
        white=white or (),
        jars=jar or (),
        path=path,
        light=light or "D65",
        diluted=diluted,
        petals=petals,
        ph_by=ph_by,
        in_foam_bath=in_foam_bath,
        only_strength=only_strength,
        name=name,
        output=output,
        overwrite=overwrite,
        anyway=anyway,
    )
    raise typer.Exit(calibrates.run_calibrate(asked, as_json=as_json))


@app.command(help=say("help.jar-test"))
def jar(
    files: Annotated[
        list[Path] | None, typer.Argument(help=say("help.jar-files"), metavar="[RECIPE] [SERIES]")
    ] = None,
    demo: Annotated[str | None, typer.Option("--demo", help=say("help.demo"))] = None,
    step: Annotated[
        list[str] | None,
        typer.Option("--step", metavar='"ML: READING"', help=say("help.jar-step")),
    ] = None,
    by: Annotated[str | None, typer.Option("--by", help=say("help.jar-by"))] = None,
    plain: Annotated[bool, typer.Option("--plain", help=say("help.jar-plain"))] = False,
    with_foam: Annotated[bool, typer.Option("--with-foam", help=say("help.jar-with-foam"))] = False,
    size: Annotated[str, typer.Option("--jar", help=say("help.jar-size"))] = "1 L",
    acid: Annotated[str | None, typer.Option("--acid", help=say("help.jar-acid"))] = None,
    solution: Annotated[
        str | None, typer.Option("--solution", help=say("help.jar-solution"))
    ] = None,
    weighed: Annotated[
        list[str] | None, typer.Option("--weighed", help=say("help.jar-weighed"))
    ] = None,
    scale: Annotated[str, typer.Option("--scale", help=say("help.jar-scale"))] = "kitchen-scale",
    unit: Annotated[str | None, typer.Option("--unit", help=say("help.jar-unit"))] = None,
    drops_per_ml: Annotated[
        float | None, typer.Option("--drops-per-ml", help=say("help.jar-drops"))
    ] = None,
    colour_times: Annotated[
        float | None, typer.Option("--colour-times", help=say("help.jar-times"))
    ] = None,
    path: Annotated[str | None, typer.Option("--path", help=say("help.jar-path"))] = None,
    temperature: Annotated[
        str | None, typer.Option("--temperature", help=say("help.jar-temperature"))
    ] = None,
    target: Annotated[str | None, typer.Option("--target", help=say("help.target"))] = None,
    accept_ph: AcceptPh = None,
    accept_pouring: AcceptPouring = None,
    instructions: Annotated[
        bool, typer.Option("--instructions", help=say("help.jar-instructions"))
    ] = False,
    picture: Picture = None,
    as_json: Json = False,
) -> None:
    """A jar of the bath titrated, and the dose corrected."""
    from dosing.cli import jars

    asked = jars.Asked(
        files=files or (),
        demo=demo,
        steps=step or (),
        solution=solution,
        weighed=weighed or (),
        scale=scale,
        acid=acid,
        unit=unit,
        drops_per_ml=drops_per_ml,
        jar=size,
        by=by,
        with_foam=with_foam,
        plain=plain,
        colour_times=colour_times,
        path=path,
        temperature=temperature,
        target=target,
        accept_ph=accept_ph,
        accept_pouring=accept_pouring,
        instructions=instructions,
        picture=picture,
    )
    raise typer.Exit(jars.run_jar(asked, as_json=as_json))


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


@app.command("time", help=say("help.timeline"))
def timeline(
    recipe: Annotated[Path | None, typer.Argument(help=say("help.recipe-argument"))] = None,
    demo: Annotated[str | None, typer.Option("--demo", help=say("help.demo"))] = None,
    dose: Annotated[str | None, typer.Option("--dose", help=say("help.timeline-dose"))] = None,
    stir: Annotated[str, typer.Option("--stir", help=say("help.timeline-stir"))] = "hand",
    poured: Annotated[
        str | None, typer.Option("--poured", help=say("help.timeline-poured"))
    ] = None,
    grain: Annotated[str | None, typer.Option("--grain", help=say("help.timeline-grain"))] = None,
    minutes: Annotated[float, typer.Option("--minutes", help=say("help.timeline-minutes"))] = 60,
    accept_ph: AcceptPh = None,
    accept_pouring: AcceptPouring = None,
    picture: Annotated[
        Path | None,
        typer.Option("--picture", metavar="FILE", help=say("help.timeline-picture")),
    ] = None,
    as_json: Json = False,
) -> None:
    """From the pour to the end of the soak."""
    from dosing.cli import timelines

    asked = timelines.TimeAsked(
        recipe=recipe,
        demo=demo,
        dose=dose,
        stir=stir,
        poured=poured,
        grain=grain,
        minutes=minutes,
        accept_ph=accept_ph,
        accept_pouring=accept_pouring,
        picture=picture,
    )
    raise typer.Exit(timelines.run_time(asked, as_json=as_json))


@app.command(help=say("help.programme"))
def programme(
    steps: Annotated[str, typer.Option("--steps", help=say("help.programme-steps"))],
    recipe: Annotated[Path | None, typer.Argument(help=say("help.recipe-argument"))] = None,
    demo: Annotated[str | None, typer.Option("--demo", help=say("help.demo"))] = None,
    accept_ph: AcceptPh = None,
    accept_pouring: AcceptPouring = None,
    picture: Annotated[
        Path | None,
        typer.Option("--picture", metavar="FILE", help=say("help.programme-picture")),
    ] = None,
    as_json: Json = False,
) -> None:
    """Several pours after each other."""
    from dosing.cli import timelines

    code = timelines.run_programme(
        recipe,
        demo,
        steps=steps,
        accept_ph=accept_ph,
        accept_pouring=accept_pouring,
        picture=picture,
        as_json=as_json,
    )
    raise typer.Exit(code)


@app.command(help=say("help.sachet"))
def sachet(
    recipe: Annotated[Path | None, typer.Argument(help=say("help.recipe-argument"))] = None,
    demo: Annotated[str | None, typer.Option("--demo", help=say("help.demo"))] = None,
    population: Annotated[
        str | None, typer.Option("--population", help=say("help.sachet-population"))
    ] = None,
    homes_csv: Annotated[
        Path | None, typer.Option("--homes-csv", metavar="FILE", help=say("help.sachet-homes-csv"))
    ] = None,
    read_with: Annotated[
        str, typer.Option("--read-with", help=say("help.sachet-read-with"))
    ] = "strip",
    homes: Annotated[int, typer.Option("--homes", help=say("help.sachet-homes-count"))] = 10_000,
    sizes: Annotated[str | None, typer.Option("--sizes", help=say("help.sachet-sizes"))] = None,
    wished_share: Annotated[
        str | None, typer.Option("--wished-share", help=say("help.sachet-wished-share"))
    ] = None,
    sachets: Annotated[
        int | None, typer.Option("--sachets", help=say("help.sachet-sachets"))
    ] = None,
    target: Annotated[str | None, typer.Option("--target", help=say("help.target"))] = None,
    accept_ph: AcceptPh = None,
    blend: Annotated[bool, typer.Option("--blend", help=say("help.sachet-blend"))] = False,
    powders: Annotated[
        str | None, typer.Option("--powders", help=say("help.sachet-blend-powders"))
    ] = None,
    band: Annotated[str | None, typer.Option("--band", help=say("help.sachet-band"))] = None,
    price: Annotated[
        list[str] | None, typer.Option("--price", help=say("help.sachet-price"))
    ] = None,
    picture: Picture = None,
    as_json: Json = False,
) -> None:
    """Sachets for many homes."""
    from dosing.cli import sachets as room

    asked = room.Asked(
        recipe=recipe,
        demo=demo,
        population=population,
        homes_csv=homes_csv,
        read_with=read_with,
        homes=homes,
        sizes=sizes,
        wished_share=wished_share,
        sachets=sachets,
        target=target,
        accept_ph=accept_ph,
        blend=blend,
        powders=powders,
        band=band,
        prices=price or (),
        picture=picture,
    )
    raise typer.Exit(room.run_sachet(asked, as_json=as_json))


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
        given = sys.argv[1:] if arguments is None else arguments
        result = app(args=_folder_first(given), prog_name="huedose", standalone_mode=False)
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


def _folder_first(arguments: Sequence[str]) -> list[str]:
    """The arguments with the maker's folder in front, where it holds for every command."""
    rest = list(arguments)
    for place, word in enumerate(rest):
        if word == "--":
            break
        if word.startswith(f"{DATA_DIR}="):
            return [rest.pop(place), *rest]
        if word == DATA_DIR and place + 1 < len(rest):
            moved = rest[place : place + 2]
            return [*moved, *rest[:place], *rest[place + 2 :]]
    return rest


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
