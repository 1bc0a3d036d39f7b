"""The film of a pour: its waters are those of the two zones, and it mixes as they do."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from PIL import Image

from dosing.bath.assembled import assemble
from dosing.pictures.film import SMALL, Film, carried, poured_blob, write_film
from dosing.pictures.shop import Shown, shown_plan
from dosing.plan.answer import make_plan, preview
from dosing.recipe import demo_recipe
from dosing.soak.course import follow
from dosing.soak.records import Manner


@cache
def poured(*totals_g: float) -> tuple[Shown, Any, float]:
    """The blue bath that turns pink: what is shown, its course, and its water [L]."""
    inputs = demo_recipe("5")
    course = follow(inputs, assemble(inputs), totals_g, Manner(minutes=30))
    plan = make_plan(inputs)
    return shown_plan(plan, foam=True), course, plan.volume_l


def levels(colour: str) -> list[float]:
    return [255 * level for level in to_rgb(colour)]


def middle(image: Image.Image) -> list[float]:
    side = image.width
    return [float(level) for level in image.convert("RGB").getpixel((side // 2, side * 6 // 10))]  # type: ignore[union-attr]


@pytest.mark.slow
@pytest.mark.parametrize(("name", "side"), [("soak.gif", SMALL), ("soak.webp", 1080)])
def test_a_film_begins_and_ends_with_the_computed_water_and_begins_again(
    name: str, side: int, tmp_path: Path
) -> None:
    shown, course, volume_l = poured(14.0)
    write_film(shown, course, volume_l, tmp_path / name, side)
    assert (tmp_path / name).stat().st_size < 3e6
    with Image.open(tmp_path / name) as film:
        assert film.size == (side, side)
        assert film.info["loop"] == 0
        frames = film.n_frames  # type: ignore[attr-defined]
        assert frames > 40
        assert middle(film) == pytest.approx(levels(shown.waters[0][1]), abs=4)
        film.seek(frames - 5)
        assert middle(film) == pytest.approx(levels(str(course.colours.hex[-1])), abs=4)


@pytest.mark.slow
def test_the_swirl_keeps_the_share_of_its_zone_and_winds_through_the_tub() -> None:
    film = Film(*poured(14.0), 120)
    seen = []
    for time, swirl in film.swirls():
        assert 0.0 <= swirl.min() <= swirl.max() <= 1.0
        assert np.mean(swirl) == pytest.approx(film.zone_share, rel=0.15)
        seen.append((time, float(np.std(swirl))))
    assert seen[0][1] > 4 * seen[-1][1]
    assert np.all(np.diff([time for time, _ in seen]) > 0)
    assert seen[-1][0] == pytest.approx(1800.0)


def test_a_slower_mixing_winds_slower() -> None:
    shown, course, volume_l = poured(14.0)
    still = replace(course, manner=replace(course.manner, stir="still"))
    by_hand, left = Film(shown, course, volume_l, 120), Film(shown, still, volume_l, 120)
    assert left.constant_s > 10 * by_hand.constant_s
    blob = poured_blob(0.07)
    none = np.zeros_like(blob)
    ends = [carried(blob, none, 0.0, turned) for turned in (0.01, 0.1, 0.3)]
    down = np.arange(len(blob))[:, None]
    deep = [float(np.sum(down * swirl) / np.sum(swirl)) for swirl in ends]
    assert deep[0] < deep[1] < deep[2]


def test_every_pour_has_frames_of_its_own() -> None:
    film = Film(*poured(7.0, 14.0), 120)
    times = np.array(film.times())
    second = film.course.pours[1].at_s
    assert np.sum(times < second) > 10
    assert np.sum((times > second) & (times < second + 60)) > 20


def test_a_film_of_what_must_not_be_poured_says_so() -> None:
    _, course, volume_l = poured(14.0)
    stopped = shown_plan(preview(demo_recipe("1"), 40.0))
    film = Film(stopped, course, volume_l, 540)
    fine = Film(replace(stopped, why_not="", level="ok"), course, volume_l, 540)
    told, clear = (
        np.asarray(one.frame(None, np.zeros(())))[20:66, 220:510] for one in (film, fine)
    )
    assert told.std(axis=(0, 1)).max() > 10
    assert clear.std(axis=(0, 1)).max() == 0


@pytest.mark.parametrize("name", ["soak.mp4", "soak.png", "soak.apng"])
def test_another_ending_is_refused_in_a_sentence(name: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"a film ends in \.gif or \.webp, and a still in \.png"):
        write_film(*poured(14.0), tmp_path / name)
    assert not list(tmp_path.iterdir())
