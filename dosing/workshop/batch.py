"""Weigh sheet of a batch: stages, brews, activator, fills, rounding, cost and the lines to sign."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from dosing.bottle.steeping import Steeping, steep, steepable
from dosing.ingredients.powders import Blend, kitchen_round_g, powder, scale_floor_g, scale_step
from dosing.plan.cautions import Caution, Verdict
from dosing.recipe.quantities import InputError, mass_g, share
from dosing.workshop.composition import NUMBERS, ProductColour
from dosing.workshop.costs import KitCost, kit_cost
from dosing.workshop.fills import PackFill, pack_fill
from dosing.workshop.materials import PERCENT
from dosing.workshop.product import FOAM_BATH, ProductAnswer
from dosing.workshop.product_file import MOST_LOSS, ColourPack, ProductFile
from dosing.workshop.product_tables import Pack
from dosing.workshop.weighing import Rounding, Weighing, rounding, weigh
from indicator.notes import Value, say
from indicator.tables import Sourced, read_table, value_of

EUROPE = frozenset({"EU", "UK"})
"""Markets whose rule of underfill is read."""
USUAL_BOTTLES = 24
LEAST_ROOM_ML = 1.0
"""Above what is filled into a bottle; with less it is full to the brim."""
LEAST_STEP_G, MOST_STEP_G = 0.001, 100.0
"""Of a balance."""
KG_G = 1000.0


@dataclass(frozen=True)
class BatchAsked:
    """Size of a batch, and the balance that it is weighed on."""

    kits: int | None = None
    """Bottles, each with what belongs to it; None where the mass is asked for."""
    makes_g: float | None = None
    """The whole batch [g]; None where kits are asked for."""
    balance_g: float = 1.0
    """Step of the balance [g]."""
    loss: float | None = None
    """Share that stays in pots, 0 to 1; that of the product, or the usual one, if not given."""

    @classmethod
    def typed(
        cls, bottles: int | None, kilograms: float | None, balance: str, overage: str | None
    ) -> BatchAsked:
        """A batch as a maker asks for it.

        Parameters
        ----------
        bottles : int or None
            How many; `USUAL_BOTTLES` where no mass is asked for either.
        kilograms : float or None
            Mass of the whole batch, in place of bottles [kg].
        balance : str
            Step of the balance, with its unit.
        overage : str or None
            Share that stays in pots; that of the product if None.

        Returns
        -------
        BatchAsked

        Raises
        ------
        InputError
            If one of them cannot be used.
        """
        if bottles is not None and kilograms is not None:
            raise InputError(say("batch.bottles-and-kilograms"), "bottles", bottles)
        if kilograms is not None and not kilograms > 0:
            raise InputError(say("batch.error.kilograms", {"value": kilograms}), "kilograms")
        step_g = mass_g(balance, "balance")
        if not LEAST_STEP_G <= step_g <= MOST_STEP_G:
            raise InputError(say("batch.error.balance", {"value": balance}), "balance")
        loss = None if overage is None else share(overage, "overage")
        if loss is not None and loss >= MOST_LOSS:
            raise InputError(say("batch.error.overage", {"value": str(overage)}), "overage")
        if kilograms is not None:
            return cls(None, KG_G * kilograms, step_g, loss)
        return cls(USUAL_BOTTLES if bottles is None else bottles, None, step_g, loss)


@dataclass(frozen=True)
class BatchColour:
    """A brew, a dye or dry petals of a batch."""

    name: str
    label: str
    """Of the plant or dye."""
    plant: bool
    """Whether it is a plant, dried."""
    lot: str | None
    place: str
    """``"foam bath"``, ``"own bottle"`` or ``"dry sachet"``."""
    stage: int | None
    """At which it goes into the foam bath; None where it stands beside it."""
    makes_g: float
    """Brew or solution for the batch, the loss counted in [g]; 0 for what stays dry."""
    added_g: tuple[tuple[str, float], ...]
    """Materials that are stirred into it in its own bottle, on the balance's step [g]."""
    exact_g: float
    """Petals or powder for the batch [g]."""
    dry_g: float
    """The same on the balance's step; a pinch on a finer one [g]."""
    each_g: float
    """Brew, solution or petals in one pack beside the bottle [g]; 0 in the foam bath."""
    packs: int
    """Packs beside the bottles."""
    steeping: Steeping | None
    """How a brew is made, and how much of it drains off; None for what is not steeped."""


