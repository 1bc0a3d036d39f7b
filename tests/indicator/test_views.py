"""Cloud, floor and foam of a tub, at the limits where they are known exactly."""

from __future__ import annotations

import csv
import importlib.util
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from indicator.absorbance import WAVELENGTH_NM, mixture_absorbance
from indicator.appearance import seen
from indicator.notes import say
from indicator.optics import (
    SMALL_VESSELS,
    VIEWS,
    View,
    beaker_view,
    bottle_view,
    cloud_names,
    floor_names,
    jar_view,
    layer_over_ground,
    scattered_obliquity,
    small_view,
    tub_view,
    view_value,
)

SURFACE = {
    "obliquity": 1.15,
    "outer_reflection": 0.066,
    "inner_reflection": 0.475,
    "included_reflection": 0.02,
}
REFERENCE = Path(__file__).resolve().parents[1] / "reference"
shares = st.floats(0.01, 0.99)
per_cm = st.floats(1e-4, 5.0)


def tub_reflectance(absorbance: Any, depth: float, floor_reflectance: float, **rest: float) -> Any:
    """Reflectance of a tub of that depth over an even floor."""
    floor = (floor_reflectance, floor_reflectance)
    return View("tub", depth, "D65", 10, floor, **rest).share(absorbance)


@given(absorbance=st.floats(0.0, 2.0), depth=st.floats(0.1, 60.0), ground=shares)
def test_without_scattering_it_is_the_double_pass(
    absorbance: float, depth: float, ground: float
) -> None:
    k = SURFACE["obliquity"] * np.log(10.0) * absorbance
    clear = ground * 10.0 ** (-2.0 * SURFACE["obliquity"] * absorbance * depth)
    for scattering in (0.0, 1e-12):
        found = float(layer_over_ground(k, scattering, depth, ground))
        assert found == pytest.approx(clear, abs=1e-6)


@given(k=per_cm, s=per_cm, ground=shares)
def test_a_very_deep_layer_has_the_reflectance_of_its_own(
    k: float, s: float, ground: float
) -> None:
    # Kubelka and Munk 1931: R = 1 + K/S - sqrt((K/S)^2 + 2 K/S).
    ratio = k / s
    own = 1.0 + ratio - np.sqrt(ratio**2 + 2.0 * ratio)
    assert float(layer_over_ground(k, s, 1e7, ground)) == pytest.approx(own, abs=1e-9)


@given(k=per_cm, s=per_cm, ground=shares)
def test_no_layer_shows_its_ground(k: float, s: float, ground: float) -> None:
    assert float(layer_over_ground(k, s, 0.0, ground)) == pytest.approx(ground)


@given(s=per_cm, depth=st.floats(0.1, 60.0), ground=shares)
def test_without_absorption_it_is_the_closed_form(s: float, depth: float, ground: float) -> None:
    # Kubelka 1948 with K = 0.
    closed = (s * depth + ground * (1.0 - s * depth)) / (1.0 + (1.0 - ground) * s * depth)
    assert float(layer_over_ground(0.0, s, depth, ground)) == pytest.approx(closed, rel=1e-9)


@given(k=st.floats(0.01, 2.0), s=st.floats(0.01, 2.0), depth=st.floats(0.1, 10.0), ground=shares)
def test_it_is_the_printed_formula(k: float, s: float, depth: float, ground: float) -> None:
    # Kubelka 1948: R = (1 - Rg (a - b coth bSd)) / (a - Rg + b coth bSd), a = (S + K)/S.
    a = (s + k) / s
    b = np.sqrt(a * a - 1.0)
    coth = 1.0 / np.tanh(b * s * depth)
    printed = (1.0 - ground * (a - b * coth)) / (a - ground + b * coth)
    assert float(layer_over_ground(k, s, depth, ground)) == pytest.approx(printed, rel=1e-9)


