"""A plan in sentences: what terminal, picture and paper say in the same words."""

from __future__ import annotations

import math

from dosing.cautions import LEVELS, Caution
from dosing.powders import powder, spoon_words
from dosing.records import ColourAmount, Plan, Sight
from indicator.notes import Value, say, sentence
from indicator.pigments import colourant
from indicator.words import change_level, visibility_level

MARKS = {"ok": "", "mind": "!", "justify": "!!", "stop": "X"}
"""Each caution level has a mark beside its word, so that no colour need carry it."""
LEAST_DRIFT_PH = 0.3
"""A pH that moves less than this by itself is not worth a word."""


def grams(mass: float) -> str:
    """A mass as a kitchen scale shows it: whole grams, tenths below five."""
    step = "tenth" if 0 < mass < 5 else "whole"
    return say(f"plan.grams-{step}", {"grams": mass})


def spoons(teaspoons: float) -> str:
    """Level spoons in words."""
    return sentence(spoon_words(teaspoons))


def vessel(plan: Plan) -> str:
    """How much water, how warm, how deep, how it is looked at."""
    values: dict[str, Value] = {
        "volume": plan.volume_l,
        "depth": plan.depth_cm,
        "temperature": plan.temperature_c,
    }
    return say(f"plan.vessel.{plan.vessel}", values)


def powders(plan: Plan) -> str:
    """The activator by its names."""
    return say("plan.and").join(powder(name).label for name, _ in plan.activator)


def blend(plan: Plan) -> str | None:
    """The shares of a blend; None of a single powder."""
    if len(plan.activator) == 1:
        return None
    shares = say("plan.comma").join(
        say("plan.share", {"share": share, "powder": powder(name).label})
        for name, share in plan.activator
    )
    return say("plan.blend", {"shares": shares})


def aim(plan: Plan) -> str:
    """The dose to the step of a scale, rounded down where rounding up would pass the most."""
    shown = grams(plan.dose_g.best)
    rounded_up = round(plan.dose_g.best) > plan.maximum_g and plan.dose_g.best >= 5
    return grams(math.floor(plan.dose_g.best)) if rounded_up else shown


def dose(plan: Plan) -> str:
    """How much to pour, in one sentence."""
    best = plan.dose_g.best
    values: dict[str, Value] = {"grams": aim(plan), "powder": powders(plan)}
    if best <= 0:
        return say("plan.no-dose", values)
    if plan.wish.kind == "dose":
        return say("plan.given", values)
    return say("plan.aim", {**values, "most": most(plan)})


def most(plan: Plan) -> str:
    """The printed maximum, never rounded up."""
    mass = plan.maximum_g
    step = 0.1 if mass < 5 else 1.0
    return grams(math.floor(mass / step + 1e-9) * step)


def nothing_to_spare(plan: Plan) -> bool:
    """Whether a kitchen scale tells no difference between the aim and the most."""
    return plan.maximum_g - plan.dose_g.best < (0.1 if plan.dose_g.best < 5 else 1.0)


def dose_range(plan: Plan) -> str:
    """What the readings leave open."""
    open_to: dict[str, Value] = {
        "low": grams(plan.dose_g.low),
        "high": grams(plan.dose_g.high),
        "coverage": plan.dose_g.coverage,
    }
    return say("plan.range", open_to)


def ph_sides(plan: Plan) -> str:
    """The pH to expect, and the two sides it may fall to."""
    sides: dict[str, Value] = {
        "acid": plan.ph_acid_side,
        "alkaline": plan.ph_alkaline_side,
        "ph": plan.after.ph,
    }
    return say("plan.sides", sides)


def pouring(plan: Plan) -> tuple[str, list[str], str | None]:
    """How to pour: what holds for all of it, the portions one by one, and the end."""
    who = "show" if plan.not_for_bathing else "bath"
    if len(plan.pours) == 1:
        return say(f"plan.pour-once.{who}", {"grams": grams(plan.pours[0].grams)}), [], None
    portions = []
    for number, pour in enumerate(plan.pours, start=1):
        spare = pour.total_g > plan.dose_g.best * 1.001
        values: dict[str, Value] = {
            "number": number,
            "grams": grams(pour.grams),
            "total": most(plan) if number == len(plan.pours) else grams(pour.total_g),
            "spoons": spoons(pour.spoons.teaspoons),
        }
        portions.append(say("plan.portion-spare" if spare else "plan.portion", values))
    return (
        say(f"plan.pour-portions.{who}"),
        portions,
        say("plan.pour-maximum", {"most": most(plan)}),
    )


def refusal(plan: Plan) -> tuple[str, list[str], str | None]:
    """For a plan that is not as wished: what is not, what would have to change, what follows."""
    needed = [sentence(note) for note in plan.needed]
    not_so = say(f"plan.not-reached.{plan.wish.kind}", {"wish": plan.wish.text})
    if plan.nearest is None or plan.wish.kind == "dose":
        return not_so, needed, None
    name, distance = str(plan.nearest.colour.name), plan.nearest_delta_e
    if distance is None:
        return not_so, needed, say("plan.nearest-follows", {"name": name})
    return not_so, needed, say("plan.nearest-distance", {"name": name, "delta_e": distance})


def moment(sight: Sight) -> str:
    """When it is that the bath looks so."""
    return say(f"plan.moment.{sight.name}")


def colour_name(sight: Sight) -> str:
    """The published name of a colour, and the plain word where the name does not hold it."""
    name, word = str(sight.colour.name), str(sight.colour.word)
    if word in name or name == say("word.black"):
        return name
    return say("plan.named", {"name": name, "word": word})


def tint(plan: Plan) -> list[str]:
    """Whether the colour is seen before any dose, and from how much it would be."""
    seen = str(visibility_level(plan.before.colour.visibility_delta_e))
    found = [say(f"plan.tint.{seen}")]
    if plan.to_be_seen:
        amounts = say("plan.and").join(_colour_amount(one) for one in plan.to_be_seen)
        values: dict[str, Value] = {"amounts": amounts, "factor": plan.to_be_seen[0].factor}
        found.append(say("plan.to-be-seen", values))
    return found


def change(plan: Plan) -> str:
    """Whether the turn of the colour is seen."""
    level = str(change_level(plan.change_delta_e)).replace(" ", "-")
    return say(f"plan.change.{level}", {"delta_e": plan.change_delta_e})


def undoing(plan: Plan) -> list[str]:
    """The acid beside the pH, told in baking soda, and how a tub is brought back."""
    found = []
    if plan.undo_soda_g > 0:
        values: dict[str, Value] = {
            "grams": grams(plan.undo_soda_g),
            "spoons": spoons(plan.undo_soda_teaspoons),
        }
        found.append(say("plan.undo", values))
    if abs(plan.after_airing.ph - plan.after.ph) > LEAST_DRIFT_PH:
        found.append(say("plan.undo-by-itself", {"ph": plan.after_airing.ph}))
    return found


def level(name: str) -> str:
    """A caution level in words."""
    return say(f"plan.level.{name}")


def heaviest_first(cautions: tuple[Caution, ...]) -> list[Caution]:
    """Cautions in the order of their levels, ``stop`` first."""
    return sorted(cautions, key=lambda one: LEVELS.index(one.level), reverse=True)


def _colour_amount(one: ColourAmount) -> str:
    step = "tenth" if one.amount < 5 else "whole"
    amount = say(f"plan.amount-{step}", {"amount": one.amount, "unit": one.unit})
    return say("plan.amount", {"amount": amount, "colour": colourant(one.name).label})
