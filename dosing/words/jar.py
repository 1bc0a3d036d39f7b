"""A jar test in words: the corrected dose, what the jar told, and how the test is done."""

from __future__ import annotations

import numpy as np

from dosing.ingredients.hardness_units import alkalinity_in
from dosing.ingredients.powders import kitchen_round_g, portions_on_scale_g, scale_step
from dosing.ingredients.trade_values import NINE_IN_TEN, reading_spread
from dosing.jar.guide import Guide
from dosing.jar.learnt import Learnt
from dosing.jar.model import JarModel
from dosing.jar.records import JarAnswer, StepFit
from dosing.plan.levels import rounded_outwards
from dosing.plan.records import DoseRange
from dosing.words import jar_guide, wording
from dosing.words.jar_guide import PER
from dosing.words.lines import Line, bullets, headed, titled, under
from indicator.notes import Value, say, sentence

READ_WITH = ("jar-test", "water-report")
"""Instruments that a recipe may name, from sure to rough."""
MOSTLY = 0.8
"""Share of its width from which a number's interval has told nothing."""


def answer_lines(answer: JarAnswer, model: JarModel) -> list[Line]:
    """The corrected dose, what the jar told, the readings, cautions and what is next.

    Parameters
    ----------
    answer : JarAnswer
        What the test says.
    model : JarModel
        The jar and the tub.

    Returns
    -------
    list of Line
    """
    held = answer.dose_held_back
    read_with: dict[str, Value] = {
        "count": len(answer.steps),
        "by": say(f"jar.by.{answer.by}"),
        "target": answer.target_ph,
    }
    return [
        *titled(say("jar.title", {"title": answer.title})),
        *_refused(answer),
        Line(say("jar.read-with", read_with)),
        *titled(*([say("plan.not-for-bathing")] if answer.not_for_bathing else [])),
        *bullets(answer.warnings, "jar.heading.doubt"),
        *_dose(answer, model),
        *under(_told(answer, model), "jar.heading.told"),
        *under([_step(step, answer) for step in answer.steps], "jar.heading.readings", 4),
        *under(_next(answer), f"jar.heading.{'also' if held else 'next'}"),
        *under(
            map(wording.caution_line, wording.heaviest_first(answer.cautions)),
            "plan.heading.cautions",
            4,
        ),
        *bullets(answer.notes, "plan.heading.notes"),
    ]


def _refused(answer: JarAnswer) -> list[Line]:
    """What may be done with the dose, and why it is not to be poured as it stands."""
    bold = []
    if answer.dose_held_back:
        bold.append(say("jar.held", {"check": sentence(answer.check_first[0])}))
    if not answer.target_met:
        bold.append(say("jar.not-met", {"target": answer.target, "ph": answer.target_ph}))
    if answer.forbidden:
        bold.append(say("jar.forbidden"))
    verdicts = Line(wording.verdicts_line(answer.verdicts, answer.market))
    return [*([] if answer.dose_held_back else [verdicts]), *titled(*bold)]


def _dose(answer: JarAnswer, model: JarModel) -> list[Line]:
    """The dose, how sure it is, and how it is poured where it may be."""
    held, step = answer.dose_held_back, scale_step(answer.dose_g.best)
    texts = []
    if answer.dose_g.best > 0:
        texts = [_range(answer)] if held else _surely(answer)
        if not (answer.forbidden or held):
            texts.append(_pouring(answer, step))
    aim = Line(_aim(answer, model, step), 2, 2, bold=True)
    return [*headed(say("jar.heading.dose")), aim, *under(texts)]


def _aim(answer: JarAnswer, model: JarModel, step: float) -> str:
    best = answer.dose_g.best
    most = float(np.floor(answer.maximum_g / step + 1e-9) * step)
    code = "no-dose" if best <= 0 else "dose-forbidden" if answer.forbidden else "dose"
    return say("jar.dose-held" if answer.dose_held_back else f"jar.{code}", {
        "grams": wording.grams(min(float(kitchen_round_g(best, step)), most), step),
        "most": wording.grams(most, step),
        "powder": jar_guide.powders(model.tub.activator.parts),
        "vessel": say(f"plan.noun.{model.tub.wish.view}"),
    })  # fmt: skip


def _ends(
    after: DoseRange, before: DoseRange, scale: float = 1.0, step: float | None = None
) -> dict[str, Value]:
    """A dose before and after the test, in words."""
    numbers = {
        "best": after.best, "low": after.low, "high": after.high,
        "old_low": before.low, "old_high": before.high,
    }  # fmt: skip
    return {name: wording.grams(scale * grams, step) for name, grams in numbers.items()}


def _range(answer: JarAnswer) -> str:
    values = _ends(answer.dose_g, answer.dose_before_g) | {"coverage": answer.dose_g.coverage}
    return say("jar.range-held" if answer.dose_held_back else "jar.range", values)


def _surely(answer: JarAnswer) -> list[str]:
    """How sure the dose is, and where it leads."""
    sides: dict[str, Value] = {
        "ph": answer.target_ph,
        "acid": rounded_outwards(answer.ph_acid_side, down=True),
        "alkaline": rounded_outwards(answer.ph_alkaline_side, down=False),
    }
    return [
        _range(answer),
        say("jar.per-litre", _ends(answer.per_litre_g, answer.per_litre_before_g, PER, 0.1)),
        say("jar.volume", {"share": answer.volume_share}),
        say("jar.sides", sides),
    ]


