"""A maker's own pigments: written, read back, found by name or path, refused with a sentence."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from indicator.absorbance import WAVELENGTH_NM, form_spectra, mixture_absorbance
from indicator.colourants import Colourant, trust
from indicator.fading import fading
from indicator.own import own_folder
from indicator.pigment_file import read_pigment_file, write_pigment_file
from indicator.pigments import check_distinct, colourant, infusion_strength, own_pigments
from indicator.tables import DataError

PLAIN = """
schema = 1
name = "our-petals"
[per_percent]
best = 3.5
low = 3.0
high = 4.0
[[form]]
form = "red"
[[form]]
form = "blue"
from_form = "red"
pka = 6.0
[[band]]
form = "red"
centre_nm = 520.0
width_nm = 80.0
height = 1.0
[[band]]
form = "blue"
centre_nm = 610.0
width_nm = 80.0
height = 1.2
"""


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    (folder / "pigments").mkdir(parents=True)
    monkeypatch.setenv("HUEDOSE_HOME", str(folder))
    return folder


def own(name: str = "our-blue") -> Colourant:
    return replace(
        colourant("butterfly-pea"), name=name, label="our blue", aliases=(), confidence="OWN",
        based_on="butterfly-pea",
    )  # fmt: skip


def test_a_written_file_is_the_same_pigment_again(home: Path) -> None:
    file = home / "pigments" / "our-blue.toml"
    write_pigment_file(own(), file, {"jars": 7, "on": "2026-01-01", "learnt": ["pka x"]})
    found = own_pigments().find("our-blue")
    original = colourant("butterfly-pea")
    ph = np.array([2.0, 5.0, 8.0, 11.0])
    np.testing.assert_allclose(
        mixture_absorbance({found: 0.5}, ph),
        mixture_absorbance({"butterfly-pea": 0.5}, ph),
        rtol=1e-4,
    )
    assert found.strength_sd == original.strength_sd
    # Nothing in it is the maker's own yet, so that it is trusted as what it is based on.
    assert trust(found) == trust(original)
    assert float(infusion_strength(found, 2.0)) == float(infusion_strength("butterfly-pea", 2.0))
    # What is not in the file is that of the pigment it is based on.
    assert (
        fading(found, 5.0, 22.0, "clean").rate == fading("butterfly-pea", 5.0, 22.0, "clean").rate
    )


def test_a_pigment_is_found_by_the_path_of_its_file(tmp_path: Path) -> None:
    file = tmp_path / "elsewhere.toml"
    file.write_text(PLAIN)
    found = own_pigments().find(str(file))
    assert (found.name, found.file) == ("our-petals", str(file))
    assert mixture_absorbance({found: 1.0}, 3.0).max() == pytest.approx(1.0, abs=0.05)


def test_a_changed_file_is_read_again(home: Path) -> None:
    file = home / "pigments" / "x.toml"
    file.write_text(PLAIN.replace("our-petals", "x"))
    assert own_pigments().find("x").pka[1] == 6.0
    file.write_text(PLAIN.replace("our-petals", "x").replace("6.0", "6.25"))
    assert own_pigments().find("x").pka[1] == 6.25


def test_a_spectrum_beside_the_file(tmp_path: Path) -> None:
    (tmp_path / "spectra.csv").write_text(
        "# measured in a class\nwavelength_nm,red,blue\n400,0.1,0.2\n500,1.0,0.4\n700,0.0,0.1\n"
    )
    start, end = PLAIN.split("[per_percent]")
    text = f'{start}spectra = "spectra.csv"\n[per_percent]{end.split("[[band]]")[0]}'
    (tmp_path / "p.toml").write_text(text)
    spectra = form_spectra(own_pigments().find(str(tmp_path / "p.toml")), WAVELENGTH_NM)
    np.testing.assert_allclose(np.interp(450.0, WAVELENGTH_NM, spectra[0]), 0.55)
    # The ends are held.
    assert spectra[1, 0] == pytest.approx(0.2)
    assert spectra[1, -1] == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("schema = 1", "schema = 2", "schema is 2; accepted is 1"),
        ("our-petals", "Our Petals!", "name is 'Our Petals!'"),
        ("pka = 6.0", "pka = nan", r"form\[2\].pka is nan; accepted is a number from -2 to 16"),
        ("pka = 6.0", 'pka = "six"', r"form\[2\].pka is 'six'"),
        ("width_nm = 80.0", "width_nm = 0.0", r"band\[1\].width_nm is 0.0"),
        ("height = 1.0", "height = -1.0", r"band\[1\].height is -1.0"),
        ('from_form = "red"', 'from_form = "green"', "a form of the group 'pigment' that stands"),
        ('form = "blue"\ncentre', 'form = "pink"\ncentre', "accepted is red, blue"),
        ("best = 3.5", "best = 9.5", "per_percent.high is 4.0"),
        ("schema = 1", "schema = 1\ncolour = 3", "colour is 3; accepted is aliases, band"),
        ("schema = 1", "schema = [", "is not TOML"),
        ('form = "red"\n[[form]]', 'form = "blue"\n[[form]]', "a form that no other table has"),
    ],
)
def test_what_is_wrong_in_a_file_is_said_in_one_sentence(
    tmp_path: Path, old: str, new: str, words: str
) -> None:
    file = tmp_path / "bad.toml"
    file.write_text(PLAIN.replace(old, new, 1))
    with pytest.raises(DataError, match=words) as caught:
        read_pigment_file(file)
    assert "bad.toml" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_the_name_of_a_shipped_pigment_is_taken(home: Path) -> None:
    (home / "pigments" / "y.toml").write_text(PLAIN.replace("our-petals", "red-cabbage"))
    known = own_pigments()
    assert not known.own
    assert "a pigment of huedose has" in known.refused[0]
    with pytest.raises(DataError, match="a pigment of huedose has"):
        known.find(str(home / "pigments" / "y.toml"))
    # A bad file of one's own stands in nobody's way.
    assert known.find("red-cabbage").name == "red-cabbage"
    with pytest.raises(ValueError, match=r"colourant is 'nothing'.*a pigment of huedose has"):
        known.find("nothing")


def test_missing_and_outsized_files(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="cannot be read: No such file"):
        own_pigments().find(str(tmp_path / "none.toml"))
    (tmp_path / "large.toml").write_bytes(b"#" * 1_000_001)
    with pytest.raises(DataError, match="larger than 1 MB"):
        own_pigments().find(str(tmp_path / "large.toml"))


def test_the_folder_is_chosen_before_the_variable(home: Path, tmp_path: Path) -> None:
    assert own_folder() == home
    assert own_folder(tmp_path) == tmp_path


def test_without_a_word_it_is_the_platforms_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    from platformdirs import user_data_path

    monkeypatch.delenv("HUEDOSE_HOME")
    assert own_folder() == user_data_path("huedose", appauthor=False)


def test_two_files_of_one_name_do_not_stand_in_for_each_other(tmp_path: Path) -> None:
    for name, height in (("a", "1.0"), ("b", "0.5")):
        (tmp_path / f"{name}.toml").write_text(PLAIN.replace("height = 1.0", f"height = {height}"))
    first, again, other = (own_pigments().find(str(tmp_path / f"{n}.toml")) for n in "aab")
    check_distinct([first, again])
    with pytest.raises(DataError, match=r"b.toml' has the name .* as another file in this run has"):
        check_distinct([first, again, other])


def test_a_path_that_leads_nowhere_is_one_sentence(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    with pytest.raises(DataError, match="no plain file"):
        own_pigments().find(str(tmp_path / "pipe.toml"))
    with pytest.raises(DataError, match="cannot be read"):
        own_pigments().find("~nobody-of-that-name/x.toml")
