"""The product file: formula, bottle, packs and prices of what a maker sells, in core units.

Its tables are read as a recipe's are; the bath that one dose of it makes is a recipe, so that
plans, sachets and cards work from a product.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from dosing.bath.inputs import RecipeInputs
from dosing.effects.prices import price_per_gram
from dosing.ingredients.powders import powder, powder_names
from dosing.ingredients.trade_values import typical
from dosing.recipe import quantities as q
from dosing.recipe import recipe_from
from dosing.recipe.files import text_of
from dosing.recipe.names import known_colourant, parts_by_powder
from dosing.recipe.quantities.units import unit_of
from dosing.recipe.reading import LARGEST_FILE_BYTES, beside, first_error, near, toml_tables
from dosing.workshop.composition import Formula, Ingredient, OwnMaterial, ProductColour
from dosing.workshop.materials import (
    PERCENT,
    Substance,
    materials_by_name,
    name_key,
    substances,
)
from dosing.workshop.product_tables import (
    BrewTable,
    ChallengeTest,
    DyeTable,
    MaterialTable,
    Pack,
    ProductTables,
    Seller,
    SubstanceTable,
)
from indicator.pigments import Pigments, own_pigments
from indicator.tables import read_text

DEMOS = ("soak", "green", "basin")
KIND = "product"
ADDED = '{ benzoate-sorbate = "1 %" }'
"""For instance."""
LAYOUTS = ("foam bath", "own bottle", "dry sachet")
"""Where the colour is kept until the bath: in the foam bath, in a bottle of its own, or as dry
petals in a sachet."""
MOST_LOSS = 0.5
"""Share of a batch that may be lost."""
WITHIN_PERCENT = 0.05
"""How far the shares of a formula may miss 100 % by rounding."""


@dataclass(frozen=True)
class Price:
    """Costs of a batch and price of a kit, in one currency."""

    currency: str
    per_gram: Mapping[str, float]
    """Name of a material, plant, dye or powder to the price of a gram."""
    labour_per_hour: float | None
    hours_per_batch: float | None
    loss: float
    """Share that is lost, 0 to 1."""
    fee: float
    """Share of the selling price that a market place or a card takes, 0 to 1."""
    sells_at: float | None


@dataclass(frozen=True)
class ColourPack:
    """Pack of a colour that stands beside the bottle."""

    name: str
    """Of its brew or dye."""
    label: str
    """Of its plant or dye."""
    content: float
    """In `unit`; a brew is taken as water."""
    unit: str
    """``"mL"`` of liquid or ``"g"`` of petals."""
    dried: bool
    """Whether it is a dried plant, to be steeped."""
    in_kit: int
    """Such packs in a kit."""
    for_baths: int
    """Baths that one is for."""


@dataclass(frozen=True)
class ProductFile:
    """A maker's product in core units."""

    name: str
    edition: str | None
    markets: tuple[str, ...]
    purpose: str
    bathers: str | None
    child_age_years: float | None
    fill_ml: float
    """In one bottle [mL]."""
    baths: int
    """That a bottle is for."""
    density_g_ml: float
    ph: float | None
    """Of the foam bath, as read."""
    ph_read_with: str | None
    challenge_tests: tuple[ChallengeTest, ...]
    """Those that were passed."""
    layout: str
    """One of `LAYOUTS`."""
    formula: Formula
    sachet_g: float | None
    """Activator in one sachet [g]."""
    sachets_per_bath: int
    activator_pack: str | None
    activator_lots: Mapping[str, str]
    packs: tuple[Pack, ...]
    price: Price | None
    seller: Seller
    recipe: RecipeInputs
    """The bath that one dose of it makes."""
    recipe_tables: Mapping[str, Any] = field(metadata={"working": True})
    """The same as the tables of a recipe file."""

    @property
    def dose_ml(self) -> float:
        """Foam bath for one bath [mL]."""
        return self.fill_ml / self.baths

    @property
    def dose_g(self) -> float:
        """Foam bath for one bath [g]."""
        return self.dose_ml * self.density_g_ml

    @property
    def colour_packs(self) -> tuple[ColourPack, ...]:
        """Packs beside the bottle: of each colour that is not in the foam bath."""
        pairs = zip(self.formula.colours, self.recipe.colours, strict=True)
        return tuple(
            self.colour_pack(place)
            for place, (colour, _) in enumerate(pairs)
            if not self.formula.share_percent(colour.name)
        )

    def colour_pack(self, place: int) -> ColourPack:
        """Pack of the colour at a place of the formula."""
        colour, inputs = self.formula.colours[place], self.recipe.colours[place]
        amount = inputs.amount
        if inputs.amount_unit == "drops":
            amount *= typical("drop_volume").value
        of = colour.name, colour.colourant.label
        if inputs.amount_unit == "g" and self.layout == "dry sachet":
            dried = colour.colourant.kind == "pigment"
            return ColourPack(*of, amount, "g", dried, in_kit=self.baths, for_baths=1)
        if inputs.amount_unit == "g" and colour.percent:
            # What is said in petals is brewed for its bottle.
            amount *= PERCENT / colour.percent
        return ColourPack(*of, amount * self.baths, "mL", False, in_kit=1, for_baths=self.baths)

    @property
    def activator_g(self) -> float | None:
        """Activator for one bath [g]."""
        return None if self.sachet_g is None else self.sachet_g * self.sachets_per_bath


