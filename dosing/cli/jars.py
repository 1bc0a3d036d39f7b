"""``jar``: a series of readings in, the corrected dose out; or how to do the test."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from dosing.bath.inputs import RecipeInputs
from dosing.cli.jar_photos import where
from dosing.cli.jar_readings import Series, kind_of_all, readings_of, series_of, unit_name
from dosing.cli.jar_text import answer_document, guide_document, show_answer, show_guide
from dosing.cli.jsonout import judged
from dosing.cli.output import Page, printable, to_json
from dosing.cli.planning import NOT_MET, check_picture, recipe_of
from dosing.equilibrium import water_density_kg_l
from dosing.ingredients.powders import Blend, powder, purity_spread
from dosing.jar.kit import (
    BY,
    MOST_DROPS,
    SCALES,
    UNITS,
    check_instrument,
    drops_holding,
    dry_powder,
    jar_of,
    percent_for_drops,
    solution,
    times_for_a_camera,
    weighing_sd,
)
from dosing.jar.model import Jar, JarModel, Readings, Titrant, jar_value, kind_read, ph_noise
from dosing.plan.cautions import pour_forbidden
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
from dosing.words.plan import stopped_lines
from indicator.accepted import reason
from indicator.appearance import delta_e, hex_of_lab
from indicator.notes import Note, Value, say
from indicator.optics import View, jar_view, view_value
from indicator.photograph import LIMITS as PHOTOGRAPH
from indicator.spread import cast_error
from indicator.tables import value_of

BY_NAMES = {name: name for name in BY} | {
    "color": "colour", "photo": "photograph", "photos": "photograph",
    "photographs": "photograph", "camera": "photograph",
    "kit": "drop-kit", "ph-kit": "drop-kit", "ph-drop-kit": "drop-kit",
    "strips": "strip", "ph-strip": "strip", "ph-strips": "strip", "ph-meter": "meter",
}  # fmt: skip
DRY = ("g", "pinches")
LITRES = (0.05, 20.0)
DROPS_PER_ML = (5.0, 60.0)
TIMES = (0.1, 50.0)
RECTANGLE = "X,Y,WIDTH,HEIGHT"
"""In a command, for what only the pictures tell."""
_ML_PER_L = 1000.0
NEUTRAL = 7.0
"""Where a reading's spread is taken before there is one [pH]."""


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
    white: Sequence[str]
    liquid: str | None
    temperature: str | None
    target: str | None
    accept_ph: str | None
    accept_pouring: str | None
    instructions: bool
    picture: Path | None


def run_jar(asked: Asked, *, as_json: bool) -> int:
    """Correct a dose, or lay a test out; returns the exit code."""
    check_picture(asked.picture)
    recipe, table = _files(asked.files)
    inputs = recipe_of(recipe, asked.demo)
    if asked.instructions:
        if table is not None or asked.steps:
            raise InputError(say("jar.error.instructions-and-series"), "instructions")
        return _instructed(inputs, asked, recipe, as_json=as_json)
    if asked.picture is not None:
        raise InputError(say("jar.error.picture"), "picture")
    series = series_of(table, asked.steps)
    kind = kind_of_all(series)
    by = _by(asked.by, kind, picked=series.picked)
    unit = _unit(asked.unit, series)
    titrant, notes = _titrant(inputs, asked, unit)
    jar = _jar(inputs, asked, by, _times(asked))
    view = _view(asked)
    everywhere = where(asked.white, asked.liquid)
    readings = readings_of(series, unit, kind, by, jar, view, everywhere)
    model = JarModel(inputs, jar, titrant, readings.kind, readings.shared_sd, view)
    if kind == "photo" and len(readings.added) == 1:
        return _first_picture(model, readings, as_json=as_json)
    if unit not in DRY and asked.solution is None:
        # Half the strength taken for all of it would double the dose.
        raise InputError(say("jar.error.solution-missing", {"unit": unit}), "solution")
    from dosing.jar.answer import jar_test

    answer = jar_test(
        model,
        readings,
        by,
        target=asked.target,
        accept_ph=reason("accept-ph", asked.accept_ph),
        accept_pouring=reason("accept-pouring", asked.accept_pouring),
    )
    plain = cast_error(value_of(PHOTOGRAPH, "most_plain_cast"))
    if readings.kind != "ph" and readings.noise.max() > plain:
        notes = [*notes, Note("jar.note.cast")]
    answer = replace(answer, notes=(*answer.notes, *notes, *_jar_notes(asked, jar)))
    if as_json:
        to_json(answer_document(answer, model))
    else:
        show_answer(answer, model, Page())
    return 0 if answer.reached else NOT_MET


def _first_picture(model: JarModel, readings: Readings, *, as_json: bool) -> int:
    """Say that a picture can be used, before acid and time go into a whole series."""
    expected = model.predicted(np.zeros(len(model.names)), readings.added)
    read, told = (str(hex_of_lab(one[0], "D65", 2)) for one in (readings.values, expected))
    off = float(delta_e(readings.values[0], expected[0]))
    if as_json:
        to_json({"by": "photograph", "read": read, "expected": told, "residual": off})
    else:
        Page().line(say("jar.first-picture", {"read": read, "expected": told, "off": off}))
    return 0


