"""The bench of a jar test: the acid, the jar of water, and what it is read with."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.spreads import reading_spreads
from dosing.equilibrium import water_density_kg_l
from dosing.ingredients.powders import Blend, Parts, powder, undissolved
from dosing.ingredients.trade_values import typical
from dosing.jar.design import units_to_ph
from dosing.jar.kit import (
    BY,
    KITCHEN_C,
    OF_COLOUR,
    SCALES,
    bulk_g_ml,
    check_instrument,
    jar_of,
    times_for_a_camera,
    titrant,
    turn_reading,
    weighing_sd,
)
from dosing.jar.model import (
    Array,
    Jar,
    JarModel,
    Readings,
    Titrant,
    jar_value,
    kind_read,
    ph_noise,
    spooned_sd,
)
from dosing.recipe.quantities import (
    InputError,
    amount,
    colour_strength,
    length_cm,
    mass_g,
    temperature_c,
)
from indicator.notes import Note, Value, say
from indicator.optics import View, jar_view, view_value

BY_NAMES = {name: name for name in BY} | {
    "color": "colour", "photo": "photograph", "photos": "photograph",
    "photographs": "photograph", "camera": "photograph",
    "kit": "drop-kit", "ph-kit": "drop-kit", "ph-drop-kit": "drop-kit",
    "strips": "strip", "ph-strip": "strip", "ph-strips": "strip", "ph-meter": "meter",
}  # fmt: skip
DRY = ("g", "pinches")
"""Units of powder that is added without water."""
NEUTRAL = 7.0
"""Where a reading's spread is taken before there is one [pH]."""
BUCKET_L = 10.0
"""In which pinches of dry powder are not too much [L]."""
WEAKER = (1.0, 0.5)
"""Of one that is made at once, since its stock would not dissolve [% by weight]."""
WEAK_L = 2.0
"""How much of that is made, so that a kitchen scale can weigh its powders [L]."""
SPOONFULS = (4.0, 2.0, 1.0, 0.5)
"""Teaspoons of powder in a litre of tap water that are tried."""
LEAST_COUNT, MOST_COUNT = 3.0, 40.0
"""Spoonfuls to the target: fewer are coarse, of more a hand loses count."""
MOST_TIMES = 10.0
"""Colour of a jar over that of the tub, for the eye."""
LITRES = (0.05, 20.0)
TIMES = (0.1, 50.0)
PLAIN = "plain"
TURNED, MATCHED = "turned", "matched"
"""What is read of a jar that is clearly another colour than its twin without acid, and of that
twin, with baking soda in it, once it has the same colour."""


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
    spoonfuls: float | None = None
    """Teaspoons of powder in a litre of the jar's own tap water, where no scale made the
    solution."""
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
        if self.spoonfuls is not None:
            return spooned_sd(self.parts)
        scale = self.recipe.activator.weighed_with
        weighings = self.weighed_g or (jar_value("weighed"),)
        return weighing_sd(weighings, scale if scale in SCALES else SCALES[0])

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
        added = titrant(
            parts,
            None if self.dry else self.strength_percent,
            unit=self.unit,
            made_sd=0.0 if self.dry else float(np.hypot(self.weighed_off, purity)),
            same_powder=same,
            of_tap=self.spoonfuls is not None,
        )
        if self.by != "turn":
            return added
        # Added one after the other, their errors average out; the turn lies within the last.
        return replace(added, each_sd=(12.0**-0.5, 0.0))

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
        kind, shared, view = kind_read(self.by), 0.0, self.view
        if readings is not None:
            kind, shared, view = readings.kind, readings.shared_sd, readings.view or view
        elif kind == "ph" and self.by != "turn":
            shared = ph_noise(self.by, NEUTRAL)[1]
        # A turn alone would be drawn towards what nobody read.
        blind = self.by == "turn" and not water_was_read(self.recipe)
        return JarModel(
            self.recipe,
            self.jar(),
            self.titrant(),
            kind,
            shared,
            view,
            blind=blind,
            soda=() if readings is None else readings.soda,
        )

    @property
    def turn(self) -> tuple[float, float]:
        """PH at which the jar is clearly another colour, and its standard deviation [pH]."""
        model, start = self.model(), self.start_ph
        end = model.jar_ph(model.as_read, np.array([MOST_COUNT]))[0]
        spread = reading_spreads(self.recipe).tap_ph
        return turn_reading(model.jar, self.view, start, spread, acid=bool(end < start))

    @property
    def start_ph(self) -> float:
        """PH of the jar before any acid, by the recipe."""
        model = self.model()
        return float(model.jar_ph(model.as_read, np.zeros(1))[0])

    def turns(self, added: Array, words: Sequence[str]) -> Readings:
        """Counts by eye as readings of the pH that a turn stands for.

        Parameters
        ----------
        added : numpy.ndarray
            In the jar and, if there is one, in its twin, shape (jars,) [unit of the additions].
        words : sequence of str
            `TURNED` and, if there is a twin, `MATCHED`.

        Returns
        -------
        Readings
        """
        ph, sd = self.turn
        names = ("model_ph", "matched_ph")[: len(added)]
        noise = np.array([jar_value(name) for name in names])
        soda = (0.0, jar_value("soda_tablespoons")) if len(added) > 1 else ()
        values = np.full((len(added), 1), ph)
        return Readings(added, values, "ph", noise, sd, self.view, tuple(words), soda)

    def expected_turns(self, aim: float) -> Readings:
        """Counts to be expected by eye, where a jar turns at `aim` [unit of the additions].

        Its twin with soda is titrated too where acid is added by the spoon.
        """
        plain = self.turns(np.array([aim]), (TURNED,))
        level = self.model().alkalinity
        if self.unit != "tsp" or self.turn[0] > self.start_ph:
            return plain
        both = self.turns(np.array([aim, aim]), (TURNED, MATCHED))
        twin = self.model(both)
        assert twin.soda is not None
        more = (1000.0 * twin.soda.moles + level * twin.soda.water_kg) / (level * twin.jar.litres)
        return replace(both, added=aim * (1.0 + more))

    def laid_out(self, ph: float) -> Bench:
        """The bench with what makes a good test to a pH where nothing was said.

        Parameters
        ----------
        ph : float
            To which the test leads; a turn leads where it is seen.

        Raises
        ------
        ValueError
            If a test by spoons would take too many.
        """
        bench = self
        if bench.colour_times is None and bench.by in OF_COLOUR:
            bench = replace(bench, colour_times=bench._good_times())
        if bench.by == "turn":
            ph = bench.turn[0]
        if bench.dry:
            return bench
        ways = [way for way in bench._solutions() if way.dissolves]
        if not ways:
            return replace(
                bench, unit="pinches", percent=None, weighed_g=(), spoonfuls=None, water=BUCKET_L,
                water_weighed=False,
            )  # fmt: skip
        if bench.unit != "tsp":
            return ways[0]
        counts = [units_to_ph(way.model(), ph) for way in ways]
        # The strongest whose units are fine enough: the fewest to count.
        fine = (k for k, count in enumerate(counts) if count >= LEAST_COUNT)
        chosen = next(fine, -1)
        if counts[chosen] > MOST_COUNT:
            values = {"count": counts[chosen], "percent": ways[chosen].strength_percent}
            raise ValueError(say("jar.error.spoons-many", values))
        return ways[chosen]

    def _solutions(self) -> list[Bench]:
        """Ways to make the solution, the best first."""
        if self.percent is not None:
            return [replace(self, weighed_g=self.weighed_g or self._good_weighings())]
        if self.unit == "tsp":
            return [replace(self, **_by_spoon(self.parts, count)) for count in SPOONFULS]
        first = replace(self, weighed_g=self.weighed_g or self._good_weighings())
        weak = ((percent, self.weighed_g or (10.0 * WEAK_L * percent,)) for percent in WEAKER)
        return [first, *(replace(self, percent=each, weighed_g=made) for each, made in weak)]

    def _good_weighings(self) -> tuple[float, ...]:
        """More powder, thinned afterwards: the scale's error is small against it [g]."""
        stock = jar_value("stock_powder")
        if self.strength_percent >= jar_value("stock_percent"):
            return (stock,)
        return stock, jar_value("stock_taken")

    def _good_times(self) -> float:
        """Colour over the tub's: for a camera; for the eye as deep as the tub, by the spoon."""
        if self.by != "turn":
            return times_for_a_camera(self.recipe, self.view)
        tub = assemble(self.recipe).view
        times = min(max(tub.way_cm / self.view.path_cm, 1.0), MOST_TIMES)
        share = self.jar().litres / float(assemble(self.recipe).bath.volume_l)
        spooned = [1000.0 * share * colour.volume_l for colour in self.recipe.colours]
        half = 0.5 * typical("teaspoon_us").value
        if not spooned or times * spooned[0] < half:
            return times
        return half * round(times * spooned[0] / half) / spooned[0]

    @property
    def made_from(self) -> tuple[float, float]:
        """Powder and water of the first solution: what is used, or the stock of it [g]."""
        first, *more = self.weighed_g
        percent = jar_value("stock_percent") if more else self.strength_percent
        return first, first * (100.0 / percent - 1.0)

    @property
    def thinned_from(self) -> tuple[float, float] | None:
        """Stock and water of the solution; None where it is made at once [g]."""
        if len(self.weighed_g) < 2:
            return None
        taken = self.weighed_g[1]
        return taken, taken * (jar_value("stock_percent") / self.strength_percent - 1.0)

    @property
    def dissolves(self) -> bool:
        """Whether the strongest solution that is made leaves nothing on the bottom."""
        grams, water_g = self.made_from
        notes = undissolved(self.parts, grams, water_g / 1000.0, KITCHEN_C)
        return not any(note.code == "warn.powder.undissolved" for note in notes)

    @property
    def typed_solution(self) -> str:
        """The solution as `with_solution` reads it; empty where powder is added dry."""
        words = [] if self.acid is None else [self.acid]
        if self.spoonfuls is not None:
            words.insert(0, f"{self.spoonfuls:g} tsp in 1 L")
        elif not self.dry:
            words = [f"{self.strength_percent:g} %", *(f"{g:g} g" for g in self.weighed_g), *words]
        return ", ".join(words)

    @property
    def typed_jar(self) -> str:
        """The jar as `with_jar` reads it; empty where it is the usual one."""
        water = f"{1000 * self.water:g} g" if self.water_weighed else f"{self.water:g} L"
        usual = self.water == Bench.water and not self.water_weighed
        words = [*([] if usual else [water]), *([PLAIN] if self.plain else [])]
        if self.times != 1.0:
            words.append(f"{self.times:.3g} x colour")
        if self.path_cm is not None:
            words.append(f"{self.path_cm:g} cm")
        if self.temperature_c is not None:
            words.append(f"{self.temperature_c:g} C")
        return ", ".join(words)

    def with_solution(self, text: str) -> Bench:
        """The bench with a solution as a person writes it.

        Parameters
        ----------
        text : str
            A strength (``"1 %"``) or how it was made (``"1 tsp in 1 L"``); after commas
            weighings and another powder: ``"1 %, 30 g, 50 g, malic-acid"``.

        Raises
        ------
        InputError
            If a part of it is none of these.
        """
        bench = self
        # The powder first: a spoonful of it weighs as it lies.
        for part in sorted(_parts(text), key=lambda part: part[:1].isdigit()):
            bench = replace(bench, **bench._of_solution(part))
        if bench.dry and bench.percent is not None:
            values: dict[str, Value] = {"value": repr(text[:40]), "unit": bench.unit}
            raise InputError(say("jar.error.solution-dry", values), "solution", text)
        return bench

    def _of_solution(self, part: str) -> dict[str, Any]:
        made = re.fullmatch(r"(.+?) in (.+)", part)
        if made:
            return _made(part, made[1], made[2], self.parts)
        if "%" in part or " per" in part:
            strength = colour_strength(part, "solution")
            if strength.kind == "percent":
                return {"percent": strength.value}
        elif part[:1].isdigit():
            grams = mass_g(part, "solution")
            if grams > 0:
                return {"weighed_g": (*self.weighed_g, grams)}
        elif part[:1].isalpha():
            try:
                return {"acid": powder(part.replace(" ", "-")).name}
            except ValueError as error:
                raise InputError(str(error), "solution", part) from error
        raise InputError(say("jar.error.solution", {"value": repr(part[:40])}), "solution", part)

    def with_jar(self, text: str) -> Bench:
        """The bench with a jar as a person writes it.

        Parameters
        ----------
        text : str
            Its water by volume, or by mass where it was weighed; after commas ``plain``, the
            colour over the tub's, the inner width and the temperature:
            ``"1000 g, 3 x colour, 8 cm, 25 C"``.

        Raises
        ------
        InputError
            If a part of it is none of these.
        """
        bench = self
        for part in _parts(text):
            bench = replace(bench, **_of_jar(part))
        if bench.plain and bench.by in OF_COLOUR:
            raise InputError(say("jar.error.plain-colour"), "jar")
        return bench


