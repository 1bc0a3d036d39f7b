"""The next reading to take: by how much each narrows the dose."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from dosing.bath.inputs import RecipeInputs
from dosing.bath.possible_tubs import ACID_SIDE, ALKALINE_SIDE, Possible
from dosing.bath.spreads import Spreads
from dosing.ingredients.trade_values import reading_spread, typical

MAIN_SHARE = 0.5
"""Of a doubt, from which it is the first to be lessened."""


@dataclass(frozen=True)
class NextStep:
    """A reading that narrows the dose."""

    code: str
    """``"jar-test"``, ``"drop-kit"``, ``"buckets"``, ``"fine-scale"`` or ``"strength"`` (of the
    colour)."""
    now_low_g: float
    """Where the range of the dose that is wished begins as the readings stand [g]."""
    now_high_g: float
    """Where it ends [g]."""
    low_g: float
    """Where it would begin [g]."""
    high_g: float
    """Where it would end [g]."""
    narrows: float
    """Share of the range's width that it takes away, 0 to 1."""


def next_steps(
    inputs: RecipeInputs,
    surer: Mapping[str, Possible],
    ph: float,
    low_g: float,
    high_g: float,
    weighing_share: float = 0.0,
) -> tuple[NextStep, ...]:
    """Readings that would narrow the dose, the one that buys most first.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    surer : mapping of str to Possible
        The possible tubs by each reading of `better_readings`.
    ph : float
        pH to which the dose leads.
    low_g, high_g : float
        Ends of its range as the readings stand [g].
    weighing_share : float
        Share of the scale or spoon in what keeps the pour from being what is needed, 0 to 1.

    Returns
    -------
    tuple of NextStep
        With the range of the dose after each [g], and by what share it narrows.
    """
    steps = []
    for code, possible in surer.items():
        if code == inputs.water.instrument == "jar-test":
            # It was done, as well as it can be.
            continue
        grams = possible.grams_for_ph(ph)
        if not np.isfinite(grams).any():
            continue
        low, high = np.nanquantile(grams, (ACID_SIDE, ALKALINE_SIDE))
        narrows = 1.0 - float(high - low) / max(high_g - low_g, 1e-12)
        steps.append(NextStep(code, low_g, high_g, float(low), float(high), narrows))
    worth = typical("worthwhile_narrowing").value
    # What is needed matters less where the scale keeps the pour off it anyway.
    told = [step for step in steps if step.narrows * (1.0 - weighing_share) >= worth]
    told.sort(key=lambda step: -step.narrows)
    coarse = inputs.activator.weighed_with in ("kitchen-scale", "spoon")
    if coarse and weighing_share >= worth:
        # It narrows what is poured, not what is needed.
        place = 0 if weighing_share >= MAIN_SHARE else len(told)
        told.insert(place, NextStep("fine-scale", low_g, high_g, low_g, high_g, 0.0))
    if any(not colour.strength_measured for colour in inputs.colours):
        told.append(NextStep("strength", low_g, high_g, low_g, high_g, 0.0))
    return tuple(told)


def better_readings(now: Spreads) -> dict[str, Spreads]:
    """Spreads by each reading that would be better than those there are."""
    better = {code: better(now) for code, better in _BETTER.items()}
    return {code: spreads for code, spreads in better.items() if spreads != now}


def _with_jar(now: Spreads) -> Spreads:
    """A jar of this water with this powder tells both at once; the tub's volume stays open."""
    sure = typical("jar_test_relative").value * now.alkalinity_meq_l
    return replace(_read_to(now, sure), purity=0.0)


def _with_drop_kit(now: Spreads) -> Spreads:
    return _read_to(now, finest_kit_sd(now)) if kit_is_finer(now) else now


def finest_kit_sd(now: Spreads) -> float:
    """Standard deviation of the alkalinity by a kit of the finest usual drops [meq/L]."""
    kit = reading_spread("alkalinity", "drop-kit").counted(typical("drop_step").ends[0])
    return float(kit.sd(now.alkalinity_meq_l))


def kit_is_finer(now: Spreads) -> bool:
    """Whether such a kit would tell the alkalinity better than what it was read with."""
    return finest_kit_sd(now) < max(now.alkalinity_sd, now.alkalinity_sd_above)


def _read_to(now: Spreads, sd: float) -> Spreads:
    """The alkalinity read to within a standard deviation, on both sides."""
    return replace(now, alkalinity_sd=min(now.alkalinity_sd, sd), alkalinity_sd_above=0.0)


def _with_buckets(now: Spreads) -> Spreads:
    sure = reading_spread("volume", "measured").sd_relative
    return replace(now, volume=min(now.volume, sure), bathers=0.0)


_BETTER: dict[str, Callable[[Spreads], Spreads]] = {
    "jar-test": _with_jar,
    "drop-kit": _with_drop_kit,
    "buckets": _with_buckets,
}