def load_product(path: str | Path, pigments: Pigments | None = None) -> ProductFile:
    """Product in a file, in core units.

    Parameters
    ----------
    path : str or Path
        A TOML file.
    pigments : Pigments, optional
        What the maker can name; the shipped ones and those of the usual own folder if not given.

    Returns
    -------
    ProductFile

    Raises
    ------
    InputError
        If the file cannot be read or is no product; one sentence names field and value.
    """
    file = Path(path)
    tables = toml_tables(text_of(file, KIND, LARGEST_FILE_BYTES), file, KIND)
    return product_from(beside(tables, file.parent, ("brew", "dye")), pigments)


def demo_product(name: str = "soak", pigments: Pigments | None = None) -> ProductFile:
    """One of the embedded demo products; their numbers are invented.

    Parameters
    ----------
    name : {"soak", "green", "basin"}
        A soak from blue to violet, a green start, or a child's foot basin.
    pigments : Pigments, optional
        As in `load_product`.

    Returns
    -------
    ProductFile

    Raises
    ------
    InputError
        If there is no such demo.
    """
    return product_from(toml_tables(demo_product_text(name), name, KIND), pigments)


def demo_product_text(name: str) -> str:
    """Text of a demo product, with its comments.

    Raises
    ------
    InputError
        If there is no such demo.
    """
    if name not in DEMOS:
        raise q.refuse("error.choice", "demo", name, ", ".join(DEMOS), hint=near(name, DEMOS))
    return read_text(f"demo/products/{name}.toml")


def product_from(content: Mapping[str, Any], pigments: Pigments | None = None) -> ProductFile:
    """Product from what a TOML file holds, in core units; parameters and errors as `load_product`.

    Parameters
    ----------
    content : mapping
        Tables of the file.
    pigments : Pigments, optional
        As in `load_product`.

    Returns
    -------
    ProductFile
    """
    try:
        tables = ProductTables.model_validate(content)
    except ValidationError as error:
        raise first_error(error, content, KIND) from None
    return _product(tables, content, own_pigments() if pigments is None else pigments)