@dataclass(frozen=True)
class BatchPowder:
    """A powder of the activator."""

    powder: str
    label: str
    lot: str | None
    per_sachet_g: float
    """Of the mixed activator [g]."""
    batch_g: float
    """The loss counted in, on the balance's step [g]."""


@dataclass(frozen=True)
class RecordLine(Sourced):
    """A line of a batch's record that is filled in by hand: a row of the table of such lines."""

    group: str
    """``"head"``, ``"start"``, ``"stage"`` (each), ``"control"``, ``"pack"`` or ``"release"``."""
    name: str
    kind: str
    """``"line"``, ``"number"`` or ``"tick"``."""


@dataclass(frozen=True)
class SmallPack:
    """A pack that holds less than is filled into it."""

    name: str
    size_ml: float
    needs_ml: float
    """It has to hold more than this [mL]."""


@dataclass(frozen=True)
class TightFill:
    """A pack whose mean and most lie too close together for the balance."""

    fill: PackFill
    most_nominal_g: float
    """Largest content that can be filled on this balance; 0 where none can [g]."""
    finer_g: float
    """Step of the balance that would do; NaN where none on the market of workshops does [g]."""


@dataclass(frozen=True)
class WeighSheet:
    """Weigh sheet of a batch; empty where the product may not be used for its purpose."""

    name: str
    edition: str | None
    purpose: str
    allowed: bool
    """Whether it may be made for its purpose."""
    why_not: tuple[Caution, ...]
    """Cautions that forbid it, in `left_out` or altogether."""
    left_out: tuple[str, ...]
    """Markets in which it may not be used for its purpose, so that the sheet is not for them."""
    verdict: Verdict
    """Of its purpose."""
    kits: int
    fill_ml: float
    filled_g: float
    """In all bottles [g]."""
    makes_g: float
    """Weighed in [g]."""
    loss: float
    """Share that is made over and above, 0 to 1."""
    weighings: tuple[Weighing, ...]
    colours: tuple[BatchColour, ...]
    powders: tuple[BatchPowder, ...]
    fills: tuple[PackFill, ...]
    small_packs: tuple[SmallPack, ...]
    """Packs that hold less than is filled into them."""
    full_packs: tuple[str, ...]
    """Packs that are full to the brim."""
    no_pack: tuple[str, ...]
    """Colours in a bottle of their own for which the file has no pack of known size."""
    rounding: Rounding | None
    cost: KitCost | None
    no_lot: tuple[str, ...]
    """Ingredients whose lot is not written down."""
    record: tuple[RecordLine, ...]
    answer_on: ProductAnswer = field(metadata={"working": "on the product"})

    @property
    def left_g(self) -> float:
        """Too little for another bottle [g]."""
        return max(self.makes_g * (1.0 - self.loss) - self.filled_g, 0.0)

    @property
    def coarse_fills(self) -> tuple[tuple[PackFill, float], ...]:
        """Packs too small to be weighed one by one on the balance, and the step that would do [g].

        NaN where no balance of a small workshop does.
        """
        step = 0.0 if self.rounding is None else self.rounding.step_g
        twice = 2.0 * value_of(NUMBERS, "most_fill_rounding")
        weighed_out = (each for each in self.fills if each.unit == "g")
        return tuple(
            (
                each,
                math.nan
                if twice * each.nominal_g < LEAST_STEP_G
                else 10.0 ** math.floor(math.log10(twice * each.nominal_g)),
            )
            for each in weighed_out
            if step > twice * each.nominal_g
        )

    @property
    def tight_fills(self) -> tuple[TightFill, ...]:
        """Packs that cannot be filled between their mean and their most on the balance."""
        if self.rounding is None:
            return ()
        finer = {each.pack: step for each, step in self.coarse_fills if not each.of and step > 0}
        steps = [(each, finer.get(each.pack, self.rounding.step_g)) for each in self.fills]
        return tuple(
            TightFill(each, max(each.room_g(step), 0.0), _finer_g(each, step))
            for each, step in steps
            if each.nominal_g > each.room_g(step) + 1e-9
        )

    @property
    def ph_moves(self) -> bool:
        """Whether rounding may move the pH by more than a batch should."""
        moved = math.nan if self.rounding is None else abs(self.rounding.ph_shift)
        return moved > value_of(NUMBERS, "most_ph_rounding")

    @property
    def stages(self) -> tuple[tuple[int, tuple[Weighing, ...]], ...]:
        """Stages with what is weighed in each, in their order."""
        numbers = sorted({each.stage for each in self.weighings})
        return tuple(
            (number, tuple(each for each in self.weighings if each.stage == number))
            for number in numbers
        )


