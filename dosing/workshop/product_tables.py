"""Tables and keys of the product file, and how each is read.

What each key means stands in ``data/text/product_keys.toml``; tub, water, activator and card are
the tables of a recipe.
"""

from __future__ import annotations

import re
from datetime import date
from functools import partial
from typing import Annotated, Any, Literal

from pydantic import Field

from dosing.recipe import models, names
from dosing.recipe import quantities as q
from dosing.recipe.models import FileTable, Line, ReadAs, Text, WordChoice

PERCENT = 100.0
REST = "rest"
_MOST = 1000
_LABOUR = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:/|per)\s*h(?:our)?")
_SPAN = re.compile(r"(\S+?)\s*%?\s*(?:to|-)\s*(\S+\s*%)")


def _share_or_rest(written: object, place: str) -> float | None:
    """A share [%]; None for what the other shares leave."""
    if isinstance(written, str) and written.strip().casefold() == REST:
        return None
    return PERCENT * q.share(written, place)


def _whole(least: int) -> ReadAs:
    """Reader of a whole number from `least` to `_MOST`."""

    def read(written: object, place: str) -> int:
        if isinstance(written, bool) or not isinstance(written, int):
            raise q.refuse("error.whole", place, written, f"{least} to {_MOST}")
        if not least <= written <= _MOST:
            raise q.refuse("error.whole", place, written, f"{least} to {_MOST}")
        return written

    return ReadAs(read, Any)


def _labour(written: str, place: str) -> float:
    match = _LABOUR.fullmatch(written.strip())
    if match is None:
        raise q.refuse("error.unreadable", place, written, '"18 /h"')
    return q.money(match[1].replace(",", "."), place)


def _use_level(written: str, place: str) -> tuple[float, float]:
    """A range of shares such as "5 to 20 %" [%]."""
    match = _SPAN.fullmatch(written.strip())
    if match is None:
        raise q.refuse("error.unreadable", place, written, '"5 to 20 %"')
    low, high = (PERCENT * q.share(text, place) for text in (f"{match[1]} %", match[2]))
    if low > high:
        raise q.refuse("error.unreadable", place, written, '"5 to 20 %"')
    return low, high


PastDay = Annotated[str, ReadAs(partial(names.calendar_day, example='"2026-08-03"'), date | Text)]
Share = Annotated[float | None, ReadAs(_share_or_rest, models.Number)]
Money = Annotated[float, ReadAs(q.money, models.Number)]
Density = Annotated[float, ReadAs(q.density_g_ml)]
Layout = Annotated[Literal["foam bath", "own bottle", "dry sachet"], WordChoice()]
Each = Annotated[Literal["bottle", "sachet", "bath", "kit"], WordChoice()]
Does = Literal[
    "anionic surfactant",
    "amphoteric surfactant",
    "non-ionic surfactant",
    "cationic surfactant",
    "humectant",
    "thickener",
    "chelator",
    "emollient",
    "perfume",
    "other",
]
"""What a substance of the maker's own is in for; one that preserves, colours or sets the pH has to
be in the tables, as its limits and its pH count."""
Reader = Annotated[Literal["meter", "strip"], WordChoice()]


class BottleTable(FileTable):
    """The bottle of foam bath, its pH and what was titrated."""

    fill: models.Amount
    baths: Annotated[int, _whole(1)] = 1
    density_g_ml: Density | None = None
    ph: models.PH | None = None
    ph_read_with: Reader | None = None
    titratable_meq_kg: models.MeqPerKilogram | None = None


class ChallengeTest(FileTable):
    """A challenge test of a bottle that was passed (ISO 11930)."""

    of: Text = "foam bath"
    passed: PastDay
    edition: Line
    ph: models.PH


class ColourPlaceTable(FileTable):
    """Where the colour is kept."""

    layout: Layout = "foam bath"


class BrewTable(FileTable):
    """A plant colour, steeped."""

    name: Text
    pigment: models.NameOrFile
    strength: models.Strength | None = None
    steeped_at_c: models.SteepCelsius | None = None
    steeped_for_min: models.SteepMinutes | None = None
    amount: models.ColourAmount | None = None
    preserved: bool = False
    added: dict[str, Share] = Field(default={})
    ph: models.PH | None = None
    ph_read_with: Reader | None = None
    lot: Line | None = None


class DyeTable(FileTable):
    """A dye whose colour does not follow the pH."""

    name: Text | None = None
    dye: models.NameOrFile
    strength: models.Strength | None = None
    amount: models.ColourAmount | None = None
    preserved: bool = False
    lot: Line | None = None


class MaterialTable(FileTable):
    """A material of the maker's own, from its supplier's sheet."""

    name: Text
    made_of: dict[str, Share] | None = None
    ph: models.PH | None = None
    use_level: Annotated[tuple[float, float], ReadAs(_use_level)] | None = None
    solids: models.Share | None = None


class SubstanceTable(FileTable):
    """A substance that the tables do not know, from its supplier's sheet."""

    name: Line
    does: Annotated[Does, WordChoice()]
    cas: Line | None = None


class IngredientTable(FileTable):
    """A line of the formula."""

    stage: Annotated[int, _whole(1)] = 1
    use: Text
    share: Share
    lot: Line | None = None


class SachetedTable(models.ActivatorTable):
    """The activator, its sachet and its pack."""

    sachet: Text | None = None
    sachets_per_bath: Annotated[int, _whole(1)] = 1
    pack: Line | None = None
    lots: dict[str, Line] = Field(default={})


class Pack(FileTable):
    """A pack and what it costs."""

    name: Line
    each: Each
    cost: Money | None = None
    size_ml: Annotated[float, ReadAs(q.size_ml, models.Number)] | None = Field(
        None, alias="size_mL"
    )


class PriceTable(FileTable):
    """Costs of a batch and price of a kit."""

    currency: Line
    costs: dict[str, Text] = Field(default={})
    labour: Annotated[float, ReadAs(_labour)] | None = None
    hours_per_batch: Money | None = None
    loss: models.Share | None = None
    fee: models.Share | None = None
    sells_at: Money | None = None


class Seller(FileTable):
    """Who sells it."""

    name: Line | None = None
    address: Line | None = None
    url: models.Address | None = None
    contact: Line | None = None


class ProductTables(FileTable):
    """A product: a formula for bottles, an activator, packs, price and seller."""

    schema_version: Annotated[Literal[1], WordChoice()] = Field(1, alias="schema")
    name: Line
    edition: Line | None = None
    markets: list[models.Market] = Field(default=["other"], min_length=1, max_length=4)
    bathers: models.Bathers | None = None
    child_age_years: models.ChildYears | None = None
    purpose: models.Purpose = "sale"
    target: models.Target | None = None
    tub: models.TubTable = models.TubTable()
    water: models.WaterTable = models.WaterTable()
    bottle: BottleTable
    challenge_test: list[ChallengeTest] = Field(default=[], max_length=50)
    colour: ColourPlaceTable = ColourPlaceTable()
    brew: list[BrewTable] = Field(default=[], max_length=models.MOST_COLOURS)
    dye: list[DyeTable] = Field(default=[], max_length=models.MOST_COLOURS)
    substance: list[SubstanceTable] = Field(default=[], max_length=100)
    material: list[MaterialTable] = Field(default=[], max_length=100)
    ingredient: list[IngredientTable] = Field(min_length=1, max_length=100)
    activator: SachetedTable = SachetedTable()
    pack: list[Pack] = Field(default=[], max_length=50)
    price: PriceTable | None = None
    seller: Seller = Seller()
    card: models.CardTable = models.CardTable()