def _product(tables: ProductTables, written: Mapping[str, Any], pigments: Pigments) -> ProductFile:
    formula = _formula(tables, pigments)
    _check_ounces(tables, written)
    density = tables.bottle.density_g_ml or typical("foam_bath_density").value
    fill_ml = tables.bottle.fill.value
    if tables.bottle.fill.kind == "mass":
        fill_ml /= density
    if fill_ml <= 0:
        raise q.refuse("error.positive", "bottle.fill", written["bottle"]["fill"], '"240 mL"')
    _check_ph(tables, formula)
    _check_layout(tables, formula)
    if tables.colour.layout == "dry sachet":
        _check_dry(len(tables.brew), _colour_rows(written), formula)
    _check_packs(tables)
    _check_tests(tables)
    dose_ml = fill_ml / tables.bottle.baths
    sachet_g = _sachet_g(tables)
    bath = _bath_tables(tables, written, formula, (dose_ml, density))
    return ProductFile(
        name=tables.name,
        edition=tables.edition,
        markets=tuple(dict.fromkeys(tables.markets)),
        purpose=tables.purpose,
        bathers=tables.bathers,
        child_age_years=tables.child_age_years,
        fill_ml=fill_ml,
        baths=tables.bottle.baths,
        density_g_ml=density,
        ph=tables.bottle.ph,
        ph_read_with=tables.bottle.ph_read_with,
        challenge_tests=tuple(tables.challenge_test),
        layout=tables.colour.layout,
        formula=formula,
        sachet_g=sachet_g,
        sachets_per_bath=tables.activator.sachets_per_bath,
        activator_pack=tables.activator.pack,
        activator_lots=_lots(tables),
        packs=tuple(tables.pack),
        price=_price(tables, formula, pigments),
        seller=tables.seller,
        recipe=_bath(bath, tables, pigments),
        recipe_tables=bath,
    )


def _check_ounces(tables: ProductTables, written: Mapping[str, Any]) -> None:
    """Refuse an ounce of which nobody says whether it is a weight or a volume."""
    fill, said = tables.bottle.fill, str(written["bottle"]["fill"])
    ounce = unit_of("ounce")
    if ounce and fill.kind == "mass" and re.search(r"\b(oz|ounces?)\b", said.casefold()):
        either = f'"{fill.value / ounce.factor:.3g} fl oz", "{fill.value:.3g} g"'
        raise q.refuse("error.bare-ounce", "bottle.fill", said, either)


def _formula(tables: ProductTables, pigments: Pigments) -> Formula:
    brews = [_colour(row, f"brew[{at}]", pigments) for at, row in enumerate(tables.brew, start=1)]
    dyes = [_colour(row, f"dye[{at}]", pigments) for at, row in enumerate(tables.dye, start=1)]
    colours = (*brews, *dyes)
    names = [name_key(row.name) for row in tables.substance]
    names += [colour.name for colour in colours] + [name_key(row.name) for row in tables.material]
    for name in names:
        if names.count(name) > 1:
            raise q.refuse("error.name-twice", "name", name, "")
    own_rows: Mapping[str, Sequence[SubstanceTable | MaterialTable]]
    own_rows = {"substance": tables.substance, "material": tables.material}
    for table, rows in own_rows.items():
        for number, row in enumerate(rows, start=1):
            if name_key(row.name) in _shipped():
                raise q.refuse("error.name-taken", f"{table}[{number}].name", row.name, "")
    for colour in colours:
        # A brew may be called as its plant is.
        if _shipped().get(colour.name, colour.colourant.family) != colour.colourant.family:
            raise q.refuse("error.name-taken", "name", colour.name, "")
    materials = tuple(
        _own_material(row, f"material[{number}].made_of", names)
        for number, row in enumerate(tables.material, start=1)
    )
    lines = tables.ingredient
    shares = _shares([row.share for row in lines], "ingredient")
    ingredients = tuple(
        Ingredient(
            stage=row.stage,
            use=_known(row.use, f"ingredient[{number}].use", names),
            share_percent=share,
            lot=row.lot,
            is_rest=row.share is None,
        )
        for number, (row, share) in enumerate(zip(lines, shares, strict=True), start=1)
    )
    own = tuple(_own_substance(row, at) for at, row in enumerate(tables.substance, start=1))
    return Formula(ingredients, _with_added(colours, tables.brew, names), materials, own)


def _own_substance(row: SubstanceTable, number: int) -> Substance:
    # Under another name its acid and its limits would not count.
    known = [each.name for each in substances().values() if row.cas and row.cas == each.cas]
    if known:
        place = f"substance[{number}].cas"
        raise q.refuse("error.substance-known", place, row.cas, "", known=known[0])
    charge, _, surfactant = row.does.partition(" ")
    return Substance(
        name=name_key(row.name),
        inci=row.name,
        cas=row.cas or "",
        function=surfactant or row.does,
        surfactant=charge if surfactant else "",
        source="own",
        confidence="OWN",
    )


