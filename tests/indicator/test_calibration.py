"""The fit gives back what the jars were made of, and says what they do not tell."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from indicator.absorbance import form_spectra
from indicator.appearance import lab_of
from indicator.calibration import Calibration, Series, calibrate
from indicator.micelles import micelle_shift, shifted_pka
from indicator.optics import jar_view
from indicator.pigments import colourant
from indicator.speciation import form_fractions
from indicator.spread import draws_of

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
    one = next(one for one in fit.fitted if (one.what, one.form) == (what, form))
    return one.low, one.best, one.high


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    which = colourant("butterfly-pea")
    held = []
    for seed in range(60):
        pka, heights, strength = world(seed)
        values = absorbances(pka, heights, strength, seed)
        fit = calibrate(which, series(values, "absorbance"), petals_percent=PETALS)
        for one in fit.fitted:
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
    assert next(one for one in fit.fitted if one.form == "anionic base").learnt


def test_the_strength_alone_takes_one_jar_and_counts_what_is_not_known_of_the_pigment() -> None:
    which = colourant("butterfly-pea")
    ph = np.array([3.0])
    labs = lab_of(6.0 * THINNED * form_fractions(which, ph) @ form_spectra(which), jar_view())
    fit = calibrate(which, series(labs, "photograph", ph), only_strength=True)
    assert [one.what for one in fit.fitted] == ["strength"]
    assert fit.strength.best == pytest.approx(6.0, rel=0.05)
    assert fit.strength.high / fit.strength.low > 1.2
    assert fit.pigment.pka[1] == which.pka[1]


def test_a_dye_has_only_a_strength() -> None:
    which = colourant("tartrazine")
    ph = np.array([7.0])
    labs = lab_of(4e-5 * THINNED * form_fractions(which, ph) @ form_spectra(which), jar_view())
    fit = calibrate(which, series(labs, "hex", ph))
    assert fit.strength.low < 4e-5 < fit.strength.high


def test_jars_of_foam_bath_tell_what_the_surfactants_do() -> None:
    which = colourant("butterfly-pea")
    surfactants = {"anionic": 90.0}
    expected = micelle_shift(surfactants)
    clean = 6.0 * THINNED * form_fractions(which, PH, shifted_pka(which, 2.0)) @ form_spectra(which)
    labs = lab_of(clean, jar_view())
    fit = calibrate(which, series(labs, "lab"), petals_percent=PETALS, shift=expected)
    low, best, high = fitted(fit, "shift")
    assert low < 2.0 < high
    assert best > float(expected.best)
    assert fit.pigment.micelle_shift is not None
    # From then on the bottle is shown with what was found.
    assert float(micelle_shift(surfactants, fit.pigment.micelle_shift).best) == pytest.approx(
        best, rel=0.01
    )


def test_readings_that_scatter_too_much_widen_the_ranges() -> None:
    which = colourant("butterfly-pea")
    clean = 6.0 * THINNED * form_fractions(which, PH) @ form_spectra(which, NM)
    rough = clean * (1 + 0.25 * np.random.default_rng(2).standard_normal(clean.shape))
    sound = calibrate(which, series(clean, "absorbance"), petals_percent=PETALS)
    fit = calibrate(which, series(rough, "absorbance"), petals_percent=PETALS)
    assert sound.misfit == 1.0
    assert fit.misfit > 1.5
    assert fit.fitted[0].sd > 1.5 * sound.fitted[0].sd


def test_too_few_jars_are_refused() -> None:
    which = colourant("butterfly-pea")
    two = np.array([3.0, 7.0])
    values = np.ones((2, len(NM)))
    with pytest.raises(ValueError, match="2 different pH values; accepted are 3 or more"):
        calibrate(which, series(values, "absorbance", two))
    three = np.array([3.0, 5.0, 7.0])
    few = Series(
        three, np.ones((3, 1)), np.ones(3), "absorbance", "meter", ("a", "b", "c"), NM[:1], None
    )
    with pytest.raises(ValueError, match="3 readings for"):
        calibrate(which, few)
    with pytest.raises(ValueError, match="no finite number"):
        calibrate(which, series(np.full((8, len(NM)), np.nan), "absorbance"))
