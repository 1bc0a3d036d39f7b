"""Simulated jar tests: worlds drawn from a recipe's own spreads, fitted, intervals counted.

Run ``python tests/reference/jar_worlds.py`` to write jar_coverage.csv anew (about an
hour on two cores); the tests read that file and count a smaller set themselves. Truth and forecast
share our own solver here, so this tells whether the intervals are as wide as they say, not whether
the chemistry is right; for that see build_jar_phreeqc.py.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from dosing.bath.assembled import assemble
from dosing.bath.inputs import ActivatorInputs, RecipeInputs, TubInputs, WishInputs
from dosing.equilibrium import water_density_kg_l
from dosing.ingredients.water import WaterReadings
from dosing.jar.answer import per_litre_before, per_litre_by_turn
from dosing.jar.bench import MATCHED, TURNED, Bench
from dosing.jar.design import first_additions, units_to_ph
from dosing.jar.fit import Fit, draws, fit
from dosing.jar.kit import jar_of, titrant, weighing_sd
from dosing.jar.model import JarModel, Readings, kind_read, ph_noise
from dosing.recipe import demo_recipe
from indicator.appearance import delta_e, hex_of_lab, lab_from_hex
from indicator.optics import jar_view, view_value
from indicator.spread import drawn_labs
from indicator.tables import NINE_IN_TEN_SD, number_of

Array = NDArray[np.float64]

TARGET = 5.7
WORLDS, FEWER, CHUNK, SEED = 2000, 400, 50, 2024
"""Of the evening soak with a stock of acid, and of the other cases."""
PROCESSES = 2
DRAWS, PRIOR_DRAWS, PRIOR_PARTS = 512, 20_000, 5
"""Of what a fit leaves open, and of what is open without a jar: there to a few parts in 1000."""
WEIGHED = {"stock": (30.0, 50.0), "5 g": (5.0,)}
"""Weighings of the acid [g]: a stock that is thinned, or all of it at once."""
COLOUR_TIMES = 3.0
MISREAD = 0.05
"""Share of the colours that are simply wrong in PHREEQC's worlds, which the fit is not told."""
CITRIC = {"citric-acid-anhydrous": 1.0}


@dataclass(frozen=True)
class Case:
    """One way to do the test."""

    water: str
    by: str
    weighed: str
    alkalinity_meq_l: float
    hardness_mmol_l: float
    ph: float
    layout: str = "laid out"
    """``"laid out"`` as `COUNTED` says, ``"printed"`` as the instructions have it, or ``"each mL"``
    to half beyond the target."""


COUNTED = {
    "meter": (8, 2.0), "drop-kit": (12, 2.0), "strip": (10, 2.0), "colour": (18, 6.0),
    "photograph": (18, 6.0),
}  # fmt: skip
"""Readings of a test that is counted, and up to which times the target's dose they go: more and
further than the printed instructions ask for."""
BY = tuple(COUNTED)
COLOUR_JARS = {"photograph": 500, "colour": 100}
"""Ways to read PHREEQC's coloured jars, each with its own error, and how many of them: doubtful
ones are fitted anew without each reading, which takes seconds."""
SOAK = ("stock", 1.9, 1.1, 7.7)
CASES = (
    *(Case("evening soak", by, *SOAK) for by in BY),
    *(Case("evening soak", by, *SOAK, "each mL") for by in ("meter", "drop-kit", "strip")),
    Case("evening soak", "meter", "5 g", 1.9, 1.1, 7.7),
    Case("soft", "meter", "stock", 0.8, 0.5, 7.5),
    Case("soft", "drop-kit", "stock", 0.8, 0.5, 7.5),
    Case("hard", "meter", "stock", 4.5, 2.7, 7.4),
    Case("hard", "drop-kit", "stock", 4.5, 2.7, 7.4),
)


@dataclass(frozen=True)
class Counted:
    """What came of many worlds."""

    worlds: int
    coverage: float
    """Share whose true dose per litre lay within the interval."""
    width: float
    """Mean width of the interval [g/L]."""
    strip_width: float
    """Of the recipe's own interval with an alkalinity strip and no jar [g/L]."""

    @property
    def ratio(self) -> float:
        """Width with the jar over that without."""
        return self.width / self.strip_width


def tub_of(case: Case) -> RecipeInputs:
    """The evening soak in another water, its readings by strip."""
    soak = demo_recipe("1")
    water = replace(
        soak.water,
        alkalinity_meq_l=case.alkalinity_meq_l,
        hardness_mmol_l=case.hardness_mmol_l,
        ph=case.ph,
        instrument="strip",
    )
    return replace(soak, water=water)


