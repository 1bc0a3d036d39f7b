"""Which additions teach most: readings chosen one by one, by what each is expected to tell.

For a number of waters that agree with what is known so far, the solver tells how every reading
would move with every unknown; of all totals that could be added, the one is taken that narrows the
dose most on average, then the next beside it, and so on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from dosing.jar.fit import STEP, antithetic_normals
from dosing.jar.kit import finest_step
from dosing.jar.model import JarModel, jar_value, kind_read, ph_noise

Array = NDArray[np.float64]
SEED = 71
LEAST_G_PER_MEQ = 2e-3
"""Grams of any activator for a thousandth equivalent: less than a thirtieth of what any takes."""
RANGE, GRID = 1e4, 160
"""How far beyond, and in how many steps, an addition is looked for."""


@dataclass(frozen=True)
class Additions:
    """Totals at which to read."""

    totals: Array
    """In the jar at each reading, rising, shape (readings,) [unit of the titrant]."""
    share_of_width: float
    """Expected width of the dose's interval with them over that without, at most 1."""


def first_additions(
    model: JarModel,
    by: str,
    ph: float,
    step: float | None = None,
    *,
    readings: int | None = None,
    beyond: float | None = None,
) -> Additions:
    """The readings of a whole test, the jar without any acid the first.

    Parameters
    ----------
    model : JarModel
        The jar as the recipe has it.
    by : str
        What is read, of `dosing.jar.kit.BY`.
    ph : float
        pH at which the dose is to be known.
    step : float, optional
        What the tool that adds can tell [unit of the titrant]; that of the kitchen's if not given.
    readings : int, optional
        How many there are; those of the printed instructions if not given.
    beyond : float, optional
        Dose of the target up to which additions are tried; that of the instructions if not given.

    Returns
    -------
    Additions
    """
    count = len(model.names)
    worlds = antithetic_normals(_worlds(count), count, SEED)
    if step is None:
        step = finest_step(model.titrant, units_to_ph(model, ph))
    if readings is None:
        readings = int(jar_value(f"readings_by_{by}"))
    totals = np.concatenate([[0.0], _places(model, ph, step, beyond)])
    towards = _dose_slopes(model, worlds, ph)
    information = np.eye(count) + np.zeros((len(worlds), 1, 1))
    before = _width(information, towards)
    told = _told_by(model, by, worlds, totals, readings)
    chosen, information = [0], information + told[:, 0]
    passed = totals >= units_to_ph(model, ph)
    for left in reversed(range(min(readings, len(totals)) - 1)):
        # A test that stops before the target leaves the dose to a guess.
        must_pass = left == 0 and not passed[chosen].any()
        widths = [
            np.inf
            if k in chosen or (must_pass and not passed[k])
            else _width(information + told[:, k], towards)
            for k in range(len(totals))
        ]
        chosen.append(int(np.argmin(widths)))
        information = information + told[:, chosen[-1]]
    share = _width(information, towards) / max(before, 1e-12)
    return Additions(totals[np.sort(chosen)], min(share, 1.0))


def _places(model: JarModel, ph: float, step: float, beyond: float | None) -> Array:
    """Totals to choose from: close together around the target, wider apart beyond."""
    aim = units_to_ph(model, ph)
    most = (jar_value("beyond_target") if beyond is None else beyond) * aim
    half = int(jar_value("places")) // 2
    near = np.linspace(0.0, 1.5 * aim, half + 1)[1:]
    far = np.geomspace(1.5 * aim, most, half + 1)[1:]
    return np.unique(np.maximum(np.round(np.concatenate([near, far]) / step), 1.0) * step)


def units_to_ph(model: JarModel, ph: float) -> float:
    """Titrant that takes the jar to a pH [unit of the titrant]; the most tried if none does.

    Parameters
    ----------
    model : JarModel
        The jar.
    ph : float
        The wished pH.

    Returns
    -------
    float
        By the recipe as it is read.
    """
    grams = float(model.alkalinity_meq_l(model.as_read)) * model.jar.litres * LEAST_G_PER_MEQ
    start = grams / model.titrant.grams_per_unit
    totals = np.concatenate([[0.0], np.geomspace(start, RANGE * start, GRID)])
    ph_along = model.jar_ph(model.as_read, totals)
    falling = 1.0 if ph_along[-1] < ph_along[0] else -1.0
    past = np.flatnonzero(falling * (ph_along - ph) <= 0)
    if not len(past):
        return float(totals[-1])
    if past[0] == 0:
        return float(totals[1])
    above, below = past[0] - 1, past[0]
    share = (ph_along[above] - ph) / (ph_along[above] - ph_along[below])
    return float(totals[above] + share * (totals[below] - totals[above]))


def _worlds(numbers: int) -> int:
    """How many waters are looked at: more than there are unknowns."""
    return max(int(jar_value("worlds")), 2 * numbers + 2)


def _told_by(model: JarModel, by: str, worlds: Array, totals: Array, count: int) -> Array:
    """Information of one of `count` readings at each total.

    Its shape is (worlds, totals, numbers, numbers).
    """
    readings = model.predicted(_nudged(worlds), totals)
    here, slopes = readings[:, 0], (readings[:, 1:] - readings[:, :1]) / STEP
    # The error of an addition is taken as one of its reading, as though each were alone.
    nudge = 1e-3 * max(float(totals.max()), 1e-6)
    along = (model.predicted(worlds, totals + nudge) - here) / nudge
    absolute, relative = model.titrant.each_sd
    added_sd = np.hypot(absolute, relative * totals / np.sqrt(count))
    white = model.whitening(here, _noise_at(by, here))
    # Per world and total: values by numbers, whitened with the error of the addition.
    design = (slopes * white[:, None]).transpose(0, 2, 1, 3)
    off = (along * white * added_sd[:, None])[..., None]
    told = design @ design.swapaxes(-1, -2)
    cross = design @ off
    shrink = 1.0 + (off**2).sum(axis=(-2, -1), keepdims=True)
    return np.asarray(told - cross @ cross.swapaxes(-1, -2) / shrink)


def _nudged(worlds: Array) -> Array:
    """Every world, then with each number moved a little: (worlds, 1 + numbers, numbers)."""
    count = worlds.shape[-1]
    moves = np.concatenate([np.zeros((1, count)), np.eye(count)])
    return np.asarray(worlds[:, None] + STEP * moves)


def _noise_at(by: str, values: Array) -> Array:
    """Standard deviation of the pH readings of a laid-out test, shape (totals,); 0 of colours."""
    if kind_read(by) != "ph":
        # A colour has its own error; a word stands for a single number, within about 1 pH.
        return np.full(values.shape[-2], float(values.shape[-1] == 1))
    return np.broadcast_to(ph_noise(by, 7.0)[0], values.shape[-2:-1])


def _dose_slopes(model: JarModel, worlds: Array, ph: float) -> Array:
    """Slopes of the logarithm of the dose with every number, shape (worlds, numbers)."""
    with np.errstate(invalid="ignore", divide="ignore"):
        logs = np.log(model.grams_for_ph(_nudged(worlds), ph))
    # A world that lies beyond the target already needs nothing and tells nothing of the dose.
    return np.nan_to_num((logs[:, 1:] - logs[:, :1]) / STEP, posinf=0.0, neginf=0.0)


def _width(information: Array, towards: Array) -> float:
    """Mean standard deviation of the logarithm of the dose over the worlds."""
    solved = np.linalg.solve(information, towards[..., None])[..., 0]
    return float(np.mean(np.sqrt(np.maximum((towards * solved).sum(axis=-1), 0.0))))
