"""Kitchen solutions of known pH: against PHREEQC, Pitzer's model and printed buffers."""

from __future__ import annotations

import csv
import importlib
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from dosing.bottle.kitchen import kitchen_solutions
from dosing.recipe.jar_readings import JarReadings
from dosing.recipe.quantities import InputError
from indicator.absorbance import form_fractions, form_spectra
from indicator.appearance import seen
from indicator.camera import LIGHTS, picture_weights
from indicator.mat import SIX, photo_mat
from indicator.optics import jar_view, mat_view
from indicator.photograph import limit
from indicator.pigments import colourant

REFERENCE = Path(__file__).resolve().parents[1] / "reference"
Command = Callable[..., tuple[int, str, str]]
KITCHEN = kitchen_solutions()


def reference(name: str) -> list[dict[str, str]]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize(
    "row", reference("kitchen_phreeqc.csv"), ids=lambda r: f"{r['place']}-{r['gas']}"
)
def test_each_glass_has_the_ph_that_phreeqc_gives_it(row: dict[str, str]) -> None:
    glass = KITCHEN.glasses[int(row["place"]) - 1]
    fizzes = glass.mixture.citric_acid_g and glass.mixture.baking_soda_g
    ours = {"closed": glass.ph_closed, "open_air": glass.ph_open_air}
    if fizzes:
        ours["fizzed"] = glass.ph.best
    if row["gas"] in ours:
        # As chemistry_phreeqc_baths.csv: constants differ by some hundredths between collections.
        assert ours[row["gas"]] == pytest.approx(float(row["ph"]), abs=0.03)
    # Pairs of sodium with citrate, and Pitzer's model of soda, lie within the stated range.
    other = row["ph_pitzer"] or (
        row["ph_with_alkali_pairs"] if fizzes and "fizzed" in row["gas"] else ""
    )
    if other:
        assert glass.ph.low <= float(other) <= glass.ph.high


def test_glasses_of_citrate_lie_where_printed_buffers_do() -> None:
    # 0.1 M citric acid and trisodium citrate, suppliers' table (chemistry_buffers.csv): by sodium
    # for each citrate. Ours are half as strong.
    table = [row for row in reference("chemistry_buffers.csv") if row["table"] == "citrate"]
    ratio = [float(row["Na"]) / float(row["citrate"]) for row in table]
    for glass in KITCHEN.glasses[1:4]:
        mixture = glass.mixture
        # 40 g in a kilogram over 192.12 g/mol, 50 g over 84.007 g/mol (IUPAC atomic weights).
        sodium = mixture.baking_soda_g * 50 / 1050 / 84.007
        citrate = mixture.citric_acid_g * 40 / 1040 / 192.12
        printed = np.interp(sodium / citrate, ratio, [float(row["printed_ph"]) for row in table])
        assert glass.ph.low <= printed <= glass.ph.high


def test_steps_go_from_flavylium_to_quinonoid_and_no_range_is_wider_than_a_buffer_is_useful() -> (
    None
):
    low, best, high = np.array([(g.ph.low, g.ph.best, g.ph.high) for g in KITCHEN.glasses]).T
    assert best[0] < 2.3
    assert best[-1] > 9.0
    assert (low[1:] > high[:-1]).all()
    assert (high - low).max() < 0.5
    assert [glass.mixture.place for glass in KITCHEN.glasses] == [
        number + 1 for number in range(len(photo_mat(SIX).places))
    ]


def test_a_sour_pigment_makes_each_glass_sourer() -> None:
    usual, sour = (
        [glass.ph.best for glass in kitchen_solutions(which).glasses]
        for which in (None, colourant("roselle"))
    )
    # The infusion is thinned to a fifth before, and so is its acid.
    assert (np.subtract(usual, sour) > 0.03 / 5).all()
    assert (np.subtract(usual, sour) < 0.3 / 5).all()


def test_glasses_of_the_usual_infusion_are_not_too_dark_for_a_camera() -> None:
    pea = colourant("butterfly-pea")
    assert pea.per_percent is not None
    ph = np.array([glass.ph.best for glass in KITCHEN.glasses])
    # 1 g of petals in 100 g of infusion.
    absorbance = (
        pea.per_percent.best / KITCHEN.thinned * form_fractions(pea, ph) @ form_spectra(pea)
    )
    shown = mat_view().share(absorbance) @ picture_weights(LIGHTS)
    assert np.median(shown, axis=0).min() > limit("least_channel")


def test_every_branch_of_a_mat_is_rendered(branches_missed: Callable[..., list[str]]) -> None:
    cases = [
        {"kitchen": KITCHEN, "one": one, "written": written, "on_paper": on_paper}
        for one, written, on_paper in (
            (False, False, False),
            (True, True, False),
            (False, True, True),
        )
    ]
    assert branches_missed("mat", cases) == []


def test_the_command_prints_the_table_and_writes_both_pages(
    huedose: Command, tmp_path: Path
) -> None:
    code, out, err = huedose("mat", COLUMNS="80")
    assert (code, err) == (0, "")
    assert len(out.splitlines()) <= 20
    shown = re.findall(r"([\d.]+) \(([\d.]+) to ([\d.]+)\)", out)
    assert [float(best) for best, _, _ in shown] == [round(g.ph.best, 1) for g in KITCHEN.glasses]
    for arguments, pages in ((("--paper", "letter"), 2), (("--one",), 1)):
        file = tmp_path / f"{pages}.pdf"
        code, out, err = huedose("mat", "-o", file, *arguments)
        assert (code, err) == (0, "")
        assert str(file) in "".join(out.split())
        assert len(re.findall(rb"/MediaBox", file.read_bytes())) == pages


