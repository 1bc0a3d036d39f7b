"""Records of a design: its colours, dose and pH, how surely it is as wished, and its cautions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from dosing.bath.assembled import Setting, sour_meq
from dosing.bath.chalk import Chalked, chalk_note, chalk_of
from dosing.bath.inputs import RecipeInputs
from dosing.bath.jugs import Jugs, jugs_of_pours
from dosing.bath.mixed import colour_at
from dosing.bath.possible_tubs import Possible
from dosing.effects.shelf import DROPS_BELOW_ML, Stock
from dosing.effects.task import ASKED, End, meets
from dosing.ingredients.powders import Blend, powder, scale_floor_g, scale_step
from dosing.ingredients.trade_values import typical
from dosing.plan.case import MIND
from dosing.plan.cautions import Caution, Situation, Verdicts
from dosing.plan.households import elsewhere
from dosing.plan.levels import LEVELS, bath_level, judged_bathers
from dosing.plan.odds import clear_share, named_share
from dosing.plan.pouring import Pouring, with_chalk
from dosing.plan.records import Sight
from dosing.plan.rules import judge, permissions, verdicts
from indicator.appearance import SeenColour, delta_e
from indicator.notes import Note
from indicator.pigments import Colourant
from indicator.spread import drawn_labs
from indicator.srgb import lab_from_hex
from indicator.words import (
    both_certainties,
    certainties,
    colour_words,
    makers_word,
    threshold,
    word_certainty,
)

LISTED = ("no", "unclear", "yes")
"""Say of a market's list on a colour, the strictest first."""


@dataclass(frozen=True)
class DesignedColour:
    """One colour of a design, as it is measured out."""

    colourant: Colourant
    amount_ml: float
    """Infusion or solution for this tub [mL]."""
    stock: Stock
    strength: float
    """In the tub: pH-1 absorbance per cm, or mol/L of a dye."""

    @property
    def name(self) -> str:
        """Key of the colourant."""
        return self.colourant.name

    @property
    def amount(self) -> float:
        """Infusion or solution, in its unit."""
        return self.amount_ml

    @property
    def unit(self) -> str:
        """Unit of the amount."""
        return "mL"

    @property
    def drops(self) -> int | None:
        """Drops of a dye of which so little is taken that they are counted; None of others."""
        if not self.stock.is_dye or self.amount_ml >= DROPS_BELOW_ML:
            return None
        return round(self.amount_ml / typical("drop_volume").value)

    @property
    def grams(self) -> float | None:
        """Dried petals or dye powder [g]; None where only the absorbance of its stock is known."""
        per_l = self.stock.grams_per_l
        return None if per_l is None else per_l * self.amount_ml / 1000.0


def liquid_ml(colours: tuple[DesignedColour, ...]) -> float:
    """Brews and dye solutions of a design together [mL]."""
    return sum(colour.amount_ml for colour in colours)


def sellable(colours: tuple[DesignedColour, ...]) -> bool:
    """Whether those fit a bottle that is sold with one bath."""
    return liquid_ml(colours) <= 1000.0 * typical("bottle_for_sale").value


def market_says(colours: tuple[DesignedColour, ...], market: str) -> str:
    """Say of a market's list of cosmetic colours on a design, by its strictest colour.

    Parameters
    ----------
    colours : tuple of DesignedColour
        Those of the design.
    market : str
        ``"EU"``, ``"UK"`` or ``"US"``.

    Returns
    -------
    str
        ``"yes"``, ``"unclear"`` (also where the tables say nothing) or ``"no"``.
    """
    listed = [
        next((row[1] for row in permissions(colour.colourant) if row[0] == market), "unclear")
        for colour in colours
    ]
    return min(listed, key=LISTED.index)


LEAST_ALKALINITY_MEQ_L = 0.1
TINGED = 0.15
"""Share of the votes for another word from which a colour is said to be tinged with it."""
MOSTLY = 0.5
"""Share of the votes of names with the very word in them, below which people may say another."""
HARDLY = 0.4
"""Share of the draws below which a design will hardly come out."""


