"""A jar test in words and as one JSON document; keys once published stay."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from dosing.cli.jsonout import caution, colour, notes, verdicts
from dosing.cli.output import Page
from dosing.ingredients.powders import kitchen_round_g, scale_step
from dosing.ingredients.trade_values import NINE_IN_TEN, reading_spread, typical
from dosing.ingredients.water import alkalinity_in
from dosing.jar.answer import JarAnswer, StepFit
from dosing.jar.learnt import Learnt
from dosing.jar.model import JarModel
from dosing.plan.cautions import rounded_outwards
from dosing.words import jar_guide, wording
from dosing.words.jar_guide import Guide
from indicator.appearance import hex_of_lab
from indicator.notes import Note, Value, say, sentence

PER = 100.0
"""Litres that a dose is told for."""
READ_WITH = ("jar-test", "water-report")
"""Instruments that a recipe may name, from sure to rough."""


def answer_document(answer: JarAnswer, model: JarModel) -> dict[str, Any]:
    """Everything a jar test says; units are in the key names."""
    design = answer.next_additions
    ml = _ml_per_unit(answer.unit)
    product = answer.product_buffer
    # Nothing is poured on the word of a series that contradicts itself or the recipe, nor where
    # the tub forbids it.
    stopped = answer.held_back or not answer.verdicts.pour.allowed
    return {
        "title": answer.title,
        "by": answer.by,
        "unit": answer.unit,
        "target": answer.target,
        "target_ph": answer.target_ph,
        "reached": answer.reached,
        "target_met": answer.target_met,
        "dose_held_back": answer.held_back,
        "check_first": notes(answer.check_first),
        "alkalinity_meq_l": vars(answer.alkalinity_meq_l),
        "product_buffer": None if product is None else vars(product),
        "pka_shift": None if answer.pka_shift is None else vars(answer.pka_shift),
        "pigment_numbers": [
            {"pigment": one.pigment, "form": one.form, "pka": vars(one.pka)}
            for one in answer.pigment_numbers
        ],
        "gas_lost": vars(answer.gas_lost),
        "acid_scale": vars(answer.acid_scale),
        "offset_ph": None if answer.offset_ph is None else vars(answer.offset_ph),
        "dose_g": vars(answer.dose_g),
        "dose_before_g": vars(answer.dose_before_g),
        "per_litre_g": vars(answer.per_litre_g),
        "per_litre_before_g": vars(answer.per_litre_before_g),
        "maximum_g": 0.0 if stopped else answer.maximum_g,
        "pours_g": [] if stopped else _portions(answer),
        "volume_l": answer.volume_l,
        "volume_share": answer.volume_share,
        "ph_before": answer.ph_before,
        "ph_acid_side": answer.pouring.final[0],
        "ph_alkaline_side": answer.pouring.final[1],
        "ph_acid_side_airing": answer.pouring.aired[0],
        "ph_alkaline_side_airing": answer.pouring.aired[1],
        "steps": [_step(one, ml) for one in answer.steps],
        "consistent": answer.consistent,
        "worst_step": answer.worst_step,
        "scatter": answer.scatter,
        "next_additions": (
            []
            if design is None
            else [{"add": add, "total": total} for add, total in _further(answer)]
        ),
        "next_additions_ml": (None if ml is None else [ml * add for add, _ in _further(answer)]),
        "not_for_bathing": answer.not_for_bathing,
        "verdicts": verdicts(answer.verdicts),
        "cautions": [caution(one) for one in answer.cautions],
        "notes": notes(answer.notes),
        "warnings": notes(answer.warnings),
    }


def _portions(answer: JarAnswer) -> list[float]:
    """What is poured, one after the other [g]."""
    return [float(one) for one in np.diff(answer.pouring.totals_g, prepend=0.0)]


def _ml_per_unit(unit: str) -> float | None:
    return {"mL": 1.0, "drops": typical("drop_volume").value}.get(unit)


def _step(one: StepFit, ml: float | None) -> dict[str, Any]:
    return {
        "number": one.number,
        "added": one.added,
        "ml": None if ml is None else ml * one.added,
        "read": _value(one.read),
        "expected": _value(one.expected),
        "word": one.word or None,
        "residual": one.residual,
        "set_aside": one.set_aside,
    }


def _value(read: np.ndarray[Any, np.dtype[np.float64]]) -> float | str:
    """A pH, or a colour as # and six digits."""
    return float(read[0]) if len(read) == 1 else str(hex_of_lab(read, "D65", 2))


