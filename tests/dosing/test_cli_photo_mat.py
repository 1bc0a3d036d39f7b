"""``calibrate`` and ``jar`` from pictures of the photo mat: no rectangle is typed."""

from __future__ import annotations

import importlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from indicator.photograph import read_picture

Run = Callable[..., tuple[int, str, str]]
REFERENCE = Path(__file__).parents[1] / "reference"
NIKON = "Nikon 5100 (NPL)"
SEED = 3


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HUEDOSE_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture(scope="module")
def camera() -> Any:
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(REFERENCE))
        yield importlib.import_module("camera")


@pytest.fixture(scope="module")
def pixels(camera: Any) -> Any:
    shot = camera.Shot("D65", NIKON, SEED, 800)
    return camera.picture(camera.world(SEED).absorbance, shot)


@pytest.fixture
def photo(pixels: Any, home: Path) -> Path:
    file = home / "jars.jpg"
    Image.fromarray(pixels).save(file, quality=95)
    return file


def asked(camera: Any) -> tuple[str, ...]:
    ph = ", ".join(f"{each:g}" for each in camera.PH)
    thinned = f"{camera.world(SEED).thinned:g}"
    return (
        "--ph",
        ph,
        "--diluted",
        thinned,
        "--path",
        f"{camera.DEPTH_CM:g} cm",
        "--petals",
        "2 %",
    )


def test_a_photograph_of_the_mat_gives_the_strength_and_shows_what_it_took(
    huedose: Run, photo: Path, camera: Any
) -> None:
    words = ("calibrate", "butterfly-pea", "--photo", photo.name, *asked(camera))
    code, out, err = huedose(*words, "--json")
    assert (code, err) == (0, "")
    found, truth = json.loads(out), camera.world(SEED)
    assert found["strength"]["low"] < truth.strength < found["strength"]["high"]
    assert found["dropped"] == []
    assert found["annotated"] == "jars-read.png"
    assert read_picture(Path("jars-read.png")).shape == read_picture(photo).shape
    # Asked again, the picture beside the photograph is drawn anew; one that was named is kept.
    code, out, _ = huedose(*words, "--output", "again.toml")
    assert code == 0
    assert "LOOK: jars-read.png" in out
    code, _, err = huedose(*words, "--annotated", photo.name, "--output", "third.toml")
    assert code == 2
    assert "jars.jpg" in err


def test_a_dash_leaves_a_place_out_and_a_strong_glass_is_named(
    huedose: Run, home: Path, camera: Any
) -> None:
    seen = camera.world(SEED).absorbance * np.array([1, 1, 12, 1, 1, 1])[:, None]
    picture = camera.picture(seen, camera.Shot("D65", NIKON, SEED, 800))
    Image.fromarray(picture).save(home / "jars.png")
    words = ("--diluted", "160", "--path", "4 cm", "--annotated", "seen.png", "--json")
    listed = ("--photo", "jars.png", "--ph", "2.1, 3, 4, 5, -, 7")
    code, out, err = huedose("calibrate", "butterfly-pea", *listed, *words)
    assert (code, err) == (0, "")
    found = json.loads(out)
    assert [jar["ph"] for jar in found["jars"]] == [2.1, 3.0, 5.0, 7.0]
    (dropped,) = found["dropped"]
    assert dropped["ph"] == 4.0
    assert "Glass 3 is too strong for the camera; thin it" in dropped["reason"]
    assert Path("seen.png").exists()


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (("--ph", "2.1, 3, x"), "ph is 'x'"),
        (("--ph", "-, -"), "a dash where none stands"),
        (("--ph", "1,2,3,4,5,6,7"), "7 glasses are given; the photo mat in the picture has 6"),
        (("--ph", "2, 3, 4", "--jar", "5: 1,2,30,40"), "give one of the two"),
        (("--ph", "2, 3, 4", "--white", "1,2,30,40"), "no patches"),
        (("--ph", "2, 3, 4", "--annotated", "seen.pdf"), "seen.pdf"),
        ((), "photograph of glasses on the photo mat"),
    ],
)
def test_what_cannot_be_asked_of_a_mat(
    huedose: Run, photo: Path, words: tuple[str, ...], part: str
) -> None:
    code, out, err = huedose("calibrate", "butterfly-pea", "--photo", photo.name, *words)
    assert (code, out) == (2, "")
    assert part in " ".join(err.split())
    assert "Traceback" not in err


def test_a_picture_without_a_mat_is_one_sentence(huedose: Run, home: Path) -> None:
    Image.new("RGB", (300, 200), (90, 120, 200)).save("jars.png")
    code, out, err = huedose("calibrate", "butterfly-pea", "--photo", "jars.png", "--ph", "2, 3, 4")
    assert (code, out) == (2, "")
    assert "0 markers of the photo mat are seen" in " ".join(err.split())


@pytest.mark.slow
def test_kitchen_solutions_stand_on_the_mat_in_their_order(
    huedose: Run, photo: Path, camera: Any
) -> None:
    words = ("--photo", photo.name, "--kitchen", "--path", "4 cm", "--anyway", "--json")
    code, out, err = huedose("calibrate", "butterfly-pea", *words)
    assert err == ""
    ph = [jar["ph"] for jar in json.loads(out)["jars"]]
    assert (code, len(ph)) == (0, 6)
    assert ph == sorted(ph)


@pytest.mark.slow
def test_a_jar_test_reads_one_glass_in_each_picture_or_six_in_one(
    huedose: Run, home: Path, camera: Any
) -> None:
    seen = camera.world(SEED, ph=np.array([7.8, 7.0, 6.2, 5.5, 4.5, 3.5])).absorbance
    six = camera.picture(seen, camera.Shot("D65", NIKON, SEED, 800))
    Image.fromarray(six).save(home / "six.png")
    steps = [word for total in (0, 6, 9, 11, 13, 14) for word in ("--step", f"{total}: six.png")]
    test = ("--by", "photograph", "--jar", "1 L, 3 x colour, 4 cm", "--solution", "1 %, 30 g, 50 g")
    code, out, err = huedose("jar", *steps, *test, "--json")
    assert err == ""
    assert code in (0, 3)
    found = json.loads(out)
    assert found["by"] == "photograph"
    assert len(found["steps"]) == 6
    assert sorted(each.name for each in home.glob("six-read-*")) == [
        f"six-read-{place}.png" for place in range(1, 7)
    ]
