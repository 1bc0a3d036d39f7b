"""The bath: tap water, foam bath, colours and activator in one tub; solved, then seen.

A `Bath` goes forward only: `Bath.with_activator` → `Bath.solve` → `SolvedBath.seen`. Every number
is an array of one batch shape, so one tub and a thousand possible tubs are the same code.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from dosing.equilibrium import Equilibrium, mass_for_ph, settle_chalk, solve, water_density_kg_l
from dosing.equilibrium.constants import Array
from dosing.ingredients.molar_mass import molar_mass
from dosing.ingredients.sums import added
from dosing.ingredients.trade_values import typical
from dosing.ingredients.water import TapWater
from indicator.absorbance import mixture_absorbance
from indicator.appearance import SeenColour, seen
from indicator.colourants import Colourant, ColourantLike, Strengths
from indicator.micelles import micelle_shift, shifted_pka
from indicator.optics import View
from indicator.pigments import colourant

NEUTRAL_PH = 7.0


def air_ends_ppm() -> tuple[float, float]:
    """As much, and as little, carbon dioxide as the air of a bathroom may hold [ppm]."""
    low, high = typical("room_air_co2").ends
    return high, low


@dataclass(frozen=True)
class Bath:
    """A filled tub."""

    totals: Mapping[str, Array]
    """Component to total [mol/kg water]."""
    volume_l: Array
    """Volume of the liquid [L]."""
    water_kg: Array
    """Mass of the water [kg]."""
    temperature_c: Array
    """[°C]."""
    strengths: Mapping[Colourant, Array]
    """Colourant to its strength in this liquid: pH-1 absorbance per cm, or mol/L for a dye."""
    surfactants_g_l: Mapping[str, ArrayLike] = field(default_factory=dict)
    """Kind of surfactant to its concentration in this liquid [g/L]."""
    air_co2_ppm: ArrayLike = field(default_factory=lambda: typical("room_air_co2").value)
    """Carbon dioxide of the room's air [ppm]."""

    def with_activator(self, mass_g: ArrayLike, per_gram: Mapping[str, ArrayLike]) -> Bath:
        """Bath after a mass of activator is dissolved.

        Parameters
        ----------
        mass_g : array_like
            Mass for the whole tub [g].
        per_gram : mapping of str to array_like
            What a gram of the activator adds [mol/g].

        Returns
        -------
        Bath
            The same water with more in it; batch shapes broadcast.
        """
        per_kg = np.asarray(mass_g, dtype=np.float64) / self.water_kg
        poured = {name: per_kg * np.asarray(moles) for name, moles in per_gram.items()}
        return replace(self, totals=added((self.totals, poured)))

    def each(self, part: Callable[[ArrayLike], Array]) -> Bath:
        """The bath with a function of every number of its batch, such as a choice of rows."""
        return replace(
            self,
            totals={name: part(total) for name, total in self.totals.items()},
            volume_l=part(self.volume_l),
            water_kg=part(self.water_kg),
            temperature_c=part(self.temperature_c),
            strengths={which: part(strength) for which, strength in self.strengths.items()},
            air_co2_ppm=part(self.air_co2_ppm),
        )

    def solve(self, *, pco2_ppm: ArrayLike | None = None, chalk: bool = False) -> SolvedBath:
        """PH and every species; closed to the air, or at rest with air of this carbon dioxide.

        With ``chalk`` all calcite above saturation has fallen out and is stirred up in the water.

        Parameters
        ----------
        pco2_ppm : array_like, optional
            Carbon dioxide of the air [ppm by volume]; closed to it if not given.
        chalk : bool
            Whether all calcite above saturation has fallen out and is stirred up in the water.

        Returns
        -------
        SolvedBath
            PH, species and chalk [g/L], the batch shape.
        """
        if not chalk and pco2_ppm is None:
            return self._closed
        if not chalk:
            return SolvedBath(self, solve(self.totals, self.temperature_c, pco2_ppm=pco2_ppm))
        settled = settle_chalk(self.totals, self.temperature_c, pco2_ppm=pco2_ppm)
        grams = settled.chalk_mol_kg * self.water_kg / self.volume_l * molar_mass("CaCO3")
        return SolvedBath(self, settled.equilibrium, np.asarray(grams))

    def at_rest(self) -> SolvedBath:
        """The bath hours later, when its gas has come to rest with the air of the room."""
        return self._at_rest

    @property
    def ph(self) -> Array:
        """PH, closed to the air."""
        return self._closed.ph

    @property
    def ph_at_rest(self) -> Array:
        """PH hours later, in the air of the room."""
        return self._at_rest.ph

    # A bath is asked again for what it has worked out already.
    @cached_property
    def _closed(self) -> SolvedBath:
        return SolvedBath(self, solve(self.totals, self.temperature_c))

    @cached_property
    def _at_rest(self) -> SolvedBath:
        return self.solve(pco2_ppm=self.air_co2_ppm)

    @cached_property
    def _acid_reserve(self) -> Array:
        at_neutral = solve(self.totals, self.temperature_c, ph=NEUTRAL_PH)
        return np.asarray(-1000.0 * at_neutral.charge_error * self.water_kg / self.volume_l)

    def grams_for_ph(
        self, ph: ArrayLike, per_gram: Mapping[str, ArrayLike]
    ) -> tuple[Array, NDArray[np.bool_], Array]:
        """Grams of activator for a pH, whether any amount gets there, and the limiting pH.

        Parameters
        ----------
        ph : array_like
            Wished pH.
        per_gram : mapping of str to array_like
            What a gram of the activator adds [mol/g].

        Returns
        -------
        tuple of numpy.ndarray
            Grams [g], whether the pH is reached, and the pH that no amount passes; the broadcast
            shape.
        """
        amount = mass_for_ph(self.totals, per_gram, ph, self.temperature_c)
        return np.asarray(amount.mass * self.water_kg), amount.reached, amount.limiting_ph

    def acid_reserve_meq_l(self) -> Array:
        """Strong base that brings this bath, closed to air, to pH 7 [meq/L]; negative if alkaline.

        Two baths of one pH can differ tenfold here, and the eye feels the reserve as well.
        """
        return self._acid_reserve

    def grams_for_reserve(self, reserve_meq_l: float, per_gram: Mapping[str, ArrayLike]) -> Array:
        """Grams of activator with which the acid reserve is so much [g].

        0 where it is as much already, infinite where no amount leads there.

        Parameters
        ----------
        reserve_meq_l : float
            As `acid_reserve_meq_l` gives it.
        per_gram : mapping of str to array_like
            What a gram of the activator adds [mol/g].

        Returns
        -------
        numpy.ndarray
            [g], the batch shape.
        """
        base = reserve_meq_l / 1000.0 * self.volume_l / self.water_kg
        totals = {**self.totals, "cation": self.totals.get("cation", np.zeros(())) + base}
        grams, reached, _ = replace(self, totals=totals).grams_for_ph(NEUTRAL_PH, per_gram)
        needed = np.where(reached & np.isfinite(grams), grams, np.inf)
        return np.where(self.acid_reserve_meq_l() >= reserve_meq_l, 0.0, needed)