def batch(product: ProductAnswer, asked: BatchAsked) -> WeighSheet:
    """Weigh sheet of a batch of a product.

    Parameters
    ----------
    product : ProductAnswer
        As `dosing.workshop.assess` gives it.
    asked : BatchAsked
        How much, on which balance.

    Returns
    -------
    WeighSheet
        Without weighings where the product may not be used for its purpose.

    Raises
    ------
    InputError
        If the batch does not fill one bottle, or fills too many.
    """
    open_to = product.open_markets
    file = replace(product.product, markets=open_to or product.product.markets)
    loss = _loss(file, asked)
    fill_g = file.fill_ml * file.density_g_ml
    kits, makes_g = _size(asked, fill_g, loss)
    fills = tuple(_fills(file, kits, product))
    forbidden = not (open_to and all(fill.fits for fill in fills))
    sheet = WeighSheet(
        name=file.name,
        edition=file.edition,
        purpose=file.purpose,
        allowed=not forbidden,
        why_not=_why_not(product),
        left_out=product.shut_markets if open_to else (),
        verdict=product.verdicts.of(file.purpose),
        kits=kits,
        fill_ml=file.fill_ml,
        filled_g=kits * fill_g,
        makes_g=makes_g,
        loss=loss,
        weighings=(),
        colours=(),
        powders=(),
        fills=fills,
        small_packs=(*_small_bottles(file), *_small_colours(file)),
        full_packs=tuple(name for name, room_ml in _bottles(file) if 0 <= room_ml < LEAST_ROOM_ML),
        no_pack=tuple(_without_pack(file)),
        rounding=None,
        cost=None,
        no_lot=(),
        record=read_table("trade/batch_record.csv", RecordLine),
        answer_on=product,
    )
    return sheet if forbidden else _weighed(sheet, file, asked.balance_g)


def _loss(file: ProductFile, asked: BatchAsked) -> float:
    if asked.loss is not None:
        return asked.loss
    said = file.price is not None and file.price.loss > 0
    return file.price.loss if said and file.price else value_of(NUMBERS, "batch_loss")


def _size(asked: BatchAsked, fill_g: float, loss: float) -> tuple[int, float]:
    """Kits, and the mass that fills them or that was asked for [g]."""
    if asked.makes_g is None:
        kits = 1 if asked.kits is None else asked.kits
        makes_g = kits * fill_g / (1.0 - loss)
    else:
        makes_g = asked.makes_g
        kits = math.floor(makes_g * (1.0 - loss) / fill_g + 1e-9)
    most = int(value_of(NUMBERS, "most_kits"))
    if not 1 <= kits <= most:
        values: dict[str, Value] = {"kits": kits, "most": most, "fill_g": fill_g}
        said = "bottles" if asked.makes_g is None else "kilograms"
        values["asked"] = said if asked.makes_g is None else f"{said} {asked.makes_g / 1000.0:g}"
        raise InputError(say("batch.error.size", values), said, kits)
    return kits, makes_g