def _further(answer: JarAnswer) -> list[tuple[float, float]]:
    """Further additions with what is in the jar after each."""
    if answer.next_additions is None:
        return []
    totals = answer.next_additions.totals
    done = answer.steps[-1].added
    return [
        (float(total - before), float(total))
        for before, total in zip([done, *totals[:-1]], totals, strict=True)
    ]


def show_answer(answer: JarAnswer, model: JarModel, page: Page) -> None:
    """Print the corrected dose, what the jar told, the readings, cautions and what is next."""
    page.line(say("jar.title", {"title": answer.title}), style="bold")
    _refused(answer, page)
    values: dict[str, Value] = {
        "count": len(answer.steps),
        "by": say(f"jar.by.{answer.by}"),
        "target": answer.target_ph,
    }
    page.line(say("jar.read-with", values))
    if answer.not_for_bathing:
        page.line(say("plan.not-for-bathing"), style="bold")
    _bullets("doubt", answer.warnings, page)
    _dose(answer, model, page)
    page.heading(say("jar.heading.told"))
    for text in _told(answer, model):
        page.line(text, indent=2, hang=2)
    page.heading(say("jar.heading.readings"))
    for one in answer.steps:
        page.line(_step_line(one, answer), indent=2, hang=4)
    further = _next(answer)
    if further:
        page.heading(say(f"jar.heading.{'also' if answer.held_back else 'next'}"))
    for text in further:
        page.line(text, indent=2, hang=2)
    page.heading(say("plan.heading.cautions"))
    for found in wording.heaviest_first(answer.cautions):
        page.line(wording.caution_line(found), indent=2, hang=4)
    page.heading(say("plan.heading.notes"))
    for note in answer.notes:
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)


def _refused(answer: JarAnswer, page: Page) -> None:
    """What may be done with the dose, and why it is not to be poured as it stands."""
    if not answer.held_back:
        page.line(wording.verdicts_line(answer.verdicts, answer.market))
    if answer.held_back:
        first = {"check": sentence(answer.check_first[0])}
        page.line(say("jar.held", first), style="bold")
    if not answer.target_met:
        values: dict[str, Value] = {"target": answer.target, "ph": answer.target_ph}
        page.line(say("jar.not-met", values), style="bold")
    if answer.forbidden:
        page.line(say("jar.forbidden"), style="bold")


def _bullets(heading: str, found: Iterable[Note], page: Page) -> None:
    for number, note in enumerate(found):
        if number == 0:
            page.heading(say(f"jar.heading.{heading}"))
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)


def _dose(answer: JarAnswer, model: JarModel, page: Page) -> None:
    """The dose, how sure it is, and how it is poured where it may be."""
    page.heading(say("jar.heading.dose"))
    step = scale_step(answer.dose_g.best)
    page.line(_aim(answer, model, step), indent=2, hang=2, style="bold")
    if answer.dose_g.best <= 0:
        return
    for text in [_range(answer)] if answer.held_back else _surely(answer):
        page.line(text, indent=2, hang=2)
    if not (answer.forbidden or answer.held_back):
        page.line(_pouring(answer, step), indent=2, hang=2)


def _aim(answer: JarAnswer, model: JarModel, step: float) -> str:
    best = answer.dose_g.best
    most = float(np.floor(answer.maximum_g / step + 1e-9) * step)
    values: dict[str, Value] = {
        "grams": wording.grams(min(float(kitchen_round_g(best, step)), most), step),
        "most": wording.grams(most, step),
        "powder": jar_guide.powders(model.tub.activator.parts),
        "vessel": say(f"plan.noun.{model.tub.wish.view}"),
    }
    if answer.held_back:
        return say("jar.dose-held", values)
    code = "no-dose" if best <= 0 else "dose-forbidden" if answer.forbidden else "dose"
    return say(f"jar.{code}", values)


def _range(answer: JarAnswer) -> str:
    dose, before = answer.dose_g, answer.dose_before_g
    values: dict[str, Value] = {
        "low": wording.grams(dose.low),
        "high": wording.grams(dose.high),
        "coverage": dose.coverage,
        "old_low": wording.grams(before.low),
        "old_high": wording.grams(before.high),
    }
    return say("jar.range-held" if answer.held_back else "jar.range", values)


