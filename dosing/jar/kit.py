"""The kit that a kitchen brings to a jar test: the jar, the acid in it, and what may be read.

A test strip and drops of indicator are read by their colour, so a coloured jar misleads them, and
foam bath misleads a strip; an undyed twin of plain water is read without harm.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.spreads import relative_spreads
from dosing.equilibrium import water_density_kg_l
from dosing.ingredients.powders import blend_per_gram, spoons
from dosing.ingredients.trade_values import reading_spread, typical
from dosing.jar.fit import antithetic_normals
from dosing.jar.model import TABLE, Jar, Titrant, jar_value
from indicator.absorbance import mixture_absorbance
from indicator.appearance import delta_e, photographed_linear
from indicator.notes import say
from indicator.optics import View
from indicator.spread import drawn_labs
from indicator.tables import NINE_IN_TEN_SD, number_of

BY = ("meter", "drop-kit", "strip", "colour", "photograph", "turn")
"""What tells the pH of a jar; ``colour`` is the jar's own as somebody noted it, ``photograph`` the
same from a picture with white paper in it, ``turn`` that it is clearly another colour than a twin
without acid."""
OF_COLOUR = ("colour", "photograph", "turn")
UNITS = ("mL", "tsp", "pinches", "g")
COUNTED = ("tsp", "pinches")
"""Units that are counted whole."""
SCALES = ("kitchen-scale", "fine-scale")
KITCHEN_C = 20.0
"""Where solutions are made [°C]."""
LEAST_STEPS = 5.0
"""Of the tool that adds, to the target."""
CAMERA_TIMES = (10.0, 7.0, 5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.0, 0.7, 0.5, 0.3, 0.2, 0.1)
"""Times the tub's colour that are tried for a jar before a camera."""
SEEN_PH = np.arange(2.5, 9.51, 0.05)
TURN_SEED = 5


def jar_of(
    inputs: RecipeInputs,
    *,
    plain: bool,
    litres: float,
    weighed: bool,
    temperature_c: float,
    colour_times: float = 1.0,
) -> Jar:
    """A jar of the recipe's bath.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    plain : bool
        Tap water alone, without foam bath and colour.
    litres : float
        Water in it before any acid [L].
    weighed : bool
        Whether that was weighed rather than read off a jug.
    temperature_c : float
        [°C].
    colour_times : float
        Colour over what the tub has in as much water.

    Returns
    -------
    Jar
    """
    # More infusion brings more of its own acid too, which is told by its volume.
    colours = tuple(
        replace(
            colour,
            content=colour.content * colour_times,
            amount=colour.amount * colour_times,
            volume_l=colour.volume_l * colour_times,
        )
        for colour in inputs.colours
    )
    foam = inputs.foam_bath
    if foam is not None and any(colour.held_in == "foam bath" for colour in colours):
        # What stands in one bottle is poured together.
        foam = replace(foam, amount_ml=foam.amount_ml * colour_times)
    content = replace(
        inputs,
        water_temperature_c=temperature_c,
        foam_bath=None if plain else foam,
        colours=() if plain else colours,
    )
    grams = 1000.0 * litres
    scale = float(reading_spread("mass", "kitchen-scale").sd(grams)) / grams
    return Jar(
        inputs=content,
        litres=litres,
        sd=scale if weighed else jar_value("jug_scale"),
        temperature_c=temperature_c,
    )


def times_for_a_camera(inputs: RecipeInputs, view: View) -> float:
    """Times the tub's colour at which a camera can tell a jar at every pH, the most first.

    Told also where the infusion is one standard deviation stronger than written.

    Parameters
    ----------
    inputs : RecipeInputs
        The recipe in core units.
    view : View
        How the jar is looked at.

    Returns
    -------
    float
        The least that is tried where none of them can be told.
    """
    strengths = assemble(inputs).bath.strengths
    least, stronger = jar_value("least_channel"), 1.0 + relative_spreads(inputs)[2]

    def darkest(times: float) -> float:
        jar = {which: times * stronger * strength for which, strength in strengths.items()}
        return float(photographed_linear(mixture_absorbance(jar, SEEN_PH), view).min())

    told = (times for times in CAMERA_TIMES if darkest(times) >= least)
    return next(told, CAMERA_TIMES[-1])


def weighing_sd(grams: Sequence[float], scale: str = "kitchen-scale") -> float:
    """Relative standard deviation of a solution made with these weighings [g].

    Parameters
    ----------
    grams : sequence of float
        The weighings [g].
    scale : str
        One of `SCALES`.

    Returns
    -------
    float
        Share of the strength, the errors of the weighings independent.
    """
    spread = reading_spread("mass", scale)
    return float(np.linalg.norm([spread.sd(mass) / mass for mass in grams]))