def _why_not(product: ProductAnswer) -> tuple[Caution, ...]:
    """Cautions that stand against the product's purpose."""
    if product.allowed:
        return ()
    heavy = [each for each in product.cautions if each.level in ("stop", "justify")]
    return tuple(heavy)


def _bottles(file: ProductFile) -> Iterator[tuple[str, float]]:
    """Bottles of known size, each with the room above the foam bath [mL]."""
    for pack in file.packs:
        if pack.each == "bottle" and pack.size_ml is not None:
            yield pack.name, pack.size_ml - file.fill_ml


def _small_bottles(file: ProductFile) -> Iterator[SmallPack]:
    for pack in file.packs:
        if pack.each == "bottle" and pack.size_ml is not None and pack.size_ml < file.fill_ml:
            yield SmallPack(pack.name, pack.size_ml, file.fill_ml)


def _small_colours(file: ProductFile) -> Iterator[SmallPack]:
    """Packs of a kit that no colour fits, each beside the smallest colour left over."""
    homeless, spare = _housed(file)
    for colour, pack in zip(homeless, spare, strict=False):
        yield SmallPack(pack.name, pack.size_ml or 0.0, colour.content)


def _without_pack(file: ProductFile) -> Iterator[str]:
    """Colours in bottles of their own beyond those for which a kit has a pack of known size."""
    homeless, spare = _housed(file)
    yield from (colour.label for colour in homeless[len(spare) :])


def _housed(file: ProductFile) -> tuple[list[ColourPack], list[Pack]]:
    """Colours for which a kit has no pack that is large enough, and its packs left over."""
    if not file.packs:
        return [], []
    spare = [pack for pack in file.packs if pack.each == "kit" and pack.size_ml]
    spare.sort(key=lambda pack: pack.size_ml or 0.0)
    homeless = []
    bottled = [pack for pack in file.colour_packs if pack.unit == "mL"]
    for colour in sorted(bottled, key=lambda each: each.content):
        fitting = next((pack for pack in spare if (pack.size_ml or 0.0) > colour.content), None)
        if fitting is None:
            homeless.append(colour)
        else:
            spare.remove(fitting)
    return homeless, spare


def _finer_g(fill: PackFill, step_g: float) -> float:
    """Next finer step on which a pack can be filled [g]; NaN where none of a balance will do."""
    finer_g = step_g / 10.0
    while finer_g >= LEAST_STEP_G - 1e-9:
        if fill.nominal_g <= fill.room_g(finer_g) + 1e-9:
            return finer_g
        finer_g /= 10.0
    return math.nan


def _fills(file: ProductFile, kits: int, answer: ProductAnswer) -> Iterator[PackFill]:
    law_known = frozenset(file.markets) <= EUROPE
    yield pack_fill(
        "bottle", kits, file.fill_ml, "mL", density_g_ml=file.density_g_ml, law_known=law_known
    )
    if file.sachet_g is not None:
        count = kits * file.baths * file.sachets_per_bath
        most_g = answer.most_sachet_g
        yield pack_fill("sachet", count, file.sachet_g, "g", most_g=most_g, law_known=law_known)
    for pack in file.colour_packs:
        count = kits * pack.in_kit
        yield pack_fill(
            "colour", count, pack.content, pack.unit, of=pack.label, law_known=law_known
        )


