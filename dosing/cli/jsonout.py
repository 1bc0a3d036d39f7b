"""The plan as one JSON document; keys once published stay."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from dosing.bath.chalk import Chalked
from dosing.bath.jugs import Jugs
from dosing.plan.cautions import Caution, Verdicts
from dosing.plan.records import Later, Plan, Sight, Spoons
from indicator.appearance import SeenColour
from indicator.notes import Note, sentence

NO_SPOONS = Spoons(0.0, 0.0, 0.0, 0.0)


def jug(filled: Jugs) -> dict[str, Any]:
    """What the largest portion is dissolved in."""
    return {**vars(filled), "litres": filled.litres, "slurry": filled.slurry}


def sight(one: Sight) -> dict[str, Any]:
    """A moment with its pH and colour."""
    return {"ph": one.ph, **colour(one.colour)}


def later(one: Later) -> dict[str, Any]:
    """Both ends of what a tub may be hours later."""
    return {
        "hours": one.hours,
        "low_ph": one.low.ph,
        "high_ph": one.high.ph,
        "low": sight(one.low),
        "high": sight(one.high),
    }


def colour(one: SeenColour) -> dict[str, Any]:
    """The colour keys that every command uses."""
    return {
        "hex": one.hex,
        "lab": one.lab,
        "hue_deg": one.hue_deg,
        "word": one.word,
        "phrase": one.phrase,
        "name": one.name,
        "in_gamut": one.in_gamut,
        "visibility_delta_e": one.visibility_delta_e,
        "visibility": one.visibility,
    }


def chalk(tubs: Iterable[Chalked]) -> list[dict[str, Any]]:
    """A tub with all of its excess chalk out, moment by moment."""
    return [
        {
            "moment": one.moment,
            "ph": one.ph,
            **colour(one.colour),
            "grams": one.grams,
            "cloud": one.cloud,
        }
        for one in tubs
    ]


def spoons(one: Spoons) -> dict[str, Any]:
    """Level spoons of the US measure."""
    return {
        "teaspoons": one.teaspoons,
        "tablespoons": one.tablespoons,
        "teaspoons_low": one.teaspoons_low,
        "teaspoons_high": one.teaspoons_high,
    }


def caution(one: Caution) -> dict[str, Any]:
    """A caution with its sentence and source."""
    return {
        "level": one.level,
        "code": one.code,
        "about": one.about,
        "message": one.message,
        "source": one.source,
        "confidence": one.confidence,
    }


def verdicts(three: Verdicts) -> dict[str, Any]:
    """Whether it may be poured, given and sold: the level of each, and whether that allows it."""
    each = {"pour": three.pour, "give": three.give, "sell": three.sell}
    allowed = {name: one.allowed for name, one in each.items()}
    return {**{name: one.level for name, one in each.items()}, "allowed": allowed}


def note(one: Note) -> dict[str, Any]:
    """A note with its sentence."""
    return {"code": one.code, "message": sentence(one), "field": one.field}


def notes(many: Iterable[Note]) -> list[dict[str, Any]]:
    """Notes with their sentences."""
    return [note(one) for one in many]


def judged(plan: Plan) -> dict[str, object]:
    """Verdicts and cautions of a plan."""
    return {
        "verdicts": verdicts(plan.verdicts),
        "cautions": [caution(one) for one in plan.cautions],
    }
