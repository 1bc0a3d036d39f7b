"""``jar`` from photographs: the liquid's colour beside white paper, whatever the light."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import colour
import numpy as np
import pytest
from PIL import Image

from dosing.jar.kit import jar_of, titrant
from dosing.jar.model import JarModel, kind_read
from dosing.recipe import demo_recipe
from indicator.appearance import hex_of_lab
from indicator.optics import jar_view

Run = Callable[..., tuple[int, str, str]]
RunJson = Callable[..., tuple[int, dict[str, Any]]]

DEMOS = Path(__file__).parents[2] / "data" / "demo"
WARM = np.array([0.95, 0.85, 0.65])
"""Linear share of a white that a warm lamp leaves in red, green and blue."""
TOTALS = np.array([0.0, 3, 6, 8, 9, 10, 11, 12, 13, 14, 27, 32, 38, 45])
WHITE, LIQUID = ("--white", "10,10,60,40"), ("--liquid", "110,70,40,60")
TESTED = (*("--by", "photograph", "--jar", "1 L, 3 x colour", "--solution", "1 %, 30 g, 50 g"),)
MORE_ALKALINE = 0.25
"""Of the water in the pictures than its report says [meq/L]."""


def photograph(file: Path, hex_colour: str, *, shadow: bool = False, light: Any = WARM) -> None:
    """White paper and a jar under a warm lamp; the jar would be of that colour in daylight."""
    linear = colour.models.eotf_sRGB(np.asarray(colour.notation.HEX_to_RGB(hex_colour)))
    picture = np.full((160, 200, 3), 0.3)
    picture[5:60, 5:80] = 0.9 * light
    picture[60:140, 100:160] = 0.9 * light * linear
    if shadow:
        picture[60:140, 130:160] *= 0.5
    levels = np.rint(255.0 * colour.models.eotf_inverse_sRGB(picture)).astype(np.uint8)
    Image.fromarray(levels).save(file)


def expected_hexes() -> list[str]:
    """Of the soak's jar in a water that is more alkaline than its report says."""
    soak = demo_recipe("1")
    jar = jar_of(soak, plain=False, litres=1.0, weighed=True, temperature_c=38.0, colour_times=3.0)
    acid = titrant(soak.activator.parts, 1.0, made_sd=0.02, same_powder=True)
    model = JarModel(soak, jar, acid, kind_read("photograph"), 0.0, jar_view())
    numbers = np.zeros(len(model.names))
    numbers[model.index["alkalinity", "", -1]] = MORE_ALKALINE / model.alkalinity_sd
    labs = model.predicted(numbers, TOTALS)
    return [str(one) for one in hex_of_lab(labs, "D65", 2)]


@pytest.fixture
def series(tmp_path: Path) -> Path:
    """A table beside its pictures."""
    return taken(tmp_path)


def taken(tmp_path: Path, light: Any = WARM) -> Path:
    """A table beside its pictures in some light."""
    lines = ["ml,photo"]
    for total, one in zip(TOTALS, expected_hexes(), strict=True):
        name = f"jar{total:.0f}.png"
        photograph(tmp_path / name, one, light=light)
        lines.append(f"{total:.0f},{name}")
    table = tmp_path / "jar.csv"
    table.write_text("\n".join(lines) + "\n")
    return table


@pytest.mark.slow
def test_photographs_under_a_lamp_tell_the_water(huedose: Run, series: Path) -> None:
    code, out, err = huedose("jar", series, *TESTED, *WHITE, *LIQUID, "--json")
    assert err == ""
    found = json.loads(out)
    assert (code, found["by"]) == (0, "photograph")
    water = found["alkalinity_meq_l"]
    assert water["low"] < water["prior_best"] + MORE_ALKALINE < water["high"]
    assert water["best"] > water["prior_best"] + 0.15 * MORE_ALKALINE
    # Eight-bit levels leave half a level of rounding.
    assert max(step["residual"] for step in found["steps"]) < 2.5
    assert found["consistent"] is True


@pytest.mark.slow
def test_a_candles_cast_widens_the_dose_and_is_asked_about(huedose: Run, tmp_path: Path) -> None:
    widths = {}
    for name, light in (("warm", WARM), ("candle", np.array([1.0, 0.45, 0.15]))):
        (tmp_path / name).mkdir()
        table = taken(tmp_path / name, light)
        code, out, err = huedose("jar", table, *TESTED, *WHITE, *LIQUID, "--json")
        assert (code, err) == (0, "")
        found = json.loads(out)
        assert max(step["residual"] for step in found["steps"]) < 3.0
        widths[name] = found["per_litre_g"]["high"] / found["per_litre_g"]["low"]
        asked = any("is it white paper?" in note["message"] for note in found["notes"])
        assert asked == (name == "candle")
    assert widths["candle"] > 1.02 * widths["warm"]


