"""Pigments, forms and absorbance, against published spectra."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from indicator.absorbance import WAVELENGTH_NM, form_fractions, form_spectra, mixture_absorbance
from indicator.colourants import BandRow, FormRow
from indicator.pigments import colourant, colourant_names, dye_molarity, infusion_strength
from indicator.tables import read_table

REFERENCE = Path(__file__).resolve().parents[1] / "reference"


def rows(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def maximum(ph: float) -> tuple[float, float]:
    """Wavelength and height of the maximum above 450 nm, to 0.5 nm by interpolation."""
    fine = np.arange(450.0, 700.0, 0.5)
    which = colourant("butterfly-pea")
    spectrum = form_fractions(which, ph) @ form_spectra(which, fine)
    return float(fine[spectrum.argmax()]), float(spectrum.max())


@pytest.mark.parametrize(
    "row", [r for r in rows("colour_butterfly_pea.csv") if r["buffered"] == "yes"]
)
def test_butterfly_pea_in_acid_matches_the_published_maxima(row: dict[str, str]) -> None:
    wavelength, height = maximum(float(row["nominal_ph"]))
    _, at_one = maximum(1.0)
    assert abs(wavelength - float(row["lambda_max_nm"])) <= float(row["tolerance_nm"])
    wanted = float(row["relative_absorbance"])
    assert abs(height / at_one - wanted) <= float(row["tolerance_relative"])


@pytest.mark.parametrize(
    "row", [r for r in rows("colour_butterfly_pea.csv") if r["buffered"] == "no"]
)
def test_unbuffered_rows_lie_on_the_path_that_the_model_takes(row: dict[str, str]) -> None:
    # The nominal pH says little here; some true pH between 4.5 and 11 must give both numbers.
    _, at_one = maximum(1.0)
    distances = []
    for ph in np.arange(4.5, 11.05, 0.05):
        wavelength, height = maximum(float(ph))
        distances.append(
            max(
                abs(wavelength - float(row["lambda_max_nm"])) / float(row["tolerance_nm"]),
                abs(height / at_one - float(row["relative_absorbance"]))
                / float(row["tolerance_relative"]),
            )
        )
    assert min(distances) <= 1.0


def test_tartrazine_absorbs_as_its_specification_says() -> None:
    # E 1 % 1 cm = 530 at 426 nm (specification of E 102; from memory, unverified).
    molarity = float(dye_molarity("tartrazine", 10.0, content=1.0))
    spectrum = molarity * form_spectra(colourant("tartrazine"), np.array([426.0]))[0]
    assert spectrum[0] == pytest.approx(530.0, rel=2e-3)


def test_infusion_strength_is_the_working_default_at_two_percent() -> None:
    # 2 % w/v: pH-1 absorbance 6 per cm, range 3 to 12, derived from Marpaung 2012.
    assert float(infusion_strength("butterfly pea", 2.0)) == pytest.approx(6.0)
    per_percent = colourant("butterfly-pea").per_percent
    assert per_percent is not None
    assert (2 * per_percent.low, 2 * per_percent.high) == (3.0, 12.0)


def test_every_row_says_where_it_comes_from_and_how_far_to_trust_it() -> None:
    flags = {"SEEN", "SEEN-2", "MEMORY", "DERIVED", "CALC", "DESIGN", "GUESS"}
    for name in colourant_names():
        which = colourant(name)
        assert all(row.source for row in which.forms)
        assert all(row.source for row in which.bands)
        assert {row.confidence for row in which.forms} <= flags
        assert {row.confidence for row in which.bands} <= flags


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("Blue Tea", "butterfly-pea"),
        ("E102", "tartrazine"),
        ("butterfly_pea", "butterfly-pea"),
        ("butterflypea flower tea", "butterfly-pea"),
        ("red cabbage powder", "red-cabbage"),
        ("sour tea", "roselle"),
    ],
)
def test_makers_names_are_understood(typed: str, found: str) -> None:
    assert colourant(typed).name == found


def test_unknown_colourant_offers_the_nearest() -> None:
    with pytest.raises(ValueError, match="did you mean 'tartrazine'"):
        colourant("tartrazin")


# Elder flowers hold no anthocyanin to speak of, the berries do: common practice, no source.
@pytest.mark.parametrize("typed", ["elder flower tea", "dried elder flowers", "sambucus flowers"])
def test_an_elder_flower_is_no_elderberry(typed: str) -> None:
    with pytest.raises(ValueError, match="colourant is"):
        colourant(typed)


@given(st.floats(-5, 20))
def test_forms_of_each_group_sum_to_one(ph: float) -> None:
    which = colourant("butterfly-pea")
    fractions = form_fractions(which, ph)
    for group in {form.group for form in which.forms}:
        members = [form.group == group for form in which.forms]
        assert fractions[members].sum() == pytest.approx(1.0)


@given(st.floats(0, 14), st.floats(0, 2), st.floats(0, 1e-4))
def test_absorbance_adds_and_scales(ph: float, pigment: float, dye: float) -> None:
    both = mixture_absorbance({"butterfly-pea": pigment, "tartrazine": dye}, ph)
    alone = mixture_absorbance({"butterfly-pea": 1.0}, ph)
    other = mixture_absorbance({"tartrazine": 1.0}, ph)
    np.testing.assert_allclose(both, pigment * alone + dye * other, atol=1e-12)


def test_scalar_equals_array_and_nan_stays_nan() -> None:
    many = mixture_absorbance({"butterfly-pea": 1.0}, [3.0, np.nan, 8.0])
    np.testing.assert_allclose(many[0], mixture_absorbance({"butterfly-pea": 1.0}, 3.0), rtol=1e-14)
    assert np.isnan(many[1]).all()
    assert many.shape == (3, len(WAVELENGTH_NM))


def test_negative_strength_is_refused() -> None:
    with pytest.raises(ValueError, match="strength of 'tartrazine' is -1"):
        mixture_absorbance({"tartrazine": -1.0}, 7.0)


@pytest.mark.parametrize("name", colourant_names())
def test_forms_bands_and_constants_of_a_colourant_go_together(name: str) -> None:
    which = colourant(name)
    forms = [form.form for form in which.forms]
    assert len(set(forms)) == len(forms)
    assert {band.form for band in which.bands} <= set(forms)
    assert {band.shape for band in which.bands} <= {"gaussian", "exponential"}
    for place, form in enumerate(which.forms):
        # A form stands below the one that it comes from; only such a form has a constant.
        assert not form.from_form or form.from_form in forms[:place]
        assert (form.pka is None) == (not form.from_form)


@pytest.mark.parametrize(("table", "row"), [("forms", FormRow), ("bands", BandRow)])
def test_every_form_and_band_is_of_a_colourant(table: str, row: type[FormRow | BandRow]) -> None:
    named = {one.colourant for one in read_table(f"colour/{table}.csv", row)}
    assert named <= set(colourant_names())
