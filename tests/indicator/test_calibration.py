"""The fit gives back what the jars were made of, and says what they do not tell."""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import colour
import numpy as np
import pytest
from numpy.typing import NDArray

from indicator.absorbance import WAVELENGTH_NM, form_fractions, form_spectra
from indicator.appearance import lab_from_hex, lab_of, seen
from indicator.calibration import Calibration, Series, calibrate
from indicator.colourants import Range
from indicator.micelles import micelle_shift, shifted_pka
from indicator.optics import jar_view
from indicator.photograph import patch_colours
from indicator.pigments import colourant
from indicator.spread import draws_of, height_sd

Array = NDArray[np.float64]

PH = np.array([2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0])
NM = np.array([430.0, 520.0, 548.0, 575.0, 620.0])
PETALS = 2.0
THINNED = 1.0 / 20.0


def series(values: Array, kind: str, ph: Array = PH) -> Series:
    colours = kind != "absorbance"
    return Series(
        ph=ph,
        values=values,
        dilution=np.full(len(ph), THINNED),
        kind=kind,
        ph_by="meter",
        labels=tuple(f"jar {k}" for k in range(1, len(ph) + 1)),
        wavelength_nm=None if colours else NM,
        view=jar_view(light="D65") if colours else None,
    )


def world(seed: int) -> tuple[Array, Array, float]:
    """Constants, heights and strength of a butterfly pea as the library's spreads allow it."""
    random = np.random.default_rng(seed)
    which = colourant("butterfly-pea")
    drawn = draws_of(which, 1, seed)
    assert which.per_percent is not None
    sigma = np.log(which.per_percent.high / which.per_percent.low) / (2 * 1.6449)
    strength = PETALS * which.per_percent.best * np.exp(sigma * random.standard_normal())
    return drawn.pka[0], drawn.heights[0], float(strength)


def absorbances(pka: Array, heights: Array, strength: float, seed: int) -> Array:
    """Readings of jars whose pH and absorbance are off by what the table of readings says."""
    random = np.random.default_rng(1000 + seed)
    which = colourant("butterfly-pea")
    ph = PH + 0.1 * random.standard_normal(len(PH))
    clean = (
        strength * THINNED * (form_fractions(which, ph, pka) * heights) @ form_spectra(which, NM)
    )
    return np.asarray(clean + np.hypot(0.01, 0.03 * clean) * random.standard_normal(clean.shape))


def fitted(fit: Calibration, what: str, form: str = "") -> tuple[float, float, float]:
    one = next(one for one in fit.numbers if (one.what, one.form) == (what, form))
    return one.low, one.best, one.high


@pytest.mark.slow
def test_intervals_of_colours_hold_the_truth_as_often_as_they_say() -> None:
    which = colourant("butterfly-pea")
    held = []
    for seed in range(30):
        pka, heights, strength = world(100 + seed)
        random = np.random.default_rng(seed)
        ph = PH + 0.1 * random.standard_normal(len(PH))
        liquid = strength * THINNED * (form_fractions(which, ph, pka) * heights)
        labs = lab_of(liquid @ form_spectra(which), jar_view())
        chroma = np.hypot(labs[:, 1], labs[:, 2])[:, None]
        labs = labs + np.hypot(1.0, 0.02 * chroma) * random.standard_normal(labs.shape)
        fit = calibrate(which, series(labs, "lab"), petals_percent=PETALS)
        for one in fit.numbers:
            place = [form.form for form in which.forms].index(one.form) if one.form else -1
            truth = {"strength": strength, "pka": pka[place], "height": heights[place]}
            if one.what in truth:
                held.append(one.low <= truth[one.what] <= one.high)
    assert 0.83 <= np.mean(held) <= 0.97


@pytest.mark.slow
def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    which = colourant("butterfly-pea")
    held = []
    for seed in range(60):
        pka, heights, strength = world(seed)
        values = absorbances(pka, heights, strength, seed)
        fit = calibrate(which, series(values, "absorbance"), petals_percent=PETALS)
        for one in fit.numbers:
            place = [form.form for form in which.forms].index(one.form) if one.form else -1
            truth = {"strength": strength, "pka": pka[place], "height": heights[place]}[one.what]
            held.append(one.low <= truth <= one.high)
    # Some 600 intervals of 90 %; those of one world hang together.
    assert 0.85 <= np.mean(held) <= 0.95


