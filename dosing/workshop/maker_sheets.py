"""Papers of a product: directions for a bath, and all of them together."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from dosing.bath.assembled import water_l
from dosing.bath.inputs import ColourInputs, TubInputs
from dosing.bottle.steeping import steeping_value
from dosing.ingredients.hardness_units import alkalinity_meq_l
from dosing.ingredients.powders import spoon_words, stirring_minutes
from dosing.ingredients.trade_values import is_basin
from dosing.ingredients.water import WaterReadings
from dosing.plan.answer import preview
from dosing.plan.cautions import GIVEN, Caution, Verdict, exit_code
from dosing.plan.levels import LEVELS
from dosing.plan.records import Plan
from dosing.sachets.rules import strip_pads
from dosing.workshop.assessor_paper import assessor_sheet
from dosing.workshop.batch import BatchAsked, batch
from dosing.workshop.composition import NUMBERS
from dosing.workshop.keeping_paper import keeping_sheet
from dosing.workshop.labels import label_sheets
from dosing.workshop.materials import PERCENT
from dosing.workshop.papers import (
    PaperLine,
    PaperPart,
    PaperSheet,
    Words,
    marked,
    of_gift,
    phrase,
    stopped,
    tide_mark,
    told_of,
    tub_l,
)
from dosing.workshop.product import ProductAnswer
from dosing.workshop.product_file import ProductFile
from dosing.workshop.weigh_paper import weigh_paper
from indicator.notes import Note, Value, sentence
from indicator.tables import value_of

FOR_THE_MAKER = ("colour-", "tap-", "unpreserved", "foam-bath", "out-of-reach", "water-")
"""Beginnings of cautions that are not for the customer, or that the directions say elsewhere."""


def directions(product: ProductFile, plan: Plan) -> PaperSheet:
    """Directions for one bath, with what undoes it.

    Parameters
    ----------
    product : ProductFile
        That is poured.
    plan : Plan
        Of one bath of it.

    Returns
    -------
    PaperSheet
    """
    return PaperSheet(
        name="directions",
        title=product.name,
        about=(*told_of(product, plan), *of_gift(product)),
        tide=tide_mark(plan),
        parts=(
            PaperPart("steps", Note("directions.steps"), tuple(_steps(product, plan))),
            PaperPart("lines", Note("directions.wrong"), tuple(_wrong(plan))),
            PaperPart("lines", Note("directions.mind"), tuple(_care(plan))),
        ),
    )


def _steps(product: ProductFile, plan: Plan) -> Iterator[Words]:
    water = {"volume": tub_l(product, plan), "temperature": plan.temperature_c}
    yield Note("directions.fill", water)
    yield Note("directions.foam", {"ml": product.dose_ml, "baths": product.baths})
    for colour in product.recipe.colours:
        if colour.held_in != "foam bath":
            yield _colour_step(product, colour)
    if plan.jugs is not None:
        too_soft = too_soft_ppm(product)
        if too_soft is not None:
            yield PaperLine(Note("directions.too-soft", {"ppm": too_soft}), bold=True)
        grams, count = product.sachet_g, product.sachets_per_bath
        how = "weighed" if grams is None else "one" if count == 1 else "many"
        told = phrase(f"directions.sachet-{how}", count=count, grams=grams or plan.pour_g)
        verb = "slurry" if plan.jugs.slurry else "dissolve"
        yield PaperLine(
            Note(f"directions.{verb}", {"sachets": told, "jug": plan.jugs.litres}), bold=True
        )
        turned: dict[str, Value] = {"wait": plan.wait_min}
        turned |= {"stir": stirring_minutes(name for name, _ in plan.activator)}
        turned |= {"before": str(plan.before.colour.phrase)}
        yield Note("directions.pour", turned | {"after": str(plan.after.colour.phrase)})
        yield PaperLine(Note("directions.never"), bold=True)
    yield Note("directions.look" if plan.not_for_bathing else "directions.bathe")
    yield Note("directions.drain")


def too_soft_ppm(product: ProductFile) -> float | None:
    """Hardest step of an alkalinity strip at which no sachet is poured.

    That is one step above those at which the sachets are too much: a pad lies between two steps,
    and a dose card counts it as the softer one.

    Parameters
    ----------
    product : ProductFile
        With its sachets.

    Returns
    -------
    float or None
        [mg/L CaCO3]; None where they are too much in no water, or there are none.
    """
    kit_g, too_soft = product.activator_g, None
    if kit_g is None:
        return None
    litres = water_l(product.recipe.tub)
    tub = TubInputs(volume_l=litres, floor_area_cm2=product.recipe.tub.floor_area_cm2)
    for ppm in strip_pads():
        meq_l = float(alkalinity_meq_l(ppm, "ppm"))
        water = WaterReadings(alkalinity_meq_l=meq_l, instrument="strip")
        at_home = replace(product.recipe, water=water, tub=tub)
        too_soft = float(ppm)
        if not preview(at_home, kit_g).forbidden:
            break
    return too_soft if too_soft else None


def _colour_step(product: ProductFile, colour: ColourInputs) -> Note:
    """Pour the colour in, or first steep the petals as the file's brew says."""
    said: dict[str, Value] = {"amount": colour.amount, "unit": colour.amount_unit}
    said |= {"name": colour.colourant.label}
    if product.layout != "dry sachet":
        return Note("directions.colour", said)
    if colour.colourant.kind != "pigment":
        # Nobody weighs out a pinch: its pouch is rinsed out.
        pinch = "-pinch" if colour.amount < value_of(NUMBERS, "least_pinch") else ""
        return Note(f"directions.colour-dye{pinch}", said)
    brew = next(each for each in product.formula.colours if each.colourant == colour.colourant)
    if not brew.percent:
        return Note("directions.colour-dry", said)
    usual = {key: steeping_value(f"usual_{key}") for key in ("temperature", "minutes")}
    warm, minutes = brew.steeped_at_c, brew.steeped_for_min
    said |= {"water": PERCENT * colour.amount / brew.percent}
    said |= {"warm": usual["temperature"] if warm is None else warm}
    return Note(
        "directions.colour-steeped",
        said | {"minutes": usual["minutes"] if minutes is None else minutes},
    )


