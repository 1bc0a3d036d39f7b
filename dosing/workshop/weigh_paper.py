"""Weigh sheet of a batch on paper: what is weighed in, with room for what is written by hand."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from dosing.ingredients.powders import scale_step
from dosing.plan.records import Plan
from dosing.workshop.batch import BatchColour, WeighSheet
from dosing.workshop.fills import PackFill
from dosing.workshop.papers import PaperLine, PaperPart, PaperSheet, Words, phrase, told_of
from dosing.workshop.weighing import Weighing
from indicator.notes import Note, Value, listed, say

BLANK = ""
"""A cell to write in."""
PINCH_G = 0.1
"""What is less is told in milligrams."""
MG_PER_G = 1000.0


def weigh_paper(sheet: WeighSheet, plan: Plan) -> PaperSheet:
    """Weigh sheet with boxes to tick, lots, and lines to fill in and sign.

    Parameters
    ----------
    sheet : WeighSheet
        Of a batch that may be made.
    plan : Plan
        Of one bath of its product.

    Returns
    -------
    PaperSheet
    """
    step = 1.0 if sheet.rounding is None else sheet.rounding.step_g
    made: dict[str, Value] = {"kits": sheet.kits, "fill": sheet.fill_ml}
    made |= {"makes": _grams(sheet.makes_g, step), "loss": 100.0 * sheet.loss}
    notes: list[Words] = [Note("weigh.makes", made), *_brews(sheet, step), *_remarks(sheet)]
    return PaperSheet(
        name="weigh",
        title=sheet.name,
        about=told_of(sheet.answer_on.product, plan),
        parts=(
            _record(sheet, "head"),
            _record(sheet, "start", "ticks"),
            PaperPart("lines", Note("weigh.batch"), tuple(notes)),
            *_colours(sheet, step),
            *_stages(sheet, step),
            *_activator(sheet, step),
            _fills(sheet.fills),
            *(_record(sheet, group) for group in ("control", "pack", "release")),
        ),
    )


def _record(sheet: WeighSheet, group: str, kind: str = "writing") -> PaperPart:
    """Lines of a group that are filled in by hand."""
    lines = (
        PaperLine(say(f"batch.record.{each.name}"), box=kind == "writing" and each.kind == "tick")
        for each in sheet.record
        if each.group == group
    )
    heading = "" if group == "stage" else say(f"batch.record.{group}")
    return PaperPart(kind, heading, tuple(lines))


def _stages(sheet: WeighSheet, step: float) -> Iterator[PaperPart]:
    for number, weighings in sheet.stages:
        stage = PaperLine(Note("weigh.stage", {"number": number}), bold=True)
        yield _weighed(stage, "percent", [_weighing(each, step) for each in weighings])
        yield _record(sheet, "stage")


def _weighed(first: PaperLine, share: str, rows: Sequence[tuple[Words, ...]]) -> PaperPart:
    """A table of what is weighed in: a box, its name, lot, share and grams, and room to sign."""
    heads = ("lot", share, "grams", "weighed", "by", "seen")
    return PaperPart(
        "table",
        columns=("", first, *(Note(f"weigh.head-{head}") for head in heads)),
        rows=tuple(rows),
        align="lllrrccc",
        widths=(0.5, 6, 2, 1.7, 1.8, 2.2, 1.3, 1.3),
        room=0.5,
    )


def _weighing(each: Weighing, step: float) -> tuple[Words, ...]:
    grams = PaperLine(_grams(each.weigh_g, step), bold=True)
    lot, blanks = each.lot or BLANK, (BLANK,) * 3
    return PaperLine("", box=True), each.label, lot, f"{each.percent:.2f}", grams, *blanks


def _colours(sheet: WeighSheet, step: float) -> Iterator[PaperPart]:
    """What each brew or solution is weighed of, and what is stirred into its own bottle."""
    for each in sheet.colours:
        rows = [(each.label, each.lot or BLANK, _pinch(each.dry_g, step))]
        if each.steeping is not None:
            warm = phrase("weigh.water", warm=each.steeping.temperature_c)
            rows.append((warm, BLANK, _grams(each.steeping.brew.water_g, step)))
        rows += [(use.replace("-", " "), BLANK, _grams(grams, step)) for use, grams in each.added_g]
        yield _weighed(
            PaperLine(each.name.replace("-", " ").capitalize(), bold=True),
            "percent",
            [
                (
                    PaperLine("", box=True),
                    label,
                    lot,
                    BLANK,
                    PaperLine(grams, bold=True),
                    *(BLANK,) * 3,
                )
                for label, lot, grams in rows
            ],
        )


def _brews(sheet: WeighSheet, step: float) -> Iterator[Note]:
    for each in sheet.colours:
        said: dict[str, Value] = {"name": each.name.replace("-", " "), "label": each.label}
        said |= {"lot": each.lot or phrase("weigh.no-lot"), "dry": _pinch(each.dry_g, step)}
        said |= {"makes": _grams(each.makes_g, step), "packs": each.packs}
        said |= {"each": _pinch(each.each_g, step), "added": _added(each, step)}
        if each.place == "dry sachet" and not each.makes_g:
            yield Note("weigh.petals" if each.plant else "weigh.powder", said)
        elif each.steeping is not None:
            brew = each.steeping
            said |= {"water": _grams(brew.brew.water_g, step), "minutes": brew.minutes}
            yield Note("weigh.brew", said | {"warm": brew.temperature_c})
        else:
            yield Note("weigh.mix", said)
        if each.packs and each.makes_g:
            yield Note("weigh.bottles", said)


def _added(each: BatchColour, step: float) -> str:
    """Materials that are stirred into a colour's own bottle."""
    parts = [f"{_grams(grams, step)} {use.replace('-', ' ')}" for use, grams in each.added_g]
    return listed(parts) if parts else phrase("weigh.nothing")