def _files(files: Sequence[Path]) -> tuple[Path | None, Path | None]:
    tables = [one for one in files if one.suffix.lower() in (".csv", ".tsv", ".txt")]
    recipes = [one for one in files if one not in tables]
    if len(tables) > 1 or len(recipes) > 1:
        raise InputError(say("jar.error.files"), "files")
    return (recipes[0] if recipes else None), (tables[0] if tables else None)


def _by(written: str | None, kind: str, *, picked: bool = False) -> str:
    """What was read with, where the readings are of this kind."""
    by = _by_name(written)
    if kind == "ph":
        if by is None:
            raise InputError(say("jar.error.by-missing"), "by")
        if kind_read(by) != "ph":
            raise InputError(say("jar.error.by-ph", {"value": repr(written)}), "by", written)
        return by
    meant = "photograph" if kind == "photo" else "colour"
    if by not in (None, meant) and not (picked and by == "colour"):
        raise InputError(say(f"jar.error.by-{meant}", {"value": repr(written)}), "by", written)
    return meant


def _by_name(written: str | None) -> str | None:
    if written is None:
        return None
    by = BY_NAMES.get(written.strip().casefold().replace(" ", "-"))
    if by is None:
        raise InputError(say("jar.error.by", {"value": repr(written)}), "by", written)
    return by


