"""The sheet: everything a maker needs is on it, in words as well as in colour."""

from __future__ import annotations

import io
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from dosing.pictures.figures import draw_plan
from dosing.pictures.poster import runs
from dosing.pictures.tide_mark import _round_steps, _widest
from dosing.plan.answer import make_plan, preview
from dosing.plan.records import Plan
from dosing.recipe import demo_names, demo_recipe
from dosing.words import wording
from indicator.sheet import Sheet, write_picture


@pytest.fixture(scope="module")
def plans() -> dict[str, Plan]:
    found = {name: make_plan(demo_recipe(name)) for name in demo_names()}
    first = demo_recipe(demo_names()[0])
    found["pink"] = make_plan(first, target="pink")
    found["plan"] = preview(first, 40.0)
    found["nothing"] = preview(first, 0.0)
    return found


CASES = [*demo_names(), "pink", "plan", "nothing"]


def words_of(figure: Figure) -> str:
    return " ".join(" ".join(text.get_text() for text in figure.axes[0].texts).split())


def pixels(figure: Figure) -> np.ndarray:
    stream = io.BytesIO()
    figure.savefig(stream, format="png", facecolor=figure.get_facecolor())
    stream.seek(0)
    return np.asarray(matplotlib.image.imread(stream))[..., :3]


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_the_sheet_says_in_words_what_it_shows(plans: dict[str, Plan], name: str) -> None:
    plan = plans[name]
    text = words_of(draw_plan(plan))
    for sight in (plan.before, plan.after, plan.bottle):
        assert sight is not None
        assert f"pH {sight.ph:.1f}" in text
        assert wording.colour_name(sight) in text
    for caution in plan.cautions:
        assert f"{wording.level(caution.level)}: {caution.message}" in text
    assert wording.dose(plan) in text
    assert ("NOT FOR BATHING" in text) == plan.not_for_bathing


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_the_sheet_shows_the_computed_water(plans: dict[str, Plan], name: str) -> None:
    plan = plans[name]
    image = pixels(draw_plan(plan)).reshape(-1, 3)
    for sight in (plan.before, plan.after):
        near = np.abs(image - to_rgb(str(sight.colour.hex))).max(axis=1) < 0.01
        assert near.mean() > 0.01


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_no_words_leave_the_paper_or_lie_on_each_other(plans: dict[str, Plan], name: str) -> None:
    figure = draw_plan(plans[name])
    figure.canvas.draw()
    paper = figure.bbox
    boxes = []
    for text in figure.axes[0].texts:
        box = text.get_window_extent()
        assert box.x0 >= paper.x0
        assert box.x1 <= paper.x1
        assert box.y0 >= paper.y0
        boxes.append((text.get_text(), box))
    for number, (mine, box) in enumerate(boxes):
        for yours, other in boxes[number + 1 :]:
            wide = min(box.x1, other.x1) - max(box.x0, other.x0)
            high = min(box.y1, other.y1) - max(box.y0, other.y0)
            assert not (wide > 2 and high > 4), (mine, yours)


@pytest.mark.slow
def test_a_plan_that_a_caution_forbids_says_so_first(plans: dict[str, Plan]) -> None:
    plan = plans["plan"]
    assert "stop" in {caution.level for caution in plan.cautions}
    text = words_of(draw_plan(plan))
    assert text.index("Do not pour it") < text.index("Colour along the dose")
    assert "Do not pour it" not in words_of(draw_plan(plans[demo_names()[0]]))


@pytest.mark.slow
def test_the_hatching_gets_denser_with_the_level(plans: dict[str, Plan]) -> None:
    figure = draw_plan(plans[demo_names()[0]])
    lines = []
    for hatch in figure.axes[0].collections:
        reach = hatch.get_clip_box()
        assert reach is not None
        lines.append(len(hatch.get_paths()) / reach.width)
    assert len(lines) == 2  # mind and stop
    assert lines[1] > 3 * lines[0]


@pytest.mark.slow
@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_a_picture_is_the_same_whenever_it_is_written(
    plans: dict[str, Plan], ending: str, tmp_path: Path
) -> None:
    first, second = tmp_path / f"one.{ending}", tmp_path / f"two.{ending}"
    for path in (first, second):
        write_picture(draw_plan(plans[demo_names()[0]]), path)
    assert first.read_bytes() == second.read_bytes()
    assert {p.name for p in tmp_path.iterdir()} == {first.name, second.name}


def test_a_picture_that_cannot_be_finished_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "soak.png"
    path.write_bytes(b"the old picture")
    sheet = Sheet(2.0)
    figure = sheet.finished(-1.0)

    def fail(draft: Path, **_: object) -> None:
        Path(draft).write_bytes(b"half a pic")
        raise OSError("disk full")

    monkeypatch.setattr(figure, "savefig", fail)
    with pytest.raises(OSError, match="disk full"):
        write_picture(figure, path)
    assert path.read_bytes() == b"the old picture"
    assert list(tmp_path.iterdir()) == [path]


def test_another_ending_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"accepted endings are \.png, \.svg and \.pdf"):
        write_picture(Sheet(2.0).finished(-1.0), tmp_path / "soak.gif")


def test_lines_are_broken_between_words_and_never_between_a_number_and_its_unit() -> None:
    sheet = Sheet(5.0)
    text = "Aim for 14 g of it, and 15 g, at pH 5.5 in 120 L"
    for width in np.linspace(0.6, 3.0, 25):
        lines = sheet.lines(text, 9.0, float(width))
        assert " ".join(lines).replace("\N{NO-BREAK SPACE}", " ") == text
        for line in lines:
            assert sheet.measure(line, 9.0) <= width or " " not in line
            assert not line.startswith(("g ", "L"))


@pytest.mark.parametrize("most", [0.7, 1.0, 9.99, 24.0, 180.0, 3600.0])
def test_ticks_are_round_and_few(most: float) -> None:
    steps = _round_steps(most)
    assert steps[0] == 0
    assert most * 0.75 < steps[-1] <= most
    assert 3 <= len(steps) <= 9
    np.testing.assert_allclose(np.diff(steps), steps[1])
    assert f"{steps[1]:e}"[0] in "125"


def test_runs_cover_everything_once() -> None:
    assert runs(["a", "a", "b", "a"]) == [("a", 0, 2), ("b", 2, 3), ("a", 3, 4)]
    assert _widest(0.0, 10.0, [4.0, 5.0, 20.0]) == (5.0, 10.0)
