"""From spectra to colours and words, against published colorimetry."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from indicator.absorbance import WAVELENGTH_NM, mixture_absorbance
from indicator.appearance import (
    delta_e,
    from_spectrum,
    hex_of_lab,
    lab_from_hex,
    light_names,
    seen,
)
from indicator.optics import View, bottle_view, jar_view, tub_view, view_value
from indicator.words import change_level, colour_word, parse_target, threshold, visibility_level

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
TUB = {
    "obliquity": 1.2,
    "floor_reflectance": 0.85,
    "outer_reflection": 0.05,
    "inner_reflection": 0.48,
    "included_reflection": 0.02,
}


def pairs() -> list[dict[str, float]]:
    lines = (REFERENCE / "colour_ciede2000.csv").read_text(encoding="utf-8").splitlines()
    reader = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [{key: float(value) for key, value in row.items()} for row in reader]


@pytest.mark.parametrize("pair", pairs())
def test_colour_difference_matches_the_published_pairs(pair: dict[str, float]) -> None:
    found = delta_e([pair["l1"], pair["a1"], pair["b1"]], [pair["l2"], pair["a2"], pair["b2"]])
    assert float(found) == pytest.approx(pair["delta_e"], abs=pair["tolerance"])


@pytest.mark.parametrize("light", light_names())
@pytest.mark.parametrize("observer", [2, 10])
def test_a_perfect_white_is_white_in_every_light(light: str, observer: int) -> None:
    found = from_spectrum(np.ones_like(WAVELENGTH_NM), light, observer)
    assert found["hex"] == "#FFFFFF"
    np.testing.assert_allclose(found["lab"], [100.0, 0.0, 0.0], atol=1e-6)


@pytest.mark.parametrize(
    ("observer", "white"),
    [
        # CIE 15:2004, table T.3: white points of D65 (X, Z for Y = 100).
        (2, (95.04, 108.88)),
        (10, (94.81, 107.32)),
    ],
)
def test_white_points_are_those_of_the_standard(observer: int, white: tuple[float, float]) -> None:
    xyz = from_spectrum(np.ones_like(WAVELENGTH_NM), "D65", observer)["xyz"]
    # 0.06: summed at 5 nm from 380 to 780 nm instead of 1 nm from 360 to 830 nm.
    assert 100 * xyz[0] == pytest.approx(white[0], abs=0.06)
    assert 100 * xyz[2] == pytest.approx(white[1], abs=0.06)


@pytest.mark.parametrize("centre", [430.0, 520.0, 560.0, 620.0])
def test_coloured_filters_match_the_colour_library_at_one_nanometre(centre: float) -> None:
    def filter_at(wavelength: np.ndarray) -> np.ndarray:
        return np.asarray(10.0 ** -(1.2 * np.exp(-(((wavelength - centre) / 40.0) ** 2))))

    fine = np.arange(360.0, 831.0)
    spectrum = colour.SpectralDistribution(filter_at(fine), fine)
    observer = colour.MSDS_CMFS["CIE 1964 10 Degree Standard Observer"]
    daylight = colour.SDS_ILLUMINANTS["D65"].copy().align(observer.shape)
    xyz = colour.sd_to_XYZ(spectrum, cmfs=observer, illuminant=daylight, method="Integration")
    found = from_spectrum(filter_at(WAVELENGTH_NM), "D65", 10)["xyz"]
    # A thousandth of white: what summing a smooth filter at 5 nm may cost (CIE 15, 7.2).
    np.testing.assert_allclose(100 * found, xyz, atol=0.1)


def tub_reflectance(absorbance: Any, depth: float, floor_reflectance: float, **rest: float) -> Any:
    """Reflectance of a tub of that depth over an even floor."""
    floor = (floor_reflectance, floor_reflectance)
    return View("tub", depth, "D65", 10, floor, **rest).share(absorbance)


def test_grey_of_half_reflectance_has_the_lightness_of_the_formula() -> None:
    # CIE 15:2004, 8.2.1: L* = 116 (Y/Yn)^(1/3) - 16 = 76.069 at Y/Yn = 0.5.
    found = from_spectrum(0.5 * np.ones_like(WAVELENGTH_NM), "D65", 2)
    np.testing.assert_allclose(found["lab"], [76.0693, 0, 0], atol=1e-3)


def test_hex_round_trip_through_lab() -> None:
    # IEC 61966-2-1: sRGB mid grey 119 has Y = 0.18447, L* = 50.03.
    np.testing.assert_allclose(lab_from_hex("#777777"), [50.03, 0.0, 0.0], atol=0.01)


def test_tub_has_the_right_limits() -> None:
    clear = tub_reflectance(np.zeros(3), 30.0, **TUB)
    empty = tub_reflectance(np.full(3, 0.4), 0.0, **TUB)
    floor, inner = TUB["floor_reflectance"], TUB["inner_reflection"]
    wanted = 0.02 + (1 - 0.05) * (1 - inner) * floor / (1 - inner * floor)
    np.testing.assert_allclose(clear, wanted)
    np.testing.assert_allclose(empty, wanted)
    # Deep ink returns nothing but the mirror of the surface.
    np.testing.assert_allclose(tub_reflectance(np.full(3, 5.0), 100.0, **TUB), 0.02)


@given(st.floats(0.01, 1.0), st.floats(5.0, 50.0))
def test_strength_times_depth_is_what_counts(strength: float, depth: float) -> None:
    spectrum = mixture_absorbance({"butterfly-pea": strength}, 6.0)
    np.testing.assert_allclose(
        tub_reflectance(spectrum, depth, **TUB),
        tub_reflectance(2.0 * spectrum, 0.5 * depth, **TUB),
    )


def test_a_spoon_of_weak_tea_in_a_tub_is_hardly_seen() -> None:
    # 15 mL of an infusion of pH-1 absorbance 1 per cm in 150 L, 27 cm deep.
    found = seen(mixture_absorbance({"butterfly-pea": 0.015 / 150.0}, 7.5), tub_view(27.0))
    assert found.visibility in ("invisible", "hardly")
    enough = seen(mixture_absorbance({"butterfly-pea": 1.5 / 150.0}, 7.5), tub_view(27.0))
    assert enough.visibility in ("visible", "strong")


def test_honest_words_of_a_tub_before_and_after() -> None:
    # Strength x depth 0.45: green-blue at pH 8, redder and darker blue at pH 5, no pink.
    found = seen(mixture_absorbance({"butterfly-pea": 0.45 / 25}, [8.0, 5.0]), tub_view(25.0))
    assert list(found.word) == ["blue", "blue"] or list(found.word) == ["teal", "blue"]
    assert found.hue_deg[1] > found.hue_deg[0]
    assert 13.0 <= float(delta_e(found.lab[0], found.lab[1])) <= 18.0


# Bands that the trade tells for butterfly pea (common practice, no source): pink below 5, purple
# about 6, blue 7 to 8, green above 8.5.
TRADE_BANDS = [(4.0, "pink"), (6.0, "purple"), (7.5, "blue"), (9.5, "green")]


@pytest.mark.parametrize(
    ("strength", "holds"),
    [
        (0.2, {"blue"}),
        (1.0, {"blue"}),
        (3.0, {"blue", "green"}),
    ],
)
def test_where_the_trade_bands_hold(strength: float, holds: set[str]) -> None:
    # One centimetre cell, single pass. Blue holds everywhere, green at 9.5 only in strong ones,
    # pink at pH 4 and purple at pH 6 nowhere; test_claims.py has the borders themselves.
    view = jar_view(1.0)
    found = {
        word
        for ph, word in TRADE_BANDS
        if str(seen(mixture_absorbance({"butterfly-pea": strength}, ph), view).word)
        in ({"purple", "violet"} if word == "purple" else {word})
    }
    assert found == holds


def test_words_and_levels() -> None:
    assert list(
        colour_word(np.array([[95, 0.5, 0.5], [40, 1, 1], [60, 60, -10], [60, 40, 60]]))
    ) == [
        "colourless",
        "grey",
        "pink",
        "orange",
    ]
    assert list(visibility_level([0.5, 3.0, 10.0, 30.0])) == [
        "invisible",
        "hardly",
        "visible",
        "strong",
    ]
    obvious = threshold("change_obvious")
    assert list(change_level([1.0, obvious - 0.1, obvious])) == ["not seen", "subtle", "obvious"]


@pytest.mark.parametrize(
    ("text", "kind"), [("5.2", "ph"), ("pH 5,2", "ph"), ("lilac", "word"), ("#8060c0", "hex")]
)
def test_targets_as_people_write_them(text: str, kind: str) -> None:
    assert parse_target(text).kind == kind


@pytest.mark.parametrize("text", ["", "blurple", "#12345", "15", "-1", "#gggggg"])
def test_bad_targets_are_refused_in_a_sentence(text: str) -> None:
    with pytest.raises(ValueError, match="target is"):
        parse_target(text)


def test_patches_beyond_srgb_keep_hue_and_word() -> None:
    # An even grid of CIELAB; sRGB has a fifth of it.
    light, side = np.arange(5.0, 100.0, 5.0), np.arange(-100.0, 101.0, 10.0)
    lab = np.stack(np.meshgrid(light, side, side, indexing="ij"), axis=-1).reshape(-1, 3)
    patches = hex_of_lab(lab, "D65", 2)
    shown = np.stack([lab_from_hex(str(one)) for one in patches])
    hue, hue_shown = (np.degrees(np.arctan2(one[:, 2], one[:, 1])) for one in (lab, shown))
    moved = np.abs((hue - hue_shown + 180.0) % 360.0 - 180.0)[np.hypot(*shown[:, 1:].T) > 5.0]
    assert np.quantile(moved, 0.95) <= 3.0
    # A level more or less, where the white of the light is rounded, may move one on a border.
    assert np.count_nonzero(colour_word(lab) != colour_word(shown)) <= 3


@pytest.mark.parametrize("light", light_names())
def test_word_is_that_of_the_patch_which_is_shown(light: str) -> None:
    random = np.random.default_rng(2)
    ph, strength = random.uniform(1.0, 12.0, 3000), 10.0 ** random.uniform(-4.0, -1.0, 3000)
    absorbance = mixture_absorbance({"butterfly-pea": strength, "tartrazine": 1e-4 * strength}, ph)
    found = seen(absorbance, tub_view(25.0, light=light))
    shown = np.stack([lab_from_hex(str(one)) for one in found.hex])
    assert (colour_word(shown) == found.word).all()


def test_nan_gives_no_word_and_no_colour() -> None:
    found = seen(np.full(len(WAVELENGTH_NM), np.nan), bottle_view())
    assert (str(found.word), str(found.hex), str(found.visibility)) == ("", "", "")


def test_scalar_equals_batch() -> None:
    view = tub_view(25.0)
    many = seen(mixture_absorbance({"butterfly-pea": 0.02}, [5.0, 8.0]), view)
    one = seen(mixture_absorbance({"butterfly-pea": 0.02}, 8.0), view)
    assert many.at(1).hex == one.hex
    np.testing.assert_allclose(many.lab[1], one.lab)


def test_unknown_light_names_the_known_ones() -> None:
    with pytest.raises(ValueError, match="accepted are D65"):
        seen(np.zeros(len(WAVELENGTH_NM)), tub_view(20.0, light="moonshine"))


def test_surface_reflections_are_fresnels_for_diffuse_light() -> None:
    # Fresnel for n = 1.333 over a cosine-weighted hemisphere; Duntley 1942 gives 0.066.
    index = 1.333
    angle = (np.arange(20000) + 0.5) / 20000 * np.pi / 2
    inside = np.arcsin(np.sin(angle) / index)
    s = ((np.cos(angle) - index * np.cos(inside)) / (np.cos(angle) + index * np.cos(inside))) ** 2
    p = ((np.cos(inside) - index * np.cos(angle)) / (np.cos(inside) + index * np.cos(angle))) ** 2
    outer = float(np.mean((s + p) / 2 * np.sin(2 * angle)) * np.pi / 2)
    assert view_value("outer_reflection") == pytest.approx(outer, abs=0.001)
    assert view_value("inner_reflection") == pytest.approx(1 - (1 - outer) / index**2, abs=0.002)
