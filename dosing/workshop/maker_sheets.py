"""Sheets that go with a product: directions, the assessor's sheet and the test of how it keeps."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import colour_at
from dosing.bottle.keeping import keep
from dosing.ingredients.powders import kitchen_round_g, powder, spoon_words, stirring_minutes
from dosing.plan.answer import preview
from dosing.plan.cautions import GIVEN, Caution, Verdict, heaviest_first
from dosing.plan.levels import LEVELS
from dosing.plan.records import Plan
from dosing.workshop.batch import BatchAsked, batch
from dosing.workshop.labels import label_sheets
from dosing.workshop.materials import substances
from dosing.workshop.papers import (
    PaperLine,
    PaperPart,
    PaperSheet,
    Words,
    phrase,
    stopped,
    tide_mark,
    told_of,
    tub_l,
)
from dosing.workshop.permissions import SubstanceLimit
from dosing.workshop.product import ProductAnswer
from dosing.workshop.product_file import ProductFile
from dosing.workshop.weigh_paper import weigh_paper
from indicator.appearance import SeenColour
from indicator.notes import Note, Value, listed, sentence
from indicator.tables import Sourced, read_table
from indicator.words import change_level

FOR_THE_MAKER = ("colour-", "tap-", "unpreserved", "foam-bath", "out-of-reach", "water-")
"""Beginnings of cautions that are not for the customer, or that the directions say elsewhere."""
KEEPING_TEST = "trade/keeping_test.csv"


@dataclass(frozen=True)
class _Looked(Sourced):
    """A row of the keeping test."""

    what: str
    value: float


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
        about=told_of(product, plan),
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
            dry = product.layout == "dry sachet" and colour.colourant.kind == "pigment"
            said: dict[str, Value] = {"amount": colour.amount, "unit": colour.amount_unit}
            said |= {"name": colour.colourant.label}
            yield Note(f"directions.colour{'-dry' if dry else ''}", said)
    if plan.jugs is not None:
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


def _wrong(plan: Plan) -> Iterator[Words]:
    spoons = sentence(spoon_words(math.ceil(2.0 * plan.undo_soda_teaspoons) / 2.0))
    undo: dict[str, Value] = {"spoons": spoons, "grams": float(kitchen_round_g(plan.undo_soda_g))}
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
            said = Note(f"directions.mark-{each.level}", {"message": each.message})
            yield PaperLine(said, bold=each.level != "mind")


def keeping_sheet(product: ProductFile, plan: Plan, start: date) -> PaperSheet:
    """Calendar of a keeping test with the colours that still pass.

    Parameters
    ----------
    product : ProductFile
        Whose bottle is kept.
    plan : Plan
        Of one bath of it.
    start : date
        Of week 0.

    Returns
    -------
    PaperSheet
    """
    values = _looked()
    (thaws,), (moved,), places = values["freeze_thaw"], values["ph"], values["place_c"]
    # A colour that is hardly seen would seem to keep for ever.
    glasses = [_in_glass(product.recipe, times) for times in values["times"]]
    glass = next(filter(_is_strong, glasses), glasses[-1])
    weeks = [_week(glass, product, start, week, places) for week in values["week"]]
    usual, warm = places[1:]
    mixed: dict[str, Value] = {"what": _mixed(glass, tub_l(product, plan))}
    how = (
        Note("keeping.bottles", {"times": thaws}),
        Note("keeping.mix", mixed | {"water": values["glass_ml"][0]}),
        PaperLine(Note("keeping.pass", {"ph": moved}), bold=True),
        Note("keeping.forty", {"warm": warm, "usual": usual}),
    )
    heads = [Note("keeping.head-place", {"place": place}) for place in places]
    rest = ("window", "frozen", "ph", "smell", "sign")
    calendar = PaperPart(
        "table",
        Note("keeping.days"),
        lines=(Note("keeping.percent" if weeks[-1][1] else "keeping.nothing"),),
        columns=(
            Note("keeping.head-day"),
            *heads,
            *(Note(f"keeping.head-{each}") for each in rest),
        ),
        rows=tuple(weeks),
        align="l" + "c" * (len(heads) + len(rest)),
        widths=(1.9, *(2.4 for _ in heads), 1.3, 1.3, 1.3, 2.2, 1.2),
        room=0.6,
    )
    signs = ("batch", "start", "person")
    return PaperSheet(
        name="keeping",
        title=product.name,
        about=told_of(product, plan),
        parts=(
            PaperPart("writing", lines=tuple(Note(f"keeping.{each}") for each in signs)),
            PaperPart("lines", Note("keeping.how"), how),
            calendar,
        ),
        across=True,
    )


def _looked() -> dict[str, list[float]]:
    rows = read_table(KEEPING_TEST, _Looked)
    return {
        what: [row.value for row in rows if row.what == what]
        for what in dict.fromkeys(row.what for row in rows)
    }


def _in_glass(recipe: RecipeInputs, times: float) -> RecipeInputs:
    """The recipe's bath so many times as strong, looked at in a glass."""
    foam = recipe.foam_bath
    colours = (
        replace(
            each,
            content=times * each.content,
            amount=times * each.amount,
            volume_l=times * each.volume_l,
        )
        for each in recipe.colours
    )
    return replace(
        recipe,
        wish=replace(recipe.wish, view="jar"),
        foam_bath=None if foam is None else replace(foam, amount_ml=times * foam.amount_ml),
        colours=tuple(colours),
    )