def _surely(answer: JarAnswer) -> list[str]:
    """How sure the dose is, and where it leads."""
    each, before = answer.per_litre_g, answer.per_litre_before_g
    litre: dict[str, Value] = {
        "best": wording.grams(PER * each.best, 0.1),
        "low": wording.grams(PER * each.low, 0.1),
        "high": wording.grams(PER * each.high, 0.1),
        "old_low": wording.grams(PER * before.low, 0.1),
        "old_high": wording.grams(PER * before.high, 0.1),
    }
    sides: dict[str, Value] = {
        "ph": answer.target_ph,
        "acid": rounded_outwards(answer.pouring.final[0], down=True),
        "alkaline": rounded_outwards(answer.pouring.final[1], down=False),
    }
    return [
        _range(answer),
        say("jar.per-litre", litre),
        say("jar.volume", {"share": answer.volume_share}),
        say("jar.sides", sides),
    ]


def _pouring(answer: JarAnswer, step: float) -> str:
    totals = answer.pouring.totals_g
    if len(totals) == 1:
        return say("jar.pour-once", {"mix": wording.mixing(say("jug.it"), answer.jugs)})
    _, portions = wording.shown_portions(totals, answer.maximum_g, step)
    parts = say("plan.comma").join(wording.grams(one, step) for one in portions)
    values: dict[str, Value] = {
        "portions": parts,
        "mix": wording.mixing(say("jug.each"), answer.jugs),
        "stop": _stop(answer),
    }
    return say("jar.pour-portions", values).strip()


def _stop(answer: JarAnswer) -> str:
    """What tells between portions that it is enough."""
    look = answer.pouring.look
    if look is None:
        return ""
    if look.by == "meter":
        side = "acid" if answer.target_ph < answer.ph_before else "alkaline"
        return say(f"plan.stop.meter-{side}", {"ph": look.stop_ph})
    name, shown = answer.after
    return say("jar.stop", {"name": name, "hex": shown})


def _as_sure_as(found: Learnt) -> str | None:
    """The instrument that is no surer than what the jar found; None where it found too little."""
    sd = (found.high - found.low) / NINE_IN_TEN
    spreads = {one: float(reading_spread("alkalinity", one).sd(found.best)) for one in READ_WITH}
    rougher = (one for one in READ_WITH if spreads[one] >= sd)
    return next((one.replace("-", " ") for one in rougher), None)


def _told(answer: JarAnswer, model: JarModel) -> list[str]:
    found = answer.alkalinity_meq_l
    values: dict[str, Value] = {
        "best": found.best,
        "low": found.low,
        "high": found.high,
        "ppm": float(alkalinity_in(found.best, "ppm")),
        "old": found.prior_best,
        "old_low": found.prior_low,
        "old_high": found.prior_high,
    }
    lines = [say("jar.alkalinity", values)]
    instrument = _as_sure_as(found)
    if instrument is not None and not answer.held_back:
        lines.append(say("jar.into-recipe", {"meq": found.best, "as": instrument}))
    product = answer.product_buffer
    if product is not None and model.jar.inputs.foam_bath is not None:
        lines.append(_narrowed("product", product))
    if answer.pka_shift is not None:
        lines.append(_narrowed("shift", answer.pka_shift))
    return lines


def _narrowed(what: str, found: Learnt) -> str:
    """A number that the jar told, or the word that it did not."""
    if found.width > 0.8 * (found.prior_high - found.prior_low):
        return say(f"jar.{what}-untold")
    # What is rounded to nothing is not written as less than nothing.
    digits = 1 if what == "shift" else 2
    ends = {"best": found.best, "low": found.low, "high": found.high}
    return say(f"jar.{what}", {name: round(value, digits) + 0.0 for name, value in ends.items()})


def _step_line(one: StepFit, answer: JarAnswer) -> str:
    mark = ""
    if one.set_aside:
        mark = say("jar.step-mark")
    elif one.number == answer.worst_step:
        mark = say("jar.step-worst")
    values: dict[str, Value] = {
        "number": one.number,
        "added": jar_guide.amount(one.added, answer.unit),
        "read": _value(one.read),
        "expected": _value(one.expected),
        "off": one.residual,
        "mark": mark,
    }
    kind = "word" if one.word else "ph" if len(one.read) == 1 else "colour"
    return say(f"jar.step-{kind}", values | {"word": one.word})