def _unit(written: str | None, series: Series | None) -> str:
    unit = None if written is None else unit_name(written)
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
    drops = asked.drops_per_ml
    if drops is not None and not DROPS_PER_ML[0] <= drops <= DROPS_PER_ML[1]:
        raise InputError(say("jar.error.drops", {"value": drops}), "drops-per-ml")
    if unit in DRY:
        if asked.solution is not None:
            values: dict[str, Value] = {"value": repr(asked.solution), "unit": unit}
            raise InputError(say("jar.error.solution-dry", values), "solution", asked.solution)
        return dry_powder(parts, unit=unit, scale="fine-scale", same_powder=same), []
    weighed = _weighed(asked)
    off = weighing_sd(weighed, scale)
    notes = []
    if not asked.weighed:
        notes.append(Note("jar.note.weighed", {"grams": weighed[0], "off": off}))
    titrant = solution(
        parts,
        _percent(asked.solution),
        unit=unit,
        # Another powder than the tub's brings its own purity.
        made_sd=float(np.hypot(off, 0.0 if same else _purity(parts))),
        same_powder=same,
        drops_per_ml=drops,
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
    if kind_read(by) != "ph" and asked.plain:
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


def _view(asked: Asked) -> View:
    """The jar against white by daylight, as the instructions have it, whatever lights the tub."""
    return jar_view(view_value("jar_path") if asked.path is None else length_cm(asked.path, "path"))


def _jar_notes(asked: Asked, jar: Jar) -> list[Note]:
    notes = []
    if asked.temperature is None:
        notes.append(Note("jar.note.temperature", {"temperature": jar.temperature_c}))
    return notes


def _instructed(inputs: RecipeInputs, asked: Asked, recipe: Path | None, *, as_json: bool) -> int:
    """Lay a test out and show it; 3 where the bath is forbidden before any acid."""
    from dosing.plan.answer import preview
    from dosing.words.jar_guide import guide

    own = preview(inputs, 0.0, accept_ph=asked.accept_ph, accept_pouring=asked.accept_pouring)
    code = NOT_MET if pour_forbidden(own.cautions) else 0

    by = _by_for_instructions(inputs, asked)
    unit = _unit(asked.unit, None)
    told = _filled_in(inputs, asked, by, unit)
    if unit == "drops":
        told = replace(told, solution=_solution_for_drops(inputs, told, by))
        told = _filled_in(inputs, replace(told, weighed=asked.weighed), by, unit)
    model = _expected(inputs, told, by, unit)
    by_ml = replace(told, solution=None, weighed=_good_weighings(_percent(None)))
    found = guide(
        model,
        by,
        target=told.target,
        parts=_acid(inputs, told.acid)[0],
        weighed_g=() if unit in DRY else _weighed(told),
        percent=_percent(told.solution),
        colour_times=_times(told),
        view=_view(told),
        command=_command(_with_strength(told, unit), recipe, by),
        syringe=None if unit == "mL" else _titrant(inputs, by_ml, "mL")[0],
    )
    added = found.rows[-1].total
    if unit == "mL" and added > _ML_PER_L * model.jar.litres:
        return _no_room(own, added, model.jar.litres, as_json=as_json)
    if asked.picture is not None:
        from dosing.pictures.jar import draw_guide
        from indicator.sheet import write_picture

        write_picture(draw_guide(found), asked.picture)
    if as_json:
        to_json({**guide_document(found), **judged(own)})
        return code
    page = Page()
    page.show(stopped_lines(own))
    show_guide(found, page)
    if asked.picture is not None:
        page.line(say("cli.picture-written", {"file": printable(str(asked.picture))}))
    return code


def _no_room(own: Plan, added_ml: float, litres: float, *, as_json: bool) -> int:
    """Say that more acid would go into the jar than it holds."""
    text = say("jar.no-room", {"added": wording.litres(added_ml / _ML_PER_L), "jar": litres})
    if as_json:
        to_json({"title": own.title, "refused": text, **judged(own)})
        return NOT_MET
    page = Page()
    page.show(stopped_lines(own))
    page.line(text)
    return NOT_MET


def _filled_in(inputs: RecipeInputs, asked: Asked, by: str, unit: str) -> Asked:
    """What was asked for, with what makes a good test where nothing was said."""
    weighed = asked.weighed
    if unit not in DRY and not weighed:
        weighed = _good_weighings(_percent(asked.solution))
    times = asked.colour_times
    if times is None and kind_read(by) != "ph":
        times = times_for_a_camera(inputs, _view(asked))
    return replace(
        asked,
        weighed=() if unit in DRY else weighed,
        plain=asked.plain or (by in ("strip", "drop-kit") and not asked.with_foam),
        jar=asked.jar if asked.jar != "1 L" else "1000 g",
        colour_times=times,
    )


def _solution_for_drops(inputs: RecipeInputs, told: Asked, by: str) -> str:
    """A strength of the acid whose drops a hand can count."""
    from dosing.jar.answer import target_ph
    from dosing.jar.design import units_to_ph

    model = _expected(inputs, told, by, "drops")
    ph = target_ph(model, told.target)
    aim = units_to_ph(model, np.zeros(len(model.names)), ph) * model.titrant.grams_per_unit
    percent = _percent(told.solution)
    if told.solution is None:
        percent = percent_for_drops(aim, told.drops_per_ml)
    count = drops_holding(aim, percent, told.drops_per_ml)
    if count > MOST_DROPS:
        values: dict[str, Value] = {"count": count, "percent": percent}
        raise InputError(say("jar.error.drops-many", values), "unit", told.unit)
    return told.solution or f"{percent:g} %"


def _expected(inputs: RecipeInputs, told: Asked, by: str, unit: str) -> JarModel:
    """The model of a test that is still to be done."""
    titrant, _ = _titrant(inputs, told, unit)
    jar = _jar(inputs, told, by, _times(told))
    kind = kind_read(by)
    shared = ph_noise(by, NEUTRAL)[1] if kind == "ph" else 0.0
    return JarModel(inputs, jar, titrant, kind, shared, _view(told))


def _times(asked: Asked) -> float:
    return 1.0 if asked.colour_times is None else asked.colour_times


def _by_for_instructions(inputs: RecipeInputs, asked: Asked) -> str:
    """What will be read with; a drop kit of the recipe tells alkalinity, not pH."""
    by = _by_name(asked.by)
    if by is not None:
        return by
    if inputs.water.instrument == "meter":
        return "meter"
    return "strip" if asked.plain or not inputs.colours else "photograph"


def _good_weighings(percent: float) -> tuple[str, ...]:
    """More powder, thinned afterwards: the scale's error is small against it."""
    stock = f"{jar_value('stock_powder'):g} g"
    if percent >= jar_value("stock_percent"):
        return (stock,)
    return (stock, f"{jar_value('stock_taken'):g} g")


def _with_strength(told: Asked, unit: str) -> Asked:
    """With the strength that the series will be asked for."""
    if unit in DRY:
        return told
    return replace(told, solution=told.solution or f"{_percent(None):g} %")


def _command(told: Asked, recipe: Path | None, by: str) -> str:
    """What is typed when the table is filled in."""
    words = ["huedose jar"]
    if recipe is not None:
        name = printable(str(recipe))
        words.append(f'"{name}"' if " " in name else name)
    elif told.demo is not None:
        words.append(f"--demo {told.demo}")
    words.append("jar.csv")
    words += [f'--weighed "{printable(one)}"' for one in told.weighed]
    for option in ("solution", "acid", "path", "temperature", "target"):
        value = getattr(told, option)
        if value is not None:
            words.append(f'--{option} "{printable(value)}"')
    if told.scale != SCALES[0]:
        words.append(f"--scale {told.scale}")
    if told.drops_per_ml is not None:
        words.append(f"--drops-per-ml {told.drops_per_ml:g}")
    words += [f'--jar "{printable(told.jar)}"', f"--by {by}"]
    if by == "photograph":
        known = where(told.white, told.liquid)
        words += [f"--white {one}" for one in known.white or (RECTANGLE,)]
        words += [f"--liquid {known.liquid or RECTANGLE}"]
    if told.plain:
        words.append("--plain")
    if _times(told) != 1.0:
        words.append(f"--colour-times {_times(told):g}")
    return " ".join(words)