def test_colours_give_the_numbers_back() -> None:
    which = colourant("butterfly-pea")
    pka = which.pka.copy()
    pka[1], pka[3] = 3.6, 6.8
    clean = 8.0 * THINNED * form_fractions(which, PH, pka) @ form_spectra(which)
    noise = np.random.default_rng(4).normal(0.0, 1.0, (len(PH), 3))
    labs = lab_of(clean, jar_view()) + noise
    fit = calibrate(which, series(labs, "lab"), petals_percent=PETALS)
    for what, form, truth in (
        ("strength", "", 8.0),
        ("pka", "neutral base", 3.6),
        ("pka", "anionic base", 6.8),
    ):
        low, best, high = fitted(fit, what, form)
        assert low <= truth <= high
        assert best == pytest.approx(truth, rel=0.06)
    assert fit.pigment.own
    assert fit.pigment.per_percent is not None
    assert fit.pigment.per_percent.best == pytest.approx(4.0, rel=0.06)
    assert fit.residual < 3.0


@pytest.mark.slow
@pytest.mark.parametrize("spoilt", [0, 3, 7])
def test_one_bad_jar_is_found_and_does_not_spoil_the_rest(spoilt: int) -> None:
    which = colourant("red-cabbage")
    clean = 5.0 * THINNED * form_fractions(which, PH) @ form_spectra(which)
    labs = lab_of(clean, jar_view()) + np.random.default_rng(spoilt).normal(0, 1.0, (len(PH), 3))
    sound = calibrate(which, series(labs, "lab"), petals_percent=PETALS)
    labs[spoilt] += [20.0, -25.0, 20.0]
    fit = calibrate(which, series(labs, "lab"), petals_percent=PETALS)
    assert [jar.set_aside for jar in fit.jars] == [k == spoilt for k in range(len(PH))]
    assert fit.strength.best == pytest.approx(sound.strength.best, rel=0.1)


def test_what_no_jar_feels_stays_as_it_was() -> None:
    which = colourant("butterfly-pea")
    mild = np.array([5.0, 5.5, 6.0, 6.5, 7.0, 7.5])
    clean = 6.0 * THINNED * form_fractions(which, mild) @ form_spectra(which, NM)
    fit = calibrate(which, series(clean, "absorbance", mild), petals_percent=PETALS)
    forms = {form.form: form for form in fit.pigment.forms}
    assert forms["neutral base"].pka == 3.1
    assert forms["dianionic base"].pka == 9.0
    assert next(one for one in fit.numbers if one.form == "anionic base").learnt


def test_the_strength_alone_takes_one_jar_and_counts_what_is_not_known_of_the_pigment() -> None:
    which = colourant("butterfly-pea")
    ph = np.array([3.0])
    labs = lab_of(6.0 * THINNED * form_fractions(which, ph) @ form_spectra(which), jar_view())
    fit = calibrate(which, series(labs, "lab", ph), only_strength=True)
    assert [one.what for one in fit.numbers] == ["strength"]
    assert fit.strength.best == pytest.approx(6.0, rel=0.05)
    assert fit.strength.high / fit.strength.low > 1.2
    assert fit.pigment.pka[1] == which.pka[1]
    # A photograph may have been bent by the camera's tones or not.
    camera = calibrate(which, series(labs, "photograph", ph), only_strength=True).strength
    assert camera.low < 6.0 < camera.high
    assert camera.high / camera.low > fit.strength.high / fit.strength.low


def test_a_dye_has_only_a_strength() -> None:
    which = colourant("tartrazine")
    ph = np.array([7.0])
    labs = lab_of(4e-5 * THINNED * form_fractions(which, ph) @ form_spectra(which), jar_view())
    fit = calibrate(which, series(labs, "hex", ph))
    assert fit.strength.low < 4e-5 < fit.strength.high


def test_jars_of_foam_bath_tell_what_the_surfactants_do() -> None:
    which = colourant("butterfly-pea")
    surfactants = {"anionic": 90.0}
    expected = float(micelle_shift(surfactants).best)
    # In the jars the foam bath is thinned as much as the pigment, so that less is bound.
    thinned = {kind: one * THINNED for kind, one in surfactants.items()}
    bound = float(micelle_shift(thinned, Range(1.0, 1.0, 1.0)).best)
    pka = shifted_pka(which, 2.0 * bound)
    clean = 6.0 * THINNED * form_fractions(which, PH, pka) @ form_spectra(which)
    labs = lab_of(clean, jar_view())
    fit = calibrate(which, series(labs, "lab"), petals_percent=PETALS, surfactants_g_l=surfactants)
    low, best, high = fitted(fit, "shift")
    assert low < 2.0 < high
    assert best > expected
    assert fit.pigment.micelle_shift is not None
    # From then on the bottle is shown with what was found.
    found = micelle_shift(surfactants, fit.pigment.micelle_shift)
    assert float(found.best) == pytest.approx(best, rel=0.01)