def _of_jar(part: str) -> dict[str, Any]:
    times = re.fullmatch(r"(\d+(?:[.,]\d+)?) ?(?:x|times)(?: the)?(?: colou?r)?", part)
    if part == PLAIN:
        return {"plain": True}
    if times:
        number = (
            float(times[1].replace(",", ".")) if re.fullmatch(r"\d+([.,]\d+)?", times[1]) else 0.0
        )
        if not TIMES[0] <= number <= TIMES[1]:
            raise InputError(say("jar.error.times", {"value": repr(part[:40])}), "jar", part)
        return {"colour_times": number}
    if re.fullmatch(r".+?(°|deg)? ?[cf]", part):
        return {"temperature_c": temperature_c(part, "jar")}
    if re.fullmatch(r"[\d., ]+(cm|mm|in|inch|inches)", part):
        return {"path_cm": length_cm(part, "jar")}
    size = amount(part, "jar")
    if not LITRES[0] <= size.value / 1000.0 <= LITRES[1]:
        raise InputError(say("jar.error.jar", {"value": repr(part)}), "jar", part)
    return {"water": size.value / 1000.0, "water_weighed": size.kind == "mass"}


def _parts(text: str) -> list[str]:
    """What stands between commas, in small letters."""
    return [part.strip().casefold() for part in re.split(r",\s+|;", text) if part.strip()]


