"""A calibrated pigment in words: its strength, what the jars tell, and how it is used."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from dosing.words.lines import Line, headed, titled, under
from indicator.appearance import hex_of_lab
from indicator.calibration import Calibration, FittedNumber, JarFit
from indicator.notes import Value, say
from indicator.photograph import LIMITS as PHOTOGRAPH
from indicator.tables import value_of

ASIDE = ("strength", "gain", "curve", "amount")
"""Told elsewhere, or only there so that the others are honest."""
FAR = 2.5
"""Standard deviations of a move from which it is told why the jars hardly are of a pigment."""
SCATTERED = 1.5
"""Scatter over the stated one from which it is told."""


def calibration_lines(
    fit: Calibration, file: Path | None, *, refused: bool, usual_place: bool, coloured: bool
) -> list[Line]:
    """A calibrated pigment.

    Parameters
    ----------
    fit : Calibration
        The fit.
    file : Path or None
        Where it was written.
    refused : bool
        Whether it is not to be used.
    usual_place : bool
        Whether every command finds the file.
    coloured : bool
        Whether colours are shown beside the words.

    Returns
    -------
    list of Line
    """
    series, count = fit.series, len(fit.jars)
    numbers = [number for number in fit.numbers if number.what not in ASIDE]
    learnt = [_number(fit, number) for number in numbers if number.learnt]
    kept = [_name(fit, number) for number in numbers if not number.learnt]
    names: dict[str, Value] = {"names": say("plan.comma").join(kept)}
    jars = say("calibrate.jars-one" if count == 1 else "calibrate.jars")
    title: dict[str, Value] = {"label": fit.start.label, "count": count, "jars": jars}
    strength = [_strength(fit), *_per_percent(fit)]
    if series.view is not None and not series.path_measured:
        strength.append(say("calibrate.path-usual", {"path_cm": series.view.path_cm}))
    return [
        *titled(say("calibrate.title", title)),
        *(_doubt(fit, refused=refused) if fit.doubtful else []),
        *under(strength, "calibrate.strength"),
        *under(learnt, "calibrate.moved"),
        *under([say("calibrate.kept-line", names)] if kept else [], "calibrate.kept"),
        *headed(say("calibrate.heading-jars")),
        *[_jar(fit, jar) for jar in fit.jars],
        *under(_of_the_readings(fit, coloured=coloured)),
        *under([] if refused else _use(fit, file, usual_place=usual_place), "calibrate.use"),
    ]


def _doubt(fit: Calibration, *, refused: bool) -> list[Line]:
    """That the jars hardly are of this pigment, and what may be wrong."""
    texts = []
    light = next((number for number in fit.numbers if number.what == "gain"), None)
    if light is not None and abs(light.best - 1.0) > FAR * light.prior_sd:
        texts.append(say("calibrate.doubtful-light", {"times": light.best}))
    if fit.nearer is not None:
        texts.append(say("calibrate.nearer", {"label": fit.nearer}))
    strength = fit.numbers[0]
    if fit.strength_per_percent is not None and abs(strength.moved) > FAR:
        way = "weaker" if strength.moved < 0 else "stronger"
        times = float(np.exp(abs(strength.moved) * strength.prior_sd))
        texts.append(say(f"calibrate.{way}", {"times": times}))
    if len(fit.numbers) > 1:
        texts.append(say(f"calibrate.{'not-written' if refused else 'anyway'}"))
    doubtful = say("calibrate.doubtful", {"label": fit.start.label})
    return [*titled(doubtful), *under(texts)]


def _strength(fit: Calibration) -> str:
    if fit.start.kind != "dye":
        return say("calibrate.infusion", {**vars(fit.strength)})
    mg_per_mol = 1000.0 * (fit.start.molar_mass or 0.0)
    ends = {end: mg_per_mol * level for end, level in vars(fit.strength).items()}
    return say("calibrate.dye-strength", {**ends})


def _per_percent(fit: Calibration) -> list[str]:
    own, usual = fit.strength_per_percent, fit.start.per_percent
    if own is None or usual is None:
        return []
    values: dict[str, Value] = {**vars(usual), "best": own.best, "usual": usual.best}
    return [say("calibrate.per-percent", values)]


def _name(fit: Calibration, number: FittedNumber) -> str:
    before = next((form.from_form for form in fit.start.forms if form.form == number.form), "")
    return say(f"calibrate.name-of.{number.what}", {"form": number.form, "before": before})


def _number(fit: Calibration, number: FittedNumber) -> str:
    values = {end: getattr(number, end) for end in ("prior", "best", "low", "high")}
    return say(f"calibrate.moved-{number.what}", values | {"name": _name(fit, number)})


def _jar(fit: Calibration, jar: JarFit) -> Line:
    """A jar with its colour as it was read and as it was fitted."""
    view = fit.series.view
    hexes: tuple[str, ...] = ()
    if view is not None:
        light = "D65" if fit.series.in_daylight else view.light
        labs = np.array([jar.read, jar.fitted])
        hexes = tuple(str(colour) for colour in hex_of_lab(labs, light, view.observer_deg))
    unit = "absorbance" if view is None else "colour"
    code = f"calibrate.jar-{'set-aside' if jar.set_aside else 'agrees'}-{unit}"
    values: dict[str, Value] = {"jar": jar.label, "ph": jar.ph, "off": jar.residual}
    return Line(say(code, values), 2, 2, hexes=hexes)


def _of_the_readings(fit: Calibration, *, coloured: bool) -> list[str]:
    """What is to be said of all readings together."""
    series = fit.series
    texts = [
        say("calibrate.jar-dropped", {"jar": jar.label, "why": jar.reason}) for jar in series.unread
    ]
    if series.cast > value_of(PHOTOGRAPH, "most_plain_cast"):
        texts.append(say("calibrate.cast", {"times": series.cast}))
    if series.view is not None and coloured:
        texts.append(say("calibrate.blocks"))
    if fit.misfit > SCATTERED:
        texts.append(say("calibrate.scatter", {"times": fit.misfit}))
    return texts


def _use(fit: Calibration, file: Path | None, *, usual_place: bool) -> list[str]:
    """How the fit is used in a recipe."""
    strength: dict[str, Value] = {"best": fit.strength.best}
    if file is None:
        return [say(f"calibrate.use-{'dye' if fit.start.kind == 'dye' else 'strength'}", strength)]
    written: dict[str, Value] = {"file": str(file), "name": file.stem}
    told = [] if fit.strength_per_percent else [say("calibrate.no-strength", strength)]
    return [*told, say("calibrate.written-own" if usual_place else "calibrate.written", written)]