def model_of(case: Case) -> JarModel:
    """The jar of a case; strip and drop kit are read in plain water."""
    tub = tub_of(case)
    kind = kind_read(case.by)
    colour = kind != "ph"
    jar = jar_of(
        tub,
        plain=case.by in ("strip", "drop-kit"),
        litres=1.0,
        weighed=True,
        temperature_c=30.0,
        colour_times=COLOUR_TIMES if colour else 1.0,
    )
    acid = titrant(
        tub.activator.parts, 1.0, made_sd=weighing_sd(WEIGHED[case.weighed]), same_powder=True
    )
    shared = 0.0 if colour else ph_noise(case.by, TARGET)[1]
    view = jar_view(view_value("jar_path"))
    return JarModel(tub, jar, acid, kind, shared, view)


def simulate(case: Case, worlds: int, seed: int) -> Counted:
    """Draw worlds, do the laid-out test in each, and count."""
    model = model_of(case)
    totals = totals_of(case, model)
    random = np.random.default_rng(seed)
    hits, widths = np.zeros(0, dtype=bool), np.zeros(0)
    for start in range(0, worlds, CHUNK):
        found, truth = _worlds(model, case.by, totals, min(CHUNK, worlds - start), random)
        left = [draws(one, DRAWS, 1) for one in found]
        low, high = _interval(model, np.stack(left))
        told = np.isfinite(truth)
        hits = np.append(hits, ((low <= truth) & (truth <= high))[told])
        widths = np.append(widths, (high - low)[told])
    return Counted(len(hits), float(np.mean(hits)), float(np.mean(widths)), _strip_width(model))


def _strip_width(model: JarModel) -> float:
    """Width of the recipe's own interval [g/L]: that of the quantiles of a great many waters."""
    random = np.random.default_rng(SEED)
    shape = (PRIOR_DRAWS, len(model.names))
    each = [_per_litre(model, random.standard_normal(shape)) for _ in range(PRIOR_PARTS)]
    low, high = np.nanquantile(np.concatenate(each), (0.05, 0.95))
    return float(high - low)


def totals_of(case: Case, model: JarModel) -> Array:
    """What is in the jar at each reading [mL]."""
    if case.layout == "each mL":
        aim = units_to_ph(model, TARGET)
        return np.arange(0.0, np.ceil(1.5 * aim) + 1.0)
    if case.layout == "printed":
        return first_additions(model, case.by, TARGET, 1.0).totals
    readings, beyond = COUNTED[case.by]
    return first_additions(model, case.by, TARGET, 1.0, readings=readings, beyond=beyond).totals


def _worlds(
    model: JarModel, by: str, totals: Array, count: int, random: np.random.Generator
) -> tuple[list[Fit], Array]:
    """Fits of worlds drawn from what is expected, and their true doses per litre."""
    truth = random.standard_normal((count, len(model.names)))
    single = np.diff(totals, prepend=0.0)
    absolute, relative = model.titrant.each_sd
    each = np.where(single > 0, np.hypot(absolute, relative * single), 0.0)
    added = totals + np.cumsum(each * random.standard_normal((count, len(totals))), axis=-1)
    clean = model.predicted(truth, added)
    pads = kind_read(by) == "ph"
    noise = np.full(len(totals), ph_noise(by, TARGET)[0]) if pads else np.zeros(len(totals))
    values = clean + random.standard_normal(clean.shape) / model.whitening(clean, noise)
    found = fit(model, Readings(totals, values, model.kind, noise, model.shared_sd, model.view))
    return list(_each(found, count)), _per_litre(model, truth)


def _each(found: Fit, count: int) -> Iterator[Fit]:
    for k in range(count):
        one = {
            name: getattr(found, name)[k]
            for name in ("numbers", "covariance", "weights", "expected", "off", "misfit")
        }
        yield Fit(names=found.names, shared=found.shared, **one)


def _per_litre(model: JarModel, numbers: Array) -> Array:
    setting = model.tubs(numbers)
    grams, _, _ = setting.bath.grams_for_ph(TARGET, setting.per_gram)
    return np.asarray(grams / setting.bath.volume_l)


def _interval(model: JarModel, numbers: Array) -> tuple[Array, Array]:
    """Ends of the dose per litre, for numbers of shape (..., draws, numbers)."""
    low, high = np.nanquantile(_per_litre(model, numbers), (0.05, 0.95), axis=-1)
    return low, high


