"""Doubts about a series of readings, and whether a dose may rest on it at all.

One misread step that is set aside leaves an answer. Readings that contradict the recipe, the acid
or one another leave none: then something is wrong that the dose would carry into the tub.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from dosing.bath.inputs import RecipeInputs
from dosing.ingredients.hardness_units import alkalinity_in
from dosing.jar.fit import ENOUGH_TO_JUDGE, Fit, draws, fit
from dosing.jar.learnt import Learnt, learnt_numbers
from dosing.jar.model import LEAST_ALKALINITY, NOT_TURNED, JarModel, Readings, jar_value
from dosing.plan.records import DoseRange
from indicator.notes import Note, Value, say
from indicator.robust_fit import SET_ASIDE_WEIGHT

TOLD = ("alkalinity", "ph", "scale", "offset", "gas")
"""Numbers that a series may contradict."""
OF_PIGMENT = {"strength", "gain", "pka", "height"}
"""Numbers of colours; where one of them contradicts, the colours or where they were read are
wrong."""
FIRST = (
    "never", "soda", "late", "series", "pigment", "offset", "ph", "strength", "scale", "alkalinity",
    "gas",
)  # fmt: skip
"""What is checked in which order: the quickest first, and the acid before the water."""
OTHER_STRENGTH = 2.0
"""How many times as strong, or as weak, an acid of another strength is taken to be."""
LEAST_SHARE = 0.05
"""Of the alkalinity as read, below which a jar told none."""
LITTLE_TOLD = 0.8
"""Share of the width from which a series has told little."""
PASSED_BY = 0.2
"""How near a series must come to the target to have passed it [pH]."""
DRAWS, SEED = 512, 9
"""Of possible waters, in which the count of a twin is foretold."""


@dataclass(frozen=True)
class Doubts:
    """Doubts that a series leaves."""

    worst_step: int | None
    """Number of the reading that disagrees most, where they do not."""
    warnings: tuple[Note, ...]
    check_first: tuple[Note, ...]
    """What to check before anything is poured; empty where the dose may be poured."""


def doubts_of(
    model: JarModel,
    fitted: Fit,
    readings: Readings,
    *,
    by: str,
    target_ph: float,
    per_litre: DoseRange,
    per_litre_before: DoseRange,
) -> Doubts:
    """Doubts about a series.

    Parameters
    ----------
    model : JarModel
        The jar and the tub.
    fitted : Fit
        What the series told.
    readings : Readings
        The series.
    by : str
        What it was read with.
    target_ph : float
        pH that the dose leads to.
    per_litre, per_litre_before : DoseRange
        Dose with and without the series [g/L].

    Returns
    -------
    Doubts
    """
    against = _contradicted(fitted)
    apart = _apart(fitted)
    worst = _worst_step(fitted, readings, against, apart=apart)
    told = learnt_numbers(model, fitted)
    values = _values(model, fitted, told)
    warnings = []
    if worst is not None:
        warnings.append(Note("jar.warn.inconsistent", {"step": worst}, "series"))
    if apart:
        warnings.append(Note("jar.warn.apart", values, "series"))
    warnings += [Note(f"jar.warn.contradicts-{what}", values, "series") for what in against]
    level = told["alkalinity"]
    other = _other_strength(model, fitted, level)
    values["half_or_twice"] = say(f"jar.taken.{other or 'half'}")
    if other is not None:
        warnings.append(Note("jar.warn.other-strength", values, "solution"))
    # What turned by eye has reached its aim, whatever pH that is.
    warnings += [] if by == "turn" else _not_passed(model, fitted, readings, target_ph)
    if _told_little(per_litre, per_litre_before):
        warnings.append(Note("jar.warn.little-told", {}, "series"))
    # Of a water that nobody read anything up to the hardest is possible.
    never = NOT_TURNED in readings.words
    late = by == "turn" and not never and level.best > level.prior_high
    doubted = {
        "never": never, "soda": _soda_in_doubt(model, readings), "late": late,
        "series": apart, "strength": other is not None,
    }  # fmt: skip
    wrong = {*against, *(what for what, is_so in doubted.items() if is_so)}
    check = (Note(f"jar.first.{what}", values, "series") for what in FIRST if what in wrong)
    return Doubts(worst, tuple(warnings), tuple(check))


def _contradicted(fitted: Fit) -> list[str]:
    """Numbers that the fit had to move further than can be believed."""
    far = np.abs(fitted.numbers) > jar_value("contradicts")
    moved = {name[0] for name, beyond in zip(fitted.names, far, strict=True) if beyond}
    return [*(what for what in TOLD if what in moved), *(["pigment"] * bool(moved & OF_PIGMENT))]


def _other_strength(model: JarModel, fitted: Fit, level: Learnt) -> str | None:
    """``"half"`` or ``"twice"`` where acid of such a strength explains a series far better.

    A series tells alkalinity over strength of the acid, and nothing of the two apart. So what it
    moved them by, in squares of standard deviations, is held against what would be left to move
    with acid of the other strength; ``other_strength`` of ``jar_test.csv`` is how much better that
    must be. Without alkalinity it tells the acid alone.
    """
    if model.titrant.unit != "mL" or model.alkalinity <= LEAST_ALKALINITY:
        return None
    spreads = {
        "alkalinity": model.alkalinity_sd / max(model.alkalinity, model.alkalinity_sd),
        "scale": -model.scale_sd,
        "purity": -model.purity_sd,
    }
    moved = {
        name[0]: float(number)
        for name, number in zip(fitted.names, fitted.numbers, strict=True)
        if name[0] in spreads
    }
    apart = sum(spreads[what] * by for what, by in moved.items() if what != "alkalinity")
    apart += float(np.log(max(level.best, LEAST_SHARE * level.prior_best) / level.prior_best))
    left = (abs(apart) - np.log(OTHER_STRENGTH)) ** 2 / sum(sd**2 for sd in spreads.values())
    if sum(by**2 for by in moved.values()) - left <= jar_value("other_strength"):
        return None
    return "half" if apart > 0 else "twice"


def _apart(fitted: Fit) -> bool:
    """Whether the readings contradict one another beyond one that can be left out."""
    aside = int((fitted.weights < SET_ASIDE_WEIGHT).sum())
    too_few = aside == 1 and fitted.weights.size < ENOUGH_TO_JUDGE
    return aside > 1 or too_few or float(fitted.misfit) > jar_value("most_scatter")


def _worst_step(fitted: Fit, readings: Readings, against: list[str], *, apart: bool) -> int | None:
    """Number of the reading that agrees least, where the readings do not agree."""
    if apart or (fitted.weights < SET_ASIDE_WEIGHT).any():
        return int(np.argmax(fitted.off)) + 1
    # The tap's own pH is felt by the reading without acid alone.
    return 1 if "ph" in against and readings.added[0] == 0 else None


def _values(model: JarModel, fitted: Fit, told: Mapping[str, Learnt]) -> dict[str, Value]:
    """What the sentences quote."""
    level = told["alkalinity"]
    read: dict[str, Value] = {"read": float(alkalinity_in(level.prior_best, "ppm"))}
    how = "read" if alkalinity_was_read(model.tub) else "assumed"
    return read | {
        "best": float(alkalinity_in(level.best, "ppm")),
        "taken": say(f"jar.taken.{how}", read),
        "factor": told["scale"].best,
        "times": float(fitted.misfit),
    }


def alkalinity_was_read(inputs: RecipeInputs) -> bool:
    """Whether somebody read this water's alkalinity, rather than taking what is usual."""
    water = inputs.water
    if water.instrument == "typical":
        return False
    return water.alkalinity_meq_l is not None or water.carbonate_hardness_meq_l is not None


