"""Rainbow of jars: one brew, a stock solution or two, and the drops that give each jar its colour.

For a class or a show table, not for bathing. Every jar is filled to one line, so that all hold the
same pigment and differ in their pH alone; each dose that hands can measure is solved, and of those
the jars take the ones whose colours lie evenly along the whole way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import accumulate
from math import ceil

import numpy as np
from numpy.typing import NDArray

from dosing.bath.assembled import Setting, assemble, petals_g
from dosing.bath.inputs import ColourInputs, RecipeInputs, TubInputs, WishInputs
from dosing.bath.mixed import Bath
from dosing.bottle.keeping import soon_gone
from dosing.ingredients.powders import per_gram, powder, solubility_g_per_kg
from dosing.ingredients.trade_values import typical
from indicator.appearance import delta_e
from indicator.colourants import Colourant
from indicator.ladders import Ladder, ladder
from indicator.notes import Note, Value, say
from indicator.optics import View
from indicator.tables import value_of
from indicator.words import colour_family, threshold

Array = NDArray[np.float64]

FEWEST_JARS, MOST_JARS = 2, 60
G_PER_L = 10.0
"""Of one per cent."""
SAME_PH = 0.05
"""Doses that move the pH by less are no new jar."""


@dataclass(frozen=True)
class StockSolution:
    """A powder dissolved in tap water."""

    powder: str
    """Key in ``data/trade/powders.csv``."""
    percent: float
    """Powder as sold in 100 mL of solution [g]."""

    @property
    def label(self) -> str:
        """Name of the powder for people."""
        return powder(self.powder).label

    @property
    def reaction(self) -> str:
        """``"acid"`` or ``"base"``."""
        return powder(self.powder).reaction

    @property
    def caustic(self) -> bool:
        """Whether it burns eyes, so that children do not measure it."""
        return powder(self.powder).remark_key == "carbonate-caustic"


ROOM_C = 22.0
USUAL_STOCKS = (
    StockSolution("citric-acid-anhydrous", 2.5),
    StockSolution("sodium-bicarbonate", 2.5),
)


@dataclass(frozen=True)
class Dose:
    """Dose of a jar, beside brew and water."""

    stock: StockSolution | None
    """Solution of it; None for plain water."""
    drops: int
    """Of the solution; 0 where it is measured in millilitres, or none goes in."""
    millilitres: float
    """Of the solution, in drops or not [mL]."""
    ph: float
    """Of the jar, right after stirring."""


@dataclass(frozen=True)
class RainbowJar:
    """One jar: what goes in, and what is seen."""

    number: int
    answer: Dose
    hex: str
    family: str
    """Family that people count the colour to: magenta is a pink."""
    word: str
    name: str
    """Nearest published name (ISCC-NBS)."""


@dataclass(frozen=True)
class StockNeeded:
    """A stock solution for all jars, with some to spare."""

    answer: StockSolution
    millilitres: float
    """[mL]."""
    grams: float
    """Powder in it [g]."""


@dataclass(frozen=True)
class Brew:
    """A colourant for all jars, with some to spare."""

    label: str
    kind: str
    """``"pigment"`` or ``"dye"``."""
    grams: float
    """Dried petals, or dye as sold [g]."""
    solution_percent: float
    """Of the solution that a dye is kept in, as so little cannot be weighed [g in 100 mL]."""

    @property
    def solution_ml(self) -> float:
        """Of that solution [mL]."""
        return 100.0 * self.grams / self.solution_percent


@dataclass(frozen=True)
class ScriptStep:
    """A step of a lesson."""

    minute: int
    """At which it begins."""
    what: str
    """``"guess"``, ``"fill"``, ``"line_up"``, ``"explain"``, ``"mix"`` or ``"end"``."""


@dataclass(frozen=True)
class Rainbow:
    """Jars from sour to alkaline in even steps of colour."""

    jar_ml: float
    """Line to which each jar is filled [mL]."""
    brew_ml: float
    """Of the brew in each jar [mL]."""
    brews: tuple[Brew, ...]
    doses: tuple[Dose, ...] = field(metadata={"working": True})
    ladder: Ladder = field(metadata={"working": True})
    """Colours of the jars."""
    stocks: tuple[StockSolution, ...]
    """Those at hand."""
    plain_ph: float
    """Of brew and tap water alone."""
    assumptions: tuple[Note, ...]

    @property
    def jars(self) -> tuple[RainbowJar, ...]:
        """Jars, the sourest first."""
        seen = self.ladder.colours
        families = colour_family(seen.word, seen.name)
        parts = zip(self.doses, seen.hex, families, seen.word, seen.name, strict=True)
        return tuple(
            RainbowJar(number, dose, *map(str, colour))
            for number, (dose, *colour) in enumerate(parts, start=1)
        )

    @property
    def alike(self) -> int:
        """Neighbours in the row that look alike side by side."""
        lab = self.ladder.colours.lab
        return int(np.sum(delta_e(lab[:-1], lab[1:]) < threshold("change_subtle")))

    @property
    def soon_gone(self) -> tuple[tuple[str, float], ...]:
        """Colours that are half gone before anyone has looked, and their half-life [min].

        In the jars whose pH the rates of `indicator.fading` are near.
        """
        gone = soon_gone(self.ladder.strengths, self.ladder.ph, ROOM_C)
        return tuple((which.label, minutes) for which, minutes in gone.items())

    @property
    def families(self) -> tuple[str, ...]:
        """Families of colour in the row, each once, from sour to alkaline."""
        return tuple(dict.fromkeys(jar.family for jar in self.jars))

    @property
    def solutions(self) -> tuple[StockNeeded, ...]:
        """Stock solutions to prepare; none of a stock that no jar takes."""
        needed = []
        for stock in self.stocks:
            used = sum(dose.millilitres for dose in self.doses if dose.stock == stock)
            if used > 0:
                made = _rounded_up(used)
                needed.append(StockNeeded(stock, made, made * stock.percent / 100.0))
        return tuple(needed)

    @property
    def brew_total_ml(self) -> float:
        """Brew for all jars, with some to spare [mL]."""
        return _rounded_up(self.brew_ml * len(self.doses))

    @property
    def caustic(self) -> bool:
        """Whether a stock that a jar takes burns eyes."""
        return any(solution.answer.caustic for solution in self.solutions)

    @property
    def script(self) -> tuple[ScriptStep, ...]:
        """A lesson step by step; filling takes the longer the more jars there are."""
        filling = ceil(len(self.doses) * _of("seconds") / 60.0 / _of("hands"))
        lasts = {what: _of(f"{what}_minutes") for what in ("guess", "line_up", "explain", "mix")}
        lasts["fill"] = max(filling, _of("least_filling_minutes"))
        order = ("guess", "fill", "line_up", "explain", "mix")
        starts = accumulate((lasts[what] for what in order), initial=0.0)
        return tuple(map(ScriptStep, map(int, starts), (*order, "end")))


def _rounded_up(millilitres: float) -> float:
    """So much and some to spare, in whole steps [mL]."""
    step = _of("stock_step")
    return step * ceil(_of("spare") * millilitres / step)


def rainbow(
    recipe: RecipeInputs,
    strengths: Mapping[Colourant, float],
    count: int,
    view: View,
    stocks: Sequence[StockSolution] = USUAL_STOCKS,
    ph_ends: tuple[float, float] | None = None,
) -> Rainbow:
    """Doses of stock solutions that give jars of one brew even steps of colour.

    Parameters
    ----------
    recipe : RecipeInputs
        Whose tap water fills the jars.
    strengths : mapping of Colourant to float
        Of each colourant in a filled jar: pH-1 absorbance per cm, or mol/L of a dye.
    count : int
        Jars, from 2 to 60.
    view : View
        How the jars are looked at.
    stocks : sequence of StockSolution
        Solutions at hand, made with the same tap water.
    ph_ends : tuple of float, optional
        Lowest and highest pH of a jar; whatever the solutions reach if not given.

    Returns
    -------
    Rainbow
        Doses and colours of the jars, the sourest first, and what to prepare.

    Raises
    ------
    ValueError
        If a stock is no acid or base or does not dissolve, or the jars are too few or too many.
    """
    for stock in stocks:
        _check(stock)
    setting = filled_jar(recipe, strengths)
    low, high = ph_ends or (-np.inf, np.inf)
    doses = [dose for dose in _doses(setting.bath, stocks) if low <= dose.ph <= high]
    if not FEWEST_JARS <= count <= min(MOST_JARS, len(doses)):
        values = {"value": count, "low": FEWEST_JARS, "high": min(MOST_JARS, len(doses))}
        raise ValueError(
            say(f"rainbow.{'jars' if len(doses) >= FEWEST_JARS else 'no-doses'}", values)
        )
    every = ladder(strengths, [dose.ph for dose in doses], view)
    chosen = _evenly(every.colours.lab, count)
    # Words are steadied along what is seen, not along what is left out.
    drawn = ladder(strengths, every.ph[chosen], view)
    return Rainbow(
        jar_ml=_of("jar"),
        brew_ml=_of("jar") * _of("brew_share"),
        brews=tuple(_brew(colour, count) for colour in _colours(strengths)),
        doses=tuple(doses[k] for k in chosen),
        ladder=drawn,
        stocks=tuple(stocks),
        plain_ph=float(setting.bath.ph),
        assumptions=setting.water.assumptions,
    )


def filled_jar(recipe: RecipeInputs, strengths: Mapping[Colourant, float]) -> Setting:
    """One jar of brew and tap water up to its line, before any stock solution.

    Parameters
    ----------
    recipe : RecipeInputs
        Whose tap water fills it.
    strengths : mapping of Colourant to float
        Of each colourant in the filled jar: pH-1 absorbance per cm, or mol/L of a dye.

    Returns
    -------
    Setting
        At room temperature; nobody bathes in it.
    """
    jar_l = _of("jar") / 1000.0
    return assemble(
        replace(
            recipe,
            tub=TubInputs(volume_l=jar_l * (1.0 - _of("brew_share")), volume_measured=True),
            foam_bath=None,
            colours=tuple(_colours(strengths)),
            water_temperature_c=_of("temperature"),
            wish=WishInputs(view="jar", bathers="nobody", purpose="class"),
        )
    )


def _of(name: str) -> float:
    return value_of("trade/class_jars.csv", name)


def _check(stock: StockSolution) -> None:
    """Refuse a stock solution that moves no pH or cannot be made."""
    most = float(solubility_g_per_kg(stock.powder, _of("temperature")).g_per_kg) / G_PER_L
    values: dict[str, Value] = {"powder": stock.label, "percent": stock.percent, "most": most}
    if stock.reaction == "neutral":
        raise ValueError(say("rainbow.neutral", values))
    if not 0 < stock.percent <= most:
        raise ValueError(say("rainbow.undissolved", values))


def _colours(strengths: Mapping[Colourant, float]) -> list[ColourInputs]:
    """What a jar takes of each colourant, in equal parts of the brew."""
    jar_l = _of("jar") / 1000.0
    brew_l = jar_l * _of("brew_share") / len(strengths)
    return [
        ColourInputs(
            which,
            strength * jar_l,
            1000.0 * brew_l,
            "mL",
            volume_l=brew_l,
            bottle_strength=strength * jar_l / brew_l,
        )
        for which, strength in strengths.items()
    ]


def _doses(bath: Bath, stocks: Sequence[StockSolution]) -> list[Dose]:
    """What hands can measure of each stock, by the pH it leads to, none twice."""
    drops = np.arange(0, _of("most_drops") + 1)
    drop_ml, step_ml = typical("drop_volume").value, _of("millilitre_step")
    most_ml = _of("jar") * _of("most_stock_share")
    syringe = np.arange(drops[-1] * drop_ml + step_ml, most_ml + step_ml / 2, step_ml)
    amounts_ml = np.concatenate([drops * drop_ml, syringe])
    doses = []
    for stock in stocks:
        grams = amounts_ml * stock.percent / 100.0
        reached = bath.with_activator(grams, per_gram(stock.powder)).ph
        for k, (ml, ph) in enumerate(zip(amounts_ml.tolist(), reached.tolist(), strict=True)):
            doses.append(Dose(stock if k else None, k if k < len(drops) else 0, ml, ph))
    apart: list[Dose] = []
    for dose in sorted(doses, key=lambda dose: dose.ph):
        if not apart or dose.ph - apart[-1].ph >= SAME_PH:
            apart.append(dose)
    return apart


def _evenly(lab: Array, count: int) -> list[int]:
    """Places of colours that lie evenly along the way from the first to the last, all different."""
    along = np.concatenate([[0.0], np.cumsum(delta_e(lab[1:], lab[:-1]))])
    chosen: list[int] = []
    for left, wished in zip(range(count, 0, -1), np.linspace(0, along[-1], count), strict=True):
        start = chosen[-1] + 1 if chosen else 0
        away = np.abs(along[start : len(along) - left + 1] - wished)
        chosen.append(start + int(np.argmin(away)))
    return chosen


def _brew(colour: ColourInputs, count: int) -> Brew:
    """Petals or dye for all jars, with some to spare."""
    which = colour.colourant
    grams = petals_g(colour)
    if which.molar_mass is not None and which.content is not None:
        grams = colour.content * which.molar_mass / which.content.best
    return Brew(which.label, which.kind, grams * count * _of("spare"), _of("dye_solution"))