@dataclass(frozen=True)
class ColourMatch:
    """Match of a colour with the wish for it."""

    met: bool
    """Whether it is as wished, is seen without looking for it, and is mostly called so."""
    certainty: float
    """Share of the votes of a crowd's names for it, 0 to 1; of an exact colour how near it is."""
    delta_e: float | None
    """CIEDE2000 from an exact colour that was wished."""
    word: str | None
    """The wished word, where it is the plain word of the colour."""
    called: float | None
    """Share of the votes of names with that very word in them; None of an exact colour."""
    votes: tuple[tuple[str, float], ...]
    """Every plain word with its share, the surest first."""
    shade: str | None
    """A maker's word that many would use instead, such as olive."""

    @property
    def rival(self) -> tuple[str, float] | None:
        """Another word that many would give a colour that counts as wished, and its share."""
        other = next((pair for pair in self.votes if pair[0] != self.word), None)
        return other if self.word and other and other[1] >= TINGED else None

    @property
    def seldom_called(self) -> bool:
        """Whether people may use another word for a colour that counts as wished."""
        return bool(self.word) and self.called is not None and self.called < MOSTLY


@dataclass(frozen=True)
class Wishes:
    """Wishes of a design, and the bottles and prices that its verdict is asked by."""

    start: End
    end: End
    stocks: Mapping[Colourant, Stock]
    prices: Mapping[str, float]