def phreeqc_worlds() -> list[dict[str, str]]:
    """Rows of jar_phreeqc.csv, one for each jar."""
    lines = Path(__file__).with_name("jar_phreeqc.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def phreeqc_hit(row: dict[str, str], by: str) -> bool:
    """Whether the interval of one of PHREEQC's jars holds its true dose per litre."""
    colour = by in COLOUR_JARS
    water = WaterReadings(
        alkalinity_meq_l=float(row["alkalinity_read_meq_l"]),
        ph=float(row["ph_read"]),
        hardness_mmol_l=float(row["hardness_read_mmol_l"]),
        instrument="strip",
    )
    tub = RecipeInputs(
        "bare",
        TubInputs(volume_l=100.0, volume_measured=True),
        water,
        38.0,
        None,
        demo_recipe("1").colours if colour else (),
        ActivatorInputs(CITRIC),
        WishInputs(str(TARGET)),
    )
    jar = jar_of(
        tub,
        plain=not colour,
        litres=1.0,
        weighed=True,
        temperature_c=25.0,
        colour_times=COLOUR_TIMES if colour else 1.0,
    )
    acid = titrant(CITRIC, 1.0, made_sd=weighing_sd(WEIGHED["stock"]), same_powder=True)
    added, ph = (np.array([float(one) for one in row[key].split()]) for key in ("ml", "read"))
    if colour:
        model = JarModel(tub, jar, acid, kind_read(by), 0.0, jar_view(view_value("jar_path")))
        readings = _seen(model, added, ph, np.random.default_rng(int(row["world"])))
    else:
        noise, shared = ph_noise(by, ph)
        model = JarModel(tub, jar, acid, "ph", shared)
        readings = Readings(added, ph[:, None], "ph", noise, shared)
    found = fit(model, readings)
    low, high = _interval(model, draws(found, DRAWS, 1))
    # PHREEQC counts by the kilogram of water.
    true = float(row["true_dose_g_l"]) * float(water_density_kg_l(38.0))
    return bool(low <= true <= high)


def _seen(model: JarModel, added: Array, ph: Array, random: np.random.Generator) -> Readings:
    """Colours of a jar whose pigment is what it may be, as hex; one in twenty is of another jar."""
    truth = random.standard_normal(len(model.names))
    clean = model.colours(truth, ph, added)
    noise = np.zeros(len(added))
    labs = clean + random.standard_normal(clean.shape) / model.whitening(clean, noise)
    wrong = random.random(len(added)) < MISREAD
    labs[wrong] = labs[random.integers(0, len(added), int(wrong.sum()))]
    written = np.stack([lab_from_hex(str(one)) for one in hex_of_lab(labs, "D65", 2)])
    return Readings(added, written, model.kind, noise, 0.0, model.view)


def turn_worlds() -> list[dict[str, str]]:
    """Rows of turn_phreeqc.csv, one for each test by eye."""
    lines = Path(__file__).with_name("turn_phreeqc.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def turn_hit(row: dict[str, str], *, twin: bool = True) -> tuple[bool, float, bool] | None:
    """Whether the interval of a test by eye holds the dose that turns the tub as the jar turned.

    Beside it the width of the interval over the one of an unread water, and whether that one holds
    it; None where the jar does not turn within the spoonfuls of the file. Whoever looks has a
    pigment within what is not known of it, and calls a difference clear that lies within
    `turn_seen`; two jugs look the same to a tenth of pH.
    """
    random = np.random.default_rng(int(row["world"]))
    recipe = replace(demo_recipe("1"), water=WaterReadings(), foam_bath=None)
    bench = Bench(recipe=recipe, by="turn", unit="tsp").with_solution("1 tsp in 1 L").laid_out(6.0)
    view, strengths = bench.view, assemble(bench.jar().inputs).bath.strengths
    ph, twin_ph = (np.array([float(one) for one in row[key].split()]) for key in ("ph", "twin_ph"))
    draw = int(random.integers(0, 200))
    labs = drawn_labs({which: float(one) for which, one in strengths.items()}, ph, view)[draw]
    start = drawn_labs({k: float(v) for k, v in strengths.items()}, twin_ph[:1], view)[draw]
    seen = number_of("trade/jar_test.csv", "turn_seen")
    spread = np.log((seen.high or 0.0) / (seen.low or 1.0)) / (2 * NINE_IN_TEN_SD)
    enough = seen.value * np.exp(spread * random.standard_normal())
    turned = np.flatnonzero(np.atleast_1d(delta_e(start, labs)) >= enough)
    turned = turned[turned > 0]
    alike = twin_ph[1:] <= (ph[turned[0]] if len(turned) else 0.0) + random.normal(0, 0.1)
    if not len(turned) or not alike.any():
        return None
    counts = [float(turned[0]), 1.0 + float(np.argmax(alike))]
    words = (TURNED, MATCHED)[: 1 + twin]
    jars = bench.turns(np.array(counts[: 1 + twin]) - 0.5, words)
    model = bench.model(jars)
    found = per_litre_by_turn(model, jars)
    dose_ph = np.array([8.0, 7.5, 7.0, 6.5, 6.0, 5.5, 5.0, 4.5, 4.0, 3.5, 3.0])
    doses = np.array([float(one) for one in row["dose_g_l"].split()])
    true = float(PchipInterpolator(-dose_ph, doses)(-ph[turned[0]]))
    true *= float(water_density_kg_l(38.0))
    before = per_litre_before(model, float(ph[turned[0]]))
    width = (found.high - found.low) / (before.high - before.low)
    return found.low <= true <= found.high, width, before.low <= true <= before.high


def ways_to_read(jars: Sequence[dict[str, str]]) -> list[tuple[dict[str, str], str]]:
    """PHREEQC's jars, each with what reads it; coloured ones are read in several ways."""
    plain = [(jar, jar["by"]) for jar in jars if jar["by"] not in COLOUR_JARS]
    coloured = [jar for jar in jars if jar["by"] in COLOUR_JARS]
    return plain + [(jar, by) for by, most in COLOUR_JARS.items() for jar in coloured[:most]]


def _row(case: Case) -> dict[str, object]:
    usual = (case.water, case.weighed, case.layout) == ("evening soak", "stock", "laid out")
    # Its width comes within a hundredth of the goal.
    close = (case.by, case.layout) == ("drop-kit", "each mL")
    counted = simulate(case, WORLDS if usual or close else FEWER, SEED)
    return {
        "water": case.water,
        "alkalinity_meq_l": case.alkalinity_meq_l,
        "by": case.by,
        "weighed": case.weighed,
        "layout": case.layout,
        "worlds": counted.worlds,
        "coverage": f"{counted.coverage:.4f}",
        "ratio_to_strip": f"{counted.ratio:.4f}",
    }


def _phreeqc_rows(hits: Sequence[tuple[str, bool]]) -> Iterator[dict[str, object]]:
    for by in dict.fromkeys(by for by, _ in hits):
        of_this = [hit for one, hit in hits if one == by]
        yield {
            "water": "phreeqc",
            "alkalinity_meq_l": "",
            "by": by,
            "weighed": "stock",
            "layout": "by fractions",
            "worlds": len(of_this),
            "coverage": f"{np.mean(of_this):.4f}",
            "ratio_to_strip": "",
        }


def _turn_rows() -> Iterator[dict[str, object]]:
    """Counts of tests by eye: with the twin that holds soda, without it, and of no test at all."""
    worlds = turn_worlds()
    with ProcessPoolExecutor(PROCESSES) as pool:
        both, lone = (
            [one for one in pool.map(partial(turn_hit, twin=twin), worlds, chunksize=10) if one]
            for twin in (True, False)
        )
    for layout, found, hits in (
        ("with its twin", both, [hit for hit, _, _ in both]),
        ("alone", lone, [hit for hit, _, _ in lone]),
        ("no test", lone, [hit for _, _, hit in lone]),
    ):
        width = 1.0 if layout == "no test" else np.median([width for _, width, _ in found])
        yield {
            "water": "phreeqc",
            "alkalinity_meq_l": "",
            "by": "turn",
            "weighed": "spoon",
            "layout": layout,
            "worlds": len(found),
            "coverage": f"{np.mean(hits):.4f}",
            "ratio_to_strip": f"{width:.4f}",
        }


def main() -> None:
    """Write the table."""
    from reference_csv import write_csv

    jars, ways = zip(*ways_to_read(phreeqc_worlds()), strict=True)
    with ProcessPoolExecutor(PROCESSES) as pool:
        rows = list(pool.map(_row, CASES))
        found = list(pool.map(phreeqc_hit, jars, ways, chunksize=20))
    rows += [*_phreeqc_rows(list(zip(ways, found, strict=True))), *_turn_rows()]
    write_csv(
        "jar_coverage.csv",
        [
            "Jar tests in worlds drawn from the recipe's own spreads; written by jar_worlds.py.",
            "by: what read the jar (strip and drop kit in plain tap water; in a jar of three times"
            " the tub's colour, colour as hex noted from a telephone's pictures, photograph as one"
            " with white paper in it).  weighed: how the 1 % acid was made on a kitchen scale.",
            "layout: additions that tell most (meter 8 readings, drop-kit 12, strip 10, to twice"
            " the target's dose; colours 18, to six times), or a syringe's 1 mL each time.",
            "water phreeqc: the jars of jar_phreeqc.csv, whose truth is PHREEQC's.",
            "coverage: of the 90 % interval of the dose per litre.  ratio_to_strip: mean width of"
            " that interval over the one with an alkalinity strip and no jar; of turns the median"
            " over the one of a water that nobody read (turn_phreeqc.csv).",
        ],
        rows,
    )


if __name__ == "__main__":
    main()
