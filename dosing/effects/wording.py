"""A design in sentences: what terminal and picture say in the same words."""

from __future__ import annotations

import math

from dosing import wording
from dosing.cautions import rounded_outwards
from dosing.effects.answer import Effects
from dosing.effects.designs import Design, DesignedColour, listed
from dosing.powders import powder
from indicator.notes import Value, say
from indicator.pigments import colourant
from indicator.words import change_level

HARDLY = 0.4
"""Share of the draws below which a design will hardly come out."""
INSIDE = ("design.note.portions", "design.note.own-acid")
"""Notes that belong to one design alone; the others are told once for all."""
SURE = ((0.9, "very-likely"), (0.67, "likely"), (0.4, "even"))
"""Share of the draws from which a word is used."""


def title(effects: Effects) -> str:
    """The bath and both wishes."""
    named: dict[str, Value] = {"start": effects.start.text, "end": effects.end.text}
    return say("design.title", {**named, "title": effects.inputs.title})


def setting_line(effects: Effects) -> str:
    """The tub, and for whom it is judged."""
    depth = "plan.cm-whole" if effects.depth_cm >= 3 else "plan.cm-tenth"
    values: dict[str, Value] = {
        "volume": wording.litres(effects.volume_l),
        "depth": say(depth, {"cm": effects.depth_cm}),
        "temperature": effects.inputs.water_temperature_c,
    }
    vessel = say(f"plan.vessel.{effects.inputs.wish.view}", values)
    told = {"vessel": vessel, "bathers": say(f"design.for.{effects.bathers}")}
    return say("design.setting", told)


def outcome(effects: Effects) -> str:
    """Whether and how often it can be done."""
    done = sum(one.reached for one in effects.designs)
    if done and all(one.sure_share < HARDLY for one in effects.designs if one.reached):
        return say("design.found-unsure")
    if done == 1:
        return say("design.found-one")
    if done:
        return say("design.found-many", {"count": done})
    return say("design.nearest" if effects.designs else "design.nothing")


def colours_line(design: Design) -> str:
    """Both colours in words, each with its pH."""
    values: dict[str, Value] = {
        "before": str(design.before.colour.phrase),
        "ph_before": design.before.ph,
        "after": str(design.after.colour.phrase),
        "ph_after": design.after.ph,
    }
    return say("design.row", values)


def colour_line(one: DesignedColour) -> str:
    """How much of a colour, and the petals or powder in it."""
    which = colourant(one.name)
    values: dict[str, Value] = {
        "amount": say("design.millilitres", {"millilitres": f"{one.amount_ml:g}"}),
        "colour": which.label,
        "strength": one.stock.written,
    }
    if which.kind == "dye":
        return say("design.colour-dye", {**values, "powder": _small(one.grams or 0.0)})
    if one.grams is None:
        return say("design.colour-infusion-measured", values)
    petals = f"{wording.two_figures(one.grams)} g"
    return say("design.colour-infusion", {**values, "petals": petals})


def _small(mass_g: float) -> str:
    if mass_g >= 1:
        return f"{wording.two_figures(mass_g)} g"
    return say("design.milligrams", {"milligrams": wording.two_figures(1000.0 * mass_g)})


def dose_line(design: Design) -> str:
    """The activator, rounded down so that no gate is passed."""
    step = wording.scale_step(design.dose_g)
    values: dict[str, Value] = {
        "grams": wording.grams(math.floor(design.dose_g / step + 1e-9) * step, step),
        "powder": listed([powder(name).label for name, _ in design.activator]),
        "count": design.portions,
    }
    return say("design.dose" if design.portions == 1 else "design.dose-portions", values)


def sides_line(design: Design) -> str:
    """The pH in the possible tubs, with the caution level where there is one."""
    text = say("design.sides", _sides(design))
    if design.level == "ok":
        return text
    mark = wording.MARKS[design.level]
    return text + say("design.mark", {"mark": mark, "level": wording.level(design.level)})


def _sides(design: Design) -> dict[str, Value]:
    return {
        "acid": rounded_outwards(design.ph_acid_side, down=True),
        "alkaline": rounded_outwards(design.ph_alkaline_side, down=False),
    }


def judged_line(design: Design) -> str:
    """Which of the wishes is met, and whether the change is seen."""
    kind = {(True, True): "both", (True, False): "start", (False, True): "end"}
    met = say(f"design.met-{kind.get((design.start_met, design.end_met), 'none')}")
    for which, away in (("start", design.start_delta_e), ("end", design.end_delta_e)):
        if away is not None:
            off: dict[str, Value] = {"which": say(f"design.which-{which}"), "away": away}
            met += say("plan.comma") + say("design.met-away", off)
    level = str(change_level(design.change_delta_e)).replace(" ", "-")
    # Not rounded up: 9.7 is not yet the 10 from which a change is obvious.
    change = say(f"design.change.{level}", {"delta_e": math.floor(design.change_delta_e)})
    return say("design.judged", {"met": met, "change": change})


def sure_line(design: Design) -> str:
    """How sure the design is, by the pigments and by the water."""
    word = next((name for share, name in SURE if design.sure_share >= share), "unlikely")
    how: dict[str, Value] = {
        "how": say(f"design.how.{word}"),
        "share": math.floor(100.0 * design.sure_share),
    }
    tubs: dict[str, Value] = {"share": math.floor(100.0 * design.tubs_share)}
    both = {"pigment": say("design.pigment", how), "tubs": say("design.tubs", tubs)}
    return say("design.sure", both)


def price_line(design: Design) -> str:
    """What it costs, and what has no price."""
    values: dict[str, Value] = {"price": design.price or 0.0}
    if not design.unpriced:
        return say("design.price", values)
    names = [
        powder(name).label if name in dict(design.activator) else colourant(name).label
        for name in design.unpriced
    ]
    return say("design.price-without", {**values, "unpriced": listed(names)})
