"""Test of how a bottle keeps, on paper: the days to look, and the colours that still pass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from dosing.bath.assembled import assemble
from dosing.bath.inputs import ColourInputs, RecipeInputs
from dosing.bath.mixed import colour_at
from dosing.bottle.keeping import keep
from dosing.plan.records import Plan
from dosing.workshop.materials import PERCENT
from dosing.workshop.papers import PaperLine, PaperPart, PaperSheet, Words, phrase, told_of, tub_l
from dosing.workshop.product_file import ProductFile
from indicator.appearance import SeenColour
from indicator.notes import Note, Value, listed
from indicator.tables import Sourced, read_table, value_of
from indicator.words import change_level

KEEPING_TEST = "trade/keeping_test.csv"


@dataclass(frozen=True)
class _Looked(Sourced):
    """A row of the keeping test."""

    what: str
    value: float


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
    # A colour that is hardly seen, or nearly black, would seem to keep for ever.
    strongest = values["times"][-1]
    tried = (*values["times"], *values["thinned"])
    times = next((each for each in tried if _shows_well(product.recipe, each)), strongest)
    glass = _in_glass(product.recipe, times)
    weeks = [_week(glass, product, start, week, places) for week in values["week"]]
    usual, warm = places[1:]
    mixed: dict[str, Value] = {"what": _mixed(product, times, tub_l(product, plan))}
    beside = any(each.held_in != "foam bath" for each in product.recipe.colours)
    how = (
        Note(f"keeping.bottles{'-beside' if beside else ''}", {"times": thaws}),
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


def ph_may_move() -> float:
    """Most that the pH of a bottle may move in a keeping test that it passes."""
    (moved,) = _looked()["ph"]
    return moved


def pull_weeks() -> tuple[int, ...]:
    """Weeks on which a bottle of a keeping test is looked at."""
    return tuple(map(int, _looked()["week"]))


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


def _shows_well(recipe: RecipeInputs, times: float) -> bool:
    """Whether the first day's colour is strong in the glass, yet light enough to be seen fading."""
    (least,) = _looked()["least_lightness"]
    seen = _first_day(_in_glass(recipe, times))
    return str(seen.visibility) == "strong" and float(seen.lab[0]) >= least


def _mixed(product: ProductFile, times: float, volume_l: float) -> str:
    """Foam bath and colours for a glass of `keeping_test.csv`, so many times as in the tub [mL]."""
    share = times * _looked()["glass_ml"][0] / (1000.0 * volume_l)
    foam = product.recipe.foam_bath
    parts = [] if foam is None else [phrase("keeping.foam", amount=share * foam.amount_ml)]
    for each in product.recipe.colours:
        values: dict[str, Value] = {"unit": each.amount_unit, "name": each.colourant.label}
        if each.held_in == "foam bath":
            continue
        if each.amount_unit == "g":
            dye = each.colourant.kind == "dye"
            # So little is no weighing: a whole pouch goes into water, and some of that is taken.
            water_ml = _looked()["solution_ml"][0] if dye else _brew_ml(each)
            values |= {"amount": each.amount, "water": water_ml, "take": share * water_ml}
            parts.append(phrase(f"keeping.{'powder' if dye else 'petals'}", **values))
        else:
            parts.append(phrase("keeping.colour", amount=share * each.amount, **values))
    return listed(parts)


def _brew_ml(petals: ColourInputs) -> float:
    """Brew of all the petals of a bath, as strong as the file has it [mL]."""
    usual = value_of("trade/typical.csv", "usual_infusion_percent")
    return PERCENT * petals.amount / (petals.petals_percent or usual)


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
    beside = (each.ph for each in product.formula.colours if each.colourant.kind == "pigment")
    ph = product.ph if product.layout == "foam bath" else next(beside, None)
    setting = assemble(glass)
    # Rates are published of colours in liquids, not of dry petals.
    dry = product.layout == "dry sachet"
    kept = None if dry else keep(glass, setting, days=7.0 * week, temperature_c=place, ph=ph)
    if kept is None:
        if week > 0:
            return ""
        seen = _first_day(glass)
        note = Note("keeping.first")
        return PaperLine(str(seen.phrase), colour=str(seen.hex), bold=True, note=note)
    share = min((colour.share for colour in kept.colours), key=lambda share: share.best)
    seen, passes = kept.kept, str(change_level(kept.change_delta_e)) != "obvious"
    left = phrase(
        f"keeping.{'left-open' if share.open else 'left'}",
        percent=100.0 * share.best,
        low=100.0 * share.low,
        high=100.0 * share.high,
    )
    code = f"keeping.{'passes' if passes else 'faded'}{'-open' if share.open else ''}"
    note = Note(code, {"left": left})
    return PaperLine(str(seen.phrase), colour=str(seen.hex), bold=passes, note=note, box=passes)
