"""A jar test in words and as one JSON document; keys once published stay."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from dosing import wording
from dosing.cautions import Caution, exit_code, rounded_outwards
from dosing.cli.jsonout import caution, colour, notes
from dosing.cli.output import Page
from dosing.jar import guide as jar_guide
from dosing.jar.answer import JarAnswer, StepFit
from dosing.jar.guide import Guide
from dosing.jar.learnt import Learnt
from dosing.jar.model import JarModel
from dosing.powders import Blend, kitchen_round_g, powder
from dosing.trade_values import typical
from dosing.water import alkalinity_in
from indicator.appearance import hex_of_lab
from indicator.notes import Note, Value, say, sentence

PER = 100.0
"""Litres that a dose is told for."""


def answer_document(answer: JarAnswer, model: JarModel) -> dict[str, Any]:
    """Everything a jar test says; units are in the key names."""
    design = answer.next_additions
    ml = _ml_per_unit(answer.unit)
    product = answer.product_buffer
    return {
        "title": answer.title,
        "by": answer.by,
        "unit": answer.unit,
        "target": answer.target,
        "target_ph": answer.target_ph,
        "reached": answer.reached,
        "target_met": answer.target_met,
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
        "maximum_g": answer.maximum_g,
        "pours_g": list(np.diff(answer.pouring.totals_g, prepend=0.0)),
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
        "cautions": [caution(one) for one in answer.cautions],
        "notes": notes(answer.notes),
        "warnings": notes(answer.warnings),
    }


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
    values: dict[str, Value] = {
        "count": len(answer.steps),
        "by": say(f"jar.by.{answer.by}"),
        "target": answer.target_ph,
    }
    page.line(say("jar.read-with", values))
    if answer.not_for_bathing:
        page.line(say("plan.not-for-bathing"), style="bold")
    _refused(answer, page)
    _bullets("doubt", answer.warnings, page)
    _dose(answer, model, page)
    page.heading(say("jar.heading.told"))
    for text in _told(answer, model):
        page.line(text, indent=2, hang=2)
    page.heading(say("jar.heading.readings"))
    for one in answer.steps:
        page.line(_step_line(one, answer), indent=2, hang=4)
    page.heading(say("jar.heading.next"))
    for text in _next(answer):
        page.line(text, indent=2, hang=2)
    page.heading(say("plan.heading.cautions"))
    for found in wording.heaviest_first(answer.cautions):
        page.line(_caution(found), indent=2, hang=4)
    page.heading(say("plan.heading.notes"))
    for note in answer.notes:
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)


def _refused(answer: JarAnswer, page: Page) -> None:
    if not answer.target_met:
        values: dict[str, Value] = {"target": answer.target, "ph": answer.target_ph}
        page.line(say("jar.not-met", values), style="bold")
    if exit_code(answer.cautions) != 0:
        page.line(say("jar.forbidden"), style="bold")


def _bullets(heading: str, found: Iterable[Note], page: Page) -> None:
    for number, note in enumerate(found):
        if number == 0:
            page.heading(say(f"jar.heading.{heading}"))
        page.line(say("plan.bullet", {"text": sentence(note)}), indent=2, hang=2)


def _dose(answer: JarAnswer, model: JarModel, page: Page) -> None:
    page.heading(say("jar.heading.dose"))
    dose, before = answer.dose_g, answer.dose_before_g
    each, each_before = answer.per_litre_g, answer.per_litre_before_g
    step = wording.scale_step(dose.best)
    floor = np.floor(answer.maximum_g / step + 1e-9) * step
    values: dict[str, Value] = {
        "grams": wording.grams(min(float(kitchen_round_g(dose.best, step)), float(floor)), step),
        "most": wording.grams(float(floor), step),
        "powder": say("plan.and").join(
            powder(name).label for name in Blend(model.tub.activator.parts).parts
        ),
        "vessel": say(f"plan.noun.{model.tub.wish.view}"),
    }
    forbidden = exit_code(answer.cautions) != 0
    code = "no-dose" if dose.best <= 0 else "dose-forbidden" if forbidden else "dose"
    page.line(say(f"jar.{code}", values), indent=2, hang=2, style="bold")
    if dose.best <= 0:
        return
    ranged: dict[str, Value] = {
        "low": wording.grams(dose.low),
        "high": wording.grams(dose.high),
        "coverage": dose.coverage,
        "old_low": wording.grams(before.low),
        "old_high": wording.grams(before.high),
    }
    page.line(say("jar.range", ranged), indent=2, hang=2)
    litre: dict[str, Value] = {
        "best": wording.grams(PER * each.best, 0.1),
        "low": wording.grams(PER * each.low, 0.1),
        "high": wording.grams(PER * each.high, 0.1),
        "old_low": wording.grams(PER * each_before.low, 0.1),
        "old_high": wording.grams(PER * each_before.high, 0.1),
    }
    page.line(say("jar.per-litre", litre), indent=2, hang=2)
    page.line(say("jar.volume", {"share": answer.volume_share}), indent=2, hang=2)
    sides: dict[str, Value] = {
        "ph": answer.target_ph,
        "acid": rounded_outwards(answer.pouring.final[0], down=True),
        "alkaline": rounded_outwards(answer.pouring.final[1], down=False),
    }
    page.line(say("jar.sides", sides), indent=2, hang=2)
    if not forbidden:
        page.line(_pouring(answer, step), indent=2, hang=2)


def _pouring(answer: JarAnswer, step: float) -> str:
    totals = answer.pouring.totals_g
    if len(totals) == 1:
        return say("jar.pour-once")
    portions = say("plan.comma").join(
        wording.grams(float(one), step) for one in np.diff(totals, prepend=0.0)
    )
    return say("jar.pour-portions", {"portions": portions})


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
    return say(f"jar.{what}", {"best": found.best, "low": found.low, "high": found.high})


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
    gain = 1.0 - design.width_after / design.width_before
    values: dict[str, Value] = {"additions": say("plan.comma").join(parts), "gain": gain}
    return [say("jar.next", values)]


def _caution(found: Caution) -> str:
    values: dict[str, Value] = {
        "mark": wording.MARKS[found.level],
        "level": wording.level(found.level),
        "text": found.message,
    }
    return say("plan.caution", values).strip()


def guide_document(one: Guide) -> dict[str, Any]:
    """A laid-out test."""
    unit = one.model.titrant.unit
    return {
        "title": one.title,
        "by": one.by,
        "unit": unit,
        "target_ph": one.target_ph,
        "solution_percent": None if unit in ("g", "pinches") else one.percent,
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
            {"by": other, "expected_share_of_width": left} for other, left in one.others
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
    unit = one.model.titrant.unit
    page.line(say("jar.do.row-head"))
    for row in one.rows:
        values: dict[str, Value] = {
            "number": row.number,
            "add": jar_guide.addition(row, unit),
            "total": jar_guide.amount(row.total, unit),
            "expect": say("jar.do.expect-ph", {"ph": row.ph}),
            "name": "" if row.colour is None else str(row.colour.name),
        }
        page.line(say("jar.do.row", values).rstrip(), hang=38)
    page.heading(say("jar.heading.enter"))
    for text in jar_guide.entering(one):
        page.line(text, indent=2, hang=2)
    page.heading(say("jar.heading.mind"))
    for text in jar_guide.minding(one):
        page.line(text, indent=2, hang=2)
