"""``calibrate`` from the outside: a table or a photograph in, a usable pigment out."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from dosing.cli.app import run
from indicator.absorbance import form_fractions, form_spectra
from indicator.appearance import seen
from indicator.optics import jar_view
from indicator.pigments import colourant

PH = [2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0]
TURN = 3.7
STRENGTH = 7.0
THINNED = 60


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HUEDOSE_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    return tmp_path / "home"


def hexes(ph: list[float], thinned: float = THINNED) -> list[str]:
    which = colourant("butterfly-pea")
    pka = which.pka.copy()
    pka[1] = TURN
    absorbance = STRENGTH / thinned * form_fractions(which, np.array(ph), pka) @ form_spectra(which)
    return [str(one) for one in seen(absorbance, jar_view()).hex]


def table(tmp_path: Path, text: str, name: str = "jars.csv") -> str:
    (tmp_path / name).write_text(text)
    return name


def hex_table(tmp_path: Path) -> str:
    rows = "".join(f"{ph},{one}\n" for ph, one in zip(PH, hexes(PH), strict=True))
    return table(tmp_path, f"pH,hex\n{rows}")


@pytest.mark.slow
def test_a_table_becomes_a_pigment_that_every_command_takes(
    tmp_path: Path, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["calibrate", "butterfly-pea", hex_table(tmp_path), "--petals", "2 %"]
    assert run([*words, "--diluted", "60", "--name", "our-petals", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    turn = next(one for one in found["numbers"] if one["form"] == "neutral base")
    assert turn["low"] < TURN < turn["high"]
    assert found["strength"]["low"] < STRENGTH < found["strength"]["high"]
    assert found["strength_per_percent"]["best"] == pytest.approx(STRENGTH / 2, rel=0.1)
    assert (home / "pigments" / "our-petals.toml").is_file()
    assert run(["colours", "our-petals", "--ph", "3,7", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["ladders"][0]["pigment"] == "our-petals"
    assert run(["colours", "--json"]) == 0
    listed = {one["name"]: one for one in json.loads(capsys.readouterr().out)["colourants"]}
    assert listed["our-petals"]["trust"] == "own"
    recipe = '[tub]\nvolume = "120 L"\n[[colour]]\npigment = "our-petals"\namount = "400 mL"\n'
    (tmp_path / "bath.toml").write_text(recipe)
    assert run(["plan", "bath.toml", "--json"]) in (0, 3)
    plan = json.loads(capsys.readouterr().out)
    assert plan["before"]["visibility_delta_e"] > 5
    for command in (["brew", "bath.toml"], ["brew", "bath.toml", "--baths", "2"]):
        assert run([*command, "--json"]) == 0
        capsys.readouterr()


@pytest.mark.slow
def test_a_file_beside_the_recipe(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "soak"
    folder.mkdir()
    out = ["-o", str(folder / "mine.toml")]
    assert run(["calibrate", "butterfly-pea", hex_table(tmp_path), "--diluted", "60", *out]) == 0
    assert "mine.toml" in capsys.readouterr().out
    text = '[[colour]]\npigment = "mine.toml"\namount = "400 mL"\nstrength = "6 /cm"\n'
    (folder / "bath.toml").write_text(text)
    assert run(["plan", str(folder / "bath.toml"), "--json"]) in (0, 3)
    plan = json.loads(capsys.readouterr().out)
    assert plan["before"]["visibility_delta_e"] > 5
    assert run(["colours", str(folder / "mine.toml"), "--json"]) == 0


def test_the_folder_can_be_named_after_the_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = str(tmp_path / "other")
    words = ["calibrate", "butterfly-pea", hex_table(tmp_path), "--diluted", "60", "--name", "ours"]
    assert run([*words, "--data-dir", other]) == 0
    assert run(["colours", "ours", "--data-dir", other]) == 0
    assert run(["--data-dir", other, "colours", "ours"]) == 0
    capsys.readouterr()
    assert run(["colours", "ours"]) == 2
    assert "colourant is 'ours'" in capsys.readouterr().err


def photograph(
    tmp_path: Path,
    ph: list[float],
    thinned: float = 150,
    light: tuple[float, float, float] = (0.9, 0.8, 0.6),
) -> list[str]:
    """A picture of jars in warm light, with a white card above; the arguments that read it."""
    picture = np.full((240, 60 + 80 * len(ph), 3), 0.25)
    picture[10:70, 10:110] = 0.85 * np.array(light)
    arguments = ["--photo", "jars.png", "--white", "20,20,80,40"]
    for k, one in enumerate(hexes(ph, thinned)):
        level = np.array([int(one[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
        linear = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
        picture[100:220, 20 + 80 * k : 80 + 80 * k] = 0.85 * np.array(light) * linear
        arguments += ["--jar", f"{ph[k]}: {35 + 80 * k},120,30,80"]
    encoded = np.where(picture <= 0.0031308, 12.92 * picture, 1.055 * picture ** (1 / 2.4) - 0.055)
    Image.fromarray(np.rint(255 * encoded).astype(np.uint8)).save(tmp_path / "jars.png")
    return arguments


def test_a_photograph_of_jars(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["calibrate", "butterfly-pea", *photograph(tmp_path, PH), "--petals", "2 %"]
    assert run([*words, "--diluted", "150", "--ph-by", "buffer", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["readings"] == "photograph"
    assert found["residual"] < 3
    turn = next(one for one in found["numbers"] if one["form"] == "neutral base")
    assert turn["low"] < TURN < turn["high"]


def test_jars_that_cannot_be_read_are_left_out_by_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # Thinned 60 times some jars are too strong for a camera.
    words = ["calibrate", "butterfly-pea", *photograph(tmp_path, PH, THINNED), "--diluted", "60"]
    assert run([*words, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    dropped = {one["label"]: one["reason"] for one in found["dropped"]}
    assert 0 < len(dropped) < 4
    assert all("too strong for the camera" in one for one in dropped.values())
    assert {one["label"] for one in found["jars"]} == {f"pH {ph}" for ph in PH} - set(dropped)
    assert found["strength"]["low"] < STRENGTH < found["strength"]["high"]
    assert run([*words, "--overwrite"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    for label in dropped:
        assert f"{label} is left out. The patch" in text


def test_too_few_jars_that_can_be_read_get_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["calibrate", "butterfly-pea", *photograph(tmp_path, [3.0, 7.0, 8.0], 20)]
    assert run(words) == 2
    shown = capsys.readouterr()
    assert "None of the jars can be read; the first, pH 3.0: The patch" in shown.err
    assert shown.err.count("\n") == 1
    words = ["calibrate", "butterfly-pea", *photograph(tmp_path, [3.0, 4.0, 8.0], 60)]
    assert run(words) == 2
    shown = capsys.readouterr()
    assert "2 different pH values without pH 8.0, which cannot be read" in shown.err
    assert shown.err.count("\n") == 1


def test_a_candles_cast_is_asked_about(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = photograph(tmp_path, PH, light=(1.0, 0.5, 0.2))
    words = ["calibrate", "butterfly-pea", *arguments, "--diluted", "150", "--light", "candle"]
    assert run([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["white_cast"] == pytest.approx(5.0, rel=0.05)
    assert run([*words, "--overwrite"]) == 0
    assert "is it white paper?" in capsys.readouterr().out


def test_one_jar_replaces_the_guess_of_the_strength(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["calibrate", "butterfly-pea", *photograph(tmp_path, [6.0]), "--only-strength"]
    assert run([*words, "--diluted", "150"]) == 0
    text = capsys.readouterr().out
    assert 'strength = "' in text
    assert run([*words, "--diluted", "150", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["file"] is None
    assert found["strength"]["low"] < STRENGTH < found["strength"]["high"]


def test_absorbances_of_a_photometer(
    tmp_path: Path, huedose_json: Callable[..., tuple[int, dict[str, Any]]]
) -> None:
    which = colourant("butterfly-pea")
    nm = np.array([520.0, 548.0, 620.0])
    pka = which.pka.copy()
    pka[1] = TURN
    found = 0.5 * form_fractions(which, np.array(PH), pka) @ form_spectra(which, nm)
    rows = "".join(
        f"{ph},{','.join(f'{one:.4f}' for one in line)},jar {k}\n"
        for k, (ph, line) in enumerate(zip(PH, found, strict=True))
    )
    file = table(tmp_path, f"ph,a520,a548,a620,jar\n{rows}")
    code, answer = huedose_json("calibrate", "butterfly-pea", file)
    assert code == 0
    assert answer["residual_unit"] == answer["strength_unit"] == "1/cm"
    assert answer["strength"]["best"] == pytest.approx(0.5, rel=0.05)
    assert answer["jars"][2]["label"] == "jar 2"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("text", "options", "words"),
    [
        ("ph,hex\n3,#808080\n7,#8090A0\n", [], "2 different pH values; accepted are 3 or more"),
        ("ph,hex\n3,nan\n", [], "Column 'hex', row 1 is 'nan'"),
        ("ph,L,a,b\n3,nan,0,0\n", [], "Column 'L', row 1 is 'nan'"),
        ("ph,L,a,b\n15,50,0,0\n", [], "Column 'ph', row 1 is '15'"),
        ("ph,a548\n3,\n", [], "Column 'a548', row 1 is ''"),
        ("ph,hexx\n3,#808080\n", [], "column 'hexx' is not known"),
        ("hex\n#808080\n", [], "no column ph"),
        ("ph,hex,L,a,b\n3,#808080,5,5,5\n", [], "accepted is one kind"),
        ("ph\n3\n", [], "readings of the jars are missing"),
        ("ph,hex,L,a\n3,#808080,50,1\n", [], "some of the columns L, a, b, but not 'b'"),
        ("ph,hex\n3,#808080\n", ["--name", "hibiscus"], "a pigment of huedose has"),
        ("ph,hex\n7.4,#4A8CC9\n", ["--only-strength", "--name", "x"], "say what was brewed"),
        ("ph,a300\n3,0.5\n", [], "Wavelengths of absorbances go from 380 to 780"),
        ("ph,hex\n3,#808080\n", ["--ph-by", "strip"], "misleads in a coloured liquid"),
        ("ph,hex\n3,#808080\n", ["--ph-by", "nose"], "accepted are meter, buffer, drop-kit"),
        ("ph,hex\n3,#808080\n", ["--petals", "6 /cm"], "petals is '6 /cm'"),
        ("ph,hex\n3,#808080\n", ["--diluted", "0"], "diluted is 0"),
        ("ph,hex\n3,#808080\n", ["--name", "red-cabbage"], "a pigment of huedose has"),
        ("ph,hex\n3,#808080\n", ["--name", "Our Petals"], "accepted are small letters"),
        ("ph,hex\n3,#808080\n", ["-o", "x.csv"], "ends in .toml"),
        ("ph,hex\n3,#808080\n", ["-o", "no/x.toml"], "folder does not exist"),
        ("ph,x,y,width,height\n3,1,1,9,9\n", [], "add --photo FILE"),
        ("ph;hex\n3;#808080\n", [], "write a comma between columns"),
        ("ph,hex\n", [], "has no readings"),
    ],
)
def test_bad_series_get_one_sentence(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    text: str,
    options: list[str],
    words: str,
) -> None:
    assert run(["calibrate", "butterfly-pea", table(tmp_path, text), *options]) == 2
    shown = capsys.readouterr()
    assert words in shown.err
    assert shown.err.count("\n") == 1
    assert not shown.out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["butterfly-pee", "jars.csv"], "did you mean 'butterfly-pea'?"),
        (["butterfly-pea"], "Give a CSV file of jars"),
        (["butterfly-pea", "none.csv"], "There is no file 'none.csv'"),
        (["butterfly-pea", "--photo", "none.png", "--jar", "5: 1,1,9,9"], "No such file"),
        (["butterfly-pea", "--jar", "5: 1,1,9,9"], "no picture; add --photo"),
        (["butterfly-pea", "--photo", "x.png", "--jar", "5"], "write the pH and where the jar is"),
        (["butterfly-pea", "--photo", "x.png", "--jar", "5: 1,1,9"], "write x,y,width,height"),
        (["butterfly-pea", "--photo", "x.png", "--jar", "15: 1,1,9,9"], "jar is '15'"),
        (["butterfly-pea", "--photo", "x.png", "--white", "here"], "write x,y,width,height"),
    ],
)
def test_bad_arguments_get_one_sentence(
    capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    assert run(["calibrate", *arguments]) == 2
    shown = capsys.readouterr()
    assert words in shown.err
    assert shown.err.count("\n") == 1


@pytest.mark.slow
def test_jars_of_another_flower_are_no_success(
    tmp_path: Path, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cabbage = colourant("red-cabbage")
    absorbance = 0.1 * form_fractions(cabbage, np.array(PH)) @ form_spectra(cabbage)
    shown = seen(absorbance, jar_view()).hex
    rows = "".join(f"{ph},{one}\n" for ph, one in zip(PH, shown, strict=True))
    file = table(tmp_path, f"ph,hex\n{rows}")
    assert run(["calibrate", "butterfly-pea", file]) == 3
    text = capsys.readouterr().out
    assert "hardly are of butterfly pea" in text.splitlines()[1]
    assert "red cabbage much better" in text
    assert not (home / "pigments").exists()
    assert run(["calibrate", "butterfly-pea", file, "--anyway"]) == 0
    assert (home / "pigments" / "own-butterfly-pea.toml").is_file()
    capsys.readouterr()
    assert run(["calibrate", "red-cabbage", file, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["doubtful"] is False


def test_a_file_is_not_overwritten_unasked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["calibrate", "butterfly-pea", hex_table(tmp_path), "--diluted", "60"]
    assert run(words) == 0
    assert run(words) == 2
    assert "--overwrite" in capsys.readouterr().err
    assert run([*words, "--overwrite"]) == 0
