"""The dose card of a product: one answer for every customer's tub, as data and as one HTML file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from itertools import pairwise

import numpy as np

from dosing.bath.assembled import assemble, water_l
from dosing.bath.inputs import RecipeInputs, refuse_learnt
from dosing.bath.jugs import fill_jugs
from dosing.bath.mixed import colour_at
from dosing.bath.possible_tubs import COVERAGE
from dosing.ingredients.powders import Blend, spoons
from dosing.ingredients.trade_values import typical
from dosing.page.records import (
    Card,
    CardCaution,
    CardReading,
    CardReadings,
    ColourGrid,
    Drops,
    LevelBand,
    PowderShare,
)
from dosing.page.table import (
    Cell,
    Extent,
    Row,
    area_cm2,
    drop_ppm,
    fills,
    grid,
    ph_table,
    rows,
    solved_cells,
)
from dosing.page.words import CardWords
from dosing.plan.answer import make_plan
from dosing.plan.cautions import GIVEN, Caution, caution_of, exit_code
from dosing.plan.households import small_vessel
from dosing.plan.levels import LEVELS, gate_level, limits
from dosing.plan.records import wait_min
from dosing.plan.telling import SODA, undo_soda_g
from dosing.recipe.names import check_to_come
from dosing.words.filters import stirring_minutes
from indicator.notes import say

PH_STEP, STRENGTH_FACTORS = 0.25, (0.4, 0.65, 1.0, 1.6, 2.5)
"""Steps of the colour table: pH, and times the strength that the recipe's tub has."""
PH_ENDS = (3.0, 10.0)
KINDS = ("strip", "drops", "none")
NOT_ON_CARDS = (
    "homes-too", "ph-ok", "water-contradicts", "colour-", "tap-", "blend-unknown", "bottle-ph-",
    "above-use-level", "surfactant-none",
)  # fmt: skip
"""Beginnings of cautions that are about one tub, or for the maker alone."""


class NoCardError(ValueError):
    """A card that is not made: nothing of the recipe may be poured, given or sold so."""


def dose_card(inputs: RecipeInputs, extent: Extent | None = None) -> Card:
    """The dose card of a recipe.

    Parameters
    ----------
    inputs : RecipeInputs
        The maker's recipe in core units, with what stands on its card.
    extent : Extent, optional
        Fills and drops at which plans are made; all of them if not given.

    Returns
    -------
    Card

    Raises
    ------
    NoCardError
        If a caution forbids the product for its purpose, or no tub of the card gets a dose.
    InputError
        If its last day has passed: its page would never show a dose.
    """
    refuse_learnt(inputs)
    if inputs.card.use_by is not None:
        check_to_come(inputs.card.use_by, "card.use_by")
    if inputs.wish.bathers == "nobody":
        raise NoCardError(say("no-card.nobody"))
    if small_vessel(inputs):
        raise NoCardError(say("no-card.basin", {"litres": water_l(inputs.tub)}))
    # What may not be passed on may not in any tub: that is known before hundreds are planned.
    check_passed_on(make_plan(inputs).cautions, inputs.wish.purpose)
    extent = extent or Extent()
    told, table = CardWords(inputs.card.language), rows(extent)
    litres, marks = fills(inputs, extent)
    bathers = ("adult",) if inputs.wish.bathers == "adult" else ("adult", "child")
    cells = solved_cells(inputs, table, litres, bathers)
    check_allowed(cells, inputs.wish.purpose)
    flat = [cell for by in cells.values() for row in by for cell in row]
    own = assemble(inputs)
    parts = Blend(inputs.activator.parts).parts

    def grids(part: str, digits: int = 2) -> dict[str, tuple[tuple[float, ...], ...]]:
        return {who: grid(by, part, digits) for who, by in cells.items()}

    limit = grids("limit")
    best = max(flat, key=lambda cell: cell.dose)
    poured = own.bath.with_activator(best.dose, own.per_gram)
    jugs = fill_jugs(parts, best.dose, own.bath)
    card = inputs.card
    return Card(
        language=card.language,
        units=units(inputs),
        title=inputs.title,
        lot=card.lot,
        edition=card.edition,
        use_by=card.use_by,
        accent=card.accent,
        url=card.url,
        directions=card.directions,
        sachet_g=card.sachet_g,
        powder=tuple(
            PowderShare(told.powder(name), round(share, 4), _g_per_tsp(name))
            for name, share in parts.items()
        ),
        first_in=told.first_in(inputs),
        readings=_readings(table),
        litres=litres,
        marks=marks,
        area_cm2=area_cm2(inputs),
        measured_share=typical("tub_shape_at_waterline").value,
        bathers=bathers,
        limit=limit,
        dose=grids("dose"),
        why={
            who: tuple(tuple(cell.why for cell in row) for row in by) for who, by in cells.items()
        },
        chance=grids("chance"),
        more=grids("more"),
        portions=grids("portions", 0),
        first=grids("first"),
        ph_low=grids("ph_low"),
        ph_high=grids("ph_high"),
        ph=ph_table(inputs, table, litres, limit),
        level={who: level_bands(who) for who in bathers},
        colour=colour_table(inputs, told),
        strength_total=_strength_total(inputs),
        undo_soda_g_per_g=round(undo_soda_g(poured) / best.dose, 3),
        undo_soda_g_per_tsp=round(1.0 / spoons(SODA, 1.0).teaspoons_high, 2),
        jug_l_per_g=round(jugs.litres / jugs.grams, 4),
        stir_min=stirring_minutes(parts),
        wait_min=wait_min(),
        cautions=card_cautions(cells, inputs, told),
        coverage=COVERAGE,
        made=date.today().isoformat(),
    )


