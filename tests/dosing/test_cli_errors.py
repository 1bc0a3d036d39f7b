"""What cannot be used is refused: exit 2, one sentence, nothing on the output."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., tuple[int, str, str]]
Refused = Callable[..., str]


@pytest.fixture
def refused(huedose: Run) -> Refused:
    """The sentence with which a command is refused."""

    def sentence(*arguments: object) -> str:
        code, out, err = huedose(*arguments)
        assert code == 2
        assert out == ""
        assert "Traceback" not in err
        assert err.endswith("\n")
        assert err.count("\n") == 1
        text = err.rstrip("\n")
        assert text.endswith((".", "?"))
        assert len(text.split()) >= 3
        # One sentence, or one and the offer of a name: no other full stop before a new start.
        assert not re.search(r"[.?!] (?!Did you mean )[A-Z]", text)
        return text

    return sentence


@pytest.fixture
def recipe(huedose: Run, tmp_path: Path) -> Callable[..., Path]:
    """The evening soak with one piece of its text replaced."""

    def written(old: str = "", new: str = "") -> Path:
        _, text, _ = huedose("recipe", "--demo", "1")
        assert old in text
        path = tmp_path / "soak.toml"
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        return path

    return written


@pytest.fixture
def cases(tmp_path: Path) -> Path:
    path = tmp_path / "cases.csv"
    path.write_text("Na,Cl\n0.1,0.1\n", encoding="utf-8")
    return path


def has(text: str, *parts: str) -> None:
    assert [part for part in parts if part not in text] == []


# ---------------------------------------------------------------- arguments


@pytest.mark.parametrize(
    ("arguments", "parts"),
    [
        (["pln"], ["pln", "plan"]),
        (["plan", "--targt", "5"], ["--targt", "--target"]),
        (["plan", "--demo"], ["--demo"]),
        (["plan", "one.toml", "two.toml"], ["two.toml"]),
        (["plan", "--dose", "5 g", "--target", "5"], ["dose", "target"]),
        (["colours", "red-cabbage", "--jars", "x"], ["jars is 'x'", "whole number"]),
        (["sachet", "--homes", "1.5"], ["homes is '1.5'", "whole number"]),
        (["equilibrium", "x.csv", "--pco2", "air"], ["pco2 is 'air'", "a number"]),
        (["equilibrium"], ["CSV"]),
        (["recipe"], ["--blank", "--schema", "--demo"]),
        (["recipe", "--blank", "--schema"], ["--blank", "--schema"]),
        (["recipe", "--demo", "9"], ["9", "4-green"]),
        (["plan", "--demo", "9"], ["9", "4-green"]),
        (["water"], ["--alkalinity"]),
        (["--verson"], ["--verson", "--version"]),
    ],
    ids=str,
)
def test_arguments(arguments: list[str], parts: list[str], refused: Refused) -> None:
    has(refused(*arguments), *parts)


def test_no_command_at_all_says_nothing_but_the_help(huedose: Run) -> None:
    code, out, err = huedose()
    assert code in {0, 2}
    assert "Usage: huedose" in out
    assert err == ""


def test_json_does_not_change_a_refusal(refused: Refused) -> None:
    assert refused("plan", "--target", "plaid", "--json") == refused("plan", "--target", "plaid")


@pytest.mark.parametrize("target", ["plaid", "", "nan", "inf", "1e999", "5 g", "99", "#12345"])
def test_targets(target: str, refused: Refused) -> None:
    text = refused("plan", "--target", target)
    has(text, "target", target)


def test_a_negative_target(refused: Refused) -> None:
    has(refused("plan", "--target", "-3"), "target", "-3", "0 to 14")


@pytest.mark.parametrize("option", ["--accept-ph", "--accept-pouring"])
@pytest.mark.parametrize("reason", ["", "  ", "\t\n"])
@pytest.mark.parametrize("command", [["plan"], ["plan", "--dose", "5 g"]], ids=str)
def test_a_blank_reason(command: list[str], option: str, reason: str, refused: Refused) -> None:
    has(refused(*command, option, reason), option.strip("-"))


@pytest.mark.parametrize(
    ("dose", "parts"),
    [
        ("60", ["60", "unit"]),
        ("60 L", ["60 L", "60 g"]),
        ("-1 g", ["-1 g", "0 to"]),
        ("nan g", ["nan g", "finite"]),
        ("inf g", ["inf g", "finite"]),
        ("1e9 kg", ["1e9 kg", "0 to"]),
        ("lots", ["lots"]),
        ("", ["60 g"]),
    ],
)
def test_doses(dose: str, parts: list[str], refused: Refused) -> None:
    has(refused("plan", "--demo", "1", "--dose", dose), "dose", *parts)


@pytest.mark.parametrize(
    ("arguments", "parts"),
    [
        (["buterfly-pea"], ["buterfly-pea", "did you mean 'butterfly-pea'"]),
        (["tartrazin"], ["did you mean 'tartrazine'"]),
        ([""], ["butterfly-pea", "tartrazine"]),
        (["butterfly-pea", "--view", "cup"], ["view", "cup", "jar", "bottle", "tub"]),
        (["butterfly-pea", "--ph", "blue"], ["ph", "blue"]),
        (["butterfly-pea", "--ph", "2,nan"], ["ph", "nan"]),
        (["butterfly-pea", "--ph", "2,-1"], ["-1", "0 to 14"]),
        (["butterfly-pea", "--ph", "15"], ["15", "0 to 14"]),
        (["butterfly-pea", "--ph", ","], ["ph"]),
        (["butterfly-pea", "--ph", ",".join(["7"] * 1000)], ["1000"]),
        (["butterfly-pea", "--strength", "0.05"], ["strength", "0.05", "/cm"]),
        (["butterfly-pea", "--strength", "5 L"], ["strength", "5 L", "/cm"]),
        (["butterfly-pea", "--strength", "-5 %"], ["strength", "-5 %"]),
        (["butterfly-pea", "--strength", "nan %"], ["strength", "finite"]),
        (["butterfly-pea", "--depth", "5 L"], ["depth", "5 L", "30 cm"]),
        (["butterfly-pea", "--depth", "-5 cm"], ["depth", "-5 cm"]),
        (["butterfly-pea", "--light", "moon"], ["light", "moon", "D65"]),
    ],
    ids=lambda value: str(value)[:60],
)
def test_swatches(arguments: list[str], parts: list[str], refused: Refused) -> None:
    has(refused("colours", *arguments), *parts)


@pytest.mark.parametrize(
    ("arguments", "parts"),
    [
        (["--alkalinity", "120"], ["alkalinity", "120", "unit"]),
        (["--alkalinity", "120 L"], ["alkalinity", "120 L", "ppm"]),
        (["--alkalinity", "-1 ppm"], ["alkalinity", "-1 ppm", "0 to"]),
        (["--hardness", "nan ppm"], ["hardness", "nan ppm", "finite"]),
        (["--hardness", "1e9 ppm"], ["hardness", "1e9 ppm", "0 to"]),
        (["--hardness", "8 C"], ["hardness", "8 C", "dH"]),
        (["--calcium", "48 L"], ["calcium", "48 L", "mg/L"]),
        (["--ph", "19"], ["ph", "19", "0 to 14"]),
        (["--ph", "7 dH"], ["ph", "7 dH"]),
        (["--ph", "7", "--temperature", "300 C"], ["temperature", "300 C", "0 to 60"]),
        (["--temperature", "20 C"], ["reading"]),
        (["--like", "sft"], ["sft", "did you mean 'soft'"]),
        (["--like", "squishy"], ["squishy", "medium", "hard"]),
    ],
    ids=str,
)
def test_waters(arguments: list[str], parts: list[str], refused: Refused) -> None:
    has(refused("water", *arguments), *parts)


@pytest.mark.parametrize(
    "command", [["plan"], ["plan", "--dose", "5 g"], ["colours", "tartrazine"]]
)
def test_pictures(command: list[str], refused: Refused, tmp_path: Path) -> None:
    has(refused(*command, "--picture", tmp_path / "soak.gif"), "soak.gif", ".png", ".svg", ".pdf")
    has(refused(*command, "--picture", tmp_path / "soak"), "picture", ".png")
    has(refused(*command, "--picture", tmp_path / "none" / "soak.png"), "none", "folder")
    folder = tmp_path / "folder.png"
    folder.mkdir()
    has(refused(*command, "--picture", folder), "folder.png")
    assert list(tmp_path.iterdir()) == [folder]


LONG = "x" * 3000


@pytest.mark.parametrize(
    "arguments",
    [
        ["plan", "--target", LONG],
        ["plan", f"--{LONG}"],
        ["plan", f"/nowhere/{LONG}.toml"],
        ["plan", "--picture", LONG],
        ["colours", LONG],
        ["colours", "tartrazine", "--light", "it's " + "x y " * 750],
        [LONG],
        ["water", "--like", LONG],
        ["design", "blue", "pink", "--shelf", LONG],
        ["jar", "--by", LONG, "--step", "0: 7"],
        ["soak", "--steps", "6, " * 1000 + "x"],
    ],
    ids=lambda value: str(value)[:20],
)
def test_what_is_too_long_to_read_is_shortened(arguments: list[str], refused: Refused) -> None:
    assert len(refused(*arguments)) < 700


# ---------------------------------------------------------------- files that are there


@pytest.fixture
def there(tmp_path: Path) -> Callable[[str], Path]:
    def made(name: str) -> Path:
        file = tmp_path / name
        file.write_text("Na,Cl\n0.1,0.1\n", encoding="utf-8")
        return file

    return made


@pytest.mark.parametrize(
    ("command", "option", "name"),
    [
        (["plan"], "--picture", "soak.png"),
        (["plan", "--dose", "5 g"], "--picture", "soak.pdf"),
        (["soak"], "--picture", "soak.gif"),
        (["soak"], "--sheet", "soak.pdf"),
        (["soak", "--steps", "6"], "--picture", "soak.png"),
        (["sachet"], "--picture", "soak.png"),
        (["jar", "--instructions"], "--sheet", "jar.pdf"),
        (["colours", "tartrazine"], "--picture", "soak.png"),
        (["design", "blue", "pink"], "--picture", "soak.png"),
        (["design", "blue", "pink"], "--write", "soak.toml"),
        (["equilibrium"], "-o", "solved.csv"),
        (["new"], "", "soak.toml"),
    ],
    ids=str,
)
def test_no_file_is_written_over_unasked(
    command: list[str], option: str, name: str, there: Callable[[str], Path], refused: Refused
) -> None:
    file = there(name)
    inputs = [there("cases.csv")] if command == ["equilibrium"] else []
    before = file.read_bytes()
    named = {"-o": "output", "": "file"}.get(option, option.strip("-"))
    has(refused(*command, *inputs, *([option] if option else []), file), named, name, "--overwrite")
    assert file.read_bytes() == before


def test_an_input_is_never_written_over(
    there: Callable[[str], Path], refused: Refused, tmp_path: Path
) -> None:
    cases, linked = there("cases.csv"), tmp_path / "linked.csv"
    linked.hardlink_to(cases)
    before = cases.read_bytes()
    for output in (cases, linked):
        call = ("equilibrium", cases, "-o", output, "--overwrite")
        for form in (call, (*call, "--json")):
            has(refused(*form), output.name, "read by this very command")
    assert cases.read_bytes() == before


@pytest.mark.slow
def test_a_recipe_is_never_written_over(
    recipe: Callable[..., Path], refused: Refused, there: Callable[[str], Path]
) -> None:
    odd = recipe().rename(there("recipe.svg"))
    before = odd.read_bytes()
    has(refused("plan", odd, "--picture", odd, "--overwrite"), "recipe.svg", "read by this very")
    assert odd.read_bytes() == before


@pytest.mark.parametrize("place", [0, 1, 4])
def test_overwrite_may_stand_anywhere(place: int, huedose: Run, cases: Path) -> None:
    output = cases.with_name("solved.csv")
    output.write_text("older", encoding="utf-8")
    words: list[object] = ["equilibrium", cases, "-o", output]
    words.insert(place, "--overwrite")
    assert huedose(*words)[0] == 0
    assert output.read_text(encoding="utf-8").startswith("Na,Cl,ph")


# ---------------------------------------------------------------- recipe files


@pytest.mark.slow
@pytest.mark.parametrize("command", [["plan"], ["plan", "--dose", "5 g"]], ids=str)
def test_recipe_files_that_are_none(
    command: list[str], refused: Refused, recipe: Callable[..., Path], tmp_path: Path
) -> None:
    has(refused(*command, tmp_path / "missing.toml"), "missing.toml", "There is no file")
    has(refused(*command, tmp_path), "folder")
    has(refused(*command, recipe(), "--demo", "1"), "--demo", "both")
    latin = tmp_path / "latin.toml"
    latin.write_bytes('schema = 1\ntitle = "Soir\xe9e"\n'.encode("latin-1"))
    has(refused(*command, latin), "latin.toml", "UTF-8")
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\0\1\2")
    has(refused(*command, binary), "binary.toml")


def test_a_file_too_large_for_a_recipe(refused: Refused, tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_text("# filler\n" * 1_000_000, encoding="utf-8")
    has(refused("plan", path), "large.toml", "larger than")


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ('schema = 1\n[tub\nvolume = "120 L"\n', "line 2, column 5"),
        ("schema = 1\ntitle = Soak\n", "line 2, column 9"),
        ("schema = 1\nschema = 1\n", "line 2, column"),
    ],
)
def test_broken_toml_is_shown_its_place(
    text: str, place: str, refused: Refused, tmp_path: Path
) -> None:
    path = tmp_path / "broken.toml"
    path.write_text(text, encoding="utf-8")
    has(refused("plan", path), "broken.toml", place)


@pytest.mark.parametrize(
    ("old", "new", "parts"),
    [
        ("alkalinity", "alkalinty", ["water.alkalinty", "did you mean 'alkalinity'"]),
        ("[water]", "[watr]", ["watr", "did you mean 'water'"]),
        ('"butterfly-pea"', '"buterfly-pea"', ["did you mean 'butterfly-pea'"]),
        ("citric-acid-anhydrous", "citric-acid-anhydrus", ["did you mean 'citric-acid-anhydrous'"]),
        ('"120 L"', '"120 kg"', ["tub.volume", "120 kg", "40 gal"]),
        ('"120 L"', '"120"', ["tub.volume", "unit"]),
        ('"120 L"', "120", ["tub.volume", "120", "unit"]),
        ('"120 L"', '"nan L"', ["tub.volume", "nan L", "finite"]),
        ('"120 L"', '"inf L"', ["tub.volume", "inf L", "finite"]),
        ('"120 L"', "nan", ["tub.volume", "nan"]),
        ('"120 L"', '"-120 L"', ["tub.volume", "-120 L", "0.05"]),
        ('"120 L"', '"0 L"', ["tub.volume", "0 L", "0.05"]),
        ('"120 L"', '"4000000 L"', ["tub.volume", "4000000 L", "799"]),
        ('"120 L"', '"1e400 L"', ["tub.volume", "1e400 L"]),
        ('"38 C"', '"300 C"', ["water.temperature", "300 C", "0 to 60"]),
        ('"38 C"', '"38 ppm"', ["water.temperature", "38 ppm", "38 C"]),
        ('"95 ppm"', '"95 g"', ["water.alkalinity", "95 g", "ppm"]),
        ('"6.2 dH"', '"-6.2 dH"', ["water.hardness", "-6.2 dH"]),
        ("ph = 8.4", "ph = 84", ["water.ph", "84", "14"]),
        ("ph = 8.4", "ph = nan", ["water.ph", "nan"]),
        ('"420 mL"', '"420 s"', ["colour.amount", "420 s"]),
        ('"6 /cm"', '"6 cm"', ["colour.strength", "6 cm"]),
        ("anhydrous = 1", "anhydrous = -1", ["activator", "-1"]),
        ("anhydrous = 1", "anhydrous = 0", ["activator", "above 0"]),
        ('target = "5.7"', 'target = "plaid"', ["plaid"]),
        ('bathers = "child"', 'bathers = "-inf"', ["wish.bathers is '-inf'"]),
        ('bathers = "child"', 'bathers = "dog"', ["wish.bathers", "dog", "nobody"]),
        ('"8 years"', '"-8 years"', ["wish.child_age", "-8 years"]),
        ("schema = 1", "schema = 2", ["schema", "2", "1"]),
    ],
    ids=lambda value: str(value)[:40],
)
def test_recipes(
    old: str, new: str, parts: list[str], refused: Refused, recipe: Callable[..., Path]
) -> None:
    has(refused("plan", recipe(old, new)), *parts)


# ---------------------------------------------------------------- files of solutions


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("", ["no solutions"]),
        ("Na,Cl\n", ["no solutions"]),
        ("# nothing\n\n", ["no solutions"]),
        ("Na,Chl\n1,1\n", ["Chl", "did you mean 'Cl'"]),
        ("Na,\n0.1,0.1\n", ["column"]),
        ("Na;Cl\n0.1;0.1\n", ["Na;Cl"]),
        ("na\n0.1\n", ["na", "did you mean 'Na'"]),
        ("Na,Na\n0.1,0.1\n", ["Na", "twice"]),
        ("Na\n0.1\nlots\n", ["Na", "row 2", "lots"]),
        ("Na\nnan\n", ["Na", "row 1", "nan"]),
        ("Na\ninf\n", ["Na", "row 1", "inf"]),
        ("Na\n-0.1\n", ["Na", "row 1", "-0.1"]),
        ("Na\n1000\n", ["Na", "1000", "100"]),
        ("temperature_c,Na\n300,0.1\n", ["temperature_c", "300", "0 to 100"]),
        ("temperature_c,Na\n-5,0.1\n", ["temperature_c", "-5", "0 to 100"]),
        ("ph,Na\n,0.1\n", ["ph", "row 1"]),
        ("ph,Na\n99,0.1\n", ["ph", "row 1", "99"]),
        ("Na,Cl\n0.1,0.1\n0.1,0.1,0.1\n", ["2", "more cells"]),
        ('Na,Cl\n"0.1,0.1\n', ["Na"]),
        ("Na\n0.1 mol\n", ["Na", "row 1", "0.1 mol"]),
    ],
    ids=repr,
)
@pytest.mark.parametrize("form", ["csv", "json", "file"])
def test_solutions(
    text: str, parts: list[str], form: str, refused: Refused, tmp_path: Path
) -> None:
    path, out_path = tmp_path / "cases.csv", tmp_path / "solved.csv"
    path.write_text(text, encoding="utf-8")
    forms: dict[str, list[object]] = {"csv": [], "json": ["--json"], "file": ["-o", out_path]}
    has(refused("equilibrium", path, *forms[form]), *parts)
    assert list(tmp_path.iterdir()) == [path]


def test_files_of_solutions_that_are_none(refused: Refused, tmp_path: Path) -> None:
    has(refused("equilibrium", tmp_path / "missing.csv"), "missing.csv")
    has(refused("equilibrium", tmp_path), "folder")
    latin = tmp_path / "latin.csv"
    latin.write_bytes(b"Na\n0.1\xb5\n")
    has(refused("equilibrium", latin), "latin.csv", "UTF-8")
    binary = tmp_path / "binary.csv"
    binary.write_bytes(b"Na\n\0\n")
    refused("equilibrium", binary)


@pytest.mark.parametrize(
    ("options", "parts"),
    [
        (["--pco2", "400"], ["pco2", "400", "--open-air"]),
        (["--open-air", "--pco2", "-1"], ["pco2", "-1", "0 to"]),
        (["--open-air", "--pco2", "nan"], ["pco2", "nan"]),
        (["--open-air", "--pco2", "inf"], ["pco2", "inf"]),
        (["--open-air", "--pco2", "2e6"], ["pco2", "1000000"]),
        (["--open-air", "--pco2", "much"], ["pco2"]),
    ],
    ids=str,
)
def test_airs(options: list[str], parts: list[str], refused: Refused, cases: Path) -> None:
    has(refused("equilibrium", cases, *options), *parts)


def test_outputs(refused: Refused, cases: Path, tmp_path: Path) -> None:
    has(refused("equilibrium", cases, "-o", tmp_path / "none" / "solved.csv"), "none", "folder")
    folder = tmp_path / "folder.csv"
    folder.mkdir()
    # The sentence is about the file that was asked for, not about a draft of ours.
    has(refused("equilibrium", cases, "-o", folder), str(folder))
    assert sorted(tmp_path.iterdir()) == [cases, folder]