def _next(answer: JarAnswer) -> list[str]:
    """What to check besides the first, or what to add."""
    if answer.held_back:
        return [sentence(one) for one in answer.check_first[1:]]
    design = answer.next_additions
    if design is None:
        return [say("jar.next-none")]
    parts = [
        say(
            "jar.addition-and-total",
            {
                "add": jar_guide.amount(add, answer.unit),
                "total": jar_guide.amount(total, answer.unit),
            },
        )
        for add, total in _further(answer)
    ]
    half = 0.5 * PER * (answer.per_litre_g.high - answer.per_litre_g.low)
    values: dict[str, Value] = {
        "additions": say("plan.comma").join(parts),
        "before": jar_guide.either_way(half),
        "after": jar_guide.either_way(half * design.width_after / design.width_before),
    }
    return [say("jar.next", values)]


def guide_document(one: Guide) -> dict[str, Any]:
    """A laid-out test."""
    unit = one.model.titrant.unit
    return {
        "title": one.title,
        "by": one.by,
        "unit": unit,
        "target_ph": one.target_ph,
        "solution_percent": None if one.dry else one.percent,
        "weighed_g": list(one.weighed_g),
        "jar_l": one.model.jar.litres,
        "plain": not one.model.jar.inputs.colours and one.model.jar.inputs.foam_bath is None,
        "colour_times": one.colour_times,
        "readings": [
            {
                "number": row.number,
                "add": row.add,
                "total": row.total,
                "expected_ph": row.ph,
                "expected": None if row.colour is None else colour(row.colour),
            }
            for row in one.rows
        ],
        "per_litre_before_g": vars(one.per_litre_before_g),
        "expected_share_of_width": one.narrows_to,
        "surer_ways": [
            {"by": other.way, "expected_share_of_width": other.share} for other in one.others
        ],
        "command": one.command,
        "instructions": _instructions(one),
        "notes": notes(one.notes),
    }


def _blocks(one: Guide) -> list[tuple[str, list[str]]]:
    return [
        ("why", jar_guide.headline(one)),
        ("kit", jar_guide.kit(one)),
        ("acid", jar_guide.acid(one)),
        ("fill", jar_guide.filling(one)),
        ("read", jar_guide.reading(one)),
    ]


def _instructions(one: Guide) -> list[str]:
    return [text for _, texts in _blocks(one) for text in texts] + jar_guide.minding(one)


def show_guide(one: Guide, page: Page) -> None:
    """Print how to do the test, with its table."""
    page.line(say("jar.title", {"title": one.title}), style="bold")
    for heading, texts in _blocks(one):
        page.heading(say(f"jar.heading.{heading}"))
        for text in texts:
            page.line(text, indent=2)
    page.heading(say("jar.heading.table"))
    lines, before_names = _table(one)
    for line in lines:
        page.line(line, hang=before_names)
    page.heading(say("jar.heading.enter"))
    for text in jar_guide.entering(one):
        if text == one.command:
            page.whole(text, indent=2)
        else:
            page.line(text, indent=2, hang=2)
    page.heading(say("jar.heading.mind"))
    for text in jar_guide.minding(one):
        page.line(text, indent=2, hang=2)


def _table(one: Guide) -> tuple[list[str], int]:
    """What to add and to note, column under column, and where the last column begins."""
    unit = one.model.titrant.unit
    heads = ["", *(say(f"jar.sheet.{name}") for name in ("add", "total", "expect", "yours")), ""]
    cells = [
        [
            f"{row.number}.",
            jar_guide.addition(row, unit),
            jar_guide.amount(row.total, unit),
            say("jar.do.expect-ph", {"ph": row.ph}),
            say("jar.do.blank"),
            "" if row.colour is None else str(row.colour.name),
        ]
        for row in one.rows
    ]
    widths = [max(map(len, column)) for column in zip(heads, *cells, strict=True)]
    return [_row(line, widths) for line in (heads, *cells)], sum(widths[:-1]) + 2 * len(widths[1:])


def _row(cells: Sequence[str], widths: Sequence[int]) -> str:
    number, *others = (cell.ljust(width) for cell, width in zip(cells, widths, strict=True))
    return "  ".join([cells[0].rjust(len(number)), *others]).rstrip()
