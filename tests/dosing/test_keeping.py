"""What is left in the bottle and after a soak, and the tub that it still colours."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from dosing.bath.assembled import assemble
from dosing.bath.inputs import ColourInputs, RecipeInputs
from dosing.bottle.keeping import Kept, keep
from dosing.recipe import demo_recipe
from dosing.words.filters import time_span
from indicator.fading import fading_conditions, fading_names
from indicator.notes import sentence
from indicator.pigments import colourant

Run = Callable[..., tuple[int, str, str]]
SOAK = demo_recipe("1")
HOUR = 1.0 / 24.0


def with_colours(*colours: ColourInputs) -> RecipeInputs:
    return replace(SOAK, colours=colours)


def colour(name: str, **changes: object) -> ColourInputs:
    return replace(SOAK.colours[0], colourant=colourant(name), **changes)  # type: ignore[arg-type]


def kept_of(inputs: RecipeInputs, days: float = 42.0, ph: float | None = None) -> Kept:
    kept = keep(inputs, assemble(inputs), days=days, temperature_c=22.0, ph=ph)
    assert kept is not None
    return kept


def told(kept: Kept) -> list[str]:
    return [note.code for note in kept.warnings]


def test_nothing_fades_in_no_time() -> None:
    kept = keep(SOAK, assemble(SOAK), days=0.0, temperature_c=22.0, soak_days=0.0)
    assert kept is not None
    assert kept.colours[0].share.best == 1.0
    assert kept.soak.colours[0].before is not None
    assert kept.soak.colours[0].before.best == 1.0
    assert str(kept.kept.hex) == str(kept.fresh.hex) == str(kept.soak.seen.hex)


def test_a_preserved_bottle_outlasts_a_raw_infusion() -> None:
    raw = kept_of(SOAK, ph=5.5)
    clean = kept_of(with_colours(colour("butterfly-pea", preserved=True)), ph=5.5)
    (fading,), (lasting,) = raw.colours, clean.colours
    assert (fading.condition, lasting.condition) == ("raw", "clean")
    assert fading.share.best < 0.01
    assert lasting.share.best > 0.85
    assert (fading.share.low, fading.share.high) == (lasting.share.low, lasting.share.high)
    assert float(raw.kept.visibility_delta_e) < float(clean.kept.visibility_delta_e)


def test_half_of_the_turmeric_in_a_foam_bath_is_left_after_its_published_half_life() -> None:
    # In a surfactant's micelles 0.0303 per day at pH 7 and 25 °C (Aboudiab 2020, see fading.csv).
    held = with_colours(colour("turmeric", held_in="foam bath", preserved=True))
    half_life = math.log(2.0) / 0.0303
    kept = keep(held, assemble(held), days=half_life, temperature_c=25.0, ph=7.0)
    assert kept is not None
    assert kept.colours[0].share.best == pytest.approx(0.5, abs=1e-6)


@pytest.mark.parametrize("name", fading_names())
def test_every_colour_with_a_rate_is_followed(name: str) -> None:
    kept = kept_of(with_colours(colour(name)))
    (one,) = kept.colours
    assert one.colourant.name == name
    assert 0.0 <= one.share.low <= one.share.best <= one.share.high <= 1.0
    assert "keep.unknown" not in told(kept)
    light = [note.code for note in kept.warnings if note.code.startswith("keep.light")]
    assert len(light) + len(kept.light) >= 1


def test_all_colours_of_a_recipe_fade_each_at_its_own_rate() -> None:
    both = with_colours(colour("butterfly-pea"), colour("purple-sweet-potato"))
    kept = kept_of(both, days=3.0)
    shares = {one.colourant.name: one.share.best for one in kept.colours}
    alone = {name: kept_of(with_colours(colour(name)), days=3.0) for name in shares}
    assert shares == {name: one.colours[0].share.best for name, one in alone.items()}
    assert len(set(shares.values())) == 2


def test_one_pigment_in_two_bottles_counts_by_what_each_brings() -> None:
    raw = replace(colour("butterfly-pea"), petals_percent=2.0)
    more = replace(raw, preserved=True, content=3.0 * raw.content, petals_percent=6.0)
    kept = kept_of(with_colours(raw, more), ph=5.5)
    gone, left = (one.share.best for one in kept.colours)
    # The acid of both infusions stays, whatever fades: it goes by the petals.
    left_of_both = raw.content * (gone + 3.0 * left)
    mixed = with_colours(replace(raw, content=left_of_both, petals_percent=8.0))
    same = keep(mixed, assemble(mixed), days=0.0, temperature_c=22.0)
    assert same is not None
    assert kept.kept.lab == pytest.approx(same.fresh.lab, abs=0.3)


def test_a_colour_without_a_rate_is_not_followed(monkeypatch: pytest.MonkeyPatch) -> None:
    dye = with_colours(colour("tartrazine", content=1e-6))
    assert keep(dye, assemble(dye), days=1.0, temperature_c=20.0) is None
    both = with_colours(*SOAK.colours, *dye.colours)
    assert [one.colourant.name for one in kept_of(both).colours] == ["butterfly-pea"]
    monkeypatch.setattr(
        "dosing.bottle.keeping.fading_conditions",
        lambda which: () if which.name == "red-cabbage" else fading_conditions(which),
    )
    pair = kept_of(with_colours(*SOAK.colours, colour("red-cabbage")))
    assert [one.colourant.name for one in pair.colours] == ["butterfly-pea"]
    assert "keep.unknown" in told(pair)


def test_a_soak_is_judged_in_the_tub_before_and_after_the_activator() -> None:
    kept = kept_of(SOAK)
    soak = kept.soak
    assert soak.days == pytest.approx(HOUR)
    assert soak.temperature_c == 38.0
    assert soak.ph_before == pytest.approx(float(assemble(SOAK).bath.solve().ph))
    # The recipe wishes pH 5.7.
    assert soak.ph_after == 5.7
    (one,) = soak.colours
    assert one.before is not None
    assert one.after is not None
    # Published for pH 8 at 38 degC, BIO Web of Conferences 2025: 4.2e-4 per minute.
    assert one.before.best == pytest.approx(0.975, abs=0.01)
    assert one.before.low <= one.before.best <= one.before.high
    assert one.after.best > one.before.best
    word = replace(SOAK, wish=replace(SOAK.wish, target="purple"))
    assert kept_of(word).soak.ph_after is None


def test_turmeric_does_not_last_a_soak_in_tap_water() -> None:
    # Wang et al. 1997: 90 % gone in half an hour at pH 7.2 and 37 degC, faster above.
    kept = kept_of(with_colours(colour("turmeric")))
    (one,) = kept.soak.colours
    assert one.before is not None
    assert one.after is not None
    assert one.before.best < 0.02
    assert one.after.best > 0.5
    assert str(kept.soak.seen.hex) != str(kept.fresh.hex)
    assert "keep.estimated" in told(kept)


def test_nothing_is_claimed_far_from_the_published_ph() -> None:
    kept = kept_of(with_colours(colour("roselle")))
    (one,) = kept.colours
    assert (one.share.studies, one.share.low) == (0, 0.0)
    assert "keep.ph-far" in told(kept)
    (soaked,) = kept.soak.colours
    assert soaked.before is None
    assert str(kept.soak.seen.hex) == str(kept.fresh.hex)
    near = kept_of(with_colours(colour("roselle")), ph=3.0)
    assert near.colours[0].share.studies == 2
    assert near.colours[0].share.low > 0.0
    assert "keep.ph-range" in told(near)


def test_red_cabbage_in_the_cold_has_a_range_and_its_reason() -> None:
    # Torskangerpoll and Andersen 2005, abstract: 98 days at 10 degC; heated extracts say otherwise.
    cabbage = with_colours(colour("red-cabbage", preserved=True))
    kept = keep(cabbage, assemble(cabbage), days=98.0, temperature_c=10.0, ph=4.5)
    assert kept is not None
    (one,) = kept.colours
    assert one.share.studies == 2
    assert one.share.low < 0.1
    assert one.share.high > 0.9
    assert {"keep.isolate", "keep.estimated"} <= set(told(kept))
    assert "keep.carried" not in told(kept)
    sour = keep(cabbage, assemble(cabbage), days=30.0, temperature_c=10.0, ph=2.9)
    assert sour is not None
    (note,) = [note for note in sour.warnings if note.code == "keep.carried"]
    assert note.values["measured"] == "50 to 80 °C"
    assert "carried to 10 °C" in sentence(note)
    assert "keep.isolate" not in told(sour)


def test_rates_on_dry_paper_are_told() -> None:
    kept = kept_of(with_colours(colour("butterfly-pea", preserved=True)), ph=7.0)
    notes = {note.code: sentence(note) for note in kept.warnings}
    assert "measured at 80 to 98 °C on dry paper" in notes["keep.carried-paper"]
    assert "carried to a liquid at 22 °C" in notes["keep.carried-paper"]
    assert "carried to water of 38 °C" in notes["keep.carried-soak-paper"]
    assert list(told(kept)).count("keep.carried-soak-paper") == 1


@pytest.mark.slow
def test_one_study_far_from_its_temperature_has_a_range(huedose: Run, tmp_path: Path) -> None:
    path = tmp_path / "root.toml"
    path.write_text(
        'schema = 1\n[[colour]]\npigment = "turmeric"\namount = "50 mL"\npreserved = true\n',
        encoding="utf-8",
    )
    arguments = ("brew", path, "--time", "2 hours", "--shelf", "5 C", "--bottle-ph", "3")
    code, out, _ = huedose(*arguments, "--more", COLUMNS="96")
    text = " ".join(out.split())
    assert code == 0
    assert "from one published study alone" in text
    assert "measured at 37 °C; they are carried to 5 °C" in text
    document = json.loads(huedose(*arguments, "--json")[1])["kept"]
    (one,) = document["colours"]
    share = one["share"]
    assert share["carried"] is True
    assert (share["measured_c"], share["medium"]) == ([37.0, 37.0], "liquid")
    assert share["series"] == "buffer"
    assert share["low"] < share["best"] < share["high"]


def test_light_is_told_and_never_counted() -> None:
    plain = kept_of(SOAK)
    assert plain.light == ()
    assert "keep.light" in told(plain)
    lit = kept_of(with_colours(*SOAK.colours, colour("riboflavin", content=1e-6)))
    assert {one.colourant for one in lit.light} == {"riboflavin"}
    assert lit.colours[0].share == plain.colours[0].share


@pytest.mark.slow
def test_the_shelf_question_on_the_command_line(huedose: Run) -> None:
    arguments = (
        "brew",
        "--demo",
        "2",
        "--time",
        "6 weeks",
        "--shelf",
        "22 C",
        "--bottle-ph",
        "5.5",
    )
    code, out, err = huedose(*arguments, "--json")
    document = json.loads(out)["kept"]
    assert (code, err) == (0, "")
    assert document["days"] == 42.0
    (first,) = document["colours"]
    share = first["share"]
    assert share["low"] <= share["best"] <= share["high"]
    assert {"hex", "lab", "word"} <= set(document["kept"])
    assert "keep.light" in {one["code"] for one in document["warnings"]}
    assert first["colourant"] == "butterfly-pea"
    assert share["half_life_days"] > 0.0
    code, out, err = huedose(*arguments, COLUMNS="60")
    assert code == 0
    assert "in the dark" in " ".join(out.split())
    assert max(len(line) for line in out.splitlines()) <= 60


MANY = """
schema = 1
[tub]
volume = "120 L"
[water]
like = "medium"
[[colour]]
pigment = "elderberry"
amount = "300 mL"
[[colour]]
pigment = "turmeric"
amount = "200 mL"
preserved = true
[[colour]]
dye = "riboflavin"
amount = "30 mL"
strength = "0.1 %"
[wish]
target = "6"
"""


@pytest.mark.slow
def test_many_colours_on_the_command_line(huedose: Run, tmp_path: Path) -> None:
    path = tmp_path / "many.toml"
    path.write_text(MANY, encoding="utf-8")
    code, out, err = huedose("brew", path, "--soak", "2 hours", "--json")
    document = json.loads(out)["kept"]
    assert err == ""
    assert [one["colourant"] for one in document["colours"]] == ["elderberry", "turmeric"]
    soak = document["soak"]
    assert soak["days"] == pytest.approx(2.0 * HOUR)
    assert soak["ph_after"] == 6.0
    elderberry, turmeric = soak["colours"]
    assert elderberry["before"] is None
    assert turmeric["before"]["best"] < turmeric["after"]["best"]
    assert {one["colourant"] for one in document["light"]} == {"turmeric", "riboflavin"}
    codes = [one["code"] for one in document["warnings"]]
    assert {"keep.light", "keep.ph-far"} <= set(codes)
    told = huedose("brew", path, "--more", COLUMNS="60")
    text = " ".join(told[1].split())
    assert told[0] == code
    assert "In the tub turmeric fades" in text
    assert "nobody has published how fast it fades" in text
    assert "64 minutes to 3 hours under a laboratory lamp" in text
    assert "Unpreserved, it goes bad" in text
    assert max(len(line) for line in told[1].splitlines()) <= 60


DYE = """
schema = 1
[tub]
volume = "100 L"
[[colour]]
dye = "tartrazine"
amount = "30 mL"
strength = "0.1 %"
"""


@pytest.mark.slow
def test_a_recipe_without_a_known_rate_says_so(huedose: Run, tmp_path: Path) -> None:
    path = tmp_path / "dye.toml"
    path.write_text(DYE, encoding="utf-8")
    _, out, err = huedose("brew", path)
    assert err == ""
    assert "No rate of fading is published for its colours" in out
    assert json.loads(huedose("brew", path, "--json")[1])["kept"] is None


@pytest.mark.parametrize(
    ("days", "text"),
    [
        (0.5 / 24, "30 minutes"),
        (0.5, "12 hours"),
        (14.0, "14 days"),
        (42.0, "6 weeks"),
        (365.25, "12 months"),
        (3652.5, "10 years"),
    ],
)
def test_times_are_told_in_their_unit(days: float, text: str) -> None:
    assert time_span(days) == text