def _first_day(glass: RecipeInputs) -> SeenColour:
    setting = assemble(glass)
    return colour_at(setting.bath.strengths, setting.bath.solve().ph, setting.view)


def _is_strong(glass: RecipeInputs) -> bool:
    """Whether the first day's colour shows well in the glass."""
    return str(_first_day(glass).visibility) == "strong"


def _mixed(glass: RecipeInputs, volume_l: float) -> str:
    """Foam bath and colours for a glass of `keeping_test.csv` [mL or g]."""
    share = _looked()["glass_ml"][0] / (1000.0 * volume_l)
    foam = glass.foam_bath
    parts = [] if foam is None else [phrase("keeping.foam", amount=share * foam.amount_ml)]
    for each in glass.colours:
        if each.held_in != "foam bath":
            values = {"unit": each.amount_unit, "name": each.colourant.label}
            code = "keeping.petals" if each.amount_unit == "g" else "keeping.colour"
            parts.append(phrase(code, amount=share * each.amount, **values))
    return listed(parts)


def _week(
    glass: RecipeInputs, product: ProductFile, start: date, week: float, places: Sequence[float]
) -> tuple[Words, ...]:
    """A day of the calendar: its date, the colours that still pass, and room to write."""
    on = (start + timedelta(weeks=week)).isoformat()
    blank = ("",) * 5
    day = PaperLine(on, bold=True, note=Note("keeping.week", {"week": week}))
    return day, *(_passing(glass, product, week, place) for place in places), *blank


def _passing(glass: RecipeInputs, product: ProductFile, week: float, place: float) -> Words:
    """Glass with what is left of the colour at a place [°C]; the first day's where nobody knows."""
    ph, setting = product.ph if product.layout == "foam bath" else None, assemble(glass)
    # Rates are published of colours in liquids, not of dry petals.
    dry = product.layout == "dry sachet"
    kept = None if dry else keep(glass, setting, days=7.0 * week, temperature_c=place, ph=ph)
    if kept is None:
        if week > 0:
            return ""
        seen = _first_day(glass)
        note = Note("keeping.first")
        return PaperLine(str(seen.phrase), colour=str(seen.hex), bold=True, note=note)
    left = min(colour.share.best for colour in kept.colours)
    seen, passes = kept.kept, str(change_level(kept.change_delta_e)) != "obvious"
    note = Note(f"keeping.{'passes' if passes else 'faded'}", {"percent": 100.0 * left})
    return PaperLine(str(seen.phrase), colour=str(seen.hex), bold=passes, note=note, box=passes)


