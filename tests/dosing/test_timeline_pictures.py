"""What text and pictures say of a pour: the same moments, levels, verdict and cautions."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from matplotlib.figure import Figure

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.pictures.course import draw_timeline
from dosing.pictures.moving import draw_frames, frame_times
from dosing.pictures.poster import RIGHT
from dosing.plan.answer import make_plan, preview
from dosing.plan.levels import LEVELS, gate_level
from dosing.plan.records import Plan
from dosing.recipe import demo_names, demo_recipe
from dosing.soak.axis import stretches
from dosing.soak.course import follow
from dosing.soak.levels import judged
from dosing.soak.moments import clock, told_and_worked
from dosing.soak.records import Course, Manner, OtherWay
from dosing.words import course as words

DOSE_G = 12.0


def demo() -> RecipeInputs:
    return demo_recipe(demo_names()[0])


@pytest.fixture(scope="module")
def at_once() -> Course:
    return followed(demo(), preview(demo(), DOSE_G))


def followed(inputs: RecipeInputs, plan: Plan, minutes: int = 30) -> Course:
    """The course of a plan's own pours."""
    best = plan.dose_g.best
    totals = [one.total_g for one in plan.pours if one.total_g <= best * 1.001]
    manner = Manner(poured=inputs.activator.pouring, minutes=minutes)
    line = follow(inputs, assemble(inputs), totals, manner)
    return judged(line, plan, OtherWay("dry", line.lowest_local))


@pytest.fixture(scope="module")
def in_portions() -> Course:
    return followed(demo(), make_plan(demo(), target="5.4"))


@pytest.fixture(scope="module")
def too_much() -> Course:
    return followed(demo(), preview(demo(), 40.0))


def written(figure: Figure) -> list[str]:
    """The paragraphs of a sheet, line by line."""
    return [text.get_text() for axes in figure.axes for text in axes.texts]


# Several pours


def test_every_pour_has_its_seconds_and_the_last_its_minutes() -> None:
    told, worked = told_and_worked(5, np.array([0.0, 120.0]))
    assert set(np.arange(0.0, 61.0)) | set(np.arange(120.0, 181.0)) <= set(told)
    assert told[-1] == 120.0 + 300.0
    assert set(told) <= set(worked)
    assert np.all(np.diff(told) > 0.0)


@pytest.mark.slow
def test_the_sourest_moment_is_told_the_same_everywhere(
    in_portions: Course,
) -> None:
    line = in_portions
    assert len(line.pours) == 3
    worst = line.lowest_local
    place = int(np.searchsorted(line.times_s, worst.at_s))
    assert line.times_s[place] == worst.at_s
    assert line.ph_local[place] == pytest.approx(worst.ph, abs=1e-12)
    assert np.min(line.ph_local) == line.ph_local[place]
    when, ph = words.moment(line, worst.at_s), f"{worst.ph:.1f}"
    assert "after pour" in when
    (told, *_) = words.near_the_pour(line)
    assert when in told
    assert f"pH {ph} " in told
    looks = words.looks(line)
    assert len(looks) == 3
    assert place in [one for places in looks for one in places]
    assert worst.at_s in frame_times(line)
    frame, _ = draw_frames(line, [worst.at_s])
    assert {when, f"pH {ph}"} <= set(written(frame))
    bold = [one for one in draw_timeline(line).axes[0].texts if one.get_fontweight() == "bold"]
    assert ph in [one.get_text() for one in bold]


