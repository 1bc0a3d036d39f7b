"""Composition of a formula: blends and infusions opened into their substances, active matter."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from dosing.recipe import quantities as q
from dosing.workshop.materials import PERCENT, WATER, Substance, parts_of, substances
from indicator.colourants import Colourant
from indicator.tables import value_of

NUMBERS = "trade/workshop.csv"
NOT_OPENED = ""
"""Stands for what nobody has said of a blend or a plant."""


@dataclass(frozen=True)
class Ingredient:
    """A line of the formula."""

    stage: int
    use: str
    """Name of a material, a brew, a dye or an own material."""
    share_percent: float
    """Of the product by weight [%]."""
    lot: str | None
    is_rest: bool = False
    """Whether it is what the others leave."""


@dataclass(frozen=True)
class ProductColour:
    """A brew or a dye of the product."""

    name: str
    colourant: Colourant
    amount: q.Amount | None
    """For one bath, where it is kept beside the foam bath."""
    strength: q.ColourStrength | None
    lot: str | None
    preserved: bool
    """Whether its own bottle is said to be preserved."""
    added: tuple[tuple[str, float], ...] = ()
    """Materials in its own bottle beside the brew, with their shares [%]."""
    ph: float | None = None
    """Of its own bottle, as read."""
    steeped_at_c: float | None = None
    """Of the water that a brew steeps in [°C]; None for the usual."""
    steeped_for_min: float | None = None
    """[min]; None for the usual."""

    @property
    def percent(self) -> float | None:
        """Dried petals, or dye powder, in 100 mL of it [% w/v]; None where nobody knows."""
        if self.strength is None:
            dye = self.colourant.kind == "dye"
            return PERCENT if dye else value_of("trade/typical.csv", "usual_infusion_percent")
        if self.strength.kind == "percent":
            return self.strength.value
        usual = self.colourant.per_percent
        return None if usual is None else self.strength.value / usual.best


@dataclass(frozen=True)
class OwnMaterial:
    """A material described by the maker."""

    name: str
    made_of: tuple[tuple[str, float], ...] | None
    """Substance, material or own material to its share [%]; None where its sheet does not say."""
    ph: float | None
    use_level_percent: tuple[float, float] | None
    solids: float | None
    """Share that is not water, 0 to 1."""


@dataclass(frozen=True)
class Formula:
    """A foam bath as it is weighed in, in the maker's order, and what its materials are."""

    ingredients: tuple[Ingredient, ...]
    colours: tuple[ProductColour, ...]
    materials: tuple[OwnMaterial, ...]
    own_substances: tuple[Substance, ...] = ()
    """Those of the maker's suppliers, of which no limit is known."""

    @property
    def substances(self) -> dict[str, Substance]:
        """Substances by their names, those of the maker too."""
        return substances() | {each.name: each for each in self.own_substances}

    @property
    def not_judged(self) -> tuple[str, ...]:
        """Label names of the maker's substances that are in it."""
        held = self.substances_percent()
        return tuple(each.inci for each in self.own_substances if each.name in held)

    def colour_named(self, use: str) -> ProductColour | None:
        """Brew or dye of that name; None where it is a material."""
        return next((each for each in self.colours if each.name == use), None)

    def bottled(self, colour: ProductColour) -> Formula:
        """Contents of a brew's own bottle."""
        brew = PERCENT - sum(share for _, share in colour.added)
        lines = ((colour.name, brew), *colour.added)
        return replace(self, ingredients=tuple(Ingredient(1, *line, None) for line in lines))

    def own_named(self, use: str) -> OwnMaterial | None:
        """Own material of that name; None where it is a shipped one."""
        return next((each for each in self.materials if each.name == use), None)

    def share_percent(self, use: str) -> float:
        """All that is taken of a material, a brew or a dye [% of the product]."""
        return sum(each.share_percent for each in self.ingredients if each.use == use)

    @property
    def not_opened(self) -> tuple[str, ...]:
        """Ingredients of which nobody has said all that is in them."""
        uses = dict.fromkeys(each.use for each in self.ingredients)
        return tuple(use for use in uses if NOT_OPENED in opened(self, use))

    def materials_percent(self) -> dict[str, float]:
        """Materials to their shares of the product [%], those of own materials opened."""
        total: dict[str, float] = {}
        left = [(each.use, each.share_percent) for each in self.ingredients]
        while left:
            use, percent = left.pop(0)
            own = self.own_named(use)
            parts = () if own is None or own.made_of is None else own.made_of
            left += [(part, percent * share / PERCENT) for part, share in parts]
            if not parts:
                total[use] = total.get(use, 0.0) + percent
        return total

    def substances_percent(self) -> dict[str, float]:
        """Substance to its share of the product [%]; what was not opened under `NOT_OPENED`."""
        total: dict[str, float] = {}
        for each in self.ingredients:
            for name, percent in opened(self, each.use).items():
                total[name] = total.get(name, 0.0) + percent * each.share_percent / PERCENT
        return total

    def preservatives_percent(self) -> dict[str, float]:
        """Preservatives to their shares of the product [%]."""
        known = self.substances
        return {
            name: percent
            for name, percent in self.substances_percent().items()
            if name in known and known[name].function == "preservative"
        }

    def surfactants_percent(self) -> dict[str, float]:
        """Charge class to the active surfactant matter of the product [%]."""
        active: dict[str, float] = {}
        known = self.substances
        for name, percent in self.substances_percent().items():
            charge = known[name].surfactant if name in known else ""
            if charge:
                active[charge] = active.get(charge, 0.0) + percent
        return active


