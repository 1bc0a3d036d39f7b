"""The plan as one JSON document; keys once published stay."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from dosing.bath.chalk import Chalked
from dosing.bath.jugs import Jugs
from dosing.plan.cautions import Caution, Verdicts
from dosing.plan.households import Home
from dosing.plan.records import Later, Plan, Sight, Spoons
from dosing.words import wording
from indicator.appearance import SeenColour
from indicator.notes import Note, sentence

NO_SPOONS = Spoons(0.0, 0.0, 0.0, 0.0)


def plan_document(plan: Plan) -> dict[str, Any]:
    """Everything a plan says; units are in the key names.

    Where the tub forbids it there is nothing to pour: no portions, no most, no spoons.
    """
    stopped, undone = wording.forbidden(plan), plan.undone
    return {
        "title": plan.title,
        "wish": {key: value for key, value in vars(plan.wish).items() if value is not None},
        "reached": plan.reached,
        "nearest": None if plan.nearest is None else sight(plan.nearest),
        "nearest_delta_e": plan.nearest_delta_e,
        "needed": [note(one) for one in plan.needed],
        "to_be_seen": [vars(one) for one in plan.to_be_seen],
        "amounts": [vars(one) for one in plan.amounts],
        "dose_g": vars(plan.dose_g),
        "maximum_g": 0.0 if stopped else plan.maximum_g,
        "spoons": spoons(NO_SPOONS if stopped else plan.spoons),
        "pours": [
            {
                "grams": pour.grams,
                "total_g": pour.total_g,
                "ph": pour.ph,
                "ph_acid_side": pour.ph_acid_side,
                "spoons": spoons(pour.spoons),
            }
            for pour in (() if stopped else plan.pours)
        ],
        "jug": None if stopped or plan.jugs is None else jug(plan.jugs),
        "look_by": None if stopped else plan.look_by,
        "stop_ph": None if stopped else plan.stop_ph,
        "activator": dict(plan.activator),
        "before": sight(plan.before),
        "after": sight(plan.after),
        "after_airing": sight(plan.after_airing),
        "after_airing_range": later(plan.later),
        "chalk": chalk(plan.chalk),
        "bottle": None if plan.bottle is None else sight(plan.bottle),
        "change_delta_e": plan.change_delta_e,
        "change_delta_e_low": plan.change_low,
        "change_delta_e_high": plan.change_high,
        "change_seen_by": dict(plan.change_seen_by),
        "ph_acid_side": plan.ph_acid_side,
        "ph_alkaline_side": plan.ph_alkaline_side,
        "probability_reached": plan.odds.reached,
        "probability_past_limit": plan.odds.past_limit,
        "variance_shares": [vars(one) for one in plan.variance_shares],
        "after_acid_side": sight(plan.after_sides[0]),
        "after_alkaline_side": sight(plan.after_sides[1]),
        "ph_acid_side_airing": plan.ph_acid_side_airing,
        "ph_alkaline_side_airing": plan.ph_alkaline_side_airing,
        "ribbon": [
            {
                "grams": plan.ribbon.grams[k],
                "ph": plan.ribbon.ph[k],
                "ph_acid_side": plan.ribbon.ph_acid_side[k],
                "hex": plan.ribbon.colours.hex[k],
                "word": plan.ribbon.colours.word[k],
                "name": plan.ribbon.colours.name[k],
                "change_delta_e": plan.ribbon.change_delta_e[k],
                "level": plan.ribbon.level[k],
            }
            for k in range(len(plan.ribbon.grams))
        ],
        "further": [vars(step) for step in plan.further],
        "acid_reserve_meq_l": plan.acid_reserve_meq_l,
        "acid_reserve_high_meq_l": plan.acid_reserve_high_meq_l,
        "undo_soda_g": plan.undo_soda_g,
        "undo_soda_teaspoons": plan.undo_soda_teaspoons,
        "undo_right_after": None if undone is None else sight(undone.right_after),
        "undo_later": None if undone is None else sight(undone.airing),
        "undo_later_range": None if undone is None else later(undone.later),
        "volume_l": plan.volume_l,
        "depth_cm": plan.depth_cm,
        "temperature_c": plan.temperature_c,
        "vessel": plan.vessel,
        "light": plan.light,
        "bathers": plan.bathers,
        "next_steps": [
            {**vars(step), "message": wording.next_step(plan, step)} for step in plan.next_steps
        ],
        "accepted_reason": plan.accepted_reason,
        "not_for_bathing": plan.not_for_bathing,
        "verdicts": verdicts(plan.verdicts),
        "cautions": [caution(one) for one in plan.cautions],
        "assumptions": notes(plan.assumptions),
        "warnings": notes(plan.warnings),
    }


def jug(filled: Jugs) -> dict[str, Any]:
    """What the largest portion is dissolved in."""
    return {**vars(filled), "litres": filled.litres, "slurry": filled.slurry}


def homes_document(homes: Iterable[Home]) -> list[dict[str, Any]]:
    """What the same bottle and sachet do in other homes."""
    return [
        {
            "name": home.name,
            "water": home.water,
            "alkalinity_meq_l": home.alkalinity_meq_l,
            "volume_l": home.volume_l,
            "before": sight(home.before),
            "after": sight(home.after),
            "ph": home.after.ph,
            "change_delta_e": home.change_delta_e,
            "verdict": home.verdict,
        }
        for home in homes
    ]


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