def _made(part: str, taken_text: str, water_text: str, parts: Parts) -> dict[str, Any]:
    """A solution of so much powder, by the scale or the spoon, in so much water."""
    taken, water = amount(taken_text, "solution"), amount(water_text, "solution")
    if min(taken.value, water.value) <= 0.0:
        raise InputError(say("jar.error.solution", {"value": repr(part[:40])}), "solution", part)
    if taken.kind == "volume":
        return _by_spoon(parts, taken.value / typical("teaspoon_us").value, water.value / 1000.0)
    percent = 100.0 * taken.value / (taken.value + water.value)
    return {"percent": percent, "weighed_g": (taken.value,)}


def _by_spoon(parts: Parts, spoonfuls: float, litres: float = 1.0) -> dict[str, Any]:
    """A solution of level teaspoons of powder in so much tap water."""
    grams = spoonfuls * typical("teaspoon_us").value * bulk_g_ml(parts)
    percent = 100.0 * grams / (grams + 1000.0 * litres)
    return {"percent": percent, "weighed_g": (grams,), "spoonfuls": spoonfuls / litres}


def _purity_sd(parts: Parts) -> float:
    """Relative standard deviation of the strength of a powder or blend."""
    shares = parts.items()
    return float(np.linalg.norm([part * powder(name).purity_sd for name, part in shares]))


def water_was_read(inputs: RecipeInputs) -> bool:
    """Whether somebody read this water, rather than taking what is usual or nothing at all."""
    water = inputs.water
    read = (
        water.alkalinity_meq_l, water.carbonate_hardness_meq_l, water.hardness_mmol_l,
        water.calcium_mmol_l,
    )  # fmt: skip
    return water.instrument != "typical" and any(number is not None for number in read)