def _remarks(sheet: WeighSheet) -> Iterator[PaperLine]:
    rounded = sheet.rounding
    for label, step in () if rounded is None else rounded.finer:
        values: dict[str, Value] = {"name": label, "step": f"{step:g}"}
        yield PaperLine(Note("weigh.finer", values), bold=True)
    if sheet.ph_moves and rounded is not None and not rounded.finer:
        moved: dict[str, Value] = {"ph": abs(rounded.ph_shift), "step": f"{rounded.step_g / 10:g}"}
        yield PaperLine(Note("weigh.ph-moves", moved), bold=True)
    for each, finer_g in sheet.coarse_fills:
        said: dict[str, Value] = {"each": f"{each.nominal_g:g} g", "step": f"{finer_g:g}"}
        pinch = "-pinch" if math.isnan(finer_g) else ""
        yield PaperLine(Note(f"weigh.divide{pinch}", said), bold=True)
    for tight in sheet.tight_fills:
        way = "size" if tight.most_nominal_g > 0 else "balance"
        way = way if way == "balance" or math.isnan(tight.finer_g) else "either"
        held: dict[str, Value] = {"mean": _at_least(tight.fill.nominal_g)}
        held |= {"most": _at_most(tight.fill), "size": f"{tight.most_nominal_g:g}"}
        yield PaperLine(
            Note(f"weigh.tight-{way}", held | {"step": f"{tight.finer_g:g}"}), bold=True
        )
    for pack in sheet.small_packs:
        small: dict[str, Value] = {"name": pack.name, "size": pack.size_ml, "needs": pack.needs_ml}
        yield PaperLine(Note("weigh.small", small), bold=True)


def _activator(sheet: WeighSheet, step: float) -> Iterator[PaperPart]:
    if sheet.powders:
        rows = [
            (
                PaperLine("", box=True),
                each.label,
                each.lot or BLANK,
                f"{each.per_sachet_g:.2f} g",
                PaperLine(_grams(each.batch_g, step), bold=True),
                *(BLANK,) * 3,
            )
            for each in sheet.powders
        ]
        yield _weighed(PaperLine(Note("weigh.activator"), bold=True), "sachet", rows)


def _fills(fills: tuple[PackFill, ...]) -> PaperPart:
    heads = ("pack", "count", "label", "mean", "few", "none-under", "none-over")
    return PaperPart(
        "table",
        Note("weigh.fills"),
        lines=(Note(f"weigh.rule{'' if all(each.law_known for each in fills) else '-unread'}"),),
        columns=tuple(Note(f"weigh.head-{head}") for head in heads),
        rows=tuple(
            (
                Note(f"weigh.{each.pack}", {"name": each.of}),
                f"{each.count}",
                f"{each.nominal:.4g} {each.unit}",
                *map(_at_least, (each.nominal_g, each.least_g, each.never_under_g)),
                _at_most(each),
            )
            for each in fills
        ),
        align="lrrrrrr",
        widths=(2, 1, 1, 1, 1, 1, 1),
        room=0.4,
    )


def _at_least(mass_g: float) -> str:
    if mass_g < 1.0:
        return f"{mass_g:.3g} g"
    return "–" if math.isnan(mass_g) else _grams(math.ceil(10.0 * mass_g - 1e-6) / 10.0, 0.1)


def _at_most(fill: PackFill) -> str:
    most_g = fill.most_shown_g
    return "–" if math.isnan(most_g) else _grams(most_g, 0.1 if most_g >= 1.0 else 0.01)


def _pinch(mass_g: float, step: float) -> str:
    """A mass that may need a finer balance than the batch does."""
    if 0 < mass_g < PINCH_G:
        return f"{MG_PER_G * mass_g:.3g} mg"
    return _grams(mass_g, min(step, scale_step(mass_g)))


def _grams(mass_g: float, step: float) -> str:
    """A mass with as many places as the step of its balance has."""
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    return f"{mass_g:.{places}f} g"