@pytest.mark.slow
def test_pictures_may_be_named_step_by_step(
    huedose: Run, series: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(series.parent)
    steps = [word for total in TOTALS for word in ("--step", f"{total:.0f}: jar{total:.0f}.png")]
    tested = TESTED[2:]
    _, typed, _ = huedose("jar", *steps, *tested, *WHITE, *LIQUID, "--json")
    _, table, _ = huedose("jar", series, *tested, *WHITE, *LIQUID, "--json")
    assert json.loads(typed)["dose_g"] == json.loads(table)["dose_g"]


@pytest.mark.slow
def test_a_picture_may_have_rectangles_of_its_own(huedose: Run, series: Path) -> None:
    rows = series.read_text().splitlines()
    moved = series.parent / "jar6.png"
    picture = np.asarray(Image.open(moved))
    Image.fromarray(np.roll(picture, 20, axis=1)).save(moved)
    whole = [f"{row},," for row in rows[1:]]
    whole[2] += '"30,10,60,40","130,70,40,60"'
    whole[2] = whole[2].replace(',,"', ',"')
    series.write_text("\n".join(["ml,photo,white,liquid", *whole]) + "\n")
    code, out, err = huedose("jar", series, *TESTED, *WHITE, *LIQUID, "--json")
    assert (code, err) == (0, "")
    assert max(step["residual"] for step in json.loads(out)["steps"]) < 2.5


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (LIQUID, "Reading 1, 'jar0.png': nobody said where the white paper is"),
        (WHITE, "Reading 1, 'jar0.png': nobody said where the liquid is"),
        ((*WHITE, "--liquid", "1,2,3"), "liquid is '1,2,3'; write X,Y,WIDTH,HEIGHT"),
        (("--white", "", *LIQUID), "nobody said where the white paper is"),
        ((*WHITE, "--liquid", "60,40,40,40"), "'jar0.png': the liquid 60,40,40,40 reaches into"),
        ((*WHITE, "--liquid", "190,70,40,60"), "Reading 1, 'jar0.png': The patch"),
        (("--white", "110,70,40,60", "--liquid", "300,300,9,9"), "Reading 1, 'jar0.png'"),
        ((*WHITE, *LIQUID, "--jar", "1 L, plain"), "leave plain out"),
    ],
)
def test_what_is_no_photograph_of_a_jar(
    huedose: Run, series: Path, words: tuple[str, ...], part: str
) -> None:
    code, out, err = huedose("jar", series, *TESTED, *words)
    assert (code, out) == (2, "")
    assert part in " ".join(err.split())
    assert "Traceback" not in err


@pytest.mark.slow
@pytest.mark.parametrize("liquid", ["165,5,30,150", "12,12,20,30"])
def test_a_dose_does_not_rest_on_the_wall_or_the_paper(
    huedose: Run, series: Path, liquid: str
) -> None:
    words = ("--white", "40,10,30,40", "--liquid", liquid)
    code, out, err = huedose("jar", series, *TESTED, *words, "--json")
    assert (code, err) == (3, "")
    found = json.loads(out)
    assert found["dose_held_back"] is True
    assert "jar.first.pigment" in {note["code"] for note in found["check_first"]}
    assert found["pours_g"] == []


@pytest.mark.slow
def test_a_shadow_on_one_jar_leaves_it_out_by_its_name(huedose: Run, series: Path) -> None:
    _, out, _ = huedose("jar", series, *TESTED, *WHITE, *LIQUID, "--json")
    sound = json.loads(out)
    photograph(series.parent / "jar9.png", "#5590D4", shadow=True)
    code, out, err = huedose("jar", series, *TESTED, *WHITE, *LIQUID, "--json")
    assert (code, err) == (0, "")
    found = json.loads(out)
    (left,) = found["left_out"]
    assert (left["number"], left["file"]) == (5, "jar9.png")
    assert "The patch 110,70,40,60 is not even" in left["why"]
    assert [step["added"] for step in found["steps"]] == [*TOTALS[:4], *TOTALS[5:]]
    assert found["dose_g"]["best"] == pytest.approx(sound["dose_g"]["best"], rel=0.03)
    assert sound["left_out"] == []
    _, out, _ = huedose("jar", series, *TESTED, *WHITE, *LIQUID)
    assert "Reading 5 is left out. jar9.png: The patch" in " ".join(out.split())