def units(inputs: RecipeInputs) -> str:
    """Measures of a recipe's market: ``"us"`` or ``"metric"``."""
    return "us" if inputs.wish.market == "US" else "metric"


def check_allowed(cells: Mapping[str, Sequence[Sequence[Cell]]], purpose: str) -> None:
    """Refuse a product whose cautions forbid it, or that has a dose in no tub of its card.

    Parameters
    ----------
    cells : mapping
        As `dosing.page.table.solved_cells` gives them.
    purpose : str
        Of the recipe.

    Raises
    ------
    NoCardError
        Naming the caution.
    """
    flat = [cell for by in cells.values() for row in by for cell in row]
    told = [caution for cell in flat for caution in cell.cautions]
    stops = check_passed_on(told, purpose)
    if not any(cell.limit > 0.0 for cell in flat):
        raise NoCardError(
            say("no-card.forbidden", {"reason": stops[0].message})
            if stops
            else say("no-card.nothing")
        )


def check_passed_on(cautions: Sequence[Caution], purpose: str) -> list[Caution]:
    """Refuse a product that may not be given or sold, whatever the tub.

    Parameters
    ----------
    cautions : sequence of Caution
        On one plan or many.
    purpose : str
        Of the recipe.

    Returns
    -------
    list of Caution
        Those that forbid something, if only in a tub; one dose for all homes is not among them.

    Raises
    ------
    NoCardError
        Naming the caution.
    """
    # One dose for all is what a card does away with.
    kept = [caution for caution in cautions if not caution.code.startswith("homes-too")]
    stops = [each for each in kept if exit_code((each,)) != 0]
    passed_on = [each for each in stops if each.about != "pour"]
    if purpose in GIVEN and passed_on:
        raise NoCardError(say("no-card.forbidden", {"reason": passed_on[0].message}))
    return stops


def _g_per_tsp(name: str) -> float | None:
    """Of a level teaspoon of a powder where it lies densest [g]."""
    return round(1.0 / spoons(name, 1.0).teaspoons_low, 2)


def _readings(table: Sequence[Row]) -> CardReadings:
    places = {kind: [k for k, row in enumerate(table) if row.kind == kind] for kind in KINDS}
    return CardReadings(
        strip=tuple(CardReading(k, label=table[k].label) for k in places["strip"]),
        drops=Drops(round(drop_ppm(), 2), tuple(places["drops"])),
        none=tuple(CardReading(k, key=table[k].label) for k in places["none"]),
    )


def level_bands(bathers: str) -> tuple[LevelBand, ...]:
    """Stretches of pH by their caution level, from 0 to 14.

    Parameters
    ----------
    bathers : str
        As in `dosing.plan.levels.gate_level`.
    """
    ends = {row.limit for name in ("ph-acid", "ph-alkaline") for row in limits(name, bathers)}
    edges = [0.0, *sorted(ends), 14.0]
    return tuple(
        LevelBand(low, high, LEVELS[int(gate_level(0.5 * (low + high), bathers))])
        for low, high in pairwise(edges)
    )


def colour_table(inputs: RecipeInputs, told: CardWords) -> ColourGrid:
    """Colour of the recipe's tub by pH and by strength times depth.

    Parameters
    ----------
    inputs : RecipeInputs
        The maker's recipe.
    told : CardWords
        The card's language.

    Returns
    -------
    ColourGrid
    """
    own = assemble(inputs)
    ph = np.arange(PH_ENDS[0], PH_ENDS[1] + PH_STEP / 2, PH_STEP)
    factors = np.array(STRENGTH_FACTORS)
    strengths = {which: np.asarray(own_1) * factors for which, own_1 in own.bath.strengths.items()}
    seen = colour_at(strengths, ph[:, None], own.view, own.bath.surfactants_g_l)
    depth = 1000.0 * _strength_total(inputs) / area_cm2(inputs)
    return ColourGrid(
        ph=tuple(np.round(ph, 2).tolist()),
        strength_depth=tuple(np.round(depth * factors, 4).tolist()),
        hex=tuple(map(tuple, np.asarray(seen.hex).tolist())),
        words=tuple(
            tuple(told.phrase(each) for each in row) for row in np.asarray(seen.phrase).tolist()
        ),
    )


def _strength_total(inputs: RecipeInputs) -> float:
    """Strength of all colours times litres; of dyes mol."""
    return float(sum(colour.content for colour in inputs.colours))


def card_cautions(
    cells: Mapping[str, Sequence[Sequence[Cell]]], inputs: RecipeInputs, told: CardWords
) -> tuple[CardCaution, ...]:
    """Cautions of all tubs with a dose, the heaviest first, each with those whom it is for.

    Parameters
    ----------
    cells : mapping
        As `dosing.page.table.solved_cells` gives them.
    inputs : RecipeInputs
        The maker's recipe.
    told : CardWords
        The card's language.

    Returns
    -------
    tuple of CardCaution
    """
    found: dict[str, dict[str, Caution]] = {}
    for who, by in cells.items():
        dosed = (cell for row in by for cell in row if cell.limit > 0.0)
        for caution in (each for cell in dosed for each in cell.cautions):
            if not caution.code.startswith(NOT_ON_CARDS):
                found.setdefault(caution.code, {}).setdefault(who, caution)
    if inputs.foam_bath is not None:
        found["child-under-three"] = dict.fromkeys(cells, caution_of("child-under-three"))
    shown: dict[str, CardCaution] = {}
    for code, by_bather in found.items():
        first = next(iter(by_bather.values()))
        text = told.caution(first)
        # One sentence may be that of adults and of children.
        whom = dict.fromkeys((*(shown[text].bathers if text in shown else ()), *by_bather))
        shown[text] = CardCaution(first.level, code, text, tuple(whom))
    return tuple(sorted(shown.values(), key=lambda each: -LEVELS.index(each.level)))
