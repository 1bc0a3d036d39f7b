"""``jar``: a series of readings in, the corrected dose out; or how to do the test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from dosing.bath.inputs import RecipeInputs
from dosing.cli.codes import NOT_MET
from dosing.cli.given import check_picture, recipe_of
from dosing.cli.jar_table import series_of, unit_name
from dosing.cli.output import printable, show
from dosing.ingredients.powders import powder
from dosing.jar.answer import jar_test
from dosing.jar.bench import Bench
from dosing.jar.guide import Guide, guide
from dosing.jar.kit import BY, SCALES, UNITS
from dosing.jar.model import JarModel, Readings, kind_read
from dosing.jar.series import Rectangles, WrittenSeries, readings_of, rectangles
from dosing.plan.cautions import Caution, Verdicts
from dosing.plan.records import Plan
from dosing.recipe.quantities import (
    InputError,
    amount,
    colour_strength,
    length_cm,
    mass_g,
    temperature_c,
)
from dosing.words import wording
from dosing.words.jar import answer_lines, guide_lines
from dosing.words.jar_guide import instructions
from dosing.words.lines import Line
from dosing.words.plan import stopped_lines
from indicator.accepted import reason
from indicator.appearance import delta_e, hex_of_lab
from indicator.notes import Note, Value, say
from indicator.photograph import LIMITS as PHOTOGRAPH
from indicator.spread import cast_error
from indicator.tables import value_of

BY_NAMES = {name: name for name in BY} | {
    "color": "colour", "photo": "photograph", "photos": "photograph",
    "photographs": "photograph", "camera": "photograph",
    "kit": "drop-kit", "ph-kit": "drop-kit", "ph-drop-kit": "drop-kit",
    "strips": "strip", "ph-strip": "strip", "ph-strips": "strip", "ph-meter": "meter",
}  # fmt: skip
LITRES = (0.05, 20.0)
DROPS_PER_ML = (5.0, 60.0)
TIMES = (0.1, 50.0)
USUAL_JAR, WEIGHED_JAR = "1 L", "1000 g"
"""What is taken where nothing is said: of a jar that was filled, and by the instructions."""
RECTANGLE = "X,Y,WIDTH,HEIGHT"
"""In a command, for what only the pictures tell."""


@dataclass(frozen=True)
class JarOptions:
    """Options of ``jar``, as they were typed."""

    files: Sequence[Path] | None
    demo: str | None
    step: Sequence[str] | None
    by: str | None
    plain: bool
    with_foam: bool
    size: str
    acid: str | None
    solution: str | None
    weighed: Sequence[str] | None
    scale: str
    unit: str | None
    drops_per_ml: float | None
    colour_times: float | None
    path: str | None
    white: Sequence[str] | None
    liquid: str | None
    temperature: str | None
    target: str | None
    accept_ph: str | None
    accept_pouring: str | None
    instructions: bool
    picture: Path | None
    as_json: bool

    @property
    def rectangles(self) -> Rectangles:
        """Where to look in the photographs that say nothing themselves."""
        return rectangles(self.white or (), self.liquid)


@dataclass(frozen=True)
class FirstPicture:
    """Colour in a single photograph of the jar, before a whole series is taken."""

    by: str
    read: str
    """Colour of the liquid, # and six digits."""
    expected: str
    """The same as the recipe lets expect."""
    residual: float
    """CIEDE2000 between both."""


@dataclass(frozen=True)
class Instructions:
    """Answer of ``jar --instructions``."""

    answer: Guide
    command: str
    """What is typed when the table is filled in."""
    instructions: tuple[str, ...]
    verdicts: Verdicts
    """Pouring before any acid; giving and selling as it is planned."""
    cautions: tuple[Caution, ...]


@dataclass(frozen=True)
class NoRoom:
    """A jar test for which the jar is too small."""

    title: str
    refused: str
    verdicts: Verdicts
    """Pouring before any acid; giving and selling as it is planned."""
    cautions: tuple[Caution, ...]


def run_jar(asked: JarOptions) -> int:
    """Correct a dose, or lay a test out.

    Parameters
    ----------
    asked : JarOptions
        What was typed.

    Returns
    -------
    int
        The exit code.
    """
    check_picture(asked.picture)
    recipe, table = _files(asked.files or ())
    inputs = recipe_of(recipe, asked.demo)
    if asked.instructions:
        if table is not None or asked.step:
            raise InputError(say("jar.error.instructions-and-series"), "instructions")
        return _instructed(inputs, asked, recipe)
    if asked.picture is not None:
        raise InputError(say("jar.error.picture"), "picture")
    series = series_of(table, asked.step or ())
    bench = _bench(inputs, asked, _by(asked.by, series), _unit(asked.unit, series.unit))
    readings = readings_of(series, bench, asked.rectangles)
    model = bench.model(readings)
    if series.kind == "photo" and len(readings.added) == 1:
        return _first_picture(model, readings, as_json=asked.as_json)
    if not bench.dry and asked.solution is None:
        # Half the strength taken for all of it would double the dose.
        raise InputError(say("jar.error.solution-missing", {"unit": bench.unit}), "solution")
    answer = jar_test(
        model,
        readings,
        bench.by,
        target=asked.target,
        accept_ph=reason("accept-ph", asked.accept_ph),
        accept_pouring=reason("accept-pouring", asked.accept_pouring),
    )
    notes = bench.notes()
    plain = cast_error(value_of(PHOTOGRAPH, "most_plain_cast"))
    if readings.kind != "ph" and readings.noise.max() > plain:
        notes.append(Note("jar.note.cast"))
    answer = replace(answer, notes=(*answer.notes, *notes))
    told = replace(answer, maximum_g=0.0) if answer.stopped else answer
    show(told, answer_lines(answer, model), as_json=asked.as_json)
    return 0 if answer.reached else NOT_MET


