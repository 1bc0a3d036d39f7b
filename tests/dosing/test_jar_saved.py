"""``jar --save``: what a jar says of the water, written into the recipe file line by line."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from dosing.bath.spreads import reading_spreads
from dosing.plan.answer import make_plan
from dosing.recipe import demo_recipe, load_recipe, parse_recipe
from dosing.recipe.quantities import InputError
from dosing.recipe.reading import blank_recipe, demo_names, demo_text
from dosing.recipe.writing import ALKALINITY_KEYS, save_alkalinity

Run = Callable[..., tuple[int, str, str]]

DEMO = Path(__file__).parents[2] / "data" / "demo" / "evening_soak_jar.csv"
METER = (DEMO, "--by", "meter", "--solution", "1 %, 30 g, 50 g", "--jar", "1000 g")
READING = {
    "alkalinity": "106 ppm", "instrument": "jar test",
    "alkalinity_low": "95 ppm", "alkalinity_high": "117 ppm",
}  # fmt: skip
TUB = 'schema = 1\n[tub]\nvolume = "120 L"\n'
OWN_WORDS = """# mine
schema = 1 # of 1
[tub]
volume = "120 L"

[ water ]   # the kitchen tap
gh = "6 dH"
  kh = "5 dH"   # a kit of May
read_with = "drop kit"
drop_step="1 dH"
# alkalinity = "80 ppm"
"""


@pytest.mark.parametrize(
    "text",
    [*map(demo_text, demo_names()), blank_recipe(), OWN_WORDS, TUB],
)
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_no_line_is_lost_and_none_changes_that_says_something_else(
    tmp_path: Path, text: str, ending: str
) -> None:
    recipe = tmp_path / "mine.toml"
    recipe.write_bytes(text.replace("\n", ending).encode())
    was = tomllib.loads(text)
    added, superseded = save_alkalinity(recipe, READING)
    content = recipe.read_bytes().decode()
    assert content.count("\n") == content.count(ending)
    lines = content.split(ending)
    # Without the new lines it is the old file, but for the marks of its new comments.
    assert [lines[k - 1] for k in added] == [f'{key} = "{READING[key]}"' for key in READING]
    undone = [
        line.removeprefix("# ") if k in superseded else line
        for k, line in enumerate(lines, 1)
        if k not in added
    ]
    grown = text if "water" in was else f"{text}\n[water]\n"
    assert ending.join(undone) == grown.replace("\n", ending)
    now = tomllib.loads(content)
    kept = {
        key: each
        for key, each in was.get("water", {}).items()
        if key not in (*ALKALINITY_KEYS, "kh", "read_with")
    }
    assert now == {**was, "water": {**kept, **READING}}
    assert load_recipe(recipe).water.instrument == "jar-test"
    # Again, and the file says the last reading.
    save_alkalinity(recipe, {**READING, "alkalinity": "99 ppm"})
    assert tomllib.loads(recipe.read_text())["water"]["alkalinity"] == "99 ppm"


@pytest.mark.parametrize(
    "water",
    [
        'water = { like = "medium" }\n' + TUB,
        f'{TUB}[water]\n"alkalinity" = "80 ppm"\n',
        f'{TUB}[water]\nalkalinity = """80 \\\n  ppm"""\n',
        f'title = """\n[water]\n"""\n{TUB}[water]\nph = 7\n',
    ],
)
def test_what_cannot_be_changed_by_lines_stays_as_it_is(tmp_path: Path, water: str) -> None:
    recipe = tmp_path / "mine.toml"
    recipe.write_text(water)
    load_recipe(recipe)
    with pytest.raises(InputError, match=r"mine.toml.* line by line.*alkalinity = \"106 ppm\""):
        save_alkalinity(recipe, READING)
    assert recipe.read_text() == water
    assert list(tmp_path.iterdir()) == [recipe]


@pytest.mark.slow
def test_the_plan_of_a_saved_jar_gives_its_dose(huedose: Run, tmp_path: Path) -> None:
    recipe = tmp_path / "mine.toml"
    recipe.write_text(demo_text("1"))
    code, out, err = huedose("jar", recipe, *METER)
    assert (code, err) == (0, "")
    assert "For your recipe (--save writes it there)" in " ".join(out.split())
    assert recipe.read_text() == demo_text("1")
    code, out, err = huedose("jar", recipe, *METER, "--save")
    assert (code, err) == (0, "")
    flat = " ".join(out.split()).replace(" / ", "/")
    assert "lines 11, 12, 13 and 14." in flat
    assert "is now a comment: lines 15 and 19." in flat
    _, out, _ = huedose("jar", recipe, *METER, "--json")
    jar = json.loads(out)
    before, after = (make_plan(one).pour_g for one in (demo_recipe("1"), load_recipe(recipe)))
    assert after == pytest.approx(jar["pour_g"], abs=jar["scale_step_g"])
    assert abs(before - jar["pour_g"]) > jar["scale_step_g"]
    # Who has done it is not sent to do it again.
    offered = [
        {step.code for step in make_plan(one).next_steps}
        for one in (demo_recipe("1"), load_recipe(recipe))
    ]
    assert ["jar-test" in codes for codes in offered] == [True, False]


CHILD = """schema = 1
[tub]
length = "60 in"
width = "30 in"
fill = "8 in"
[foam_bath]
amount = "1/8 cup"
[[colour]]
pigment = "butterfly-pea"
amount = "680 mL"
strength = "2 %"
[activator]
parts = { citric-acid-anhydrous = 1.0 }
[wish]
bathers = "child"
child_age = "5 years"
"""


@pytest.mark.slow
@pytest.mark.parametrize(("turned", "matched"), [(4, 10), (5, 13), (7, 15)])
def test_the_plan_of_a_saved_jar_allows_a_child_no_more_than_the_jar(
    huedose: Run, tmp_path: Path, turned: int, matched: int
) -> None:
    recipe = tmp_path / "mine.toml"
    recipe.write_text(CHILD, encoding="utf-8")
    counts = ("--step", f"{turned} tsp: turned", "--step", f"{matched} tsp: matched")
    made = ("--solution", "1 tsp in 1 L", "--jar", "5.8 x colour", "--save")
    code, out, _ = huedose("jar", recipe, *counts, *made, "--json")
    answer = json.loads(out)
    assert code == 0
    # Rounded to whole ppm in the recipe.
    kept, level = load_recipe(recipe).water, answer["alkalinity_meq_l"]
    for end, at in ((kept.alkalinity_low_meq_l, "low"), (kept.alkalinity_high_meq_l, "high")):
        assert end == pytest.approx(answer["careful_share"] * level[at], abs=0.011)
    code, out, _ = huedose("plan", recipe, "--json")
    plan = json.loads(out)
    assert (code, plan["pour_g"] > 0.0) == (0, True)
    assert plan["never_over_g"] <= answer["never_over_g"]
    # Nor does the most depend on how it is asked.
    _, out, _ = huedose("plan", recipe, "--dose", f"{plan['pour_g']} g")
    assert re.search(rf"(than|pours) {plan['never_over_g']:.0f} g (in all|at most)\.", out)
    code, out, _ = huedose("plan", recipe, "--dose", f"{plan['never_over_g'] + 1:.0f} g")
    assert code == 3 or "More than its plan advises" in " ".join(out.split())
    # The same series again tells nothing new.
    code, out, _ = huedose("jar", recipe, *counts, *made, "--json")
    again = json.loads(out)
    assert again["alkalinity_meq_l"] == answer["alkalinity_meq_l"]
    assert again["never_over_g"] == answer["never_over_g"]


LOW, HIGH = 'alkalinity_low = "60 ppm"\n', 'alkalinity_high = "90 ppm"\n'


@pytest.mark.parametrize(
    "lines",
    [
        'alkalinity = "80 ppm"\ninstrument = "jar test"\n' + LOW,
        'alkalinity = "80 ppm"\ninstrument = "strip"\n' + LOW + HIGH,
        'alkalinity = "50 ppm"\ninstrument = "jar test"\n' + LOW + HIGH,
        LOW + HIGH,
    ],
)
def test_ends_without_a_jar_test_between_them_are_refused(lines: str) -> None:
    with pytest.raises(InputError, match=r"water\.alkalinity_(low|high) is .*jar test"):
        parse_recipe(f"{TUB}[water]\n{lines}")


def test_ends_of_a_jar_test_are_never_surer_than_the_best_jar() -> None:
    water = f'{TUB}[water]\nalkalinity = "80 ppm"\ninstrument = "jar test"\n'
    ends = 'alkalinity_low = "79 ppm"\nalkalinity_high = "81 ppm"\n'
    plain, narrow = (reading_spreads(parse_recipe(text)) for text in (water, water + ends))
    assert narrow.alkalinity_sd == pytest.approx(plain.alkalinity_sd)


@pytest.mark.parametrize(
    "words", [("--demo", "1", *METER), METER, ("my-bath.toml", "--instructions")]
)
def test_a_demo_and_a_test_not_yet_done_have_nothing_to_save(
    huedose: Run, words: tuple[object, ...]
) -> None:
    code, out, err = huedose("jar", *words, "--save")
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "recipe file" in err


@pytest.mark.slow
def test_a_colour_that_the_plan_does_not_aim_at_is_named_for_the_next_time(
    huedose: Run, tmp_path: Path
) -> None:
    recipe = tmp_path / "mine.toml"
    text = f'{TUB}[[colour]]\npigment = "red-cabbage"\namount = "400 mL"\nstrength = "2 %"\n'
    recipe.write_text(text + '[wish]\nbathers = "adult"\n')
    counts = ("--step", "4 tsp: turned", "--step", "10 tsp: matched", "--jar", "1 L")
    jar = ("jar", recipe, *counts, "--solution", "1 tsp in 1 L")
    code, out, err = huedose(*jar, "--save")
    assert (code, err) == (0, "")
    flat = " ".join(out.split())
    target = re.search(r"For this colour again: huedose plan \S+ --target (\S+)\.(?: |$)", flat)
    poured = re.search(r"POUR (\d+) g of citric acid", flat)
    assert target is not None
    assert poured is not None
    again = make_plan(load_recipe(recipe), target=target[1])
    # To a step of the kitchen scale.
    assert again.pour_g == pytest.approx(float(poured[1]), abs=1.0)
    assert abs(make_plan(load_recipe(recipe)).after.ph - again.after.ph) > 0.02


@pytest.mark.slow
def test_a_doubtful_series_is_not_saved(huedose: Run, tmp_path: Path) -> None:
    recipe = tmp_path / "mine.toml"
    text = f'{TUB}[water]\nlike = "medium"\n[[colour]]\npigment = "butterfly-pea"\n'
    text += 'amount = "400 mL"\nstrength = "2 %"\n'
    recipe.write_text(text)
    steps = ("0: 7.8", "5: 7.2", "10: 6.8", "20: 6.3", "30: 5.8", "40: 5.0")
    said = [word for step in steps for word in ("--step", step)]
    code, out, err = huedose("jar", recipe, "--by", "meter", *said, "--solution", "1 %", "--save")
    assert (code, err) == (3, "")
    assert "Saved" not in out
    assert recipe.read_text() == text