def opened(formula: Formula, use: str) -> Mapping[str, float]:
    """Substances of one ingredient.

    Parameters
    ----------
    formula : Formula
        That it belongs to.
    use : str
        Its name.

    Returns
    -------
    mapping of str to float
        Substance to its share [%]; what nobody has said stands under `NOT_OPENED`.
    """
    colour = formula.colour_named(use)
    if colour is not None:
        return _brewed(colour)
    own = formula.own_named(use)
    if own is None:
        return parts_of(use) or {use: PERCENT}
    if own.made_of is None:
        return {NOT_OPENED: PERCENT}
    whole: dict[str, float] = {}
    for part, share in own.made_of:
        for name, percent in opened(formula, part).items():
            whole[name] = whole.get(name, 0.0) + share * percent / PERCENT
    return whole


def _brewed(colour: ProductColour) -> Mapping[str, float]:
    """An infusion is water and what the petals gave it; a dye solution water and dye."""
    family, percent = colour.colourant.family, colour.percent
    if percent is None or family not in substances():
        return {NOT_OPENED: PERCENT}
    gives = 1.0 if colour.colourant.kind == "dye" else value_of(NUMBERS, "extract_of_petals")
    dissolved = min(percent * gives, PERCENT)
    parts = {family: dissolved, WATER: PERCENT - dissolved}
    return {name: share for name, share in parts.items() if share > 0}


@dataclass(frozen=True)
class CompositionRow:
    """A substance of a product."""

    part: str
    """``"foam bath"``, ``"activator"``, or the name of a colour that stands beside it."""
    substance: str
    """Key in ``data/trade/substances.csv``, or of a substance of the maker."""
    inci: str
    """Its name on a label."""
    inci_us: str
    """Its name on a label in the US."""
    cas: str
    """Registry number; empty where none is usual."""
    function: str
    percent: float
    """Of that part by weight [%]."""
    mg_per_l: float
    """In the tub [mg/L]."""


def composition_rows(
    part: str,
    shares: Mapping[str, float],
    mg_per_l: float,
    own: Iterable[Substance] = (),
) -> tuple[CompositionRow, ...]:
    """Substances of a part of a product, the most of them first.

    Parameters
    ----------
    part : str
        Of the product.
    shares : mapping of str to float
        Substance to its share of the part [%].
    mg_per_l : float
        The whole part in the tub [mg/L].
    own : iterable of Substance
        Those of the maker.

    Returns
    -------
    tuple of CompositionRow
        What nobody opened is left out.
    """
    rows = []
    known = substances() | {each.name: each for each in own}
    for name, percent in sorted(shares.items(), key=lambda each: -each[1]):
        row = known.get(name)
        if row is not None:
            rows.append(
                CompositionRow(
                    part=part,
                    substance=name,
                    inci=row.inci,
                    inci_us=row.inci_us or row.inci,
                    cas=row.cas,
                    function=row.function,
                    percent=percent,
                    mg_per_l=percent / PERCENT * mg_per_l,
                )
            )
    return tuple(rows)


def label_list(rows: Iterable[CompositionRow], *, us: bool = False) -> tuple[str, ...]:
    """Names of a list of ingredients: in falling order, colours last.

    Parameters
    ----------
    rows : iterable of CompositionRow
        Of one part of a product.
    us : bool
        Whether names are those of the US.

    Returns
    -------
    tuple of str
        Each once. What is 1 % or less may stand in any order behind the rest (21 CFR 701.3(f),
        Regulation (EC) 1223/2009 Article 19); falling order is one.
    """
    falling = sorted(rows, key=lambda row: (row.function == "colour", -row.percent))
    return tuple(dict.fromkeys(row.inci_us if us else row.inci for row in falling))
