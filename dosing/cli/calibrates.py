"""``calibrate``: a pigment fitted to the maker's own jars, written as a pigment file."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from dosing.cli.jar_series import Photo, jar_series
from dosing.cli.output import Page, printable, to_json
from dosing.cli.outputs import check_free
from dosing.cli.own_files import chosen_folder, known_pigments
from dosing.recipe.quantities import InputError, colour_strength, length_cm
from indicator.appearance import hex_of_lab
from indicator.calibration import COVERAGE, Calibration, Fitted, JarFit, Series, calibrate
from indicator.colourants import Colourant
from indicator.micelles import surfactant_kinds
from indicator.notes import Value, say
from indicator.optics import jar_view, view_value
from indicator.own import pigment_folder
from indicator.photograph import LIMITS as PHOTOGRAPH
from indicator.photograph import parse_patch
from indicator.pigment_file import NAME, write_pigment_file
from indicator.pigments import SHIPPED, name_free
from indicator.tables import value_of

PH_BY = ("meter", "buffer", "drop-kit")
NOT_MET = 3
G_PER_L = 10.0
"""Of one per cent."""
ASIDE = ("strength", "gain", "curve", "amount")
"""Told elsewhere, or only there so that the others are honest."""
FAR = 2.5
ODD, MUCH = 2.0, 6.0
"""Standard deviations of a move from which other pigments are tried; how much better one fits."""
LEAST_DILUTION, MOST_DILUTION = 0.1, 1e5


@dataclass(frozen=True)
class Asked:
    """What was typed after the command."""

    pigment: str
    series: Path | None
    photo: Path | None
    white: Sequence[str]
    jars: Sequence[str]
    path: str | None
    light: str
    diluted: float
    petals: str | None
    ph_by: str
    in_foam_bath: str | None
    only_strength: bool
    name: str | None
    output: Path | None
    anyway: bool


def run_calibrate(asked: Asked, *, as_json: bool) -> int:
    """Fit a pigment and write its file; 3 where the jars hardly are of that pigment."""
    which = known_pigments().find(asked.pigment)
    series = _series(asked)
    percent = _petals(asked.petals, which)
    surfactants = None if asked.in_foam_bath is None else _surfactants(asked.in_foam_bath)
    file = _file(asked, which)

    def fitted(pigment: Colourant) -> Calibration:
        return calibrate(
            pigment,
            series,
            petals_percent=percent if pigment is which else None,
            only_strength=asked.only_strength or which.kind == "dye",
            surfactants_g_l=surfactants,
        )

    fit = fitted(which)
    nearer = _nearer(which, fit, fitted)
    doubtful = fit.doubtful or nearer is not None
    refused = doubtful and not asked.anyway
    # A strength alone belongs to this one jar, unless it is known what was brewed.
    worth_a_file = len(fit.fitted) > 1 or percent is not None
    if not worth_a_file and (asked.name is not None or asked.output is not None):
        raise InputError(say("calibrate.no-file-to-name"), "name", asked.name)
    if worth_a_file and not refused:
        own = replace(fit.pigment, name=file.stem, label=file.stem.replace("-", " "), aliases=())
        write_pigment_file(own, file, _made(asked, which, fit))
    written = file if worth_a_file and not refused else None
    shown = _Shown(which, fit, series, percent, written, nearer, doubtful, refused=refused)
    if as_json:
        to_json(_document(shown))
    else:
        _show(shown, Page())
    return NOT_MET if refused else 0


@dataclass(frozen=True)
class _Shown:
    """Everything that the answer tells."""

    which: Colourant
    fit: Calibration
    series: Series
    percent: float | None
    file: Path | None
    nearer: str | None
    """A shipped pigment that the jars fit much better."""
    doubtful: bool
    """Whether the jars hardly are of the pigment that was named."""
    refused: bool


def _nearer(
    which: Colourant, fit: Calibration, fitted: Callable[[Colourant], Calibration]
) -> str | None:
    """Another shipped pigment that the jars fit much better, if there is one."""
    if which.kind == "dye" or not (fit.doubtful or fit.furthest > ODD):
        return None
    rivals = [one for one in SHIPPED.every if one.kind == "pigment" and one.family != which.family]
    best = min(map(fitted, rivals), key=lambda one: one.cost)
    return best.pigment.label if not best.doubtful and best.cost + MUCH < fit.cost else None


def _series(asked: Asked) -> Series:
    path_cm = view_value("jar_path") if asked.path is None else length_cm(asked.path, "path")
    ph_by = asked.ph_by.strip().lower().replace(" ", "-")
    if ph_by not in PH_BY:
        code = "calibrate.strip" if ph_by == "strip" else "calibrate.ph-by"
        accepted = say("plan.comma").join(PH_BY)
        raise InputError(say(code, {"value": asked.ph_by, "accepted": accepted}), "ph-by")
    if not LEAST_DILUTION <= asked.diluted <= MOST_DILUTION:
        values = {"value": asked.diluted, "low": LEAST_DILUTION, "high": MOST_DILUTION}
        raise InputError(say("calibrate.diluted", values), "diluted", asked.diluted)
    photo = None
    if asked.photo is not None:
        white = tuple(parse_patch(text) for text in asked.white)
        photo = Photo(asked.photo, white, tuple(asked.jars))
    elif asked.white or asked.jars:
        raise InputError(say("calibrate.no-photo"), "photo")
    return jar_series(
        asked.series,
        photo,
        view=jar_view(path_cm, light=asked.light),
        path_cm=1.0 if asked.path is None else path_cm,
        path_measured=asked.path is not None,
        diluted=asked.diluted,
        ph_by=ph_by,
    )


def _petals(text: str | None, which: Colourant) -> float | None:
    if text is None:
        return None
    strength = colour_strength(text, "petals")
    if strength.kind != "percent" or strength.value <= 0 or which.kind == "dye":
        raise InputError(say("calibrate.petals", {"value": text}), "petals", text)
    return strength.value


def _surfactants(text: str) -> dict[str, float]:
    """Active matter by kind [g/L] from ``"9 % anionic, 3 % amphoteric"``; anionic if not said."""
    found: dict[str, float] = {}
    for part in text.split(","):
        match = re.fullmatch(r"\s*(\d+(?:\.\d+)?\s*%)\s*([a-z-]*)\s*", part.casefold())
        kind = match[2] or "anionic" if match else ""
        if match is None or kind not in surfactant_kinds():
            raise InputError(say("calibrate.active", {"value": text}), "in-foam-bath", text)
        found[kind] = found.get(kind, 0.0) + G_PER_L * colour_strength(match[1], "x").value
    return found


def _file(asked: Asked, which: Colourant) -> Path:
    name = asked.name
    if name is None:
        name = f"own-{which.family}" if asked.output is None else asked.output.stem
    if not NAME.fullmatch(name):
        raise InputError(say("calibrate.name", {"value": name}), "name", name)
    file = (
        pigment_folder(chosen_folder()) / f"{name}.toml" if asked.output is None else asked.output
    )
    if file.suffix != ".toml" or file.is_dir():
        raise InputError(say("calibrate.ending", {"file": str(file)}), "output", str(file))
    if file.stem != name:
        raise InputError(say("calibrate.two-names", {"value": name}), "name", name)
    if asked.output is not None and not file.parent.is_dir():
        raise InputError(say("cli.output-folder", {"file": str(file)}), "output")
    if not name_free(name, file, chosen_folder()):
        raise InputError(say("calibrate.name-taken", {"value": name}), "name", name)
    check_free(file, "output" if asked.output else "name")
    return file


def _made(asked: Asked, which: Colourant, fit: Calibration) -> dict[str, object]:
    return {
        "from_pigment": which.name,
        "on": date.today().isoformat(),
        "jars": len(fit.jars),
        "set_aside": [jar.label for jar in fit.jars if jar.set_aside],
        "petals": asked.petals,
        "residual": fit.residual,
        "misfit": fit.misfit,
        "learnt": [_what(one) for one in fit.fitted if one.learnt],
    }


def _what(one: Fitted) -> str:
    return f"{one.what} {one.form}".strip()


def _document(shown: _Shown) -> dict[str, Any]:
    which, fit, file = shown.which, shown.fit, shown.file
    per_percent = fit.pigment.per_percent
    return {
        "pigment": which.name,
        "name": None if file is None else file.stem,
        "file": None if file is None else str(file),
        "readings": shown.series.kind,
        "path_cm": None if shown.series.view is None else shown.series.view.path_cm,
        "doubtful": shown.doubtful,
        "nearer": shown.nearer,
        "strength": {**vars(fit.strength), "unit": "1/cm" if which.kind == "pigment" else "mol/L"},
        "strength_per_percent": (
            None if shown.percent is None or per_percent is None else vars(per_percent)
        ),
        "coverage": COVERAGE,
        "numbers": [{**vars(one), "learnt": one.learnt} for one in fit.fitted],
        "jars": [{**vars(jar), "set_aside": jar.set_aside} for jar in fit.jars],
        "dropped": [vars(one) for one in shown.series.unread],
        "white_cast": shown.series.cast if shown.series.kind == "photograph" else None,
        "residual": fit.residual,
        "residual_unit": "1/cm" if shown.series.view is None else "CIEDE2000",
        "misfit": fit.misfit,
        "surprise": fit.surprise,
    }


def _show(shown: _Shown, page: Page) -> None:
    which, fit, series, file = shown.which, shown.fit, shown.series, shown.file
    counted = say("calibrate.jars-one" if len(fit.jars) == 1 else "calibrate.jars")
    values: dict[str, Value] = {"label": which.label, "count": len(fit.jars)}
    page.line(say("calibrate.title", values | {"jars": counted}), style="bold")
    if shown.doubtful:
        _show_doubt(shown, page)
    page.heading(say("calibrate.strength"))
    _show_strength(which, fit, shown.percent, page)
    if series.view is not None and not series.path_measured:
        page.line(say("calibrate.path-usual", {"path_cm": series.view.path_cm}), 2, 2)
    learnt = [one for one in fit.fitted if one.what not in ASIDE and one.learnt]
    kept = [one for one in fit.fitted if one.what not in ASIDE and not one.learnt]
    if learnt:
        page.heading(say("calibrate.moved"))
        for one in learnt:
            page.line(_number_line(which, one), indent=2, hang=2)
    if kept:
        page.heading(say("calibrate.kept"))
        names = say("plan.comma").join(_name(which, one) for one in kept)
        page.line(say("calibrate.kept-line", {"names": names}), indent=2, hang=2)
    page.heading(say("calibrate.heading-jars"))
    for jar in fit.jars:
        if series.view is None:
            page.line(_jar_line(jar, series), indent=2, hang=2)
        else:
            labs = (jar.read, jar.fitted)
            light = "D65" if series.in_daylight else series.view.light
            read, fitted = (str(one) for one in hex_of_lab(labs, light, series.view.observer_deg))
            page.pair(read, fitted, _jar_line(jar, series))
    for left in series.unread:
        page.line(say("calibrate.jar-dropped", {"jar": left.label, "why": left.reason}), 2, 2)
    if series.cast > value_of(PHOTOGRAPH, "most_plain_cast"):
        page.line(say("calibrate.cast", {"times": series.cast}), indent=2, hang=2)
    if series.view is not None and page.coloured:
        page.line(say("calibrate.blocks"), indent=2, hang=2)
    if fit.misfit > 1.5:
        page.line(say("calibrate.scatter", {"times": fit.misfit}), indent=2, hang=2)
    if shown.refused:
        return
    page.heading(say("calibrate.use"))
    if file is None:
        page.line(_strength_advice(which, fit), indent=2, hang=2)
        return
    if shown.percent is None:
        page.line(say("calibrate.no-strength", {"best": fit.strength.best}), indent=2, hang=2)
    known = chosen_folder() is None and file.parent == pigment_folder()
    written: dict[str, Value] = {"file": printable(str(file)), "name": file.stem}
    page.line(say("calibrate.written-own" if known else "calibrate.written", written), 2, 2)


def _show_doubt(shown: _Shown, page: Page) -> None:
    """Say first that the jars hardly are of this pigment."""
    values: dict[str, Value] = {"label": shown.which.label}
    page.line(say("calibrate.doubtful", values), style="bold")
    light = next((one for one in shown.fit.fitted if one.what == "gain"), None)
    if light is not None and abs(light.best - 1.0) > FAR * light.prior_sd:
        page.line(say("calibrate.doubtful-light", {"times": light.best}), indent=2, hang=2)
    if shown.nearer is not None:
        page.line(say("calibrate.nearer", {"label": shown.nearer}), indent=2, hang=2)
    strength = shown.fit.fitted[0]
    moved = abs(float(np.log(strength.best / strength.prior)))
    if shown.percent is not None and moved > FAR * strength.prior_sd:
        times = max(strength.best / strength.prior, strength.prior / strength.best)
        way = "weaker" if strength.best < strength.prior else "stronger"
        page.line(say(f"calibrate.{way}", {"times": times}), indent=2, hang=2)
    if len(shown.fit.fitted) > 1:
        page.line(say(f"calibrate.{'not-written' if shown.refused else 'anyway'}"), 2, 2)


def _show_strength(which: Colourant, fit: Calibration, percent: float | None, page: Page) -> None:
    if which.kind == "dye":
        scale = 1000.0 * (which.molar_mass or 0.0)
        values: dict[str, Value] = {
            key: scale * getattr(fit.strength, key) for key in ("best", "low", "high")
        }
        page.line(say("calibrate.dye-strength", values), indent=2, hang=2)
        return
    page.line(say("calibrate.infusion", {**vars(fit.strength)}), indent=2, hang=2)
    if percent is not None and which.per_percent is not None and fit.pigment.per_percent:
        page.line(
            say(
                "calibrate.per-percent",
                {
                    "best": fit.pigment.per_percent.best,
                    "usual": which.per_percent.best,
                    "low": which.per_percent.low,
                    "high": which.per_percent.high,
                },
            ),
            indent=2,
            hang=2,
        )


def _strength_advice(which: Colourant, fit: Calibration) -> str:
    if which.kind == "dye":
        return say("calibrate.use-dye")
    return say("calibrate.use-strength", {"best": fit.strength.best})


def _name(which: Colourant, one: Fitted) -> str:
    before = next((form.from_form for form in which.forms if form.form == one.form), "")
    return say(f"calibrate.name-of.{one.what}", {"form": one.form, "before": before})


def _number_line(which: Colourant, one: Fitted) -> str:
    values: dict[str, Value] = {
        "name": _name(which, one),
        "prior": one.prior,
        "best": one.best,
        "low": one.low,
        "high": one.high,
    }
    return say(f"calibrate.moved-{one.what}", values)


def _jar_line(jar: JarFit, series: Series) -> str:
    values: dict[str, Value] = {"jar": jar.label, "ph": jar.ph, "off": jar.residual}
    unit = "absorbance" if series.view is None else "colour"
    code = "set-aside" if jar.set_aside else "agrees"
    return say(f"calibrate.jar-{code}-{unit}", values)