def _colour(row: BrewTable | DyeTable, place: str, pigments: Pigments) -> ProductColour:
    if isinstance(row, BrewTable):
        which = known_colourant(row.pigment, f"{place}.pigment", "pigment", pigments)
    else:
        which = known_colourant(row.dye, f"{place}.dye", "dye", pigments)
    return ProductColour(
        name=name_key(row.name or which.name),
        colourant=which,
        amount=row.amount,
        strength=row.strength,
        lot=row.lot,
        preserved=row.preserved,
        ph=row.ph if isinstance(row, BrewTable) else None,
        steeped_at_c=row.steeped_at_c if isinstance(row, BrewTable) else None,
        steeped_for_min=row.steeped_for_min if isinstance(row, BrewTable) else None,
    )


def _with_added(
    colours: Sequence[ProductColour], brews: Sequence[BrewTable], names: Sequence[str]
) -> tuple[ProductColour, ...]:
    """The colours with what else stands in the bottles of their brews."""
    whole = list(colours)
    for at, row in enumerate(brews):
        place = f"brew[{at + 1}]"
        if row.ph is not None and row.ph_read_with == "strip":
            raise q.refuse("error.strip-of-dyed", f"{place}.ph", row.ph, "")
        added = {_known(part, f"{place}.added", names): share for part, share in row.added.items()}
        if None in added.values() or sum(filter(None, added.values())) >= PERCENT:
            raise q.refuse("error.added", f"{place}.added", ", ".join(row.added), ADDED)
        said = tuple((part, share) for part, share in added.items() if share is not None)
        whole[at] = replace(whole[at], added=said)
    return tuple(whole)


def _own_material(row: MaterialTable, place: str, names: Sequence[str]) -> OwnMaterial:
    made_of = None
    if row.made_of is not None:
        # What stands above it only, so that no blend can be made of itself.
        before = names[: names.index(name_key(row.name))]
        shares = _shares(list(row.made_of.values()), place)
        parts = (_known(part, place, before) for part in row.made_of)
        made_of = tuple(zip(parts, shares, strict=True))
    return OwnMaterial(name_key(row.name), made_of, row.ph, row.use_level, row.solids)


def _shares(written: Sequence[float | None], place: str) -> list[float]:
    """Shares that come to 100 %, with that of the rest."""
    if sum(share is None for share in written) > 1:
        raise q.refuse("error.two-rest", place, "rest", "")
    given = sum(share for share in written if share is not None)
    if None in written:
        if given >= PERCENT:
            raise q.refuse("error.no-rest-left", place, given, "", percent=given)
        return [PERCENT - given if share is None else share for share in written]
    # A rounding of the sum itself is no reason to refuse it.
    if abs(given - PERCENT) > WITHIN_PERCENT + 1e-9:
        raise q.refuse("error.shares-sum", place, given, "", percent=given)
    return [share for share in written if share is not None]


def _known(written: str, place: str, own: Sequence[str]) -> str:
    """Name of a material, a brew, a dye or an own material."""
    known = _shipped() | {name: name for name in own}
    key = name_key(written)
    if key not in known:
        raise q.refuse("error.material", place, written, "", hint=near(key, list(known)))
    return known[key]


def _shipped() -> dict[str, str]:
    """Names that the tables know, each with that of its row."""
    known = {name: name for name in (*substances(), *powder_names())}
    return known | {name: row.name for name, row in materials_by_name().items()}


def _check_ph(tables: ProductTables, formula: Formula) -> None:
    """Refuse what a strip shows in a coloured liquid."""
    dyed = any(formula.share_percent(colour.name) > 0 for colour in formula.colours)
    if tables.bottle.ph is not None and tables.bottle.ph_read_with == "strip" and dyed:
        raise q.refuse("error.strip-of-dyed", "bottle.ph", tables.bottle.ph, "")


def _check_layout(tables: ProductTables, formula: Formula) -> None:
    """Every colour has one place: in the formula, or beside it with an amount for a bath."""
    for colour in formula.colours:
        inside, beside = formula.share_percent(colour.name) > 0, colour.amount is not None
        if inside == beside:
            code = "error.colour-twice" if inside else "error.colour-nowhere"
            raise q.refuse(code, "brew", colour.name, "")
        in_foam = tables.colour.layout == "foam bath"
        if colour.colourant.kind == "pigment" and inside != in_foam:
            code = "error.layout-inside" if inside else "error.layout-beside"
            raise q.refuse(code, "colour.layout", tables.colour.layout, "", colour=colour.name)


