"""Ladders and vessels drawn."""

from __future__ import annotations

import io
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from dosing.bottle.rainbow import USUAL_STOCKS, rainbow
from dosing.pictures.ladder import VESSELS, draw_jar_rows, draw_ladders, draw_overview
from dosing.pictures.paper import GROUND, SHADE
from dosing.pictures.sheets import write_picture
from dosing.recipe import demo_recipe
from indicator.ladders import ladder
from indicator.optics import VIEWS, View, beaker_view, bottle_view, jar_view, tub_view
from indicator.pigments import colourant

PH = [2.0, 4.0, 7.0, 9.0]
STRENGTHS = {"butterfly-pea": 0.05}


@pytest.mark.parametrize(
    "view", [tub_view(25.0), jar_view(), bottle_view(), beaker_view()], ids=lambda v: v.kind
)
def test_picture_shows_every_computed_colour_its_ph_and_its_word(view: View) -> None:
    figure = draw_ladder(STRENGTHS, PH, view)
    swatches = ladder(STRENGTHS, PH, view).swatches
    texts = " ".join(text.get_text() for text in figure.axes[0].texts)
    for swatch in swatches:
        assert f"{swatch.ph:.1f}" in texts
        assert swatch.phrase in texts
    pixels = rendered(figure).reshape(-1, 3)
    for swatch in swatches:
        near = np.abs(pixels - to_rgb(swatch.hex)).max(axis=1) < 0.01
        # Each vessel of water is a good part of the picture, not a chip.
        assert near.mean() > 0.005


def draw_ladder(strengths: dict[str, float], ph: list[float], view: View) -> Figure:
    return draw_ladders([ladder(strengths, ph, view)])


def boxes_of(figure: Figure) -> dict[str, Bbox]:
    """Where each text of a picture stands; none leaves the paper or meets another."""
    figure.canvas.draw()
    boxes = [Text.get_window_extent(text) for text in figure.axes[0].texts]
    for k, box in enumerate(boxes):
        assert figure.bbox.x0 <= box.x0 <= box.x1 <= figure.bbox.x1
        assert figure.bbox.y0 <= box.y0 <= box.y1 <= figure.bbox.y1
        for other in boxes[:k]:
            # Type has room below its letters that the next line may use.
            wide = min(box.x1, other.x1) - max(box.x0, other.x0)
            high = min(box.y1, other.y1) - max(box.y0, other.y0)
            assert not (wide > 2 and high > 8)
    return {text.get_text(): box for text, box in zip(figure.axes[0].texts, boxes, strict=True)}


@pytest.mark.parametrize("count", [1, 3, 16, 40])
def test_many_ladders_fit_on_one_picture(count: int) -> None:
    """Every colour of each, in at most one and a half squares."""
    drawn = ladder({"red-cabbage": 0.05}, PH, jar_view())
    figure = draw_overview([drawn] * count)
    assert figure.bbox.width == 1080
    assert figure.bbox.height <= 1500
    names = [text.get_text() for text in figure.axes[0].texts]
    assert names.count("Red cabbage") == count
    assert {"pH 2", "4", "7", "9"} <= set(boxes_of(figure))
    pixels = rendered(figure).reshape(-1, 3)
    for swatch in drawn.swatches:
        near = np.abs(pixels - to_rgb(swatch.hex)).max(axis=1) < 0.01
        assert near.sum() > 800 * count**0.5


def test_ladders_of_several_vessels_name_theirs() -> None:
    looked = [ladder(STRENGTHS, PH, view) for view in (jar_view(), tub_view(25.0))]
    assert {"Butterfly pea, jar", "Butterfly pea, tub"} <= set(boxes_of(draw_overview(looked)))


def test_jars_stand_in_rows_of_eight_with_large_words() -> None:
    strengths = {colourant("red-cabbage"): 0.05}
    row = rainbow(demo_recipe("1"), strengths, 24, jar_view(), USUAL_STOCKS)
    figure = draw_jar_rows(row)
    assert figure.bbox.height < 1080
    boxes = boxes_of(figure)
    tops = [round(boxes[str(jar.number)].y0) for jar in row.jars]
    assert [tops.count(top) for top in dict.fromkeys(tops)] == [8, 8, 8]
    # A ninth of the square's width for each; its words are read at a third of the size.
    sizes = [float(text.get_fontsize()) for text in figure.axes[0].texts if text.get_text() in
             {jar.family for jar in row.jars}]  # fmt: skip
    assert len(sizes) == 24
    assert min(sizes) > 18
    words = set(boxes)
    assert all(f"pH {jar.answer.ph:.1f}" in words for jar in row.jars)