@pytest.mark.slow
@pytest.mark.parametrize("light", ["D65", "A", "LED-warm", "LED-neutral"])
def test_hex_colours_under_a_lamp_give_the_numbers_back(light: str) -> None:
    which = colourant("butterfly-pea")
    pka = which.pka.copy()
    pka[1] = 3.6
    clean = 8.0 * THINNED * form_fractions(which, PH, pka) @ form_spectra(which)
    view = jar_view(light=light)
    labs = np.stack([lab_from_hex(str(one)) for one in seen(clean, view).hex])
    jars = replace(series(labs, "hex"), view=view)
    fit = calibrate(which, jars, petals_percent=PETALS)
    low, best, high = fitted(fit, "pka", "neutral base")
    assert low < 3.6 < high
    assert best == pytest.approx(3.6, abs=0.25)
    assert not fit.doubtful


def test_a_width_that_nobody_measured_widens_the_strength() -> None:
    which = colourant("butterfly-pea")
    clean = 6.0 * THINNED * form_fractions(which, PH) @ form_spectra(which)
    # The jars are 6 cm wide, and taken as 8.
    labs = lab_of(clean, jar_view(6.0))
    jars = series(labs, "lab")
    usual = calibrate(which, replace(jars, path_measured=False))
    measured = calibrate(which, replace(jars, view=jar_view(6.0)))
    # Six to ten centimetres are nine jars of ten; these lie at the end of them.
    assert usual.strength.low < 6.0 * 1.03
    assert usual.strength.high / usual.strength.low > 1.4
    assert measured.strength.low < 6.0 < measured.strength.high
    assert measured.strength.high / measured.strength.low < 1.4


@pytest.mark.slow
def test_jars_of_another_flower_are_told() -> None:
    cabbage = colourant("red-cabbage")
    clean = 5.0 * THINNED * form_fractions(cabbage, PH) @ form_spectra(cabbage)
    labs = lab_of(clean, jar_view())
    assert calibrate(colourant("butterfly-pea"), series(labs, "lab")).doubtful
    assert not calibrate(cabbage, series(labs, "lab")).doubtful


def test_a_fitted_height_is_as_sure_as_the_fit_found_it() -> None:
    which = colourant("butterfly-pea")
    clean = 6.0 * THINNED * form_fractions(which, PH) @ form_spectra(which, NM)
    fit = calibrate(which, series(clean, "absorbance"), petals_percent=PETALS)
    sds = dict(zip([form.form for form in which.forms], height_sd(fit.pigment), strict=True))
    for one in fit.numbers:
        if one.what == "height":
            assert sds[one.form] == pytest.approx(one.sd)


@pytest.mark.slow
def test_three_jars_are_enough_and_honest() -> None:
    which = colourant("butterfly-pea")
    ph = np.array([3.0, 5.0, 7.5])
    held = []
    for seed in range(25):
        pka, heights, strength = world(seed)
        random = np.random.default_rng(seed)
        absorbance = strength * THINNED * (form_fractions(which, ph, pka) * heights)
        labs = lab_of(absorbance @ form_spectra(which), jar_view())
        labs = labs + random.normal(0.0, 1.0, labs.shape)
        fit = calibrate(which, series(labs, "lab", ph), petals_percent=PETALS)
        held.append(fit.strength.low <= strength <= fit.strength.high)
    assert np.mean(held) >= 0.75


def test_readings_that_scatter_too_much_widen_the_ranges() -> None:
    which = colourant("butterfly-pea")
    clean = 6.0 * THINNED * form_fractions(which, PH) @ form_spectra(which, NM)
    rough = clean * (1 + 0.25 * np.random.default_rng(2).standard_normal(clean.shape))
    sound = calibrate(which, series(clean, "absorbance"), petals_percent=PETALS)
    fit = calibrate(which, series(rough, "absorbance"), petals_percent=PETALS)
    assert sound.misfit == 1.0
    assert fit.misfit > 1.5
    assert fit.numbers[0].sd > 1.5 * sound.numbers[0].sd


def test_too_few_jars_are_refused() -> None:
    which = colourant("butterfly-pea")
    two = np.array([3.0, 7.0])
    values = np.ones((2, len(NM)))
    with pytest.raises(ValueError, match="2 different pH values; accepted are 3 or more"):
        calibrate(which, series(values, "absorbance", two))
    with pytest.raises(ValueError, match="no finite number"):
        calibrate(which, series(np.full((8, len(NM)), np.nan), "absorbance"))


@pytest.mark.parametrize("lab", [[99.5, 0.0, 0.5], [2.0, 1.0, -1.0]])
def test_jars_that_show_nothing_are_refused(lab: list[float]) -> None:
    with pytest.raises(ValueError, match="all clear, or all nearly black"):
        calibrate(colourant("butterfly-pea"), series(np.tile(lab, (len(PH), 1)), "lab"))