def _colour_rows(written: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Tables of brews and dyes as written, in the order of the formula's colours."""
    return [*written.get("brew", ()), *written.get("dye", ())]


def _check_dry(brews: int, rows: Sequence[Mapping[str, Any]], formula: Formula) -> None:
    """Refuse a liquid in a sachet that keeps dry; a brew in mL is told by its petals."""
    for at, (row, colour) in enumerate(zip(rows, formula.colours, strict=True)):
        amount, percent = colour.amount, colour.percent
        steeped = colour.colourant.kind == "pigment" and percent is not None
        if amount is None or amount.kind not in ("volume", "drops"):
            continue
        if amount.kind == "volume" and steeped:
            continue
        known = percent is not None and colour.strength is not None
        ml = amount.value * (typical("drop_volume").value if amount.kind == "drops" else 1.0)
        told = f"{ml * (percent or 0.0) / PERCENT:.3g}" if known else "0.1"
        place = f"brew[{at + 1}]" if at < brews else f"dye[{at + 1 - brews}]"
        raise q.refuse("error.liquid-dry", f"{place}.amount", row["amount"], f'"{told} g"')


def _check_packs(tables: ProductTables) -> None:
    """Refuse an activator that is packed with the liquid."""
    of_liquid = {name_key(pack.name) for pack in tables.pack if pack.each == "bottle"} | {"bottle"}
    if name_key(tables.activator.pack or "") in of_liquid:
        raise q.refuse("error.one-container", "activator.pack", tables.activator.pack, "")


def _check_tests(tables: ProductTables) -> None:
    """Refuse a test of what is no bottle of the product, and one that is still to come."""
    bottles = ["foam bath", *(name_key(row.name) for row in tables.brew)]
    for number, row in enumerate(tables.challenge_test, start=1):
        place = f"challenge_test[{number}]"
        if row.of not in bottles and name_key(row.of) not in bottles:
            raise q.refuse("error.choice", f"{place}.of", row.of, ", ".join(bottles), hint="")
        if row.passed > date.today().isoformat():
            raise q.refuse("error.later", f"{place}.passed", row.passed, "")


def _sachet_g(tables: ProductTables) -> float | None:
    if tables.activator.sachet is None:
        return None
    parts = {"citric-acid-anhydrous": 1.0}
    if tables.activator.parts is not None:
        parts = tables.activator.parts.by_powder
    grams = q.powder_mass(tables.activator.sachet, parts, "activator.sachet").value
    if grams <= 0:
        raise q.refuse("error.positive", "activator.sachet", tables.activator.sachet, '"14 g"')
    return grams


def _lots(tables: ProductTables) -> dict[str, str]:
    return {
        next(iter(parts_by_powder({name: 1.0}, "activator.lots").by_powder)): lot
        for name, lot in tables.activator.lots.items()
    }


def _price(tables: ProductTables, formula: Formula, pigments: Pigments) -> Price | None:
    price = tables.price
    if price is None:
        return None
    costs: dict[str, float] = {}
    for name, text in price.costs.items():
        per_gram = price_per_gram(text, f"price.costs.{name}")
        costs |= dict.fromkeys(_priced(name, formula, pigments), per_gram)
    for key, share, most in (("loss", price.loss, MOST_LOSS), ("fee", price.fee, 1.0)):
        if share is not None and share >= most:
            told, percent = f"{PERCENT * share:g} %", f"{PERCENT * most:g} %"
            raise q.refuse("error.less-than", f"price.{key}", told, percent)
    return Price(
        currency=price.currency,
        per_gram=costs,
        labour_per_hour=price.labour,
        hours_per_batch=price.hours_per_batch,
        loss=price.loss or 0.0,
        fee=price.fee or 0.0,
        sells_at=price.sells_at,
    )


def _priced(written: str, formula: Formula, pigments: Pigments) -> set[str]:
    """Names under which a batch weighs what has a price: a powder may be a substance as well."""
    colours = {each.name: each.colourant.name for each in formula.colours}
    key, priced = name_key(written), set()
    with suppress(ValueError):
        priced.add(powder(key).name)
    if not priced or key in _shipped():
        own = [*colours, *(each.name for each in formula.materials), *pigments.names]
        known = _known(written, "price.costs", [*own, *powder_names()])
        priced |= {known, colours.get(known, known)}
    return priced


def _bath(bath: Mapping[str, Any], tables: ProductTables, pigments: Pigments) -> RecipeInputs:
    try:
        return recipe_from(bath, tables.name, pigments)
    except q.InputError as error:
        raise _as_written(error, len(tables.brew)) from None


def _bath_tables(
    tables: ProductTables,
    written: Mapping[str, Any],
    formula: Formula,
    dose: tuple[float, float],
) -> dict[str, Any]:
    """The bath of one dose [mL] of a density [g/mL], as tables of a recipe."""
    dose_ml, density = dose
    active = formula.surfactants_percent()
    rows = _colour_rows(written)
    bottle = written["bottle"]
    foam = {key: bottle[key] for key in ("ph", "titratable") if key in bottle}
    foam |= {
        "amount": f"{dose_ml:.9g} mL",
        "surfactants": {kind: f"{percent * density:.4f} %" for kind, percent in active.items()},
    }
    poured = ("parts", "pouring", "poured", "weighed_with")
    given = written.get("activator", {})
    wish = {key: written[key] for key in ("bathers", "child_age", "target") if key in written}
    card = {"edition": written.get("edition"), "url": tables.seller.url}
    card |= {"sachet": given.get("sachet")} | dict(written.get("card", {}))
    return {
        "schema": 1,
        "title": tables.name,
        "tub": written.get("tub", {}),
        "water": written.get("water", {}),
        "foam_bath": foam,
        "colour": [
            _colour_of_bath(row, colour, formula, dose_ml * density, tables.colour.layout)
            for row, colour in zip(rows, formula.colours, strict=True)
        ],
        "activator": {key: given[key] for key in poured if key in given},
        "wish": {**wish, "purpose": tables.purpose, "market": tables.markets[0]},
        "card": {key: text for key, text in card.items() if text is not None},
    }


def _as_written(error: q.InputError, brews: int) -> q.InputError:
    """A refusal of the bath under the names that the product file has for its tables."""
    of_colour = re.match(r"colour(?:\[(\d+)\])?", error.field)
    if of_colour is None:
        field = re.sub("^foam_bath", "bottle", error.field)
    else:
        number = int(of_colour[1] or 1)
        name = f"brew[{number}]" if number <= brews else f"dye[{number - brews}]"
        field = name + error.field[of_colour.end() :]
    code, values = error.sentence or ("", {})
    return q.refuse(code, field, error.value, error.accepted, **values) if code else error


def _colour_of_bath(
    row: Mapping[str, Any], colour: ProductColour, formula: Formula, dose_g: float, layout: str
) -> dict[str, Any]:
    """A brew or a dye as the recipe of a bath has it."""
    said = (colour.colourant.kind, "strength", "steeped_at", "steeped_for")
    table = {key: row[key] for key in said if key in row}
    inside_g = dose_g * formula.share_percent(colour.name) / PERCENT
    if inside_g > 0:
        # A brew and a dye solution are as heavy as water; a dye without strength is powder.
        powder = colour.colourant.kind == "dye" and colour.strength is None
        amount = f"{inside_g:.9g} {'g' if powder else 'mL'}"
        return table | {
            "amount": amount,
            "held_in": "foam bath",
            "preserved": bool(formula.preservatives_percent()),
        }
    dry = layout == "dry sachet" and colour.colourant.kind == "pigment"
    amount = row["amount"]
    if dry and colour.amount is not None and colour.amount.kind == "volume":
        amount = f"{colour.amount.value * (colour.percent or 0.0) / PERCENT:.9g} g"
    preserved = colour.preserved or bool(formula.bottled(colour).preservatives_percent())
    return table | {"amount": amount, "preserved": preserved}
