"""The model of a jar test: what is expected of the jar, and of the tub that it stands for.

What the recipe's readings allow is where it starts. The water's alkalinity and pH, the powder, the
foam bath, the gas that leaves while stirring, the scale of the additions, the instrument's own
offset and, where colours are noted, the pigment are all uncertain at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.bath.assembled import Setting, Truth, assemble
from dosing.bath.inputs import FoamBathInputs, RecipeInputs
from dosing.bath.mixed import surfactant_pka
from dosing.bath.spreads import reading_spreads
from dosing.equilibrium import dissolved_co2, solve, water_density_kg_l
from dosing.ingredients.powders import Parts, per_gram, spoons
from dosing.ingredients.product import foam_bath_totals
from dosing.ingredients.trade_values import NINE_IN_TEN, reading_spread, typical
from indicator.absorbance import mixture_absorbance
from indicator.appearance import photographed_lab
from indicator.colourants import Colourant
from indicator.named_numbers import Name, NamedNumbers, felt_constants, pigment_numbers, plain
from indicator.optics import View
from indicator.spread import ReadingError, reading_error
from indicator.tables import NINE_IN_TEN_SD, number_of, value_of

Array = NDArray[np.float64]
TABLE = "trade/jar_test.csv"
COLOUR_KINDS = {"colour": "hex", "photograph": "photograph"}
"""What reads the jar's own colour, and by which row of its errors."""
FELT_PH = (2.5, 9.7)
"""Constants of a pigment outside are not felt in a jar test."""
SODA = "sodium-bicarbonate"
NOT_TURNED = "not turned"
"""What is read of a jar that kept its colour whatever acid it had."""
LEAST_ALKALINITY = 1e-3
"""Of a water in the fit [meq/L]; nothing at all has no logarithm of a dose."""


def jar_value(name: str) -> float:
    """Value of one row of ``data/trade/jar_test.csv``."""
    return value_of(TABLE, name)


@dataclass(frozen=True)
class Jar:
    """The sample: a part of the bath, or of its tap water alone."""

    inputs: RecipeInputs
    """The recipe with only what is in the jar."""
    litres: float
    """Sample before any addition [L]."""
    sd: float
    """Relative standard deviation of `litres`."""
    temperature_c: float
    """[°C]."""


@dataclass(frozen=True)
class Titrant:
    """Titrant by its unit: a mL of solution, a drop, a pinch or a gram of powder."""

    unit: str
    """Of `dosing.jar.kit.UNITS`."""
    grams_per_unit: float
    """Powder in one unit [g]; 0 for a titrant that is no powder of the shelf."""
    mol_per_unit: Mapping[str, float]
    """Component to amount in one unit [mol]."""
    water_kg_per_unit: float
    """Water that one unit brings [kg]."""
    scale_sd: float
    """Relative standard deviation that all additions share."""
    each_sd: tuple[float, float]
    """Standard deviation of a single addition: absolute [unit], relative."""
    same_powder: bool = True
    """Whether it is the powder that the tub gets, so that its purity is the same."""
    of_tap: bool = False
    """Whether its water is that of the jar, so that it thins nothing."""


@dataclass(frozen=True)
class Readings:
    """A series: what was added in all, and what was read then."""

    added: Array
    """Total in the jar at each reading, rising, shape (steps,) [unit of the titrant]."""
    values: Array
    """Shape (..., steps, 1) of pH, or (..., steps, 3) of CIELAB; leading axes are other jars."""
    kind: str
    """``"ph"``, ``"hex"`` or ``"photograph"``."""
    noise: Array
    """Standard deviation of each pH, or what widens a colour beyond its kind, shape (steps,)."""
    shared_sd: float
    """Standard deviation of the pH by which all readings are off together."""
    view: View | None = None
    """How the colours were seen."""
    words: tuple[str, ...] = ()
    """Colour words that the pH values stand for; empty where pH was read."""
    soda: tuple[float, ...] = ()
    """Spoonfuls of soda solution in each of several jars of the same water [tablespoons]; empty
    where all readings are of one jar."""


def kind_read(by: str) -> str:
    """Kind of the readings that something gives: ``"ph"``, ``"hex"`` or ``"photograph"``."""
    return COLOUR_KINDS.get(by, "ph")