def _weighed(sheet: WeighSheet, file: ProductFile, step_g: float) -> WeighSheet:
    """The sheet with all that is weighed, and what it costs."""
    weighings = weigh(file, sheet.makes_g, step_g)
    colours = tuple(_colours(file, sheet, weighings, step_g))
    powders = tuple(_powders(file, sheet, step_g))
    named = {colour.name for colour in file.formula.colours}
    contents: dict[str, float] = {}
    for each in weighings:
        if each.use not in named:
            contents[each.use] = contents.get(each.use, 0.0) + each.weigh_g
    for made in colours:
        for use, grams in made.added_g:
            contents[use] = contents.get(use, 0.0) + grams
    dry: dict[str, float] = {}
    for colour, made in zip(file.formula.colours, colours, strict=True):
        dry[colour.colourant.name] = dry.get(colour.colourant.name, 0.0) + made.dry_g
    lots = [(each.label, each.lot) for each in weighings if each.use not in named | {"water"}]
    lots += [(made.label, made.lot) for made in colours]
    lots += [(each.label, each.lot) for each in powders]
    return replace(
        sheet,
        weighings=weighings,
        colours=colours,
        powders=powders,
        rounding=rounding(file, weighings, {made.label: made.exact_g for made in colours}, step_g),
        cost=kit_cost(
            file, sheet.kits, contents, dry, {each.powder: each.batch_g for each in powders}
        ),
        no_lot=tuple(dict.fromkeys(label for label, lot in lots if not lot)),
    )


def _colours(
    file: ProductFile, sheet: WeighSheet, weighings: tuple[Weighing, ...], step_g: float
) -> Iterator[BatchColour]:
    for place, colour in enumerate(file.formula.colours):
        inside = [each for each in weighings if each.use == colour.name]
        pack = file.colour_pack(place)
        if inside:
            made_g, each_g, packs = sum(each.weigh_g for each in inside), 0.0, 0
        else:
            each_g, packs = pack.content, sheet.kits * pack.in_kit
            made_g = each_g * packs / (1.0 - sheet.loss)
        pigment = colour.colourant.kind == "pigment"
        dry = not inside and pack.unit == "g"
        added = {} if inside or dry else dict(colour.added)
        liquid_g = made_g * (1.0 - sum(added.values()) / PERCENT)
        exact_g = liquid_g * (1.0 if dry else (colour.percent or 0.0) / PERCENT)
        yield BatchColour(
            name=colour.name,
            label=colour.colourant.label,
            plant=pigment,
            lot=colour.lot,
            place=FOAM_BATH if inside else file.layout,
            stage=min((each.stage for each in inside), default=None),
            makes_g=0.0 if dry else liquid_g,
            # Never rounded past a limit.
            added_g=tuple(
                (use, scale_floor_g(made_g * share / PERCENT, step_g))
                for use, share in added.items()
            ),
            exact_g=exact_g,
            # A pinch is not rounded away.
            dry_g=float(kitchen_round_g(exact_g, min(step_g, scale_step(exact_g)))),
            each_g=each_g,
            packs=packs,
            steeping=None if dry else _steeping(colour, liquid_g),
        )


def _steeping(colour: ProductColour, makes_g: float) -> Steeping | None:
    if not steepable(colour.colourant) or colour.percent is None or makes_g <= 0:
        return None
    return steep(
        colour.colourant,
        petals_percent=colour.percent,
        makes_g=makes_g,
        temperature_c=colour.steeped_at_c,
        minutes=colour.steeped_for_min,
    )


def _powders(file: ProductFile, sheet: WeighSheet, step_g: float) -> Iterator[BatchPowder]:
    if file.sachet_g is None:
        return
    count = sheet.kits * file.baths * file.sachets_per_bath
    shares = Blend(file.recipe.activator.parts).parts
    for name, part in shares.items():
        exact = part * file.sachet_g * count / (1.0 - sheet.loss)
        yield BatchPowder(
            powder=name,
            label=powder(name).label,
            lot=file.activator_lots.get(name),
            per_sachet_g=part * file.sachet_g,
            batch_g=float(kitchen_round_g(exact, step_g)),
        )
