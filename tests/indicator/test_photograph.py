"""Colours from a photograph: white made white, and patches that cannot be told refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from indicator.appearance import lab_from_hex
from indicator.photograph import (
    Patch,
    parse_patch,
    patch_colours,
    read_picture,
    toned,
)

Pixels = NDArray[np.uint8]
WARM = np.array([0.95, 0.85, 0.65])
"""Linear share of a white that a warm lamp leaves in red, green and blue."""
WHITE = Patch(10, 10, 60, 40)
JAR = Patch(110, 70, 40, 60)


def patch_labs(picture: Pixels, white: list[Patch], patches: list[Patch]) -> Any:
    """CIELAB of patches, or the reason of the first that cannot be read."""
    found = patch_colours(picture, white, patches)
    for reason in filter(None, found.unread):
        raise ValueError(reason)
    return found.lab


def encoded(linear: NDArray[np.float64]) -> Pixels:
    curve = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.asarray(np.rint(255 * curve), dtype=np.uint8)


def scene(hex_colour: str, light: NDArray[np.float64] = WARM) -> Pixels:
    """A white card and a jar whose liquid would be of that colour in daylight."""
    level = np.array([int(hex_colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255.0
    linear = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
    picture = np.full((160, 200, 3), 0.3)
    picture[5:60, 5:80] = 0.9 * light
    picture[60:140, 100:160] = 0.9 * light * linear
    return encoded(picture)


@pytest.mark.parametrize("hex_colour", ["#7FA8C9", "#C97FA8", "#6FA07A", "#D9C060"])
def test_a_jar_under_a_warm_lamp_gets_its_daylight_colour_back(hex_colour: str) -> None:
    (lab,) = patch_labs(scene(hex_colour), [WHITE], [JAR])
    # Eight-bit levels leave half a level of rounding.
    np.testing.assert_allclose(lab, lab_from_hex(hex_colour), atol=0.8)


def test_two_whites_make_good_a_light_that_falls_off() -> None:
    picture = scene("#7FA8C9", np.ones(3)).astype(float)
    picture[10:50, 150:190] = 0.9 ** (1 / 2.2) * 255
    fall = np.linspace(1.0, 0.7, 200)[None, :, None]
    dimmed = np.asarray(picture * fall, dtype=np.uint8)
    narrow = Patch(126, 70, 10, 60)
    far, near = Patch(10, 10, 12, 40), Patch(170, 12, 12, 36)
    (one,) = patch_labs(dimmed, [far], [narrow])
    (two,) = patch_labs(dimmed, [far, near], [narrow])
    truth = lab_from_hex("#7FA8C9")
    assert abs(two[0] - truth[0]) < 0.5 * abs(one[0] - truth[0])


@pytest.mark.parametrize(
    ("spoil", "reason"),
    [
        ("burnt", "burnt out"),
        ("shadow", "not even"),
        ("strong", "too strong for the camera"),
    ],
)
def test_patches_that_cannot_be_told_are_refused_with_a_reason(spoil: str, reason: str) -> None:
    picture = scene("#7FA8C9")
    if spoil == "burnt":
        picture[70:100, 110:150] = 255
    elif spoil == "shadow":
        picture[70:130, 135:150] //= 2
    else:
        picture[60:140, 100:160, 0] = 0
    with pytest.raises(ValueError, match=reason):
        patch_labs(picture, [WHITE], [JAR])


def test_a_patch_that_cannot_be_told_leaves_the_others() -> None:
    picture = scene("#7FA8C9")
    picture[70:130, 115:125] = 255
    glaring = Patch(110, 70, 20, 60)
    found = patch_colours(picture, [WHITE], [glaring, Patch(130, 70, 20, 60)])
    assert "burnt out" in found.unread[0]
    assert found.unread[1] == ""
    assert np.isnan(found.lab[0]).all()
    np.testing.assert_allclose(found.lab[1], lab_from_hex("#7FA8C9"), atol=0.8)


def test_a_candles_white_is_one_where_its_cast_is_allowed_for() -> None:
    # A candle (1,900 K) that a camera balances by half: 6.6 to 1.
    candle = np.array([1.0, 0.45, 0.15])
    found = patch_colours(scene("#7FA8C9", candle), [WHITE], [JAR])
    assert found.cast == pytest.approx(1 / 0.15, rel=0.05)
    np.testing.assert_allclose(found.lab[0], lab_from_hex("#7FA8C9"), atol=2.0)
    with pytest.raises(ValueError, match="strongly coloured"):
        patch_colours(scene("#7FA8C9", np.array([1.0, 0.5, 0.05])), [WHITE], [JAR])


def test_tones_leave_white_and_bend_the_dark_downwards() -> None:
    white = np.array([0.7, 0.6, 0.5])
    colours = np.geomspace(0.02, 1.0, 30)[:, None] * np.ones(3)
    np.testing.assert_allclose(toned(colours, white, 0.0), colours)
    bent = toned(colours, white, 1.0)
    np.testing.assert_allclose(bent[-1], 1.0)
    assert np.all(np.diff(bent, axis=0) > 0)
    assert np.all(bent[colours[:, 0] < 0.1] < colours[colours[:, 0] < 0.1])
    np.testing.assert_allclose(toned(colours, white, 0.5), np.sqrt(bent * colours))


def test_the_white_has_to_be_one() -> None:
    picture = scene("#7FA8C9")
    with pytest.raises(ValueError, match="strongly coloured"):
        patch_labs(scene("#7FA8C9", np.array([1.0, 0.5, 0.05])), [WHITE], [JAR])
    with pytest.raises(ValueError, match="too dark"):
        patch_labs(picture // 6, [WHITE], [JAR])
    with pytest.raises(ValueError, match="burnt out"):
        patch_labs(scene("#7FA8C9", np.full(3, 1.11)), [WHITE], [JAR])
    with pytest.raises(ValueError, match="No white"):
        patch_labs(picture, [], [JAR])


@pytest.mark.parametrize("patch", [Patch(190, 10, 40, 40), Patch(0, 150, 40, 40)])
def test_patches_outside_and_tiny_ones(patch: Patch) -> None:
    picture = scene("#7FA8C9")
    with pytest.raises(ValueError, match="outside the picture, which is 200 pixels wide"):
        patch_labs(picture, [WHITE], [patch])
    with pytest.raises(ValueError, match="too small"):
        patch_labs(picture, [WHITE], [Patch(120, 80, 4, 40)])


@pytest.mark.parametrize("text", ["", "1,2,3", "a,b,c,d", "-1,2,3,4", "1;2;3;4", "1,2,3,4,5"])
def test_rectangles_that_are_none(text: str) -> None:
    with pytest.raises(ValueError, match="write x,y,width,height"):
        parse_patch(text)


def test_a_rectangle_is_read_back() -> None:
    assert parse_patch(" 120, 80,60,40 ") == Patch(120, 80, 60, 40)
    assert parse_patch(str(Patch(1, 2, 30, 40))) == Patch(1, 2, 30, 40)


def test_a_picture_lies_as_it_is_shown(tmp_path: Path) -> None:
    upright = np.zeros((20, 30, 3), dtype=np.uint8)
    upright[:10, :10] = 200
    turned = Image.fromarray(upright).transpose(Image.Transpose.ROTATE_90)
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned by 90 degrees clockwise, EXIF 2.3
    turned.save(tmp_path / "turned.png", exif=exif)
    np.testing.assert_array_equal(read_picture(tmp_path / "turned.png"), upright)


def test_a_huge_picture_is_refused_before_it_is_decoded(tmp_path: Path) -> None:
    file = tmp_path / "huge.png"
    Image.new("RGB", (7000, 6000)).save(file)
    whole = file.read_bytes()
    # Without its pixels it could not be decoded at all; the header is enough to refuse it.
    file.write_bytes(whole[:60])
    with pytest.raises(ValueError, match="has 42 million pixels; accepted are 40 at most"):
        read_picture(file)


def test_what_is_no_picture(tmp_path: Path) -> None:
    text = tmp_path / "jars.jpg"
    text.write_text("no picture")
    with pytest.raises(ValueError, match="is no picture"):
        read_picture(text)
    Image.new("L", (50, 50), 200).save(tmp_path / "grey.png")
    with pytest.raises(ValueError, match="has no colours"):
        read_picture(tmp_path / "grey.png")
    Image.fromarray(scene("#7FA8C9")).save(tmp_path / "whole.png")
    content = (tmp_path / "whole.png").read_bytes()
    (tmp_path / "half.png").write_bytes(content[: len(content) // 2])
    with pytest.raises(ValueError, match="damaged"):
        read_picture(tmp_path / "half.png")
    with pytest.raises(FileNotFoundError):
        read_picture(tmp_path / "none.png")