def _wrong(plan: Plan) -> Iterator[Words]:
    # Half spoons, rounded up; the grams are what those hold.
    halves = math.ceil(2.0 * plan.undo_soda_teaspoons)
    grams = halves / 2.0 / max(plan.undo_soda_teaspoons, 1e-9) * plan.undo_soda_g
    undo: dict[str, Value] = {"spoons": sentence(spoon_words(halves / 2.0)), "grams": grams}
    soda = plan.undo_soda_g > 0
    yield PaperLine(
        Note("directions.undo", undo) if soda else Note("directions.undo-none"), bold=True
    )
    yield Note("directions.eyes")
    yield Note("directions.swallowed")


def _care(plan: Plan) -> Iterator[Words]:
    """Cautions for those who pour and bathe, with the mark and the word of their level."""
    yield Note("directions.foam-care")
    for each in plan.cautions:
        if each.level != "ok" and each.about == "pour" and not each.code.startswith(FOR_THE_MAKER):
            yield PaperLine(marked(each), bold=each.level != "mind")


@dataclass(frozen=True)
class Refused:
    """A market that nothing is printed for."""

    market: str
    verdict: Verdict
    """Of the purpose, or of what a maker has to do for it: pour, and give."""


@dataclass(frozen=True)
class MakerPapers:
    """Papers of a product: those that may be printed, and where others may not."""

    sheets: tuple[PaperSheet, ...]
    refused: tuple[Refused, ...]
    """Markets in which a caution stops it."""
    stops: tuple[Caution, ...]
    """Those cautions."""
    weighed: bool
    """Whether there is a weigh sheet; none where a batch is refused."""

    @property
    def sold(self) -> bool:
        """Whether any of them is for somebody else than the maker."""
        return any(sheet.name == "directions" for sheet in self.sheets)


def papers(answer: ProductAnswer, kits: int, start: date) -> MakerPapers:
    """All papers of a product.

    Parameters
    ----------
    answer : ProductAnswer
        On the product that is made, given or sold.
    kits : int
        Bottles of the batch on its weigh sheet.
    start : date
        First day of its keeping test.

    Returns
    -------
    MakerPapers
        No label of a market in which a caution stops the product, nor where it is neither given
        nor sold; for the maker alone where all of them stop it.
    """
    product = answer.product
    plan = preview(answer.recipe, answer.activator_g)
    # Heavy is a stop, and what needs a reason that nobody wrote.
    heavy = [each for each in (*answer.cautions, *plan.cautions) if exit_code((each,)) != 0]
    each_once = tuple({(each.code, each.message): each for each in heavy}.values())
    weighed = batch(answer, BatchAsked(kits=kits))
    refused = tuple(_refused(answer, plan, fits=all(each.fits for each in weighed.fills)))
    own = [assessor_sheet(answer, plan)]
    # A product that may not be used for its purpose has nothing to weigh.
    own += [weigh_paper(weighed, plan)] if weighed.weighings else []
    markets = [each for each in product.markets if each not in {one.market for one in refused}]
    basin = is_basin(tub_l(product, plan))
    if not markets:
        stopping = tuple(replace(stopped(each, each_once), basin=basin) for each in own)
        return MakerPapers(stopping, refused, each_once, bool(weighed.weighings))
    labels = label_sheets(answer, plan, markets) if product.purpose in GIVEN else []
    sheets = [*labels, directions(product, plan), *own, keeping_sheet(product, plan, start)]
    made = tuple(replace(each, basin=basin) for each in sheets)
    return MakerPapers(made, refused, each_once, bool(weighed.weighings))


def _refused(answer: ProductAnswer, plan: Plan, *, fits: bool) -> Iterator[Refused]:
    """Markets in which it may not be used for its purpose, with the heaviest reason.

    None is open to a sachet that does not fit the plan.
    """
    for market in answer.by_market:
        every = [market.verdicts.of(answer.purpose), market.verdicts.pour, plan.verdicts.pour]
        if answer.purpose in GIVEN:
            every += [market.verdicts.give, plan.verdicts.give]
        worst = max(every, key=lambda each: (not each.allowed, LEVELS.index(each.level)))
        if not worst.allowed:
            yield Refused(market.market, worst)
        elif not fits:
            yield Refused(market.market, Verdict("stop", False, "sachet-too-large"))