def _first_picture(model: JarModel, readings: Readings, *, as_json: bool) -> int:
    """Say that a picture can be used, before acid and time go into a whole series."""
    expected = model.predicted(model.as_read, readings.added)
    read, told = (str(hex_of_lab(labs[0], "D65", 2)) for labs in (readings.values, expected))
    first = FirstPicture("photograph", read, told, float(delta_e(readings.values[0], expected[0])))
    values: dict[str, Value] = {"read": read, "expected": told, "off": first.residual}
    show(first, [Line(say("jar.first-picture", values))], as_json=as_json)
    return 0


def _files(files: Sequence[Path]) -> tuple[Path | None, Path | None]:
    """The recipe and the table of a series."""
    tables = [file for file in files if file.suffix.lower() in (".csv", ".tsv", ".txt")]
    recipes = [file for file in files if file not in tables]
    if len(tables) > 1 or len(recipes) > 1:
        raise InputError(say("jar.error.files"), "files")
    return (recipes[0] if recipes else None), (tables[0] if tables else None)


def _by(written: str | None, series: WrittenSeries) -> str:
    """What was read with, where the readings are of this kind."""
    by, kind = _by_name(written), series.kind
    values: dict[str, Value] = {"value": repr(written)}
    if kind == "ph":
        if by is None:
            raise InputError(say("jar.error.by-missing"), "by")
        if kind_read(by) != "ph":
            raise InputError(say("jar.error.by-ph", values), "by", written)
        return by
    meant = "photograph" if kind == "photo" else "colour"
    if by not in (None, meant) and not (series.picked and by == "colour"):
        raise InputError(say(f"jar.error.by-{meant}", values), "by", written)
    return meant


def _by_name(written: str | None) -> str | None:
    if written is None:
        return None
    by = BY_NAMES.get(_plain(written))
    if by is None:
        raise InputError(say("jar.error.by", {"value": repr(written)}), "by", written)
    return by


def _plain(text: str) -> str:
    return text.strip().casefold().replace(" ", "-")


def _unit(written: str | None, read: str | None) -> str:
    """Unit of the additions: as asked for, as the series has it, or usual."""
    unit = None if written is None else unit_name(written)
    if unit is not None and read is not None and unit != read:
        raise InputError(say("jar.error.two-units", {"found": read, "unit": unit}), "unit", written)
    return unit or read or UNITS[0]


def _bench(inputs: RecipeInputs, asked: JarOptions, by: str, unit: str) -> Bench:
    """What is at hand, from what was typed."""
    bench = Bench(
        recipe=inputs,
        by=by,
        unit=unit,
        acid=_acid(asked.acid),
        percent=None if asked.solution is None else _percent(asked.solution),
        weighed_g=tuple(map(_weighed, asked.weighed or ())),
        scale=_plain(asked.scale),
        drops_per_ml=asked.drops_per_ml,
        temperature_c=(
            None if asked.temperature is None else temperature_c(asked.temperature, "temperature")
        ),
        plain=asked.plain,
        colour_times=asked.colour_times,
        path_cm=None if asked.path is None else length_cm(asked.path, "path"),
    )
    drops, times = bench.drops_per_ml, bench.times
    solution: dict[str, Value] = {"value": repr(asked.solution), "unit": unit}
    wrong: tuple[tuple[str, str, bool, dict[str, Value]], ...] = (
        ("scale", "scale", bench.scale not in SCALES, {"value": repr(asked.scale)}),
        ("drops", "drops-per-ml", not _within(drops, DROPS_PER_ML), {"value": drops or 0.0}),
        ("solution-dry", "solution", bench.dry and asked.solution is not None, solution),
        ("contents", "plain", asked.with_foam and asked.plain, {}),
        ("plain-colour", "plain", kind_read(by) != "ph" and asked.plain, {}),
        ("times", "colour-times", not _within(times, TIMES), {"value": times}),
    )
    for code, field, refused, values in wrong:
        if refused:
            raise InputError(say(f"jar.error.{code}", values), field)
    return _filled(bench, asked.size)