@dataclass(frozen=True)
class SolvedBath:
    """A bath whose pH is known."""

    bath: Bath
    equilibrium: Equilibrium
    chalk_g_l: Array | float = 0.0
    """Calcite that has fallen out and is stirred up in the water [g/L]."""

    @property
    def ph(self) -> Array:
        """PH of the bath."""
        return self.equilibrium.ph

    @property
    def inorganic_carbon_mol_kg(self) -> Array:
        """Carbon dioxide, carbonates and their complexes [mol/kg water]."""
        species = self.equilibrium.system.species
        carbonates = [place for place, each in enumerate(species) if each.ligand == "C"]
        return np.asarray(np.sum(self.equilibrium.species_molality[carbonates], axis=0))

    def seen(self, view: View) -> SeenColour:
        """Colour that the eye sees of it."""
        return colour_at(self.bath.strengths, self.ph, view, self.bath.surfactants_g_l)


def colour_at(
    strengths: Strengths,
    ph: ArrayLike,
    view: View,
    surfactants_g_l: Mapping[str, ArrayLike] | None = None,
) -> SeenColour:
    """Colour of a liquid with these colourants, and perhaps surfactants, at a pH.

    Parameters
    ----------
    strengths : mapping of Colourant to array_like
        pH-1 absorbance per cm of each pigment [1/cm], molarity of each dye [mol/L].
    ph : array_like
        pH; broadcasts with the strengths.
    view : View
        How it is looked at.
    surfactants_g_l : mapping of str to array_like, optional
        Surfactants by kind [g/L]; none if not given.

    Returns
    -------
    SeenColour
        Of the broadcast shape.
    """
    pka = surfactant_pka(strengths, surfactants_g_l or {})
    return seen(mixture_absorbance(strengths, ph, pka), view)


