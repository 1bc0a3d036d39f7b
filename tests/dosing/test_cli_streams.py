"""Streams that close, links that go round, letters that steer a terminal."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from dosing.cli.output import Page, printable

Run = Callable[..., tuple[int, str, str]]
COMMAND = [sys.executable, "-c", "from dosing.cli import main; main()"]


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


def test_a_picture_through_a_link_to_itself_is_refused(huedose: Run, tmp_path: Path) -> None:
    loop = tmp_path / "loop.png"
    loop.symlink_to(loop)
    code, out, err = huedose("plan", "--picture", loop)
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "loop.png" in err
    assert "Traceback" not in err


def test_a_picture_through_a_link_keeps_the_link(huedose: Run, tmp_path: Path) -> None:
    real, link = tmp_path / "real.svg", tmp_path / "link.svg"
    real.write_text("old", encoding="utf-8")
    link.symlink_to(real)
    code, _, _ = huedose("plan", "--picture", link)
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
    assert "Alkalinity" in out
    assert Page().width >= 24


def test_another_language_changes_nothing() -> None:
    environment = {**os.environ, "LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8", "NO_COLOR": "1"}
    done = subprocess.run([*COMMAND, "plan", "--json"], capture_output=True, env=environment)
    plain = subprocess.run(
        [*COMMAND, "plan", "--json"], capture_output=True, env={**environment, "LC_ALL": "C"}
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout == plain.stdout


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
