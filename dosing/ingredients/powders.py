"""Powders that are weighed into the tub: composition, purity, blends, solubility and spoons.

A powder (or kitchen acid) brings components of the solution, counted in moles per gram as
weighed. Protons are not counted; the pH follows from electroneutrality.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.equilibrium import Array, kelvin
from dosing.ingredients.molar_mass import molar_mass
from dosing.ingredients.sums import added
from dosing.ingredients.told import Told
from dosing.ingredients.trade_values import middle, named, names_of, typical
from indicator.notes import Note, Value
from indicator.tables import Sourced, read_table

Parts = Mapping[str, float]


_TABLE = "trade/powders.csv"
LEAST_SPOON = 0.25
"""A dose of fewer teaspoons rounds to none."""


@dataclass(frozen=True)
class Powder(Sourced):
    """A powder, or a kitchen acid that is weighed: a row of ``data/trade/powders.csv``."""

    name: str
    """Name in recipes, for instance ``"cream-of-tartar"``."""
    kind: str
    """``"solid"`` or ``"liquid"``."""
    reaction: str
    """``"acid"``, ``"base"`` or ``"neutral"``."""
    label: str
    """Name for people."""
    purity_sd: float
    """Standard deviation of the content as a share of the declared one."""
    purity_source: str
    purity_confidence: str
    bulk_low_g_ml: float
    """Lower end of the bulk density in a level spoon (density, for a liquid) [g/mL]."""
    bulk_g_ml: float
    """Bulk density in a level spoon [g/mL]."""
    bulk_high_g_ml: float
    """Upper end of the bulk density in a level spoon [g/mL]."""
    remark_key: str
    aliases: str
    """Other names, separated by spaces."""

    @property
    def mol_per_g(self) -> Mapping[str, float]:
        """Moles of each component in a gram of the declared quality [mol/g]."""
        return {
            row.component: row.mass_share * row.moles / molar_mass(row.formula)
            for row in _composition(self.name)
        }

    @property
    def content(self) -> float:
        """Acids, bases and salts in a gram as sold [g/g]; the rest of a liquid is water."""
        return sum({row.formula: row.mass_share for row in _composition(self.name)}.values())

    @property
    def remark(self) -> Note | None:
        """Note that a person should read before using it."""
        if not self.remark_key:
            return None
        return Note(f"warn.powder.{self.remark_key}", {"powder": self.label}, "activator.parts")


@dataclass(frozen=True)
class Blend:
    """An activator of one or several powders, in parts or per cent by mass."""

    parts: Parts
    """Mass of each powder, in any unit; names may be aliases."""

    def __post_init__(self) -> None:
        shares: dict[str, float] = {}
        for name, part in self.parts.items():
            if not (np.isfinite(part) and part >= 0):
                raise ValueError(f"part of {name!r} is {part!r}; it must be a number from 0 up")
            known = powder(name).name
            shares[known] = shares.get(known, 0.0) + float(part)
        total = sum(shares.values())
        if not total > 0:
            raise ValueError("a blend needs at least one powder with a part above 0")
        object.__setattr__(self, "parts", {name: part / total for name, part in shares.items()})


@dataclass(frozen=True)
class Solubility:
    """Most of a powder that pure water dissolves."""

    g_per_kg: Array
    """Grams of the powder as sold per kilogram of water; infinite if it mixes freely."""
    in_range: NDArray[np.bool_]
    """Whether the temperature lies within the table; outside, the nearest end is held."""


@dataclass(frozen=True)
class Spoons:
    """A mass in level spoons [spoons of the US measure], with the spread of bulk density."""

    teaspoons: float
    tablespoons: float
    teaspoons_low: float
    """If the powder lies densest in the spoon."""
    teaspoons_high: float
    """If the powder lies loosest in the spoon."""


@dataclass(frozen=True)
class _CompositionRow(Sourced):
    powder: str
    component: str
    moles: float
    formula: str
    mass_share: float


@dataclass(frozen=True)
class _SolubilityRow(Sourced):
    powder: str
    temperature_c: float
    g_per_kg: float


def powder_names() -> tuple[str, ...]:
    """Names of all powders, without aliases, in the order of the table."""
    return names_of(_TABLE, Powder)


def powder(name: str) -> Powder:
    """Powder of that name or alias.

    Raises
    ------
    ValueError
        If there is none; the sentence names the nearest.
    """
    return named(name, "powder", _TABLE, Powder)


def per_gram(name: str) -> dict[str, Array]:
    """Moles of each component in a gram of a powder of the declared quality [mol/g]."""
    return {component: np.asarray(moles) for component, moles in powder(name).mol_per_g.items()}


def blend_per_gram(parts: Parts, purity: ArrayLike = 1.0) -> dict[str, Array]:
    """Moles of each component in a gram of a blend as weighed.

    Parameters
    ----------
    parts : mapping of str to float
        Powder to its part by mass; parts, per cent or grams alike.
    purity : array_like
        Content of all powders as a share of the declared one: 0.98 for an acid that has drawn
        2 % of water.

    Returns
    -------
    dict of str to ndarray
        Component to moles [mol/g], each in the shape of ``purity``; components that two powders
        share are summed.

    Raises
    ------
    ValueError
        If a powder is unknown, a part is negative, or all parts are 0.
    """
    content = np.asarray(purity, dtype=float)
    return added(
        {key: share * (moles * content) for key, moles in per_gram(name).items()}
        for name, share in Blend(parts).parts.items()
    )


def solubility_g_per_kg(name: str, temperature_c: ArrayLike) -> Solubility:
    """Most of a powder that pure water dissolves at a temperature.

    The table is interpolated as ln(solubility) against 1/T, which is straight as long as the
    heat of solution does not change.

    Parameters
    ----------
    name : str
        Powder or alias.
    temperature_c : array_like
        Temperature of the water [°C].

    Returns
    -------
    Solubility
        Fields in the shape of ``temperature_c``.
    """
    temperature = np.asarray(temperature_c, dtype=float)
    celsius, grams = _solubility(powder(name).name)
    if not len(celsius):
        free = np.where(np.isnan(temperature), np.nan, np.inf)
        return Solubility(free, ~np.isnan(temperature))
    ln_grams = np.interp(-1 / kelvin(temperature), -1 / kelvin(celsius), np.log(grams))
    return Solubility(np.exp(ln_grams), (temperature >= celsius[0]) & (temperature <= celsius[-1]))


def undissolved(
    parts: Parts, mass_g: ArrayLike, water_kg: ArrayLike, temperature_c: ArrayLike
) -> tuple[Note, ...]:
    """Warnings about powder that the water cannot dissolve, judged in pure water.

    Each powder is judged by itself. The final judge is the saturation index of the solved
    bath: salts of the water and other powders can bring a solid out earlier.

    Parameters
    ----------
    parts : mapping of str to float
        Blend, as for `blend_per_gram`.
    mass_g : array_like
        Mass of the blend [g].
    water_kg : array_like
        Water [kg].
    temperature_c : array_like
        Temperature of the water [°C].

    Returns
    -------
    tuple of Note
        One ``warn.powder.undissolved`` for each powder that is too much in at least half of
        the batch, and one ``warn.powder.solubility-range`` where the table had to be held.
    """
    told = Told()
    temperature = np.asarray(temperature_c, dtype=float)
    for name, share in Blend(parts).parts.items():
        limit = solubility_g_per_kg(name, temperature)
        grams = share * np.asarray(mass_g, dtype=float)
        most = limit.g_per_kg * np.asarray(water_kg, dtype=float)
        celsius: dict[str, Value] = {
            "powder": powder(name).label,
            "temperature_c": middle(temperature),
        }
        if middle(grams - most) > 0:
            masses = {"mass_g": middle(grams), "most_g": middle(most)}
            told.add("warn.powder.undissolved", "activator.parts", **celsius, **masses)
        # A held end of the table matters only to a powder that comes anywhere near it.
        if not np.all(limit.in_range) and middle(grams - 0.2 * most) > 0:
            told.add("warn.powder.solubility-range", "water.temperature", **celsius)
    return tuple(told.warnings)


def remarks(parts: Parts) -> tuple[Note, ...]:
    """List what a person should know about the powders of a blend before using them."""
    return tuple(note for name in Blend(parts).parts if (note := powder(name).remark) is not None)


def spoons(name_or_parts: str | Parts, mass_g: float) -> Spoons:
    """Level spoons that hold a mass.

    A blend is taken as powders beside each other; mixed fine and coarse grains pack denser, so
    the figure is for guidance and the scale decides.

    Parameters
    ----------
    name_or_parts : str or mapping of str to float
        A powder, or a blend as for `blend_per_gram`.
    mass_g : float
        Mass [g].

    Returns
    -------
    Spoons
        Level teaspoons of 4.929 mL with their range, and tablespoons.

    Raises
    ------
    ValueError
        If a powder is unknown.
    """
    parts = {name_or_parts: 1.0} if isinstance(name_or_parts, str) else name_or_parts
    spoon_ml = typical("teaspoon_us").value
    kinds = [(powder(name), share) for name, share in Blend(parts).parts.items()]
    best, low, high = (
        mass_g / spoon_ml * sum(share / getattr(kind, f"bulk_{end}g_ml") for kind, share in kinds)
        for end in ("", "high_", "low_")
    )
    return Spoons(best, best / typical("teaspoons_per_tablespoon").value, low, high)


def kitchen_round_g(mass_g: ArrayLike, step_g: float = 1.0) -> Array:
    """Mass to the step of a kitchen scale [g]; halves go to the even step.

    Parameters
    ----------
    mass_g : array_like
        Mass [g].
    step_g : float
        Step of the scale [g].

    Returns
    -------
    numpy.ndarray
        Whole steps [g], shape of `mass_g`.
    """
    return np.round(np.asarray(mass_g, dtype=float) / step_g) * step_g


def scale_floor_g(mass_g: float, step_g: float) -> float:
    """Mass to the step of a kitchen scale, never rounded up [g].

    Parameters
    ----------
    mass_g : float
        Mass [g].
    step_g : float
        Step of the scale [g].

    Returns
    -------
    float
        Whole steps [g].
    """
    return round(math.floor(mass_g / step_g + 1e-9) * step_g, 6)


def portions_on_scale_g(
    totals_g: Sequence[float], most_g: float, step_g: float
) -> tuple[list[float], list[float]]:
    """Totals and portions to the step of a scale; portions add up to totals, none passes the most.

    Parameters
    ----------
    totals_g : sequence of float
        What is in the tub after each pour [g].
    most_g : float
        Never more than this [g].
    step_g : float
        Of the scale [g].

    Returns
    -------
    tuple of list of float
        Totals and portions [g].
    """
    highest = scale_floor_g(most_g, step_g)
    totals = [min(float(kitchen_round_g(total, step_g)), highest) for total in totals_g]
    shares = [total - before for total, before in zip(totals, [0.0, *totals], strict=False)]
    return [round(total, 6) for total in totals], [round(share, 6) for share in shares]


def powders_on_scale_g(parts: Parts, mass_g: float) -> tuple[tuple[str, float], ...]:
    """Grams of each powder of a blend to the step of a scale; they add up to the whole [g].

    The step is that of the lightest, so that a pinch of one powder is not rounded away.

    Parameters
    ----------
    parts : mapping of str to float
        Powder to its part by mass.
    mass_g : float
        All of them together, as a scale shows it [g].

    Returns
    -------
    tuple
        Key of each powder and its grams, in the order of the parts.
    """
    exact = {name: share * mass_g for name, share in Blend(parts).parts.items()}
    step = min(map(scale_step, (mass_g, *exact.values())))
    steps = {name: math.floor(grams / step + 1e-9) for name, grams in exact.items()}
    left = round(mass_g / step) - sum(steps.values())
    # What is left goes to those that were rounded down furthest.
    for name in sorted(exact, key=lambda name: steps[name] - exact[name] / step)[:left]:
        steps[name] += 1
    return tuple((name, round(count * step, 6)) for name, count in steps.items())


def spoon_words(teaspoons: float) -> Note:
    """Level spoons for people, to half a teaspoon.

    Parameters
    ----------
    teaspoons : float
        Level teaspoons, from 0 up.

    Returns
    -------
    Note
        ``powder.spoons.*``: in tablespoons and teaspoons from two tablespoons on.
    """
    per_tablespoon = int(typical("teaspoons_per_tablespoon").value)
    halves = round(2 * teaspoons)
    if halves < 1:
        return Note("powder.spoons.less")
    tablespoons, rest = divmod(halves, 2 * per_tablespoon)
    if tablespoons >= 2 and rest == 0:
        return Note("powder.spoons.tablespoons", {"tablespoons": tablespoons})
    kind, left = ("both", rest) if tablespoons >= 2 else ("teaspoons", halves)
    count = "one" if left <= 2 else "many"
    spoonfuls: dict[str, Value] = {"tablespoons": tablespoons, "teaspoons": _in_halves(left)}
    return Note(f"powder.spoons.{kind}-{count}", spoonfuls)


def _in_halves(halves: int) -> str:
    whole, half = divmod(halves, 2)
    return f"{whole or ''}{'½' if half else ''}"


@cache
def _composition(name: str) -> tuple[_CompositionRow, ...]:
    """What a powder is made of: components, and formulas with their shares of its mass."""
    rows = read_table("trade/powder_composition.csv", _CompositionRow)
    return tuple(row for row in rows if row.powder == name)


@cache
def _solubility(name: str) -> Array:
    """Temperatures [°C] and what dissolves of a powder [g/kg], shape (2, points)."""
    rows = read_table("trade/solubility.csv", _SolubilityRow)
    points = sorted((row.temperature_c, row.g_per_kg) for row in rows if row.powder == name)
    return np.array(points).reshape(-1, 2).T


def scale_step(mass: float) -> float:
    """The step of a scale to which a mass is shown [g]."""
    return 1.0 if mass >= 5 or mass <= 0 else 0.1 if mass >= 0.5 else 0.01


@cache
def _powder_is_slow(name: str) -> bool:
    remark = powder(name).remark
    return remark is not None and remark.code.endswith("slow-to-dissolve")


def stirring_minutes(names: Iterable[str]) -> int:
    """Minutes for which powders are stirred in, by the slowest of them."""
    return 3 if any(map(_powder_is_slow, names)) else 1
