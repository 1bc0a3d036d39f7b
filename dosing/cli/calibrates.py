"""``calibrate``: a pigment fitted to the maker's own jars, written as a pigment file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from dosing.cli.codes import NOT_MET
from dosing.cli.jar_series import Photo, jar_series
from dosing.cli.output import Page, show
from dosing.cli.outputs import check_free
from dosing.cli.own_files import chosen_folder, known_pigments
from dosing.recipe.quantities import InputError, colour_strength, length_cm
from dosing.words.calibration import calibration_lines
from indicator.calibration import (
    COVERAGE,
    Calibration,
    Series,
    Unread,
    calibrate,
    with_nearer,
)
from indicator.colourants import Colourant
from indicator.micelles import surfactant_kinds
from indicator.notes import say
from indicator.optics import jar_view, view_value
from indicator.own import pigment_folder
from indicator.photograph import parse_patch
from indicator.pigment_file import NAME, write_pigment_file
from indicator.pigments import SHIPPED, name_free

PH_BY = ("meter", "buffer", "drop-kit")
G_PER_L = 10.0
"""Of one per cent."""
LEAST_DILUTION, MOST_DILUTION = 0.1, 1e5


@dataclass(frozen=True)
class CalibrateOptions:
    """Options of ``calibrate``, as they were typed."""

    pigment: str
    series: Path | None
    photo: Path | None
    white: Sequence[str] | None
    jar: Sequence[str] | None
    path: str | None
    light: str | None
    diluted: float
    petals: str | None
    ph_by: str
    in_foam_bath: str | None
    only_strength: bool
    name: str | None
    output: Path | None
    anyway: bool
    as_json: bool


@dataclass(frozen=True)
class CalibrationDocument:
    """Answer of ``calibrate``."""

    answer: Calibration
    name: str | None
    """Of the pigment that was written."""
    file: str | None
    readings: str
    """Kind of the readings: absorbance, lab, hex or photograph."""
    path_cm: float | None
    """Inner width of the jars; null of absorbances."""
    strength_unit: str
    residual_unit: str
    coverage: float
    """Share of the truths that the intervals hold."""
    dropped: tuple[Unread, ...]
    """Jars that could not be read."""
    white_cast: float | None
    """Brightest over darkest channel of the white in a photograph."""


def run_calibrate(asked: CalibrateOptions) -> int:
    """Fit a pigment and write its file.

    Parameters
    ----------
    asked : CalibrateOptions
        What was typed.

    Returns
    -------
    int
        The exit code: 3 where the jars hardly are of that pigment.
    """
    which = known_pigments().find(asked.pigment)
    series = _series(asked)
    percent = _petals(asked.petals, which)
    surfactants = None if asked.in_foam_bath is None else _surfactants(asked.in_foam_bath)
    file = _file(asked, which)

    def calibrated(pigment: Colourant) -> Calibration:
        return calibrate(
            pigment,
            series,
            petals_percent=percent if pigment is which else None,
            only_strength=asked.only_strength or which.kind == "dye",
            surfactants_g_l=surfactants,
        )

    fit = with_nearer(calibrated(which), SHIPPED.every, calibrated)
    refused = fit.doubtful and not asked.anyway
    # A strength alone belongs to this one jar, unless it is known what was brewed.
    worth_a_file = len(fit.numbers) > 1 or percent is not None
    if not worth_a_file and (asked.name is not None or asked.output is not None):
        raise InputError(say("calibrate.no-file-to-name"), "name", asked.name)
    written = file if worth_a_file and not refused else None
    if written is not None:
        own = replace(fit.pigment, name=file.stem, label=file.stem.replace("-", " "), aliases=())
        write_pigment_file(own, file, _made(asked, fit))
    usual = chosen_folder() is None and file.parent == pigment_folder()
    seen = Page().coloured
    lines = calibration_lines(fit, written, refused=refused, usual_place=usual, coloured=seen)
    show(_document(fit, written), lines, as_json=asked.as_json)
    return NOT_MET if refused else 0


def _document(fit: Calibration, file: Path | None) -> CalibrationDocument:
    series = fit.series
    return CalibrationDocument(
        answer=fit,
        name=None if file is None else file.stem,
        file=None if file is None else str(file),
        readings=series.kind,
        path_cm=None if series.view is None else series.view.path_cm,
        strength_unit="1/cm" if fit.start.kind == "pigment" else "mol/L",
        residual_unit="1/cm" if series.view is None else "CIEDE2000",
        coverage=COVERAGE,
        dropped=series.unread,
        white_cast=series.cast if series.kind == "photograph" else None,
    )


def _series(asked: CalibrateOptions) -> Series:
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
        white = tuple(parse_patch(text) for text in asked.white or ())
        photo = Photo(asked.photo, white, tuple(asked.jar or ()))
    elif asked.white or asked.jar:
        raise InputError(say("calibrate.no-photo"), "photo")
    return jar_series(
        asked.series,
        photo,
        view=jar_view(path_cm, light=asked.light or "D65"),
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
    grams: dict[str, float] = {}
    for part in text.split(","):
        match = re.fullmatch(r"\s*(\d+(?:\.\d+)?\s*%)\s*([a-z-]*)\s*", part.casefold())
        kind = match[2] or "anionic" if match else ""
        if match is None or kind not in surfactant_kinds():
            raise InputError(say("calibrate.active", {"value": text}), "in-foam-bath", text)
        grams[kind] = grams.get(kind, 0.0) + G_PER_L * colour_strength(match[1], "x").value
    return grams


def _file(asked: CalibrateOptions, which: Colourant) -> Path:
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


def _made(asked: CalibrateOptions, fit: Calibration) -> dict[str, object]:
    return {
        "from_pigment": fit.start.name,
        "on": date.today().isoformat(),
        "jars": len(fit.jars),
        "set_aside": [jar.label for jar in fit.jars if jar.set_aside],
        "petals": asked.petals,
        "residual": fit.residual,
        "misfit": fit.misfit,
        "learnt": [
            f"{number.what} {number.form}".strip() for number in fit.numbers if number.learnt
        ],
    }