@dataclass(frozen=True)
class Design:
    """A mixture in its tub, poured at once: grams, colours, how surely, and what speaks against it.

    What takes long is worked out when it is first asked for.
    """

    wishes: Wishes
    inputs: RecipeInputs
    """The recipe that it is; its wished pH leads to the same dose."""
    setting: Setting
    possible: Possible
    pouring: Pouring
    mixture_cost: float = 0.0
    """Penalty of the mixture by itself, as `dosing.effects.task.Task.cost`."""

    @cached_property
    def colours(self) -> tuple[DesignedColour, ...]:
        """Its colours, as they are measured out."""
        strengths, stock = self.setting.bath.strengths, self.wishes.stocks
        return tuple(
            DesignedColour(which, colour.amount, stock[which], float(strengths[which]))
            for colour in self.inputs.colours
            for which in (colour.colourant,)
        )

    @property
    def colourants(self) -> tuple[Colourant, ...]:
        """Its colours, without amounts."""
        return tuple(colour.colourant for colour in self.inputs.colours)

    @property
    def sellable(self) -> bool:
        """Whether its brews and solutions fit a bottle that is sold with one bath."""
        return sellable(self.colours)

    @property
    def activator(self) -> tuple[tuple[str, float], ...]:
        """Powder and its mass share."""
        return tuple(Blend(self.inputs.activator.parts).parts.items())

    @property
    def dose_g(self) -> float:
        """Activator in the tub [g]."""
        return self.pouring.totals_g[-1]

    @property
    def pour_g(self) -> float:
        """The dose as a kitchen scale shows it, rounded down so that no gate is passed [g]."""
        return scale_floor_g(self.dose_g, scale_step(self.dose_g))

    @cached_property
    def jugs(self) -> Jugs | None:
        """Jugs of tub water that the dose is dissolved in; None where that is not known."""
        return jugs_of_pours(
            self.inputs.activator.parts, self._chalked_pouring.totals_g, self.setting.bath
        )

    @cached_property
    def before(self) -> Sight:
        """The tub before the activator."""
        return self._sight("before", 0.0)

    @cached_property
    def after(self) -> Sight:
        """The tub after the dose."""
        return self._sight("after", self.dose_g)

    def _sight(self, moment: str, grams: float) -> Sight:
        setting = self.setting
        solved = setting.bath.with_activator(grams, setting.per_gram).solve()
        return Sight(moment, float(solved.ph), solved.seen(setting.view))

    @property
    def ph_before(self) -> float:
        """Of the tub before."""
        return self.before.ph

    @property
    def ph_after(self) -> float:
        """Of the tub after the dose."""
        return self.after.ph

    @property
    def ph_acid_side(self) -> float:
        """5 % quantile of the pH over the possible tubs, chalk that may fall out of them."""
        return self._chalked_pouring.final[0]

    @property
    def ph_alkaline_side(self) -> float:
        """95 % quantile of the same."""
        return self._chalked_pouring.final[1]

    @property
    def level(self) -> str:
        """Caution level of its pH."""
        return LEVELS[self._chalked_pouring.level]

    @property
    def past_limit_share(self) -> float:
        """Share of the possible tubs whose pH passes what the cautions let pass, as in a plan."""
        pouring = self._chalked_pouring
        level = bath_level(pouring.ending_ph, pouring.ending_reserve, self._bathers)
        return float(np.mean(level > MIND))

    @property
    def change_delta_e(self) -> float:
        """CIEDE2000 between before and after."""
        return float(delta_e(self.before.colour.lab, self.after.colour.lab))

    @cached_property
    def start(self) -> ColourMatch:
        """Match of the start with its wish."""
        return match(self.wishes.start, self.before.colour)

    @cached_property
    def end(self) -> ColourMatch:
        """Match of the end with its wish, with all the chalk out too."""
        ended, within = match(self.wishes.end, self.after.colour), typical("wished_ph_within").value
        # A written recipe wishes for the pH: that must hold as well.
        kept = all(
            match(self.wishes.end, chalked.colour).met and abs(chalked.ph - self.after.ph) <= within
            for chalked in self._chalk
            if chalked.moment == "after"
        )
        return replace(ended, met=ended.met and kept)

    @property
    def reached(self) -> bool:
        """Whether both ends are as wished; cautions let every design pass that there is."""
        return self.start.met and self.end.met

    @cached_property
    def sure_share(self) -> float:
        """Share of the draws of what is not known of the pigments in which both wishes hold."""
        both_ph = np.array([self.before.ph, self.after.ph])
        draws = drawn_labs(self.setting.bath.strengths, both_ph, self.setting.view)
        start, end = self.wishes.start, self.wishes.end
        return float(np.mean(meets(start, draws[:, 0]) & meets(end, draws[:, 1])))

    @cached_property
    def tubs_share(self) -> float:
        """Share of the possible tubs that end in the wished colour."""
        tubs = self.possible.setting
        ending = colour_at(
            tubs.bath.strengths, self.pouring.ending_ph, tubs.view, tubs.bath.surfactants_g_l
        )
        return float(np.mean(meets(self.wishes.end, ending.lab)))

    @cached_property
    def clear_share(self) -> float:
        """Share of the possible tubs, each with its own petals, that change clearly: the plan's."""
        return clear_share(self.possible, self._chalked_pouring)

    @cached_property
    def named_share(self) -> float:
        """Share of the same that people would call as the tub ends: a plan's."""
        named = named_share(self.possible, str(self.after.colour.word), self._chalked_pouring)
        return named or 0.0

    @property
    def hardly(self) -> bool:
        """Whether it will hardly come out, as far as its pigments are known."""
        return self.sure_share < HARDLY

    @property
    def cost(self) -> float:
        """Penalty with the doubt: a wish that holds for no other petals or tub is not met."""
        return self.mixture_cost + ASKED * ((1.0 - self.sure_share) + (1.0 - self.tubs_share))

    @cached_property
    def cautions(self) -> tuple[Caution, ...]:
        """Those of a plan of it, the heaviest first."""
        return judge(self._situation)

    @property
    def not_for_bathing(self) -> bool:
        """Whether it was judged with nobody in the tub."""
        return self._bathers == "nobody"

    @cached_property
    def verdicts(self) -> Verdicts:
        """Whether it may be poured, given and sold."""
        # What other homes say of the same grams forbids no mixture, but giving it away.
        return verdicts(replace(self._situation, elsewhere=elsewhere(self.inputs, self.dose_g)))

    @property
    def notes(self) -> tuple[Note, ...]:
        """Notes on its chalk, its sour infusions and its colours."""
        chalk = chalk_note(self._chalk, (self.after.ph,))
        return (*filter(None, [chalk]), *_colour_notes(self.inputs, self.setting))

    @property
    def price(self) -> float | None:
        """Cost, where something has a price."""
        return _price(self)[0]

    @property
    def unpriced(self) -> tuple[str, ...]:
        """Parts of it without a price, in words."""
        return _price(self)[1]

    @property
    def _bathers(self) -> str:
        return judged_bathers(self.inputs.wish.bathers)

    @cached_property
    def _chalk(self) -> tuple[Chalked, ...]:
        """The tub with the chalk out, where it may fall."""
        bath = self.setting.bath.with_activator(self.dose_g, self.setting.per_gram)
        return chalk_of(bath.solve(), bath.at_rest(), self.setting.view, bath.air_co2_ppm)

    @cached_property
    def _chalked_pouring(self) -> Pouring:
        return with_chalk(self.pouring, self._bathers) if self._chalk else self.pouring

    @cached_property
    def _situation(self) -> Situation:
        pouring = self._chalked_pouring
        return Situation(
            self.inputs,
            pouring.moments(self.before.ph),
            jugs=() if self.jugs is None else (self.jugs,),
            chalk=bool(self._chalk),
        )