LONG = {
    "butterfly-pea": 0.2,
    "purple-sweet-potato": 0.1,
    "tartrazine": 1e-5,
    "quinoline-yellow": 1e-5,
    "copper-chlorophyllin": 1e-5,
}


@pytest.mark.slow
@pytest.mark.parametrize(
    "figure",
    [
        lambda: draw_ladder(LONG, [float(ph) for ph in range(1, 13)], tub_view(20)),
        lambda: draw_ladder(LONG, [7.0], beaker_view(observer_deg=10)),
        lambda: draw_ladders(
            [ladder(LONG, PH, beaker_view()), ladder(STRENGTHS, PH, tub_view(25.0))]
        ),
        lambda: draw_ladder(STRENGTHS, list(np.linspace(1, 14, 60)), beaker_view()),
    ],
    ids=["twelve", "one", "two ladders", "sixty"],
)
def test_nothing_leaves_the_paper_and_no_text_meets_another(figure: object) -> None:
    drawn: Figure = figure()  # type: ignore[operator]
    axes = drawn.axes[0]
    drawn.canvas.draw()
    boxes = [text.get_window_extent() for text in axes.texts]
    for box in boxes:
        assert drawn.bbox.x0 <= box.x0 <= box.x1 <= drawn.bbox.x1
        assert drawn.bbox.y0 <= box.y0 <= box.y1 <= drawn.bbox.y1
    for k, box in enumerate(boxes):
        assert not any(box.overlaps(other) for other in boxes[:k])
    edge = rendered(drawn)[[0, -1]].reshape(-1, 3)
    np.testing.assert_allclose(edge, np.tile(to_rgb(GROUND), (len(edge), 1)), atol=0.01)


def test_ladders_stand_one_below_the_other_each_with_its_words() -> None:
    ladders = [
        ladder({"butterfly-pea": 0.02, "tartrazine": 1e-6}, PH, tub_view(25.0)),
        ladder({"red-cabbage": 0.05}, PH, beaker_view(light="FL2", observer_deg=10)),
    ]
    texts = draw_ladders(ladders).axes[0].texts
    words = [text.get_text() for text in texts]
    all_words = " ".join(words).replace("\N{NO-BREAK SPACE}", " ")
    for part in ("Butterfly pea + tartrazine", "Red cabbage", "FL2"):
        assert part in all_words
    for one in ladders:
        assert sum(words.count(swatch.phrase) for swatch in one.swatches)
    rows = {
        word: [text.get_position() for text in texts if text.get_text() == word]
        for word in ("pH 2.0", "9.0")
    }
    for first, last in zip(rows["pH 2.0"], rows["9.0"], strict=True):
        assert first[1] == last[1]
    # The same rung stands in the same place of every ladder.
    assert len({x for x, _ in rows["9.0"]}) == 1
    assert rows["9.0"][0][1] < rows["9.0"][1][1]


@pytest.mark.slow
def test_a_very_long_picture_gets_fewer_pixels(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ladders = [ladder(STRENGTHS, PH, bottle_view())] * 6
    whole = draw_ladders(ladders)
    monkeypatch.setattr("dosing.pictures.paper.LONGEST", 1_000)
    figure = draw_ladders(ladders)
    assert figure.dpi < whole.dpi
    file = tmp_path / "ladders.png"
    write_picture(figure, file)
    rows, columns = matplotlib.image.imread(file).shape[:2]
    assert rows == pytest.approx(1_000, abs=1)
    assert columns / rows == pytest.approx(whole.bbox.width / whole.bbox.height, rel=0.01)


def test_every_view_has_a_vessel() -> None:
    assert set(VESSELS) == set(VIEWS)
    for wide, deep, shape in VESSELS.values():
        assert wide < 0.9
        assert deep + shape.above < 1.1


def rendered(figure: Figure) -> np.ndarray:
    file = io.BytesIO()
    figure.savefig(file, format="png", dpi=80, facecolor=figure.get_facecolor())
    file.seek(0)
    return np.asarray(matplotlib.image.imread(file))[..., :3]


def test_what_one_may_bathe_in_is_shaded() -> None:
    # data/trade/caution_limits.csv: an adult needs no caution from pH 5.0 to 9.0
    # (Health Canada 2012).
    def shaded(ph: list[float]) -> float:
        figure = draw_ladders([ladder(STRENGTHS, ph, jar_view())])
        near = np.abs(rendered(figure).reshape(-1, 3) - to_rgb(SHADE)).max(axis=1) < 0.005
        return float(near.mean())

    assert shaded([3.0, 4.9, 9.1]) == 0.0
    some, all_of_them = shaded([3.0, 5.0, 9.0, 10.0]), shaded([5.0, 6.0, 8.0, 9.0])
    assert 0.05 < some < 0.6 * all_of_them
