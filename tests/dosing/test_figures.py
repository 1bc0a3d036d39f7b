"""Pictures: the computed water is on them, and what may not be poured never looks like success."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise, product
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from numpy.typing import NDArray
from PIL import Image

from dosing.effects.gallery import gallery
from dosing.pictures.paper import Paper, Shape
from dosing.pictures.ribbon import _round_steps, draw_jars, draw_plan_head, runs
from dosing.pictures.sachets import draw_sachet
from dosing.pictures.sheets import ENDINGS, write_picture
from dosing.pictures.shop import Shown, draw_shop, shown_plan
from dosing.pictures.tubs import draw_gallery, draw_homes
from dosing.plan.answer import make_plan, preview
from dosing.plan.households import TOO_SOUR, TURNS, Home, six_homes
from dosing.plan.records import DoseRange, Plan
from dosing.recipe import demo_recipe
from dosing.sachets.answer import sachet_answer
from dosing.sachets.populations import draw_homes as drawn_population
from dosing.words.filters import hundred

CASES = ("5", "green", "too much", "nothing")


@cache
def plan_of(name: str) -> Plan:
    if name == "too much":
        return preview(demo_recipe("1"), 40.0)
    if name == "nothing":
        return preview(demo_recipe("1"), 0.0)
    return make_plan(demo_recipe("3" if name == "green" else name))


@cache
def homes_of(name: str) -> tuple[Home, ...]:
    plan = plan_of(name)
    return six_homes(demo_recipe(name), plan.dose_g.best, plan.wish, plan.accepted)


def figure_of(name: str, kind: str) -> Figure:
    if kind == "jars":
        return draw_jars([(f"{count} mL", "#204060") for count in range(18)])
    if kind == "gallery":
        return draw_gallery(gallery())
    if kind == "homes":
        return draw_homes(plan_of("5"), homes_of("5"))
    if kind == "head":
        return draw_plan_head(plan_of(name))
    return draw_shop(shown_plan(plan_of(name), foam=True))


def pixels(figure: Figure) -> NDArray[np.uint8]:
    """Red, green and blue, shape (height, width, 3)."""
    figure.canvas.draw()
    return np.asarray(figure.canvas.buffer_rgba())[..., :3].copy()  # type: ignore[attr-defined]


def words_of(figure: Figure) -> list[str]:
    return [text.get_text() for text in figure.axes[0].texts if text.get_text()]


def levels(colour: str) -> list[int]:
    return [round(255 * level) for level in to_rgb(colour)]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["5", "green"])
def test_the_shop_picture_is_a_square_full_of_the_computed_water(name: str) -> None:
    plan, image = plan_of(name), pixels(figure_of(name, "shop"))
    assert image.shape == (1080, 1080, 3)
    for sight, x in ((plan.before, 300), (plan.after, 780)):
        assert image[620, x].tolist() == levels(str(sight.colour.hex))
    waters = [levels(str(sight.colour.hex)) for sight in (plan.before, plan.after)]
    filled = np.any([np.all(image == water, axis=-1) for water in waters], axis=0)
    assert filled.mean() > 0.6
    # The two touch: halfway down, nothing lies between them.
    row = image[620, 70:1010].tolist()
    assert all(row.count(water) > 300 for water in waters)
    assert sum(row.count(water) for water in waters) > len(row) - 4


def test_the_shop_picture_tells_the_grams_and_the_ph() -> None:
    words = words_of(figure_of("5", "shop"))
    assert words == ["pH 8.0", "pH 5.4", "14 g citric acid", "Blue to pink"]


@pytest.mark.slow
def test_what_must_not_be_poured_says_so_and_tells_no_grams() -> None:
    figure = figure_of("too much", "shop")
    words = " ".join(words_of(figure))
    assert "Do not pour it" in words
    assert "X stop" in words
    assert " g " not in f"{words} "
    # The water after is hatched, crossing lines over all of it; the water before is not.
    (hatch,) = figure.axes[0].collections
    assert len(hatch.get_paths()) > 100
    image = pixels(figure)
    before = levels(str(plan_of("too much").before.colour.hex))
    assert image[400:900, 100:400].reshape(-1, 3).tolist().count(before) == 500 * 300
    assert len(np.unique(image[400:900, 680:980].reshape(-1, 3), axis=0)) > 1
    head = " ".join(words_of(figure_of("too much", "head")))
    assert "pour" not in head
    assert "never over" not in head


def test_a_picture_of_what_needs_a_reason_or_nobody_bathes_in_has_the_word() -> None:
    shown = shown_plan(plan_of("5"))
    marked = replace(shown, level="justify", not_for_bathing=True)
    assert "!! needs your written reason · not for bathing" in words_of(draw_shop(marked))
    assert not any("!" in words for words in words_of(draw_shop(shown)))


def test_the_picture_follows_whether_it_may_be_poured_and_does_what_was_wished() -> None:
    plan = plan_of("5")
    # What only must not be sold is poured all the same.
    unsold = shown_plan(replace(plan, reached=False))
    assert (unsold.poured, unsold.why_not, len(unsold.waters)) == ("14 g citric acid", "", 2)
    # Where nothing is poured nothing turns.
    missed = shown_plan(replace(plan, reached=False, wish_met=False, pours=()))
    assert (missed.poured, missed.why_not) == ("", "Not as wished")
    assert missed.waters == ((plan.before.ph, str(plan.before.colour.hex)),)
    # Nor do the homes tell grams then.
    homes = words_of(draw_homes(replace(plan, wish_met=False, pours=()), homes_of("5")))
    assert "Not as wished" in homes
    assert "14 g" not in homes


def test_the_picture_tells_portions_one_by_one_without_the_spare_one() -> None:
    (pour,) = plan_of("5").pours
    halves = (
        replace(pour, grams=7.0, total_g=7.0),
        replace(pour, grams=7.0, total_g=14.0),
        replace(pour, grams=3.0, total_g=17.0, spare=True),
    )
    assert shown_plan(replace(plan_of("5"), pours=halves)).poured == "7 g + 7 g citric acid"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "kind"),
    [*product(CASES, ("shop", "head")), ("5", "homes"), ("", "gallery"), ("", "jars")],
)
def test_no_words_leave_the_picture_or_lie_on_each_other(name: str, kind: str) -> None:
    figure = figure_of(name, kind)
    figure.canvas.draw()
    texts = [text for text in figure.axes[0].texts if text.get_text()]
    boxes = [Text.get_window_extent(text) for text in texts]
    for number, (mine, box) in enumerate(zip(texts, boxes, strict=True)):
        assert box.x0 >= 0
        assert box.x1 <= figure.bbox.x1
        assert box.y0 >= 0
        assert box.y1 <= figure.bbox.y1
        for yours, other in zip(texts[number + 1 :], boxes[number + 1 :], strict=True):
            wide = min(box.x1, other.x1) - max(box.x0, other.x0)
            high = min(box.y1, other.y1) - max(box.y0, other.y0)
            assert not (wide > 2 and high > 4), (mine.get_text(), yours.get_text())


def test_a_long_or_hostile_title_stays_text_on_the_picture() -> None:
    shown = Shown(
        "$x^2$ \\frac " + "very long " * 20 + "\nend", ((7.0, "#204060"),), "", "", "ok", False
    )
    figure = draw_shop(shown)
    (title,) = [text for text in figure.axes[0].texts if text.get_text().startswith("$x^2$")]
    assert title.get_text().endswith("…")
    assert Text.get_window_extent(title).x1 <= 1021 + 1


def test_the_hatching_gets_denser_with_the_level() -> None:
    lines = []
    for level in ("ok", "mind", "justify", "stop"):
        paper = Paper()
        paper.vessel(["#204060"], (100.0, 100.0, 900.0, 900.0), Shape(0.0, 30.0), 10.0, level)
        lines.append(sum(len(hatch.get_paths()) for hatch in paper.axes.collections))
    assert lines[0] == 0
    assert lines[3] > 1.8 * lines[2] > 3 * lines[1] > 0


def test_the_ribbon_has_the_colour_of_each_dose() -> None:
    plan, image = plan_of("5"), pixels(figure_of("5", "head"))
    most = plan.ribbon.grams[-1]
    for place in range(5, len(plan.ribbon.grams) - 5, 20):
        x = 22.0 + 1036.0 * plan.ribbon.grams[place] / most
        if min(abs(plan.pour_g - plan.ribbon.grams[place]), abs(plan.never_over_g)) < 0.5:
            continue
        wished = levels(str(plan.ribbon.colours.hex[place]))
        assert np.abs(image[386, round(x)].astype(int) - wished).max() <= 3
    words = words_of(figure_of("5", "head"))
    assert {"pour 14 g", "never over 17 g"} <= set(words)


@pytest.mark.parametrize(("dose", "most"), [(2, 4), (2, 46), (9, 11), (14, 17), (44, 46)])
def test_no_line_of_the_ribbon_strikes_its_labels_through(dose: float, most: float) -> None:
    plan = plan_of("5")
    pours = (replace(plan.pours[0], grams=dose, total_g=dose),)
    moved = replace(plan, dose_g=DoseRange(dose, dose, dose, 0.9), maximum_g=most, pours=pours)
    figure = draw_plan_head(moved)
    figure.canvas.draw()
    (axes,) = figure.axes
    labels = [text.get_window_extent().padded(-1) for text in axes.texts if text.get_text()]
    assert not any(one.overlaps(other) for one, other in combinations(labels, 2))
    drawn = [np.asarray(line.get_xydata()) for line in axes.lines]
    rules = [ends for ends in drawn if len(ends) == 2]
    assert len(rules) > 5
    for ends in map(Bbox, map(axes.transData.transform, rules)):
        assert not any(label.overlaps(ends) for label in labels)


def test_homes_are_drawn_with_their_own_water_and_verdict() -> None:
    figure = figure_of("5", "homes")
    image, homes = pixels(figure).reshape(-1, 3), homes_of("5")
    for home in homes:
        for sight in (home.before, home.after):
            assert np.all(image == levels(str(sight.colour.hex)), axis=1).sum() > 2000
    words = words_of(figure)
    told = [word for word in words if "turns" in word or "changes, not pink" in word]
    assert len(told) >= sum(home.verdict == TURNS for home in homes)
    assert sum("too sour" in word for word in words) == sum(h.verdict == TOO_SOUR for h in homes)
    assert "your water" in words


def test_the_gallery_shows_the_first_effects() -> None:
    figure = figure_of("", "gallery")
    words, image = " ".join(words_of(figure)), pixels(figure).reshape(-1, 3)
    for effect in gallery()[:6]:
        assert f"{effect.start} to {effect.end}".capitalize() in words
        for sight in (effect.before, effect.after):
            assert np.all(image == levels(sight.hex), axis=1).sum() > 5000


@pytest.mark.slow
def test_every_home_of_a_sachet_is_in_one_cell_of_its_picture() -> None:
    answer = sachet_answer(demo_recipe("5"), drawn_population("denmark", 300), powders=())
    cells = answer.waters
    assert sum(cell.homes_share for cell in cells) == pytest.approx(1.0)
    assert len({(cell.ppm, cell.litres) for cell in cells}) == len(cells)
    words = words_of(draw_sachet(answer))
    # The same numbers as in the text, in the same words.
    shares = answer.offer.shares
    turns, sour = hundred(shares.turns_share), hundred(shares.past_limit_share)
    assert f"At best, of 100 homes: turns in {turns}, too sour in {sour}" in words
    # One mark for each cell, and a legend of all three.
    marks = [word for word in words if word in ("✓", "–", "X")]
    assert len(marks) == len(cells)
    assert {"✓ most turn", "– most not far enough", "X some too sour"} <= set(words)
    # The cells add up to the headline, and to all homes but for rounding.
    told = [word.split(" of ") for word in words if word.endswith(" turn") and " of " in word]
    assert len(told) == len(cells)
    assert sum(int(turned) for turned, _ in told) == round(100 * shares.turns_share)
    assert sum(int(rest.split()[0]) for _, rest in told) == pytest.approx(100, abs=1)
    # Plain acid turns too few of these to be worth making.
    assert "Make none" in words


@pytest.mark.slow
def test_tubs_of_a_row_of_a_sachet_are_drawn_alike_and_its_legend_has_gaps() -> None:
    answer = sachet_answer(demo_recipe("5"), drawn_population("denmark", 300), powders=())
    assert answer.wish is not None
    figure = draw_sachet(replace(answer, wish=None))
    # The waterline of each tub is a level rule, as wide as the tub.
    widths: dict[float, set[float]] = {}
    for line in figure.axes[0].lines:
        ends = np.asarray(line.get_xydata())
        if len(ends) == 2:
            width = round(float(ends[1, 0] - ends[0, 0]), 3)
            widths.setdefault(round(float(ends[0, 1]), 3), set()).add(width)
    rows = sorted({cell.litres for cell in answer.waters})
    assert len(widths) == len(rows)
    assert all(len(each) == 1 for each in widths.values())
    assert sorted(widths) == sorted(widths, key=lambda y: max(widths[y]))
    texts = figure.axes[0].texts
    entries = [text for text in texts if text.get_text()[1:] in
               (" most turn", " most do not turn", " some too sour")]  # fmt: skip
    boxes = sorted((Text.get_window_extent(text) for text in entries), key=lambda box: box.x0)
    assert len(boxes) == 3
    assert all(after.x0 - box.x1 > 30 for box, after in pairwise(boxes))
    for kind in ("word", "hex"):
        wished = replace(answer, wish=replace(answer.wish, kind=kind))
        assert "– most not that colour" in words_of(draw_sachet(wished))


def test_a_sachet_that_cautions_forbid_tells_no_grams_on_its_picture() -> None:
    inputs = demo_recipe("5")
    given = replace(inputs, wish=replace(inputs.wish, purpose="gift"))
    answer = sachet_answer(given, drawn_population("denmark", 60), powders=())
    assert not answer.allowed  # Petals that keep for days only.
    words = words_of(draw_sachet(answer))
    assert "Make none" in words
    assert not any(word.endswith(" g") for word in words)


@pytest.mark.slow
@pytest.mark.parametrize("ending", ENDINGS)
def test_a_picture_is_the_same_whenever_it_is_written(ending: str, tmp_path: Path) -> None:
    first, second = tmp_path / f"one{ending}", tmp_path / f"two{ending}"
    for path in (first, second):
        write_picture(figure_of("5", "shop"), path)
    assert first.read_bytes() == second.read_bytes()
    assert {p.name for p in tmp_path.iterdir()} == {first.name, second.name}
    if ending not in (".svg", ".pdf"):
        with Image.open(first) as image:
            assert image.size == (1080, 1080)


def test_a_picture_that_cannot_be_finished_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "soak.png"
    path.write_bytes(b"the old picture")
    figure = Paper(100, 100).figure

    def fail(draft: Path, **_: object) -> None:
        Path(draft).write_bytes(b"half a pic")
        raise OSError("disk full")

    monkeypatch.setattr(figure, "savefig", fail)
    with pytest.raises(OSError, match="disk full"):
        write_picture(figure, path)
    assert path.read_bytes() == b"the old picture"
    assert list(tmp_path.iterdir()) == [path]


def test_another_ending_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match=r"accepted endings are \.png, \.jpg"):
        write_picture(Paper(100, 100).figure, tmp_path / "soak.tiff")


@pytest.mark.parametrize("most", [0.7, 1.0, 9.99, 24.0, 180.0, 3600.0])
def test_ticks_are_round_and_few(most: float) -> None:
    steps = _round_steps(most)
    assert steps[0] == 0
    assert most * 0.75 < steps[-1] <= most
    assert 3 <= len(steps) <= 9
    np.testing.assert_allclose(np.diff(steps), steps[1])
    assert f"{steps[1]:e}"[0] in "125"


def test_runs_cover_everything_once() -> None:
    assert list(runs(["a", "a", "b", "a"])) == [("a", 0, 2), ("b", 2, 3), ("a", 3, 4)]