def _pouring(answer: JarAnswer, step: float) -> str:
    totals = answer.pouring.totals_g
    if len(totals) == 1:
        return say("jar.pour-once", {"mix": wording.mixing(say("jug.it"), answer.jugs)})
    _, portions = portions_on_scale_g(totals, answer.maximum_g, step)
    return say("jar.pour-portions", {
        "portions": say("plan.comma").join(wording.grams(grams, step) for grams in portions),
        "mix": wording.mixing(say("jug.each"), answer.jugs),
        "stop": _stop(answer),
    }).strip()  # fmt: skip


def _stop(answer: JarAnswer) -> str:
    """What tells between portions that it is enough."""
    look = answer.pouring.look
    if look is None:
        return ""
    if look.by == "meter":
        side = "acid" if answer.target_ph < answer.ph_before else "alkaline"
        return say(f"plan.stop.meter-{side}", {"ph": look.stop_ph})
    return say("jar.stop", {"name": str(answer.after.name), "hex": str(answer.after.hex)})


def _as_sure_as(level: Learnt) -> str | None:
    """The instrument that is no surer than what the jar found; None where it found too little."""
    sd = (level.high - level.low) / NINE_IN_TEN
    spreads = {tool: float(reading_spread("alkalinity", tool).sd(level.best)) for tool in READ_WITH}
    rougher = (tool for tool in READ_WITH if spreads[tool] >= sd)
    return next((tool.replace("-", " ") for tool in rougher), None)


def _told(answer: JarAnswer, model: JarModel) -> list[str]:
    """What the jar told of the water, the foam bath and the pigment."""
    level = answer.alkalinity_meq_l
    ppm = float(alkalinity_in(level.best, "ppm"))
    lines = [say("jar.alkalinity", {**vars(level), "ppm": ppm})]
    instrument = _as_sure_as(level)
    if instrument is not None and not answer.dose_held_back:
        lines.append(say("jar.into-recipe", {"meq": level.best, "as": instrument}))
    if answer.product_buffer is not None and model.jar.inputs.foam_bath is not None:
        lines.append(_narrowed("product", answer.product_buffer))
    if answer.pka_shift is not None:
        lines.append(_narrowed("shift", answer.pka_shift))
    return lines


def _narrowed(what: str, number: Learnt) -> str:
    """A number that the jar told, or the word that it did not."""
    if number.high - number.low > MOSTLY * (number.prior_high - number.prior_low):
        return say(f"jar.{what}-untold")
    # What is rounded to nothing is not written as less than nothing.
    digits = 1 if what == "shift" else 2
    return say(f"jar.{what}", {end: round(at, digits) + 0.0 for end, at in vars(number).items()})


def _step(step: StepFit, answer: JarAnswer) -> str:
    mark = ""
    if step.set_aside:
        mark = say("jar.step-mark")
    elif step.number == answer.worst_step:
        mark = say("jar.step-worst")
    kind = "word" if step.word else "colour" if isinstance(step.read, str) else "ph"
    return say(f"jar.step-{kind}", {
        **vars(step),
        "added": jar_guide.amount(step.added, answer.unit),
        "mark": mark,
    })  # fmt: skip


def _next(answer: JarAnswer) -> list[str]:
    """What to check besides the first, or what to add."""
    if answer.dose_held_back:
        return [sentence(check) for check in answer.check_first[1:]]
    if not answer.next_additions:
        return [say("jar.next-none")]
    parts = []
    for addition in answer.next_additions:
        both = {"add": addition.add, "total": addition.total}
        shown = {name: jar_guide.amount(units, answer.unit) for name, units in both.items()}
        parts.append(say("jar.addition-and-total", shown))
    half = jar_guide.half_width(answer.per_litre_g.low, answer.per_litre_g.high)
    return [say("jar.next", {
        "additions": say("plan.comma").join(parts),
        "before": jar_guide.either_way(half),
        "after": jar_guide.either_way(half * answer.next_share_of_width),
    })]  # fmt: skip


def guide_lines(guide: Guide, command: str) -> list[Line]:
    """Lines of ``jar --instructions``: the test with its table; the command is a line by itself.

    Parameters
    ----------
    guide : Guide
        The test.
    command : str
        What is typed when the table is filled in.

    Returns
    -------
    list of Line
    """
    sections = jar_guide.sections(guide)
    mind = sections.pop("mind")
    lines = [*titled(say("jar.title", {"title": guide.title}))]
    for heading, texts in sections.items():
        lines += under(texts, f"jar.heading.{heading}", 0)
    lines += [*headed(say("jar.heading.table")), *_table(guide), *headed(say("jar.heading.enter"))]
    for text in jar_guide.entering(guide, command):
        lines.append(Line(text, 2, 2, whole=text == command))
    return [*lines, *under(mind, "jar.heading.mind")]


def _table(guide: Guide) -> list[Line]:
    """Column under column; what is too long begins again under the last."""
    heads, *cells = jar_guide.table(guide)
    rows = [["", *heads, ""]]
    for row, texts in zip(guide.readings, cells, strict=True):
        name = "" if row.expected is None else str(row.expected.name)
        rows.append([f"{row.number}.", *texts, name])
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    hang = sum(widths[:-1]) + 2 * len(widths[1:])
    lines = []
    for first, *others in rows:
        padded = (cell.ljust(width) for cell, width in zip(others, widths[1:], strict=True))
        lines.append(Line("  ".join([first.rjust(widths[0]), *padded]).rstrip(), 0, hang))
    return lines