def surfactant_pka(
    colours: Iterable[ColourantLike], surfactants_g_l: Mapping[str, ArrayLike]
) -> dict[Colourant, Array]:
    """Apparent pKa's of colourants among surfactants; empty where there are no micelles.

    Parameters
    ----------
    colours : iterable of Colourant or str
        Pigments and dyes.
    surfactants_g_l : mapping of str to array_like
        Surfactants by kind [g/L].

    Returns
    -------
    dict of Colourant to numpy.ndarray
        pKa's of those that micelles move, shape (..., steps); the shifts and their source stand in
        ``data/colour/micelles.csv``.
    """
    moved = {}
    for which in map(colourant, colours):
        shift = micelle_shift(surfactants_g_l, which.micelle_shift)
        if np.any(shift.best != 0):
            moved[which] = shifted_pka(which, shift.best)
    return moved


def fill_tub(
    water: TapWater,
    volume_l: ArrayLike,
    temperature_c: ArrayLike,
    *,
    added_l: ArrayLike = 0.0,
    added_mol: Mapping[str, ArrayLike] = MappingProxyType({}),
    contents: Mapping[Colourant, ArrayLike] = MappingProxyType({}),
) -> Bath:
    """Bath of tap water with foam bath and colours in it, before any activator.

    Parameters
    ----------
    water : TapWater
        The tap water.
    volume_l : array_like
        Tap water in the tub [L].
    temperature_c : array_like
        Temperature in the tub [°C].
    added_l : array_like
        Volume of foam bath and of the liquids that carry the colours [L].
    added_mol : mapping of str to array_like
        What they bring [mol]. The few acids and salts of colours that are not sour are left out,
        a thousandth of the bath's.
    contents : mapping of Colourant to array_like
        Of a pigment: pH-1 absorbance per cm times litres; of a dye: mol.

    Returns
    -------
    Bath
        Totals [mol/kg water], volume [L] and strengths; shapes broadcast.
    """
    tap_l = np.asarray(volume_l, dtype=np.float64)
    temperature = np.asarray(temperature_c, dtype=np.float64)
    density = water_density_kg_l(temperature)
    total_l = tap_l + np.asarray(added_l, dtype=np.float64)
    share = tap_l / total_l
    water_kg = total_l * density
    tap = {name: np.asarray(total) * share for name, total in water.totals.items()}
    brought = {name: np.asarray(moles) / water_kg for name, moles in added_mol.items()}
    strengths = {
        which: np.asarray(content, dtype=np.float64) / total_l
        for which, content in contents.items()
    }
    return Bath(added((tap, brought)), total_l, water_kg, temperature, strengths)
