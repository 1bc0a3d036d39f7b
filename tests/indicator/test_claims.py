"""What is told of butterfly pea in a tub, and what the model says to it.

Reports that are pinned so that a change of the model shows itself; none of them is a target.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from indicator.absorbance import mixture_absorbance
from indicator.appearance import SeenColour, delta_e, seen
from indicator.micelles import micelle_shift
from indicator.optics import View, bottle_view, jar_view, tub_view
from indicator.pigments import colourant, trust

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
TARTRAZINE_L_MOL_CM = 28_323.0
TUB, JAR = tub_view(25.0), jar_view()


def liquid(view: View, strength_x_path: float, ph: object, dye_x_path: float = 0.0) -> SeenColour:
    strengths = {
        "butterfly-pea": strength_x_path / view.path_cm,
        "tartrazine": dye_x_path / view.path_cm / TARTRAZINE_L_MOL_CM,
    }
    return seen(mixture_absorbance(strengths, np.asarray(ph)), view)


def change(view: View, strength_x_path: float, ph: tuple[float, float]) -> float:
    found = liquid(view, strength_x_path, ph)
    return float(delta_e(found.lab[0], found.lab[1]))


def trade_bands() -> list[dict[str, str]]:
    lines = (REFERENCE / "colour_trade_bands.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", trade_bands(), ids=lambda r: "-".join(list(r.values())[:4]))
def test_the_report_on_the_trades_bands_is_what_the_model_sees(row: dict[str, str]) -> None:
    view = TUB if row["view"] == "tub" else JAR
    found = liquid(view, float(row["strength_x_path"]), float(row["ph"]))
    assert (str(found.word), str(found.phrase)) == (row["model_word"], row["model_phrase"])
    meant = {"purple", "violet"} if row["trade_word"] == "purple" else {row["trade_word"]}
    assert row["holds"] == ("yes" if row["model_word"] in meant else "no")


def test_the_trades_pink_and_purple_hold_nowhere_its_blue_nearly_everywhere() -> None:
    held: dict[str, list[bool]] = {}
    for row in trade_bands():
        held.setdefault(row["trade_word"], []).append(row["holds"] == "yes")
    assert not any(held["pink"])
    assert not any(held["purple"])
    # What the trade calls green, a crowd calls teal or blue.
    assert np.mean(held["blue"]) >= 0.8
    assert not any(held["green"])


@pytest.mark.parametrize("strength_x_path", [1.0, 1.5, 2.0])
def test_single_pass_from_7_8_to_5_is_redder_and_differs_by_15_to_20(
    strength_x_path: float,
) -> None:
    # A first trial of these spectra gave 15 to 18 for strength x path of 1 to 2: one pass.
    found = liquid(JAR, strength_x_path, (7.8, 5.0))
    assert found.lab[1, 1] > found.lab[0, 1] + 10
    assert 15.0 <= change(JAR, strength_x_path, (7.8, 5.0)) <= 20.0


@pytest.mark.parametrize(
    ("strength_x_depth", "from_7_8", "from_8_2"),
    [
        (0.1, 10.7, 12.6),
        (0.2, 12.4, 14.9),
        (0.4, 13.7, 17.0),
        (0.6, 13.2, 17.0),
        (1.0, 11.2, 15.2),
        (1.5, 9.7, 12.4),
        (2.0, 6.2, 7.7),
    ],
)
def test_in_a_tub_light_passes_twice_and_half_the_strength_shows_most(
    strength_x_depth: float, from_7_8: float, from_8_2: float
) -> None:
    # Down to pH 5. Best near strength x depth 0.5; at 1 to 2 the tub is already dark.
    assert change(TUB, strength_x_depth, (7.8, 5.0)) == pytest.approx(from_7_8, abs=0.1)
    assert change(TUB, strength_x_depth, (8.2, 5.0)) == pytest.approx(from_8_2, abs=0.1)


def test_most_of_the_change_is_won_by_5_2() -> None:
    whole = change(TUB, 0.45, (8.0, 4.4))
    assert change(TUB, 0.45, (8.0, 5.2)) >= 0.9 * whole


def test_depth_alone_changes_nothing_where_strength_times_depth_is_kept() -> None:
    shallow, deep = tub_view(20.0), tub_view(30.0)
    np.testing.assert_allclose(liquid(shallow, 0.45, 6.0).lab, liquid(deep, 0.45, 6.0).lab)


def test_with_yellow_dye_green_turns_olive_in_a_bath_and_brown_only_below_it() -> None:
    found = liquid(TUB, 0.3, (8.2, 5.0, 2.0), dye_x_path=0.8)
    # The orange is so dark that most call it brown.
    assert list(found.word) == ["green", "green", "brown"]
    # Olive: a duller green, whose hue has come towards yellow.
    assert found.hue_deg[1] < found.hue_deg[0] - 15
    assert found.chroma[1] < found.chroma[0]
    assert 9.0 <= float(delta_e(found.lab[0], found.lab[1])) <= 12.0


@pytest.mark.parametrize("view", [TUB, JAR], ids=["tub", "jar"])
@pytest.mark.parametrize("strength_x_path", [0.15, 0.3, 0.5])
def test_pink_takes_a_ph_below_three(view: View, strength_x_path: float) -> None:
    # Published words: red to pink at pH 1 to 2, purple at 3 to 4 (Marpaung 2012; Fu et al. 2021).
    ph = np.arange(1.0, 8.0, 0.05)
    words = liquid(view, strength_x_path, ph).word
    assert 1.9 <= ph[np.isin(words, ("pink", "purple"))].max() <= 3.25
    assert ph[words == "pink"].max(initial=1.0) <= 2.7


def test_what_a_tub_takes_to_be_seen() -> None:
    # 15 mL of weak tea (pH-1 absorbance 1 per cm) in 150 L over 25 cm: strength x depth 0.0025.
    assert str(liquid(TUB, 0.0025, 7.5).visibility) == "invisible"
    assert str(liquid(TUB, 0.01, 7.5).visibility) == "hardly"
    assert str(liquid(TUB, 0.03, 7.5).visibility) == "visible"
    assert str(liquid(TUB, 0.2, 7.5).visibility) == "strong"


def test_pictures_beyond_the_screen_say_so() -> None:
    assert bool(liquid(TUB, 0.1, 7.0).in_gamut)
    assert not bool(liquid(TUB, 0.5, 7.0).in_gamut)


@pytest.mark.parametrize("strength_x_path", [0.4, 0.8, 1.5])
@pytest.mark.parametrize(
    ("view", "path_cm"), [(jar_view(), 8.0), (bottle_view(), 5.0), (tub_view(25.0), 50.0)]
)
def test_as_the_trade_reports_it(strength_x_path: float, view: View, path_cm: float) -> None:
    # Common practice, no source: pink below pH 5, purple about 6, blue 7 to 8, green above 8.5.
    strengths = {"butterfly-pea-as-reported": strength_x_path / path_cm}
    ph = np.array([1.0, 3.0, 4.9, 6.0, 7.0, 8.0, 8.6, 9.5, 11.0])
    words = seen(mixture_absorbance(strengths, ph), view).word
    # In a tub pink is partly a purple, and strong blues are teal from pH 8 on.
    accepted = (
        [{"pink", "purple", "violet"}] * 3
        + [{"purple", "violet", "blue"}, {"blue"}, {"blue", "teal"}]
        + [{"teal", "green"}] * 3
    )
    assert all(str(word) in among for word, among in zip(words, accepted, strict=True)), words


def test_the_trades_pink_is_not_that_of_published_spectra() -> None:
    moved = colourant("butterfly-pea-as-reported").pka[1] - colourant("butterfly-pea").pka[1]
    published = colourant("butterfly-pea").forms[1].pka_sd
    assert published is not None
    # Far outside the spread of the published series; only micelles might move it so far.
    assert moved > 5 * published
    assert moved > float(micelle_shift({"anionic": 200.0}).high)
    assert trust(colourant("butterfly-pea-as-reported")) == "reported"