def _not_passed(model: JarModel, fitted: Fit, readings: Readings, target_ph: float) -> list[Note]:
    if len(readings.added) < jar_value("least_readings"):
        return []
    ph = model.jar_ph(fitted.of_model, readings.added)
    low, high = float(ph.min()), float(ph.max())
    if low - PASSED_BY <= target_ph <= high + PASSED_BY:
        return []
    values: dict[str, Value] = {"target": target_ph, "low": low, "high": high}
    return [Note("jar.warn.target-not-passed", values, "series")]


def _told_little(per_litre: DoseRange, before: DoseRange) -> bool:
    """Whether a dose is hardly surer with the series, neither in grams nor for its own size."""
    most = LITTLE_TOLD * max(1.0, per_litre.best / max(before.best, 1e-9))
    return per_litre.high - per_litre.low > most * (before.high - before.low)


def _soda_in_doubt(model: JarModel, readings: Readings) -> bool:
    """Whether the count of a twin is likelier without its soda than with it.

    The count of the first jug tells which waters are possible, and each of them between which
    spoons the twin then looks the same.
    """
    from scipy.special import ndtr

    if model.soda is None:
        return False
    first_alone = replace(readings, noise=np.array([readings.noise[0], np.inf]))
    waters = draws(fit(model, first_alone), DRAWS, SEED)

    def likelihood(twin: JarModel) -> float:
        spoon = readings.added + np.array([[0.0, -0.5], [0.0, 0.5]])
        ph = twin.predicted(waters[:, None], spoon)[..., 1, 0]
        matched = ndtr((readings.values[1] - ph) / readings.noise[1])
        return float(np.abs(np.diff(matched)).mean())

    bare = copy(model)
    bare.soda = replace(model.soda, moles=0.0 * model.soda.moles, water_kg=np.zeros(2))
    return likelihood(bare) > jar_value("soda_doubt") * likelihood(model)