def test_a_wrong_thinning_is_found_and_not_taken_for_another_flower() -> None:
    which = colourant("butterfly-pea")
    clean = 6.0 / 60.0 * form_fractions(which, PH) @ form_spectra(which)
    jars = replace(series(lab_of(clean, jar_view()), "lab"), dilution=np.ones(len(PH)))
    fit = calibrate(which, jars, petals_percent=PETALS)
    # The jars hold a sixtieth of what two per cent of petals give; the fit goes most of the way.
    assert 0.08 < fit.strength.best < 0.3
    assert fit.doubtful


@pytest.mark.slow
def test_jars_in_reversed_order_are_no_success() -> None:
    which = colourant("butterfly-pea")
    clean = 6.0 * THINNED * form_fractions(which, PH) @ form_spectra(which)
    labs = lab_of(clean, jar_view())[::-1]
    assert calibrate(which, series(labs, "lab"), petals_percent=PETALS).doubtful


def phones() -> Any:
    """Pictures as telephones make them."""
    file = Path(__file__).resolve().parents[1] / "reference" / "phone_pictures.py"
    spec = importlib.util.spec_from_file_location("phone_pictures", file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["phone_pictures"] = module
    spec.loader.exec_module(module)
    return module


def photographed(
    phone: Any, pigment: str, seed: int, lamp: str, balanced: float
) -> tuple[float, Series]:
    """The true strength of a world, and what a picture of its jars tells."""
    world = phone.world(seed, pigment)
    if lamp == "D65":
        power = colour.SDS_ILLUMINANTS["D65"]
    else:
        power = colour.sd_blackbody(float(lamp.removesuffix(" K")))
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    lit, *matching = (
        np.interp(WAVELENGTH_NM, one.wavelengths, values)
        for one, values in ((power, power.values), *((observer, k) for k in observer.values.T))
    )
    picture, white, jars = phone.picture(
        world.absorbance, lit, np.stack(matching, axis=-1), balanced, seed + 1000
    )
    found = patch_colours(picture, white, jars)
    read = np.array([not one for one in found.unread])
    whole = series(np.nan_to_num(found.lab), "photograph", phone.PH)
    return world.strength, replace(
        whole,
        ph=phone.PH[read],
        values=found.lab[read],
        dilution=np.full(int(read.sum()), 1.0 / phone.THINNED),
        labels=tuple(np.array(whole.labels)[read]),
        view=jar_view(light=lamp),
        white=found.white,
    )


def phone_worlds(pigment: str, seeds: range) -> tuple[float, float]:
    """Share of the strength's intervals that hold, and the mean logarithm of what is found."""
    phone, held, off = phones(), [], []
    lamps = ("D65", "4000 K", "2700 K", "D65")
    for seed in seeds:
        balanced = np.random.default_rng(seed).uniform(0.5, 1.0)
        truth, jars = photographed(phone, pigment, seed, lamps[seed % 4], balanced)
        # So strong in some worlds that the camera tells too few of the jars.
        if jars.jars >= 3:
            found = calibrate(colourant(pigment), jars, petals_percent=phone.PETALS).strength
            held.append(found.low <= truth <= found.high)
            off.append(np.log(found.best / truth))
    assert len(held) >= 0.85 * len(seeds)
    return float(np.mean(held)), float(np.mean(off))


@pytest.mark.slow
def test_the_strength_from_a_phones_picture_is_as_sure_as_it_says() -> None:
    held, _ = phone_worlds("butterfly-pea", range(6))
    assert held >= 5 / 6


@pytest.mark.slow
@pytest.mark.parametrize("pigment", ["butterfly-pea", "red-cabbage"])
def test_strengths_from_phones_pictures_hold_in_many_worlds(pigment: str) -> None:
    held, off = phone_worlds(pigment, range(40))
    assert held >= 0.85
    # Fitted by sRGB alone butterfly pea comes out 17 % too strong, cabbage 23 % and more; cabbage
    # still does by 17 %, for its jars are darker and the cameras differ most there.
    assert abs(off) < (0.10 if pigment == "butterfly-pea" else 0.18)


@pytest.mark.slow
def test_a_picture_by_candlelight_tells_the_strength_less_surely() -> None:
    phone, held, wider = phones(), [], []
    for seed in range(20, 25):
        spread = []
        for lamp in ("D65", "1900 K"):
            truth, jars = photographed(phone, "butterfly-pea", seed, lamp, 0.6)
            found = calibrate(colourant("butterfly-pea"), jars, petals_percent=phone.PETALS)
            spread.append(found.strength.high / found.strength.low)
            if lamp != "D65":
                assert jars.cast > 3.0
                held.append(found.strength.low <= truth <= found.strength.high)
        wider.append(spread[1] > spread[0])
    assert np.mean(held) >= 0.8
    assert np.mean(wider) >= 0.8
