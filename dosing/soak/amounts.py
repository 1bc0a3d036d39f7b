"""Masses and gas of a programme as they are printed, so that the numbers of one page add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dosing.ingredients.powders import kitchen_round_g, scale_step
from dosing.soak.stages import Stage

STEPS_G = (1.0, 0.1, 0.01)
"""Of scales, the coarsest first [g]."""
FINE_ENOUGH = 2.0
"""Steps of a scale that the smallest portion has at least."""


@dataclass(frozen=True)
class Printed:
    """Amounts of a step as they are printed."""

    grams: float
    portions_g: tuple[float, ...]
    """They add up to `grams`."""
    total_g: float
    """Of this powder so far: what the steps up to this one have printed."""
    step_g: float
    """The step of the scale to which all of these are rounded."""
    co2_litres: float
    """To tenths."""


def printed(stages: Sequence[Stage]) -> list[Printed]:
    """Every step as it is printed.

    Totals of each powder are rounded, down where a step has nothing to spare, and every mass is the
    difference of two of them: so the tub is never further off than one rounding.
    """
    steps_g = {onwards: _step_g(stages, onwards=onwards) for onwards in (True, False)}
    totals = {True: 0.0, False: 0.0}
    gas = np.cumsum([stage.co2_litres for stage in stages])
    tenths = np.diff(np.round(gas, 1), prepend=0.0)
    shown = []
    for stage, litres in zip(stages, tenths, strict=True):
        step, before = steps_g[stage.onwards], totals[stage.onwards]
        total = rounded_g(stage.total_g, step, up=stage.to_spare) if stage.grams > 0 else before
        total = max(total, before)
        totals[stage.onwards] = total
        portions = _portions(stage, before, total, step)
        shown.append(Printed(total - before, portions, total, step, float(litres)))
    return shown


def _step_g(stages: Sequence[Stage], *, onwards: bool) -> float:
    """One step of a scale for everything that is said of a powder [g]."""
    steps = [1.0]
    for stage in stages:
        if stage.onwards == onwards and stage.grams > 0:
            least = min(stage.portions_g)
            fine = [step for step in STEPS_G if least >= FINE_ENOUGH * step]
            steps += [scale_step(stage.grams), fine[0] if fine else STEPS_G[-1]]
    return min(steps)


def rounded_g(mass_g: float, step: float, *, up: bool) -> float:
    """A mass to the step of a scale [g].

    Parameters
    ----------
    mass_g, step : float
        The mass, and the step [g].
    up : bool
        Whether it may be rounded up; else it is rounded down.

    Returns
    -------
    float
        [g].
    """
    if up:
        return float(kitchen_round_g(mass_g, step))
    return float(np.floor(mass_g / step + 1e-9) * step)


def _portions(stage: Stage, before: float, total: float, step: float) -> tuple[float, ...]:
    exact = stage.total_g - stage.grams + np.cumsum(stage.portions_g)
    marks = np.clip(kitchen_round_g(exact, step), before, total)
    marks[-1] = total
    return tuple(float(portion) for portion in np.diff(marks, prepend=before))
