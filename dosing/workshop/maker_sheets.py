"""Sheets that go with a product: directions, the assessor's sheet and the test of how it keeps."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from dosing.bath.assembled import assemble
from dosing.bath.inputs import RecipeInputs
from dosing.bath.mixed import colour_at
from dosing.bottle.keeping import keep
from dosing.ingredients.powders import kitchen_round_g, powder, spoon_words, stirring_minutes
from dosing.plan.answer import make_plan, preview
from dosing.plan.cautions import GIVEN, Caution, Verdicts, heaviest_first
from dosing.plan.records import Plan
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
from dosing.workshop.product_file import ProductFile
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
        lines=(Note("keeping.percent" if weeks[0][1] else "keeping.nothing"),),
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


def _is_strong(glass: RecipeInputs) -> bool:
    """Whether the first day's colour shows well in the glass."""
    setting = assemble(glass)
    seen = colour_at(setting.bath.strengths, setting.bath.solve().ph, setting.view)
    return str(seen.visibility) == "strong"


def _mixed(glass: RecipeInputs, volume_l: float) -> str:
    """Foam bath and colours for a glass of `keeping_test.csv` [mL or g]."""
    share = _looked()["glass_ml"][0] / (1000.0 * volume_l)
    foam = glass.foam_bath
    parts = [] if foam is None else [phrase("keeping.foam", amount=share * foam.amount_ml)]
    for each in glass.colours:
        if each.held_in != "foam bath":
            values = {"unit": each.amount_unit, "name": each.colourant.label}
            parts.append(phrase("keeping.colour", amount=share * each.amount, **values))
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
    """Glass with what is left of the colour at a place [°C]; nothing where nobody knows."""
    if product.layout == "dry sachet":
        return ""
    ph = product.ph if product.layout == "foam bath" else None
    kept = keep(glass, assemble(glass), days=7.0 * week, temperature_c=place, ph=ph)
    if kept is None:
        return ""
    left = min(colour.share.best for colour in kept.colours)
    seen = kept.kept
    passes = str(change_level(kept.change_delta_e)) != "obvious"
    note = Note(f"keeping.{'passes' if passes else 'faded'}", {"percent": 100.0 * left})
    return PaperLine(str(seen.phrase), colour=str(seen.hex), bold=passes, note=note, box=passes)


def assessor_sheet(
    product: ProductFile, plan: Plan, cautions: Sequence[Caution], verdicts: Verdicts
) -> PaperSheet:
    """Sheet for the safety assessor: composition, dose in the tub, cautions and verdicts.

    Parameters
    ----------
    product : ProductFile
        That is assessed.
    plan : Plan
        Of one bath of it.
    cautions : sequence of Caution
        On the product and its bath.
    verdicts : Verdicts
        Whether it may be poured, given and sold.

    Returns
    -------
    PaperSheet
    """
    heads = ("inci", "cas", "function", "percent", "tub")
    composition = PaperPart(
        "table",
        Note("assessor.composition"),
        columns=tuple(Note(f"assessor.head-{each}") for each in heads),
        rows=tuple(_composition(product, plan)),
        align="lllrr",
        widths=(4, 2, 2.4, 0, 0),
        room=0.42,
    )
    told = PaperPart(
        "table",
        Note("assessor.cautions"),
        columns=tuple(Note(f"assessor.head-{each}") for each in ("level", "what", "source")),
        rows=tuple(
            (Note(f"assessor.level-{each.level}"), each.message, each.source)
            for each in heaviest_first(cautions)
            if each.level != "ok"
        ),
        align="lll",
        widths=(0, 5, 3.2),
        room=0.42,
    )
    lines = tuple(_product_lines(product, plan, verdicts))
    signs = ("name", "date", "signed")
    return PaperSheet(
        name="assessor",
        title=product.name,
        about=told_of(product, plan),
        tide=tide_mark(plan),
        parts=(
            PaperPart("lines", Note("assessor.product"), lines),
            composition,
            told,
            PaperPart("writing", lines=tuple(Note(f"assessor.{each}") for each in signs)),
        ),
    )