def titrant(
    parts: Mapping[str, float],
    percent: float | None,
    *,
    unit: str = "mL",
    made_sd: float = 0.0,
    same_powder: bool,
    of_tap: bool = False,
) -> Titrant:
    """A powder in water by the millilitre or teaspoon, or dry by the gram or the pinch.

    Parameters
    ----------
    parts : mapping of str to float
        The powder or blend.
    percent : float or None
        Powder in 100 g of the solution [g]; None where powder is added dry.
    unit : {"mL", "tsp", "pinches", "g"}
        What is counted.
    made_sd : float
        Relative standard deviation of the solution's strength, as `weighing_sd` gives it.
    same_powder : bool
        Whether the tub gets the same powder.
    of_tap : bool
        Whether the solution was made with the tap water of the jar.

    Returns
    -------
    Titrant

    Raises
    ------
    ValueError
        If the strength is beyond use.
    """
    grams, water_kg = 1.0, 0.0
    if percent is not None:
        low, high = jar_value("least_percent"), jar_value("most_percent")
        if not low <= percent <= high:
            values = {"percent": percent, "low": low, "high": high}
            raise ValueError(say("jar.solution-range", values))
        ml, density = typical("teaspoon_us").value if unit == "tsp" else 1.0, _density(percent)
        grams = ml * density * percent / 100.0
        water_kg = (ml * density - grams) / 1000.0
    elif unit == "pinches":
        grams = jar_value("pinch_volume") * bulk_g_ml(parts)
    tool_sd, each_sd = _tool(unit)
    return Titrant(
        unit=unit,
        grams_per_unit=grams,
        mol_per_unit={name: grams * float(mol) for name, mol in blend_per_gram(parts).items()},
        water_kg_per_unit=water_kg,
        scale_sd=float(np.hypot(made_sd, tool_sd)),
        each_sd=each_sd,
        same_powder=same_powder,
        of_tap=of_tap,
    )


def bulk_g_ml(parts: Mapping[str, float]) -> float:
    """Bulk density of a powder or blend in a level spoon [g/mL]."""
    return 1.0 / (typical("teaspoon_us").value * spoons(parts, 1.0).teaspoons)


def _tool(unit: str) -> tuple[float, tuple[float, float]]:
    """Standard deviations of what adds: relative of all, and absolute and relative of each."""
    if unit == "g":
        spread = reading_spread("mass", "fine-scale")
        return spread.sd_relative, (spread.sd_absolute, 0.0)
    tool = "syringe" if unit == "mL" else unit
    each = (jar_value(f"{tool}_each"), jar_value(f"{tool}_each_share"))
    return jar_value(f"{tool}_scale"), each


def check_instrument(by: str, jar: Jar) -> None:
    """Refuse what a coloured or foaming jar misleads.

    Parameters
    ----------
    by : str
        What is read, of `BY`.
    jar : Jar
        What it is read in.

    Raises
    ------
    ValueError
        If the jar's colour or foam misleads the instrument, or the jar has no colour to read.
    """
    coloured, foaming = bool(jar.inputs.colours), jar.inputs.foam_bath is not None
    if by in OF_COLOUR:
        if not coloured:
            raise ValueError(say("jar.nothing-to-see"))
        return
    if by == "strip" and (coloured or foaming):
        raise ValueError(say("jar.strip-misled"))
    if by == "drop-kit" and coloured:
        raise ValueError(say("jar.drops-misled"))


def finest_step(titrant: Titrant, aim: float) -> float:
    """Finest step of the tool that adds, fine enough for a test of this size [unit].

    Parameters
    ----------
    titrant : Titrant
        What is added.
    aim : float
        About as much as the whole test takes [unit].

    Returns
    -------
    float
        [unit of the titrant].
    """
    if titrant.unit in COUNTED:
        return 1.0
    # Below 0.05 g a fine scale tells little, below 0.1 mL a syringe.
    steps = (1.0, 0.5, 0.2, 0.1) if titrant.unit == "mL" else (0.5, 0.2, 0.1, 0.05)
    return next((step for step in steps if aim >= LEAST_STEPS * step), steps[-1])


def _density(percent: float) -> float:
    """Of a solution where it is made [g/mL]."""
    return float(water_density_kg_l(KITCHEN_C)) + jar_value("solution_density_slope") * percent


def turn_reading(
    jar: Jar, view: View, start_ph: float, start_sd: float, *, acid: bool
) -> tuple[float, float]:
    """PH at which a jar is clearly another colour than its twin, and its standard deviation.

    Over what is not known of its pigments, of the water's own pH, and of how large a difference
    somebody calls clear (``turn_seen`` of ``jar_test.csv``).

    Parameters
    ----------
    jar : Jar
        With colour in it.
    view : View
        How it is looked at.
    start_ph, start_sd : float
        pH of the twin, and its standard deviation.
    acid : bool
        Whether what is added lowers the pH.

    Returns
    -------
    tuple of float
        [pH].

    Raises
    ------
    ValueError
        If the jar may well never turn.
    """
    bath = assemble(jar.inputs).bath
    strengths = {which: float(strength) for which, strength in bath.strengths.items()}
    labs = drawn_labs(strengths, SEEN_PH, view)
    every = np.arange(len(labs))
    normal = antithetic_normals(len(labs), 2, TURN_SEED)
    start = start_ph + start_sd * normal[:, 0]
    seen = number_of(TABLE, "turn_seen")
    width = np.log((seen.high or seen.value) / (seen.low or seen.value)) / (2 * NINE_IN_TEN_SD)
    enough = seen.value * np.exp(width * normal[:, 1])
    twin = labs[every, np.abs(SEEN_PH[:, None] - start).argmin(axis=0)]
    beyond = (start[:, None] > SEEN_PH) if acid else (start[:, None] < SEEN_PH)
    past = beyond & (delta_e(twin[:, None], labs) >= enough[:, None])
    turned = past.any(axis=1)
    if turned.mean() < jar_value("least_turning"):
        raise ValueError(say("jar.turn-never"))
    first = len(SEEN_PH) - 1 - past[:, ::-1].argmax(axis=1) if acid else past.argmax(axis=1)
    ph = SEEN_PH[first[turned]]
    return float(ph.mean()), float(ph.std())
