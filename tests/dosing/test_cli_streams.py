"""Streams that close, links that go round, letters that steer a terminal."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from dosing.cli.output import Page, printable
from dosing.recipe.quantities.typed import Typed
from dosing.words.letters import in_letters_of
from indicator.tables import read_text

Run = Callable[..., tuple[int, str, str]]
COMMAND = [sys.executable, "-c", "from dosing.cli import main; main()"]


@pytest.mark.slow
@pytest.mark.parametrize(("target", "code"), [("5.7", 0), ("pink", 3)])
def test_a_reader_who_leaves_early_changes_no_exit_code(target: str, code: int) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = subprocess.run(
            [*COMMAND, "plan", "--target", target], stdout=writing, stderr=subprocess.PIPE
        )
    finally:
        os.close(writing)
    assert (done.returncode, done.stderr) == (code, b"")


@pytest.mark.slow
def test_a_picture_through_a_link_to_itself_is_refused(huedose: Run, tmp_path: Path) -> None:
    loop = tmp_path / "loop.png"
    loop.symlink_to(loop)
    code, out, err = huedose("plan", "--picture", loop)
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "loop.png" in err
    assert "Traceback" not in err


@pytest.mark.slow
def test_a_picture_through_a_link_keeps_the_link(huedose: Run, tmp_path: Path) -> None:
    real, link = tmp_path / "real.svg", tmp_path / "link.svg"
    real.write_text("old", encoding="utf-8")
    link.symlink_to(real)
    code, _, _ = huedose("plan", "--picture", link, "--overwrite")
    assert code == 0
    assert link.is_symlink()
    assert "<svg" in real.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "recipe_line",
    ['alkalinity = "95 ppm \\u001b]0;x\\u0007"', 'alkalinity = "95 \\u202eppm"'],
)
def test_what_a_recipe_says_cannot_steer_the_terminal(
    huedose: Run, tmp_path: Path, recipe_line: str
) -> None:
    path = tmp_path / "odd.toml"
    path.write_text(f'schema = 1\n[tub]\nvolume = "100 L"\n[water]\n{recipe_line}\n', "utf-8")
    code, out, err = huedose("plan", path)
    assert (code, out) == (2, "")
    assert err.rstrip("\n").isprintable()


def test_letters_that_steer_are_shown_as_escapes() -> None:
    assert printable("a\x1b[31mb\u202e") == "a\\x1b[31mb\\u202e"
    assert printable("pH 5.5 · ½ °C") == "pH 5.5 · ½ °C"


def test_the_narrowest_window_still_shows_every_word(huedose: Run) -> None:
    code, out, _ = huedose("water", "--alkalinity", "120 ppm", COLUMNS="0")
    assert code == 0
    assert "alkalinity" in out
    assert Page().width >= 24


@pytest.mark.slow
def test_another_language_changes_nothing() -> None:
    environment = {**os.environ, "LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8", "NO_COLOR": "1"}
    done = subprocess.run([*COMMAND, "plan", "--json"], capture_output=True, env=environment)
    plain = subprocess.run(
        [*COMMAND, "plan", "--json"], capture_output=True, env={**environment, "LC_ALL": "C"}
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout == plain.stdout


@pytest.mark.slow
def test_a_shell_completes_commands_and_options() -> None:
    for words, offered in (("huedose pl", "plan"), ("huedose plan --ho", "--homes")):
        environment = {
            **os.environ,
            "_HUEDOSE_COMPLETE": "complete_bash",
            "COMP_WORDS": words,
            "COMP_CWORD": str(words.count(" ")),
        }
        done = subprocess.run(COMMAND, capture_output=True, text=True, env=environment)
        assert offered in done.stdout.split(), done.stderr


@pytest.mark.parametrize("encoding", ["ascii", "cp437", "cp1252", "latin-1", "utf-8", "koi8-r"])
def test_a_fraction_reads_as_itself_on_every_stream(encoding: str) -> None:
    values = {"½": 1 / 2, "¼": 1 / 4, "¾": 3 / 4, "⅓": 1 / 3, "⅔": 2 / 3, "⅛": 1 / 8}
    for sign, part in values.items():
        # Our own reader of quantities is the referee: what is written means what was meant.
        for text, spoons in ((f"3{sign} tsp", 3 + part), (f"{sign} tsp", part)):
            shown = in_letters_of(encoding, text)
            number, unit = Typed("mass", shown, "dose").split()
            assert (round(number, 9), unit) == (round(spoons, 9), "tsp")


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("3½ teaspoons", "3 1/2 teaspoons"),
        ("1–½ cup", "1- 1/2 cup"),
        ("½5", "1/2 5"),
        ("10³ cm²", "10^3 cm^2"),
        ("38 °C, 5 ℃", "38 deg C, 5 deg C"),
        ("pH 5.5 · ½ L", "pH 5.5 | 1/2 L"),
        ("7 ± 1, CaCO₃, µg", "7 +/- 1, CaCO3, ug"),
        ("5.9◦ 2①", "5.9* 2?"),
    ],
)
def test_what_ascii_lacks_is_spelt_without_another_meaning(text: str, shown: str) -> None:
    assert in_letters_of("ascii", text) == shown


def test_every_sign_of_our_sentences_has_a_spelling() -> None:
    text = read_text("text/en.toml")
    unspelt = {sign for sign in text if not sign.isascii() and in_letters_of("ascii", sign) == "?"}
    assert unspelt == set()


@pytest.mark.slow
def test_spoons_of_a_dose_on_a_plain_stream(huedose: Run) -> None:
    dose = ("plan", "--demo", "1", "--dose", "2.5 tsp")
    plain, full = (huedose(*dose, encoding=one)[1] for one in ("ascii", "utf-8"))
    assert re.search(r"\d½ ", full)
    assert re.findall(r"(\d)½ ", full) == re.findall(r"(\d) 1/2 ", plain)


LOADING = """
import os, signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
class Interrupting:
    def find_spec(self, name, *_):
        if name == "dosing.cli.app":
            os.kill(os.getpid(), signal.{number})