def test_json_holds_the_table(huedose_json: Callable[..., tuple[int, dict[str, Any]]]) -> None:
    code, found = huedose_json("mat", "--json")
    assert code == 0
    for glass, ours in zip(found["glasses"], KITCHEN.glasses, strict=True):
        assert glass["ph"]["low"] < glass["ph"]["best"] < glass["ph"]["high"]
        assert glass["ph"]["best"] == pytest.approx(ours.ph.best)
        assert glass["mixture"]["place"] == ours.mixture.place


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--paper", "A3"), "paper is 'A3'; accepted are A4, Letter."),
        (("-o", "mat.png"), ".pdf"),
        (("-o", "nowhere/mat.pdf"), "nowhere"),
        (("-o", "there.pdf"), "there.pdf"),
        (("mat.pdf",), "mat.pdf"),
    ],
)
def test_what_cannot_be_printed_gets_one_sentence(
    arguments: tuple[str, ...], told: str, huedose: Command, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    (tmp_path / "there.pdf").touch()
    code, out, err = huedose("mat", *arguments)
    assert (code, out) == (2, "")
    assert told in err
    assert len(err.splitlines()) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["there.pdf"]


def jars(file: Path, rows: list[str]) -> JarReadings:
    """Jars of a table, with the number of a kitchen solution in place of the pH."""
    file.write_text("\n".join(["ph,hex", *rows]))
    return JarReadings(
        table=file, photo=None, white=(), jars=(), path=None, light="D65",
        diluted=KITCHEN.thinned, ph_by="meter", kitchen=KITCHEN,
    )  # fmt: skip


def test_jars_take_the_ph_and_its_spread_of_their_place(tmp_path: Path) -> None:
    series = jars(tmp_path / "jars.csv", ["6,#205070", "2,#904080", "4,#4050A0"]).series()
    chosen = [KITCHEN.glasses[place - 1].ph for place in (6, 2, 4)]
    np.testing.assert_array_equal(series.ph, [ph.best for ph in chosen])
    assert series.ph_sd is not None
    # Nine in ten of a normal distribution lie within 1.645 standard deviations.
    widths = [(ph.high - ph.low) / (2 * 1.645) for ph in chosen]
    np.testing.assert_allclose(series.ph_sd, widths, rtol=1e-3)
    assert series.dilution == pytest.approx(1 / 50)


@pytest.mark.parametrize("place", ["7", "0", "2.5"])
def test_a_place_that_no_glass_has_gets_one_sentence(place: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=f"number {re.escape(place)}; accepted are 1 to 6"):
        jars(tmp_path / "jars.csv", ["1,#904080", f"{place},#205070"]).series()


def hexes(ph: list[float], thinned: float) -> list[str]:
    """Colours of butterfly pea of 7 /cm in jars of some pH."""
    which = colourant("butterfly-pea")
    absorbance = 7.0 / thinned * form_fractions(which, np.array(ph)) @ form_spectra(which)
    return [str(shown) for shown in seen(absorbance, jar_view()).hex]


def test_jars_of_kitchen_solutions_take_their_ph_and_its_spread_from_the_table(
    huedose_json: Callable[..., tuple[int, dict[str, Any]]], tmp_path: Path
) -> None:
    glasses = kitchen_solutions(colourant("butterfly-pea")).glasses
    shown = hexes([glass.ph.best for glass in glasses], thinned=60)
    files = {"kitchen": range(1, 7), "typed": [glass.ph.best for glass in glasses]}
    turns = {}
    for name, numbers in files.items():
        file = tmp_path / f"{name}.csv"
        rows = [f"{number},{colour},60" for number, colour in zip(numbers, shown, strict=True)]
        file.write_text("\n".join(["ph,hex,dilution", *rows]))
        kitchen = ("--kitchen",) if name == "kitchen" else ("--ph-by", "buffer")
        code, found = huedose_json(
            "calibrate", "butterfly-pea", file, *kitchen, "--data-dir", tmp_path / name
        )
        assert code == 0
        turns[name] = next(one for one in found["numbers"] if one["form"] == "neutral base")
    assert turns["kitchen"]["best"] == pytest.approx(turns["typed"]["best"], abs=0.1)
    assert turns["kitchen"]["low"] < 3.1 < turns["kitchen"]["high"]
    widths = {name: turn["high"] - turn["low"] for name, turn in turns.items()}
    assert widths["kitchen"] > widths["typed"]


def test_glasses_for_a_meter_are_those_that_the_pictures_were_counted_with(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.syspath_prepend(str(REFERENCE))
    camera = importlib.import_module("camera")
    told = KITCHEN.meter_glasses
    assert [glass.ph for glass in told] == camera.ADVISED_PH.tolist()
    times = camera.THINNED * camera.ADVISED_TIMES
    assert [glass.diluted for glass in told] == times.tolist()
