"""The ladder in numbers and in pictures."""

from __future__ import annotations

import io
import json
import subprocess
import sys

import matplotlib.image
import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure

from indicator.optics import bottle_view, jar_view, tub_view
from indicator.sheet import GROUND
from indicator.swatch import draw_ladder, draw_vessel, ladder

PH = [2.0, 4.0, 7.0, 9.0]
STRENGTHS = {"butterfly-pea": 0.05}


def test_ladder_has_the_published_colour_keys_and_is_json() -> None:
    swatches = ladder(STRENGTHS, PH, jar_view())
    assert [swatch.ph for swatch in swatches] == PH
    first = json.loads(json.dumps(swatches[0].as_dict()))
    keys = {"ph", "hex", "lab", "hue_deg", "word", "in_gamut", "visibility_delta_e"}
    assert keys <= set(first)
    assert len(first["lab"]) == 3


def test_ladder_of_one_rung_is_the_same_rung() -> None:
    assert ladder(STRENGTHS, [7.0], jar_view())[0] == ladder(STRENGTHS, PH, jar_view())[2]


@pytest.mark.parametrize("view", [tub_view(25.0), jar_view(), bottle_view()], ids=lambda v: v.kind)
def test_picture_shows_every_computed_colour_its_ph_and_its_word(view: object) -> None:
    figure = draw_ladder(STRENGTHS, PH, view)  # type: ignore[arg-type]
    swatches = ladder(STRENGTHS, PH, view)  # type: ignore[arg-type]
    texts = " ".join(text.get_text() for text in figure.axes[0].texts)
    for swatch in swatches:
        assert f"{swatch.ph:.1f}" in texts
        assert swatch.phrase in texts
    pixels = rendered(figure).reshape(-1, 3)
    for swatch in swatches:
        near = np.abs(pixels - to_rgb(swatch.hex)).max(axis=1) < 0.01
        # Each vessel of water is a good part of the picture, not a chip.
        assert near.mean() > 0.005


def test_many_rungs_go_to_further_rows_and_stay_on_the_paper() -> None:
    figure = draw_ladder(
        {"butterfly-pea": 0.2, "tartrazine": 1e-5}, list(range(1, 13)), tub_view(20)
    )
    axes = figure.axes[0]
    figure.canvas.draw()
    paper = figure.bbox
    for text in axes.texts:
        box = text.get_window_extent()
        assert box.x0 >= paper.x0
        assert box.x1 <= paper.x1
    edge = rendered(figure)[[0, -1]].reshape(-1, 3)
    np.testing.assert_allclose(edge, np.tile(to_rgb(GROUND), (len(edge), 1)), atol=0.01)


def test_unknown_vessel_is_refused() -> None:
    with pytest.raises(ValueError, match="vessel is 'teapot'"):
        draw_vessel(Figure().add_subplot(), "teapot", "#FFFFFF", 0, 0, 1)


def test_importing_the_room_loads_nothing_heavy() -> None:
    script = (
        "import sys, indicator, indicator.swatch, indicator.words;"
        "heavy = {'colour', 'matplotlib', 'scipy.optimize', 'scipy.stats'} & set(sys.modules);"
        "sys.exit(repr(heavy) if heavy else 0)"
    )
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0


def rendered(figure: Figure) -> np.ndarray:
    file = io.BytesIO()
    figure.savefig(file, format="png", dpi=80, facecolor=figure.get_facecolor())
    file.seek(0)
    return np.asarray(matplotlib.image.imread(file))[..., :3]
