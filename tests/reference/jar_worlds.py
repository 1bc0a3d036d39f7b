"""Simulated jar tests: worlds drawn from a recipe's own spreads, fitted, intervals counted.

Run ``python tests/reference/jar_worlds.py`` to write jar_coverage.csv anew (some minutes); the
tests read that file and count a smaller set themselves. Truth and forecast share our own solver
here, so this tells whether the intervals are as wide as they say, not whether the chemistry is
right; for that see build_jar_phreeqc.py.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from dosing.equilibrium import water_density_kg_l
from dosing.inputs import ActivatorInputs, RecipeInputs, TubInputs, WishInputs
from dosing.jar.design import first_design
from dosing.jar.fit import Fit, JarModel, Readings, draws, fit, ph_noise
from dosing.jar.kit import jar_of, solution, weighing_sd
from dosing.recipe import demo_recipe
from dosing.water import WaterReadings
from indicator.optics import jar_view, view_value

Array = NDArray[np.float64]

TARGET = 5.7
WORLDS, FEWER, CHUNK, SEED = 400, 100, 100, 2024
"""Of the evening soak with a stock of acid, and of the other cases."""
DRAWS = 512
WEIGHED = {"stock": (30.0, 50.0), "5 g": (5.0,)}
"""Weighings of the acid [g]: a stock that is thinned, or all of it at once."""
COLOUR_TIMES = 5.0
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


CASES = (
    *(Case("evening soak", by, "stock", 1.9, 1.1, 7.7) for by in ("meter", "drop-kit", "strip")),
    Case("evening soak", "colour", "stock", 1.9, 1.1, 7.7),
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
    soak = demo_recipe("1").core()
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
    colour = case.by == "colour"
    jar = jar_of(
        tub,
        plain=case.by in ("strip", "drop-kit"),
        litres=1.0,
        weighed=True,
        temperature_c=30.0,
        colour_times=COLOUR_TIMES if colour else 1.0,
    )
    acid = solution(
        tub.activator.parts, 1.0, made_sd=weighing_sd(WEIGHED[case.weighed]), same_powder=True
    )
    shared = 0.0 if colour else ph_noise(case.by, TARGET)[1]
    view = jar_view(view_value("jar_path"))
    return JarModel(tub, jar, acid, "lab" if colour else "ph", shared, view)


def simulate(case: Case, worlds: int, seed: int) -> Counted:
    """Draw worlds, do the laid-out test in each, and count."""
    model = model_of(case)
    design = first_design(model, case.by, TARGET, 1.0)
    random = np.random.default_rng(seed)
    hits, widths = [], []
    for start in range(0, worlds, CHUNK):
        for found, truth in _worlds(
            model, case.by, design.totals, min(CHUNK, worlds - start), random
        ):
            low, high = _interval(model, draws(found, len(model.names), DRAWS, 1))
            if np.isfinite(truth):
                hits.append(low <= truth <= high)
                widths.append(high - low)
    prior = random.standard_normal((4 * DRAWS, len(model.names)))
    low, high = _interval(model, prior)
    return Counted(len(hits), float(np.mean(hits)), float(np.mean(widths)), high - low)


def _worlds(
    model: JarModel, by: str, totals: Array, count: int, random: np.random.Generator
) -> Iterator[tuple[Fit, float]]:
    truth = random.standard_normal((count, len(model.names)))
    single = np.diff(totals, prepend=0.0)
    absolute, relative = model.titrant.each_sd
    each = np.where(single > 0, np.hypot(absolute, relative * single), 0.0)
    added = totals + np.cumsum(each * random.standard_normal((count, len(totals))), axis=-1)
    clean = model.predicted(truth, added)
    noise = (
        np.ones(len(totals)) if by == "colour" else np.full(len(totals), ph_noise(by, TARGET)[0])
    )
    values = clean + random.standard_normal(clean.shape) / model.whitening(clean, noise)
    kind = "lab" if by == "colour" else "ph"
    found = fit(model, Readings(totals, values, kind, noise, model.shared_sd, model.view))
    for k, dose in enumerate(_per_litre(model, truth)):
        one = {
            name: getattr(found, name)[k]
            for name in ("numbers", "covariance", "weights", "expected", "off", "misfit")
        }
        yield Fit(names=found.names, **one), float(dose)


def _per_litre(model: JarModel, numbers: Array) -> Array:
    setting = model.tubs(numbers)
    grams, _, _ = setting.bath.grams_for_ph(TARGET, setting.per_gram)
    return np.asarray(grams / setting.bath.volume_l)


def _interval(model: JarModel, numbers: Array) -> tuple[float, float]:
    low, high = np.nanquantile(_per_litre(model, numbers), (0.05, 0.95))
    return float(low), float(high)


def phreeqc_worlds() -> list[list[dict[str, str]]]:
    """Rows of jar_phreeqc.csv, one list for each jar."""
    lines = Path(__file__).with_name("jar_phreeqc.csv").read_text(encoding="utf-8").splitlines()
    found: dict[str, list[dict[str, str]]] = {}
    for row in csv.DictReader(line for line in lines if not line.startswith("#")):
        found.setdefault(row["world"], []).append(row)
    return list(found.values())


def phreeqc_hit(rows: list[dict[str, str]]) -> bool:
    """Whether the interval of one of PHREEQC's jars holds its true dose per litre."""
    first = rows[0]
    water = WaterReadings(
        alkalinity_meq_l=float(first["alkalinity_read_meq_l"]),
        ph=float(first["ph_read"]),
        hardness_mmol_l=float(first["hardness_read_mmol_l"]),
        instrument="strip",
    )
    tub = RecipeInputs(
        "bare",
        TubInputs(volume_l=100.0, volume_measured=True),
        water,
        38.0,
        None,
        (),
        ActivatorInputs(CITRIC),
        WishInputs(str(TARGET)),
    )
    jar = jar_of(tub, plain=True, litres=1.0, weighed=True, temperature_c=25.0)
    acid = solution(CITRIC, 1.0, made_sd=weighing_sd(WEIGHED["stock"]), same_powder=True)
    added, ph = (np.array([float(row[key]) for row in rows]) for key in ("ml", "read"))
    noise, shared = ph_noise(first["by"], ph)
    model = JarModel(tub, jar, acid, "ph", shared)
    found = fit(model, Readings(added, ph[:, None], "ph", noise, shared))
    low, high = _interval(model, draws(found, len(model.names), DRAWS, 1))
    # PHREEQC counts by the kilogram of water.
    true = float(first["true_dose_g_l"]) * float(water_density_kg_l(38.0))
    return low <= true <= high


