"""``soak`` on the command line: words, keys, pictures, refusals."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from dosing.bath.inputs import RecipeInputs
from dosing.cli.soak import SOAK_LINES
from dosing.plan.answer import make_plan
from dosing.recipe import demo_names, demo_recipe, parse_recipe
from dosing.soak.records import Manner, Soak
from dosing.soak.steps import make_soak, parse_steps
from dosing.words.filters import ph_at_least, ph_at_most, spoons_up
from indicator.notes import say

Run = Callable[..., tuple[int, str, str]]
RunJson = Callable[..., tuple[int, dict[str, Any]]]
Told = Callable[..., str]

COURSE_KEYS = {
    "times_s", "ph", "ph_local", "colours", "temperature_c", "co2_share_left", "lowest_local",
    "turned_local_s", "turned_after_s", "steady_after_s", "wait_s",
}  # fmt: skip
STEP_KEYS = {
    "wish", "powder", "grams", "printed_g", "spoons", "total_g", "after", "after_airing", "later",
    "ph_acid_side", "ph_alkaline_side", "change_delta_e", "level", "co2_litres",
}  # fmt: skip


def recipe(huedose: Run, folder: Path, **changes: str) -> Path:
    """The first demo with some lines changed."""
    _, text, _ = huedose("recipe", "--demo", "1")
    for old, new in changes.items():
        lines = text.splitlines()
        text = "\n".join(new if line.startswith(old) else line for line in lines) + "\n"
    path = folder / "bath.toml"
    path.write_text(text, "utf-8")
    return path


def changed(*, activator: dict[str, Any] | None = None, **wish: Any) -> RecipeInputs:
    """The first demo with another wish or activator."""
    inputs = demo_recipe(demo_names()[0])
    if wish.get("bathers", "child") != "child":
        wish["child_age_years"] = None
    return replace(
        inputs,
        wish=replace(inputs.wish, **wish),
        activator=replace(inputs.activator, **(activator or {})),
    )


# What is said


HARD = replace(
    changed(activator={"parts": {"soda-ash": 1.0}}, target="8.6"),
    water=replace(demo_recipe(demo_names()[0]).water, hardness_mmol_l=3.0),
)
SOURED = {"parts": {"citric-acid-anhydrous": 1.0, "sodium-bicarbonate": 1.0}}
DEMOS = ("once", "show", "several", "for sale")
WALKS = Path(__file__).parent / "walks"
SAID: dict[str, tuple[RecipeInputs, dict[str, Any], tuple[str, ...]]] = {
    "once": (changed(), {}, ("POUR", "Nobody gets in for", "No hand where you pour", "Back: ")),
    "portions": (changed(target="5.4"), {}, ("in portions: ", "and look; stop as soon as")),
    "meter": (
        replace(
            changed(target="5.4"),
            water=replace(changed().water, instrument="meter"),
        ),
        {},
        ("POUR",),
    ),
    "dry and still": (
        changed(),
        {"manner": Manner("dry", "still", minutes=20)},
        ("tip it in dry", "do not stir", "It may not be mixed", "not one colour"),
    ),
    "show": (
        changed(bathers="nobody"),
        {"manner": Manner(stir="tap", minutes=20)},
        ("NOT FOR BATHING", "All is mixed", "let the tap run"),
    ),
    "show unmixed": (
        changed(bathers="nobody"),
        {"manner": Manner("dry", "still", minutes=2)},
        ("It may not be mixed in this time: stir with a long spoon.",),
    ),
    "missed": (
        changed(target="purple"),
        {},
        ("Pour nothing.", "No safe pour gives what is wished."),
    ),
    "for sale": (
        parse_recipe((WALKS / "sale-eu.toml").read_text(encoding="utf-8")),
        {},
        ("stir with a long spoon", "too sour in", "The acid is gone at once, but its gas keeps"),
    ),
    "forbidden": (changed(), {"dose_g": 40.0}, ("Do not pour it", "X stop: ")),
    "nothing needed": (changed(target="teal"), {}, ("Nothing is to be poured.",)),
    "several": (
        changed(),
        {"steps": ["6.2", "5.7", "back"]},
        ("1. 6.2: ", "2. 5.7: ", "3. back: ", "open a window", "the old one takes"),
    ),
    "several missed": (
        changed(),
        {"steps": ["teal", "orange", "back"]},
        ("1. teal: nothing to pour.", "2. orange: not to be had, so nothing is poured."),
    ),
    "several forbidden": (
        changed(activator={"pouring": "dry", "poured": "beside"}),
        {"steps": ["6.5", "back"]},
        ("would do it", "Do not pour it"),
    ),
    "alkaline": (
        changed(activator={"parts": {"soda-ash": 1.0}}, target="8.6"),
        {},
        ("above 9.0 for up to ", "Back: ", "citric acid", "Then it is as at first: "),
    ),
    "chalk": (HARD, {}, ("chalk",)),
    "fizz": (changed(activator=SOURED), {"dose_g": 200.0}, ("fizzes",)),
    "no way back": (
        replace(
            changed(bathers="nobody", target="5"),
            water=replace(changed().water, ph=9.5, alkalinity_meq_l=0.4),
            foam_bath=None,
        ),
        {},
        ("Back: No way back to the first colour is known here.",),
    ),
    "salt": (
        changed(activator={"parts": {"epsom-salt": 1.0}}),
        {"dose_g": 20.0},
        ("No change of colour is seen",),
    ),
}


def followed(name: str) -> tuple[Soak, tuple[str, ...]]:
    inputs, how, words = SAID[name]
    return make_soak(inputs, **{"manner": Manner(), **how}), words


@pytest.mark.slow
@pytest.mark.parametrize("name", SAID)
def test_every_branch_is_said_in_few_lines(told: Told, name: str) -> None:
    soak, words = followed(name)
    text = told(soak)
    for part in words:
        assert part in text
    assert not re.search(r"\{|\bnan\b|\binf\b|None", told(soak, more=True))
    lines = told(soak, width=80, most=SOAK_LINES).split("\n")
    # Cautions that stop it are printed whole, however long they are.
    heavy = [one for one in lines if one.startswith(("X ", "!! "))]
    assert len(lines) <= (20 if name in DEMOS else 24) or (heavy and name not in DEMOS)
    assert max(map(len, lines)) <= 80


SOLD = """[tub]
volume = "120 L"
[water]
alkalinity = "95 ppm"
hardness = "6 dH"
instrument = "drop kit"
[foam_bath]
amount = "30 mL"
[[colour]]
pigment = "butterfly-pea"
amount = "420 mL"
strength = "2 %"
[wish]
bathers = "adult"
purpose = "sale"
market = "US"
"""


@pytest.mark.slow
@pytest.mark.parametrize(
    "how", [(), ("--steps", "6.2, 5.7, back"), ("--poured", "dry", "--stir", "still")]
)
def test_what_is_only_nice_to_know_makes_room_for_the_stops(
    huedose: Run, tmp_path: Path, how: tuple[str, ...]
) -> None:
    recipe = tmp_path / "sold.toml"
    recipe.write_text(SOLD)
    code, out, _ = huedose("soak", recipe, *how, COLUMNS="80")
    lines, flat = out.splitlines(), " ".join(out.split())
    assert code == 3
    assert len(lines) <= 20
    assert sum(line.startswith("X stop: ") for line in lines) == 3
    for kept in ("never more than" if "--steps" not in how else "Each time: nobody in the tub",
                 "No hand where you pour: pH ", "one colour" if "still" in how else
                 "Nobody gets in for ", "baking soda", "open a window" if "--steps" in how else
                 "in a closed container"):  # fmt: skip
        assert kept in flat
    # Two blues are told apart by their names.
    assert "Before: strong greenish blue" in out
    assert "trong blue" in out
    whole = huedose("soak", recipe, *how, "--more", COLUMNS="80")[1]
    assert "Where you pour it gets as sour as pH" in whole


def test_the_example_of_the_help_can_be_had_and_no_hand_is_asked_for(told: Told) -> None:
    (steps,) = re.findall(r'--steps "([^"]+)"', say("help.soak"))
    soak = make_soak(demo_recipe(demo_names()[0]), parse_steps(steps))
    assert [step.wish_met for step in soak.steps] == [True, True, True]
    assert "by hand" not in told(soak)


def unusual(several: Soak, dry: Soak) -> Iterator[Soak]:
    """Soaks with what few tubs have."""
    first, *others = several.steps
    back = others[-1]
    assert first.jugs is not None
    assert back.comes_back is not None
    slurry = replace(first.jugs, undissolved_g=5.0)
    for step in (
        replace(first, fizzes=True),
        replace(first, jugs=slurry),
        replace(first, printed_portions_g=(2.0, 3.0), look_by="meter", stop_ph=6.2),
    ):
        yield replace(several, steps=(step, *others))
    never = replace(back, comes_back=replace(back.comes_back, moved_s=None, alone_s=None))
    yield replace(several, steps=(first, *others[:-1], never))
    yield replace(several, course=dry.course)
    yield replace(dry, steps=(replace(dry.steps[0], fizzes=True),))


@pytest.mark.slow
def test_every_branch_of_a_soak_is_rendered(branches_missed: Callable[..., list[str]]) -> None:
    soaks = [followed(name)[0] for name in SAID]
    soaks += unusual(followed("several")[0], followed("dry and still")[0])
    how = [(False, False, False), (True, True, False), (True, True, True)]
    contexts = [
        {"soak": soak, "more": more, "cautions": cautions, "on_paper": paper, "short": short}
        for soak in soaks
        for more, cautions, paper in how
        for short in (False, True)
    ]
    contexts.append({**contexts[0], "first_portion": True})
    assert branches_missed("soak", contexts, ["shared"]) == []


@pytest.mark.slow
def test_a_tub_that_stays_changed_for_days_is_answered(huedose: Run, tmp_path: Path) -> None:
    deep = tmp_path / "deep.toml"
    deep.write_text(
        'tub = { volume = "450 L" }\nwater = { alkalinity = "6 meq/L" }\n'
        'foam_bath = { amount = "240 mL" }\n'
        "activator = { parts = { citric-acid = 2, malic-acid = 1 } }\n"
        'wish = { bathers = "adult" }\n[[colour]]\npigment = "red-cabbage"\n'
        'amount = "710 mL"\nstrength = "2 %"\n',
        encoding="utf-8",
    )
    code, out, err = huedose("soak", deep)
    assert (code, err) == (0, "")
    # Gas leaves by the surface alone, and slower under foam: more than 3 days at 80 cm of depth.
    assert "The colour takes more than three days to come back" in " ".join(out.split())


@pytest.mark.slow
def test_a_forbidden_soak_says_so_first_and_not_how(huedose: Run) -> None:
    code, out, _ = huedose("soak", "--dose", "40 g", "--minutes", "5")
    assert code == 3
    _, may_i, verdict, *_ = out.splitlines()
    assert may_i.startswith("Pour it: no.")
    assert verdict.startswith("Do not pour it: nobody should get in.")
    for words in ("POUR", "Nobody gets in for", "Back:", "teaspoon"):
        assert words not in out


@pytest.mark.slow
@pytest.mark.parametrize("columns", ["60", "96"])
def test_soak_fits_the_window(huedose: Run, columns: str) -> None:
    code, out, err = huedose("soak", "--steps", "6.2, back", COLUMNS=columns)
    assert (code, err) == (0, "")
    assert max(len(line) for line in out.splitlines()) <= int(columns)


@pytest.mark.slow
def test_whoever_reads_only_the_soak_is_warned_and_sent_to_the_plan(huedose: Run) -> None:
    flat = " ".join(huedose("soak", "--demo", "3", COLUMNS="80")[1].split())
    for words in (
        "Stings? Out, and rinse. Never near bleach or chlorine: poisonous gas.",
        "What goes in first, and what to do if it does not turn: huedose plan --demo 3.",
        "The acid is gone at once, but its gas keeps the new colour",
        "(gone in 7 s)",
    ):
        assert words in flat


def test_the_first_help_has_a_dozen_options(huedose: Run) -> None:
    _, out, _ = huedose("soak", "--help")
    assert len(set(re.findall(r"--[a-z-]+", out)) - {"--help", "--help-all"}) <= 12
    assert "--grain" not in out
    assert "--grain" in huedose("soak", "--help-all")[1]


# The document


@pytest.mark.slow
def test_soak_has_its_keys_and_is_small(huedose: Run, huedose_json: RunJson) -> None:
    code, found = huedose_json("soak")
    assert code == 0
    course, (step,) = found["course"], found["steps"]
    assert set(course) >= COURSE_KEYS
    assert set(step) >= STEP_KEYS
    count = len(course["times_s"])
    assert count < 40
    for key in ("ph", "temperature_c", "co2_share_left"):
        for end in ("low", "best", "high"):
            assert len(course[key][end]) == count, key
    for key in ("hex", "word"):
        assert len(course["colours"][key]) == count, key
    _, plan = huedose_json("plan")
    assert step["grams"] == pytest.approx(plan["dose_g"]["best"], rel=1e-9)
    assert sum(one["grams"] for one in course["pours"]) == pytest.approx(step["grams"], rel=1e-9)
    assert found["cautions"][0]["code"].startswith("time-before")
    _, out, _ = huedose("soak", "--json")
    assert len(out) < 60_000


@pytest.mark.slow
def test_a_single_pour_is_judged_as_its_plan(huedose_json: RunJson) -> None:
    unread = Path(__file__).parent / "walks" / "nothing-known.toml"
    for arguments in ([], [unread], ["--demo", "4"], ["--demo", "5"], ["--dose", "20 g"]):
        code, plan = huedose_json("plan", *arguments)
        code_of_soak, soak = huedose_json("soak", "--minutes", "5", *arguments)
        assert code == code_of_soak
        cautions = [one for one in soak["cautions"] if not one["code"].startswith("time-")]
        # A plan tells beside it what the most that may be poured would do.
        alike = [
            {**one, "values": {**one["values"], "most": ""}, "message": ""}
            for one in (*cautions, *plan["cautions"])
        ]
        assert alike[: len(cautions)] == alike[len(cautions) :]
        assert json.dumps(soak["verdicts"]) == json.dumps(plan["verdicts"])
        (step,) = soak["steps"]
        assert step["after"]["ph"] == pytest.approx(plan["after"]["ph"], abs=1e-9)
        side = min(plan["ph_acid_side"], plan["ph_acid_side_airing"])
        assert step["ph_acid_side"] == pytest.approx(side, abs=1e-9)
        low = plan["later"]["low"]["ph"]
        assert step["later"]["low"]["ph"] == pytest.approx(low, abs=1e-6)


@pytest.mark.slow
def test_a_soak_has_the_range_the_soda_and_the_most_of_its_plan(told: Told) -> None:
    inputs = demo_recipe("5")
    plan, soak = make_plan(inputs), make_soak(inputs, manner=Manner())
    text = told(soak)
    assert soak.way_back is not None
    assert soak.way_back.grams == pytest.approx(plan.undo_soda_g)
    # As "into the tub" of the plan.
    assert f"({spoons_up(plan.undo_soda_teaspoons)}), dissolved in tap water" in text
    assert f"never more than {plan.never_over_g:.0f} g in all" in text
    open_ph = f"{ph_at_least(plan.ph_acid_side)} to {ph_at_most(plan.ph_alkaline_side_airing)}"
    assert f"(by your readings {open_ph})" in text


@pytest.mark.slow
def test_a_dose_of_ones_own_is_poured_at_once(huedose_json: RunJson) -> None:
    code, found = huedose_json("soak", "--dose", "8 g", "--minutes", "5")
    assert code == 0
    assert [one["grams"] for one in found["course"]["pours"]] == [8.0]
    assert found["course"]["times_s"][-1] == 300.0


def test_a_dose_too_large_is_forbidden(huedose_json: RunJson) -> None:
    code, found = huedose_json("soak", "--dose", "40 g", "--minutes", "2")
    assert code == 3
    assert found["cautions"][0]["level"] == "stop"
    assert (found["forbidden"], found["wish_met"], found["course"]["pours"]) == (True, True, [])


@pytest.mark.slow
def test_several_steps_have_their_keys_and_the_way_back_its_time(huedose_json: RunJson) -> None:
    code, found = huedose_json("soak", "--steps", "6.2, 5.7, back")
    assert code == 0
    assert found["reached"] is True
    assert [one["wish"] for one in found["steps"]] == ["6.2", "5.7", "back"]
    for step in found["steps"]:
        assert set(step) >= STEP_KEYS
    names = ["citric-acid-anhydrous", "citric-acid-anhydrous", "sodium-bicarbonate"]
    assert [one["powder"] for one in found["steps"]] == [{name: 1.0} for name in names]
    first, _, back = found["steps"]
    assert (first["comes_back"], found["way_back"]) == (None, None)
    assert 0.0 < back["comes_back"]["moved_s"] < back["comes_back"]["alone_s"]
    assert back["after"]["ph"] < back["comes_back"]["ph"] < back["after_airing"]["ph"]
    # The tap of the demo is about at rest with the air of the room already.
    airing, before = found["before_airing"]["ph"], found["before"]["ph"]
    assert airing == pytest.approx(before, abs=0.1)


@pytest.mark.slow
def test_the_way_back_of_one_pour_is_that_of_two_steps(huedose_json: RunJson) -> None:
    _, once = huedose_json("soak")
    _, twice = huedose_json("soak", "--steps", "5.7, back")
    way, step = once["way_back"], twice["steps"][1]
    # The soda of a plan is for its spare portion as well; steps have none.
    spare = once["maximum_g"] / once["steps"][0]["total_g"]
    assert way["grams"] == pytest.approx(step["grams"] * spare, rel=0.05)
    assert way["comes_back"]["moved_s"] < step["comes_back"]["moved_s"]


@pytest.mark.slow
def test_a_forbidden_soak_keeps_its_reasons_in_the_document(
    huedose: Run, huedose_json: RunJson, tmp_path: Path
) -> None:
    parts = 'parts = { citric-acid-anhydrous = 1 }\npouring = "dry"\npoured = "beside"'
    path = recipe(huedose, tmp_path, parts=parts)
    code, found = huedose_json("soak", path, "--steps", "6.5, back")
    assert code == 3
    assert (found["forbidden"], found["reached"]) == (True, False)
    assert [one["reached"] for one in found["steps"]] == [False, False]


@pytest.mark.slow
def test_a_wish_that_the_plan_misses_exits_3_too(huedose_json: RunJson) -> None:
    code, found = huedose_json("plan", "--demo", "2")
    assert (code, found["reached"]) == (3, False)
    code, found = huedose_json("soak", "--demo", "2", "--minutes", "5")
    assert code == 3
    assert not found["forbidden"]


# What is refused


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--stir", "spoon"), "stir is 'spoon'; accepted are still, hand, tap"),
        (("--poured", "bag"), "poured is 'bag'"),
        (("--grain", "dust"), "grain is 'dust'"),
        (("--minutes", "0"), "minutes is 0"),
        (("--minutes", "nan"), "minutes"),
        (("--minutes", "100000"), "minutes is 100000"),
        (("--minutes", "soon"), "minutes"),
        (("--dose", "0 g"), "dose is '0 g'"),
        (("--dose", "12"), "dose is"),
        (("--dose", "-3 g"), "dose is"),
        (("--dose", "3 g", "--steps", "6"), "not both"),
        (("--picture", "soak.mp3"), "soak.mp3"),
        (("--picture", "/nowhere/at/all/soak.gif"), "soak"),
        (("--sheet", "soak.png"), "soak.png"),
        (("no-such.toml",), "no-such.toml"),
        (("--accept-ph", " "), "accept-ph"),
        (("--steps", ""), "steps has 0 steps"),
        (("--steps", "frobnicate"), "frobnicate"),
        (("--steps", "blue, 15"), "15"),
        (("--steps", "1,2,3,4,5,6,7,8,9"), "steps has 9 steps"),
        (("--steps", "teal", "--picture", "x.gif"), "nothing to film"),
        (("--steps", "6, back", "--picture", "x.gif"), "film of one pour"),
    ],
)
def test_what_cannot_be_is_one_sentence(
    huedose: Run, arguments: tuple[str, ...], words: str
) -> None:
    code, out, err = huedose("soak", *arguments)
    assert (code, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1
    assert "Traceback" not in err


@pytest.mark.slow
@pytest.mark.parametrize(
    "arguments",
    [
        ("soak", "--dose", "2 g", "--minutes", "5"),
        ("soak", "--steps", "5.7"),
        ("jar", "--instructions", "--by", "meter"),
        ("plan",),
    ],
)
def test_a_water_that_reads_no_alkalinity_is_answered(
    huedose: Run, tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    # A strip's zero pad at a high pH leaves no room for any carbonate.
    path = recipe(huedose, tmp_path, alkalinity='alkalinity = "0 ppm"', ph="ph = 8.2")
    command, *rest = arguments
    code, out, err = huedose(command, path, *rest)
    assert code in (0, 3)
    assert err == ""
    assert re.search(r"\bnan\b", out) is None


# Pictures


@pytest.mark.slow
@pytest.mark.parametrize("arguments", [(), ("--steps", "6.2, back")])
def test_soak_is_drawn_and_typeset(
    huedose: Run, tmp_path: Path, arguments: tuple[str, ...]
) -> None:
    picture, sheet = tmp_path / "soak.png", tmp_path / "soak.pdf"
    code, out, _ = huedose("soak", *arguments, "--picture", picture, "--sheet", sheet)
    assert code == 0
    assert {"soak.png", "soak.pdf"} <= set(out.replace("/", " ").replace(".\n", " ").split())
    with Image.open(picture) as image:
        assert image.size == (1080, 1080)
    assert sheet.read_bytes().startswith(b"%PDF")
    assert sorted(one.name for one in tmp_path.iterdir()) == ["soak.pdf", "soak.png"]


@pytest.mark.slow
@pytest.mark.parametrize("ending", ["gif", "webp"])
def test_a_film_is_small_and_moves(huedose: Run, tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"soak.{ending}"
    code, _, _ = huedose("soak", "--minutes", "10", "--picture", path)
    assert code == 0
    assert path.stat().st_size < 3_000_000
    with Image.open(path) as image:
        assert image.size == {"gif": (480, 480), "webp": (1080, 1080)}[ending]
        frames = int(getattr(image, "n_frames", 1))
        assert frames > 15
        pictures = []
        for frame in (0, 9, frames - 1):
            image.seek(frame)
            pictures.append(np.asarray(image.convert("RGB"), dtype=np.int64))
    assert len({one.shape for one in pictures}) == 1
    assert np.any(pictures[0] != pictures[1])
    assert np.any(pictures[1] != pictures[2])
    assert [one.name for one in tmp_path.iterdir()] == [path.name]
