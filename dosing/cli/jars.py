"""``jar``: a series of readings in, the corrected dose out; or how to do the test."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dosing.cli.csv_rows import check_columns, csv_rows
from dosing.cli.jar_text import answer_document, guide_document, show_answer, show_guide
from dosing.cli.output import Page, printable, to_json
from dosing.cli.planning import NOT_MET, check_picture, reason, recipe_of
from dosing.equilibrium import water_density_kg_l
from dosing.inputs import RecipeInputs
from dosing.jar.kit import (
    BY,
    SCALES,
    UNITS,
    check_instrument,
    dry_powder,
    jar_of,
    solution,
    weighing_sd,
    word_reading,
)
from dosing.jar.model import Jar, JarModel, Readings, Titrant, jar_value, ph_noise
from dosing.powders import Blend, powder, purity_spread
from dosing.quantities import InputError, amount, colour_strength, length_cm, mass_g, temperature_c
from dosing.quantities import ph as typed_ph
from dosing.trade_values import reading_spread
from indicator.notes import Note, Value, say
from indicator.optics import View, jar_view, view_value
from indicator.words import lab_from_hex, parse_target

Array = NDArray[np.float64]

LARGEST_BYTES = 200_000
MOST = {"mL": 5000.0, "drops": 5000.0, "pinches": 500.0, "g": 500.0}
COLUMNS = {"ml": "mL", "drops": "drops", "pinches": "pinches", "g": "g"}
KINDS = ("ph", "hex", "word")
LITRES = (0.05, 20.0)
DROPS_PER_ML = (5.0, 60.0)
TIMES = (0.1, 50.0)
_STEP = re.compile(
    r"\s*(?P<amount>[^\s:]+)\s*(?P<unit>ml|drops?|pinch(?:es)?|g)?\s*:\s*(?P<read>.*\S)\s*",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Asked:
    """What was typed after the command."""

    files: Sequence[Path]
    demo: str | None
    steps: Sequence[str]
    solution: str | None
    weighed: Sequence[str]
    scale: str
    acid: str | None
    unit: str | None
    drops_per_ml: float | None
    jar: str
    by: str | None
    with_foam: bool
    plain: bool
    colour_times: float | None
    path: str | None
    temperature: str | None
    target: str | None
    accept_ph: str | None
    accept_pouring: str | None
    instructions: bool
    picture: Path | None


@dataclass(frozen=True)
class _Series:
    """What was written: amounts in all, and readings as text."""

    unit: str | None
    amounts: tuple[str, ...]
    reads: tuple[str, ...]
    name: str


def run_jar(asked: Asked, *, as_json: bool) -> int:
    """Correct a dose, or lay a test out; returns the exit code."""
    check_picture(asked.picture)
    recipe, table = _files(asked.files)
    inputs = recipe_of(recipe, asked.demo).core()
    if asked.instructions:
        return _instructed(inputs, asked, recipe, as_json=as_json)
    if asked.picture is not None:
        raise InputError(say("jar.error.picture"), "picture")
    series = _series(table, asked)
    kinds = _kinds(series)
    by = _by(asked.by, kinds)
    unit = _unit(asked.unit, series)
    titrant, notes = _titrant(inputs, asked, unit)
    jar = _jar(inputs, asked, by, 1.0 if asked.colour_times is None else asked.colour_times)
    view = _view(inputs, asked)
    readings = _readings(series, unit, kinds, by, jar, view)
    model = JarModel(inputs, jar, titrant, readings.kind, readings.shared_sd, view)
    from dosing.jar.answer import jar_test

    answer = jar_test(
        model,
        readings,
        by,
        target=asked.target,
        accept_ph=reason("accept-ph", asked.accept_ph),
        accept_pouring=reason("accept-pouring", asked.accept_pouring),
    )
    answer = replace(answer, notes=(*answer.notes, *notes, *_jar_notes(asked, jar)))
    if as_json:
        to_json(answer_document(answer, model))
    else:
        show_answer(answer, model, Page())
    return 0 if answer.reached else NOT_MET


def _files(files: Sequence[Path]) -> tuple[Path | None, Path | None]:
    tables = [one for one in files if one.suffix.lower() in (".csv", ".tsv", ".txt")]
    recipes = [one for one in files if one not in tables]
    if len(tables) > 1 or len(recipes) > 1:
        raise InputError(say("jar.error.files"), "files")
    return (recipes[0] if recipes else None), (tables[0] if tables else None)


def _series(table: Path | None, asked: Asked) -> _Series:
    if table is not None and asked.steps:
        raise InputError(say("jar.error.two-series"), "step")
    if table is not None:
        return _from_table(table)
    if not asked.steps:
        raise InputError(say("jar.error.nothing"), "series")
    units, amounts, reads = set(), [], []
    for text in asked.steps:
        match = _STEP.fullmatch(text)
        if match is None:
            raise InputError(say("jar.error.step", {"value": repr(text[:60])}), "step", text)
        if match["unit"]:
            units.add(_unit_name(match["unit"]))
        amounts.append(match["amount"])
        reads.append(match["read"])
    if len(units) > 1:
        values: dict[str, Value] = {"found": ", ".join(sorted(units)), "unit": sorted(units)[0]}
        raise InputError(say("jar.error.two-units", values), "step")
    return _Series(units.pop() if units else None, tuple(amounts), tuple(reads), "step")


def _unit_name(text: str) -> str:
    plain = text.strip().casefold()
    known = {"ml": "mL", "drop": "drops", "drops": "drops", "pinch": "pinches", "g": "g"}
    known |= {"pinches": "pinches", "gram": "g", "grams": "g", "millilitres": "mL"}
    if plain not in known:
        raise InputError(say("jar.error.unit", {"value": repr(text[:40])}), "unit", text)
    return known[plain]


def _from_table(table: Path) -> _Series:
    header, rows = csv_rows(table, "series", LARGEST_BYTES)
    header = [name.casefold() for name in header]
    check_columns(header, rows, (*COLUMNS, *KINDS), "series")
    file: dict[str, Value] = {"file": repr(str(table))}
    amounts = [name for name in header if name in COLUMNS]
    if not amounts:
        raise InputError(say("jar.error.no-amount", file), "series")
    if len(amounts) > 1:
        raise InputError(
            say("jar.error.two-amounts", file | {"found": ", ".join(amounts)}), "series"
        )
    kinds = [name for name in header if name in KINDS]
    if len(kinds) != 1:
        raise InputError(say("jar.error.reading", file), "series")
    cells = {
        name: tuple(row[place].strip() if place < len(row) else "" for row in rows)
        for place, name in enumerate(header)
    }
    return _Series(COLUMNS[amounts[0]], cells[amounts[0]], cells[kinds[0]], "series")


def _kinds(series: _Series) -> str:
    """The one kind of all readings: ``ph``, ``hex`` or ``word``."""
    found = {_kind_of(text) for text in series.reads}
    if len(found) > 1:
        raise InputError(say("jar.error.mixed", {"found": ", ".join(sorted(found))}), series.name)
    return found.pop()


def _kind_of(text: str) -> str:
    if text.startswith("#"):
        return "hex"
    return "word" if re.match(r"[a-zA-Z]", text) and not re.match(r"(?i)ph|nan|inf", text) else "ph"


def _by(written: str | None, kind: str) -> str:
    by = None if written is None else written.strip().casefold().replace(" ", "-")
    by = {"color": "colour", "kit": "drop-kit", "strips": "strip"}.get(by or "", by)
    if by is not None and by not in BY:
        raise InputError(say("jar.error.by", {"value": repr(written)}), "by", written)
    if kind == "ph":
        if by is None:
            raise InputError(say("jar.error.by-missing"), "by")
        if by == "colour":
            raise InputError(say("jar.error.by-ph"), "by", written)
        return by
    if by not in (None, "colour"):
        raise InputError(say("jar.error.by-colour", {"value": repr(written)}), "by", written)
    return "colour"


def _unit(written: str | None, series: _Series | None) -> str:
    unit = None if written is None else _unit_name(written)
    found = None if series is None else series.unit
    if unit is not None and found is not None and unit != found:
        raise InputError(
            say("jar.error.two-units", {"found": found, "unit": unit}), "unit", written
        )
    return unit or found or UNITS[0]


def _titrant(inputs: RecipeInputs, asked: Asked, unit: str) -> tuple[Titrant, list[Note]]:
    parts, same = _acid(inputs, asked.acid)
    scale = asked.scale.strip().casefold().replace(" ", "-")
    if scale not in SCALES:
        raise InputError(say("jar.error.scale", {"value": repr(asked.scale)}), "scale", asked.scale)
    if asked.drops_per_ml is not None and not (
        DROPS_PER_ML[0] <= asked.drops_per_ml <= DROPS_PER_ML[1]
    ):
        raise InputError(say("jar.error.drops", {"value": asked.drops_per_ml}), "drops-per-ml")
    if unit in ("g", "pinches"):
        if asked.solution is not None:
            values: dict[str, Value] = {"value": repr(asked.solution), "unit": unit}
            raise InputError(say("jar.error.solution-dry", values), "solution", asked.solution)
        return dry_powder(parts, unit=unit, scale="fine-scale", same_powder=same), []
    weighed = _weighed(asked)
    notes = []
    if not asked.weighed:
        values = {"grams": weighed[0], "off": weighing_sd(weighed, scale)}
        notes.append(Note("jar.note.weighed", values))
    titrant = solution(
        parts,
        _percent(asked.solution),
        unit=unit,
        # Another powder than the tub's brings its own purity.
        made_sd=float(np.hypot(weighing_sd(weighed, scale), 0.0 if same else _purity(parts))),
        same_powder=same,
        drops_per_ml=asked.drops_per_ml,
    )
    return titrant, notes


def _acid(inputs: RecipeInputs, name: str | None) -> tuple[dict[str, float], bool]:
    """The powder in the jar, and whether the tub gets the same."""
    recipe = dict(Blend(inputs.activator.parts).parts)
    if name is None:
        return recipe, True
    try:
        chosen = powder(name.strip().casefold().replace(" ", "-")).name
    except ValueError as error:
        raise InputError(str(error), "acid", name) from error
    return {chosen: 1.0}, recipe == {chosen: 1.0}


def _purity(parts: Mapping[str, float]) -> float:
    return float(
        np.sqrt(sum((part * purity_spread(one).sd_relative) ** 2 for one, part in parts.items()))
    )


def _weighed(asked: Asked) -> list[float]:
    if not asked.weighed:
        return [jar_value("weighed")]
    grams = [mass_g(text, "weighed") for text in asked.weighed]
    for text, one in zip(asked.weighed, grams, strict=True):
        if one <= 0:
            raise InputError(say("jar.error.weighed", {"value": repr(text)}), "weighed", text)
    return grams


def _percent(text: str | None) -> float:
    if text is None:
        return jar_value("solution_percent")
    strength = colour_strength(text, "solution") if "%" in text or "per" in text else None
    if strength is None or strength.kind != "percent":
        raise InputError(say("jar.error.solution", {"value": repr(text[:40])}), "solution", text)
    return strength.value


def _jar(inputs: RecipeInputs, asked: Asked, by: str, times: float) -> Jar:
    if asked.with_foam and asked.plain:
        raise InputError(say("jar.error.contents"), "plain")
    if by == "colour" and asked.plain:
        raise InputError(say("jar.error.plain-colour"), "plain")
    if not TIMES[0] <= times <= TIMES[1]:
        raise InputError(say("jar.error.times", {"value": times}), "colour-times")
    litres, weighed = _size(asked.jar)
    warmth = inputs.water_temperature_c
    if asked.temperature is not None:
        warmth = temperature_c(asked.temperature, "temperature")
    jar = jar_of(
        inputs,
        plain=asked.plain,
        litres=litres / float(water_density_kg_l(warmth)) if weighed else litres,
        weighed=weighed,
        temperature_c=warmth,
        colour_times=times,
    )
    check_instrument(by, jar)
    return jar


def _size(text: str) -> tuple[float, bool]:
    """Water of the jar [L or kg], and whether it was weighed."""
    size = amount(text, "jar")
    litres = size.value / 1000.0
    if not LITRES[0] <= litres <= LITRES[1]:
        raise InputError(say("jar.error.jar", {"value": repr(text)}), "jar", text)
    return litres, size.kind == "mass"


def _view(inputs: RecipeInputs, asked: Asked) -> View:
    path = view_value("jar_path") if asked.path is None else length_cm(asked.path, "path")
    return jar_view(path, light=inputs.wish.light)


def _readings(series: _Series, unit: str, kind: str, by: str, jar: Jar, view: View) -> Readings:
    added = _amounts(series, unit)
    if kind == "hex":
        labs = np.stack([_lab(text, row, series) for row, text in enumerate(series.reads, 1)])
        return Readings(added, labs, "lab", np.ones(len(labs)), 0.0, view)
    if kind == "word":
        words = tuple(_word(text, row, series) for row, text in enumerate(series.reads, 1))
        pairs = [word_reading(jar, view, word) for word in words]
        values, deviations = (np.array(one) for one in zip(*pairs, strict=True))
        shared = jar_value("shared_word")
        common = float(np.sqrt(shared) * np.mean(deviations))
        noise = np.sqrt(1.0 - shared) * deviations
        return Readings(added, values[:, None], "ph", noise, common, view, words)
    values = np.array([_ph(text, row, series) for row, text in enumerate(series.reads, 1)])
    noise, common = ph_noise(by, values)
    return Readings(added, values[:, None], "ph", noise, common, view)


def _amounts(series: _Series, unit: str) -> Array:
    found: list[float] = []
    for row, text in enumerate(series.amounts, start=1):
        try:
            value = float("nan") if "_" in text else float(text.replace(",", "."))
        except ValueError:
            value = float("nan")
        if not 0.0 <= value <= MOST[unit]:
            values: dict[str, Value] = {
                "value": repr(text[:40]), "row": row, "most": MOST[unit], "unit": unit,
            }  # fmt: skip
            raise InputError(say("jar.error.amount", values), series.name, text)
        if found and value < found[-1]:
            values = {"before": found[-1], "after": value, "row": row}
            raise InputError(say("jar.error.order", values), series.name, text)
        found.append(value)
    return np.array(found)


def _ph(text: str, row: int, series: _Series) -> float:
    try:
        return typed_ph(text, series.name)
    except InputError as error:
        raise _bad_value(text, row, series) from error


def _lab(text: str, row: int, series: _Series) -> Array:
    try:
        return lab_from_hex(text)
    except ValueError as error:
        raise _bad_value(text, row, series) from error


def _word(text: str, row: int, series: _Series) -> str:
    try:
        wish = parse_target(text)
    except ValueError as error:
        raise _bad_value(text, row, series) from error
    if wish.word is None:
        raise _bad_value(text, row, series)
    return wish.word


def _bad_value(text: str, row: int, series: _Series) -> InputError:
    values: dict[str, Value] = {"row": row, "value": repr(text[:40])}
    return InputError(say("jar.error.value", values), series.name, text)


def _jar_notes(asked: Asked, jar: Jar) -> list[Note]:
    notes = []
    if asked.temperature is None:
        notes.append(Note("jar.note.temperature", {"temperature": jar.temperature_c}))
    if asked.colour_times is not None and asked.colour_times > 1.0:
        notes.append(Note("jar.note.colour-acid", {"times": asked.colour_times}))
    return notes


def _instructed(inputs: RecipeInputs, asked: Asked, recipe: Path | None, *, as_json: bool) -> int:
    """Lay a test out and show it."""
    from dosing.jar.guide import guide

    by = _by_for_instructions(inputs, asked)
    unit = _unit(asked.unit, None)
    weighed = _weighed(asked) if asked.weighed else _good_weighings()
    told = replace(asked, weighed=tuple(f"{one:g} g" for one in weighed))
    titrant, _ = _titrant(inputs, told, unit)
    times = asked.colour_times
    if times is None:
        times = jar_value("colour_times") if by == "colour" else 1.0
    plain = asked.plain or (by in ("strip", "drop-kit") and not asked.with_foam)
    told = replace(told, plain=plain, jar=asked.jar if asked.jar != "1 L" else "1000 g")
    jar = _jar(inputs, told, by, times)
    view = _view(inputs, asked)
    kind = "lab" if by == "colour" else "ph"
    shared = 0.0 if by == "colour" else ph_noise(by, reading_spread("ph", by).sd_absolute)[1]
    model = JarModel(inputs, jar, titrant, kind, shared, view)
    found = guide(
        model,
        by,
        target=asked.target,
        weighed_g=weighed,
        percent=_percent(asked.solution),
        colour_times=times,
        view=view,
        command=_command(told, recipe, by, times),
    )
    if asked.picture is not None:
        from dosing.jar.sheet import draw_guide
        from indicator.sheet import write_picture

        write_picture(draw_guide(found), asked.picture)
    if as_json:
        to_json(guide_document(found))
        return 0
    page = Page()
    show_guide(found, page)
    if asked.picture is not None:
        page.line(say("cli.picture-written", {"file": printable(str(asked.picture))}))
    return 0


def _by_for_instructions(inputs: RecipeInputs, asked: Asked) -> str:
    if asked.by is not None:
        by = asked.by.strip().casefold().replace(" ", "-")
        by = {"color": "colour"}.get(by, by)
        if by not in BY:
            raise InputError(say("jar.error.by", {"value": repr(asked.by)}), "by", asked.by)
        return by
    if inputs.water.instrument in ("meter", "drop-kit"):
        return str(inputs.water.instrument)
    return "strip" if asked.plain or not inputs.colours else "colour"


def _good_weighings() -> list[float]:
    """More powder, thinned afterwards: the scale's error is small against it."""
    return [jar_value("stock_powder"), jar_value("stock_taken")]


def _command(told: Asked, recipe: Path | None, by: str, times: float) -> str:
    """What is typed when the table is filled in."""
    words = ["huedose jar"]
    if recipe is not None:
        words.append(printable(str(recipe)))
    elif told.demo is not None:
        words.append(f"--demo {told.demo}")
    words.append("jar.csv")
    words += [f'--weighed "{one}"' for one in told.weighed]
    if told.solution is not None:
        words.append(f'--solution "{printable(told.solution)}"')
    words += [f'--jar "{told.jar}"', f"--by {by}"]
    if told.plain:
        words.append("--plain")
    if times != 1.0:
        words.append(f"--colour-times {times:g}")
    if told.target is not None:
        words.append(f'--target "{printable(told.target)}"')
    return " ".join(words)