def _composition(product: ProductFile, plan: Plan) -> Iterator[tuple[Words, ...]]:
    """Substances of the bottle by falling share, with what one bath has of them [mg/L]."""
    shares = product.formula.substances_percent()
    per_percent = 10.0 * product.dose_g / plan.volume_l
    for name, percent in sorted(shares.items(), key=lambda each: -each[1]):
        row = substances().get(name)
        numbers = _number(percent, 2), _number(per_percent * percent, 1)
        if row is None:
            yield PaperLine(Note("assessor.unknown"), bold=True), "–", "–", *numbers
        else:
            yield row.inci, row.cas or "–", row.function, *numbers


def _product_lines(product: ProductFile, plan: Plan, verdicts: Verdicts) -> Iterator[Words]:
    levels = {
        each: phrase(f"assessor.level-{getattr(verdicts, each).level}")
        for each in ("pour", "give", "sell")
    }
    yield PaperLine(Note("assessor.verdicts", levels), bold=True)
    who = {"who": phrase(f"assessor.{plan.bathers}"), "purpose": product.purpose}
    yield Note("assessor.bathers", who | {"markets": ", ".join(product.markets)})
    fill = {
        "fill": product.fill_ml,
        "baths": product.baths,
        "volume": tub_l(product, plan),
        "dose": product.dose_ml,
    }
    yield Note("assessor.kind", fill)
    powders = ", ".join(
        f"{powder(name).label} {100 * share:.3g} %" for name, share in plan.activator
    )
    yield Note("assessor.activator", {"grams": plan.dose_g.best, "parts": powders})
    yield Note("assessor.layout", {"layout": product.layout})
    if product.ph is None:
        yield Note("assessor.ph-unread")
    else:
        yield Note("assessor.ph", {"ph": product.ph, "reader": product.ph_read_with or "–"})
    yield Note("assessor.active", {"percent": sum(product.formula.surfactants_percent().values())})
    ends = {"low": plan.ph_acid_side, "high": plan.ph_alkaline_side}
    yield Note(
        "assessor.tub", {"before": plan.before.ph, **ends, "reserve": plan.acid_reserve_high_meq_l}
    )
    if product.formula.not_opened:
        yield PaperLine(
            Note("assessor.unopened", {"names": ", ".join(product.formula.not_opened)}), bold=True
        )


def _number(value: float, places: int) -> str:
    """A number to so many places; what would be nought is less than the last of them."""
    least = 10.0**-places
    return f"{value:.{places}f}" if value >= least / 2 else f"<{least:.{places}f}"


@dataclass(frozen=True)
class MakerPapers:
    """Papers of a product: those that may be printed, and why others may not."""

    product: str
    sheets: tuple[PaperSheet, ...]
    stops: tuple[Caution, ...]
    """What forbids giving or selling it; with any of them nothing is printed but for the maker."""


def papers(product: ProductFile, start: date) -> MakerPapers:
    """All papers of a product.

    Parameters
    ----------
    product : ProductFile
        That is made, given or sold.
    start : date
        First day of its keeping test.

    Returns
    -------
    MakerPapers
        Without the customer's papers where a caution stops the product, without labels where it
        is neither given nor sold.
    """
    recipe, grams = product.recipe, product.activator_g
    plan = make_plan(recipe) if grams is None else preview(recipe, grams)
    stops = tuple(each for each in plan.cautions if each.level == "stop")
    own = [assessor_sheet(product, plan, plan.cautions, plan.verdicts)]
    if stops:
        reasons = [each.message for each in stops]
        return MakerPapers(product.name, tuple(stopped(each, reasons) for each in own), stops)
    labels = label_sheets(product, plan) if product.purpose in GIVEN else []
    sheets = [*labels, directions(product, plan), *own]
    return MakerPapers(product.name, (*sheets, keeping_sheet(product, plan, start)), ())
