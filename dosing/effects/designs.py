"""Records of a design: colours, dose, pH and cautions, as the desk fills them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from dosing.bath.inputs import RecipeInputs
from dosing.effects.shelf import DROPS_BELOW_ML, Stock
from dosing.ingredients.powders import scale_step
from dosing.ingredients.trade_values import typical
from dosing.plan.cautions import Caution, Verdicts
from dosing.plan.records import Sight
from dosing.plan.rules import permissions
from indicator.notes import Note, listed
from indicator.pigments import Colourant

LISTED = ("no", "unclear", "yes")
"""What a market's list says of a colour, the strictest first."""


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


def market_says(colours: tuple[DesignedColour, ...], market: str) -> str:
    """What a market's list of cosmetic colours says of a design, by its strictest colour.

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


TINGED = 0.15
"""Share of the votes for another word from which a colour is said to be tinged with it."""
MOSTLY = 0.5
"""Share of the votes of names with the very word in them, below which people may say another."""
HARDLY = 0.4
"""Share of the draws below which a design will hardly come out."""


@dataclass(frozen=True)
class WordSight:
    """Certainty that a colour has the wished word."""

    certainty: float
    """Share of the votes of a crowd's names for it, 0 to 1; of an exact colour how near it is."""
    called: float | None
    """Share of the votes of names with that very word in them; None of an exact colour."""
    votes: tuple[tuple[str, float], ...]
    """Every plain word with its share, the surest first."""
    shade: str | None = None
    """A maker's word that many would use instead, such as olive."""
    word: str | None = None
    """The wished word; None where it is not the plain word of the colour, or a hex was wished."""

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
class Design:
    """A way to an effect, in grams and millilitres."""

    inputs: RecipeInputs
    """The recipe that it is; its wished pH leads to the same dose."""
    colours: tuple[DesignedColour, ...]
    activator: tuple[tuple[str, float], ...]
    """Powder and its mass share."""
    dose_g: float
    before: Sight
    after: Sight
    ph_acid_side: float
    ph_alkaline_side: float
    past_limit_share: float
    """Share of the possible tubs whose pH passes what the cautions let pass, as a plan tells it."""
    change_delta_e: float
    start_met: bool
    end_met: bool
    start_words: WordSight
    end_words: WordSight
    start_delta_e: float | None
    """CIEDE2000 from the wished colour, where one exact colour was wished."""
    end_delta_e: float | None
    sure_share: float
    """Share of the draws of what is not known of the pigments in which both wishes hold."""
    tubs_share: float
    """Share of the possible tubs that end in the wished colour."""
    level: str
    """Caution level of its pH."""
    cautions: tuple[Caution, ...]
    """Those of a plan of it, the heaviest first."""
    verdicts: Verdicts
    """Whether it may be poured, given and sold."""
    cost: float
    notes: tuple[Note, ...]
    price: float | None
    """What it costs, where something has a price."""
    unpriced: tuple[str, ...]
    """What of it has none, in words."""

    @property
    def colourants(self) -> tuple[Colourant, ...]:
        """Its colours, without amounts."""
        return tuple(colour.colourant for colour in self.colours)

    @property
    def ph_before(self) -> float:
        """Of the tub before."""
        return self.before.ph

    @property
    def ph_after(self) -> float:
        """Of the tub after the dose."""
        return self.after.ph

    @property
    def not_for_bathing(self) -> bool:
        """Whether it was judged with nobody in the tub."""
        return self.inputs.wish.bathers == "nobody"

    @property
    def pour_g(self) -> float:
        """The dose as a kitchen scale shows it, rounded down so that no gate is passed [g]."""
        step = scale_step(self.dose_g)
        return math.floor(self.dose_g / step + 1e-9) * step

    @property
    def hardly(self) -> bool:
        """Whether it will hardly come out, as far as its pigments are known."""
        return self.sure_share < HARDLY

    @property
    def reached(self) -> bool:
        """Whether both ends are as wished; cautions let every design pass that there is."""
        return self.start_met and self.end_met


def labels(design: Design) -> str:
    """Names of the colours of a design, in words."""
    return listed([colour.colourant.label for colour in design.colours])
