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
from dosing.bath.possible_tubs import relative_spreads
from dosing.equilibrium import water_density_kg_l
from dosing.ingredients.powders import Blend, blend_per_gram, powder
from dosing.ingredients.trade_values import reading_spread, typical
from dosing.jar.model import Array, Jar, Titrant, jar_value, kind_read
from indicator.absorbance import mixture_absorbance
from indicator.appearance import photographed_linear
from indicator.notes import say
from indicator.optics import View
from indicator.spread import drawn_labs
from indicator.words import word_certainty

BY = ("meter", "drop-kit", "strip", "colour", "photograph")
"""What tells the pH of a jar; ``colour`` is the jar's own as somebody noted it, ``photograph`` the
same from a picture with white paper in it."""
UNITS = ("mL", "drops", "pinches", "g")
SCALES = ("kitchen-scale", "fine-scale")
KITCHEN_C = 20.0
"""Where solutions are made [°C]."""
STRENGTHS = (10.0, 5.0, 2.0, 1.0)
"""Of a solution that is easily made from a stock, or is it [% by weight]."""
LEAST_DROPS, MOST_DROPS = 10.0, 40.0
"""To the target: fewer are coarse, of more a hand loses count."""
LEAST_STEPS = 5.0
"""Of the tool that adds, to the target."""
CAMERA_TIMES = (10.0, 7.0, 5.0, 4.0, 3.0, 2.5, 2.0, 1.5, 1.0, 0.7, 0.5, 0.3, 0.2, 0.1)
"""Times the tub's colour that are tried for a jar before a camera."""
SEEN_PH = np.arange(2.5, 9.51, 0.05)


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
            volume_l=colour.volume_l * colour_times,
        )
        for colour in inputs.colours
    )
    content = replace(
        inputs,
        water_temperature_c=temperature_c,
        foam_bath=None if plain else inputs.foam_bath,
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
    drops_per_ml: float | None = None,
) -> Titrant:
    """A powder in water by the millilitre or the drop, or dry by the gram or the pinch.

    Parameters
    ----------
    parts : mapping of str to float
        The powder or blend.
    percent : float or None
        Powder in 100 g of the solution [g]; None where powder is added dry.
    unit : {"mL", "drops", "pinches", "g"}
        What is counted.
    made_sd : float
        Relative standard deviation of the solution's strength, as `weighing_sd` gives it.
    same_powder : bool
        Whether the tub gets the same powder.
    drops_per_ml : float, optional
        Drops counted into 1 mL; a usual dropper if not given.

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
        ml, strength = _drop_ml(drops_per_ml) if unit == "drops" else 1.0, _grams_per_ml(percent)
        grams, water_kg = strength * ml, (_density(percent) - strength) * ml / 1000.0
    elif unit == "pinches":
        bulk = sum(powder(name).bulk_g_ml * share for name, share in Blend(parts).parts.items())
        grams = jar_value("pinch_volume") * bulk
    tool_sd, each_sd = _tool(unit, counted=drops_per_ml is not None)
    return Titrant(
        unit=unit,
        grams_per_unit=grams,
        mol_per_unit={name: grams * float(mol) for name, mol in blend_per_gram(parts).items()},
        water_kg_per_unit=water_kg,
        scale_sd=float(np.hypot(made_sd, tool_sd)),
        each_sd=each_sd,
        same_powder=same_powder,
    )


def _tool(unit: str, *, counted: bool) -> tuple[float, tuple[float, float]]:
    """Standard deviations of what adds: relative of all, and absolute and relative of each."""
    if unit == "g":
        spread = reading_spread("mass", "fine-scale")
        return spread.sd_relative, (spread.sd_absolute, 0.0)
    tool = "syringe" if unit == "mL" else unit
    each = (jar_value(f"{tool}_each"), jar_value(f"{tool}_each_share"))
    if unit == "drops" and not counted:
        return reading_spread("drop", "dropper").sd_relative, each
    return jar_value("drops_scale_counted" if unit == "drops" else f"{tool}_scale"), each


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
    if kind_read(by) != "ph":
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
    if titrant.unit in ("drops", "pinches"):
        return 1.0
    # Below 0.05 g a fine scale tells little, below 0.1 mL a syringe.
    steps = (1.0, 0.5, 0.2, 0.1) if titrant.unit == "mL" else (0.5, 0.2, 0.1, 0.05)
    return next((step for step in steps if aim >= LEAST_STEPS * step), steps[-1])


def drops_holding(grams: float, percent: float, drops_per_ml: float | None) -> float:
    """Drops of a solution [% by weight] that hold so much powder [g].

    Parameters
    ----------
    grams : float
        Powder [g].
    percent : float
        Of the solution [% by weight].
    drops_per_ml : float or None
        Drops counted into 1 mL; None for a usual dropper.

    Returns
    -------
    float
        Drops, not rounded to whole ones.
    """
    return grams / (_grams_per_ml(percent) * _drop_ml(drops_per_ml))


def _grams_per_ml(percent: float) -> float:
    """Powder in a mL of solution [g]."""
    return _density(percent) * percent / 100.0


def _density(percent: float) -> float:
    """Of a solution where it is made [g/mL]."""
    return float(water_density_kg_l(KITCHEN_C)) + jar_value("solution_density_slope") * percent


def _drop_ml(drops_per_ml: float | None) -> float:
    return typical("drop_volume").value if drops_per_ml is None else 1.0 / drops_per_ml


def word_reading(jar: Jar, view: View, word: str) -> tuple[float, float]:
    """The pH that a colour word in a jar stands for, and its standard deviation.

    Over the pH that the jar may have, and over what is not known of its pigments, the word is as
    likely as its share of the votes.

    Parameters
    ----------
    jar : Jar
        With colour in it.
    view : View
        How it is looked at.
    word : str
        One of `indicator.words.colour_words`.

    Returns
    -------
    tuple of float
        [pH].

    Raises
    ------
    ValueError
        If the jar hardly shows that word at any pH.
    """
    bath = assemble(jar.inputs).bath
    strengths = {which: float(strength) for which, strength in bath.strengths.items()}
    votes = word_certainty(drawn_labs(strengths, SEEN_PH, view), word).mean(axis=0)
    if float(votes.max()) < jar_value("least_seen_word"):
        raise ValueError(say("jar.word-never", {"word": word}))
    share: Array = votes / votes.sum()
    mean = float(share @ SEEN_PH)
    return mean, float(np.sqrt(share @ (SEEN_PH - mean) ** 2))
