"""The gallery: the best skin-safe effects over all pigments that ship, worked out beforehand.

``data/trade/gallery.csv`` holds them, for one tub (`gallery_tub`); the script
``tests/reference/build_gallery.py`` makes it with the search of this room.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

from dosing.bath.inputs import RecipeInputs
from dosing.effects.designs import DesignedColour, liquid_ml, market_says, sellable
from dosing.effects.shelf import Shelf, stocks
from dosing.effects.task import End
from dosing.ingredients.powders import scale_floor_g, scale_step
from dosing.ingredients.trade_values import typical
from dosing.plan.records import Plan
from dosing.recipe import demo_recipe
from indicator.pigments import Colourant, colourant
from indicator.tables import Sourced, read_table

TABLE = "trade/gallery.csv"
DEMO = "1"
"""The demo recipe whose tub and water the gallery is for."""
CHILD_AGE_YEARS = 8.0
GALLERY_SEED = 12
MOST_INSTEAD = 3
MARKETS = ("EU", "UK", "US")
"""Those whose lists of cosmetic colours the tables have."""


@dataclass(frozen=True)
class GallerySight:
    """The water before or after, as it is seen."""

    ph: float
    name: str
    """As a person would call the colour."""
    hex: str


@dataclass(frozen=True)
class GalleryEffect(Sourced):
    """One effect of the gallery, a row of its table: what is seen, what is poured, how sure."""

    bathers: str
    """Who may sit in it: ``"adult"`` or ``"child"``."""
    start: str
    """Plain word of the first colour."""
    end: str
    """Plain word of the last colour."""
    mixture: str
    """Colours with their millilitres, as the table has them; `colours` are the same."""
    powder: str
    """Key of the activator."""
    dose_g: float
    """Activator for `volume_l` of the gallery's water [g]."""
    volume_l: float
    ph_before: float
    before_name: str
    """What a person would call the first colour."""
    before_hex: str
    ph_after: float
    after_name: str
    after_hex: str
    ph_acid_side: float
    """5 % quantile of the pH over the possible tubs."""
    ph_alkaline_side: float
    """95 % quantile."""
    change_delta_e: float
    start_votes: float
    """Share of the votes of a crowd's names for the first word, 0 to 1."""
    end_votes: float
    """The same of the last word."""
    sure_share: float
    """Share of the draws of what is not known of the pigments in which both words hold."""
    tubs_share: float
    """Share of the possible tubs that end in the last word."""
    level: str
    """Caution level of its pH."""
    cost: float
    """Penalty by which designs are ranked; less is better."""

    @property
    def colours(self) -> tuple[DesignedColour, ...]:
        """Its colours, as they are measured out."""
        return _measured_out(self.mixture, self.volume_l)

    @property
    def pour_g(self) -> float:
        """The dose as a kitchen scale shows it, rounded down so that no gate is passed [g]."""
        return scale_floor_g(self.dose_g, scale_step(self.dose_g))

    @property
    def before(self) -> GallerySight:
        """The water before the activator."""
        return GallerySight(self.ph_before, self.before_name, self.before_hex)

    @property
    def after(self) -> GallerySight:
        """The water after it."""
        return GallerySight(self.ph_after, self.after_name, self.after_hex)

    @property
    def colourants(self) -> tuple[Colourant, ...]:
        """Its colours, without amounts."""
        return tuple(colour.colourant for colour in self.colours)

    @property
    def liquid_ml(self) -> float:
        """Brews and dye solutions for one bath [mL]."""
        return liquid_ml(self.colours)

    @property
    def sellable(self) -> bool:
        """Whether those fit a bottle that is sold with one bath."""
        return sellable(self.colours)

    @property
    def chance(self) -> float:
        """Share of tubs and of batches of unknown petals in which both words hold, 0 to 1."""
        return self.sure_share * self.tubs_share

    @property
    def rank(self) -> tuple[int, float]:
        """Order in the gallery: a change across the room, of one bottle; then the cost."""
        faint = self.change_delta_e < typical("showy_change").value
        return faint + (self.liquid_ml > 1000.0 * typical("usual_bottle").value), self.cost

    @property
    def markets(self) -> dict[str, str]:
        """Market to what its list of cosmetic colours says: ``yes``, ``unclear`` or ``no``."""
        return {market: market_says(self.colours, market) for market in MARKETS}

    def on(self, shelf: Shelf) -> bool:
        """Whether a shelf has all of it; a shelf without powders has every powder."""
        has_powder = not shelf.powders or self.powder in shelf.powders
        return has_powder and set(self.colourants) <= set(shelf.colours)