sys.meta_path.insert(0, Interrupting())
from dosing.cli import main
main()
"""
"""Hit while the command line is still being loaded."""


@pytest.mark.parametrize(("number", "code"), [("SIGINT", 130), ("SIGTERM", 143)])
def test_an_interrupt_while_loading_leaves_no_traceback(number: str, code: int) -> None:
    command = [sys.executable, "-c", LOADING.format(number=number), "plan"]
    done = subprocess.run(command, capture_output=True, timeout=60)
    assert (done.returncode, done.stdout, done.stderr) == (code, b"", b"")


WRITING = """
import signal, time
signal.signal(signal.SIGINT, signal.default_int_handler)
from matplotlib.figure import Figure
write = Figure.savefig
def slowly(figure, path, **how):
    write(figure, path, **how)
    print("written", flush=True)
    time.sleep(60)
Figure.savefig = slowly
from dosing.cli import main
main()
"""


@pytest.mark.slow
@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_a_signal_leaves_no_draft(number: int, code: int, tmp_path: Path) -> None:
    command = [*COMMAND[:2], WRITING, "colours", "tartrazine", "--picture", str(tmp_path / "x.svg")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        drafts = list(tmp_path.iterdir())
        process.send_signal(number)
        out, err = process.communicate(timeout=60)
    assert len(drafts) == 1
    assert (process.returncode, out, err) == (code, b"", b"")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_the_drawing_library_says_nothing_on_the_error_stream(tmp_path: Path) -> None:
    settings = tmp_path / "matplotlibrc"
    settings.write_text("no.such.key: 1\n", encoding="utf-8")
    done = subprocess.run(
        [*COMMAND, "colours", "tartrazine", "--picture", tmp_path / "x.svg"],
        capture_output=True,
        env={**os.environ, "MATPLOTLIBRC": str(settings)},
    )
    assert (done.returncode, done.stderr) == (0, b"")