def assessor_sheet(answer: ProductAnswer, plan: Plan) -> PaperSheet:
    """Sheet for the safety assessor: composition, dose in the tub, limits, cautions and verdicts.

    Parameters
    ----------
    answer : ProductAnswer
        On the product that is assessed.
    plan : Plan
        Of one bath of it.

    Returns
    -------
    PaperSheet
    """
    composition = _table(
        "composition",
        {"inci": "l", "cas": "l", "function": "l", "percent": "r", "tub": "r"},
        [cells for part in _parts(answer) for cells in _composition(answer, part)],
        (4, 2, 2.4, 0, 0),
    )
    limits = _table(
        "limits",
        {
            "market": "l",
            "part": "l",
            "substance": "l",
            "percent": "r",
            "limit": "r",
            "entry": "l",
            "kept": "l",
        },
        list(_limits(answer.limits)),
        (0, 2.4, 4, 0, 0, 2.4, 0),
    )
    cautions = {each.code: each for each in (*answer.cautions, *plan.cautions)}
    told = _table(
        "cautions",
        {"level": "l", "what": "l", "source": "l", "sure": "l"},
        [
            (
                Note(f"assessor.level-{each.level}"),
                each.message,
                # The rest says who read it, and the last column how far it can be trusted.
                re.split(r"[:;] ", each.source)[0],
                Note(f"assessor.sure-{each.confidence.lower()}"),
            )
            for each in heaviest_first(cautions.values())
            if each.level != "ok"
        ],
        (0, 6, 3, 0),
    )
    about = PaperPart("facts", Note("assessor.product"), tuple(_product_lines(answer, plan)))
    signs = tuple(Note(f"assessor.{each}") for each in ("name", "date", "signed"))
    return PaperSheet(
        name="assessor",
        title=answer.name,
        about=told_of(answer.product, plan),
        tide=tide_mark(plan),
        parts=(
            about,
            composition,
            *([limits] if answer.limits else []),
            told,
            PaperPart("writing", lines=signs),
        ),
    )


def _table(
    name: str,
    columns: Mapping[str, str],
    rows: Sequence[tuple[Words, ...]],
    widths: tuple[float, ...],
) -> PaperPart:
    """A table of the assessor's: head of a column to its alignment."""
    return PaperPart(
        "table",
        Note(f"assessor.{name}"),
        columns=tuple(Note(f"assessor.head-{each}") for each in columns),
        rows=tuple(rows),
        align="".join(columns.values()),
        widths=widths,
        room=0.3,
    )


def _limits(limits: Sequence[SubstanceLimit]) -> Iterator[tuple[Words, ...]]:
    """Rows of the limits; markets that set the same one stand together."""
    groups: dict[tuple[object, ...], list[SubstanceLimit]] = {}
    for each in limits:
        same = (each.part, each.substance, each.limit_percent, each.entry)
        groups.setdefault(same, []).append(each)
    for first, *others in groups.values():
        yield (
            ", ".join(each.market for each in (first, *others)),
            first.part.replace("-", " "),
            substances()[first.substance].inci,
            _number(first.percent, 3),
            _number(first.limit_percent, 3),
            first.entry,
            Note("assessor.kept" if first.kept else "assessor.not-kept"),
        )


def _parts(answer: ProductAnswer) -> list[str]:
    return list(dict.fromkeys(row.part for row in answer.composition))


def _composition(answer: ProductAnswer, part: str) -> Iterator[tuple[Words, ...]]:
    """Substances of a part by falling share, under its name."""
    yield PaperLine(part.replace("-", " ").capitalize(), bold=True), "", "", "", ""
    for row in answer.composition:
        if row.part == part:
            numbers = _number(row.percent, 2), _number(row.mg_per_l, 1)
            yield row.inci, row.cas or "–", row.function, *numbers