def test_a_tub_without_cloud_is_what_it_was() -> None:
    spectrum = np.linspace(0.0, 0.2, 7)
    passed = 10.0 ** (-1.15 * spectrum * 25.0)
    ground = 0.85 * passed**2
    printed = 0.02 + (1 - 0.066) * (1 - 0.475) * ground / (1 - 0.475 * ground)
    found = tub_reflectance(spectrum, 25.0, floor_reflectance=0.85, **SURFACE)
    np.testing.assert_allclose(found, printed, rtol=1e-12)


def l_star(share: Any) -> Any:
    """CIELAB L* of the share of light that an even spectrum turns back."""
    y = np.asarray(share, dtype=np.float64)
    return np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, 24389 / 27 * y)


def tub_of(scattering: float, depth: float, absorbance: float, floor: float) -> float:
    return float(
        tub_reflectance(
            [absorbance],
            depth,
            obliquity=view_value("obliquity"),
            floor_reflectance=floor,
            outer_reflection=view_value("outer_reflection"),
            inner_reflection=view_value("inner_reflection"),
            included_reflection=view_value("included_reflection"),
            scattering_per_cm=scattering,
        )[0]
    )


def counted() -> list[tuple[float, ...]]:
    lines = (REFERENCE / "colour_cloud_photons.csv").read_text(encoding="utf-8").splitlines()
    reader = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [tuple(float(cell) for cell in row.values()) for row in reader]


def test_cloudy_tubs_are_as_light_as_photons_counted_one_by_one() -> None:
    # colour_cloud_photons.csv, made by build_colour_cloud.py.
    rows = counted()
    off = [
        float(l_star(tub_of(scattering, depth, absorbance, floor)) - l_star(share))
        for scattering, depth, absorbance, floor, share in rows
    ]
    cloudy = [one for one, row in zip(off, rows, strict=True) if row[0] > 0]
    assert len(cloudy) == 180
    assert max(map(abs, cloudy)) < 3.0
    # Clear water has one obliquity for all its light; a pale colour over white is up to 3.5 off.
    assert max(map(abs, off)) < 3.6


def test_photons_counted_anew_say_the_same() -> None:
    spec = importlib.util.spec_from_file_location("photons", REFERENCE / "cloud_photons.py")
    assert spec is not None
    assert spec.loader is not None
    photons = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(photons)
    for scattering, depth in ((0.0, 25.0), (0.01, 40.0), (0.1, 15.0)):
        rows = [row for row in counted() if row[:2] == (scattering, depth)]
        _, _, absorbance, floor, share = np.array(rows).T
        found = photons.reflectance(scattering, depth, absorbance, floor, 20_000, seed=5)
        np.testing.assert_allclose(l_star(found), l_star(share), atol=0.7)
    # In clear water without colour, Saunderson's correction of the floor (1942) is exact.
    whole = 0.02 + (1 - 0.066) * (1 - 0.475) * 0.85 / (1 - 0.475 * 0.85)
    assert photons.reflectance(0.0, 25.0, [0.0], [0.85], 20_000)[0] == pytest.approx(
        whole, abs=0.01
    )


@given(absorbance=st.floats(0.0, 2.0), depth=st.floats(0.1, 60.0), floor=shares)
def test_a_trace_of_cloud_is_clear_water(absorbance: float, depth: float, floor: float) -> None:
    clear = tub_of(0.0, depth, absorbance, floor)
    assert tub_of(1e-10, depth, absorbance, floor) == pytest.approx(clear, abs=1e-6)


def test_the_more_is_scattered_the_more_slanted_is_the_light() -> None:
    scattering = np.geomspace(1e-6, 10.0, 60)
    found = scattered_obliquity(scattering, 25.0, 1.15)
    assert np.all(np.diff(found) >= 0)
    # Diffuse light: the mean of 1/cos over a cosine-weighted hemisphere is 2.
    assert found[0] == pytest.approx(1.15, abs=1e-4)
    assert found[-1] == pytest.approx(2.0)