def ph_noise(by: str, ph: ArrayLike) -> tuple[Array, float]:
    """Standard deviations of pH readings: of each, and by which all are off together.

    Parameters
    ----------
    by : str
        ``"meter"``, ``"drop-kit"`` or ``"strip"``.
    ph : array_like
        The readings [pH], any shape.

    Returns
    -------
    tuple of numpy.ndarray and float
        Shape as `ph`, and one number.
    """
    spread = reading_spread("ph", by).sd(ph)
    shared = jar_value(f"shared_{by}")
    own = np.hypot(np.sqrt(1.0 - shared) * spread, jar_value("model_ph"))
    return np.asarray(own), float(np.sqrt(shared) * np.max(spread))


@dataclass(frozen=True)
class _Soda:
    """Baking soda in jars of the same water: what it adds to their alkalinity is known."""

    moles: Array
    """In each jar [mol], shape (jars,)."""
    water_kg: Array
    """Tap water that comes with it [kg], shape (jars,)."""
    sd: float
    """Relative standard deviation of the moles, which all jars share."""

    @classmethod
    def in_jars(cls, tablespoons: tuple[float, ...]) -> _Soda:
        """Tablespoons of a solution of a level teaspoon of baking soda in a litre of tap water."""
        spoon_l = typical("teaspoon_us").value / 1000.0
        grams = 1.0 / spoons(SODA, 1.0).teaspoons
        litres = spoon_l * typical("teaspoons_per_tablespoon").value * np.array(tablespoons)
        moles = litres * grams * float(per_gram(SODA)["Na"])
        return cls(moles, litres, spooned_sd({SODA: 1.0}))


def spooned_sd(parts: Parts) -> float:
    """Relative standard deviation of powder in a solution by the spoon, counted by the spoon.

    How loosely it may lie, how level a spoon is filled, and the spoon itself, which counts twice.
    """
    lies = spoons(parts, 1.0)
    loose = np.log(lies.teaspoons_high / lies.teaspoons_low) / NINE_IN_TEN
    return float(np.linalg.norm([loose, jar_value("level"), 2.0 * jar_value("tsp_scale")]))


