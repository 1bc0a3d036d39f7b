"""What is left in the bottle, and the tub that it still colours."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from dosing.assembly import assemble
from dosing.keeping import keep
from dosing.recipe import demo_recipe
from dosing.wording import time_span

Run = Callable[..., tuple[int, str, str]]
SOAK = demo_recipe("1").core()


def test_nothing_fades_in_no_time() -> None:
    kept = keep(SOAK, assemble(SOAK), days=0.0, temperature_c=22.0)
    assert kept is not None
    assert kept.share_left == 1.0
    assert str(kept.kept.hex) == str(kept.fresh.hex)


def test_a_preserved_bottle_outlasts_a_raw_infusion() -> None:
    preserved = replace(SOAK, colours=(replace(SOAK.colours[0], preserved=True),))
    raw = keep(SOAK, assemble(SOAK), days=42.0, temperature_c=22.0, ph=5.5)
    clean = keep(preserved, assemble(preserved), days=42.0, temperature_c=22.0, ph=5.5)
    assert raw is not None
    assert clean is not None
    assert raw.share_left < 0.01
    assert clean.share_left > 0.85
    assert (raw.share_low, raw.share_high) == (clean.share_low, clean.share_high)
    assert float(raw.kept.visibility_delta_e) < float(clean.kept.visibility_delta_e)


def test_a_pigment_without_a_rate_is_not_followed() -> None:
    cabbage = replace(SOAK, colours=(replace(SOAK.colours[0], name="red-cabbage"),))
    assert keep(cabbage, assemble(cabbage), days=1.0, temperature_c=20.0) is None
    both = replace(SOAK, colours=(SOAK.colours[0], cabbage.colours[0]))
    kept = keep(both, assemble(both), days=1.0, temperature_c=20.0)
    assert kept is not None
    assert "keep.unknown" in {note.code for note in kept.notes}


def test_the_shelf_question_on_the_command_line(huedose: Run) -> None:
    arguments = ("keep", "--demo", "2", "--time", "6 weeks", "--temperature", "22 C", "--ph", "5.5")
    code, out, err = huedose(*arguments, "--json")
    document = json.loads(out)
    assert (code, err) == (0, "")
    assert document["days"] == 42.0
    share = document["share_left"]
    assert share["low"] <= share["best"] <= share["high"]
    assert {"hex", "lab", "word"} <= set(document["kept"])
    assert "keep.light" in {one["code"] for one in document["warnings"]}
    code, out, err = huedose(*arguments, COLUMNS="60")
    assert code == 0
    assert "kept dark" in " ".join(out.split())
    assert max(len(line) for line in out.splitlines()) <= 60


@pytest.mark.parametrize(
    "arguments",
    [("--time", "6 horses"), ("--time", "-1 day"), ("--temperature", "300 C"), ("--ph", "15")],
)
def test_nonsense_is_refused_in_one_sentence(huedose: Run, arguments: tuple[str, str]) -> None:
    code, out, err = huedose("keep", *arguments)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert arguments[0].lstrip("-") in err


def test_a_recipe_without_a_known_rate_is_refused(huedose: Run, tmp_path: Path) -> None:
    path = tmp_path / "cabbage.toml"
    path.write_text(
        'schema = 1\n[tub]\nvolume = "100 L"\n[[colour]]\npigment = "red cabbage"\n'
        'amount = "300 mL"\n',
        encoding="utf-8",
    )
    code, out, err = huedose("keep", path)
    assert (code, out) == (2, "")
    assert "published rate" in err


@pytest.mark.parametrize(
    ("days", "text"),
    [
        (0.5, "12 hours"),
        (14.0, "14 days"),
        (42.0, "6 weeks"),
        (365.25, "12 months"),
        (3652.5, "10 years"),
    ],
)
def test_times_are_told_in_their_unit(days: float, text: str) -> None:
    assert time_span(days) == text