@pytest.mark.slow
def test_every_pour_dips_on_the_strip_and_has_frames(in_portions: Course) -> None:
    line = in_portions
    parts = stretches(line, 0.0, 6.0)
    assert [one.start_s for one in parts] == [one.at_s for one in line.pours]
    for one, following in pairwise(parts):
        assert one.right < following.left
    assert sorted(place for one in parts for place in one.places(line.times_s)) == list(
        range(len(line.times_s))
    )
    frames = frame_times(line)
    for one in parts:
        dip = line.ph_local[one.places(line.times_s)]
        assert dip.min() < dip[0] - 0.1
        assert any(one.start_s + 20.0 < time < one.start_s + 40.0 for time in frames)
    texts = written(draw_timeline(line))
    grams = words.pours_shown(line)
    for number, mass in enumerate(grams, 1):
        assert f"Pour {number}: {mass}" in texts
    total = sum(float(one.split()[0]) for one in grams)
    assert f"{total:.0f} g of" in words.how(line)


# What the pictures say


def test_the_tub_is_judged_as_its_cautions_are(too_much: Course) -> None:
    line = too_much
    tub, near = (
        np.array([LEVELS.index(one) for one in each]) for each in (line.level, line.level_local)
    )
    assert np.all(near >= tub)
    assert tub[0] == 0
    late = line.times_s >= 120.0
    assert set(tub[late]) == {LEVELS.index("stop")}
    assert np.all(tub >= gate_level(line.ph, line.bathers))
    # The caution speaks of the possible tubs, so the tub of a plan to mind is marked as well.
    planned = make_plan(demo(), target="5.7")
    mild = followed(demo(), planned)
    assert any(one.code == "ph-child-mind" for one in planned.cautions)
    settled = int(np.searchsorted(mild.times_s, 180.0))
    assert gate_level(planned.ph_acid_side, "child") == LEVELS.index("mind")
    assert mild.level[settled] == "mind"


@pytest.mark.slow
def test_a_forbidden_pour_has_its_verdict_on_every_picture(
    too_much: Course,
) -> None:
    line = too_much
    heads, reasons, _ = words.verdict(line)
    assert heads == ["A caution forbids this pour. Do not pour it: nobody should get in."]
    assert [one for one in reasons if "not for a child" in one]
    frames = draw_frames(line, frame_times(line))
    for figure in [draw_timeline(line), *frames]:
        texts = " ".join(written(figure))
        for sentence_ in (*heads, *reasons):
            assert sentence_ in texts.replace("\N{NO-BREAK SPACE}", " ")
        assert "Dissolve" not in texts
        assert "Nobody gets in" not in texts


@pytest.mark.slow
def test_pictures_have_the_same_cautions_as_the_text(at_once: Course) -> None:
    line = at_once
    strip, card = draw_timeline(line), draw_frames(line, [0.0])[-1]
    assert len(line.cautions) > 5
    for figure in (strip, card):
        texts = " ".join(written(figure)).replace("\N{NO-BREAK SPACE}", " ")
        for one in line.cautions:
            assert one.message in texts, one.code


@pytest.mark.slow
def test_frames_are_told_apart_and_of_one_size(at_once: Course) -> None:
    line = at_once
    times = frame_times(line)
    assert len(set(times)) == len(times)
    clocks = [words.moment(line, time) for time in times]
    assert len(set(clocks)) == len(clocks)
    figures = draw_frames(line, times[:3])
    assert len({tuple(one.get_size_inches()) for one in figures}) == 1


@pytest.mark.slow
@pytest.mark.parametrize("minutes", [1, 60, 600])
def test_labels_of_the_axis_stay_on_it_and_apart(minutes: int) -> None:
    figure = draw_timeline(followed(demo(), preview(demo(), DOSE_G), minutes))
    units = (" s", " min", " h")
    labels = [one for one in figure.axes[0].texts if one.get_text().endswith(units)]
    labels = [
        one for one in labels if one.get_text()[0].isdigit() and float(one.get_fontsize()) < 8.0
    ]
    assert labels[0].get_text() == "0 s"
    assert labels[-1].get_text() == clock(60.0 * minutes)
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    boxes = [one.get_window_extent(renderer) for one in labels]
    for left, right in pairwise(boxes):
        assert left.x1 < right.x0
    inches = figure.axes[0].transData.inverted().transform((boxes[-1].x1, 0.0))[0]
    assert inches <= RIGHT + 0.01