def test_a_series_that_shows_nothing_is_refused_by_its_first_picture(
    huedose: Run, series: Path
) -> None:
    for total in TOTALS[1:]:
        photograph(series.parent / f"jar{total:.0f}.png", "#5590D4", shadow=True)
    code, out, err = huedose("jar", series, *TESTED, *WHITE, *LIQUID)
    assert (code, out) == (2, "")
    assert "Reading 2, 'jar3.png': The patch 110,70,40,60 is not even" in " ".join(err.split())


@pytest.mark.slow
@pytest.mark.parametrize(
    ("text", "words", "part"),
    [
        (
            "ml,photo\n0,jar0.png\n9,none.jpg\n",
            (*WHITE, *LIQUID),
            "Reading 2, 'none.jpg', cannot be used: No such file",
        ),
        ("photo,ml\n#2.jpg,0\njar9.png,9\n", (*WHITE, *LIQUID), "Reading 1, '#2.jpg', cannot be"),
        ("ml,photo\n0,text.jpg\n9,jar9.png\n", (*WHITE, *LIQUID), "is no picture"),
        ("ml,photo\n0,\n9,jar9.png\n", (*WHITE, *LIQUID), "Reading 1 is ''"),
        ("ml,photo\n0,jar0.png\n9,#778899\n", (*WHITE, *LIQUID), "Reading 2 is '#778899'"),
        ("ml,picture\n0,jar0.png\n9,jar0.png\n", (*WHITE, *LIQUID), "and so is reading 1"),
        (
            'ml,photo,white\n0,jar0.png,\n9,jar9.png,"1,2"\n',
            (*WHITE, *LIQUID),
            "Reading 2: white is '1,2'",
        ),
        ("ml,hex,liquid\n0,#00A0C1,\n9,#00A0C1,\n", (), "has no column photo"),
        ("ml,hex\n0,#00A0C1\n9,#00A0C1\n", WHITE, "are no photographs"),
        ("ml,hex\n0,#00A0C1\n9,#00A0C1\n", ("--by", "photograph"), "write --by colour"),
    ],
)
def test_tables_that_do_not_fit(
    huedose: Run, series: Path, text: str, words: tuple[str, ...], part: str
) -> None:
    series.write_text(text)
    (series.parent / "text.jpg").write_text(text)
    code, out, err = huedose("jar", series, *words)
    assert (code, out) == (2, "")
    assert part in " ".join(err.split())


@pytest.mark.slow
def test_the_instructions_by_photograph_ask_for_pictures(
    huedose: Run, huedose_json: RunJson
) -> None:
    ask = ("jar", "--instructions", "--by", "photograph")
    code, found = huedose_json(*ask)
    assert (code, found["by"], found["colour_times"]) == (0, "photograph", 3)
    _, out, _ = huedose(*ask)
    assert "ml,photo" in out
    assert "--white A --liquid B" in found["command"]
    assert "A, B: a rectangle X,Y,WIDTH,HEIGHT" in out
    given = ("--white", "1,2,30,40", "--liquid", "5,6,70,80")
    _, out, _ = huedose(*ask, *given, "--json")
    assert "--white 1,2,30,40 --liquid 5,6,70,80" in json.loads(out)["command"]


@pytest.mark.slow
def test_a_deep_bath_is_thinned_for_the_camera(huedose: Run, tmp_path: Path) -> None:
    soak = (DEMOS / "1_evening_soak.toml").read_text()
    told = {}
    for strength in ("2 /cm", "6 /cm", "40 /cm"):
        bath = tmp_path / "bath.toml"
        bath.write_text(soak.replace('strength = "6 /cm"', f'strength = "{strength}"'))
        _, out, _ = huedose("jar", bath, "--instructions", "--by", "photograph", "--json")
        found = json.loads(out)
        told[strength] = found["colour_times"]
        hexes = [row["expected"]["hex"] for row in found["readings"]]
        assert min(int(one[k : k + 2], 16) for one in hexes for k in (1, 3, 5)) > 20
    assert told["2 /cm"] > told["6 /cm"] > told["40 /cm"]
