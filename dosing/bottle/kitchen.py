"""Kitchen solutions of known pH: what two powders and distilled water give, and how surely.

For makers without a pH meter who calibrate a pigment: citric acid with baking soda up to pH 6, two
sodas from pH 8.5. What hands, powders, warmth and infusion may change is drawn, and so is the gas.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dosing.bath.draws import between, log_normal, normal_numbers
from dosing.equilibrium import Array, Equilibrium, dissolved_co2, solve
from dosing.ingredients.molar_mass import molar_mass
from dosing.ingredients.own_acid import OwnAcid, own_acid
from dosing.ingredients.powders import per_gram, powder
from dosing.ingredients.sums import added
from dosing.ingredients.trade_values import reading_spread, typical
from indicator.colourants import Colourant, Range
from indicator.tables import Number, Sourced, number_of, read_table, value_of

NUMBERS = "trade/kitchen.csv"
POWDERS = {
    "citric_acid": "citric-acid-anhydrous",
    "baking_soda": "sodium-bicarbonate",
    "washing_soda": "sodium-carbonate",
}
"""Powder of each stock solution."""
DRAWS, SEED = 256, 16
SIDES = (0.05, 0.95)
SCALE = "kitchen-scale"
G_PER_KG, PPM = 1000.0, 1e6


@dataclass(frozen=True, kw_only=True)
class KitchenMixture(Sourced):
    """Solution of known pH as it is mixed: a row of ``data/trade/kitchen_mixtures.csv``."""

    place: int
    """On the photo mat, from 1."""
    citric_acid_g: float
    """Of the solution of citric acid [g]."""
    baking_soda_g: float
    """Of the solution of baking soda [g]."""
    washing_soda_g: float
    """Of the solution of washing soda [g]."""
    water_g: float
    """Distilled water [g]."""


@dataclass(frozen=True)
class KitchenGlass:
    """A glass of a kitchen solution with some infusion in it."""

    mixture: KitchenMixture
    ph: Range
    """As it is photographed."""
    ph_closed: float
    """With all the gas that the powders bring still in it."""
    ph_open_air: float
    """At rest with the air of a room, days later."""


@dataclass(frozen=True, kw_only=True)
class MeterGlass(Sourced):
    """Glass of a solution whose pH a meter tells: a row of ``data/trade/meter_glasses.csv``."""

    place: int
    """On the photo mat, from 1."""
    ph: float
    diluted: float
    """Times that the infusion is thinned in it."""


@dataclass(frozen=True)
class Kitchen:
    """Kitchen solutions for the places of the photo mat."""

    citric_acid_g_per_kg: float
    """Citric acid in a kilogram of distilled water [g]."""
    baking_soda_g_per_kg: float
    """Baking soda in the same [g]."""
    washing_soda_g_per_kg: float
    """Water-free washing soda in the same [g]."""
    glass_mixture_g: float
    """Of each mixture in its glass [g]."""
    glass_infusion_g: float
    """Thinned infusion in each glass [g]."""
    infusion_thinned: float
    """Times that the infusion is thinned before, so that its blue lets red light through."""
    oven_c: float
    """At which baking soda turns into water-free washing soda [°C]."""
    oven_minutes: float
    """For how long [min]."""
    oven_left: float
    """What is left of its mass, 0 to 1."""
    glasses: tuple[KitchenGlass, ...]
    """By their places."""
    meter_glasses: tuple[MeterGlass, ...]
    """What tells most where a pH meter is at hand."""

    @property
    def thinned(self) -> float:
        """Times that the infusion is thinned in a glass."""
        in_glass = (self.glass_mixture_g + self.glass_infusion_g) / self.glass_infusion_g
        return in_glass * self.infusion_thinned


def kitchen_solutions(which: Colourant | None = None) -> Kitchen:
    """Kitchen solutions with the pH that each glass has, from the engine.

    Parameters
    ----------
    which : Colourant, optional
        Pigment of the infusion, for the acid that it brings; one like most if not given.

    Returns
    -------
    Kitchen
    """
    mixtures = read_table("trade/kitchen_mixtures.csv", KitchenMixture)
    # First the jar as it is meant, then those that hands may make of it.
    normal = np.pad(normal_numbers(DRAWS, 11, SEED).T, ((0, 0), (1, 0)))
    totals = _totals(mixtures, own_acid(which), normal)
    celsius = between(_number("temperature"), normal[7], float)
    closed = solve(totals, celsius)
    as_meant = {name: total[:, 0] for name, total in totals.items()}
    aired = solve(as_meant, celsius[0], pco2_ppm=typical("room_air_co2").value)
    ph = _ph_with_gas(closed, normal[8]) + _value("model") * normal[9]
    low, high = np.quantile(ph[:, 1:], SIDES, axis=1)
    return Kitchen(
        **{f"{stock}_g_per_kg": _value(f"{stock}_per_kg") for stock in POWDERS},
        glass_mixture_g=_value("glass_mixture"),
        glass_infusion_g=_value("glass_infusion"),
        infusion_thinned=_value("infusion_thinned"),
        oven_c=_value("oven_c"),
        oven_minutes=_value("oven_minutes"),
        oven_left=molar_mass("Na2CO3") / (2.0 * molar_mass("NaHCO3")),
        glasses=tuple(
            KitchenGlass(mixture, Range(*map(float, numbers[:3])), *map(float, numbers[3:]))
            for mixture, *numbers in zip(
                mixtures, ph[:, 0], low, high, closed.ph[:, 0], aired.ph, strict=True
            )
        ),
        meter_glasses=tuple(read_table("trade/meter_glasses.csv", MeterGlass)),
    )


def _totals(mixtures: Sequence[KitchenMixture], acid: OwnAcid, normal: Array) -> dict[str, Array]:
    """Totals of the glasses [mol/kg], shape (glasses, draws)."""
    scale = reading_spread("mass", SCALE)
    water_g = np.array([[mixture.water_g] for mixture in mixtures])
    jar_g, brought = water_g, []
    for place, (stock, name) in enumerate(POWDERS.items()):
        poured_g = np.array([[vars(mixture)[f"{stock}_g"]] for mixture in mixtures])
        per_kg = _value(f"{stock}_per_kg")
        spread = float(np.hypot(scale.sd(per_kg) / per_kg, powder(name).purity_sd))
        content = per_kg * log_normal(spread, normal[place]) / (G_PER_KG + per_kg)
        powder_g = content * np.maximum(scale.around(poured_g, normal[3 + place]), 0.0)
        powder_g = np.where(poured_g > 0, powder_g, 0.0)
        brought.append({key: powder_g * moles for key, moles in per_gram(name).items()})
        water_g = water_g + poured_g * G_PER_KG / (G_PER_KG + per_kg)
        jar_g = jar_g + poured_g
    share, infusion_g = _value("glass_mixture") / jar_g, _value("glass_infusion")
    water_kg = (share * water_g + infusion_g) / G_PER_KG
    meq = np.maximum(acid.meq_per_g * (1.0 + acid.relative_sd * normal[6]), 0.0)
    petals_g = np.exp(between(_number("petals"), normal[10], np.log)) / 100.0 * infusion_g
    petals_g = petals_g / _value("infusion_thinned")
    sour = {"anion": meq * petals_g / 1000.0 / water_kg}
    mixed = {name: total * share / water_kg for name, total in added(brought).items()}
    return mixed | sour


def _ph_with_gas(closed: Equilibrium, normal: Array) -> Array:
    """PH with the gas that the glasses still hold, shape (glasses, draws).

    Gas that comes at more than the pressure of the air bubbles out, and what is left by the time of
    the photograph depends on the stirring; of a mixture that does not fizz a little is lost.
    """
    totals, celsius = closed.totals, closed.temperature_c
    free = closed.molality["CO2"]
    fizzes = free[:, :1] > dissolved_co2(PPM, celsius[:, :1])
    left_ppm = np.minimum(np.exp(between(_number("fizzed_ppm"), normal, np.log)), PPM)
    lost = np.exp(between(_number("gas_lost"), normal, np.log)) * free
    still = {**totals, "C": np.maximum(totals["C"] - lost, 0.0)}
    return np.where(fizzes, solve(totals, celsius, pco2_ppm=left_ppm).ph, solve(still, celsius).ph)


def _number(name: str) -> Number:
    return number_of(NUMBERS, name)


def _value(name: str) -> float:
    return value_of(NUMBERS, name)
