"""Spreads of the readings of a recipe, by the instruments that they were taken with."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from dosing.bath.assembled import hardness_open, sour_meq, water_l
from dosing.bath.inputs import ColourInputs, RecipeInputs, TubInputs
from dosing.equilibrium import Array
from dosing.ingredients.own_acid import own_acid
from dosing.ingredients.powders import Blend, powder
from dosing.ingredients.trade_values import (
    NINE_IN_TEN,
    Instrument,
    instruments,
    reading_spread,
    typical,
)
from dosing.ingredients.tub import displacement_l, displacement_sd_l
from dosing.ingredients.water import WaterReadings, tap_water

LEAST_HARDNESS = 0.05
"""Of a reading that is told apart from none [mmol/L]."""


@dataclass(frozen=True)
class Spreads:
    """Errors of the readings of a recipe."""

    alkalinity_meq_l: float
    """As read or assumed."""
    alkalinity_sd: float
    """Standard deviation [meq/L]."""
    volume: float
    """Relative standard deviation, as the next two; with bathers in it, of water and bathers."""
    purity: float
    pigment: float
    tap_ph: float = 0.0
    """Standard deviation of the tap water's pH."""
    constants: float = 0.0
    """Relative standard deviation of a dose by the constants of equilibrium."""
    hardness: float = 0.0
    """Relative standard deviation, as read or as it goes with the alkalinity."""
    alkalinity_sd_above: float = 0.0
    """Of an alkalinity above the reading, where that is more than below it [meq/L]."""
    bathers: float = 0.0
    """What bathers displaced in the reading, over the water without them."""

    def alkalinity(self, normal: ArrayLike) -> Array:
        """Alkalinity that many standard deviations from the reading, folded at nothing [meq/L]."""
        moved = np.asarray(normal, dtype=np.float64)
        above = max(self.alkalinity_sd, self.alkalinity_sd_above)
        sd = np.where(moved > 0, above, self.alkalinity_sd)
        return np.asarray(np.abs(self.alkalinity_meq_l + sd * moved))


def reading_spreads(inputs: RecipeInputs) -> Spreads:
    """The spreads of a recipe's readings, by the instruments they were taken with."""
    level, below, above = alkalinity_reading(inputs)
    constants = typical("constants_relative").value
    return Spreads(
        level,
        below,
        *relative_spreads(inputs),
        _tap_ph(inputs),
        constants,
        _hardness(inputs.water),
        above,
        _volume(inputs.tub)[1],
    )


def alkalinity_reading(inputs: RecipeInputs) -> tuple[float, float, float]:
    """Alkalinity as read or assumed, and its standard deviations below and above [meq/L]."""
    readings = inputs.water
    if readings.alkalinity_meq_l is not None or readings.carbonate_hardness_meq_l is not None:
        instrument = readings.instrument or "strip"
    elif readings.hardness_mmol_l is not None or readings.calcium_mmol_l is not None:
        instrument = "from-hardness"
    else:
        instrument = "unknown"
    level = float(np.asarray(tap_water(readings).alkalinity_meq_l))
    spread = reading_spread("alkalinity", instrument)
    if readings.drop_step_meq_l is not None:
        spread = spread.counted(readings.drop_step_meq_l)
    below, above = spread.sides(level, readings.thinned)
    low, high = readings.alkalinity_low_meq_l, readings.alkalinity_high_meq_l
    if low is not None and high is not None:
        # A jar test says itself how sure it is, but none is surer than the best.
        least = float(reading_spread("alkalinity", "jar-test").sd(level))
        sd = max((level - low) / NINE_IN_TEN, (high - level) / NINE_IN_TEN, least)
        return level, sd, sd
    # Strips of carbonate hardness have other steps.
    whole = readings.alkalinity_meq_l is not None
    return level, float(below), float(above if whole else below)


def relative_spreads(inputs: RecipeInputs) -> tuple[float, float, float]:
    """Relative standard deviations of volume, activator purity and pigment strength."""
    return (_volume(inputs.tub)[0], _purity(inputs), _pigment(inputs))


def _tap_ph(inputs: RecipeInputs) -> float:
    """Standard deviation of the tap water's pH, by what read it or by what is usual."""
    if inputs.water.ph is None:
        return reading_spread("ph", "typical").sd_absolute
    return _beside_alkalinity("ph", inputs.water).sd_absolute


def _hardness(readings: WaterReadings) -> float:
    """Relative standard deviation of the hardness, by what read it or what usually goes along."""
    if not hardness_open(readings):
        return 0.0
    if readings.hardness_mmol_l is None:
        low, high = typical("alkalinity_share_of_hardness").ends
        return float(np.log(high / low)) / NINE_IN_TEN
    level = float(np.mean(np.asarray(readings.hardness_mmol_l)))
    spread = _beside_alkalinity("hardness", readings)
    return float(spread.sd(level)) / max(level, LEAST_HARDNESS)


def _beside_alkalinity(quantity: str, readings: WaterReadings) -> Instrument:
    """Error of a quantity by what read the alkalinity; a strip's where that does not read it."""
    known = readings.instrument in instruments(quantity)
    return reading_spread(quantity, str(readings.instrument) if known else "strip")


def _volume(tub: TubInputs) -> tuple[float, float]:
    """Relative spread of water and bathers, and what these displace over the water alone."""
    if tub.volume_measured:
        instrument = "measured"
    elif tub.volume_l is not None:
        instrument = "by-eye"
    else:
        instrument = "typical" if tub.fill_cm is None else "dimensions"
    read = reading_spread("volume", instrument).sd_relative
    bathers = tub.adults_in_tub, tub.children_in_tub
    if not any(bathers):
        return read, 0.0
    water, taken = water_l(tub), float(displacement_l(*bathers))
    return float(np.hypot(read, displacement_sd_l(*bathers) / (water + taken))), taken / water


def _purity(inputs: RecipeInputs) -> float:
    parts = Blend(inputs.activator.parts).parts
    off = (share * powder(name).purity_sd for name, share in parts.items())
    return math.hypot(inputs.activator.parts_spread, *off)


def _pigment(inputs: RecipeInputs) -> float:
    measured = reading_spread("pigment_strength", "measured").sd_relative
    return max([measured, *(strength_sd(colour) for colour in inputs.colours)])


def own_acid_sd(inputs: RecipeInputs) -> float:
    """Relative standard deviation of the acid that all infusions bring together."""
    brought = sour_meq(inputs)
    whole = sum(brought.values())
    if whole <= 0:
        return 0.0
    return sum(meq * own_acid(which).relative_sd for which, meq in brought.items()) / whole


def strength_sd(colour: ColourInputs) -> float:
    """Relative standard deviation of a colour's strength, by how it was found."""
    if colour.strength_sd is not None:
        return colour.strength_sd
    if colour.strength_measured:
        return reading_spread("pigment_strength", "measured").sd_relative
    return colour.colourant.strength_sd