def test_milk_makes_a_strong_colour_paler_and_hides_the_floor() -> None:
    liquid = mixture_absorbance({"butterfly-pea": 0.02}, np.array(7.0))
    lightness = [float(seen(liquid, tub_view(25.0, cloud=cloud)).lab[0]) for cloud in cloud_names()]
    clear, hazy, milky = lightness
    # A haze slants light more than it turns back (photons: 42.9 to 42.3 at 0.01 per cm, 25 cm).
    assert clear - 1.5 < hazy < milky - 5.0
    over = [
        float(seen(liquid, tub_view(25.0, cloud="milky", floor=floor)).lab[0])
        for floor in floor_names()
    ]
    assert max(over) - min(over) < 1.0


def test_floors_are_what_they_are_called() -> None:
    water = np.zeros(len(WAVELENGTH_NM))
    found = {name: seen(water, tub_view(20.0, floor=name)).lab for name in floor_names()}
    assert found["white"][0] > found["beige"][0] > found["grey"][0]
    assert abs(found["grey"][2]) < 1.0
    assert found["beige"][2] > 5.0


def test_foam_hides_its_share_and_no_more() -> None:
    liquid = mixture_absorbance({"butterfly-pea": 0.02}, np.array(7.0))
    clear, half, full = (tub_view(25.0, foam_cover=share).share(liquid) for share in (0, 0.5, 1))
    np.testing.assert_allclose(half, 0.5 * (clear + full))
    np.testing.assert_allclose(full, view_value("foam_reflectance"))


def test_what_is_no_view_is_refused() -> None:
    with pytest.raises(ValueError, match="floor is 'lava'; accepted are white, grey, beige"):
        tub_view(20.0, floor="lava")
    with pytest.raises(ValueError, match="cloud is 'ink'"):
        tub_view(20.0, cloud="ink")
    with pytest.raises(ValueError, match=r"foam_cover is 1\.5"):
        tub_view(20.0, foam_cover=1.5)
    with pytest.raises(ValueError, match="absorbance has 3 wavelengths"):
        tub_view(20.0, floor="beige").share(np.zeros(3))
    with pytest.raises(ValueError, match="vessel is 'tub'; accepted are bottle, jar, beaker"):
        small_view("tub")


def test_a_beaker_is_as_wide_as_the_standard_says() -> None:
    # ISO 3819:2015, low form of 250 mL: outer diameter 70 mm within 5 % (from memory, unverified).
    # Of 250 mL it is filled less high than its 95 mm (ditto).
    inner = beaker_view().path_cm
    assert 0.95 * 7.0 - 0.4 <= inner < 7.0
    assert 250.0 / (np.pi * (inner / 2) ** 2) < 9.5


@pytest.mark.parametrize("view", [bottle_view(3.0), jar_view(3.0), beaker_view(3.0)])
def test_small_vessels_are_one_straight_pass(view: View) -> None:
    absorbance = np.linspace(0.0, 1.0, len(WAVELENGTH_NM))
    np.testing.assert_allclose(view.share(absorbance), 10.0 ** (-3.0 * absorbance))
    assert view == small_view(view.kind, 3.0)


def test_a_beaker_shows_a_colour_between_bottle_and_jar() -> None:
    liquid = mixture_absorbance({"butterfly-pea": 0.05}, np.array(7.0))
    found = [float(seen(liquid, small_view(kind)).visibility_delta_e) for kind in SMALL_VESSELS]
    bottle, jar, beaker = found
    assert bottle < beaker < jar


def test_every_view_has_its_words() -> None:
    for kind in VIEWS:
        assert "7.5 cm" in say(f"view.{kind}", {"path_cm": 7.5})


def test_clear_water_is_exact_where_light_only_goes_down_and_up() -> None:
    absorption = np.array([0.0, 1e-9, 0.1, 3.0, 200.0, np.nan])
    for depth in (0.0, 0.3, 25.0):
        found = layer_over_ground(absorption, 0.0, depth, 0.85)
        np.testing.assert_array_equal(found, 0.85 * np.exp(-2.0 * absorption * depth))
        cloudy = layer_over_ground(absorption, 1e-13, depth, 0.85)
        np.testing.assert_allclose(found, cloudy, atol=1e-9)