@dataclass(frozen=True)
class GalleryDocument:
    """Answer of ``design`` without colours."""

    effects: tuple[GalleryEffect, ...]
    """The best of every pair of words, the surest first."""


def gallery_tub(bathers: str) -> RecipeInputs:
    """Tub, water and foam bath that the gallery is worked out for, without colours.

    Parameters
    ----------
    bathers : str
        ``"adult"`` or ``"child"``.
    """
    inputs = demo_recipe(DEMO)
    age = CHILD_AGE_YEARS if bathers == "child" else None
    wish = replace(inputs.wish, bathers=bathers, child_age_years=age, target=None)
    return replace(inputs, colours=(), wish=wish)


def gallery(
    *, bathers: str | None = None, market: str | None = None, shelf: Shelf | None = None
) -> tuple[GalleryEffect, ...]:
    """Effects that work in the gallery's tub, the best first.

    Parameters
    ----------
    bathers : str, optional
        ``"adult"``, ``"child"`` or ``"nobody"`` (anything that an adult may have); None is judged
        as a child.
    market : str, optional
        ``"EU"``, ``"UK"`` or ``"US"``, where it is to be sold: what that market forbids is left
        out.
    shelf : Shelf, optional
        What there is; None for everything.

    Returns
    -------
    tuple of GalleryEffect
        Of every pair of words the best, over what the shelf has.
    """
    wanted = "adult" if bathers in ("adult", "nobody") else "child"
    best: dict[tuple[str, str], GalleryEffect] = {}
    for effect in every_effect():
        if (
            effect.bathers == wanted
            and (shelf is None or effect.on(shelf))
            and (market not in MARKETS or effect.markets[str(market)] != "no")
        ):
            best.setdefault((effect.start, effect.end), effect)
    return tuple(best.values())


def instead_of(start: End, end: End, bathers: str) -> tuple[GalleryEffect, ...]:
    """Two or three effects that do work, the nearest to a wish first.

    Parameters
    ----------
    start, end : End
        The wish that is not met.
    bathers : str
        As for `gallery`.

    Returns
    -------
    tuple of GalleryEffect
        The same pair with other colours, then pairs that share an end with it, then others.
    """

    def apart(effect: GalleryEffect) -> int:
        return (effect.start != start.word) + (effect.end != end.word)

    return tuple(sorted(gallery(bathers=bathers), key=apart)[:MOST_INSTEAD])


def effects_instead(plan: Plan) -> tuple[GalleryEffect, ...]:
    """Effects that do work, where a plan's colour does not come out as wished; else none."""
    if plan.wish_met or plan.wish.kind not in ("word", "hex", "none"):
        return ()
    start = End("", str(plan.before.colour.word))
    return instead_of(start, End("", plan.wish.word), plan.bathers)


@cache
def every_effect() -> tuple[GalleryEffect, ...]:
    """Every row of the gallery, the best first: several of a pair, and for a child and an adult."""
    return tuple(sorted(read_table(TABLE, GalleryEffect), key=lambda effect: effect.rank))


@cache
def _measured_out(mixture: str, volume_l: float) -> tuple[DesignedColour, ...]:
    """Colours of a mixture as the table has it, in so much water."""
    amounts = {
        colourant(name): float(amount)
        for name, amount in (colour.split(" ") for colour in mixture.split("|"))
    }
    stock = stocks([*amounts], ())
    whole_l = volume_l + sum(amounts.values()) / 1000.0
    return tuple(
        DesignedColour(
            which, ml, stock[which], stock[which].per_cm_or_molar * ml / 1000.0 / whole_l
        )
        for which, ml in amounts.items()
    )