def takes_up_meq(setting: Setting) -> float:
    """Acid that the water of a tub takes up [meq]."""
    alkalinity = max(float(setting.water.alkalinity_meq_l), LEAST_ALKALINITY_MEQ_L)
    return alkalinity * float(setting.bath.volume_l)


def match(wish: End, colour: SeenColour) -> ColourMatch:
    """Match of a colour with a wish, and what else people would call it.

    Parameters
    ----------
    wish : End
        A plain word or an exact colour.
    colour : SeenColour
        A single colour.

    Returns
    -------
    ColourMatch
    """
    lab = colour.patch
    seen = wish.faint or float(colour.visibility_delta_e) >= threshold("visible")
    away = None if wish.hex is None else float(delta_e(lab_from_hex(wish.hex), lab))
    if away is None:
        certainty = float(word_certainty(lab, str(wish.word)))
    else:
        certainty = float(np.exp(-away / typical("same_colour_delta_e").value))
    mostly = wish.word is None or certainty >= typical("least_word_share").value
    votes = zip(colour_words(), map(float, certainties(lab)[0]), strict=True)
    return ColourMatch(
        met=bool(meets(wish, lab)) and seen and mostly,
        certainty=certainty,
        delta_e=away,
        word=wish.word if str(colour.word) == wish.word else None,
        called=None if wish.word is None else float(both_certainties(lab, wish.word)[1]),
        votes=tuple(sorted(votes, key=lambda pair: -pair[1])),
        shade=makers_word(lab),
    )


def _price(design: Design) -> tuple[float | None, tuple[str, ...]]:
    """Cost of the priced parts together, and the parts without a price."""
    prices = design.wishes.prices
    if not prices:
        return None, ()
    masses: dict[str, float | None] = {
        name: share * design.dose_g for name, share in design.activator
    }
    labels = {name: powder(name).label for name in masses}
    masses |= {colour.name: colour.grams for colour in design.colours}
    labels |= {colour.name: colour.colourant.label for colour in design.colours}
    known = {name: mass for name, mass in masses.items() if name in prices and mass is not None}
    price = sum(prices[name] * mass for name, mass in known.items())
    without = tuple(label for name, label in labels.items() if name not in known)
    return (price if known else None), without


def _colour_notes(inputs: RecipeInputs, setting: Setting) -> Iterator[Note]:
    """Acid of the infusions where it is much beside the water's, much brew, and stains."""
    brought = sour_meq(inputs)
    share = sum(brought.values()) / takes_up_meq(setting)
    if share >= typical("own_acid_to_mention").value:
        sourest = max(brought, key=lambda which: brought[which]).label
        yield Note("design.note.own-acid", {"colour": sourest, "share": share}, "colour")
    litres, bottle = (
        sum(colour.volume_l for colour in inputs.colours),
        typical("usual_bottle").value,
    )
    if litres > bottle:
        yield Note("design.note.bottle", {"litres": litres, "bottle": bottle}, "colour")
    for colour in inputs.colours:
        if colour.colourant.stains == "strongly":
            yield Note("design.note.stains", {"colour": colour.colourant.label}, "colour")