class JarModel(NamedNumbers):
    """Model of a jar, and of the tub that it stands for.

    Numbers are counted in standard deviations from what the recipe's readings say, so that 0 is
    the recipe itself and every number is expected within about ±1.
    """

    def __init__(
        self,
        tub: RecipeInputs,
        jar: Jar,
        titrant: Titrant,
        kind: str,
        shared_sd: float,
        view: View | None = None,
        *,
        blind: bool = False,
        soda: tuple[float, ...] = (),
    ) -> None:
        self.tub, self.jar, self.titrant, self.kind, self.view = tub, jar, titrant, kind, view
        spreads = reading_spreads(tub)
        self.alkalinity = spreads.alkalinity_meq_l
        self.alkalinity_sd = max(spreads.alkalinity_sd, spreads.alkalinity_sd_above)
        if blind:
            # Of a water that nobody read hardly anything is expected.
            self.alkalinity_sd = jar_value("blind_alkalinity_sd")
        self.ph_sd, self.hardness_sd = spreads.tap_ph, spreads.hardness
        self.purity_sd, self.strength_sd = spreads.purity, spreads.pigment
        self.scale_sd = float(np.hypot(titrant.scale_sd, jar.sd))
        self.product_sd = _product_sd(tub)
        self.shared_sd = shared_sd
        self.soda = _Soda.in_jars(soda) if soda else None
        gas = number_of(TABLE, "gas_lost")
        low, best, high = (_logit(x) for x in (gas.low or 0.0, gas.value, gas.high or 1.0))
        self.gas, self.gas_sd = best, (high - low) / (2 * NINE_IN_TEN_SD)
        self.colour_error: ReadingError | None = None if kind == "ph" else reading_error(kind)
        self.pigments = () if kind == "ph" else _pigments(jar.inputs)
        super().__init__(self._spreads())
        self.as_read = np.zeros(len(self.names))
        """The recipe as its readings have it."""
        self._air = float(dissolved_co2(typical("room_air_co2").value, jar.temperature_c))

    def _spreads(self) -> dict[Name, float]:
        """Every number with its standard deviation, as a logarithm where it is a factor."""
        spreads = {
            "alkalinity": self.alkalinity_sd, "ph": self.ph_sd, "hardness": self.hardness_sd,
            "scale": self.scale_sd, "purity": self.purity_sd, "product": self.product_sd,
            "gas": self.gas_sd, "offset": self.shared_sd,
        }  # fmt: skip
        if self.tub.foam_bath is None:
            del spreads["product"]
        if self.soda is not None:
            spreads["soda"] = self.soda.sd
        if self.colour_error is None:
            return {plain(what): sd for what, sd in spreads.items()}
        del spreads["offset"]
        spreads |= {"strength": self.strength_sd, "gain": self.colour_error.gain_sd}
        numbers = {plain(what): sd for what, sd in spreads.items()}
        for which in self.pigments:
            numbers |= pigment_numbers(which, felt_constants(which, *FELT_PH), True)
        return numbers

    def alkalinity_meq_l(self, numbers: Array) -> Array:
        """Alkalinity of the water [meq/L]; folded at nothing, as in `possible_tubs`."""
        level = self.alkalinity + self.move(numbers, "alkalinity")
        return np.maximum(np.abs(level), LEAST_ALKALINITY)

    def _setting(
        self,
        inputs: RecipeInputs,
        numbers: Array,
        volume: ArrayLike = 1.0,
        gas_lost: float | None = None,
    ) -> Setting:
        """A tub of these numbers; batch shape that of the numbers without their last axis."""
        truth = Truth(
            alkalinity_meq_l=self.alkalinity_meq_l(numbers),
            volume=volume,
            purity=np.exp(self.move(numbers, "purity")),
            tap_ph=self.move(numbers, "ph"),
            hardness=np.exp(self.move(numbers, "hardness")),
            gas_lost=gas_lost,
        )
        setting = assemble(inputs, truth)
        if inputs.foam_bath is None:
            return setting
        totals = dict(setting.bath.totals)
        more = np.exp(self.move(numbers, "product")) - 1.0
        for name, moles in _foam_moles(inputs.foam_bath).items():
            totals[name] = np.maximum(totals[name] + more * moles / setting.bath.water_kg, 0.0)
        return replace(setting, bath=replace(setting.bath, totals=totals))

    def tubs(self, numbers: Array, volume: ArrayLike = 1.0) -> Setting:
        """The tub itself, for `volume` times the water of its reading.

        Parameters
        ----------
        numbers : numpy.ndarray
            Shape (..., numbers).
        volume : array_like
            Water of the tub over that of its reading, broadcast against the leading axes.

        Returns
        -------
        Setting
        """
        return self._setting(self.tub, numbers, volume)

    @property
    def litres(self) -> float:
        """Water of the tub as read [L]."""
        return float(self.tubs(self.as_read).bath.volume_l)

    def grams_for_ph(self, numbers: Array, ph: ArrayLike) -> Array:
        """Grams that bring tubs of these numbers to a pH; NaN where none do.

        Parameters
        ----------
        numbers : numpy.ndarray
            Shape (..., numbers).
        ph : array_like
            The wished pH, one for all or of shape (...).

        Returns
        -------
        numpy.ndarray
            Shape (...) [g].
        """
        setting = self.tubs(numbers)
        return np.asarray(setting.bath.grams_for_ph(ph, setting.per_gram)[0])

    def jar_ph(self, numbers: Array, added: Array) -> Array:
        """PH in the jar, shape (..., steps), for numbers (..., n) and totals added (..., steps).

        Parameters
        ----------
        numbers : numpy.ndarray
            Shape (..., numbers).
        added : numpy.ndarray
            Totals in the jar, shape (..., steps) [unit of the titrant].

        Returns
        -------
        numpy.ndarray
            Shape (..., steps).
        """
        inputs = replace(self.jar.inputs, water_temperature_c=self.jar.temperature_c)
        # A jar is filled gently; what its stirring drives out follows below.
        setting = self._setting(inputs, numbers, gas_lost=0.0)
        titrant = self.titrant
        scale = np.exp(self.move(numbers, "scale"))
        if titrant.same_powder:
            scale = scale * np.exp(self.move(numbers, "purity"))
        units = np.maximum(added, 0.0)
        sample_kg = self.jar.litres * water_density_kg_l(self.jar.temperature_c)
        if self.soda is not None:
            sample_kg = sample_kg + self.soda.water_kg
        water_kg = sample_kg + units * titrant.water_kg_per_unit
        thinned = np.ones_like(water_kg) if titrant.of_tap else sample_kg / water_kg
        totals = {
            name: np.asarray(total)[..., None] * thinned
            for name, total in setting.bath.totals.items()
        }
        for name, moles in titrant.mol_per_unit.items():
            acid = moles * units * scale[..., None] / water_kg
            totals[name] = totals.get(name, np.zeros(())) + acid
        if self.soda is not None:
            more = self.soda.moles * np.exp(self.move(numbers, "soda"))[..., None] / water_kg
            totals |= {name: totals[name] + more for name in ("Na", "C")}
        closed = solve(totals, self.jar.temperature_c)
        # Gas leaves a stirred jar within minutes: the same series with a share of it gone.
        free = np.maximum(closed.molality["CO2"] - self._air, 0.0) * (units > 0)
        lost = expit(self.gas + self.move(numbers, "gas"))[..., None]
        totals["C"] = np.maximum(totals["C"] - lost * free, 0.0)
        return np.asarray(solve(totals, self.jar.temperature_c).ph)

    def predicted(self, numbers: Array, added: Array) -> Array:
        """Readings, shape (..., steps, values).

        Parameters
        ----------
        numbers : numpy.ndarray
            Shape (..., numbers).
        added : numpy.ndarray
            Totals in the jar, shape (..., steps) [unit of the titrant].

        Returns
        -------
        numpy.ndarray
            pH, shape (..., steps, 1), or CIELAB, shape (..., steps, 3).
        """
        ph = self.jar_ph(numbers, added)
        if self.kind == "ph":
            return np.asarray((ph + self.move(numbers, "offset")[..., None])[..., None])
        return self.colours(numbers, ph, added)

    def colours(self, numbers: Array, ph: Array, added: Array) -> Array:
        """CIELAB of a jar at these pH values in a balanced picture, shape (..., steps, 3).

        Parameters
        ----------
        numbers : numpy.ndarray
            Shape (..., numbers).
        ph, added : numpy.ndarray
            pH and totals in the jar, shape (..., steps).

        Returns
        -------
        numpy.ndarray
            Shape (..., steps, 3).
        """
        assert self.view is not None
        gain = self.move(numbers, "gain") / np.log(10.0) / self.view.way_cm
        absorbance = self._absorbance(numbers, ph, added) - gain[..., None, None]
        return photographed_lab(absorbance, self.view)

    def _absorbance(self, numbers: Array, ph: Array, added: Array) -> Array:
        """Per cm, shape (..., steps, wavelengths)."""
        bath = assemble(self.jar.inputs).bath
        moved = surfactant_pka(bath.strengths, bath.surfactants_g_l)
        factor = np.exp(self.move(numbers, "strength"))[..., None]
        sample_kg = self.jar.litres * water_density_kg_l(self.jar.temperature_c)
        thinned = sample_kg / (sample_kg + added * self.titrant.water_kg_per_unit)
        amounts, pka, heights = {}, {}, {}
        for which, strength in bath.strengths.items():
            constants, scales = self.pigment(which, numbers, moved.get(which))
            pka[which], heights[which] = constants[..., None, :], scales[..., None, :]
            amounts[which] = strength * thinned * (factor if which.kind == "pigment" else 1.0)
        return mixture_absorbance(amounts, ph, pka, heights)

    def whitening(self, expected: Array, noise: Array) -> Array:
        """One over the standard deviation of each value, shape as `expected`.

        Parameters
        ----------
        expected : numpy.ndarray
            Readings, shape (..., steps, values).
        noise : numpy.ndarray
            Of `Readings.noise`, shape (steps,).

        Returns
        -------
        numpy.ndarray
            Shape of `expected`.
        """
        if self.colour_error is None:
            return np.broadcast_to(1.0 / noise[:, None], expected.shape)
        chroma = np.hypot(expected[..., 1], expected[..., 2])[..., None]
        row = self.colour_error
        absolute = np.hypot(row.absolute, noise)[:, None]
        return np.broadcast_to(1.0 / np.hypot(absolute, row.relative * chroma), expected.shape)


def _product_sd(inputs: RecipeInputs) -> float:
    """Of the logarithm of the foam bath's buffer."""
    foam = inputs.foam_bath
    if foam is not None and foam.titratable_meq_kg is not None:
        return jar_value("product_measured")
    low, high = typical("foam_bath_titratable").ends
    return float(np.log(high / low)) / (2 * NINE_IN_TEN_SD)


@cache
def _foam_moles(foam: FoamBathInputs) -> dict[str, Array]:
    """What a foam bath brings [mol]."""
    grams = foam.amount_ml * typical("foam_bath_density").value
    return dict(foam_bath_totals(grams, foam.ph, foam.titratable_meq_kg).totals)


def _pigments(inputs: RecipeInputs) -> tuple[Colourant, ...]:
    """The colourants that follow the pH, each once."""
    different = dict.fromkeys(colour.colourant for colour in inputs.colours)
    return tuple(which for which in different if felt_constants(which, *FELT_PH))


def _logit(share: float) -> float:
    return float(np.log(share / (1.0 - share)))


def expit(value: ArrayLike) -> Array:
    """The share whose logit is given, 0 to 1."""
    return np.asarray(1.0 / (1.0 + np.exp(-np.asarray(value))))
