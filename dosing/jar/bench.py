"""The bench of a jar test: the acid, the jar of water, and what it is read with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from dosing.bath.inputs import RecipeInputs
from dosing.equilibrium import water_density_kg_l
from dosing.ingredients.powders import Blend, powder
from dosing.jar.answer import target_ph
from dosing.jar.design import units_to_ph
from dosing.jar.kit import (
    LEAST_DROPS,
    MOST_DROPS,
    SCALES,
    STRENGTHS,
    check_instrument,
    drops_holding,
    jar_of,
    times_for_a_camera,
    titrant,
    weighing_sd,
)
from dosing.jar.model import Jar, JarModel, Readings, Titrant, jar_value, kind_read, ph_noise
from indicator.notes import Note, say
from indicator.optics import View, jar_view, view_value

DRY = ("g", "pinches")
"""Units of powder that is added without water."""
NEUTRAL = 7.0
"""Where a reading's spread is taken before there is one [pH]."""


@dataclass(frozen=True)
class Bench:
    """The things of a jar test; what is None is taken as usual."""

    recipe: RecipeInputs
    """The tub that the jar stands for."""
    by: str
    """What is read, of `dosing.jar.kit.BY`."""
    unit: str = "mL"
    """Of the additions, of `dosing.jar.kit.UNITS`."""
    acid: str | None = None
    """Powder in the jar; None for the recipe's."""
    percent: float | None = None
    """Of the solution [% by weight]."""
    weighed_g: tuple[float, ...] = ()
    """Weighings by which the solution was made [g]."""
    scale: str = SCALES[0]
    drops_per_ml: float | None = None
    water: float = 1.0
    """In the jar before any acid [L], or [kg] where it is weighed."""
    water_weighed: bool = False
    temperature_c: float | None = None
    """Of the jar; that of the tub's water if None."""
    plain: bool = False
    """Whether the jar holds tap water alone."""
    colour_times: float | None = None
    """Colour over what the tub has in as much water."""
    path_cm: float | None = None
    """Inner width of the jar."""

    @property
    def dry(self) -> bool:
        """Whether powder is added without water."""
        return self.unit in DRY

    @property
    def parts(self) -> dict[str, float]:
        """The powder or blend in the jar, shares by mass."""
        return self._tub_parts if self.acid is None else {self.acid: 1.0}

    @property
    def _tub_parts(self) -> dict[str, float]:
        return dict(Blend(self.recipe.activator.parts).parts)

    @property
    def strength_percent(self) -> float:
        """Of the solution [% by weight]."""
        return jar_value("solution_percent") if self.percent is None else self.percent

    @property
    def times(self) -> float:
        """Colour over what the tub has in as much water."""
        return 1.0 if self.colour_times is None else self.colour_times

    @property
    def view(self) -> View:
        """The jar against white by daylight, whatever lights the tub."""
        return jar_view(view_value("jar_path") if self.path_cm is None else self.path_cm)

    @property
    def warmth_c(self) -> float:
        """Temperature of the jar [°C]."""
        warmth = self.temperature_c
        return self.recipe.water_temperature_c if warmth is None else warmth

    @property
    def weighed_off(self) -> float:
        """Relative standard deviation of the solution's strength from its weighings."""
        return weighing_sd(self.weighed_g or (jar_value("weighed"),), self.scale)

    def notes(self) -> list[Note]:
        """Notes on what was taken as usual."""
        notes = []
        if not (self.dry or self.weighed_g):
            values = {"grams": jar_value("weighed"), "off": self.weighed_off}
            notes.append(Note("jar.note.weighed", {**values}))
        if self.temperature_c is None:
            notes.append(Note("jar.note.temperature", {"temperature": self.warmth_c}))
        return notes

    def titrant(self) -> Titrant:
        """Titrant that is added to the jar.

        Raises
        ------
        ValueError
            If the solution is too weak or too strong to be used.
        """
        parts, same = self.parts, self.parts == self._tub_parts
        # Another powder than the tub's brings its own purity.
        purity = 0.0 if same else _purity_sd(parts)
        return titrant(
            parts,
            None if self.dry else self.strength_percent,
            unit=self.unit,
            made_sd=0.0 if self.dry else float(np.hypot(self.weighed_off, purity)),
            same_powder=same,
            drops_per_ml=self.drops_per_ml,
        )

    def jar(self) -> Jar:
        """The jar of water before any acid.

        Raises
        ------
        ValueError
            If its colour or foam misleads what it is read with.
        """
        density = float(water_density_kg_l(self.warmth_c)) if self.water_weighed else 1.0
        jar = jar_of(
            self.recipe,
            plain=self.plain,
            litres=self.water / density,
            weighed=self.water_weighed,
            temperature_c=self.warmth_c,
            colour_times=self.times,
        )
        check_instrument(self.by, jar)
        return jar

    def model(self, readings: Readings | None = None) -> JarModel:
        """Expected readings of the jar, for a series or for a test that is still to be done."""
        if readings is not None:
            kind, shared = readings.kind, readings.shared_sd
        else:
            kind = kind_read(self.by)
            shared = ph_noise(self.by, NEUTRAL)[1] if kind == "ph" else 0.0
        return JarModel(self.recipe, self.jar(), self.titrant(), kind, shared, self.view)

    def laid_out(self, target: str | None) -> Bench:
        """The bench with what makes a good test where nothing was said.

        Parameters
        ----------
        target : str, optional
            A pH, a colour word or a hex colour; the recipe's if None.

        Raises
        ------
        ValueError
            If a test by drops would take too many.
        """
        bench = self
        if bench.colour_times is None and kind_read(bench.by) != "ph":
            times = times_for_a_camera(bench.recipe, bench.view)
            bench = replace(bench, colour_times=times)
        if bench.dry:
            return bench
        if bench.unit == "drops":
            bench = replace(bench, percent=bench._percent_for_drops(target))
        return replace(bench, weighed_g=bench.weighed_g or bench.good_weighings())

    def good_weighings(self) -> tuple[float, ...]:
        """More powder, thinned afterwards: the scale's error is small against it [g]."""
        stock = jar_value("stock_powder")
        if self.strength_percent >= jar_value("stock_percent"):
            return (stock,)
        return stock, jar_value("stock_taken")

    def _percent_for_drops(self, target: str | None) -> float:
        """A strength of the acid whose drops a hand can count [% by weight]."""
        model = self.model()
        ph = target_ph(model, target)
        aim = units_to_ph(model, ph) * model.titrant.grams_per_unit
        tried = STRENGTHS if self.percent is None else (self.percent,)
        drops = {percent: drops_holding(aim, percent, self.drops_per_ml) for percent in tried}
        # The strongest whose drops are fine enough: the fewest to count.
        fine = (percent for percent, count in drops.items() if count >= LEAST_DROPS)
        percent = next(fine, tried[-1])
        if drops[percent] > MOST_DROPS:
            values = {"count": drops[percent], "percent": percent}
            raise ValueError(say("jar.error.drops-many", values))
        return percent


def _purity_sd(parts: Mapping[str, float]) -> float:
    """Relative standard deviation of the strength of a powder or blend."""
    shares = parts.items()
    return float(np.linalg.norm([part * powder(name).purity_sd for name, part in shares]))