def _product_lines(answer: ProductAnswer, plan: Plan) -> Iterator[Words]:
    product = answer.product
    for market in answer.by_market:
        levels = {
            each: phrase(f"assessor.level-{getattr(market.verdicts, each).level}")
            for each in ("pour", "give", "sell")
        }
        yield PaperLine(Note("assessor.verdicts", levels | {"market": market.market}), bold=True)
    who = {"who": phrase(f"assessor.{plan.bathers}"), "purpose": product.purpose}
    yield Note("assessor.bathers", who | {"markets": ", ".join(product.markets)})
    fill = {"fill": product.fill_ml, "baths": product.baths, "dose": product.dose_ml}
    yield Note("assessor.kind", fill | {"volume": tub_l(product, plan)})
    powders = ", ".join(
        f"{powder(name).label} {100 * share:.3g} %" for name, share in plan.activator
    )
    yield Note("assessor.activator", {"grams": answer.activator_g, "parts": powders})
    read: dict[str, Value] = {"ph": product.ph or 0.0, "reader": product.ph_read_with or "–"}
    yield Note("assessor.ph-unread") if product.ph is None else Note("assessor.ph", read)
    yield Note("assessor.layout", {"layout": product.layout})
    active = {"percent": answer.active_matter_percent, "tub": answer.active_matter_mg_l}
    yield Note("assessor.active", active)
    yield from _preserved(answer)
    ends = {"before": plan.before.ph, "low": plan.ph_acid_side, "high": plan.ph_alkaline_side}
    yield Note("assessor.tub", ends | {"reserve": plan.acid_reserve_high_meq_l})
    if answer.not_opened:
        names = {"names": ", ".join(answer.not_opened)}
        yield PaperLine(Note("assessor.unopened", names), bold=True)


def _preserved(answer: ProductAnswer) -> Iterator[Words]:
    kept = answer.preserving
    if kept.preservatives:
        names = ", ".join(each.label for each in kept.preservatives)
        yield Note(f"assessor.preserved-{kept.state}", {"names": names})
    for acid in kept.acids:
        shares: dict[str, Value] = {"acid": acid.acid.replace("-", " ")}
        shares |= {"share": 100 * acid.unionised_share, "quoted": 100 * acid.quoted_share}
        yield Note("assessor.unionised", shares)


def _number(value: float, places: int) -> str:
    """A number to so many places; what would be nought is less than the last of them."""
    least = 10.0**-places
    return f"{value:.{places}f}" if value >= least / 2 else f"<{least:.{places}f}"


@dataclass(frozen=True)
class Refused:
    """A market that nothing is printed for."""

    market: str
    verdict: Verdict


@dataclass(frozen=True)
class MakerPapers:
    """Papers of a product: those that may be printed, and where others may not."""

    sheets: tuple[PaperSheet, ...]
    refused: tuple[Refused, ...]
    """Markets in which a caution stops it."""
    stops: tuple[Caution, ...]
    """Those cautions."""

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
    refused = tuple(_refused(answer, plan))
    stops = [each for each in (*answer.cautions, *plan.cautions) if each.level == "stop"]
    each_once = tuple({each.code: each for each in stops}.values())
    weighed = batch(answer, BatchAsked(kits=kits))
    own = [assessor_sheet(answer, plan)]
    # A product that may not be used for its purpose has nothing to weigh.
    own += [weigh_paper(weighed, plan)] if weighed.weighings else []
    markets = [each for each in product.markets if each not in {one.market for one in refused}]
    if not markets:
        reasons = [each.message for each in each_once]
        return MakerPapers(tuple(stopped(each, reasons) for each in own), refused, each_once)
    labels = label_sheets(answer, plan, markets) if product.purpose in GIVEN else []
    sheets = [*labels, directions(product, plan), *own, keeping_sheet(product, plan, start)]
    return MakerPapers(tuple(sheets), refused, each_once)


def _refused(answer: ProductAnswer, plan: Plan) -> Iterator[Refused]:
    for market in answer.by_market:
        three = (market.verdicts, plan.verdicts)
        every = [one for each in three for one in (each.pour, each.give)]
        worst = max([market.verdicts.sell, *every], key=lambda one: LEVELS.index(one.level))
        if worst.level == "stop":
            yield Refused(market.market, worst)
