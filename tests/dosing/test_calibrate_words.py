"""What ``calibrate`` says: every branch of its template, in few lines and plain words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dosing.words.calibration import CalibrationDocument
from dosing.words.marks import plain
from dosing.words.templates import render
from indicator.absorbance import form_spectra, mixture_absorbance
from indicator.appearance import seen
from indicator.calibration import Calibration, Series, Unread, calibrate
from indicator.optics import jar_view
from indicator.pigments import colourant

PH = np.array([2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0])


@cache
def fitted(name: str = "butterfly-pea", kind: str = "lab") -> Calibration:
    which, view = colourant(name), jar_view()
    strength = 0.1 if which.kind == "pigment" else 0.8 / float(form_spectra(which).max()) / 8
    absorbance = mixture_absorbance({which: strength}, PH)
    nm = np.array([520.0, 550.0, 625.0])
    curves = mixture_absorbance({which: strength}, PH, wavelength_nm=nm)
    return calibrate(
        which,
        Series(
            ph=PH,
            values=curves if kind == "absorbance" else seen(absorbance, view).lab,
            dilution=np.full(len(PH), 0.1 / 6.0),
            kind=kind,
            ph_by="meter",
            labels=tuple(f"pH {ph:.1f}" for ph in PH),
            wavelength_nm=nm if kind == "absorbance" else None,
            view=None if kind == "absorbance" else view,
            path_measured=False,
        ),
        only_strength=which.kind == "dye",
        petals_percent=2.0 if which.kind == "pigment" else None,
    )


def document(fit: Calibration, *, written: bool = True, **how: bool) -> CalibrationDocument:
    refused = how.get("refused", False)
    file = Path("ours.toml") if written and not refused else None
    shown = Path("jars-read.png") if how.get("on_mat") else None
    return CalibrationDocument(fit, refused, file, how.get("found_by_name", True), shown)


def words(fit: Calibration, *, more: bool = False, **how: bool) -> str:
    return plain(render("calibrate", answer=document(fit, **how), more=more))


def odd(fit: Calibration, what: str, times: float) -> Calibration:
    """The fit with one number moved far away."""
    numbers = tuple(
        replace(n, best=n.prior * times, prior_sd=0.1) if n.what == what else n for n in fit.numbers
    )
    return replace(fit, numbers=numbers, misfit=2.0)


def test_a_good_fit_is_short_and_plain() -> None:
    text = words(fitted())
    assert len(text.splitlines()) <= 12
    assert "STRENGTH of your liquid" in text
    assert "ours.toml" in text
    for hard in ("flavylium", "chalcone", "e-0", "quantile", "pKa"):
        assert hard not in text


DOUBTS: tuple[tuple[Callable[[Calibration], Calibration], str], ...] = (
    (lambda fit: replace(fit, nearer="red cabbage"), "They fit red cabbage much better"),
    (lambda fit: odd(fit, "gain", 2.0), "2.00 times that on the white"),
    (lambda fit: odd(fit, "strength", 6.0), "6 times stronger than such"),
    (lambda fit: odd(fit, "strength", 0.2), "5 times weaker than such"),
    (lambda fit: replace(fit, misfit=1.7), "scatter 1.7 times"),
    (
        lambda fit: replace(fit, jars=(replace(fit.jars[0], weight=0.1), *fit.jars[1:])),
        "pH 2.0 contradicts the others",
    ),
    (
        lambda fit: replace(
            fit, series=replace(fit.series, unread=(Unread("pH 9.0", 9.0, "It is burnt."),))
        ),
        "pH 9.0 is left out. It is burnt.",
    ),
    (
        lambda fit: replace(
            fit, series=replace(fit.series, kind="photograph", white=(0.9, 0.6, 0.2))
        ),
        "is it white paper",
    ),
    (
        lambda fit: replace(fit, numbers=tuple(replace(n, sd=n.prior_sd) for n in fit.numbers)),
        "tell nothing new",
    ),
)


@pytest.mark.parametrize(("fit", "part"), DOUBTS)
def test_what_may_be_wrong_is_told(fit: Callable[[Calibration], Calibration], part: str) -> None:
    shown = words(fit(fitted()))
    assert part in " ".join(shown.split())
    assert len(shown.splitlines()) <= 20


def test_of_the_mat_the_depth_is_asked_and_the_picture_named() -> None:
    fit = fitted()
    text = words(replace(fit, series=replace(fit.series, path_measured=False)), on_mat=True)
    assert "The liquid is taken to stand 8 cm deep" in text
    assert "LOOK: jars-read.png shows what was read" in text


def test_a_refused_fit_says_so_first_and_names_no_file() -> None:
    text = words(replace(fitted(), misfit=2.0), refused=True)
    assert "hardly are of butterfly pea" in text.splitlines()[1]
    assert "No file is written" in text
    assert "WRITTEN" not in text
    anyway = words(replace(fitted(), misfit=2.0))
    assert "written all the same" in anyway


def test_how_it_is_used() -> None:
    assert 'pigment = "ours" in a recipe; huedose colours ours' in words(fitted())
    assert 'pigment = "ours.toml" beside it' in words(fitted(), found_by_name=False)
    bare = replace(fitted(), strength_per_percent=None)
    assert 'Add strength = "6' in words(bare)
    assert 'in the recipe strength = "6' in words(bare, written=False)
    dye = words(fitted("tartrazine"), written=False)
    assert "mg of pure dye in a litre" in dye
    assert "drop_test" in dye


def test_every_branch_of_the_template_is_rendered(branches_missed: Callable[..., Any]) -> None:
    fit, dye = fitted(), fitted("tartrazine")
    shift = replace(fit.numbers[1], what="shift", sd=0.01)
    bare = replace(fit, strength_per_percent=None)
    answers = [document(change(fit)) for change, _ in DOUBTS]
    answers += [
        document(each, written=written) for each in (bare, dye) for written in (True, False)
    ]
    answers += [
        document(fit, found_by_name=False),
        document(replace(fit, numbers=(*fit.numbers, shift))),
        document(replace(fit, misfit=2.0), refused=True),
        document(replace(fit, misfit=2.0)),
        document(fitted(kind="absorbance")),
        document(replace(fit, series=replace(fit.series, path_measured=False)), on_mat=True),
        document(replace(fit, series=replace(fit.series, path_measured=False))),
    ]
    cases = [{"answer": answer, "more": more} for answer in answers for more in (False, True)]
    assert branches_missed("calibrate", cases) == []


def test_more_has_every_jar_and_every_number() -> None:
    fit = fitted()
    text = words(fit, more=True)
    for jar in fit.jars:
        assert f"{jar.label}: off by" in text
    for number in fit.numbers:
        assert not number.form or number.form in text
    assert "per cm" in words(fitted(kind="absorbance"), more=True)
    shift = replace(fit.numbers[1], what="shift", sd=0.01)
    assert "In your foam bath" in words(replace(fit, numbers=(*fit.numbers, shift)))