def main() -> None:
    """Write the table."""
    from reference_csv import write_csv

    rows = []
    for case in CASES:
        usual = case.water == "evening soak" and case.weighed == "stock"
        counted = simulate(case, WORLDS if usual else FEWER, SEED)
        rows.append(
            {
                "water": case.water,
                "alkalinity_meq_l": case.alkalinity_meq_l,
                "by": case.by,
                "weighed": case.weighed,
                "worlds": counted.worlds,
                "coverage": f"{counted.coverage:.4f}",
                "ratio_to_strip": f"{counted.ratio:.4f}",
            }
        )
        print(rows[-1], flush=True)
    hits: dict[str, list[bool]] = {}
    for jar in phreeqc_worlds():
        hits.setdefault(jar[0]["by"], []).append(phreeqc_hit(jar))
    rows += [
        {
            "water": "phreeqc",
            "alkalinity_meq_l": "",
            "by": by,
            "weighed": "stock",
            "worlds": len(found),
            "coverage": f"{np.mean(found):.4f}",
            "ratio_to_strip": "",
        }
        for by, found in hits.items()
    ]
    write_csv(
        "jar_coverage.csv",
        [
            "Jar tests in worlds drawn from the recipe's own spreads; written by jar_worlds.py.",
            "by: what read the jar (strip and drop kit in plain tap water, colour in a jar of five"
            " times the tub's).  weighed: how the 1 % acid was made on a kitchen scale.",
            "water phreeqc: the jars of jar_phreeqc.csv, whose truth is PHREEQC's.",
            "coverage: of the 90 % interval of the dose per litre.  ratio_to_strip: mean width of"
            " that interval over the one with an alkalinity strip and no jar.",
        ],
        rows,
    )


if __name__ == "__main__":
    main()
