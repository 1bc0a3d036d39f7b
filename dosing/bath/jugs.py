"""The jug: in how much tub water a portion is dissolved first, and how strong that gets.

A jug takes only so much powder, by its solubility at the temperature of the tub and by what is
wise near eyes. What would need too many jugs is poured as a slurry: part of it dissolved, the rest
as grains.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dosing.bath.mixed import Bath
from dosing.ingredients.powders import Blend, Parts, per_gram, powder, solubility_g_per_kg
from dosing.ingredients.sums import added
from dosing.ingredients.trade_values import typical


@dataclass(frozen=True)
class Jugs:
    """Jugs that one portion of an activator is dissolved in."""

    grams: float
    """The portion [g]."""
    count: int
    """Number of jugs that it is shared among."""
    litres_each: float
    """Tub water in each jug [L]."""
    strength_percent: float
    """Dissolved acids, bases and salts in the liquid of a jug [% w/w]."""
    ph: float
    """Of the liquid in a jug, closed to the air."""
    in_range: bool
    """Whether a jug is dilute enough for its pH to be computed, rather than roughly told."""
    undissolved_g: float
    """Powder that stays as grains in all jugs together [g]."""
    kind: str
    """``"acid"`` or ``"base"``, as any powder in it is; else ``"neutral"``."""

    @property
    def litres(self) -> float:
        """Tub water in all jugs [L]."""
        return self.count * self.litres_each

    @property
    def slurry(self) -> bool:
        """Whether grains are poured with the liquid."""
        return self.undissolved_g > typical("jug_grains_share").value * self.grams


def fill_jugs(parts: Parts, grams: float, bath: Bath) -> Jugs:
    """Jugs of tub water that a portion is dissolved in first, and how strong it gets there.

    Parameters
    ----------
    parts : mapping of str to float
        Blend, as for `dosing.ingredients.powders.blend_per_gram`.
    grams : float
        One portion, above 0 [g].
    bath : Bath
        The tub that the water is taken from, a single one.

    Returns
    -------
    Jugs
        How many of how many litres, strength by mass [%], pH, and what stays undissolved [g].

    Raises
    ------
    ValueError
        If the portion is not a mass above 0, or a powder is unknown.

    Notes
    -----
    Each powder is judged by its own solubility in pure water, whatever else is in the jug.
    """
    if not (math.isfinite(grams) and grams > 0.0):
        raise ValueError(f"grams is {grams!r}; accepted is a mass above 0 g")
    masses = {name: share * grams for name, share in Blend(parts).parts.items()}
    warm, volume = float(bath.temperature_c), float(bath.volume_l)
    each = min(typical("jug_l").value, typical("jug_share_of_tub").value * volume)
    kg_each = each * float(bath.water_kg) / volume
    content = sum(powder(name).content * mass for name, mass in masses.items())
    by_strength = math.ceil(content / (typical("jug_most_g_l").value * each))
    comfortable = typical("jug_fullness").value * kg_each
    jugfuls = (mass / (_soluble(name, warm) * comfortable) for name, mass in masses.items())
    needed = max(by_strength, *map(math.ceil, jugfuls), 1)
    most = int(typical("jugs_most").value)
    count = needed if needed <= most else min(max(by_strength, 1), most)
    kg = count * kg_each
    dissolved = {name: min(mass, _soluble(name, warm) * kg) for name, mass in masses.items()}
    solved = _with(bath, dissolved, kg).solve()
    liquid_g = 1000.0 * kg + sum(dissolved.values())
    strong = sum(powder(name).content * mass for name, mass in dissolved.items())
    return Jugs(
        grams=grams,
        count=count,
        litres_each=each,
        strength_percent=100.0 * strong / liquid_g,
        ph=float(solved.ph),
        in_range=bool(np.all(solved.equilibrium.in_range & solved.equilibrium.converged)),
        undissolved_g=sum(masses.values()) - sum(dissolved.values()),
        kind=_kind(masses),
    )


def jugs_of_pours(parts: Parts, totals_g: Sequence[float], bath: Bath) -> Jugs | None:
    """Jugs that the largest of several pours is dissolved in; None where nothing is poured.

    Parameters
    ----------
    parts : mapping of str to float
        Blend, as for `fill_jugs`.
    totals_g : sequence of float
        Activator in the tub after each pour, rising [g].
    bath : Bath
        The tub that the water is taken from, a single one.

    Returns
    -------
    Jugs or None
        None where nothing is poured.
    """
    largest = float(np.max(np.diff(totals_g, prepend=0.0), initial=0.0))
    return fill_jugs(parts, largest, bath) if largest > 0.0 else None


def most_dissolved_g(name: str, water_l: float, bath: Bath) -> float:
    """Most of a powder that some of a tub's water takes up [g]; infinite if it mixes freely.

    Parameters
    ----------
    name : str
        Powder or alias.
    water_l : float
        Water [L].
    bath : Bath
        The tub that it is taken from, a single one.

    Returns
    -------
    float
        [g], by the powder's solubility in pure water at the temperature of the tub.
    """
    kg = water_l * float(bath.water_kg) / float(bath.volume_l)
    return _soluble(name, float(bath.temperature_c)) * kg


def _kind(names: Iterable[str]) -> str:
    reactions = {powder(name).reaction for name in names}
    return next((reaction for reaction in ("acid", "base") if reaction in reactions), "neutral")


def _soluble(name: str, temperature_c: float) -> float:
    return float(solubility_g_per_kg(name, temperature_c).g_per_kg)


def _with(bath: Bath, dissolved: Mapping[str, float], water_kg: float) -> Bath:
    """The bath's water with so much of each powder in it [g]."""
    poured = (
        {key: mass * moles / water_kg for key, moles in per_gram(name).items()}
        for name, mass in dissolved.items()
    )
    return replace(bath, totals=added((bath.totals, *poured)))