def _within(number: float | None, limits: tuple[float, float]) -> bool:
    """Whether a number lies within its limits, or was not said."""
    return number is None or limits[0] <= number <= limits[1]


def _filled(bench: Bench, text: str) -> Bench:
    """With so much water, by volume or by weight."""
    size = amount(text, "jar")
    litres = size.value / 1000.0
    if not LITRES[0] <= litres <= LITRES[1]:
        raise InputError(say("jar.error.jar", {"value": repr(text)}), "jar", text)
    return replace(bench, water=litres, water_weighed=size.kind == "mass")


def _acid(name: str | None) -> str | None:
    if name is None:
        return None
    try:
        return powder(_plain(name)).name
    except ValueError as error:
        raise InputError(str(error), "acid", name) from error


def _weighed(text: str) -> float:
    grams = mass_g(text, "weighed")
    if grams <= 0:
        raise InputError(say("jar.error.weighed", {"value": repr(text)}), "weighed", text)
    return grams


def _percent(text: str) -> float:
    strength = colour_strength(text, "solution") if "%" in text or "per" in text else None
    if strength is None or strength.kind != "percent":
        raise InputError(say("jar.error.solution", {"value": repr(text[:40])}), "solution", text)
    return strength.value


def _instructed(inputs: RecipeInputs, asked: JarOptions, recipe: Path | None) -> int:
    """Lay a test out and show it; 3 where the bath is forbidden for its purpose."""
    from dosing.plan.answer import without_activator

    own = without_activator(inputs, accept_ph=asked.accept_ph, accept_pouring=asked.accept_pouring)
    by = _by_name(asked.by) or _usual_reading(inputs, asked)
    # A strip and drops are misled by colour and foam, so that a jar of plain water is read.
    plain = asked.plain or (by in ("strip", "drop-kit") and not asked.with_foam)
    size = asked.size if asked.size != USUAL_JAR else WEIGHED_JAR
    asked = replace(asked, plain=plain, size=size)
    bench = _bench(inputs, asked, by, _unit(asked.unit, None)).laid_out(asked.target)
    test = guide(bench, asked.target)
    if not test.fits:
        return _no_room(own, test, as_json=asked.as_json)
    command = _command(asked, bench, recipe)
    if asked.picture is not None:
        from dosing.pictures.jar import draw_guide
        from indicator.sheet import write_picture

        write_picture(draw_guide(test, command), asked.picture)
    answer = Instructions(test, command, instructions(test), own.verdicts, own.cautions)
    lines = [*stopped_lines(own), *guide_lines(test, command)]
    show(answer, lines, asked.picture, as_json=asked.as_json)
    return 0 if own.verdicts.of(inputs.wish.purpose).allowed else NOT_MET


def _no_room(own: Plan, test: Guide, *, as_json: bool) -> int:
    """Say that more acid would go into the jar than it holds."""
    added = wording.litres(test.readings[-1].total / 1000.0)
    text = say("jar.no-room", {"added": added, "jar": test.jar_l})
    answer = NoRoom(own.title, text, own.verdicts, own.cautions)
    show(answer, [*stopped_lines(own), Line(text)], as_json=as_json)
    return NOT_MET


def _usual_reading(inputs: RecipeInputs, asked: JarOptions) -> str:
    """What will be read with; a drop kit of the recipe tells alkalinity, not pH."""
    if inputs.water.instrument == "meter":
        return "meter"
    return "strip" if asked.plain or not inputs.colours else "photograph"


def _command(asked: JarOptions, bench: Bench, recipe: Path | None) -> str:
    """What is typed when the table is filled in."""
    words = ["huedose jar"]
    if recipe is not None:
        name = printable(str(recipe))
        words.append(f'"{name}"' if " " in name else name)
    elif asked.demo is not None:
        words.append(f"--demo {asked.demo}")
    words.append("jar.csv")
    told: list[tuple[str, str | None]] = []
    if not bench.dry:
        made = asked.weighed or [f"{grams:g} g" for grams in bench.weighed_g]
        told = [("weighed", text) for text in made]
        told.append(("solution", asked.solution or f"{bench.strength_percent:g} %"))
    told += [(name, getattr(asked, name)) for name in ("acid", "path", "temperature", "target")]
    words += [f'--{option} "{printable(text)}"' for option, text in told if text is not None]
    if asked.scale != SCALES[0]:
        words.append(f"--scale {asked.scale}")
    if asked.drops_per_ml is not None:
        words.append(f"--drops-per-ml {asked.drops_per_ml:g}")
    words += [f'--jar "{printable(asked.size)}"', f"--by {bench.by}"]
    if bench.by == "photograph":
        known = asked.rectangles
        words += [f"--white {patch}" for patch in known.white or (RECTANGLE,)]
        words += [f"--liquid {known.liquid or RECTANGLE}"]
    if asked.plain:
        words.append("--plain")
    if bench.times != 1.0:
        words.append(f"--colour-times {bench.times:g}")
    return " ".join(words)
